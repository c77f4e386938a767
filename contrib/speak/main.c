// SPDX-License-Identifier: MIT
/*
 * `bismar-speak`: says the question and the concern. Arguments, the loop, the end.
 */
#include "contrib/client/aloud.h"
#include "contrib/client/loop.h"
#include "contrib/client/words.h"
#include "contrib/speak/talk.h"
#include "daemon/ctl/ctl.h"
#include "daemon/ctl/units.h"
#include "daemon/log.h"
#include <errno.h>
#include <getopt.h>
#include <signal.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <systemd/sd-daemon.h>

static const char help[] =
	"usage: bismar-speak [--volume N] [--rate N] [--quiet FROM-TO [--quiet-volume N]] [--by VOICE] [--wav FOLDER]\n"
	"                    [--socket PATH] [--aloud PATH] [--log-level LEVEL]\n"
	"       bismar-speak --say TEXT [--volume N] [--rate N] [--by VOICE] [--wav FOLDER]\n"
	"\n"
	"Says what bismard asks, what was recorded, and concerns that can't wait.\n"
	"  --volume N         0 to 100 (70)\n"
	"  --rate N           words a minute, 80 to 450 (150)\n"
	"  --quiet FROM-TO    quiet hours in local time, 22:00-07:00 for instance\n"
	"  --quiet-volume N   volume in quiet hours (0: only \"call your vet\" is said, at the volume of the day)\n"
	"  --by VOICE         speech-dispatcher, espeak-ng, or auto: the first where it runs for this user, else the "
	"other\n"
	"  --wav FOLDER       into 0001.wav, 0002.wav, ... instead of aloud\n"
	"  --say TEXT         says this and ends: to try volume and rate\n"
	"  --socket PATH      bismard's socket, " CTL_SOCKET " by default\n"
	"  --aloud PATH       where others have something said, " ALOUD_SOCKET " by default; \"\" for nowhere\n"
	"  --log-level LEVEL  err, warning, info (default) or debug\n"
	"  --help, --version\n";

enum choice {
	OPTION_VOLUME = 256,
	OPTION_RATE,
	OPTION_QUIET,
	OPTION_QUIET_VOLUME,
	OPTION_BY,
	OPTION_WAV,
	OPTION_SAY,
	OPTION_SOCKET,
	OPTION_ALOUD,
	OPTION_LEVEL,
	OPTION_HELP,
	OPTION_VERSION,
};

static const struct option options[] = {
	{ "volume", required_argument, NULL, OPTION_VOLUME },
	{ "rate", required_argument, NULL, OPTION_RATE },
	{ "quiet", required_argument, NULL, OPTION_QUIET },
	{ "quiet-volume", required_argument, NULL, OPTION_QUIET_VOLUME },
	{ "by", required_argument, NULL, OPTION_BY },
	{ "wav", required_argument, NULL, OPTION_WAV },
	{ "say", required_argument, NULL, OPTION_SAY },
	{ "socket", required_argument, NULL, OPTION_SOCKET },
	{ "aloud", required_argument, NULL, OPTION_ALOUD },
	{ "log-level", required_argument, NULL, OPTION_LEVEL },
	{ "help", no_argument, NULL, OPTION_HELP },
	{ "version", no_argument, NULL, OPTION_VERSION },
	{ NULL, 0, NULL, 0 },
};

enum wish { RUN, SAY, HELP, VERSION, WRONG };

__attribute__((format(printf, 1, 2))) static enum wish wrong(const char *format, ...)
{
	va_list args;

	(void)fputs("bismar-speak: ", stderr);
	va_start(args, format);
	(void)vfprintf(stderr, format, args);
	va_end(args);
	(void)fputs("; `bismar-speak --help` shows how.\n", stderr);
	return WRONG;
}

static bool number(const char *text, int least, int most, int *ret)
{
	char *end;
	long value;

	errno = 0;
	value = strtol(text, &end, 10);
	if (errno || end == text || *end || value < least || value > most)
		return false;
	*ret = (int)value;
	return true;
}

static bool take_voice(const char *name, enum voice_by *ret)
{
	static const char *const names[] = { "auto", "speech-dispatcher", "espeak-ng" };

	for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
		if (strcmp(name, names[i]) == 0) {
			*ret = (enum voice_by)i;
			return true;
		}
	}
	return false;
}

