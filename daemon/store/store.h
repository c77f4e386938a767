// SPDX-License-Identifier: MIT
#pragma once
/*
 * The ledger: one SQLite database, append-only, written by this module alone.
 * Above: daemon/desk. Below: sqlite3. It keeps what it is told and has no policy: no clock of its own but for keys,
 * no log, no radio, no socket.
 *
 * Nothing is overwritten: each change is a row, views show the current truth, triggers refuse UPDATE and DELETE.
 * WAL, synchronous FULL: when a call returns 0 the change is on the disk. protocols/database.md is the contract for
 * readers; schema_1.h holds the statements, migrations.c the steps.
 *
 * Results of the writing calls: 0 done; > 0 of enum store_outcome: nothing was written, and trying again can help
 * or won't, as the outcome says; < 0 -errno: ENOMEM, or EINVAL for an id that isn't there or a value that the schema
 * refuses (the caller's mistake; nothing was written). Strings given are copied. NULL or "" strings become NULL.
 */
#include "daemon/weigh/weigh.h"
#include "uuid7.h"
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define STORE_SCHEMA 1
#define STORE_APPLICATION_ID 0x4249534d /* "BISM" */
#define STORE_FILE "bismar.db"
#define STORE_MERGED_MARK "merged_bridge" /* a table that bismar-merge makes, and no ledger has */
#define STORE_MARK "bismar.began" /* beside the database: one was begun here, so a missing one is a loss */

struct store;

enum store_outcome {
	STORE_OK = 0,
	STORE_FULL,      /* no space on the disk: try again once there is */
	STORE_READ_ONLY, /* the disk or file can't be written */
	STORE_BUSY,      /* another program holds a lock */
	STORE_IO,        /* the disk failed */
	STORE_DAMAGED,   /* not a database, or malformed */
	STORE_NEWER,     /* schema of a newer bismar (opening only) */
	STORE_FOREIGN,   /* another program's database (opening only) */
	STORE_MISSING,   /* a database was begun here and is gone, or is empty (opening only) */
	STORE_LOCKED,    /* another bismard runs on it (opening only) */
	STORE_MERGED,    /* made of several ledgers, and none itself (opening only) */
};

/* What is wrong, for people, and what to do; one sentence or two. Static storage. */
const char *store_outcome_text(enum store_outcome outcome);
/* What SQLite said to the newest failure, for the log; "" when there was none. Borrowed until the next call. */
const char *store_detail(const struct store *store);

/*
 * Opens DIR/bismar.db, creates it on the very first start, migrates an older schema in one transaction. Takes a
 * lock (flock on the mark) that a second bismard finds. Files get mode 0640, the directory is left as it is.
 * 0, > 0 outcome, -ENOMEM, -ENOENT/-EACCES/... when DIR itself can't be used.
 */
int store_open(const char *dir, struct store **ret);
struct store *store_close(struct store *store); /* takes NULL, returns NULL; leaves -wal and -shm in place */

/* Gives back memory that only rare calls need; everything goes on working. For after a start and a change of the roster. */
void store_trim(struct store *store);

/* Who and when; goes into every row. */
struct store_stamp {
	int64_t at_ms;      /* wall clock, UTC */
	int offset_min;     /* local time's offset then, minutes east of UTC: a time is UTC with the offset kept */
	const char *peer;   /* who is connected: a user's name, "uid 1000"; or "bismard" */
	const char *said;   /* whom the client named (`by`), or NULL */
};

/* ---- what came by radio ---- */

enum store_fate { STORE_USED, STORE_REPEAT, STORE_REFUSED };

struct store_frame {
	const char *scale_id;
	const char *uuid;         /* of the characteristic */
	const uint8_t *octets;
	size_t n;
	int64_t received_ms;
	uint32_t link;
	enum store_fate fate;
	const char *why;          /* for repeat and refused; or a remark; may be NULL */
	/* what was decoded, for telling repeats after a restart; has_mass false when nothing was */
	bool has_mass;
	int64_t mass_mg;
	int64_t step_mg;
	bool has_stamp;
	int64_t stamp_ms;
};

