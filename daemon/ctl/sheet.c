// SPDX-License-Identifier: MIT
/* sheet: the paper on the wall. */
#include "daemon/ctl/args.h"
#include "daemon/ctl/commands.h"
#include "daemon/ctl/database.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/outfile.h"
#include "daemon/ctl/request.h"
#include "daemon/ctl/sheet_page.h"
#include <strings.h>

static enum ctl_status of_litter(const struct ctl *ctl, const char *method, const char *litter, json_t **ret_result)
{
	json_t *params = json_object();

	if (field_put(params, "who", litter) < 0) {
		json_decref(params); /* without it, it would be all litters */
		params = NULL;
	}
	return request_call(ctl, method, params, ret_result);
}

/* Those of this litter; a new array. */
static json_t *own_orders(const json_t *orders, const char *litter)
{
	json_t *own = json_array(), *one;
	size_t i;

	json_array_foreach (orders, i, one)
		if (strcasecmp(field_text(one, "litter"), litter) == 0)
			(void)json_array_append(own, one);
	return own;
}

/* Of each order and animal the newest dose. */
static enum ctl_status doses(const struct ctl *ctl, const char *litter, json_t *list)
{
	sqlite3_stmt *row;
	sqlite3 *db;
	enum ctl_status status = database_for(ctl, &db);
	int r;

	if (status != CTL_DONE)
		return status;
	row = database_ask(db,
			   "SELECT order_id AS \"order\", animal, ml, max(at_ms) AS at_ms FROM dose_log WHERE litter = "
			   "?1 COLLATE NOCASE"
			   " GROUP BY order_id, animal_id ORDER BY animal",
			   &litter, 1);
	while ((r = row ? sqlite3_step(row) : SQLITE_ERROR) == SQLITE_ROW)
		(void)json_array_append_new(list, database_json(row));
	if (r != SQLITE_DONE)
		status = database_trouble(ctl, db);
	(void)sqlite3_finalize(row); /* repeats the error of the step */
	database_close(db);
	return status;
}

static enum ctl_status write_page(const struct ctl *ctl, const struct sheet *sheet, const char *path)
{
	struct outfile out;
	enum ctl_status status = outfile_begin(&out, path);

	if (status != CTL_DONE)
		return status;
	sheet_page(out.to, ctl, sheet);
	status = outfile_end(&out);
	if (status != CTL_DONE || !*out.path)
		return status;
	(void)printf("%s: open it in a browser and print it.\n", path);
	return ctl_flush();
}

enum ctl_status sheet_run(struct ctl *ctl, int argc, char **argv)
{
	const char *path = NULL, *vet = NULL;
	const struct args_option options[] = { { .name = "-o", .value = &path }, { .name = "--vet", .value = &vet } };
	json_t *growth = NULL, *concerns = NULL, *orders = NULL, *own = NULL, *given;
	enum ctl_status status;
	struct args args;

	if (!args_parse(ctl, argc, argv, options, 2, 1, 1, &args))
		return CTL_USAGE;
	given = json_array();
	status = of_litter(ctl, "growth", args.words[0], &growth);
	if (status == CTL_DONE)
		status = of_litter(ctl, "concerns", args.words[0], &concerns);
	if (status == CTL_DONE)
		status = request_call(ctl, "order.list", json_object(), &orders);
	if (status == CTL_DONE)
		status = doses(ctl, args.words[0], given);
	if (status == CTL_DONE) {
		own = own_orders(json_object_get(orders, "orders"), args.words[0]);
		status = write_page(ctl,
				    &(struct sheet){ .litter = args.words[0],
						     .vet = vet,
						     .growth = json_object_get(growth, "growth"),
						     .concerns = json_object_get(concerns, "concerns"),
						     .orders = own,
						     .doses = given },
				    path);
	}
	json_decref(growth);
	json_decref(concerns);
	json_decref(orders);
	json_decref(own);
	json_decref(given);
	return status;
}
