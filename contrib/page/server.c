// SPDX-License-Identifier: MIT
#include "contrib/page/server.h"
#include "contrib/page/call.h"
#include "contrib/page/feed.h"
#include "contrib/page/guests.h"
#include "contrib/page/judge.h"
#include "contrib/page/pair.h"
#include "contrib/page/route.h"
#include "contrib/page/views.h"
#include "daemon/log.h"
#include <errno.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <unistd.h>

#define IGNORED_MAX ((size_t)1024 * 1024) /* octets of a body that was refused and is heard out */
#define SILENT_S 30u                      /* a connection on which nothing moves */
#define LOST_MS 60000u                    /* a phone that acknowledges nothing has gone */
#define MEMORY ((size_t)16 * 1024)        /* of a connection: headers, and what is on its way */
#define MARGIN 16u                        /* connections that are being shown out */

struct server {
	const struct server_options *options;
	sd_event *event;
	struct MHD_Daemon *daemon;
	sd_event_source *io, *timer, *soon;
	struct guests *guests;
	struct streams *streams;
	struct phones phones;
	struct feed feed;
	struct calls calls;
	struct rate pair_rate;
};

/* ---- the library in the loop ---- */

static uint64_t now_usec(const struct server *server)
{
	uint64_t now = 0;

	(void)sd_event_now(server->event, CLOCK_MONOTONIC, &now); /* the loop exists, and so does the clock */
	return now;
}

static void run_library(struct server *server)
{
	MHD_UNSIGNED_LONG_LONG ms;

	(void)MHD_run(server->daemon); /* fails where it wasn't made for it: our mistake */
	if (MHD_get_timeout(server->daemon, &ms) != MHD_YES) {
		(void)sd_event_source_set_enabled(server->timer, SD_EVENT_OFF);
		return;
	}
	(void)sd_event_source_set_time_relative(server->timer, (uint64_t)ms * 1000);
	(void)sd_event_source_set_enabled(server->timer, SD_EVENT_ONESHOT);
}

static int on_io(sd_event_source *source, int fd, uint32_t revents, void *user)
{
	(void)source, (void)fd, (void)revents;
	run_library(user);
	return 0;
}

static int on_timer(sd_event_source *source, uint64_t usec, void *user)
{
	(void)source, (void)usec;
	run_library(user);
	return 0;
}

static int on_soon(sd_event_source *source, void *user)
{
	(void)source;
	run_library(user);
	return 0;
}

/* Not at once: whoever asks for it may be within the library. */
static void run_soon(void *user)
{
	struct server *server = user;

	if (server->soon)
		(void)sd_event_source_set_enabled(server->soon, SD_EVENT_ONESHOT);
}

/* Paths and ids have nothing to unescape; so "%2e" and "%00" mean nothing either. */
static size_t on_unescape(void *cls, struct MHD_Connection *connection, char *text)
{
	(void)cls, (void)connection;
	return strlen(text);
}

/* ---- what it gets ---- */

static void open_stream(struct request *request)
{
	struct server *server = request->server;
	struct stream *stream;

	request->answer.response = streams_open(server->streams, request->connection, request->phone.id, &stream);
	request->answer.status = MHD_HTTP_OK;
	if (request->answer.response)
		feed_greet(&server->feed, stream);
	else
		request_refuse(request, MHD_HTTP_SERVICE_UNAVAILABLE, "too-many", "Too many pages are open.",
			       "Close one.");
}

static void run(struct request *request)
{
	struct server *server = request->server;
	const struct server_options *options = server->options;
	const char *animal = MHD_lookup_connection_value(request->connection, MHD_GET_ARGUMENT_KIND, "animal");

	request->run = true;
	if (request->refusal.status) {
		request->answer = answer_refusal(&request->refusal);
		return;
	}
	if (!request->paired && !request->route->open) {
		request->answer = answer_empty(MHD_HTTP_SEE_OTHER, "/pair");
		return;
	}
	switch (request->route->kind) {
	case ROUTE_ASSET:
		request->answer = answer_asset(request->route->asset, request_header(request, "If-None-Match"));
		break;
	case ROUTE_EVENTS:
		open_stream(request);
		break;
	case ROUTE_CALL:
		call_begin(&server->calls, request);
		break;
	case ROUTE_PAIR:
		pair_run(request, &server->phones, &server->pair_rate, now_usec(server), options->certificate != NULL);
		break;
	case ROUTE_ANIMALS:
		request->answer = views_animals(options->database);
		break;
	case ROUTE_CURVE:
		request->answer = views_curve(options->database, animal);
		break;
	case ROUTE_SIGNS:
		request->answer = views_signs(options->database, animal);
		break;
	}
}

