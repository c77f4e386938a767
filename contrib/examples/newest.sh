#!/bin/sh
# SPDX-License-Identifier: MIT
# The newest mass of each pup, and what it gains. usage: newest.sh [DATABASE]
exec sqlite3 -separator '	' "file:${1:-/var/lib/bismar/bismar.db}?mode=ro" "
	SELECT litter, animal, printf('%.1f g', newest_g), coalesce(printf('%+.1f +- %.1f g/d', gain_g_per_day, u_gain_g_per_day), verdict, '')
	FROM animal_now WHERE newest_g IS NOT NULL ORDER BY litter, animal"
