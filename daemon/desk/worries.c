// SPDX-License-Identifier: MIT
#include "daemon/desk/worries.h"
#include "daemon/desk/models.h"
#include "daemon/desk/room.h"
#include "daemon/desk/rounds.h"
#include "daemon/desk/rules.h"
#include "daemon/desk/whelping.h"
#include "daemon/litter/concern.h"
#include "daemon/log.h"
#include <errno.h>
#include <systemd/sd-event.h>

#define LOOK_EVERY_US (UINT64_C(15) * 60 * 1000000) /* a weighing that is overdue is told within this */
#define LOOK_ACCURACY_US (UINT64_C(60) * 1000000)

struct worry {
	struct worry *next;
	char id[UUID7_SIZE];
	char litter_id[UUID7_SIZE], animal_id[UUID7_SIZE]; /* animal_id "": the whole litter */
	char name[ROSTER_TEXT], litter[ROSTER_TEXT]; /* for people; "": not known */
	char rule[32], level[8];
	char text[256];
	int64_t since_ms;
	bool kept, told; /* as it is now; else the ledger couldn't take it, and the next look tries again */
	bool holds;      /* still, in the look that is under way */
	int64_t held_ms; /* the newest reading of those it is about when it held last; INT64_MIN: not known (a restart) */
};

/* What a look comes after. */
enum after {
	AFTER_TIME,    /* nothing but time */
	AFTER_READING, /* one more reading */
	AFTER_CHANGE,  /* readings were corrected or taken back, or who there is has changed */
};

/* ---- telling and keeping ---- */

static json_t *text_or_null(const char *text)
{
	return *text ? json_string(text) : json_null();
}

/* CONCERN_RULES: of another bismar. */
static enum concern_rule rule_of(const char *word)
{
	int i = 0;

	while (i < CONCERN_RULES && strcmp(concern_row((enum concern_rule)i)->word, word) != 0)
		i++;
	return (enum concern_rule)i;
}

static enum concern_level level_of(const char *word)
{
	int level = CONCERN_VET;

	while (level > CONCERN_LOOK && strcmp(concern_level_text((enum concern_level)level), word) != 0)
		level--;
	return (enum concern_level)level;
}

static const char *advice_of(const struct worry *worry)
{
	enum concern_rule rule = rule_of(worry->rule);

	return rule == CONCERN_RULES ? "" : concern_advice(rule, level_of(worry->level));
}

static const char *source_of(const struct worry *worry)
{
	enum concern_rule rule = rule_of(worry->rule);

	return rule == CONCERN_RULES ? "another version of bismar" : concern_row(rule)->source;
}

static void tell(struct desk *desk, const struct worry *worry, bool open)
{
	char line[512];

	(void)snprintf(line, sizeof line, "concern %s %s: %s%s", worry->level, *worry->name ? worry->name : worry->litter,
		       open ? "" : "over: ", worry->text);
	desk_tell(desk, PROMPT_CONCERN,
		  json_pack("{s:s, s:o, s:o, s:o, s:s, s:s, s:s, s:s, s:s, s:b, s:I}", "concern", worry->id, "animal",
			    text_or_null(worry->animal_id), "name", text_or_null(worry->name), "litter",
			    text_or_null(worry->litter), "level", worry->level, "rule", worry->rule, "text", worry->text,
			    "source", source_of(worry), "advice", advice_of(worry), "open", open, "since_ms",
			    (json_int_t)worry->since_ms),
		  line);
}

/* As long as the roster has them: they are told of when they have left, too. */
static void name(struct desk *desk, struct worry *worry)
{
	const struct roster_animal *animal = roster_animal_by_id(&desk->roster, worry->animal_id);
	const struct roster_litter *litter = roster_litter_by_id(&desk->roster, worry->litter_id);

	if (animal)
		(void)snprintf(worry->name, sizeof worry->name, "%s", animal->name);
	if (litter)
		(void)snprintf(worry->litter, sizeof worry->litter, "%s", litter->name);
}

