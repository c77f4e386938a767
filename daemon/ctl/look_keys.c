// SPDX-License-Identifier: MIT
#include "daemon/ctl/look_keys.h"
#include "daemon/ctl/field.h"
#include <ctype.h>
#include <string.h>

#define CTRL_C '\003'
#define CTRL_D '\004'
#define ESCAPE '\033'
#define CTRL_H '\010'
#define DELETE '\177'

static enum look_said choose(struct look_typed *typed, const json_t *answers, char key)
{
	size_t n = json_array_size(answers);

	for (size_t i = 0; i < n; i++) {
		const char *word = field_text(json_array_get(answers, i), "value");
		if (key != (char)('1' + (int)i) && tolower((unsigned char)key) != word[0])
			continue;
		(void)snprintf(typed->text, sizeof typed->text, "%s", word);
		return LOOK_ANSWERED;
	}
	return LOOK_GOES_ON;
}

static enum look_said measure(struct look_typed *typed, char key)
{
	if (key == CTRL_H || key == DELETE) {
		if (typed->n > 0)
			typed->text[--typed->n] = '\0';
		return LOOK_GOES_ON;
	}
	if (!key || !strchr("0123456789.,CcFf", key) || typed->n + 1 == sizeof typed->text)
		return LOOK_GOES_ON;
	typed->text[typed->n++] = (char)toupper((unsigned char)key);
	typed->text[typed->n] = '\0';
	return isalpha((unsigned char)key) ? LOOK_ANSWERED : LOOK_GOES_ON;
}

enum look_said look_keys_take(struct look_typed *typed, const json_t *answers, char key)
{
	switch (key) {
	case LOOK_QUIT:
	case ESCAPE:
	case CTRL_C:
	case CTRL_D:
		return LOOK_STOPPED;
	case '\r':
	case '\n':
	case ' ':
		if (typed->n == 0)
			return LOOK_SKIPPED;
		/* figures without a unit: asked again with its hint, nothing is guessed */
		return key == ' ' ? LOOK_GOES_ON : LOOK_ANSWERED;
	default:
		break;
	}
	return json_array_size(answers) ? choose(typed, answers, key) : measure(typed, key);
}
