// SPDX-License-Identifier: MIT
#include "daemon/ctl/units.h"
#include "daemon/ctl/args.h"
#include <ini.h>
#include <string.h>

static int take_setting(void *userdata, const char *section, const char *name, const char *value)
{
	enum quantity_unit *unit = userdata;

	/* the rest is the daemon's, and it tells about mistakes in it */
	if (strcmp(section, "people") == 0 && strcmp(name, "units") == 0 && !args_unit(value, unit))
		ctl_error(CTL_CONFIG ": units is g or oz, not \"%s\", ignoring.", value);
	return 1;
}

bool units_for_people(enum quantity_unit *ret)
{
	const char *units = getenv("BISMAR_UNITS");
	enum quantity_unit unit = QUANTITY_GRAMS;

	(void)ini_parse(CTL_CONFIG, take_setting, &unit); /* there may be none, or none that we may read */
	if (units && *units && !args_unit(units, &unit)) {
		ctl_error("BISMAR_UNITS is g or oz, not \"%s\".", units);
		return false;
	}
	*ret = unit;
	return true;
}
