// SPDX-License-Identifier: MIT
/* What came by radio, and what people said it was. One call is one transaction. */
#include "stmt.h"

#include <string.h>

static const char *fate_text(enum store_fate fate)
{
	switch (fate) {
	case STORE_USED:
		return "used";
	case STORE_REPEAT:
		return "repeat";
	case STORE_REFUSED:
		return "refused";
	}
	return NULL; /* the schema refuses it */
}

static const char *kind_text(enum store_answer_kind kind)
{
	switch (kind) {
	case STORE_ANSWER:
		return "answer";
	case STORE_ASIDE:
		return "aside";
	case STORE_CORRECT:
		return "correct";
	case STORE_REOPEN:
		return "reopen";
	}
	return NULL; /* the schema refuses it */
}

static int add_frame(struct store *store, const struct store_stamp *stamp, const struct store_frame *frame,
		     char ret_id[UUID7_SIZE])
{
	struct stmt use = { 0 };
	int r = stmt_use_row(store, STMT_ADD_FRAME,
			     "INSERT INTO frame (id, at_ms, offset_min, peer, said, scale, received_ms, uuid, bytes, "
			     "link, fate, why, mass_mg, step_mg, stamp_ms) "
			     "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
			     stamp, ret_id, &use);

	if (r != 0)
		return r;
	stmt_text(&use, frame->scale_id);
	stmt_int(&use, frame->received_ms);
	stmt_text(&use, frame->uuid);
	stmt_blob(&use, frame->octets, frame->n);
	stmt_int(&use, frame->link);
	stmt_text(&use, fate_text(frame->fate));
	stmt_text(&use, frame->why);
	stmt_int_if(&use, frame->has_mass, frame->mass_mg);
	stmt_int_if(&use, frame->has_mass, frame->step_mg);
	stmt_int_if(&use, frame->has_stamp, frame->stamp_ms);
	return stmt_run(store, &use);
}

/* frame_id NULL: typed. */
static int add_weighing(struct store *store, const struct store_stamp *stamp, const struct store_weighing *weighing,
			const char *frame_id, char ret_id[UUID7_SIZE])
{
	const struct weighing *w = weighing->weighing;
	struct stmt use = { 0 };
	int r = stmt_use_row(store, STMT_ADD_WEIGHING,
			     "INSERT INTO weighing (id, at_ms, offset_min, peer, said, frame, scale, container, "
			     "weighed_ms, origin, state, user, gross_mg, tare_mg, net_mg, u_mg, step_mg) "
			     "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
			     stamp, ret_id, &use);

	if (r != 0)
		return r;
	stmt_text(&use, frame_id);
	stmt_text(&use, weighing->scale_id);
	stmt_text(&use, weighing->container_id);
	stmt_int(&use, w->at_ms);
	stmt_text(&use, weigh_origin_text(w->origin));
	stmt_text(&use, weighing->restless ? "restless" : "settled");
	stmt_int_if(&use, weighing->user >= 0, weighing->user);
	stmt_int(&use, w->gross_mg);
	stmt_int(&use, w->tare_mg);
	stmt_int(&use, w->net_mg);
	stmt_int(&use, w->u_mg);
	stmt_int(&use, weighing->step_mg);
	return stmt_run(store, &use);
}

/* Seen when the frame came: a check carries no time of its own. */
static int add_check(struct store *store, const struct store_stamp *stamp, const struct store_check *check,
		     const struct store_frame *frame, const char *frame_id)
{
	char id[UUID7_SIZE];
	struct stmt use = { 0 };
	int r;

	if (check->becomes_tare) {
		r = stmt_use_row(store, STMT_ADD_TARE, STMT_ADD_TARE_SQL, stamp, id, &use);
		if (r != 0)
			return r;
		stmt_text(&use, check->container_id);
		stmt_text(&use, frame_id);
		stmt_int(&use, frame->received_ms);
		stmt_int(&use, check->gross_mg);
		stmt_int(&use, check->u_mg);
		return stmt_run(store, &use);
	}
	r = stmt_use_row(store, STMT_ADD_CHECK,
			 "INSERT INTO container_check (id, at_ms, offset_min, peer, said, container, tare, frame, "
			 "seen_ms, gross_mg, u_mg, drift_mg, drifted) "
			 "VALUES (?, ?, ?, ?, ?, ?6, (SELECT id FROM container_tare WHERE seq = "
			 "(SELECT max(seq) FROM container_tare WHERE container = ?6)), ?, ?, ?, ?, ?, ?)",
			 stamp, id, &use);
	if (r != 0)
		return r;
	stmt_text(&use, check->container_id);
	stmt_text(&use, frame_id);
	stmt_int(&use, frame->received_ms);
	stmt_int(&use, check->gross_mg);
	stmt_int(&use, check->u_mg);
	stmt_int(&use, check->drift_mg);
	stmt_int(&use, check->drifted);
	return stmt_run(store, &use);
}

int store_add_frames(struct store *store, const struct store_stamp *stamp, const struct store_frame *frames, size_t n,
		     const struct store_weighing *weighing, const struct store_check *check,
		     char ret_weighing_id[UUID7_SIZE])
{
	char frame_id[UUID7_SIZE], weighing_id[UUID7_SIZE];
	int r = stmt_begin(store);

	if (r != 0)
		return r;
	for (size_t i = 0; r == 0 && i < n; i++)
		r = add_frame(store, stamp, &frames[i], frame_id);
	if (r == 0 && weighing)
		r = add_weighing(store, stamp, weighing, frame_id, weighing_id);
	if (r == 0 && check)
		r = add_check(store, stamp, check, &frames[n - 1], frame_id);
	r = stmt_end(store, r);
	if (r == 0 && weighing)
		memcpy(ret_weighing_id, weighing_id, sizeof(weighing_id));
	return r;
}

