// SPDX-License-Identifier: MIT
/*
 * Sessions at the prompt: lines of a client, and between them octets of a scale, at the real dispatcher with a real
 * ledger. A line that begins with ~ is the scale's, see heard(); in the others an octet 1, 2 or 3 stands for the id of
 * the newest question, reading or order. Each session begins with the same nursery: all that the one before wrote is
 * rolled back, so what breaks one breaks it again.
 */
#include "daemon/desk/room.h"
#include "daemon/log.h"
#include "daemon/store/stmt.h"
#include "fuzz.h"
#include <sys/stat.h>
#include <systemd/sd-event.h>

#define ADDRESS "02:00:00:00:0A:01" /* locally administered: nobody's */
#define LINES 64                    /* of a session */
#define LINE_BYTES 4096

/* ---- a clock that is the same each time ---- */

#define NOW_MS INT64_C(1795610730000) /* 2026-11-25T12:45:30Z */

static int64_t clock_ms;

int __wrap_clock_gettime(clockid_t which, struct timespec *ret);
int __wrap_clock_gettime(clockid_t which, struct timespec *ret)
{
	int64_t at_ms = (which == CLOCK_REALTIME ? NOW_MS : 100000000) + clock_ms++;

	*ret = (struct timespec){ at_ms / 1000, at_ms % 1000 * 1000000 };
	return 0;
}

/* ---- the ledger's transactions, inside one that is never committed ---- */

static bool nested, within;

int __wrap_sqlite3_get_autocommit(sqlite3 *db);
int __real_sqlite3_get_autocommit(sqlite3 *db);
int __wrap_sqlite3_get_autocommit(sqlite3 *db)
{
	return nested ? !within : __real_sqlite3_get_autocommit(db);
}

void __wrap_store_trim(struct store *store);
void __wrap_store_trim(struct store *store)
{
	(void)store; /* the statements of nest() must stay */
}

static int on_statement(unsigned kind, void *userdata, void *st, void *text)
{
	(void)kind;
	(void)userdata;
	(void)st;
	if (strcmp(text, "SAVEPOINT inner") == 0)
		within = true;
	else if (strcmp(text, "RELEASE inner") == 0 || strcmp(text, "ROLLBACK TO inner") == 0)
		within = false;
	return 0;
}

static void nest(struct store *store)
{
	static const struct {
		enum stmt_slot slot;
		const char *sql;
	} own[] = { { STMT_BEGIN, "SAVEPOINT inner" },
		    { STMT_COMMIT, "RELEASE inner" },
		    { STMT_ROLLBACK, "ROLLBACK TO inner" } };

	for (size_t i = 0; i < sizeof own / sizeof *own; i++) {
		(void)sqlite3_finalize(store->prepared[own[i].slot]);
		store->prepared[own[i].slot] = NULL;
		FUZZ_HOLDS(sqlite3_prepare_v3(store->db, own[i].sql, -1, SQLITE_PREPARE_PERSISTENT,
					      &store->prepared[own[i].slot], NULL) == SQLITE_OK);
	}
	FUZZ_HOLDS(sqlite3_trace_v2(store->db, SQLITE_TRACE_STMT, on_statement, NULL) == SQLITE_OK);
	nested = true;
}

/* ---- one session ---- */

struct session {
	struct store *store;
	struct desk *desk;
	struct radio *radio;
	struct prompt_ops ops;
	struct rpc_caller caller;
	char reading[UUID7_SIZE], order[UUID7_SIZE];
};

static void check(struct session *session, const char *reply)
{
	size_t n = strlen(reply);
	json_t *json;
	const char *id;

	if (getenv("BISMAR_FUZZ_SHOW")) /* for who writes a seed */
		(void)fputs(reply, stderr);
	FUZZ_HOLDS(n > 0 && reply[n - 1] == '\n' && !memchr(reply, '\n', n - 1));
	if (*reply != '{' && *reply != '[') {
		FUZZ_HOLDS(strncmp(reply, "ok", 2) == 0 || strncmp(reply, "error", 5) == 0);
		return;
	}
	json = json_loads(reply, 0, NULL);
	FUZZ_HOLDS(json);
	FUZZ_HOLDS(json_integer_value(json_object_get(json_object_get(json, "error"), "code")) != RPC_INTERNAL);
	id = json_string_value(json_object_get(json_object_get(json, "result"), "reading"));
	if (id)
		(void)snprintf(session->reading, sizeof session->reading, "%s", id);
	id = json_string_value(json_object_get(json_object_get(json, "result"), "order"));
	if (id)
		(void)snprintf(session->order, sizeof session->order, "%s", id);
	json_decref(json);
}

