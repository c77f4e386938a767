// SPDX-License-Identifier: MIT
#include "contrib/speak/voice.h"
#include "contrib/client/words.h"
#include "daemon/ctl/text.h"
#include "daemon/log.h"
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <signal.h>
#include <spawn.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

extern char **environ;

struct voice {
	sd_event *event;
	struct voice_setup setup;
	void (*done)(void *user, bool well);
	void *user;
	sd_event_source *child, *patience;
	pid_t pid; /* 0: silent */
	bool by_dispatcher, told;
	unsigned said;
	char text[WORDS_SIZE];
	int volume;
};

/* ---- the programs ---- */

static bool dispatcher_is_there(void)
{
	const char *folder = getenv("XDG_RUNTIME_DIR");
	char path[PATH_MAX];

	if (getenv("SPEECHD_ADDRESS"))
		return true;
	if (!folder)
		return false;
	(void)snprintf(path, sizeof path, "%s/speech-dispatcher/speechd.sock", folder);
	return access(path, R_OK | W_OK) == 0;
}

/* What posix_spawnp() gets; the numbers as text live here. */
struct command {
	const char *argv[14];
	size_t n;
	char rate[16], volume[16], file[PATH_MAX];
};

static void put(struct command *command, const char *word)
{
	command->argv[command->n++] = word;
	command->argv[command->n] = NULL;
}

static void put_two(struct command *command, const char *option, const char *value)
{
	put(command, option);
	put(command, value);
}

/* Its scales go from -100 to 100: silent to loud, and from about 80 over 170 to 390 words a minute (SSIP, SET VOLUME,
 * SET RATE; the words a minute are by ear). */
static void for_dispatcher(struct command *command, const struct voice *voice)
{
	int rate = voice->setup.rate - 170;

	rate = rate < 0 ? rate * 100 / 90 : rate * 100 / 220;
	(void)snprintf(command->rate, sizeof command->rate, "%d", rate > 100 ? 100 : rate);
	(void)snprintf(command->volume, sizeof command->volume, "%d", voice->volume * 2 - 100);
	put(command, "spd-say");
	put(command, "--wait");
	put_two(command, "--application-name", "bismar");
	put_two(command, "--language", "en");
	put_two(command, "--rate", command->rate);
	put_two(command, "--volume", command->volume);
}

/* Its amplitude goes from 0 to 200, where 100 is full scale (espeak-ng(1)). */
static void for_espeak(struct command *command, const struct voice *voice)
{
	(void)snprintf(command->rate, sizeof command->rate, "%d", voice->setup.rate);
	(void)snprintf(command->volume, sizeof command->volume, "%d", voice->volume);
	put(command, "espeak-ng");
	put_two(command, "-v", "en");
	put_two(command, "-s", command->rate);
	put_two(command, "-a", command->volume);
	if (voice->setup.wav) {
		(void)snprintf(command->file, sizeof command->file, "%s/%04u.wav", voice->setup.wav, voice->said);
		put_two(command, "-w", command->file);
	}
}

static int run(struct voice *voice)
{
	struct command command = { 0 };
	posix_spawn_file_actions_t actions;
	posix_spawnattr_t attributes;
	sigset_t none;
	int r;

	if (voice->by_dispatcher)
		for_dispatcher(&command, voice);
	else
		for_espeak(&command, voice);
	put(&command, "--");
	put(&command, voice->text);
	(void)sigemptyset(&none);
	if (posix_spawn_file_actions_init(&actions) != 0)
		return -ENOMEM;
	if (posix_spawnattr_init(&attributes) != 0) {
		(void)posix_spawn_file_actions_destroy(&actions);
		return -ENOMEM;
	}
	r = posix_spawn_file_actions_addopen(&actions, STDIN_FILENO, "/dev/null", O_RDONLY, 0);
	if (r == 0)
		r = posix_spawn_file_actions_addopen(&actions, STDOUT_FILENO, "/dev/null", O_WRONLY, 0);
	if (r == 0)
		r = posix_spawn_file_actions_addopen(&actions, STDERR_FILENO, "/dev/null", O_WRONLY, 0);
	if (r == 0) /* ours are blocked for sd-event */
		r = posix_spawnattr_setsigmask(&attributes, &none);
	if (r == 0)
		r = posix_spawnattr_setflags(&attributes, POSIX_SPAWN_SETSIGMASK);
	if (r == 0)
		r = posix_spawnp(&voice->pid, command.argv[0], &actions, &attributes, (char **)(uintptr_t)command.argv,
				 environ);
	(void)posix_spawnattr_destroy(&attributes);
	(void)posix_spawn_file_actions_destroy(&actions);
	if (r != 0)
		voice->pid = 0;
	return -r;
}

