// SPDX-License-Identifier: MIT
#include "daemon/ctl/watch_lines.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/level.h"
#include "daemon/ctl/show.h"
#include "daemon/ctl/watch_asks.h"
#include "daemon/ctl/watch_input.h"
#include "daemon/ctl/when.h"
#include <limits.h>

void watch_lines_print(const char *text)
{
	char safe[1024];

	(void)text_fit(safe, sizeof safe, text, UINT_MAX, true);
	(void)puts(safe); /* failures stay in stdout's error flag */
}

void watch_lines_ask(const struct watch_board *board, const struct watch_look *look)
{
	const struct watch_ask *ask = watch_asks_shown(board);
	char text[1024], mass[SHOW_SIZE], u[SHOW_SIZE];

	if (!ask) {
		watch_lines_print("No question is open.");
		return;
	}
	(void)snprintf(text, sizeof text, "Who is it? %s   ", show_mass(mass, ask->net_mg, look->unit));
	watch_words_detail(ask, look, true, text + strlen(text), sizeof text - strlen(text));
	watch_lines_print(text);
	for (size_t i = 0; i < ask->n_candidates && i < 9; i++) {
		const struct watch_candidate *c = &ask->candidates[i];
		int n = watch_input_digits(board) ? snprintf(text, sizeof text, " %zu  %s", i + 1, c->name)
						  : snprintf(text, sizeof text, "    %s", c->name);
		if (*c->collar)
			n += snprintf(text + n, sizeof text - (size_t)n, ", %s", c->collar);
		if (c->expects)
			n += snprintf(text + n, sizeof text - (size_t)n, ", expected %s %s %s",
				      show_about(mass, c->expected_mg, look->unit), show_plus_minus(true),
				      show_about(u, c->u_expected_mg, look->unit));
		if (c->probability >= 0)
			(void)snprintf(text + n, sizeof text - (size_t)n, ", %.0f %%", c->probability * 100);
		watch_lines_print(text);
	}
	if (*ask->whelping) {
		(void)snprintf(text, sizeof text, " +  a new pup of %s", ask->whelping);
		watch_lines_print(text);
	}
}

static void recorded(const struct watch_look *look, const json_t *params)
{
	char text[512], mass[SHOW_SIZE], when[WHEN_SIZE] = "";
	int64_t net_mg = 0, at_ms;

	(void)field_mg(params, "net_g", &net_mg); /* stays 0 */
	if (field_time(params, "at", &at_ms))
		when_show_near(when, at_ms, look->now_ms);
	(void)snprintf(text, sizeof text, "Recorded: %s, %s, weighed %s, by %s", field_text(params, "name"),
		       show_mass(mass, net_mg, look->unit), when, field_text(params, "by"));
	watch_lines_print(text);
}

static void concern_notice(const json_t *params)
{
	bool over = json_is_false(json_object_get(params, "open"));
	char text[1024];
	const char *name = *field_text(params, "name") ? field_text(params, "name") : field_text(params, "litter");

	(void)snprintf(text, sizeof text, "Concern (%s)%s, %s: %s", field_text(params, "level"), over ? " over" : "", name,
		       field_text(params, "text"));
	watch_lines_print(text);
	if (over)
		return;
	watch_lines_print(field_text(params, "advice"));
	watch_lines_print(SHOW_VET);
}

static void round_notice(const json_t *params)
{
	char text[1024];

	(void)snprintf(text, sizeof text, "The round of %s %s", field_text(params, "litter"),
		       field_true(params, "ended") ? "is over" : "has begun");
	watch_lines_print(text);
	if (watch_words_exchange(params, text, sizeof text))
		watch_lines_print(text);
}

void watch_lines_notice(const struct watch_look *look, const char *topic, const json_t *params, bool was_open)
{
	char text[512] = "";
	int64_t battery;

	if (strcmp(topic, "recorded") == 0) {
		recorded(look, params);
	} else if (strcmp(topic, "withdraw") == 0 && was_open) {
		(void)snprintf(text, sizeof text, "Question %s is closed: %s", show_tail(field_text(params, "ask")),
			       field_text(params, "why"));
	} else if (strcmp(topic, "scale") == 0) {
		int n = snprintf(text, sizeof text, "%s: %s", field_text(params, "scale"),
				 show_link(field_text(params, "state")));
		if (field_whole(params, "battery", &battery))
			n += snprintf(text + n, sizeof text - (size_t)n, ", battery %d %%", (int)battery);
		if (field_true(params, "battery_low"))
			(void)snprintf(text + n, sizeof text - (size_t)n, ", battery low");
	} else if (strcmp(topic, "container") == 0 && strcmp(field_text(params, "what"), "empty") != 0) {
		(void)snprintf(text, sizeof text, "%s", field_text(params, "say"));
	} else if (strcmp(topic, "concern") == 0) {
		concern_notice(params);
	} else if (strcmp(topic, "round") == 0) {
		round_notice(params);
	} else if (strcmp(topic, "imported") == 0) {
		(void)snprintf(text, sizeof text, "%lld readings of a file were added by %s",
			       (long long)json_integer_value(json_object_get(params, "readings")), field_text(params, "by"));
	}
	if (*text)
		watch_lines_print(text);
}

void watch_lines_json(const char *topic, json_t *params)
{
	json_t *line = json_pack("{s:s}", "topic", topic);

	if (line && json_object_update(line, params) == 0)
		field_print(line);
	json_decref(line);
}