/* So that whoever watches the journal of a machine without a screen can be called. */
static void note_vet(const struct worry *worry, bool open)
{
	if (level_of(worry->level) != CONCERN_VET)
		return;
	log_event(open ? LOG_EVENT_CONCERN_VET : LOG_EVENT_CONCERN_VET_OVER, open ? LOG_WARNING : LOG_INFO, "BISMAR_CONCERN",
		  worry->id, "%s%s: %s", open ? "call the vet for " : "over: ", *worry->name ? worry->name : worry->litter,
		  worry->text);
}

/* In the ledger, then told. */
static bool keep(struct desk *desk, struct worry *worry, bool open)
{
	struct store_stamp stamp = desk_stamp("bismard", NULL);
	const struct store_concern change = {
		.concern_id = worry->id,
		.litter_id = worry->litter_id,
		.animal_id = worry->animal_id,
		.open = open,
		.level = worry->level,
		.rule = worry->rule,
		.text = worry->text,
		.source = source_of(worry),
		.since_ms = worry->since_ms,
	};

	if (store_add_concern(desk->store, &stamp, &change, worry->id) != 0) {
		log_warning("a concern can't be noted in the ledger, ignoring");
		return false;
	}
	worry->kept = true;
	if (!worry->told || !open) {
		tell(desk, worry, open);
		note_vet(worry, open);
	}
	worry->told = true;
	return true;
}

/* ---- comparing with what is open ---- */

static struct worry *find(struct desk *desk, const struct model *model, const struct concern *concern)
{
	const char *animal_id = concern->animal == SIZE_MAX ? "" : model->animals[concern->animal];
	const char *rule = concern_row(concern->rule)->word;

	for (struct worry *worry = desk->worries; worry; worry = worry->next)
		if (strcmp(worry->litter_id, model->litter_id) == 0 && strcmp(worry->animal_id, animal_id) == 0 &&
		    strcmp(worry->rule, rule) == 0)
			return worry;
	return NULL;
}

/* What the growth model says of one pup moves with every littermate that is weighed after it. So what it said isn't taken
 * back before the pup itself (or the litter, in another round) has been weighed again: else a concern at its limit would
 * come and go within a round. */
static bool is_of_model(const char *rule)
{
	switch (rule_of(rule)) {
	case CONCERN_LOSING:
	case CONCERN_NO_GAIN_24H:
	case CONCERN_BELOW_BAND:
	case CONCERN_BEHIND:
	case CONCERN_LITTER_SLOW:
	case CONCERN_ADULT_RATE:
		return true;
	case CONCERN_EARLY_LOSS:
	case CONCERN_TENTH_LOST:
	case CONCERN_NO_GAIN_72H:
	case CONCERN_LATE_DOUBLING:
	case CONCERN_LOW_BIRTH:
	case CONCERN_OVERDUE:
	case CONCERN_CHILLED:
	case CONCERN_HOT:
	case CONCERN_DRY:
	case CONCERN_NURSING:
	case CONCERN_LIMP:
	case CONCERN_CRYING:
	case CONCERN_GUT:
	case CONCERN_RULES:
		return false;
	}
	return false;
}

static int64_t newest_of(const struct model *model, const char *animal_id)
{
	int i = model_index(model, animal_id);

	return i < 0 ? model->newest_ms : model->growth.animals[i].newest_ms;
}

/* Whether what held may be taken back, wholly or in part. */
static bool may_go(const struct model *model, const struct worry *worry, enum after after)
{
	int64_t newest_ms = newest_of(model, worry->animal_id);

	if (after == AFTER_CHANGE || !is_of_model(worry->rule))
		return true;
	if (*worry->animal_id)
		return newest_ms != worry->held_ms;
	return newest_ms > worry->held_ms + GROWTH_ROUND_MS || newest_ms < worry->held_ms;
}

