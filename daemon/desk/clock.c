// SPDX-License-Identifier: MIT
#include "daemon/desk/clock.h"
#include "protocols/date_time.h"

int64_t clock_now_ms(void)
{
	struct timespec now;

	(void)clock_gettime(CLOCK_REALTIME, &now); /* can't fail with this clock and a valid pointer */
	return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

int64_t clock_boot_ms(void)
{
	struct timespec now;

	(void)clock_gettime(CLOCK_BOOTTIME, &now); /* the same */
	return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

int clock_offset_min(int64_t at_ms)
{
	time_t seconds = (time_t)(at_ms / 1000);
	struct tm local;

	if (!localtime_r(&seconds, &local))
		return 0;
	return (int)(local.tm_gmtoff / 60);
}

int64_t clock_local_to_utc_ms(const struct date_time *t)
{
	struct tm local = {
		.tm_year = t->year - 1900,
		.tm_mon = t->month - 1,
		.tm_mday = t->day,
		.tm_hour = t->hour,
		.tm_min = t->minute,
		.tm_sec = t->second,
		.tm_isdst = -1,
	};

	return (int64_t)mktime(&local) * 1000;
}
