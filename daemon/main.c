// SPDX-License-Identifier: MIT
/*
 * bismard: makes the rooms, introduces them to each other, runs one loop, tears down in reverse.
 *
 *   scale -> bluetoothd -> radio -> desk -> (protocols, weigh) -> store, then desk -> (litter) -> prompt -> people
 */
#include "daemon/config.h"
#include "daemon/desk/desk.h"
#include "daemon/log.h"
#include <errno.h>
#include <malloc.h>
#include <signal.h>
#include <sys/stat.h>
#include <systemd/sd-daemon.h>
#include <systemd/sd-event.h>

enum { EXIT_DONE = 0, EXIT_OTHER = 1, EXIT_USAGE = 2, EXIT_DATABASE = 3 };

struct rooms {
	sd_event *event;
	struct store *store;
	struct desk *desk;
	struct prompt *prompt;
	struct radio *radio;
};

static int open_store(struct rooms *rooms, const char *dir)
{
	int r;

	if (mkdir(dir, 0750) < 0 && errno != EEXIST) {
		log_error("can't make %s: %s. Create it, owned by the user that runs bismard, or give --state", dir,
			  strerror(errno));
		return EXIT_DATABASE;
	}
	r = store_open(dir, &rooms->store);
	if (r == 0)
		return EXIT_DONE;
	if (r > 0)
		log_error("%s/%s: %s", dir, STORE_FILE, store_outcome_text(r));
	else
		log_error("can't use %s: %s. It must be a directory that the user of bismard may write to", dir, strerror(-r));
	return EXIT_DATABASE;
}

static int open_desk(struct rooms *rooms)
{
	int r = desk_new(rooms->event, rooms->store, &rooms->desk);

	if (r > 0)
		log_error("can't read the database: %s", store_outcome_text(r));
	else if (r < 0)
		log_error("can't begin: %s", strerror(-r));
	return r > 0 ? EXIT_DATABASE : r < 0 ? EXIT_OTHER : EXIT_DONE;
}

/* systemd's socket when it hands one over, else our own. */
static int listen_for_clients(struct rooms *rooms, const char *path)
{
	struct prompt_ops ops;
	int n = sd_listen_fds(1), r;

	desk_prompt_ops(rooms->desk, &ops);
	r = prompt_new(rooms->event, &ops, &rooms->prompt);
	for (int i = 0; r >= 0 && i < n; i++)
		r = prompt_listen_fd(rooms->prompt, SD_LISTEN_FDS_START + i);
	if (r >= 0 && n <= 0)
		r = prompt_listen(rooms->prompt, path);
	if (r == -EADDRINUSE)
		log_error("another bismard answers on %s; stop it, or give --socket", path);
	else if (r < 0)
		log_error("can't listen on %s: %s. Its directory must exist and be writable, or give --socket", path,
			  strerror(-r));
	return r < 0 ? EXIT_OTHER : EXIT_DONE;
}

static int join(struct rooms *rooms)
{
	int r = radio_new(rooms->event, &desk_radio_ops, rooms->desk, &rooms->radio);

	if (r >= 0)
		r = desk_join(rooms->desk, rooms->prompt, rooms->radio);
	if (r < 0)
		log_error("can't begin: %s", strerror(-r));
	return r < 0 ? EXIT_OTHER : EXIT_DONE;
}

static int make_loop(struct rooms *rooms)
{
	static const int ends[] = { SIGTERM, SIGINT };
	sigset_t set;
	int r;

	(void)sigemptyset(&set); /* can't fail with valid signals */
	for (size_t i = 0; i < sizeof ends / sizeof *ends; i++)
		(void)sigaddset(&set, ends[i]);
	(void)sigprocmask(SIG_BLOCK, &set, NULL);
	r = sd_event_default(&rooms->event);
	for (size_t i = 0; r >= 0 && i < sizeof ends / sizeof *ends; i++)
		r = sd_event_add_signal(rooms->event, NULL, ends[i], NULL, NULL); /* ends the loop */
	if (r >= 0)
		r = sd_event_set_watchdog(rooms->event, true);
	if (r < 0)
		log_error("can't make an event loop: %s", strerror(-r));
	return r < 0 ? EXIT_OTHER : EXIT_DONE;
}

static int run(struct rooms *rooms)
{
	int r;

	(void)malloc_trim(0); /* what starting up needed once isn't needed for the years to come */
	(void)sd_notify(false, "READY=1\nSTATUS=Listening"); /* without systemd nobody waits for it */
	log_info("bismard " BISMAR_VERSION " is ready");
	r = sd_event_loop(rooms->event);
	(void)sd_notify(false, "STOPPING=1");
	if (r < 0)
		log_error("the event loop failed: %s", strerror(-r));
	return r < 0 ? EXIT_OTHER : EXIT_DONE;
}

static void tear_down(struct rooms *rooms)
{
	if (rooms->desk)
		(void)desk_join(rooms->desk, NULL, NULL); /* only forgets: can't fail */
	rooms->radio = radio_free(rooms->radio);
	rooms->prompt = prompt_free(rooms->prompt);
	rooms->desk = desk_free(rooms->desk);
	rooms->store = store_close(rooms->store);
	sd_event_unref(rooms->event);
}

int main(int argc, char **argv)
{
	struct rooms rooms = { 0 };
	struct config config;
	int status;

	switch (config_read(argc, argv, &config)) {
	case CONFIG_OK:
		break;
	case CONFIG_STOP:
		return EXIT_DONE;
	case CONFIG_WRONG:
		return EXIT_USAGE;
	}
	log_set_level(config.log_level);
	status = make_loop(&rooms);
	if (status == EXIT_DONE)
		status = open_store(&rooms, config.state);
	if (status == EXIT_DONE)
		status = open_desk(&rooms);
	if (status == EXIT_DONE)
		status = listen_for_clients(&rooms, config.socket);
	if (status == EXIT_DONE)
		status = join(&rooms);
	if (status == EXIT_DONE)
		status = run(&rooms);
	tear_down(&rooms);
	return status;
}