/* A change of level is told. Numbers move with each reading: after one they are kept for whoever reads, and not told; as
 * time goes by alone they aren't even kept. */
static void take(struct desk *desk, const struct model *model, const struct concern *concern, int64_t now_ms,
		 enum after after)
{
	const char *level = concern_level_text(concern->level), *text = concern->text;
	struct worry *worry = find(desk, model, concern);

	if (!worry) {
		worry = calloc(1, sizeof *worry);
		if (!worry)
			return; /* with the next look */
		(void)snprintf(worry->litter_id, sizeof worry->litter_id, "%s", model->litter_id);
		(void)snprintf(worry->animal_id, sizeof worry->animal_id, "%s",
			       concern->animal == SIZE_MAX ? "" : model->animals[concern->animal]);
		(void)snprintf(worry->rule, sizeof worry->rule, "%s", concern_row(concern->rule)->word);
		worry->since_ms = now_ms;
		worry->next = desk->worries;
		desk->worries = worry;
	}
	worry->holds = true;
	name(desk, worry);
	if (concern->level < level_of(worry->level) && !may_go(model, worry, after)) {
		level = worry->level;
		text = worry->text; /* that of the level */
	} else {
		worry->held_ms = newest_of(model, worry->animal_id);
	}
	if (strcmp(worry->level, level) != 0)
		worry->kept = worry->told = false;
	if (after != AFTER_TIME && strcmp(worry->text, text) != 0)
		worry->kept = false;
	if (level != worry->level)
		(void)snprintf(worry->level, sizeof worry->level, "%s", level);
	if (text != worry->text)
		(void)snprintf(worry->text, sizeof worry->text, "%s", text);
	if (!worry->kept)
		(void)keep(desk, worry, true); /* else with the next look */
}

/* Of this model's litter those that don't hold any more; NULL: all of litters that have left. Those that were never kept
 * were never told either, and just go. */
static void close_others(struct desk *desk, const struct model *model, enum after after)
{
	struct worry **at = &desk->worries;

	while (*at) {
		struct worry *worry = *at;
		bool over = model ? strcmp(worry->litter_id, model->litter_id) == 0 && !worry->holds && may_go(model, worry, after) :
				    !model_of(desk, worry->litter_id);
		if (!over || (*worry->id && !keep(desk, worry, false))) {
			at = &worry->next;
			continue;
		}
		*at = worry->next;
		free(worry);
	}
}

static void look_at(struct desk *desk, const struct model *model, enum after after)
{
	struct concern found[RULES_MAX];
	int64_t now_ms = clock_now_ms();
	bool ok;
	size_t n = rules_look(desk, model, now_ms, found, &ok);

	if (!ok)
		return; /* with the next look */
	for (struct worry *worry = desk->worries; worry; worry = worry->next)
		worry->holds = false;
	for (size_t i = 0; i < n; i++)
		take(desk, model, &found[i], now_ms, after);
	close_others(desk, model, after);
}

void worries_look(struct desk *desk, const struct model *model)
{
	look_at(desk, model, AFTER_READING);
}

void worries_look_anew(struct desk *desk, const struct model *model)
{
	look_at(desk, model, AFTER_CHANGE);
}

static void look_at_all(struct desk *desk, enum after after)
{
	for (struct model *model = desk->models; model; model = model->next)
		if (model->n)
			look_at(desk, model, after);
	close_others(desk, NULL, after);
}

void worries_look_all(struct desk *desk)
{
	look_at_all(desk, AFTER_CHANGE);
}

