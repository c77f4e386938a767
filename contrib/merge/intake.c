// SPDX-License-Identifier: MIT
#include "contrib/merge/intake.h"
#include "contrib/merge/record.h"
#include "daemon/log.h"
#include <errno.h>
#include <string.h>

#define MINUTE_MS 60000
#define BRIDGES 1000 /* that refusals are counted for, between two batches */

static void drop(struct keep_batch *batch)
{
	for (int i = 0; i < RECORD_LOGS; i++)
		json_decref(batch->rows[i]);
	json_decref(batch->states);
	json_decref(batch->refused);
	*batch = (struct keep_batch){ 0 };
}

static int make(struct keep_batch *ret)
{
	struct keep_batch batch = { .states = json_array(), .refused = json_object() };
	bool good = batch.states && batch.refused;

	for (int i = 0; i < RECORD_LOGS; i++) {
		batch.rows[i] = json_array();
		good = good && batch.rows[i];
	}
	if (!good) {
		drop(&batch);
		return -ENOMEM;
	}
	*ret = batch;
	return 0;
}

int intake_init(struct intake *intake, const char *base)
{
	*intake = (struct intake){ .base = base };
	return make(&intake->batch);
}

void intake_done(struct intake *intake)
{
	drop(&intake->batch);
}

int intake_clear(struct intake *intake)
{
	drop(&intake->batch);
	intake->rows = intake->octets = 0;
	return make(&intake->batch);
}

/* A flood of them is no flood of lines. */
static bool may_tell(struct intake *intake, int64_t now_ms)
{
	if (intake->lines == 0 || now_ms - intake->minute_ms >= MINUTE_MS) {
		if (intake->untold)
			log_warning("%llu more messages were refused, not told one by one",
				    (unsigned long long)intake->untold);
		intake->minute_ms = now_ms;
		intake->lines = 0;
		intake->untold = 0;
	}
	if (intake->lines >= INTAKE_LINES) {
		intake->untold++;
		return false;
	}
	intake->lines++;
	return true;
}

static void refuse(struct intake *intake, const char *topic, const char *bridge, const char *why, int64_t now_ms)
{
	char quoted[256], name[4 * NAME_BRIDGE_BYTES + 8];
	json_t *count;

	intake->refused++;
	if (may_tell(intake, now_ms))
		log_warning("a message of %s on %s is refused (%s)",
			    *bridge ? log_quote(bridge, name, sizeof name) : "nobody known",
			    log_quote(topic, quoted, sizeof quoted), why);
	if (!*bridge || json_object_size(intake->batch.refused) >= BRIDGES)
		return;
	count = json_object_get(intake->batch.refused, bridge);
	/* without memory it goes uncounted there; it was told, and is in `refused` */
	(void)json_object_set_new(intake->batch.refused, bridge, json_integer(json_integer_value(count) + 1));
}

void intake_put(struct intake *intake, const char *topic, const void *octets, size_t n, int64_t now_ms)
{
	struct record record;
	const char *why = "";
	json_t *to;

	switch (record_read(intake->base, topic, octets, n, &record, &why)) {
	case 0:
		to = record.kind == RECORD_STATE ? intake->batch.states : intake->batch.rows[record.kind];
		intake->rows++;
		intake->octets += n;
		if (json_array_append_new(to, record.row) == 0)
			return;
		break;
	case -EINVAL:
		refuse(intake, topic, record.bridge, why, now_ms);
		intake->octets += 64;
		return;
	default:
		break;
	}
	/* the bridge still has it, and is asked for what is missing */
	log_warning("no memory for a message, ignoring it for now");
}

bool intake_full(const struct intake *intake)
{
	return intake->rows >= INTAKE_ROWS || intake->octets >= INTAKE_OCTETS;
}

bool intake_empty(const struct intake *intake)
{
	return intake->rows == 0 && json_object_size(intake->batch.refused) == 0;
}
