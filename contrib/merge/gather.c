// SPDX-License-Identifier: MIT
/*
 * bismar-gather: what bridges publish, into PostgreSQL.
 *
 *   broker -(message)-> intake -(batch, one transaction)-> keep
 *     ^------ `again` ------- what is missing there ---------'
 *
 * While PostgreSQL is away the broker is left too: it queues what it will, and what it doesn't is asked for afterwards.
 * So memory holds one batch at most.
 */
#include "contrib/merge/broker.h"
#include "contrib/merge/gather_options.h"
#include "contrib/merge/intake.h"
#include "contrib/merge/keep.h"
#include "daemon/log.h"
#include <errno.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <systemd/sd-daemon.h>
#include <time.h>

/* As bismard: 2 isn't worth another try. */
enum { EXIT_DONE = 0, EXIT_OTHER = 1, EXIT_USAGE = 2 };

#define TURN_MS 200   /* so long a message waits for others at most */
#define PAUSE_MS 20   /* in which no other came: it waits no longer */
#define CHECK_MS 1000 /* between two looks at what is missing */
#define RETRY_MS 1000 /* at first; at most: */
#define RETRY_MOST_MS 30000
#define QUIET_MS 3000 /* --once: nothing came for so long */
#define WISHES 3      /* --once: that nothing followed */

static volatile sig_atomic_t stopped;

struct gather {
	const struct gather_options *options;
	struct keep *keep;
	struct broker *broker;
	struct intake intake;
	int64_t retry_ms; /* how long the next wait is */
	int64_t check_ms, heard_ms, listens_ms, began_ms;
	uint64_t stored; /* rows that are new */
	unsigned wishes; /* since the newest of them */
	bool incomplete; /* of bridges that are here */
	bool left_out;   /* of those that are gone */
};

static void on_signal(int number)
{
	(void)number;
	stopped = 1;
}