/* ---- one sentence ---- */

static void forget(struct voice *voice)
{
	voice->child = sd_event_source_disable_unref(voice->child);
	voice->pid = 0;
	(void)sd_event_source_set_enabled(voice->patience, SD_EVENT_OFF);
}

static int begin(struct voice *voice);

static void ended(struct voice *voice, bool well)
{
	const char *program = voice->by_dispatcher ? "spd-say" : "espeak-ng";

	if (!well && voice->by_dispatcher && voice->setup.by == VOICE_AUTO) {
		log_warning("spd-say couldn't say it; from now on espeak-ng does");
		voice->by_dispatcher = false;
		if (begin(voice) == 0)
			return;
	}
	if (!well && !voice->told)
		log_warning("%s couldn't say it: is there a sound device that this user may use?", program);
	voice->told = !well; /* once, until it works again */
	voice->done(voice->user, well);
}

static int on_child(sd_event_source *source, const siginfo_t *info, void *user)
{
	struct voice *voice = user;
	bool well = info->si_code == CLD_EXITED && info->si_status == 0;

	(void)source;
	forget(voice);
	ended(voice, well);
	return 0;
}

static int on_patience(sd_event_source *source, uint64_t usec, void *user)
{
	struct voice *voice = user;

	(void)source, (void)usec;
	log_warning("a sentence took too long and was broken off");
	voice_stop(voice);
	voice->done(voice->user, false);
	return 0;
}

static uint64_t patience_ms(const struct voice *voice)
{
	uint64_t words = strlen(voice->text) / VOICE_WORD + 1;

	return VOICE_PATIENCE_MS + 2 * words * 60000 / (uint64_t)voice->setup.rate;
}

static int begin(struct voice *voice)
{
	int r = run(voice);

	if (r < 0)
		return r;
	r = sd_event_add_child(voice->event, &voice->child, voice->pid, WEXITED, on_child, voice);
	if (r < 0) {
		voice_stop(voice);
		return r;
	}
	(void)sd_event_source_set_time_relative(voice->patience, patience_ms(voice) * UINT64_C(1000));
	(void)sd_event_source_set_enabled(voice->patience, SD_EVENT_ONESHOT);
	return 0;
}

int voice_say(struct voice *voice, const char *text, int volume)
{
	voice->said++;
	voice->volume = volume;
	text_copy(voice->text, sizeof voice->text, text);
	return begin(voice);
}

void voice_stop(struct voice *voice)
{
	if (voice->pid == 0)
		return;
	(void)kill(voice->pid, SIGTERM);
	voice->child = sd_event_source_disable_unref(voice->child);
	while (waitpid(voice->pid, NULL, 0) < 0 && errno == EINTR)
		;
	forget(voice);
}

bool voice_is_busy(const struct voice *voice)
{
	return voice->pid != 0;
}

/* ---- from outside ---- */

int voice_new(struct voice **ret, sd_event *event, const struct voice_setup *setup, void (*done)(void *user, bool well),
	      void *user)
{
	struct voice *voice = calloc(1, sizeof *voice);
	int r;

	if (!voice)
		return -ENOMEM;
	if (setup->wav && access(setup->wav, W_OK | X_OK) < 0) { /* espeak-ng wouldn't tell */
		r = -errno;
		log_error("no file can be made in %s: %s", setup->wav, strerror(-r));
		free(voice);
		return r;
	}
	*voice = (struct voice){ .event = sd_event_ref(event), .setup = *setup, .done = done, .user = user };
	voice->by_dispatcher =
		!setup->wav && (setup->by == VOICE_DISPATCHER || (setup->by == VOICE_AUTO && dispatcher_is_there()));
	r = sd_event_add_time_relative(event, &voice->patience, CLOCK_MONOTONIC, 0, 1000, on_patience, voice);
	if (r >= 0)
		r = sd_event_source_set_enabled(voice->patience, SD_EVENT_OFF);
	if (r < 0) {
		voice_free(voice);
		return r;
	}
	*ret = voice;
	return 0;
}

struct voice *voice_free(struct voice *voice)
{
	if (!voice)
		return NULL;
	voice_stop(voice);
	sd_event_source_disable_unref(voice->patience);
	sd_event_unref(voice->event);
	free(voice);
	return NULL;
}
