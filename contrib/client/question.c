// SPDX-License-Identifier: MIT
#include "contrib/client/question.h"
#include "daemon/ctl/field.h"
#include <string.h>

const struct question *questions_current(const struct questions *questions)
{
	return questions->n ? &questions->list[0] : NULL;
}

/* What a person was told of it: a key's meaning hangs on that. */
struct told {
	char id[QUESTION_ID_SIZE];
	int64_t net_mg;
	char animals[LIMIT_CANDIDATES][QUESTION_ID_SIZE];
	size_t n;
	bool whelping;
};

static void remember(const struct questions *questions, struct told *ret)
{
	const struct question *current = questions_current(questions);

	*ret = (struct told){ 0 };
	if (!current)
		return;
	memcpy(ret->id, current->id, sizeof ret->id);
	ret->net_mg = current->net_mg;
	ret->whelping = current->whelping;
	ret->n = current->n_suggestions;
	for (size_t i = 0; i < ret->n; i++)
		memcpy(ret->animals[i], current->suggestions[i].animal, sizeof ret->animals[i]);
}

static bool differs(const struct questions *questions, const struct told *before)
{
	struct told now;

	remember(questions, &now);
	if (strcmp(now.id, before->id) != 0 || now.net_mg != before->net_mg || now.n != before->n ||
	    now.whelping != before->whelping)
		return true;
	for (size_t i = 0; i < now.n; i++)
		if (strcmp(now.animals[i], before->animals[i]) != 0)
			return true;
	return false;
}

static void read_suggestions(const json_t *list, struct question *ret)
{
	size_t i;
	json_t *entry;

	json_array_foreach (list, i, entry) {
		struct question_suggestion *suggestion = &ret->suggestions[ret->n_suggestions];
		if (ret->n_suggestions == LIMIT_CANDIDATES)
			return;
		*suggestion = (struct question_suggestion){ 0 };
		field_copy(entry, "animal", suggestion->animal, sizeof suggestion->animal);
		field_copy(entry, "name", suggestion->name, sizeof suggestion->name);
		field_copy(entry, "collar", suggestion->collar, sizeof suggestion->collar);
		(void)field_number(entry, "probability", &suggestion->probability); /* else 0 */
		if (*suggestion->animal)
			ret->n_suggestions++;
	}
}

static void read_question(const json_t *ask, int64_t now_ms, struct question *ret)
{
	*ret = (struct question){ .at_ms = now_ms };
	field_copy(ask, "ask", ret->id, sizeof ret->id);
	(void)field_time(ask, "at", &ret->at_ms); /* else now */
	(void)field_mg(ask, "net_g", &ret->net_mg);
	ret->restless = strcmp(field_text(ask, "state"), "restless") == 0;
	ret->whelping = *field_text(ask, "whelping") != '\0';
	read_suggestions(json_object_get(ask, "candidates"), ret);
}

static void drop(struct questions *questions, const char *id)
{
	size_t kept = 0;

	for (size_t i = 0; i < questions->n; i++)
		if (strcmp(questions->list[i].id, id) != 0) {
			if (kept != i)
				questions->list[kept] = questions->list[i];
			kept++;
		}
	questions->n = kept;
}

static void put(struct questions *questions, const json_t *ask, int64_t now_ms)
{
	struct question question;
	size_t at;

	read_question(ask, now_ms, &question);
	if (!*question.id)
		return;
	drop(questions, question.id); /* told again */
	if (questions->n == LIMIT_OPEN_ASKS)
		return;
	for (at = questions->n; at > 0 && questions->list[at - 1].at_ms > question.at_ms; at--)
		questions->list[at] = questions->list[at - 1];
	questions->list[at] = question;
	questions->n++;
}

bool questions_put(struct questions *questions, const json_t *ask, int64_t now_ms)
{
	struct told before;

	remember(questions, &before);
	put(questions, ask, now_ms);
	return differs(questions, &before);
}

bool questions_drop(struct questions *questions, const char *id)
{
	struct told before;

	remember(questions, &before);
	drop(questions, id);
	return differs(questions, &before);
}

bool questions_set(struct questions *questions, const json_t *asks, int64_t now_ms)
{
	struct told before;
	size_t i;
	json_t *ask;

	remember(questions, &before);
	questions->n = 0;
	json_array_foreach (asks, i, ask)
		put(questions, ask, now_ms);
	return differs(questions, &before);
}

size_t question_named(const struct question *question)
{
	size_t n = 0;

	while (n < question->n_suggestions && n < QUESTION_NAMED &&
	       (n == 0 || question->suggestions[n].probability >= QUESTION_NAMED_PROBABILITY))
		n++;
	return n;
}

bool question_is_clear(const struct question *question)
{
	double first, second;

	if (question->n_suggestions == 0)
		return false;
	first = question->suggestions[0].probability;
	second = question->n_suggestions > 1 ? question->suggestions[1].probability : 0;
	return first >= QUESTION_CLEAR_PROBABILITY && first >= QUESTION_CLEAR_RATIO * second;
}
