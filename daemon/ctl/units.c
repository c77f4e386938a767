// SPDX-License-Identifier: MIT
#include "daemon/ctl/units.h"
#include "daemon/ctl/ctl.h"
#include <ini.h>
#include <stdlib.h>
#include <string.h>

bool units_read(const char *text, enum quantity_unit *ret)
{
	if (strcasecmp(text, "g") == 0 || strcasecmp(text, "grams") == 0)
		*ret = QUANTITY_GRAMS;
	else if (strcasecmp(text, "oz") == 0 || strcasecmp(text, "ounces") == 0)
		*ret = QUANTITY_OUNCES;
	else
		return false;
	return true;
}

static int take_setting(void *userdata, const char *section, const char *name, const char *value)
{
	enum quantity_unit *unit = userdata;

	/* the rest is the daemon's, and it tells about mistakes in it */
	if (strcmp(section, "people") == 0 && strcmp(name, "units") == 0 && !units_read(value, unit))
		ctl_error(CTL_CONFIG ": units is g or oz, not \"%s\", ignoring.", value);
	return 1;
}

bool units_for_people(enum quantity_unit *ret)
{
	const char *units = getenv("BISMAR_UNITS");
	enum quantity_unit unit = QUANTITY_GRAMS;

	(void)ini_parse(CTL_CONFIG, take_setting, &unit); /* there may be none, or none that we may read */
	if (units && *units && !units_read(units, &unit)) {
		ctl_error("BISMAR_UNITS is g or oz, not \"%s\".", units);
		return false;
	}
	*ret = unit;
	return true;
}
