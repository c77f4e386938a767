// SPDX-License-Identifier: MIT
/* What a client or a scale can make grow has a cap (daemon/limits.h): all is well up to it, and one more is refused. */
#include "nursery.h"
#include "daemon/limits.h"

static void test_open_asks(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig), *newcomer;
	const json_t *asks;
	const char *oldest;

	nursery_scale(rig, client, BENCH, "bench", "");
	(void)rig_sim(rig, "quiet on");
	nursery_weigh(rig, BENCH, 300);
	oldest = client_text(client, client_notice(client, "ask"), "ask");
	for (int i = 1; i < LIMIT_OPEN_ASKS; i++)
		nursery_weigh(rig, BENCH, 300 + 5 * (i % 100));
	rig_await_frames(rig, LIMIT_OPEN_ASKS);
	assert_int_equal(client_notices(client, "withdraw"), 0);
	nursery_weigh(rig, BENCH, 900);
	assert_string_equal(client_text(client, client_notice(client, "withdraw"), "ask"), oldest);
	asks = json_object_get(client_call(client, "asks", NULL), "asks");
	assert_int_equal(json_array_size(asks), LIMIT_OPEN_ASKS);
	newcomer = client_open(rig);
	assert_int_equal(client_notices(newcomer, "ask"), LIMIT_OPEN_ASKS);
	client_close(newcomer);
	/* it waits in the ledger, and can be answered by its id */
	rig_expect_row(rig, "257", "SELECT count(*) FROM unanswered");
	nursery_litter(client);
	(void)client_call(client, "answer", "{s:s, s:s}", "ask", oldest, "animal", "Ash");
	rig_expect_row(rig, "256", "SELECT count(*) FROM unanswered");
	client_close(client);
}

static void test_candidates(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);

	nursery_make(rig, client);
	for (int i = PUPS; i < LIMIT_CANDIDATES + 3; i++) {
		char name[16];
		(void)snprintf(name, sizeof name, "Pup%d", i);
		(void)client_call(client, "animal.add", "{s:s, s:s}", "name", name, "litter", "amber");
		(void)client_call(client, "weigh", "{s:s, s:i}", "animal", name, "mass_g", 300);
	}
	for (size_t i = 0; i < PUPS; i++)
		(void)client_call(client, "weigh", "{s:s, s:i}", "animal", nursery_pups[i].name, "mass_g", 300);
	nursery_weigh(rig, BENCH, BOX_G + 305);
	assert_int_equal(json_array_size(json_object_get(client_notice(client, "ask"), "candidates")),
			 LIMIT_CANDIDATES);
	client_close(client);
}

static void test_scales(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);
	char address[18], name[16];

	for (int i = 0; i <= LIMIT_SCALES; i++) {
		(void)snprintf(address, sizeof address, "02:00:00:00:0B:%02X", (unsigned)i);
		(void)snprintf(name, sizeof name, "scale %d", i);
		if (i < LIMIT_SCALES)
			(void)client_call(client, "scale.adopt", "{s:s, s:s}", "address", address, "name", name);
		else
			(void)client_refused(client, "too-many", "scale.adopt", "{s:s, s:s}", "address", address,
					     "name", name);
	}
	(void)client_call(client, "scale.forget", "{s:s}", "name", "scale 7");
	(void)client_call(client, "scale.adopt", "{s:s, s:s}", "address", address, "name", name);
	/* all of them after a restart */
	client_close(client);
	rig_kill_daemon(rig);
	rig_start_daemon(rig);
	client = client_open(rig);
	assert_int_equal(json_array_size(json_object_get(client_call(client, "status", NULL), "scales")), LIMIT_SCALES);
	client_close(client);
}

/* Requests in a row, whose replies are taken afterwards: hundreds of them wait for each other's disk otherwise. */
static void fill(struct client *client, const char *method, int n, const char *extra, const char *value)
{
	int *ids = calloc((size_t)n, sizeof *ids);
	char name[32];

	assert_non_null(ids);
	for (int i = 0; i < n; i++) {
		(void)snprintf(name, sizeof name, "number %d", i);
		ids[i] = extra ? client_ask(client, method, "{s:s, s:s}", "name", name, extra, value)
			       : client_ask(client, method, "{s:s}", "name", name);
	}
	for (int i = 0; i < n; i++)
		assert_non_null(json_object_get(client_reply(client, ids[i]), "result"));
	free(ids);
}

static void test_containers_and_litters(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);

	fill(client, "container.tare", LIMIT_CONTAINERS, "mass_g", "210g");
	(void)client_refused(client, "too-many", "container.tare", "{s:s, s:i}", "name", "box", "mass_g", BOX_G);
	(void)client_call(client, "container.tare", "{s:s, s:i}", "name", "number 3", "mass_g",
			  BOX_G); /* a known one */
	fill(client, "litter.add", LIMIT_LITTERS, NULL, NULL);
	(void)client_refused(client, "too-many", "litter.add", "{s:s}", "name", "amber");
	(void)client_call(client, "litter.close", "{s:s}", "name", "number 3");
	(void)client_call(client, "litter.add", "{s:s}", "name", "amber");
	client_close(client);
}

static void test_texts(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);
	char text[LIMIT_TEXT_BYTES + 2];

	memset(text, 'n', sizeof text);
	text[LIMIT_NAME_BYTES + 1] = '\0';
	(void)client_refused(client, "bad-value", "litter.add", "{s:s}", "name", text);
	text[LIMIT_NAME_BYTES] = '\0';
	(void)client_call(client, "litter.add", "{s:s}", "name", text);
	(void)client_call(client, "animal.add", "{s:s, s:s, s:s}", "name", "Ash", "litter", text, "collar", text);
	memset(text, 'w', sizeof text);
	text[LIMIT_TEXT_BYTES + 1] = '\0';
	(void)client_refused(client, "too-long", "animal.gone", "{s:s, s:s}", "name", "Ash", "why", text);
	text[LIMIT_TEXT_BYTES] = '\0';
	(void)client_call(client, "animal.gone", "{s:s, s:s}", "name", "Ash", "why", text);
	client_close(client);
}

static void test_longest_frame(void **state)
{
	struct rig *rig = *state;
	struct client *client = client_open(rig);
	char hex[2 * LIMIT_FRAME_BYTES + 1];

	nursery_scale(rig, client, BENCH, "bench", "");
	memset(hex, '0', sizeof hex);
	memcpy(hex, "003d00", 6);
	hex[sizeof hex - 1] = '\0';
	nursery_send(rig, BENCH, hex);
	assert_int_equal(client_mg(client, client_notice(client, "ask"), "net_g"), 305000);
	rig_expect_row(rig, "512|used", "SELECT length(bytes), fate FROM frame_log");
	client_close(client);
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, rig_setup, rig_teardown)

int main(int argc, char **argv)
{
	const struct CMUnitTest tests[] = {
		CASE(test_open_asks), CASE(test_candidates),    CASE(test_scales), CASE(test_containers_and_litters),
		CASE(test_texts),     CASE(test_longest_frame),
	};

	rig_programs(argc, argv);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
