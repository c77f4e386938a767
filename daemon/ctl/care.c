// SPDX-License-Identifier: MIT
#include "daemon/ctl/care.h"
#include "daemon/ctl/args.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/prose.h"
#include "daemon/ctl/show.h"
#include "daemon/ctl/text.h"
#include "daemon/ctl/when.h"
#include "daemon/litter/volume.h"
#include <limits.h>
#include <math.h>
#include <stdarg.h>

_Static_assert(CARE_SIZE >= WHEN_SIZE, "a time goes where a volume does");

void care_join(char buffer[CARE_SIZE], const char *word, const char *next)
{
	(void)snprintf(buffer, CARE_SIZE, "%s%s%s", word, next ? " " : "", next ? next : "");
}

bool care_volume(const struct ctl *ctl, const char *what, const char *text)
{
	enum volume_parsed parsed;
	int64_t ul;

	if (!text)
		return true;
	parsed = volume_parse(text, &ul);
	if (parsed == VOLUME_PARSED)
		return true;
	(void)args_wrong(ctl, "%s: \"%s\" is no volume that can be taken. %s", what, text, volume_hint(parsed));
	return false;
}

const char *care_ml(char buffer[CARE_SIZE], const json_t *object, const char *key)
{
	double ml;

	(void)snprintf(buffer, CARE_SIZE, "-");
	if (field_number(object, key, &ml) && ml >= 0 && ml < 1e9)
		/* an odd microlitre would make a third decimal, which is misread */
		volume_format(llround(ml * 1000) / 10 * 10, buffer, CARE_SIZE);
	return buffer;
}

const char *care_when(char buffer[CARE_SIZE], const struct ctl *ctl, const json_t *object, const char *key)
{
	int64_t at_ms;

	(void)snprintf(buffer, CARE_SIZE, "-");
	if (field_time(object, key, &at_ms))
		when_show_near(buffer, at_ms, ctl->now_ms);
	return buffer;
}

const char *care_clause(char *buffer, size_t size, const json_t *object, const char *key)
{
	size_t n;

	field_copy(object, key, buffer, size);
	n = strlen(buffer);
	if (n > 0 && buffer[n - 1] == '.')
		buffer[n - 1] = '\0';
	return buffer;
}

void care_cautions(const struct ctl *ctl, const json_t *list)
{
	json_t *one;
	size_t i;

	if (json_array_size(list) > 0)
		prose_print(ctl, 0, "Each time:");
	json_array_foreach(list, i, one)
		prose_printf(ctl, 2, "- %s (%s)", field_text(one, "text"), field_text(one, "source"));
}

void care_end(const struct ctl *ctl, const char *say)
{
	if (say && *say)
		prose_print(ctl, 0, say);
	prose_print(ctl, 0, SHOW_VET " Your vet's word goes first.");
}

/* For people a volume stands beside its unit, as one word that is never cut. */
static const char *volume_of(const struct ctl *ctl, const char *view)
{
	if (ctl->json || strcmp(view, "sign_log") == 0)
		return "";
	return ", format('%g mL', ml) AS volume";
}

enum ctl_status care_log(struct ctl *ctl, int argc, char **argv, const char *view, const char *id,
			 const struct list_column *columns, size_t n_columns, const char *nothing)
{
	const char *since = NULL;
	const struct args_option options[] = { { .name = "--since", .value = &since } };
	char sql[512], since_text[24];
	int64_t since_ms = 0;
	struct args args;

	if (!args_parse(ctl, argc, argv, options, 1, 0, 1, &args) || !args_time(ctl, since, &since_ms))
		return CTL_USAGE;
	(void)snprintf(since_text, sizeof since_text, "%lld", (long long)since_ms);
	(void)snprintf(
		sql, sizeof sql,
		"SELECT *%s FROM %s WHERE (?1 IS NULL OR animal = ?1 COLLATE NOCASE OR animal_id = ?1 OR animal_id IN"
		" (SELECT animal_id FROM animal_now WHERE collar = ?1 COLLATE NOCASE))"
		" AND at_ms >= CAST(?2 AS INTEGER) ORDER BY at_ms DESC, %s DESC",
		volume_of(ctl, view), view, id);

	const char *texts[] = { args.n ? args.words[0] : NULL, since_text };
	const struct list list = {
		.sql = sql, .texts = texts, .n_texts = 2, .columns = columns, .n_columns = n_columns, .nothing = nothing
	};
	return care_listed(ctl, list_print(ctl, &list));
}

enum ctl_status care_listed(const struct ctl *ctl, enum ctl_status status)
{
	if (status != CTL_DONE || ctl->json)
		return status;
	care_end(ctl, NULL);
	return ctl_flush();
}

enum ctl_status care_refused(const char *format, ...)
{
	char raw[2048], text[2048];
	va_list list;

	va_start(list, format);
	(void)vsnprintf(raw, sizeof raw, format, list);
	va_end(list);
	(void)text_fit(text, sizeof text, raw, UINT_MAX, true); /* it quotes names that somebody sent */
	ctl_error("%s", text);
	ctl_error("%s", SHOW_VET);
	return CTL_REFUSED;
}
