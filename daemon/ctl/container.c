// SPDX-License-Identifier: MIT
/* container tare, on, none, list. */
#include "daemon/ctl/args.h"
#include "daemon/ctl/commands.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/list.h"
#include "daemon/ctl/request.h"
#include "daemon/ctl/show.h"
#include <strings.h>

static enum ctl_status tared(const struct ctl *ctl, const json_t *result)
{
	char mass[SHOW_SIZE], u[SHOW_SIZE];
	int64_t tare_mg = 0, u_mg = 0;

	if (ctl->json) {
		field_print(result);
		return ctl_flush();
	}
	(void)field_mg(result, "tare_g", &tare_mg);
	(void)printf("The container %s weighs %s", field_text(result, "container"),
		     show_mass(mass, tare_mg, ctl->unit));
	if (field_mg(result, "u_g", &u_mg))
		(void)printf(" (uncertainty %s)", show_mass(u, u_mg, ctl->unit));
	(void)puts(".");
	return ctl_flush();
}

/* Until the notification about this container comes. */
static enum ctl_status wait_tare(const struct ctl *ctl, struct socket *socket, const json_t *begun)
{
	const char *name = field_text(begun, "container");

	(void)fprintf(stderr, "Put the empty %s on the scale now.\n", name);
	(void)fputs(
		"Ctrl-C leaves; for three minutes bismard still takes the next settled weighing for its tare.\n", stderr);
	for (;;) {
		json_t *notice = NULL;
		enum ctl_status status = request_notice(ctl, socket, "container", -1, &notice);
		if (status != CTL_DONE)
			return status;
		const char *what = field_text(notice, "what");
		bool ours = strcasecmp(field_text(notice, "container"), name) == 0;
		bool done = ours && strcmp(what, "tared") == 0, lapsed = ours && strcmp(what, "lapsed") == 0;
		if (done)
			status = tared(ctl, notice);
		if (lapsed)
			ctl_error("%s", field_text(notice, "say"));
		json_decref(notice);
		if (done || lapsed)
			return done ? status : CTL_REFUSED;
	}
}

enum ctl_status container_tare(struct ctl *ctl, int argc, char **argv)
{
	const char *scale = NULL;
	const struct args_option options[] = { { .name = "--scale", .value = &scale } };
	char mass[64] = "";
	struct args args;
	struct socket *socket;
	enum ctl_status status;
	json_t *params, *result = NULL;

	if (!args_parse(ctl, argc, argv, options, 1, 1, 3, &args))
		return CTL_USAGE;
	if (args.n > 1) /* "404 g" may come as two words */
		(void)snprintf(mass, sizeof mass, "%s%s", args.words[1], args.n > 2 ? args.words[2] : "");
	if (*mass && !args_mass(ctl, mass))
		return CTL_USAGE;
	status = request_follow(ctl, json_pack("[s]", "container"), &socket);
	if (status != CTL_DONE)
		return status;
	params = request_params(ctl);
	(void)field_put(params, "name", args.words[0]); /* left out for lack of memory, it is refused */
	(void)field_put(params, "mass", *mass ? mass : NULL);
	(void)field_put(params, "scale", scale);
	status = request_on(ctl, socket, "container.tare", params, &result);
	if (status == CTL_DONE)
		status = field_true(result, "waiting") ? wait_tare(ctl, socket, result) : tared(ctl, result);
	json_decref(result);
	socket_free(socket);
	return status;
}

/* container.on and container.none: params is stolen. */
static enum ctl_status put(const struct ctl *ctl, const char *method, json_t *params, const char *scale,
			   const char *container)
{
	json_t *result = NULL;
	enum ctl_status status = request_call(ctl, method, params, &result);

	if (status != CTL_DONE)
		return status;
	if (container)
		return request_print(ctl, result, "%s: what it shows is now taken less the container %s.", scale,
				     container);
	return request_print(ctl, result, "%s: what it shows is now taken as it is, without a container.", scale);
}

enum ctl_status container_on(struct ctl *ctl, int argc, char **argv)
{
	const char *scale = NULL;
	const struct args_option options[] = { { .name = "--scale", .value = &scale } };
	struct args args;
	json_t *params;

	if (!args_parse(ctl, argc, argv, options, 1, 1, 1, &args))
		return CTL_USAGE;
	if (!scale)
		return args_wrong(ctl, "--scale is missing: on which scale does it stand?");
	params = request_params(ctl);
	(void)field_put(params, "name", args.words[0]); /* left out for lack of memory, it is refused */
	(void)field_put(params, "scale", scale);
	return put(ctl, "container.on", params, scale, args.words[0]);
}

enum ctl_status container_none(struct ctl *ctl, int argc, char **argv)
{
	const char *scale = NULL;
	const struct args_option options[] = { { .name = "--scale", .value = &scale } };
	struct args args;
	json_t *params;

	if (!args_parse(ctl, argc, argv, options, 1, 0, 0, &args))
		return CTL_USAGE;
	if (!scale)
		return args_wrong(ctl, "--scale is missing: which scale stands without a container?");
	params = request_params(ctl);
	(void)field_put(params, "scale", scale); /* left out for lack of memory, it is refused */
	return put(ctl, "container.none", params, scale, NULL);
}

enum ctl_status container_list(struct ctl *ctl, int argc, char **argv)
{
	static const struct list_column columns[] = {
		{ "CONTAINER", "container", LIST_TEXT },      { "TARE", "tare_g", LIST_MASS },
		{ "UNCERTAINTY", "u_g", LIST_MASS },          { "WEIGHED", "tared_at_ms", LIST_TIME },
		{ "SEEN EMPTY", "checked_at_ms", LIST_TIME }, { "DRIFT", "drift_g", LIST_MASS },
		{ "ON SCALE", "scale", LIST_TEXT },
	};
	const struct list list = {
		.sql = "SELECT * FROM container_now ORDER BY container COLLATE NOCASE",
		.columns = columns,
		.n_columns = sizeof columns / sizeof *columns,
		.nothing = "No container is on record: `bismar container tare NAME` weighs one.",
	};
	struct args args;

	if (!args_parse(ctl, argc, argv, NULL, 0, 0, 0, &args))
		return CTL_USAGE;
	return list_print(ctl, &list);
}