int store_add_frame(struct store *store, const struct store_stamp *stamp, const struct store_frame *frame,
		    const struct store_weighing *weighing, const struct store_check *check,
		    char ret_weighing_id[UUID7_SIZE])
{
	return store_add_frames(store, stamp, frame, 1, weighing, check, ret_weighing_id);
}

int store_add_clock(struct store *store, const struct store_stamp *stamp, const char *scale_id, int64_t ahead_ms,
		    bool set)
{
	char id[UUID7_SIZE];
	struct stmt use = { 0 };
	int r = stmt_begin_row(store, STMT_ADD_CLOCK,
			       "INSERT INTO scale_clock (id, at_ms, offset_min, peer, said, scale, ahead_ms, was_set) "
			       "VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
			       stamp, id, &use);

	if (r != 0)
		return r;
	stmt_text(&use, scale_id);
	stmt_int(&use, ahead_ms);
	stmt_int(&use, set);
	return stmt_end_row(store, &use, id, NULL);
}

/*
 * A correction says who it was, not whether the animal had fed: where it doesn't tell, what the answer before it
 * said still holds. weighed_ms comes out NULL, and is refused, for a weighing that isn't there.
 */
static int add_answer(struct store *store, const struct store_stamp *stamp, const char *weighing_id,
		      enum store_answer_kind kind, const char *animal_id, const char *why, const char *fed)
{
	char id[UUID7_SIZE];
	struct stmt use = { 0 };
	int r = stmt_use_row(store, STMT_ADD_ANSWER,
			     "INSERT INTO answer (id, at_ms, offset_min, peer, said, weighing, kind, animal, why, fed, "
			     "weighed_ms) VALUES (?, ?, ?, ?, ?, ?6, ?7, ?, ?, coalesce(?, CASE ?7 WHEN 'correct' "
			     "THEN (SELECT fed FROM answer_now WHERE weighing = ?6) END), "
			     "(SELECT weighed_ms FROM weighing WHERE id = ?6))",
			     stamp, id, &use);

	if (r != 0)
		return r;
	stmt_text(&use, weighing_id);
	stmt_text(&use, kind_text(kind));
	stmt_text(&use, animal_id);
	stmt_text(&use, why);
	stmt_text(&use, fed);
	return stmt_run(store, &use);
}

int store_answer(struct store *store, const struct store_stamp *stamp, const char *weighing_id,
		 enum store_answer_kind kind, const char *animal_id, const char *why, const char *fed)
{
	int r = stmt_begin(store);

	if (r != 0)
		return r;
	r = add_answer(store, stamp, weighing_id, kind, animal_id, why, fed);
	return stmt_end(store, r);
}

int store_exchange(struct store *store, const struct store_stamp *stamp, const char (*weighing_ids)[UUID7_SIZE],
		   const char (*animal_ids)[UUID7_SIZE], size_t n)
{
	int r = stmt_begin(store);

	if (r != 0)
		return r;
	for (size_t i = 0; r == 0 && i < n; i++)
		r = add_answer(store, stamp, weighing_ids[i], STORE_CORRECT, animal_ids[i], NULL, NULL);
	return stmt_end(store, r);
}

int store_add_typed(struct store *store, const struct store_stamp *stamp, const struct store_weighing *weighing,
		    const char *animal_id, const char *fed, char ret_weighing_id[UUID7_SIZE])
{
	char id[UUID7_SIZE];
	int r = stmt_begin(store);

	if (r != 0)
		return r;
	r = add_weighing(store, stamp, weighing, NULL, id);
	if (r == 0)
		r = add_answer(store, stamp, id, STORE_ANSWER, animal_id, NULL, fed);
	r = stmt_end(store, r);
	if (r == 0)
		memcpy(ret_weighing_id, id, sizeof(id));
	return r;
}

static int add_typed_row(struct store *store, const struct store_stamp *stamp, const struct store_typed *row)
{
	const struct weighing weighing = { .at_ms = row->at_ms,
					   .origin = WEIGH_TYPED,
					   .gross_mg = row->mass_mg,
					   .net_mg = row->mass_mg,
					   .u_mg = row->u_mg };
	const struct store_weighing typed = { .weighing = &weighing, .user = -1, .step_mg = row->step_mg };
	struct store_stamp own = *stamp;
	char id[UUID7_SIZE];
	int r;

	own.offset_min = row->offset_min;
	r = add_weighing(store, &own, &typed, NULL, id);
	return r == 0 ? add_answer(store, &own, id, STORE_ANSWER, row->animal_id, NULL, row->fed) : r;
}

int store_add_typed_rows(struct store *store, const struct store_stamp *stamp, size_t n,
			 void (*row)(void *userdata, size_t i, struct store_typed *ret), void *userdata)
{
	int r = stmt_begin(store);

	if (r != 0)
		return r;
	for (size_t i = 0; r == 0 && i < n; i++) {
		struct store_typed typed = { 0 };
		row(userdata, i, &typed);
		r = add_typed_row(store, stamp, &typed);
	}
	return stmt_end(store, r);
}