struct store_weighing {
	const char *scale_id;     /* NULL: typed */
	const char *container_id; /* NULL: none */
	const struct weighing *weighing;
	bool restless;            /* state `restless` instead of `settled` */
	int user;                 /* the scale's user index, -1 none */
	int64_t step_mg;
};

struct store_check { /* the empty container was seen, or became a tare */
	const char *container_id;
	int64_t gross_mg;
	int64_t u_mg;
	int64_t drift_mg;
	bool drifted;
	bool becomes_tare; /* the next-settled-weighing form of container.tare */
};

/*
 * One transaction: the frame, and what follows from it, of weighing and check at most one (NULL: none).
 * ret_weighing_id may be NULL when weighing is.
 */
int store_add_frame(struct store *store, const struct store_stamp *stamp, const struct store_frame *frame,
		    const struct store_weighing *weighing, const struct store_check *check,
		    char ret_weighing_id[UUID7_SIZE]);

/* The same for a stream: n frames, oldest first, of which the last is the one that the weighing or check belongs to. */
int store_add_frames(struct store *store, const struct store_stamp *stamp, const struct store_frame *frames, size_t n,
		     const struct store_weighing *weighing, const struct store_check *check,
		     char ret_weighing_id[UUID7_SIZE]);
/* A scale's clock as it was read: ahead_ms is its time less ours; set: it has been set to ours right after. */
int store_add_clock(struct store *store, const struct store_stamp *stamp, const char *scale_id, int64_t ahead_ms,
		    bool set);

/* ---- answers ---- */

enum store_answer_kind {
	STORE_ANSWER,  /* it was this animal */
	STORE_ASIDE,   /* it was none: set aside, with a reason */
	STORE_CORRECT, /* it was another animal after all */
	STORE_REOPEN,  /* the answer is taken back; the weighing is unanswered again */
};

/* animal_id for ANSWER and CORRECT. fed: NULL, "before" or "after" (kept with the reading; answers only). A CORRECT
 * with fed NULL keeps what the answer before it said. Whether it was answered already is the caller's to know. */
int store_answer(struct store *store, const struct store_stamp *stamp, const char *weighing_id,
		 enum store_answer_kind kind, const char *animal_id, const char *why, const char *fed);
/* n CORRECTs in one transaction: readings that change hands. */
int store_exchange(struct store *store, const struct store_stamp *stamp, const char (*weighing_ids)[UUID7_SIZE],
		   const char (*animal_ids)[UUID7_SIZE], size_t n);
/* A typed weighing and its answer, in one transaction; fed as for store_answer(). */
int store_add_typed(struct store *store, const struct store_stamp *stamp, const struct store_weighing *weighing,
		    const char *animal_id, const char *fed, char ret_weighing_id[UUID7_SIZE]);

/* One of many that were typed: what was weighed, whose it was and fed as for store_answer(), in the time of offset_min. */
struct store_typed {
	int64_t at_ms, mass_mg, u_mg, step_mg;
	int offset_min;
	const char *animal_id, *fed;
};
/* All n of them, or none, in one transaction; row() tells the one of index i, whose texts are borrowed until the next. */
int store_add_typed_rows(struct store *store, const struct store_stamp *stamp, size_t n,
			 void (*row)(void *userdata, size_t i, struct store_typed *ret), void *userdata);

/* ---- what follows from readings ---- */

struct store_growth {
	const char *animal_id;
	int64_t as_of_ms;
	int64_t gain_mg_per_day, u_gain_mg_per_day;
	double gain_pct_per_day;
	const char *verdict;
	int64_t tell_ms; /* INT64_MAX: not told */
};
int store_add_growth(struct store *store, const struct store_stamp *stamp, const struct store_growth *growth);

