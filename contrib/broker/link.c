// SPDX-License-Identifier: MIT
#include "contrib/broker/link.h"
#include "contrib/broker/reach.h"
#include "daemon/log.h"
#include <errno.h>
#include <fcntl.h>
#include <mosquitto.h>
#include <netdb.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/epoll.h>
#include <sys/random.h>
#include <sys/socket.h>
#include <unistd.h>

#define KEEPALIVE_S 30
#define AGAIN_FIRST_MS 1000
#define AGAIN_MOST_MS 60000
#define HELD_USEC (UINT64_C(30) * 1000 * 1000) /* a connection that held so long was one */
#define DEAF_USEC (UINT64_C(600) * 1000 * 1000)
#define MISC_USEC (UINT64_C(5) * 1000 * 1000) /* pings are due to half a minute */
#define SLACK_USEC (UINT64_C(100) * 1000)
#define FINISH_TURNS 20
#define FINISH_TURN_MS 100
#define WHY_SIZE 512

struct link {
	sd_event *event;
	struct link_setup setup;
	struct link_calls calls;
	void *user;
	struct mosquitto *mosq; /* NULL: between two attempts */
	sd_event_source *io;    /* on a descriptor of its own: the library closes its one when it likes */
	sd_event_source *again, *misc, *deadline;
	bool reached, up; /* TCP's connection; MQTT's */
	bool lost;        /* a call failed: it is taken down from the loop */
	int family;       /* index of binds: which addresses are tried now */
	uint64_t up_usec, deaf_usec;
	unsigned again_ms;
	char why[WHY_SIZE];  /* what ails it; of the library or the broker */
	char told[WHY_SIZE]; /* what was said last about it being away; "": nothing */
	int finish_mid;      /* of link_finish() */
};

/* The library tries the first address of a name alone: one that is bound to a family tries that one's. */
static const char *const binds[] = { NULL, "0.0.0.0", "::" };

static uint64_t now_usec(const struct link *link)
{
	uint64_t now;

	(void)sd_event_now(link->event, CLOCK_MONOTONIC, &now); /* the loop exists, and so does the clock */
	return now;
}

__attribute__((format(printf, 2, 3))) static void because(struct link *link, const char *format, ...)
{
	va_list args;

	va_start(args, format);
	(void)vsnprintf(link->why, sizeof link->why, format, args);
	va_end(args);
}

/* ---- what the library says ---- */

static void on_log(struct mosquitto *mosq, void *user, int level, const char *text)
{
	struct link *link = user;
	char quoted[WHY_SIZE];

	(void)mosq;
	if (!(level & (MOSQ_LOG_ERR | MOSQ_LOG_WARNING)))
		return;
	if (strstr(text, "certificate verify failed") || strstr(text, "host name verification failed"))
		because(link, "its certificate isn't to be trusted: it has run out, is of another authority than --ca "
			      "says, or is for another name than the host's");
	else if (!*link->why)
		because(link, "%s", log_quote(text, quoted, sizeof quoted));
}

static void on_connack(struct mosquitto *mosq, void *user, int code)
{
	struct link *link = user;
	int r = 0;

	if (code != 0) {
		because(link,
			code == 4 || code == 5 ? "the broker refuses the user or the password (%s)"
					       : "the broker refuses the connection (%s)",
			mosquitto_connack_string(code));
		link->lost = true;
		return;
	}
	link->up = true;
	link->up_usec = now_usec(link);
	*link->told = *link->why = '\0';
	(void)sd_event_source_set_enabled(link->deadline, SD_EVENT_OFF);
	log_info("connected to %s:%d", link->setup.login->host, link->setup.login->port);
	if (link->setup.hear && link->up_usec >= link->deaf_usec)
		r = mosquitto_subscribe(mosq, NULL, link->setup.hear, 1);
	if (r != 0)
		link->lost = true;
}

