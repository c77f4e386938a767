// SPDX-License-Identifier: MIT
/* The daemon as a service, and whether this user may use it. */
#include "daemon/ctl/checkup.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/request.h"
#include <grp.h>

#define GROUP "bismar"
#define PATH_SIZE 512

void checkup_service(struct checkup *checkup)
{
	const struct checkup_facts *facts = &checkup->facts;
	bool enabled = strcmp(facts->enabled, "enabled") == 0 || strcmp(facts->enabled, "enabled-runtime") == 0;

	if (!*facts->active) { /* no systemd, or not to be asked: the socket tells */
		if (facts->status)
			checkup_good(checkup, "bismard runs; systemd doesn't look after it, or can't be asked.");
		return;
	}
	if (strcmp(facts->active, "active") == 0 && enabled)
		checkup_good(checkup, "bismard runs, and will after a restart of this machine.");
	else if (strcmp(facts->active, "active") == 0)
		checkup_todo(checkup, "`sudo systemctl enable bismard`",
			     "bismard runs, but won't start by itself after a restart of this machine.");
	else if (facts->status)
		checkup_good(checkup, "bismard runs, though not as the service of this machine.");
	else if (strcmp(facts->load, "not-found") == 0)
		checkup_todo(checkup, "`sudo meson install -C build`, `sudo systemctl daemon-reload`, then look again.",
			     "bismard isn't installed as a service.");
	else if (strcmp(facts->active, "failed") == 0)
		checkup_todo(checkup, "`journalctl -u bismard -e` tells why; then `sudo systemctl restart bismard`",
			     "bismard has stopped with an error.");
	else if (strcmp(facts->active, "activating") == 0)
		checkup_todo(checkup, "Look again in a moment; `journalctl -u bismard -e` tells what it waits for.",
			     "bismard is starting.");
	else
		checkup_todo(checkup, "`sudo systemctl enable --now bismard`", "bismard doesn't run.");
}

void checkup_socket(struct checkup *checkup)
{
	const struct checkup_facts *facts = &checkup->facts;
	char text[CHECKUP_TEXT];

	if (facts->status) {
		checkup_good(checkup, "bismard answers at %s.", checkup->ctl->socket_path);
		return;
	}
	request_trouble(checkup->ctl->socket_path, facts->socket_error, text, sizeof text);
	checkup_todo(checkup, text, "bismard doesn't answer.");
}

/* ---- this user ---- */

enum membership {
	MEMBER_NOT,
	MEMBER_LATER, /* of the file, but not of this login */
	MEMBER_NOW,
	MEMBER_NO_GROUP, /* there is no such group */
};

static bool has_group(const struct checkup_facts *facts, gid_t gid)
{
	for (size_t i = 0; i < facts->n_groups; i++)
		if (facts->groups[i] == gid)
			return true;
	return false;
}

static enum membership membership(const struct checkup *checkup)
{
	enum membership found = MEMBER_NO_GROUP;
	const struct group *group;
	char path[PATH_SIZE];
	FILE *file;

	(void)snprintf(path, sizeof path, "%s/group", checkup->etc);
	file = fopen(path, "re");
	while (file && found == MEMBER_NO_GROUP && (group = fgetgrent(file))) {
		if (strcmp(group->gr_name, GROUP) != 0)
			continue;
		found = has_group(&checkup->facts, group->gr_gid) ? MEMBER_NOW : MEMBER_NOT;
		for (char **name = group->gr_mem; found == MEMBER_NOT && *name; name++)
			if (strcmp(*name, checkup->facts.user) == 0)
				found = MEMBER_LATER;
	}
	if (file)
		(void)fclose(file); /* only read from */
	return found;
}

void checkup_group(struct checkup *checkup)
{
	const struct checkup_facts *facts = &checkup->facts;
	char todo[CHECKUP_TEXT];

	if (!facts->socket_denied && !facts->database_denied) {
		if (facts->status || facts->db)
			checkup_good(checkup, "You may %s%s%s.", facts->status ? "use the socket" : "",
				     facts->status && facts->db ? " and " : "", facts->db ? "read the database" : "");
		return;
	}
	switch (membership(checkup)) {
	case MEMBER_NO_GROUP:
		checkup_todo(checkup, "`sudo systemd-sysusers`, then `sudo systemctl restart bismard`",
			     "There is no group " GROUP " on this machine.");
		break;
	case MEMBER_LATER:
		checkup_todo(checkup, "Log out and in again, or `newgrp " GROUP "` for one shell.",
			     "You are in the group " GROUP ", but this login is older than that.");
		break;
	case MEMBER_NOT:
		(void)snprintf(todo, sizeof todo, "`sudo adduser %s " GROUP "`, then log out and in again.",
			       *facts->user ? facts->user : "$USER");
		checkup_todo(checkup, todo, "You aren't in the group " GROUP ".");
		break;
	case MEMBER_NOW:
		checkup_todo(checkup,
			     "Socket and database belong to the group " GROUP
			     " with modes 0660 and 0640, their folders with 0755 and "
			     "0750: `ls -l` shows what differs.",
			     "You are in the group " GROUP ", and still may not use %s.",
			     facts->socket_denied ? checkup->ctl->socket_path : checkup->ctl->database_path);
		break;
	}
}

void checkup_version(struct checkup *checkup)
{
	const char *version = field_text(checkup->facts.status, "version");

	if (!checkup->facts.status)
		return;
	if (strcmp(version, BISMAR_VERSION) == 0)
		checkup_good(checkup, "bismard and bismar are both %s.", BISMAR_VERSION);
	else
		checkup_todo(checkup, "`sudo systemctl restart bismard`; if that doesn't help, install both anew.",
			     "bismard is %s, bismar %s.", version, BISMAR_VERSION);
}