struct store_concern {
	const char *concern_id; /* "" or NULL: a new one */
	const char *litter_id, *animal_id; /* animal_id NULL: the whole litter */
	bool open;
	const char *level, *rule, *text, *source;
	int64_t since_ms;
};
/* A change of a concern: opened, changed or closed. ret_id: its concern_id. */
int store_add_concern(struct store *store, const struct store_stamp *stamp, const struct store_concern *concern,
		      char ret_id[UUID7_SIZE]);

/* fed: "before", "after" or NULL. */
int store_begin_round(struct store *store, const struct store_stamp *stamp, const char *litter_id, const char *fed,
		      char ret_id[UUID7_SIZE]);
int store_end_round(struct store *store, const struct store_stamp *stamp, const char *round_id, const char *why);

struct store_limits { /* 0: the published one */
	double early_loss_pct, band_low_pct, overdue_h, behind_pct;
};
int store_set_limits(struct store *store, const struct store_stamp *stamp, const char *litter_id,
		     const struct store_limits *limits);

/* ---- roster ---- */

int store_adopt_scale(struct store *store, const struct store_stamp *stamp, const char *address,
		      const char *name, char ret_id[UUID7_SIZE]);
int store_forget_scale(struct store *store, const struct store_stamp *stamp, const char *scale_id);
int store_add_container(struct store *store, const struct store_stamp *stamp, const char *name,
			char ret_id[UUID7_SIZE]);
int store_tare(struct store *store, const struct store_stamp *stamp, const char *container_id, int64_t mass_mg,
	       int64_t u_mg);
/* container_id NULL: none stands on it, or the scale was zeroed with it. */
int store_put_container(struct store *store, const struct store_stamp *stamp, const char *scale_id,
			const char *container_id);
/* For a scale with several users: index 0..254 and code 0..9999; STORE_NO_USER for none any more. */
#define STORE_NO_USER 255
int store_set_consent(struct store *store, const struct store_stamp *stamp, const char *scale_id, unsigned index,
		      unsigned code);
struct store_new_litter {
	const char *name, *dam;
	int64_t born_ms;   /* INT64_MIN: not told */
	int64_t adult_mg;  /* 0: not told */
};
int store_add_litter(struct store *store, const struct store_stamp *stamp, const struct store_new_litter *litter,
		     char ret_id[UUID7_SIZE]);
int store_close_litter(struct store *store, const struct store_stamp *stamp, const char *litter_id);
struct store_new_animal {
	const char *name, *litter_id, *collar;
	char sex;          /* 'f', 'm', 0 not told */
	int64_t birth_mg;  /* 0: not told */
	int64_t born_ms;   /* INT64_MIN: not told */
	const char *const *aliases;
	size_t n_aliases;  /* LIMIT_ALIASES at most, else -EINVAL */
};
int store_add_animal(struct store *store, const struct store_stamp *stamp, const struct store_new_animal *animal,
		     char ret_id[UUID7_SIZE]);
/* One word more that stands for the animal: a tag's code, the name it got later. */
int store_add_alias(struct store *store, const struct store_stamp *stamp, const char *animal_id, const char *alias);
int store_animal_gone(struct store *store, const struct store_stamp *stamp, const char *animal_id,
		      const char *why);

/* ---- reading it back; each calls fn for every row, oldest first; a fn that returns non-zero ends the walk, and
 * the walk returns that. Pointers are borrowed for the call. fn may call other walks, but not the same one (-EBUSY),
 * and writes nothing. ---- */

struct store_scale_row {
	const char *id, *address, *name, *container_id; /* container_id NULL: none */
	unsigned user, code; /* of store_set_consent(); STORE_NO_USER: none */
};
int store_each_scale(struct store *store, int (*fn)(void *, const struct store_scale_row *), void *userdata);

struct store_container_row {
	const char *id, *name;
	bool has_tare;
	int64_t mass_mg, u_mg, at_ms;
	int64_t checked_ms; /* last seen empty without drift, or at_ms */
};
int store_each_container(struct store *store, int (*fn)(void *, const struct store_container_row *),
			 void *userdata);