static void on_suback(struct mosquitto *mosq, void *user, int mid, int n, const int *granted)
{
	struct link *link = user;

	(void)mosq, (void)mid;
	if (n < 1 || granted[0] > 2)
		log_warning("the broker doesn't let us hear %s, so no receiver can ask for what it misses; ignoring",
			    link->setup.hear);
}

static void on_puback(struct mosquitto *mosq, void *user, int mid)
{
	struct link *link = user;

	(void)mosq;
	if (mid == link->finish_mid)
		link->finish_mid = 0;
	else if (link->up)
		link->calls.acked(link->user, mid);
}

static void on_message(struct mosquitto *mosq, void *user, const struct mosquitto_message *message)
{
	struct link *link = user;

	(void)mosq;
	if (link->up && !message->retain) /* a wish that was kept is of long ago */
		link->calls.heard(link->user, message->payload, (size_t)message->payloadlen);
}

/* ---- coming and going ---- */

static void put_down(struct link *link)
{
	link->io = sd_event_source_disable_unref(link->io);
	(void)sd_event_source_set_enabled(link->misc, SD_EVENT_OFF);
	(void)sd_event_source_set_enabled(link->deadline, SD_EVENT_OFF);
	if (link->mosq)
		mosquitto_destroy(link->mosq);
	link->mosq = NULL;
	link->up = link->lost = link->reached = false;
}

static void arm(sd_event_source *timer, uint64_t usec)
{
	(void)sd_event_source_set_time_relative(timer, usec); /* fails for no timer alone */
	(void)sd_event_source_set_enabled(timer, SD_EVENT_ONESHOT);
}

/* A quarter more or less: several that lost their broker don't come back as one. */
static unsigned spread(unsigned ms)
{
	unsigned char random = 128;

	(void)getrandom(&random, sizeof random, GRND_NONBLOCK); /* else no spread */
	return ms - ms / 4 + ms * random / 512;
}

static void tell(struct link *link)
{
	if (strcmp(link->why, link->told) == 0)
		return;
	log_warning("no broker at %s:%d: %s; %s", link->setup.login->host, link->setup.login->port, link->why,
		    link->setup.once ? "giving up" : "trying again");
	(void)snprintf(link->told, sizeof link->told, "%s", link->why);
}

/* Why it ended is in link->why, else in the library's word r. */
static void down(struct link *link, int r)
{
	bool next_family = !link->reached && link->family > 0;
	uint64_t now = now_usec(link);

	if (!*link->why)
		because(link, "%s",
			r == MOSQ_ERR_CONN_LOST   ? "the connection was closed"
			: r == MOSQ_ERR_KEEPALIVE ? "it answers no more"
			: r == MOSQ_ERR_NOMEM     ? "it sent more than there is memory for"
			: r == MOSQ_ERR_PROTOCOL || r == MOSQ_ERR_MALFORMED_PACKET ? "what answers there speaks no MQTT"
										   : mosquitto_strerror(r));
	if (r == MOSQ_ERR_NOMEM) /* somebody published to us what we can't take: do without for a while */
		link->deaf_usec = now + DEAF_USEC;
	if (link->up && now - link->up_usec >= HELD_USEC)
		link->again_ms = AGAIN_FIRST_MS;
	put_down(link);
	if (next_family) {
		arm(link->again, 0);
		return;
	}
	link->family = 0;
	tell(link);
	arm(link->again, (uint64_t)spread(link->again_ms) * 1000);
	link->again_ms = link->again_ms * 2 > AGAIN_MOST_MS ? AGAIN_MOST_MS : link->again_ms * 2;
	link->calls.down(link->user);
}

/* After whatever the library did: what it wants next, and what we do then. */
static void settle(struct link *link, int r)
{
	bool was_up = link->up;

	if (r != MOSQ_ERR_SUCCESS || link->lost) {
		down(link, r != MOSQ_ERR_SUCCESS ? r : MOSQ_ERR_CONN_LOST);
		return;
	}
	if (was_up)
		link->calls.turn(link->user);
	if (link->lost) { /* while it was published */
		down(link, MOSQ_ERR_CONN_LOST);
		return;
	}
	if (link->io)
		(void)sd_event_source_set_io_events(link->io,
						    EPOLLIN | (mosquitto_want_write(link->mosq) ? EPOLLOUT : 0));
}