void worries_open(struct desk *desk, const struct model *model, const char *animal_id, json_t *list)
{
	look_at(desk, model, AFTER_TIME);
	for (int level = CONCERN_VET; level >= CONCERN_LOOK; level--)
		for (struct worry *worry = desk->worries; worry; worry = worry->next) {
			if (strcmp(worry->litter_id, model->litter_id) != 0 || level_of(worry->level) != (enum concern_level)level)
				continue;
			if (animal_id && *worry->animal_id && strcmp(worry->animal_id, animal_id) != 0)
				continue;
			(void)json_array_append_new(
				list, json_pack("{s:o, s:o, s:o, s:o, s:s, s:s, s:s, s:s, s:s, s:I}", "concern",
						text_or_null(worry->id), "animal", text_or_null(worry->animal_id), "name",
						text_or_null(worry->name), "litter", text_or_null(worry->litter), "level",
						worry->level, "rule", worry->rule, "text", worry->text, "source", source_of(worry),
						"advice", advice_of(worry), "since_ms", (json_int_t)worry->since_ms));
		}
}

void worries_list(struct desk *desk, const struct model *model, const char *animal_id, int64_t at_ms, json_t *list)
{
	const struct roster_litter *litter = roster_litter_by_id(&desk->roster, model->litter_id);
	struct concern found[RULES_MAX];
	bool ok;
	size_t n = rules_look(desk, model, at_ms, found, &ok);

	for (size_t i = 0; i < n; i++) {
		const struct concern *concern = &found[i];
		const struct concern_row *row = concern_row(concern->rule);
		const char *id = concern->animal == SIZE_MAX ? "" : model->animals[concern->animal];
		const struct roster_animal *animal = roster_animal_by_id(&desk->roster, id);
		if (animal_id && *id && strcmp(id, animal_id) != 0)
			continue;
		(void)json_array_append_new(
			list, json_pack("{s:n, s:o, s:o, s:s, s:s, s:s, s:s, s:s, s:s, s:n}", "concern", "animal",
					text_or_null(id), "name", animal ? json_string(animal->name) : json_null(), "litter",
					litter ? litter->name : "?", "level", concern_level_text(concern->level), "rule",
					row->word, "text", concern->text, "source", row->source, "advice",
					concern_advice(concern->rule, concern->level), "since_ms"));
	}
}

/* ---- life ---- */

static int open_row(void *userdata, const struct store_concern *row)
{
	struct desk *desk = userdata;
	struct worry *worry = calloc(1, sizeof *worry);

	if (!worry)
		return -ENOMEM;
	(void)snprintf(worry->id, sizeof worry->id, "%s", row->concern_id);
	(void)snprintf(worry->litter_id, sizeof worry->litter_id, "%s", row->litter_id);
	(void)snprintf(worry->animal_id, sizeof worry->animal_id, "%s", row->animal_id ? row->animal_id : "");
	(void)snprintf(worry->rule, sizeof worry->rule, "%s", row->rule);
	(void)snprintf(worry->level, sizeof worry->level, "%s", row->level);
	(void)snprintf(worry->text, sizeof worry->text, "%s", row->text);
	worry->since_ms = row->since_ms;
	worry->kept = worry->told = true;
	worry->held_ms = INT64_MIN;
	name(desk, worry);
	worry->next = desk->worries;
	desk->worries = worry;
	return 0;
}

static int on_look(sd_event_source *source, uint64_t usec, void *userdata)
{
	struct desk *desk = userdata;

	(void)usec;
	rounds_lapse(desk);
	whelping_lapse(desk);
	look_at_all(desk, AFTER_TIME);
	(void)sd_event_source_set_time_relative(source, LOOK_EVERY_US);
	return sd_event_source_set_enabled(source, SD_EVENT_ONESHOT);
}

int worries_begin(struct desk *desk)
{
	int r = store_each_concern(desk->store, open_row, desk);

	if (r != 0)
		return r;
	return sd_event_add_time_relative(desk->event, &desk->look, CLOCK_BOOTTIME, 0, LOOK_ACCURACY_US, on_look, desk);
}

void worries_done(struct desk *desk)
{
	desk->look = sd_event_source_disable_unref(desk->look);
	while (desk->worries) {
		struct worry *worry = desk->worries;
		desk->worries = worry->next;
		free(worry);
	}
}
