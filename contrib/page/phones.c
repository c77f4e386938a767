// SPDX-License-Identifier: MIT
#include "contrib/page/phones.h"
#include "daemon/ctl/ctl.h"
#include "daemon/log.h"
#include <errno.h>
#include <sys/inotify.h>
#include <sys/stat.h>
#include <unistd.h>

static void read_anew(struct phones *phones)
{
	int r = paired_load(phones->dir_fd, &phones->paired);

	if (r < 0) {
		phones->paired = (struct paired){ 0 };
		log_error("the paired phones can't be read: %s; nobody is let in", strerror(-r));
	}
	if (phones->paired.unreadable)
		log_warning("%zu files aren't taken as paired phones; `bismar page list` tells",
			    phones->paired.unreadable);
	memset(phones->rates, 0, sizeof phones->rates);
	phones->changed(phones->user);
}

/* Reads anew if it must. What can't be read counts as empty: nobody is let in. */
static void look(struct phones *phones)
{
	struct stat status = { 0 };

	if (fstat(phones->dir_fd, &status) == 0 && status.st_mtim.tv_sec == phones->read_at.tv_sec &&
	    status.st_mtim.tv_nsec == phones->read_at.tv_nsec)
		return;
	phones->read_at = status.st_mtim; /* before it is read: what changes meanwhile is seen next time */
	read_anew(phones);
}

/* Even where the folder's time looks the same: two changes within a tick of the clock. */
static int on_change(sd_event_source *source, const struct inotify_event *event, void *user)
{
	(void)source, (void)event;
	read_anew(user);
	return 0;
}

int phones_init(struct phones *phones, sd_event *event, const char *dir, void (*changed)(void *user), void *user)
{
	int r;

	*phones = (struct phones){ .dir_fd = -1, .changed = changed, .user = user };
	r = paired_open(dir, true, &phones->dir_fd);
	if (r == 0)
		r = sd_event_add_inotify(event, &phones->watch, dir,
					 IN_CREATE | IN_DELETE | IN_MOVED_FROM | IN_MOVED_TO | IN_CLOSE_WRITE |
						 IN_ONLYDIR,
					 on_change, phones);
	if (r < 0)
		return r;
	look(phones);
	return 0;
}

void phones_done(struct phones *phones)
{
	phones->watch = sd_event_source_disable_unref(phones->watch);
	if (phones->dir_fd >= 0)
		(void)close(phones->dir_fd); /* a folder */
	phones->dir_fd = -1;
}

const struct paired_phone *phones_find(struct phones *phones, const char *token, struct rate **ret_rate)
{
	const struct paired_phone *phone;

	look(phones);
	phone = paired_find(&phones->paired, token, ctl_now_ms());
	if (phone)
		*ret_rate = &phones->rates[phone - phones->paired.phones];
	return phone;
}

bool phones_has(const struct phones *phones, const char *id)
{
	for (size_t i = 0; i < phones->paired.n; i++)
		if (strcmp(phones->paired.phones[i].id, id) == 0)
			return true;
	return false;
}
