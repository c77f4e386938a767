// SPDX-License-Identifier: MIT
/*
 * bismard: makes the rooms, introduces them to each other, runs one loop, tears down in reverse.
 *
 *   scale -> bluetoothd -> radio -> desk -> (protocols, weigh) -> store, then desk -> (litter) -> prompt -> people
 */
#include "daemon/config.h"
#include "daemon/desk/desk.h"
#include "daemon/log.h"
#include "daemon/notify.h"
#include "daemon/reload.h"
#include <errno.h>
#include <malloc.h>
#include <signal.h>
#include <sys/stat.h>
#include <systemd/sd-daemon.h>
#include <systemd/sd-event.h>

/* systemd/bismard.service knows them */
enum { EXIT_DONE = 0, EXIT_OTHER = 1, EXIT_USAGE = 2, EXIT_DATABASE = 3 };

struct rooms {
	sd_event *event;
	struct store *store;
	struct desk *desk;
	struct prompt *prompt;
	struct radio *radio;
	struct notify notify;
	struct reload reload;
};

static int cannot_begin(const char *what, int r)
{
	log_event(LOG_EVENT_CANNOT_BEGIN, LOG_ERR, NULL, NULL, "can't %s: %s", what, strerror(-r));
	return EXIT_OTHER;
}

/* systemd tries again after some seconds, and the record is as it was: that helps where the disk's state is what is wrong. */
static int exit_for(int outcome)
{
	return outcome == STORE_FULL || outcome == STORE_BUSY || outcome == STORE_IO ? EXIT_OTHER : EXIT_DATABASE;
}

static int open_store(struct rooms *rooms, const char *dir)
{
	int r;

	if (mkdir(dir, 0750) < 0 && errno != EEXIST) {
		log_event(LOG_EVENT_DATABASE_UNUSABLE, LOG_ERR, "BISMAR_FILE", dir,
			  "can't make %s: %s. Create it, owned by the user that runs bismard, or give --state", dir,
			  strerror(errno));
		return EXIT_DATABASE;
	}
	r = store_open(dir, &rooms->store);
	if (r == 0)
		return EXIT_DONE;
	if (r > 0)
		log_event(LOG_EVENT_DATABASE_UNUSABLE, LOG_ERR, "BISMAR_FILE", dir, "%s/%s: %s", dir, STORE_FILE,
			  store_outcome_text(r));
	else if (r == -ENOMEM || r == -EMFILE || r == -ENFILE) /* the record is as it was: trying again helps */
		return cannot_begin("open the database", r);
	else
		log_event(LOG_EVENT_DATABASE_UNUSABLE, LOG_ERR, "BISMAR_FILE", dir,
			  "can't use %s: %s. It must be a directory that the user of bismard may write to", dir, strerror(-r));
	return exit_for(r);
}

static int open_desk(struct rooms *rooms, const struct config *config)
{
	int r = desk_new(rooms->event, rooms->store, &rooms->desk);

	if (r > 0) {
		log_event(LOG_EVENT_DATABASE_UNUSABLE, LOG_ERR, "BISMAR_FILE", config->state, "can't read the database: %s",
			  store_outcome_text(r));
		return exit_for(r);
	}
	if (r < 0)
		return cannot_begin("begin", r);
	desk_open_keys(rooms->desk, config->state);
	desk_set_formats(rooms->desk, config->formats, config->n_formats);
	return EXIT_DONE;
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
		log_event(LOG_EVENT_CANNOT_BEGIN, LOG_ERR, NULL, NULL,
			  "another bismard answers on %s; stop it, or give --socket", path);
	else if (r < 0)
		log_event(LOG_EVENT_CANNOT_BEGIN, LOG_ERR, NULL, NULL,
			  "can't listen on %s: %s. Its directory must exist and be writable, or give --socket",
			  n > 0 ? "the socket that systemd handed over" : path, strerror(-r));
	return r < 0 ? EXIT_OTHER : EXIT_DONE;
}

