// SPDX-License-Identifier: MIT
#include "words.h"
#include <ctype.h>
#include <errno.h>

#define BASE_TAIL "-0000-1000-8000-00805f9b34fb" /* Bluetooth base UUID */

int words_split(char *line, char **words, int max)
{
	int n = 0;

	for (char *p = line;;) {
		while (*p == ' ' || *p == '\t')
			p++;
		if (!*p)
			return n;
		if (n == max)
			return -1;
		char end = ' ';
		if (*p == '"') {
			end = '"';
			p++;
		}
		words[n++] = p;
		while (*p && *p != end && !(end == ' ' && *p == '\t'))
			p++;
		if (!*p)
			return end == '"' ? -1 : n;
		*p++ = '\0';
	}
}

bool words_number(const char *word, int64_t min, int64_t max, int64_t *ret)
{
	char *end;

	if (!isdigit((unsigned char)*word) && *word != '-')
		return false;
	errno = 0;
	long long value = strtoll(word, &end, 10);
	if (errno || *end || end == word || value < min || value > max)
		return false;
	*ret = value;
	return true;
}

static int digit(char c)
{
	if (c >= '0' && c <= '9')
		return c - '0';
	c = (char)tolower((unsigned char)c);
	return c >= 'a' && c <= 'f' ? c - 'a' + 10 : -1;
}

bool words_octets(const char *word, uint8_t *octets, size_t size, size_t *ret_n)
{
	size_t length = strlen(word);

	if (!strcmp(word, "-"))
		length = 0;
	if (length % 2 || length / 2 > size)
		return false;
	for (size_t i = 0; i < length; i++)
		if (digit(word[i]) < 0)
			return false;
	for (size_t i = 0; i < length / 2; i++)
		octets[i] = (uint8_t)(digit(word[2 * i]) << 4 | digit(word[2 * i + 1]));
	*ret_n = length / 2;
	return true;
}

bool words_address(const char *word, char ret[static SIM_ADDRESS])
{
	if (strlen(word) != SIM_ADDRESS - 1)
		return false;
	for (size_t i = 0; i < SIM_ADDRESS - 1; i++)
		if (i % 3 == 2 ? word[i] != ':' : digit(word[i]) < 0)
			return false;
	for (size_t i = 0; i < SIM_ADDRESS; i++)
		ret[i] = (char)toupper((unsigned char)word[i]);
	return true;
}

static bool long_uuid(const char *word)
{
	if (strlen(word) != SIM_UUID - 1)
		return false;
	for (size_t i = 0; i < SIM_UUID - 1; i++) {
		bool dash = i == 8 || i == 13 || i == 18 || i == 23;
		if (dash ? word[i] != '-' : digit(word[i]) < 0)
			return false;
	}
	return true;
}

bool words_uuid(const char *word, char ret[static SIM_UUID])
{
	if (word[0] == '0' && (word[1] == 'x' || word[1] == 'X'))
		word += 2;
	if (long_uuid(word)) {
		words_copy(ret, SIM_UUID, word);
	} else {
		if (strlen(word) != 4)
			return false;
		for (size_t i = 0; i < 4; i++)
			if (digit(word[i]) < 0)
				return false;
		snprintf(ret, SIM_UUID, "0000%.4s" BASE_TAIL, word);
	}
	for (char *p = ret; *p; p++)
		*p = (char)tolower((unsigned char)*p);
	return true;
}

const char *words_short(const char *uuid, char buffer[static SIM_UUID])
{
	words_copy(buffer, SIM_UUID, uuid);
	if (strlen(uuid) == SIM_UUID - 1 && !strncmp(uuid, "0000", 4) && !strcmp(uuid + 8, BASE_TAIL))
		words_copy(buffer, 5, uuid + 4);
	return buffer;
}

bool words_switch(const char *word, bool *ret)
{
	if (strcmp(word, "on") && strcmp(word, "off"))
		return false;
	*ret = !strcmp(word, "on");
	return true;
}

void words_copy(char *to, size_t size, const char *from)
{
	snprintf(to, size, "%s", from);
}