static enum MHD_Result answer(struct request *request)
{
	struct MHD_Response *response = request->answer.response;
	enum MHD_Result result;

	if (!response)
		return MHD_NO;
	request->answer.response = NULL;
	if (!request->paired)
		(void)MHD_add_response_header(response, "Connection",
					      "close"); /* without it the stranger's time ends it */
	result = MHD_queue_response(request->connection, request->answer.status, response);
	MHD_destroy_response(response);
	return result;
}

static enum MHD_Result take_body(struct request *request, const char *data, size_t *n)
{
	char *body;

	if (!request->refusal.status && request->n + *n > REQUEST_BODY_MAX)
		judge_too_large(request);
	if (request->refusal.status) {
		/* most clients read an answer only once they have sent all */
		request->ignored += *n;
		*n = 0;
		return request->ignored > IGNORED_MAX ? MHD_NO : MHD_YES;
	}
	body = realloc(request->body, request->n + *n);
	if (!body)
		return MHD_NO;
	memcpy(body + request->n, data, *n);
	request->body = body;
	request->n += *n;
	*n = 0;
	return MHD_YES;
}

static enum MHD_Result on_request(void *cls, struct MHD_Connection *connection, const char *url, const char *method,
				  const char *version, const char *data, size_t *n, void **state)
{
	struct server *server = cls;
	struct request *request = *state;
	const char *length;

	(void)version;
	if (request && *n > 0)
		return take_body(request, data, n);
	if (request) {
		if (!request->run)
			run(request);
		return request->call ? MHD_YES : answer(request);
	}
	request = calloc(1, sizeof *request);
	if (!request)
		return MHD_NO;
	*state = request;
	request->server = server;
	request->connection = connection;
	judge_request(&(struct judge){ server->options, &server->phones, server->guests, now_usec(server) }, request,
		      url, method);
	length = request_header(request, "Content-Length");
	if (!request->refusal.status || !length || strtoull(length, NULL, 10) <= IGNORED_MAX)
		return MHD_YES;
	run(request); /* nobody hears that much out */
	return answer(request);
}

static void on_completed(void *cls, struct MHD_Connection *connection, void **state,
			 enum MHD_RequestTerminationCode how)
{
	struct request *request = *state;

	(void)cls, (void)connection, (void)how;
	if (!request)
		return;
	call_forget(request);
	if (request->answer.response)
		MHD_destroy_response(request->answer.response);
	free(request->body);
	free(request);
	*state = NULL;
}

/* ---- who comes and goes ---- */

static enum MHD_Result on_knock(void *cls, const struct sockaddr *address, socklen_t length)
{
	struct server *server = cls;

	(void)length;
	return guests_admit(server->guests, address) ? MHD_YES : MHD_NO;
}

static void on_connection(void *cls, struct MHD_Connection *connection, void **context,
			  enum MHD_ConnectionNotificationCode what)
{
	struct server *server = cls;
	const union MHD_ConnectionInfo *fd, *address;
	unsigned lost_ms = LOST_MS;

	if (what == MHD_CONNECTION_NOTIFY_CLOSED) {
		guests_leave(server->guests, *context);
		*context = NULL;
		return;
	}
	fd = MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CONNECTION_FD);
	address = MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CLIENT_ADDRESS);
	if (!fd || !address)
		return;
	/* not a TCP socket, or an old kernel: the heartbeat finds out, later */
	(void)setsockopt(fd->connect_fd, IPPROTO_TCP, TCP_USER_TIMEOUT, &lost_ms, sizeof lost_ms);
	*context = guests_enter(server->guests, fd->connect_fd, address->client_addr);
}

static bool is_kept(const char *phone, void *user)
{
	return phones_has(user, phone);
}

static void on_phones(void *user)
{
	struct server *server = user;

	if (server->streams)
		streams_keep(server->streams, is_kept, &server->phones);
}

/* ---- begin and end ---- */

__attribute__((format(printf, 2, 0))) static void on_log(void *cls, const char *format, va_list list)
{
	char text[256];

	(void)cls;
	(void)vsnprintf(text, sizeof text, format, list);
	text[strcspn(text, "\n")] = '\0';
	log_debug("libmicrohttpd: %s", text);
}

