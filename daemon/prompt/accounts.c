// SPDX-License-Identifier: MIT
#include "daemon/prompt/accounts.h"
#include <grp.h>
#include <pwd.h>

#define ENTRY_BYTES 4096 /* a longer entry ends the search, as if there were no more */

bool accounts_user(uid_t uid, char *ret_name, size_t size)
{
	FILE *file = fopen("/etc/passwd", "re");
	struct passwd entry = { 0 }, *found;
	char buffer[ENTRY_BYTES];
	bool known = false;

	if (!file)
		return false;
	while (!known && fgetpwent_r(file, &entry, buffer, sizeof buffer, &found) == 0)
		if (entry.pw_uid == uid && strlen(entry.pw_name) < size) {
			(void)snprintf(ret_name, size, "%s", entry.pw_name);
			known = true;
		}
	(void)fclose(file); /* only read from */
	return known;
}

bool accounts_group(const char *name, gid_t *ret_gid)
{
	FILE *file = fopen("/etc/group", "re");
	struct group entry, *found;
	char buffer[ENTRY_BYTES];
	bool known = false;

	if (!file)
		return false;
	while (!known && fgetgrent_r(file, &entry, buffer, sizeof buffer, &found) == 0)
		if (strcmp(entry.gr_name, name) == 0) {
			*ret_gid = entry.gr_gid;
			known = true;
		}
	(void)fclose(file); /* only read from */
	return known;
}