/* false: it wasn't. */
static bool check_reached(struct link *link, int fd)
{
	socklen_t n = sizeof(int);
	int error = 0;

	if (link->reached || getsockopt(fd, SOL_SOCKET, SO_ERROR, &error, &n) < 0)
		return true;
	if (error != 0)
		because(link, "%s", reach_why(error));
	else
		link->reached = true;
	return error == 0;
}

static int on_io(sd_event_source *source, int fd, uint32_t events, void *user)
{
	struct link *link = user;
	bool was_up = link->up;
	int r = MOSQ_ERR_SUCCESS;

	(void)source;
	if (!check_reached(link, fd)) {
		settle(link, MOSQ_ERR_CONN_LOST);
		return 0;
	}
	if (events & EPOLLOUT)
		r = mosquitto_loop_write(link->mosq, 1);
	if (r == MOSQ_ERR_SUCCESS && (events & ~(uint32_t)EPOLLOUT))
		r = mosquitto_loop_read(link->mosq, 1);
	if (link->up && !was_up && r == MOSQ_ERR_SUCCESS)
		link->calls.up(link->user);
	settle(link, r);
	return 0;
}

static int on_misc(sd_event_source *source, uint64_t usec, void *user)
{
	struct link *link = user;

	(void)usec;
	arm(source, MISC_USEC);
	if (link->mosq && link->up)
		settle(link, mosquitto_loop_misc(link->mosq));
	return 0;
}

static int on_deadline(sd_event_source *source, uint64_t usec, void *user)
{
	struct link *link = user;

	(void)source, (void)usec;
	if (!link->mosq)
		return 0;
	because(link, link->reached ? "no answer within %d s" : "it can't be reached within %d s",
		link->setup.patience_s);
	down(link, MOSQ_ERR_TIMEOUT);
	return 0;
}

static void listen_to(struct mosquitto *mosq)
{
	mosquitto_log_callback_set(mosq, on_log);
	mosquitto_connect_callback_set(mosq, on_connack);
	mosquitto_subscribe_callback_set(mosq, on_suback);
	mosquitto_publish_callback_set(mosq, on_puback);
	mosquitto_message_callback_set(mosq, on_message);
}

static int watch(struct link *link)
{
	int fd = fcntl(mosquitto_socket(link->mosq), F_DUPFD_CLOEXEC, 3);
	int r;

	if (fd < 0)
		return -errno;
	r = sd_event_add_io(link->event, &link->io, fd, EPOLLIN | EPOLLOUT, on_io, link);
	if (r >= 0)
		r = sd_event_source_set_io_fd_own(link->io, true);
	else
		(void)close(fd); /* it stays open as the library's */
	return r;
}

/* The number of the next in binds, or 0 when all were tried. */
static void choose_family(struct link *link)
{
	link->family = (link->family + 1) % (int)(sizeof binds / sizeof *binds);
}

static int on_again(sd_event_source *source, uint64_t usec, void *user)
{
	struct link *link = user;
	const char *bind = binds[link->family];
	bool both = link->family > 0;
	int r = link->family > 0 ? 0 : reach_look_up(link->setup.login->host, &both);

	(void)source, (void)usec;
	if (link->family == 0)
		*link->why = '\0'; /* else what was wrong with the family before says more */
	if (r != 0) {
		because(link, "its name can't be looked up (%s)", gai_strerror(r));
		down(link, MOSQ_ERR_EAI);
		return 0;
	}
	if (both)
		choose_family(link);
	link->mosq = mosquitto_new(link->setup.client, true, link);
	if (link->mosq)
		listen_to(link->mosq);
	r = link->mosq ? reach_set_up(link->mosq, &link->setup) : MOSQ_ERR_NOMEM;
	if (r == MOSQ_ERR_SUCCESS)
		r = mosquitto_connect_bind_async(link->mosq, link->setup.login->host, link->setup.login->port,
						 KEEPALIVE_S, bind);
	if (r == MOSQ_ERR_ERRNO)
		because(link, "%s", reach_why(errno));
	if (r == MOSQ_ERR_SUCCESS && watch(link) < 0)
		r = MOSQ_ERR_NOMEM;
	if (r != MOSQ_ERR_SUCCESS) {
		down(link, r);
		return 0;
	}
	arm(link->deadline, (uint64_t)link->setup.patience_s * 1000 * 1000);
	arm(link->misc, MISC_USEC);
	return 0;
}

