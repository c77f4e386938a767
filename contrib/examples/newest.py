#!/usr/bin/python3
# SPDX-License-Identifier: MIT
"""The newest mass of each pup, and what it gains. usage: newest.py [DATABASE]"""
import sqlite3
import sys

path = sys.argv[1] if len(sys.argv) > 1 else "/var/lib/bismar/bismar.db"
record = sqlite3.connect(f"file:{path}?mode=ro", uri=True)
for litter, animal, mass, gain, u_gain, verdict in record.execute(
        "SELECT litter, animal, newest_g, gain_g_per_day, u_gain_g_per_day, verdict FROM animal_now "
        "WHERE newest_g IS NOT NULL ORDER BY litter, animal"):
    gains = f"{gain:+.1f} +- {u_gain:.1f} g/d" if gain is not None else verdict or ""
    print(litter, animal, f"{mass:.1f} g", gains, sep="\t")