static size_t put_ids(const struct session *session, const char *line, size_t n, char *ret)
{
	const struct asks *asks = &session->desk->asks;
	const char *const ids[] = { asks->n ? asks->list[asks->n - 1].id : "", session->reading, session->order };
	size_t used = 0;

	for (size_t i = 0; i < n && used + UUID7_SIZE < LINE_BYTES; i++) {
		size_t which = (unsigned char)line[i] - 1u;
		if (which < sizeof ids / sizeof *ids)
			used += (size_t)snprintf(ret + used, LINE_BYTES - used, "%s", ids[which]);
		else
			ret[used++] = line[i];
	}
	return used;
}

static void say(struct session *session, const char *line, size_t n)
{
	char *reply = NULL, *own = malloc(LINE_BYTES);

	if (!own)
		abort();
	n = put_ids(session, line, n, own);
	own = realloc(own, n ? n : 1); /* so that one octet too far is seen */
	if (own && rpc_line(&session->ops.service, &session->caller, own, n, &reply) == 0 && reply)
		check(session, reply);
	free(reply);
	free(own);
}

/* What the scale does: the first octet says what. */
static void heard(struct session *session, const uint8_t *octets, size_t n)
{
	static const struct {
		char word;
		enum radio_kind kind;
		const char *uuid;
	} kinds[] = { { 'w', RADIO_VALUE, "00002a9d-0000-1000-8000-00805f9b34fb" },
		      { 'c', RADIO_VALUE, "00002a9c-0000-1000-8000-00805f9b34fb" },
		      { '8', RADIO_VALUE, "00002a98-0000-1000-8000-00805f9b34fb" },
		      { 'b', RADIO_SERVICE_DATA, "0000fcd2-0000-1000-8000-00805f9b34fb" },
		      { 'm', RADIO_MANUFACTURER, "0x04d2" } };
	const struct radio_ops *ops = &desk_radio_ops;
	struct radio_frame frame = { .address = ADDRESS, .received_ms = clock_now_ms(), .link = 1 };
	uint8_t what = n ? *octets : 0;

	frame.octets = n ? octets + 1 : octets;
	frame.n = n > LIMIT_FRAME_BYTES ? LIMIT_FRAME_BYTES : n ? n - 1 : 0;
	for (size_t i = 0; i < sizeof kinds / sizeof *kinds; i++) {
		if (what != (uint8_t)kinds[i].word)
			continue;
		frame.kind = kinds[i].kind;
		frame.uuid = kinds[i].uuid;
		ops->frame(session->desk, &frame);
		return;
	}
	if (what == 't')
		ops->clock(session->desk, ADDRESS, frame.octets, frame.n, frame.received_ms, 1, frame.n % 2);
	else if (what == 'f')
		ops->feature(session->desk, ADDRESS, 0x2a9e, frame.octets, frame.n);
	else if (what == 'l')
		ops->link(session->desk, ADDRESS,
			  frame.n ? (enum link_state)(frame.octets[0] % (LINK_LISTENING + 1)) : LINK_AWAY);
	else if (what == 'h') /* hours go by */
		clock_ms += 3600000 * (frame.n ? frame.octets[0] % 32 : 1);
}

static void begin(struct session *session, struct store *store, sd_event *event)
{
	*session = (struct session){ .store = store, .caller = { .peer = "keeper" } };
	clock_ms = 0;
	FUZZ_HOLDS(desk_new(event, store, &session->desk) == 0);
	FUZZ_HOLDS(radio_new(event, &desk_radio_ops, session->desk, &session->radio) >= 0);
	FUZZ_HOLDS(desk_join(session->desk, NULL, session->radio) >= 0);
	desk_prompt_ops(session->desk, &session->ops);
}

static void end(struct session *session, sd_event *event)
{
	for (int i = 0; i < 8 && sd_event_run(event, 0) > 0; i++)
		continue;
	session->ops.left(session->desk, &session->caller);
	(void)desk_join(session->desk, NULL, NULL); /* only forgets: can't fail */
	session->radio = radio_free(session->radio);
	session->desk = desk_free(session->desk);
}