/* ---- from outside ---- */

static int add_timer(struct link *link, sd_event_source **ret, sd_event_time_handler_t on, bool now)
{
	int r = sd_event_add_time_relative(link->event, ret, CLOCK_MONOTONIC, 0, SLACK_USEC, on, link);

	return r >= 0 && !now ? sd_event_source_set_enabled(*ret, SD_EVENT_OFF) : r;
}

int link_new(struct link **ret, sd_event *event, const struct link_setup *setup, const struct link_calls *calls,
	     void *user)
{
	struct link *link = calloc(1, sizeof *link);
	int r;

	if (!link)
		return -ENOMEM;
	*link = (struct link){
		.event = sd_event_ref(event), .setup = *setup, .calls = *calls, .user = user, .again_ms = AGAIN_FIRST_MS
	};
	r = add_timer(link, &link->again, on_again, true);
	if (r >= 0)
		r = add_timer(link, &link->misc, on_misc, false);
	if (r >= 0)
		r = add_timer(link, &link->deadline, on_deadline, false);
	if (r < 0) {
		link_free(link);
		return r;
	}
	*ret = link;
	return 0;
}

struct link *link_free(struct link *link)
{
	if (!link)
		return NULL;
	put_down(link);
	sd_event_source_disable_unref(link->again);
	sd_event_source_disable_unref(link->misc);
	sd_event_source_disable_unref(link->deadline);
	sd_event_unref(link->event);
	free(link);
	return NULL;
}

bool link_is_up(const struct link *link)
{
	return link->up && !link->lost;
}

/* The end is made in the loop, by the I/O source, which is woken for it. */
static void lose(struct link *link)
{
	link->lost = true;
	(void)sd_event_source_set_io_events(link->io, EPOLLIN | EPOLLOUT);
}

int link_publish(struct link *link, const char *topic, const char *text, size_t n, bool retain, int *ret_mid)
{
	int r;

	if (!link_is_up(link))
		return -ENOTCONN;
	r = mosquitto_publish(link->mosq, ret_mid, topic, (int)n, text, 1, retain);
	if (r != MOSQ_ERR_SUCCESS) {
		lose(link);
		return -ENOTCONN;
	}
	if (mosquitto_want_write(link->mosq))
		(void)sd_event_source_set_io_events(link->io, EPOLLIN | EPOLLOUT);
	return 0;
}

void link_give_up(struct link *link, const char *why)
{
	because(link, "%s", why);
	lose(link);
}

void link_is_well(struct link *link)
{
	link->again_ms = AGAIN_FIRST_MS;
}

void link_finish(struct link *link, const char *topic, const char *text, size_t n)
{
	if (!link_is_up(link))
		return;
	if (mosquitto_publish(link->mosq, &link->finish_mid, topic, (int)n, text, 1, true) != MOSQ_ERR_SUCCESS)
		return;
	for (int i = 0; i < FINISH_TURNS && link->finish_mid; i++)
		if (mosquitto_loop(link->mosq, FINISH_TURN_MS, 1) != MOSQ_ERR_SUCCESS)
			return;
	(void)mosquitto_disconnect(link->mosq); /* without it the broker publishes the will, which says the same */
	(void)mosquitto_loop(link->mosq, FINISH_TURN_MS, 1);
}
