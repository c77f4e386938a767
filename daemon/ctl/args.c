// SPDX-License-Identifier: MIT
#include "daemon/ctl/args.h"
#include "daemon/ctl/commands.h"
#include "daemon/ctl/units.h"
#include "daemon/ctl/when.h"
#include <errno.h>
#include <stdarg.h>
#include <strings.h>

enum ctl_status args_wrong(const struct ctl *ctl, const char *format, ...)
{
	char text[512];
	va_list list;

	va_start(list, format);
	(void)vsnprintf(text, sizeof text, format, list);
	va_end(list);
	ctl_error("%s", text);
	if (ctl->command) {
		(void)fputs("Usage: ", stderr);
		commands_usage(ctl->command, stderr);
	}
	return CTL_USAGE;
}

bool args_whole(const char *text, long min, long max, long *ret)
{
	char *end;
	long value;

	if (!(*text >= '0' && *text <= '9'))
		return false;
	errno = 0;
	value = strtol(text, &end, 10);
	if (errno || *end || value < min || value > max)
		return false;
	*ret = value;
	return true;
}

bool args_number(const char *text, double *ret)
{
	size_t digits = strspn(text, "0123456789");
	size_t n = digits + (text[digits] == '.' ? 1 + strspn(text + digits + 1, "0123456789") : 0);

	/* no sign, exponent, "inf" or hexadecimal; LC_NUMERIC is C in this program (main.c) */
	if (digits == 0 || digits > 9 || text[n])
		return false;
	*ret = strtod(text, NULL);
	return true;
}

bool args_time(const struct ctl *ctl, const char *text, int64_t *ret_ms)
{
	enum when_outcome outcome;

	if (!text)
		return true;
	outcome = when_parse(text, ctl->now_ms, ret_ms);
	if (outcome == WHEN_OK)
		return true;
	(void)args_wrong(ctl, "\"%s\": %s", text, when_hint(outcome));
	return false;
}

bool args_time_ahead(const struct ctl *ctl, const char *text, int64_t *ret_ms)
{
	enum when_outcome outcome;

	if (!text)
		return true;
	outcome = when_parse_ahead(text, ctl->now_ms, ret_ms);
	if (outcome == WHEN_OK)
		return true;
	(void)args_wrong(ctl, "\"%s\": %s", text,
			 outcome == WHEN_MALFORMED ? "this isn't a time: write +3d, +12h, 18:00 (today), \"2026-11-28 18:00\" or "
						     "2026-11-28T18:00:00+01:00." :
						     when_hint(outcome));
	return false;
}

bool args_mass(const struct ctl *ctl, const char *text)
{
	enum quantity_outcome outcome;
	int64_t mg;

	if (!text)
		return true;
	outcome = quantity_mass(text, &mg, NULL);
	if (outcome == QUANTITY_OK)
		return true;
	(void)args_wrong(ctl, "\"%s\": %s", text, quantity_mass_hint(outcome));
	return false;
}

/* Whether word is "--name" or "--name=value"; *ret_value is then NULL or the value. */
static bool is_option(const char *word, const char *name, const char **ret_value)
{
	size_t n = strlen(name);

	if (strncmp(word, name, n) != 0 || (word[n] && word[n] != '='))
		return false;
	*ret_value = word[n] ? word + n + 1 : NULL;
	return true;
}

/* The value of the option at argv[i]: after its "=", or the next word. How many words that were; -1: none is left. */
static int value_of(const struct ctl *ctl, int argc, char **argv, int i, const char **value)
{
	if (*value)
		return 1;
	if (i + 1 >= argc) {
		(void)args_wrong(ctl, "%s needs a value.", argv[i]);
		return -1;
	}
	*value = argv[i + 1];
	return 2;
}

int args_global(struct ctl *ctl, int argc, char **argv, int i)
{
	const struct {
		const char *name;
		const char **value;
	} options[] = {
		{ "--socket", &ctl->socket_path },
		{ "--database", &ctl->database_path },
		{ "--by", &ctl->by },
		{ "--units", NULL },
	};
	const char *value;

	if (strcmp(argv[i], "--json") == 0) {
		ctl->json = true;
		return 1;
	}
	for (size_t o = 0; o < sizeof options / sizeof *options; o++) {
		int words;
		if (!is_option(argv[i], options[o].name, &value))
			continue;
		words = value_of(ctl, argc, argv, i, &value);
		if (words < 0)
			return -1;
		if (options[o].value) {
			*options[o].value = value;
		} else if (!units_read(value, &ctl->unit)) {
			(void)args_wrong(ctl, "--units is g or oz, not \"%s\".", value);
			return -1;
		}
		return words;
	}
	return 0;
}

/* Takes argv[i] if it is one of the command's options; as args_global(). */
static int take_option(const struct ctl *ctl, int argc, char **argv, int i, const struct args_option *options,
		       size_t n_options)
{
	for (size_t o = 0; o < n_options; o++) {
		const struct args_option *option = &options[o];
		const char *value;
		int words;
		if (!is_option(argv[i], option->name, &value))
			continue;
		if (option->flag) {
			if (value) {
				(void)args_wrong(ctl, "%s takes no value.", option->name);
				return -1;
			}
			*option->flag = true;
			return 1;
		}
		words = value_of(ctl, argc, argv, i, &value);
		if (words < 0)
			return -1;
		if (option->list ? *option->n_list == ARGS_LIST_MAX : *option->value != NULL) {
			(void)args_wrong(ctl, "%s is there too often.", option->name);
			return -1;
		}
		if (option->list)
			option->list[(*option->n_list)++] = value;
		else
			*option->value = value;
		return words;
	}
	return 0;
}

/* The nth word that the command's usage wants, as it is called there: of "[A] B --c D E" the second is E. */
static const char *wanted(const struct ctl *ctl, size_t n, size_t *ret_length)
{
	const char *at = ctl->command ? ctl->command->usage : "";
	bool value = false, optional = false;

	for (*ret_length = 0; *at && *at != '|'; at += *ret_length + strspn(at + *ret_length, " ")) {
		bool option = at[0] == '-';
		*ret_length = strcspn(at, " ");
		optional = optional || at[0] == '[';
		if (!optional && !option && !value && n-- == 0)
			return at;
		value = option;
		optional = optional && !memchr(at, ']', *ret_length);
	}
	return NULL;
}

bool args_parse(struct ctl *ctl, int argc, char **argv, const struct args_option *options, size_t n_options, size_t min,
		size_t max, struct args *ret)
{
	struct args args = { 0 };
	bool words_only = false;

	for (int i = 0; i < argc;) {
		const char *word = argv[i];
		int n = 0;
		if (!words_only && strcmp(word, "--") == 0) {
			words_only = true;
			i++;
			continue;
		}
		if (!words_only && word[0] == '-' && word[1]) {
			n = take_option(ctl, argc, argv, i, options, n_options);
			if (n == 0)
				n = args_global(ctl, argc, argv, i);
			if (n == 0)
				(void)args_wrong(ctl, "Option %s isn't known here.", word);
			if (n <= 0)
				return false;
			i += n;
			continue;
		}
		if (args.n == max) {
			(void)args_wrong(ctl, "\"%s\" is one word too many.", word);
			return false;
		}
		args.words[args.n++] = word;
		i++;
	}
	if (args.n < min) {
		size_t length;
		const char *word = wanted(ctl, args.n, &length);
		(void)args_wrong(ctl, "%.*s is missing.", word ? (int)length : 9, word ? word : "Something");
		return false;
	}
	*ret = args;
	return true;
}
