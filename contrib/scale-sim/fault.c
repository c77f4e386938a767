// SPDX-License-Identifier: MIT
#include "fault.h"
#include "say.h"
#include "words.h"

static const struct {
	const char *word, *name, *text;
} steps[STEP_COUNT] = {
	[STEP_CONNECT] = { "connect", "org.bluez.Error.Failed", "le-connection-abort-by-local" },
	[STEP_RESOLVE] = { "resolve", "org.bluez.Error.Failed", "le-connection-abort-by-local" },
	/* 0x0e "unlikely error" of the ATT error codes, Core specification vol 3 part F 3.4.1.1 (from memory) */
	[STEP_SUBSCRIBE] = { "subscribe", "org.bluez.Error.Failed", "Operation failed with ATT error: 0x0e" },
	[STEP_PAIR] = { "pair", "org.bluez.Error.AuthenticationFailed", "Authentication Failed" },
};

bool fault_step(const char *word, enum step *ret)
{
	for (int i = 0; i < STEP_COUNT; i++) {
		if (!strcmp(word, steps[i].word)) {
			*ret = (enum step)i;
			return true;
		}
	}
	return false;
}

bool fault_set(struct peer *peer, enum step step, unsigned count, const char *text)
{
	struct fault fault = { .left = count };

	words_copy(fault.name, sizeof(fault.name), steps[step].name);
	words_copy(fault.text, sizeof(fault.text), text ? text : steps[step].text);
	if (text && !strncmp(text, "org.bluez.Error.", 16)) {
		size_t length = strcspn(text, " ");
		if (length >= sizeof(fault.name))
			return false;
		words_copy(fault.name, length + 1, text);
		words_copy(fault.text, sizeof(fault.text), text[length] ? text + length + 1 : steps[step].text);
	}
	/* libdbus ends the program at a name or text that isn't legal, and a copy may have been cut. */
	if (!dbus_validate_error_name(fault.name, NULL) || !dbus_validate_utf8(fault.text, NULL))
		return false;
	peer->faults[step] = fault;
	return true;
}

const struct fault *fault_take(struct peer *peer, enum step step)
{
	if (!peer->faults[step].left)
		return NULL;
	peer->faults[step].left--;
	return &peer->faults[step];
}

bool fault_held(const struct peer *peer, enum step step, bool *said, const struct sim *sim)
{
	if (!(peer->held & 1u << step))
		return false;
	if (!*said) {
		*said = true;
		say_event(sim, "holding %s %s", peer->address, steps[step].word);
	}
	return true;
}