static int64_t now_ms(void)
{
	struct timespec now;

	(void)clock_gettime(CLOCK_MONOTONIC, &now); /* it is always there */
	return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

/* All that was taken goes into one transaction. Stays in memory when PostgreSQL is away. */
static void store(struct gather *gather)
{
	size_t new = 0, refused = 0;

	if (intake_empty(&gather->intake) || !keep_is_open(gather->keep))
		return;
	if (keep_store(gather->keep, &gather->intake.batch, &new, &refused) != KEEP_DONE)
		return;
	log_debug("%zu messages taken, %zu new", gather->intake.rows, new);
	gather->stored += new;
	gather->intake.refused += refused;
	if (new)
		gather->wishes = 0;
	if (intake_clear(&gather->intake) < 0)
		stopped = 1; /* no memory for an empty list: systemd starts us anew */
}

static void on_heard(void *user, const char *topic, const void *octets, size_t n)
{
	struct gather *gather = user;

	gather->heard_ms = now_ms();
	if (intake_full(&gather->intake))
		store(gather);
	if (!intake_full(&gather->intake)) /* else it is asked for again: PostgreSQL has just gone */
		intake_put(&gather->intake, topic, octets, n, gather->heard_ms);
}

static void on_ask(void *user, const char *bridge, const int64_t from[RECORD_LOGS])
{
	static const char *const topics[RECORD_LOGS] = { "reading", "concern" };
	struct gather *gather = user;
	char text[96] = "{", name[4 * NAME_BRIDGE_BYTES + 8];
	size_t n = 1;

	for (int i = 0; i < RECORD_LOGS; i++)
		if (from[i] > 0)
			n += (size_t)snprintf(text + n, sizeof text - n, "%s\"%s\": %lld", n > 1 ? ", " : "", topics[i],
					      (long long)from[i]);
	(void)snprintf(text + n, sizeof text - n, "}");
	log_info("%s is asked for what is missing: %s", log_quote(bridge, name, sizeof name), text);
	gather->wishes++;
	(void)broker_ask(gather->broker, bridge, text); /* the next turn finds the connection gone */
}

static void on_missing(void *user, const char *bridge, const char *topic, int64_t complete, int64_t head, bool here)
{
	struct gather *gather = user;

	(void)bridge, (void)topic, (void)complete, (void)head;
	if (here)
		gather->incomplete = true;
	else
		gather->left_out = true;
}

static void on_tell_missing(void *user, const char *bridge, const char *topic, int64_t complete, int64_t head,
			    bool here)
{
	char name[4 * NAME_BRIDGE_BYTES + 8];

	(void)user;
	log_warning("%s: %s is complete up to %lld of %lld%s", log_quote(bridge, name, sizeof name), topic,
		    (long long)complete, (long long)head, here ? "" : "; the bridge isn't there");
}

/* Waits, or is woken by a signal; twice as long the next time. */
static void pause_a_while(struct gather *gather)
{
	(void)poll(NULL, 0, (int)gather->retry_ms); /* the wait before another try is the point */
	gather->retry_ms = gather->retry_ms * 2 < RETRY_MOST_MS ? gather->retry_ms * 2 : RETRY_MOST_MS;
}

/* PostgreSQL is there, and then the broker. False: not now, or never (*ret_status). */
static bool connect_both(struct gather *gather, int *ret_status)
{
	bool was_open = keep_is_open(gather->keep);

	switch (keep_open(gather->keep)) {
	case KEEP_DONE:
		break;
	case KEEP_ABSENT:
		log_error("that database has no schema bismar: make it with `bismar-gather --create`, as who may");
		*ret_status = EXIT_USAGE;
		stopped = 1;
		return false;
	case KEEP_BUSY:
		log_warning("another bismar-gather is on that database; waiting for its end");
		/* fall through */
	case KEEP_AWAY:
	case KEEP_REFUSED:
		broker_close(gather->broker);
		return false;
	}
	if (!was_open)
		store(gather); /* what was left from before */
	if (!keep_is_open(gather->keep)) {
		broker_close(gather->broker);
		return false;
	}
	if (!broker_is_open(gather->broker)) {
		gather->listens_ms = 0;
		return broker_open(gather->broker) == 0;
	}
	return true;
}

/* Looks for what is missing; --once: whether all is done. */
static void check(struct gather *gather, int *ret_status)
{
	int64_t now = now_ms();

	if (!broker_listens(gather->broker))
		return;
	if (gather->listens_ms == 0) {
		gather->listens_ms = now;
		gather->retry_ms = RETRY_MS;
		(void)sd_notify(0, "STATUS=listening"); /* nobody may have asked */
	}
	if (now < gather->check_ms)
		return;
	if (keep_check(gather->keep, gather->options->wait_s, gather->options->every_s, on_ask, gather) != KEEP_DONE)
		return;
	/* with very many bridges that miss something a look takes its time: most of it goes into storing */
	gather->check_ms = now_ms() + CHECK_MS + 10 * (now_ms() - now);
	if (!gather->options->once || !intake_empty(&gather->intake) || now - gather->heard_ms < QUIET_MS ||
	    now - gather->listens_ms < QUIET_MS)
		return;
	gather->incomplete = gather->left_out = false;
	if (keep_each_missing(gather->keep, on_missing, gather) != KEEP_DONE)
		return;
	if (gather->incomplete && gather->wishes < WISHES)
		return;
	if (gather->incomplete || gather->left_out)
		(void)keep_each_missing(gather->keep, on_tell_missing, NULL); /* as far as it can be told */
	*ret_status = gather->incomplete || gather->left_out ? EXIT_OTHER : EXIT_DONE;
	stopped = 1;
}

/* A message waits for those that come right behind it, so that a batch is one transaction. */
static void take_turn(struct gather *gather)
{
	bool waits = !intake_empty(&gather->intake);
	int64_t now;

	(void)broker_turn(gather->broker,
			  waits ? PAUSE_MS : TURN_MS); /* whether it is still there shows in the next round */
	now = now_ms();
	if (!waits)
		gather->began_ms = now;
	if (intake_full(&gather->intake) || now - gather->heard_ms >= PAUSE_MS || now - gather->began_ms >= TURN_MS)
		store(gather);
}

static int run(struct gather *gather)
{
	int status = EXIT_DONE;

	gather->retry_ms = RETRY_MS;
	/* what it waits for may be hours away, and nobody may have asked */
	(void)sd_notify(0, "READY=1\nSTATUS=waiting for PostgreSQL and the broker");
	while (!stopped) {
		if (!connect_both(gather, &status)) {
			if (!stopped)
				pause_a_while(gather);
			continue;
		}
		take_turn(gather);
		if (keep_is_open(gather->keep))
			check(gather, &status);
	}
	store(gather);
	broker_close(gather->broker);
	log_info("%llu new messages, %llu refused", (unsigned long long)gather->stored,
		 (unsigned long long)gather->intake.refused);
	return status;
}

static int create(struct keep *keep)
{
	switch (keep_create_schema(keep)) {
	case KEEP_DONE:
		log_info("the schema bismar is there");
		return EXIT_DONE;
	case KEEP_BUSY:
		log_error("another bismar-gather is on that database: stop it first");
		return EXIT_OTHER;
	case KEEP_AWAY:
	case KEEP_ABSENT:
	case KEEP_REFUSED:
		break;
	}
	return EXIT_OTHER; /* told */
}

static void catch_signals(void)
{
	const struct sigaction action = { .sa_handler = on_signal }; /* without SA_RESTART: waits end */

	(void)sigaction(SIGTERM, &action, NULL);
	(void)sigaction(SIGINT, &action, NULL);
	(void)signal(SIGPIPE, SIG_IGN); /* a peer that has gone is an error of send(2), not our end */
}

int main(int argc, char **argv)
{
	static struct gather_options options;
	struct gather gather = { .options = &options };
	int status = EXIT_OTHER;
	enum usage usage;

	(void)umask(0077);
	usage = gather_options_read(&options, argc, argv);
	if (usage != USAGE_RUN)
		return usage_status(usage);
	catch_signals();
	if (keep_new(&gather.keep) < 0 || intake_init(&gather.intake, options.broker.base) < 0)
		log_error("no memory");
	else if (options.create)
		status = create(gather.keep);
	else if (broker_new(&gather.broker, &options.broker, on_heard, &gather) == 0)
		status = run(&gather);
	broker_free(gather.broker);
	keep_free(gather.keep);
	intake_done(&gather.intake);
	explicit_bzero(options.login.secret, sizeof options.login.secret);
	return status;
}
