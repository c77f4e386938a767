// SPDX-License-Identifier: MIT
/*
 * bismar-page: the page for a phone at the whelping box.
 *
 *   phone <-HTTP-> server -(call)-> peer <-prompt socket-> bismard
 *                    |  <-(stream)- feed <-'
 *                    '-(views)-> the database, read-only
 */
#include "contrib/client/loop.h"
#include "contrib/page/options.h"
#include "daemon/ctl/units.h"
#include "daemon/log.h"
#include <errno.h>
#include <malloc.h>
#include <signal.h>
#include <sys/stat.h>
#include <systemd/sd-daemon.h>

enum { EXIT_DONE = 0, EXIT_OTHER = 1 };

static int serve(const struct options *options, sd_event *event)
{
	struct server *server;
	char url[128];
	int fd, r = options_listen(options, &fd);

	if (r < 0) {
		log_error("can't listen: %s; give another address or port with --listen", strerror(-r));
		return EXIT_OTHER;
	}
	options_url(options, fd, url, sizeof url);
	if (server_new(&server, event, &options->server, fd) < 0)
		return EXIT_OTHER;
	(void)malloc_trim(0); /* what starting up needed once isn't needed for the weeks to come */
	(void)printf("listening on %s\n", url);
	(void)fflush(stdout); /* nobody may be there to read it */
	(void)sd_notifyf(0, "READY=1\nSTATUS=listening on %s", url);
	r = sd_event_loop(event);
	(void)sd_notify(0, "STOPPING=1");
	server_free(server);
	if (r < 0)
		log_error("the event loop failed: %s", strerror(-r));
	return r < 0 ? EXIT_OTHER : EXIT_DONE;
}

int main(int argc, char **argv)
{
	struct options options;
	enum quantity_unit unit = QUANTITY_GRAMS;
	sd_event *event = NULL;
	enum usage usage;
	int status = EXIT_OTHER, r;

	(void)umask(0077);
	usage = options_read(&options, argc, argv);
	if (usage == USAGE_RUN && !units_for_people(&unit))
		usage = USAGE_WRONG; /* told */
	if (usage != USAGE_RUN) {
		options_done(&options);
		return usage_status(usage);
	}
	options.server.ounces = unit == QUANTITY_OUNCES;
	(void)signal(SIGPIPE, SIG_IGN); /* a phone that has gone is an error of send(2), not our end */
	r = loop_new(&event);
	if (r < 0)
		log_error("can't make an event loop: %s", strerror(-r));
	else
		status = serve(&options, event);
	sd_event_unref(event);
	options_done(&options);
	return status;
}
