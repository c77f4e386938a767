// SPDX-License-Identifier: MIT
/*
 * `bismar-keypad`: answers at a number pad, a page turner or a tag reader. Arguments, the loop, the end.
 */
#include "contrib/client/aloud.h"
#include "contrib/client/loop.h"
#include "contrib/client/usage.h"
#include "contrib/keypad/pad.h"
#include "daemon/ctl/ctl.h"
#include "daemon/ctl/units.h"
#include "daemon/log.h"
#include <errno.h>
#include <systemd/sd-daemon.h>

static const char help[] =
	"usage: bismar-keypad (--device PATH | --name NAME) [--turner | --tag] [--socket PATH] [--aloud PATH]\n"
	"                     [--log-level LEVEL]\n"
	"       bismar-keypad --list\n"
	"\n"
	"Answers bismard's oldest open question by the keys of an input device, which then types nowhere else.\n"
	"  --device PATH         the device, best by a name that stays: /dev/input/by-id/...-event-kbd\n"
	"  --name NAME           the device by the name that --list shows\n"
	"  --list                the devices there are\n"
	"  --turner              it is a page turner: forward marks the next suggestion, back takes what is marked\n"
	"  --tag                 it is a reader that types a tag's code and Enter; the code is an alias of an animal\n"
	"  --replay FIFO         instead of a device: records of struct input_event, as a device gives them when read\n"
	"  --socket PATH         bismard's socket, " CTL_SOCKET " by default\n"
	"  --aloud PATH          bismar-speak's socket, " ALOUD_SOCKET " by default\n" USAGE_COMMON_HELP "\n"
	"Keys of a number pad: 1 to 9 a suggestion, Enter the first if it stands out, - sets aside, + a new pup while "
	"a\n"
	"whelping is open, / or Backspace takes the last answer back, 0 says the question again.\n";

enum choice {
	OPTION_DEVICE = USAGE_OWN,
	OPTION_NAME,
	OPTION_LIST,
	OPTION_TURNER,
	OPTION_TAG,
	OPTION_REPLAY,
	OPTION_SOCKET,
	OPTION_ALOUD,
};

static const struct option options[] = {
	{ "device", required_argument, NULL, OPTION_DEVICE },
	{ "name", required_argument, NULL, OPTION_NAME },
	{ "list", no_argument, NULL, OPTION_LIST },
	{ "turner", no_argument, NULL, OPTION_TURNER },
	{ "tag", no_argument, NULL, OPTION_TAG },
	{ "replay", required_argument, NULL, OPTION_REPLAY },
	{ "socket", required_argument, NULL, OPTION_SOCKET },
	{ "aloud", required_argument, NULL, OPTION_ALOUD },
	USAGE_COMMON,
};

struct wishes {
	struct pad_setup setup;
	unsigned devices;
	bool list;
};

static enum usage take_kind(struct pad_setup *setup, enum pad_kind kind)
{
	if (setup->kind != PAD_KEYS)
		return usage_wrong("it is a page turner or a tag reader, not both");
	setup->kind = kind;
	return USAGE_RUN;
}

static enum usage take(void *user, int option)
{
	struct wishes *wishes = user;
	struct pad_setup *setup = &wishes->setup;

	switch (option) {
	case OPTION_REPLAY:
		setup->input.replay = true;
		/* fallthrough */
	case OPTION_DEVICE:
		wishes->devices++;
		return usage_text("the device", &setup->input.path);
	case OPTION_NAME:
		wishes->devices++;
		return usage_text("--name", &setup->input.name);
	case OPTION_TURNER:
		return take_kind(setup, PAD_TURNER);
	case OPTION_TAG:
		return take_kind(setup, PAD_TAG);
	case OPTION_SOCKET:
		return usage_text("--socket", &setup->answering.socket);
	case OPTION_ALOUD:
		return usage_text("--aloud", &setup->answering.aloud);
	default: /* OPTION_LIST */
		wishes->list = true;
		return USAGE_RUN;
	}
}

static int list(void)
{
	if (input_list() == 0) {
		(void)fputs("bismar-keypad: no device that may be read has keys; are you in the group input?\n",
			    stderr);
		return 1;
	}
	return fflush(stdout) == 0 ? 0 : 1;
}

static int run(const struct pad_setup *setup)
{
	sd_event *event = NULL;
	struct pad *pad = NULL;
	int r = loop_new(&event);

	if (r >= 0)
		r = pad_new(&pad, event, setup);
	if (r >= 0) {
		(void)sd_notify(0, "READY=1"); /* nobody may have asked */
		r = sd_event_loop(event);
	}
	if (r < 0)
		log_error("can't run: %s", strerror(-r));
	pad_free(pad);
	sd_event_unref(event);
	return r < 0 ? 1 : 0;
}

int main(int argc, char **argv)
{
	struct wishes wishes = { .setup = { .answering = { .socket = CTL_SOCKET, .aloud = ALOUD_SOCKET } } };
	const struct usage_line line = { help, options, take, &wishes };
	enum usage usage = usage_read(&line, argc, argv);

	if (usage == USAGE_RUN && wishes.list)
		return list();
	if (usage == USAGE_RUN && wishes.devices != 1)
		usage = usage_wrong("name one device, by --device, --name or --replay");
	if (usage == USAGE_RUN && !units_for_people(&wishes.setup.answering.unit))
		usage = USAGE_WRONG; /* told */
	return usage == USAGE_RUN ? run(&wishes.setup) : usage_status(usage);
}
