// SPDX-License-Identifier: MIT
/*
 * `bismar-speak`: says the question and the concern. Arguments, the loop, the end.
 */
#include "contrib/client/aloud.h"
#include "contrib/client/loop.h"
#include "contrib/client/usage.h"
#include "contrib/client/words.h"
#include "contrib/speak/talk.h"
#include "daemon/ctl/ctl.h"
#include "daemon/ctl/units.h"
#include "daemon/log.h"
#include <errno.h>
#include <signal.h>
#include <string.h>
#include <systemd/sd-daemon.h>

static const char help[] =
	"usage: bismar-speak [--volume N] [--rate N] [--quiet FROM-TO [--quiet-volume N]] [--by VOICE] [--wav FOLDER]\n"
	"                    [--socket PATH] [--aloud PATH] [--log-level LEVEL]\n"
	"       bismar-speak --say TEXT [--volume N] [--rate N] [--by VOICE] [--wav FOLDER]\n"
	"\n"
	"Says what bismard asks, what was recorded, and concerns that can't wait.\n"
	"  --volume N            0 to 100 (70)\n"
	"  --rate N              words a minute, 80 to 450 (150)\n"
	"  --quiet FROM-TO       quiet hours in local time, 22:00-07:00 for instance\n"
	"  --quiet-volume N      volume in quiet hours (0: only \"call your vet\" is said, at the volume of the day)\n"
	"  --by VOICE            speech-dispatcher, espeak-ng, or auto: the first where it runs for this user, else "
	"the other\n"
	"  --wav FOLDER          into 0001.wav, 0002.wav, ... instead of aloud\n"
	"  --say TEXT            says this and ends: to try volume and rate\n"
	"  --socket PATH         bismard's socket, " CTL_SOCKET " by default\n"
	"  --aloud PATH          where others have something said, " ALOUD_SOCKET
	" by default; \"\" for nowhere\n" USAGE_COMMON_HELP;

enum choice {
	OPTION_VOLUME = USAGE_OWN,
	OPTION_RATE,
	OPTION_QUIET,
	OPTION_QUIET_VOLUME,
	OPTION_BY,
	OPTION_WAV,
	OPTION_SAY,
	OPTION_SOCKET,
	OPTION_ALOUD,
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
	USAGE_COMMON,
};

struct wishes {
	struct talk_setup setup;
	const char *say;
};

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

static enum usage take(void *user, int option)
{
	struct wishes *wishes = user;
	struct talk_setup *setup = &wishes->setup;

	switch (option) {
	case OPTION_VOLUME:
		return usage_number("--volume", 0, 100, &setup->volume);
	case OPTION_QUIET_VOLUME:
		return usage_number("--quiet-volume", 0, 100, &setup->quiet_volume);
	case OPTION_RATE:
		return usage_number("--rate", VOICE_RATE_LEAST, VOICE_RATE_MOST, &setup->voice.rate);
	case OPTION_QUIET:
		return quiet_parse(optarg, &setup->quiet) == 0
			       ? USAGE_RUN
			       : usage_wrong("--quiet is for instance 22:00-07:00, not \"%s\"", optarg);
	case OPTION_BY:
		return take_voice(optarg, &setup->voice.by)
			       ? USAGE_RUN
			       : usage_wrong("--by is auto, speech-dispatcher or espeak-ng, not \"%s\"", optarg);
	case OPTION_WAV:
		return usage_text("--wav", &setup->voice.wav);
	case OPTION_SAY:
		return usage_text("--say", &wishes->say);
	case OPTION_SOCKET:
		return usage_text("--socket", &setup->socket);
	default: /* OPTION_ALOUD */
		setup->aloud = *optarg ? optarg : NULL;
		return USAGE_RUN;
	}
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
	struct wishes wishes = { .setup = { .voice = { .by = VOICE_AUTO, .rate = 150 },
					    .socket = CTL_SOCKET,
					    .aloud = ALOUD_SOCKET,
					    .volume = 70 } };
	const struct usage_line line = { help, options, take, &wishes };
	enum usage usage = usage_read(&line, argc, argv);

	if (usage == USAGE_RUN && wishes.say)
		return say_once(&wishes.setup, wishes.say);
	if (usage == USAGE_RUN && !units_for_people(&wishes.setup.unit))
		usage = USAGE_WRONG; /* told */
	return usage == USAGE_RUN ? run(&wishes.setup) : usage_status(usage);
}