struct store_litter_row {
	const char *id, *name, *dam;
	int64_t born_ms, adult_mg;
	bool closed;
};
int store_each_litter(struct store *store, int (*fn)(void *, const struct store_litter_row *), void *userdata);

struct store_animal_row {
	const char *id, *name, *litter_id, *collar;
	char sex;
	int64_t birth_mg, born_ms; /* born_ms: its own, or else its litter's */
	int64_t newest_mg, newest_u_mg, newest_at_ms; /* newest reading; newest_mg 0: none */
	const char *const *aliases;
	size_t n_aliases;
};
/* Animals that are not gone, of litters that are open. */
int store_each_animal(struct store *store, int (*fn)(void *, const struct store_animal_row *), void *userdata);

struct store_weighing_row {
	const char *id, *scale_id, *container_id, *animal_id; /* animal_id NULL: unanswered or set aside */
	bool aside;
	int64_t at_ms, received_ms;
	int64_t gross_mg, tare_mg, net_mg, u_mg, step_mg;
	bool restless;
	enum weigh_origin origin;
	const char *answered_by; /* NULL: unanswered */
};
struct store_reading_row {
	const char *id, *animal_id;
	int64_t at_ms, net_mg, u_mg, step_mg;
	const char *fed; /* "before", "after", NULL */
	bool restless;
};
/* Readings of one litter's animals (also of those that are gone), weighed from since_ms to until_ms, in order of time. */
int store_each_reading(struct store *store, const char *litter_id, int64_t since_ms, int64_t until_ms,
		       int (*fn)(void *, const struct store_reading_row *), void *userdata);
/* Concerns that are open. */
int store_each_concern(struct store *store, int (*fn)(void *, const struct store_concern *), void *userdata);
struct store_round_row {
	const char *id, *litter_id, *fed;
	int64_t at_ms;
	int64_t ended_ms; /* INT64_MIN: it is open */
};
/* The newest round of each litter. */
int store_each_round(struct store *store, int (*fn)(void *, const struct store_round_row *), void *userdata);
/* The limits set last, of each litter that has some. */
int store_each_limits(struct store *store, int (*fn)(void *, const char *litter_id, const struct store_limits *),
		      void *userdata);

/* Weighings nobody has answered or set aside, received at or after since_ms. */
int store_each_unanswered(struct store *store, int64_t since_ms, int (*fn)(void *, const struct store_weighing_row *),
			  void *userdata);
/*
 * One weighing by its id, or by the last characters of it (at least 4): 0 and fn called once; -ENOENT; -EEXIST
 * when several end so. Upper and lower case are the same; fewer than 4 characters find nothing.
 */
int store_find_weighing(struct store *store, const char *id_or_tail,
			int (*fn)(void *, const struct store_weighing_row *), void *userdata);
/* Newest reading of one animal as in store_animal_row; ret_mg 0 when there is none. */
int store_newest(struct store *store, const char *animal_id, int64_t *ret_mg, int64_t *ret_u_mg, int64_t *ret_at_ms);
/* Whether a weighing of this net mass, from from_ms to until_ms (exclusive), was ever said to be this animal's; also when
 * that was corrected or taken back since. */
int store_was_said(struct store *store, const char *animal_id, int64_t from_ms, int64_t until_ms, int64_t net_mg, bool *ret);
/* Octets of the last BTHome broadcast of one scale that had an effect (not refused), whose counter the next one's must
 * exceed: fn is called once or, when there is none, not at all. */
#define STORE_BTHOME_UUID "0000fcd2-0000-1000-8000-00805f9b34fb"
int store_last_bthome(struct store *store, const char *scale_id, int (*fn)(void *, const uint8_t *octets, size_t n),
		      void *userdata);
/* The last n results (frames with a mass, not refused) of one scale, oldest first, for weigh_remember(). */
int store_each_result(struct store *store, const char *scale_id, size_t n,
		      int (*fn)(void *, const struct weigh_result *), void *userdata);