static int join(struct rooms *rooms, struct config *config)
{
	int r = radio_new(rooms->event, &desk_radio_ops, rooms->desk, &rooms->radio);

	if (r >= 0)
		r = desk_join(rooms->desk, rooms->prompt, rooms->radio);
	if (r >= 0)
		r = notify_init(&rooms->notify, rooms->event, rooms->desk);
	if (r >= 0)
		r = reload_init(&rooms->reload, rooms->event, config, rooms->desk, &rooms->notify);
	return r < 0 ? cannot_begin("begin", r) : EXIT_DONE;
}

/* Ends the loop once all else that has come is done: the scale was told that its results arrived. */
static int end_by(sd_event *event, int number)
{
	sd_event_source *source;
	int r = sd_event_add_signal(event, &source, number, NULL, NULL);

	if (r >= 0)
		r = sd_event_source_set_priority(source, SD_EVENT_PRIORITY_IDLE);
	if (r >= 0)
		r = sd_event_source_set_floating(source, true);
	if (r >= 0)
		sd_event_source_unref(source);
	return r;
}

static int make_loop(struct rooms *rooms)
{
	static const int ends[] = { SIGTERM, SIGINT };
	sigset_t set;
	int r;

	(void)sigemptyset(&set); /* can't fail with valid signals */
	(void)sigaddset(&set, SIGHUP); /* until reload.c takes it: asked while starting, it reads again once started */
	for (size_t i = 0; i < sizeof ends / sizeof *ends; i++)
		(void)sigaddset(&set, ends[i]);
	(void)sigprocmask(SIG_BLOCK, &set, NULL);
	r = sd_event_default(&rooms->event);
	for (size_t i = 0; r >= 0 && i < sizeof ends / sizeof *ends; i++)
		r = end_by(rooms->event, ends[i]);
	if (r >= 0)
		r = sd_event_set_watchdog(rooms->event, true); /* kicked by the loop, and by nothing else */
	return r < 0 ? cannot_begin("make an event loop", r) : EXIT_DONE;
}

static int run(struct rooms *rooms)
{
	int r;

	(void)malloc_trim(0); /* what starting up needed once isn't needed for the years to come */
	notify_ready(&rooms->notify);
	log_event(LOG_EVENT_STARTED, LOG_INFO, NULL, NULL, "bismard " BISMAR_VERSION " is ready");
	r = sd_event_loop(rooms->event);
	notify_stopping(&rooms->notify);
	if (r < 0)
		log_error("the event loop failed: %s", strerror(-r));
	return r < 0 ? EXIT_OTHER : EXIT_DONE;
}

static void tear_down(struct rooms *rooms)
{
	reload_done(&rooms->reload);
	notify_done(&rooms->notify);
	if (rooms->desk)
		(void)desk_join(rooms->desk, NULL, NULL); /* only forgets: can't fail */
	rooms->radio = radio_free(rooms->radio);
	rooms->prompt = prompt_free(rooms->prompt);
	rooms->desk = desk_free(rooms->desk);
	rooms->store = store_close(rooms->store);
	sd_event_unref(rooms->event);
}

static int serve(struct config *config)
{
	struct rooms rooms = { 0 };
	int status = make_loop(&rooms);

	if (status == EXIT_DONE)
		status = open_store(&rooms, config->state);
	if (status == EXIT_DONE)
		status = open_desk(&rooms, config);
	if (status == EXIT_DONE)
		status = listen_for_clients(&rooms, config->socket);
	if (status == EXIT_DONE)
		status = join(&rooms, config);
	if (status == EXIT_DONE)
		status = run(&rooms);
	tear_down(&rooms); /* the desk has still something to write, or to regret */
	if (status == EXIT_DONE)
		log_event(LOG_EVENT_STOPPED, LOG_INFO, NULL, NULL, "bismard has been stopped");
	return status;
}

int main(int argc, char **argv)
{
	struct config config;

	switch (config_read(argc, argv, &config)) {
	case CONFIG_OK:
		break;
	case CONFIG_STOP:
		return EXIT_DONE;
	case CONFIG_WRONG:
		return EXIT_USAGE;
	case CONFIG_UNREAD:
		return EXIT_OTHER;
	}
	log_set_level(config.log_level);
	return serve(&config);
}