static int start_library(struct server *server, int listen_fd)
{
	const struct server_options *options = server->options;
	unsigned flags = MHD_USE_EPOLL | MHD_ALLOW_SUSPEND_RESUME | (options->certificate ? MHD_USE_TLS : 0);
	const struct MHD_OptionItem tls[] = {
		{ MHD_OPTION_HTTPS_MEM_CERT, 0, (void *)options->certificate },
		{ MHD_OPTION_HTTPS_MEM_KEY, 0, (void *)options->key },
		{ MHD_OPTION_HTTPS_PRIORITIES, 0, (void *)"NORMAL:-VERS-ALL:+VERS-TLS1.3:+VERS-TLS1.2" },
		{ MHD_OPTION_END, 0, NULL },
	};
	const struct MHD_OptionItem plain[] = { { MHD_OPTION_END, 0, NULL } };
	const union MHD_DaemonInfo *info;

	server->daemon = MHD_start_daemon(flags, 0, on_knock, server, on_request, server, MHD_OPTION_EXTERNAL_LOGGER,
					  on_log, server, MHD_OPTION_UNESCAPE_CALLBACK, on_unescape, server,
					  MHD_OPTION_LISTEN_SOCKET, listen_fd, MHD_OPTION_CONNECTION_LIMIT,
					  GUESTS_MAX + MARGIN, MHD_OPTION_CONNECTION_TIMEOUT, SILENT_S,
					  MHD_OPTION_CONNECTION_MEMORY_LIMIT, MEMORY, MHD_OPTION_NOTIFY_COMPLETED,
					  on_completed, server, MHD_OPTION_NOTIFY_CONNECTION, on_connection, server,
					  MHD_OPTION_ARRAY, options->certificate ? tls : plain, MHD_OPTION_END);
	info = server->daemon ? MHD_get_daemon_info(server->daemon, MHD_DAEMON_INFO_EPOLL_FD) : NULL;
	if (!info) {
		log_error("can't begin to serve%s",
			  options->certificate ? ": are --certificate and --key in PEM, and of each other?" : "");
		return -EINVAL;
	}
	return sd_event_add_io(server->event, &server->io, info->epoll_fd, EPOLLIN, on_io, server);
}

static int add_timers(struct server *server)
{
	int r = sd_event_add_time(server->event, &server->timer, CLOCK_MONOTONIC, 0, 10000, on_timer, server);

	if (r >= 0)
		r = sd_event_source_set_enabled(server->timer, SD_EVENT_OFF);
	if (r >= 0)
		r = sd_event_add_defer(server->event, &server->soon, on_soon, server);
	return r;
}

static int open_phones(struct server *server)
{
	const char *dir = server->options->state;
	int r = phones_init(&server->phones, server->event, dir, on_phones, server);

	if (r == -EPERM)
		log_error("%s must belong to the user of bismar-page, and nobody else may enter it: chmod 700", dir);
	else if (r < 0)
		log_error("can't use %s: %s; give another folder with --state", dir, strerror(-r));
	return r;
}

int server_new(struct server **ret, sd_event *event, const struct server_options *options, int listen_fd)
{
	struct server *server = calloc(1, sizeof *server);
	int r;

	if (!server)
		return -ENOMEM;
	*server = (struct server){ .options = options, .event = sd_event_ref(event), .phones.dir_fd = -1 };
	server->calls = (struct calls){ .run = run_soon, .user = server };
	r = open_phones(server);
	if (r >= 0)
		r = guests_new(&server->guests, event);
	if (r >= 0)
		r = streams_new(&server->streams, event, options->heartbeat_usec, run_soon, server);
	if (r >= 0)
		r = feed_init(&server->feed, event, server->streams, options->socket, options->ounces);
	server->calls.peer = server->feed.peer;
	if (r >= 0)
		r = add_timers(server);
	if (r >= 0)
		r = start_library(server, listen_fd);
	if (r < 0) {
		if (!server->daemon)
			(void)close(listen_fd);
		server_free(server);
		return r;
	}
	*ret = server;
	return 0;
}

struct server *server_free(struct server *server)
{
	if (!server)
		return NULL;
	feed_done(&server->feed); /* the calls under way are answered */
	if (server->streams)
		streams_end(server->streams);
	if (server->daemon)
		run_library(server); /* says what is left to say */
	server->soon = sd_event_source_disable_unref(server->soon);
	server->io = sd_event_source_disable_unref(server->io);
	if (server->daemon)
		MHD_stop_daemon(server->daemon);
	server->timer = sd_event_source_disable_unref(server->timer);
	server->streams = streams_free(server->streams);
	server->guests = guests_free(server->guests);
	phones_done(&server->phones);
	sd_event_unref(server->event);
	free(server);
	return NULL;
}