/* RUN, or what was wrong. */
static enum wish take_value(struct talk_setup *setup, int option)
{
	switch (option) {
	case OPTION_VOLUME:
		return number(optarg, 0, 100, &setup->volume) ? RUN : wrong("--volume is 0 to 100, not \"%s\"", optarg);
	case OPTION_QUIET_VOLUME:
		return number(optarg, 0, 100, &setup->quiet_volume)
			       ? RUN
			       : wrong("--quiet-volume is 0 to 100, not \"%s\"", optarg);
	case OPTION_RATE:
		return number(optarg, VOICE_RATE_LEAST, VOICE_RATE_MOST, &setup->voice.rate)
			       ? RUN
			       : wrong("--rate is %d to %d words a minute, not \"%s\"", VOICE_RATE_LEAST,
				       VOICE_RATE_MOST, optarg);
	case OPTION_QUIET:
		return quiet_parse(optarg, &setup->quiet) == 0
			       ? RUN
			       : wrong("--quiet is for instance 22:00-07:00, not \"%s\"", optarg);
	case OPTION_BY:
		return take_voice(optarg, &setup->voice.by)
			       ? RUN
			       : wrong("--by is auto, speech-dispatcher or espeak-ng, not \"%s\"", optarg);
	case OPTION_LEVEL:
		if (log_level_parse(optarg) < 0)
			return wrong("\"%s\" is no log level", optarg);
		log_set_level(log_level_parse(optarg));
		return RUN;
	default:
		return wrong("option %d isn't known", option);
	}
}

static enum wish take_options(int argc, char **argv, struct talk_setup *setup, const char **ret_say)
{
	enum wish wish = RUN;
	int option;

	opterr = 0; /* we tell */
	while (wish == RUN && (option = getopt_long(argc, argv, ":", options, NULL)) != -1) {
		switch (option) {
		case OPTION_WAV:
			setup->voice.wav = optarg;
			break;
		case OPTION_SAY:
			*ret_say = optarg;
			break;
		case OPTION_SOCKET:
			setup->socket = optarg;
			break;
		case OPTION_ALOUD:
			setup->aloud = *optarg ? optarg : NULL;
			break;
		case OPTION_HELP:
			return HELP;
		case OPTION_VERSION:
			return VERSION;
		case ':':
			return wrong("%s takes a value", argv[optind - 1]);
		case '?':
			return wrong("option %s isn't known", argv[optind - 1]);
		default:
			wish = take_value(setup, option);
			break;
		}
	}
	if (wish == RUN && optind < argc)
		return wrong("\"%s\" is no option", argv[optind]);
	return wish == RUN && *ret_say ? SAY : wish;
}

static int begin_loop(sd_event **ret)
{
	sigset_t children;

	(void)sigemptyset(&children);
	(void)sigaddset(&children, SIGCHLD); /* voice.h */
	(void)sigprocmask(SIG_BLOCK, &children, NULL);
	return loop_new(ret);
}

static int run(const struct talk_setup *setup)
{
	struct talk *talk = NULL;
	sd_event *event = NULL;
	int r = begin_loop(&event);

	if (r >= 0)
		r = talk_new(&talk, event, setup);
	if (r >= 0) {
		(void)sd_notify(0, "READY=1"); /* nobody may have asked */
		r = sd_event_loop(event);
	}
	if (r < 0)
		log_error("can't run: %s", strerror(-r));
	talk_free(talk);
	sd_event_unref(event);
	return r < 0 ? 1 : 0;
}

static void on_said(void *user, bool well)
{
	(void)sd_event_exit(user, well ? 0 : 1);
}

static int say_once(const struct talk_setup *setup, const char *text)
{
	struct voice *voice = NULL;
	sd_event *event = NULL;
	char words[WORDS_SIZE];
	int r = begin_loop(&event);

	words_clean(text, words, sizeof words);
	if (r >= 0)
		r = voice_new(&voice, event, &setup->voice, on_said, event);
	if (r >= 0)
		r = voice_say(voice, words, setup->volume);
	if (r >= 0)
		r = sd_event_loop(event);
	if (r < 0)
		log_error("can't be said: %s; is espeak-ng or speech-dispatcher installed?", strerror(-r));
	voice_free(voice);
	sd_event_unref(event);
	return r == 0 ? 0 : 1;
}

int main(int argc, char **argv)
{
	struct talk_setup setup = {
		.voice = { .by = VOICE_AUTO, .rate = 150 }, .socket = CTL_SOCKET, .aloud = ALOUD_SOCKET, .volume = 70
	};
	const char *text = NULL;

	switch (take_options(argc, argv, &setup, &text)) {
	case RUN:
		return units_for_people(&setup.unit) ? run(&setup) : 2;
	case SAY:
		return say_once(&setup, text);
	case HELP:
		(void)fputs(help, stdout);
		return fflush(stdout) == 0 ? 0 : 1;
	case VERSION:
		(void)puts("bismar-speak " BISMAR_VERSION);
		return fflush(stdout) == 0 ? 0 : 1;
	case WRONG:
		break;
	}
	return 2;
}
