// SPDX-License-Identifier: MIT
/*
 * `bismar-keypad`: answers at a number pad, a page turner or a tag reader. Arguments, the loop, the end.
 */
#include "contrib/client/aloud.h"
#include "contrib/client/loop.h"
#include "contrib/keypad/pad.h"
#include "daemon/ctl/ctl.h"
#include "daemon/ctl/units.h"
#include "daemon/log.h"
#include <errno.h>
#include <getopt.h>
#include <stdarg.h>
#include <systemd/sd-daemon.h>

static const char help[] =
	"usage: bismar-keypad (--device PATH | --name NAME) [--turner | --tag] [--socket PATH] [--aloud PATH]\n"
	"                     [--log-level LEVEL]\n"
	"       bismar-keypad --list\n"
	"\n"
	"Answers bismard's oldest open question by the keys of an input device, which then types nowhere else.\n"
	"  --device PATH      the device, best by a name that stays: /dev/input/by-id/...-event-kbd\n"
	"  --name NAME        the device by the name that --list shows\n"
	"  --list             the devices there are\n"
	"  --turner           it is a page turner: forward marks the next suggestion, back takes what is marked\n"
	"  --tag              it is a reader that types a tag's code and Enter; the code is an alias of an animal\n"
	"  --replay FIFO      instead of a device: records of struct input_event, as a device gives them when read\n"
	"  --socket PATH      bismard's socket, " CTL_SOCKET " by default\n"
	"  --aloud PATH       bismar-speak's socket, " ALOUD_SOCKET " by default\n"
	"  --log-level LEVEL  err, warning, info (default) or debug\n"
	"  --help, --version\n"
	"\n"
	"Keys of a number pad: 1 to 9 a suggestion, Enter the first if it stands out, - sets aside, + a new pup while "
	"a\n"
	"whelping is open, / or Backspace takes the last answer back, 0 says the question again.\n";

enum choice {
	OPTION_DEVICE = 256,
	OPTION_NAME,
	OPTION_LIST,
	OPTION_TURNER,
	OPTION_TAG,
	OPTION_REPLAY,
	OPTION_SOCKET,
	OPTION_ALOUD,
	OPTION_LEVEL,
	OPTION_HELP,
	OPTION_VERSION,
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
	{ "log-level", required_argument, NULL, OPTION_LEVEL },
	{ "help", no_argument, NULL, OPTION_HELP },
	{ "version", no_argument, NULL, OPTION_VERSION },
	{ NULL, 0, NULL, 0 },
};

enum wish { RUN, LIST, HELP, VERSION, WRONG };

__attribute__((format(printf, 1, 2))) static enum wish wrong(const char *format, ...)
{
	va_list args;

	(void)fputs("bismar-keypad: ", stderr);
	va_start(args, format);
	(void)vfprintf(stderr, format, args);
	va_end(args);
	(void)fputs("; `bismar-keypad --help` shows how.\n", stderr);
	return WRONG;
}

static bool take_kind(struct pad_setup *setup, enum pad_kind kind)
{
	bool first = setup->kind == PAD_KEYS;

	setup->kind = kind;
	return first;
}

static enum wish take_options(int argc, char **argv, struct pad_setup *setup)
{
	unsigned devices = 0;
	int level, choice;

	opterr = 0; /* we tell */
	while ((choice = getopt_long(argc, argv, ":", options, NULL)) != -1) {
		switch (choice) {
		case OPTION_REPLAY:
			setup->input.replay = true;
			/* fallthrough */
		case OPTION_DEVICE:
			setup->input.path = optarg;
			devices++;
			break;
		case OPTION_NAME:
			setup->input.name = optarg;
			devices++;
			break;
		case OPTION_TURNER:
		case OPTION_TAG:
			if (!take_kind(setup, choice == OPTION_TAG ? PAD_TAG : PAD_TURNER))
				return wrong("it is a page turner or a tag reader, not both");
			break;
		case OPTION_SOCKET:
			setup->socket = optarg;
			break;
		case OPTION_ALOUD:
			setup->aloud = optarg;
			break;
		case OPTION_LEVEL:
			level = log_level_parse(optarg);
			if (level < 0)
				return wrong("\"%s\" is no log level", optarg);
			log_set_level(level);
			break;
		case OPTION_LIST:
			return LIST;
		case OPTION_HELP:
			return HELP;
		case OPTION_VERSION:
			return VERSION;
		case ':':
			return wrong("%s takes a value", argv[optind - 1]);
		default:
			return wrong("option %s isn't known", argv[optind - 1]);
		}
	}
	if (optind < argc)
		return wrong("\"%s\" is no option", argv[optind]);
	return devices == 1 ? RUN : wrong("name one device, by --device, --name or --replay");
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
	struct pad_setup setup = { .socket = CTL_SOCKET, .aloud = ALOUD_SOCKET };

	switch (take_options(argc, argv, &setup)) {
	case RUN:
		return units_for_people(&setup.unit) ? run(&setup) : 2;
	case LIST:
		return list();
	case HELP:
		(void)fputs(help, stdout);
		return fflush(stdout) == 0 ? 0 : 1;
	case VERSION:
		(void)puts("bismar-keypad " BISMAR_VERSION);
		return fflush(stdout) == 0 ? 0 : 1;
	case WRONG:
		break;
	}
	return 2;
}