static void run(struct session *session, const uint8_t *data, size_t size)
{
	for (int i = 0; size && i < LINES; i++) {
		const uint8_t *stop = memchr(data, '\n', size);
		size_t n = stop ? (size_t)(stop - data) : size;
		if (*data == '~')
			heard(session, data + 1, n ? n - 1 : 0);
		else
			say(session, (const char *)data, n);
		n += stop ? 1 : 0;
		data += n;
		size -= n;
	}
}

/* ---- the nursery ---- */

static const char nursery[] =
	"{\"id\":1,\"jsonrpc\":\"2.0\",\"method\":\"scale.adopt\",\"params\":[\"" ADDRESS "\",\"bench\"]}\n"
	"{\"id\":1,\"jsonrpc\":\"2.0\",\"method\":\"container.tare\",\"params\":[\"box\",\"210g\"]}\n"
	"{\"id\":1,\"jsonrpc\":\"2.0\",\"method\":\"container.on\",\"params\":[\"box\",\"bench\"]}\n"
	"{\"id\":1,\"jsonrpc\":\"2.0\",\"method\":\"litter.add\",\"params\":[\"amber\",null,\"2026-11-20T00:00:00Z\","
	"\"20kg\"]}\n"
	"{\"id\":1,\"jsonrpc\":\"2.0\",\"method\":\"animal.add\",\"params\":[\"Moss\",\"amber\",\"green\",\"f\","
	"\"300g\"]}\n"
	"{\"id\":1,\"jsonrpc\":\"2.0\",\"method\":\"animal.add\",\"params\":[\"Fern\",\"amber\",\"red\",\"m\",\"280g\"]"
	"}\n"
	"{\"id\":1,\"jsonrpc\":\"2.0\",\"method\":\"litter.add\",\"params\":[\"umber\"]}\n"
	"{\"id\":1,\"jsonrpc\":\"2.0\",\"method\":\"animal.add\",\"params\":[\"Gorse\",\"umber\"]}\n"
	"{\"id\":1,\"jsonrpc\":\"2.0\",\"method\":\"weigh\",\"params\":[\"Moss\",\"350g\",\"2026-11-24T12:00:00Z\"]}\n"
	"{\"id\":1,\"jsonrpc\":\"2.0\",\"method\":\"weigh\",\"params\":[\"Fern\",\"330g\",\"2026-11-25T08:00:00Z\"]}\n"
	"~w\x02\x6e\x00\xea\x07\x0b\x19\x0c\x2d\x1e\n"; /* 0.55 kg */

static struct store *open_store(sd_event *event)
{
	static struct session session;
	struct store *store = NULL;
	char dir[] = "/dev/shm/bismar-fuzz-XXXXXX";

	FUZZ_HOLDS(mkdtemp(dir) && store_open(dir, &store) == 0);
	begin(&session, store, event);
	run(&session, (const uint8_t *)nursery, sizeof nursery - 1);
	FUZZ_HOLDS(session.desk->roster.n_animals == 3);
	end(&session, event);
	/* open files need no names; SQLite wouldn't mind either, since nothing is ever committed any more */
	for (const char *const *file =
		     (const char *const[]){ STORE_FILE, STORE_FILE "-wal", STORE_FILE "-shm", STORE_MARK, NULL };
	     *file; file++) {
		char path[96];
		(void)snprintf(path, sizeof path, "%s/%s", dir, *file);
		(void)remove(path);
	}
	(void)rmdir(dir);
	nest(store);
	return store;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	static struct session session;
	static struct store *store;
	static sd_event *event;

	if (!store) {
		(void)setenv("TZ", "UTC", 1);
		(void)setenv("DBUS_SYSTEM_BUS_ADDRESS", "unix:path=/nonexistent", 1);
		log_set_level(-1);
		FUZZ_HOLDS(sd_event_default(&event) >= 0);
		store = open_store(event);
	}
	FUZZ_HOLDS(sqlite3_exec(store->db, "BEGIN", NULL, NULL, NULL) == SQLITE_OK);
	within = false;
	begin(&session, store, event);
	run(&session, data, size);
	end(&session, event);
	FUZZ_HOLDS(sqlite3_exec(store->db, "ROLLBACK", NULL, NULL, NULL) == SQLITE_OK);
	return 0;
}
