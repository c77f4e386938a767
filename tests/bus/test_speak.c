// SPDX-License-Identifier: MIT
/*
 * bismar-speak with the real bismard, a simulated scale and the real espeak-ng, which writes files instead of sound
 * (espeak-ng(1), -w). Where something is to happen amid a sentence, a stand-in for espeak-ng takes its time.
 */
#include "contrib/client/aloud.h"
#include "nursery.h"
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

struct scene {
	struct rig *rig;
	struct client *client;
	struct rig_program voice;
	char wav[128], aloud[96], fifo[96];
	int fd;
	char *search; /* PATH as it was */
};

/* ---- the scene ---- */

/* A voice that begins each sentence, and ends it when it is told so. */
static void stand_in(struct scene *scene)
{
	char file[160], search[4096];
	FILE *f;

	(void)snprintf(scene->fifo, sizeof scene->fifo, "%s/end", scene->rig->dir);
	assert_return_code(mkfifo(scene->fifo, 0600), 0);
	(void)snprintf(file, sizeof file, "%s/espeak-ng", scene->rig->dir);
	f = fopen(file, "we");
	assert_non_null(f);
	(void)fprintf(f, "#!/bin/sh\nexec cat %s\n", scene->fifo);
	assert_int_equal(fclose(f), 0);
	assert_return_code(chmod(file, 0755), 0);
	(void)snprintf(search, sizeof search, "%s:%s", scene->rig->dir, scene->search);
	assert_return_code(setenv("PATH", search, 1), 0);
}

/* The sentence comes to its end, once it was begun. */
static void finish(const struct scene *scene)
{
	int fd = open(scene->fifo, O_WRONLY | O_CLOEXEC);

	assert_return_code(fd, errno);
	(void)close(fd);
}

static void begin(struct scene *scene, void **state, bool slow, const char *option, const char *value)
{
	*scene = (struct scene){ .rig = *state, .fd = aloud_open(), .search = strdup(getenv("PATH")) };
	assert_true(scene->fd >= 0);
	assert_non_null(scene->search);
	scene->client = client_open(*state);
	(void)snprintf(scene->wav, sizeof scene->wav, "%s/said", scene->rig->dir);
	(void)snprintf(scene->aloud, sizeof scene->aloud, "%s/aloud", scene->rig->dir);
	assert_return_code(mkdir(scene->wav, 0700), 0);
	if (slow)
		stand_in(scene);
	rig_begin(scene->rig, "speak",
		  (const char *const[]){ rig_argument(0), "--socket", scene->rig->socket, "--aloud", scene->aloud,
					 "--wav", scene->wav, "--log-level", "debug", option, value, NULL },
		  &scene->voice);
	(void)rig_heard(&scene->voice, "bismard answers");
}

static void end(struct scene *scene)
{
	int status = rig_end(scene->rig, &scene->voice, SIGTERM);

	assert_true(WIFEXITED(status));
	assert_int_equal(WEXITSTATUS(status), 0);
	assert_int_equal(access(scene->aloud, F_OK), -1); /* it clears up */
	assert_return_code(setenv("PATH", scene->search, 1), 0);
	free(scene->search);
	(void)close(scene->fd);
	client_close(scene->client);
}

static void two_pups(struct scene *scene)
{
	nursery_scale(scene->rig, scene->client, BENCH, "bench", "");
	(void)client_call(scene->client, "container.tare", "{s:s, s:i}", "name", "box", "mass_g", BOX_G);
	(void)client_call(scene->client, "container.on", "{s:s, s:s}", "name", "box", "scale", "bench");
	(void)client_call(scene->client, "litter.add", "{s:s}", "name", "amber");
	(void)client_call(scene->client, "animal.add", "{s:s, s:s, s:s}", "name", "Moss", "litter", "amber", "collar",
			  "green");
	(void)client_call(scene->client, "animal.add", "{s:s, s:s, s:s}", "name", "Fern", "litter", "amber", "collar",
			  "red");
	(void)client_call(scene->client, "weigh", "{s:s, s:i}", "animal", "Moss", "mass_g", 350);
	(void)client_call(scene->client, "weigh", "{s:s, s:i}", "animal", "Fern", "mass_g", 500);
	(void)client_notice(scene->client, "recorded");
	(void)client_notice(scene->client, "recorded");
}

static const json_t *weigh(struct scene *scene, int grams)
{
	nursery_weigh(scene->rig, BENCH, BOX_G + grams);
	return client_notice(scene->client, "ask");
}

static void answer(struct scene *scene, const json_t *ask, const char *name)
{
	(void)client_call(scene->client, "answer", "{s:s, s:s}", "ask", client_text(scene->client, ask, "ask"),
			  "animal", name);
	(void)client_notice(scene->client, "recorded");
}

static void hand_over(const struct scene *scene, const char *sentence)
{
	assert_int_equal(aloud_send(scene->fd, scene->aloud, sentence), 0);
}

/* Sentence n has been written, and is sound: RIFF, then more than half a second of 16 bits at 22,050 Hz. */
static void expect_sound(const struct scene *scene, unsigned n)
{
	char path[160], head[4] = "";
	struct stat is;
	FILE *f;

	(void)snprintf(path, sizeof path, "%s/%04u.wav", scene->wav, n);
	f = fopen(path, "re");
	assert_non_null(f);
	assert_int_equal(fread(head, 1, sizeof head, f), sizeof head);
	assert_memory_equal(head, "RIFF", 4);
	(void)fclose(f);
	assert_return_code(stat(path, &is), 0);
	assert_true(is.st_size > 22050);
}

/* ---- the tests ---- */

/* A weighing, its answer, a correction: each is said, as files in that order. */
static void test_question(void **state)
{
	struct scene scene;
	const json_t *ask;

	begin(&scene, state, false, NULL, NULL);
	two_pups(&scene);
	(void)rig_heard(&scene.voice, "Moss, 350 grams.");
	ask = weigh(&scene, 355);
	(void)rig_heard(&scene.voice, "355 grams. One, Moss, green.");
	answer(&scene, ask, "Fern");
	(void)rig_heard(&scene.voice, "Fern, 355 grams.");
	(void)client_call(scene.client, "correct", "{s:s, s:s}", "reading", client_text(scene.client, ask, "ask"),
			  "animal", "Moss");
	(void)rig_heard(&scene.voice, "Corrected: Moss, 355 grams.");
	hand_over(&scene, "Set aside."); /* when this is said, all before has been */
	(void)rig_heard(&scene.voice, "Set aside.");
	expect_sound(&scene, 1);
	expect_sound(&scene, 2);
	end(&scene);
}

/* What is answered isn't said to its end, and the next question comes; nothing stale is said. */
static void test_stale(void **state)
{
	const json_t *first, *second;
	struct scene scene;

	begin(&scene, state, true, NULL, NULL);
	nursery_scale(scene.rig, scene.client, BENCH, "bench", "");
	(void)client_call(scene.client, "litter.add", "{s:s}", "name", "amber");
	(void)client_call(scene.client, "animal.add", "{s:s, s:s}", "name", "Moss", "litter", "amber");
	(void)client_call(scene.client, "animal.add", "{s:s, s:s}", "name", "Fern", "litter", "amber");
	first = weigh(&scene, 355 - BOX_G); /* no container */
	(void)rig_heard(&scene.voice, "355 grams. One, ");
	second = weigh(&scene, 505 - BOX_G);
	answer(&scene, first, "Moss");
	(void)rig_heard(&scene.voice, "Moss, 355 grams."); /* instead of the question's end */
	answer(&scene, second, "Fern");
	finish(&scene);
	(void)rig_heard(&scene.voice,
			"Fern, 505 grams."); /* its question, which would have come first, was never begun */
	finish(&scene);
	hand_over(&scene, "Set aside.");
	(void)rig_heard(&scene.voice, "Set aside.");
	end(&scene);
}

/* A key's words take the place of the question; the question can be had again. */
static void test_aloud(void **state)
{
	struct scene scene;

	begin(&scene, state, true, NULL, NULL);
	nursery_scale(scene.rig, scene.client, BENCH, "bench", "");
	(void)client_call(scene.client, "litter.add", "{s:s}", "name", "amber");
	(void)client_call(scene.client, "animal.add", "{s:s, s:s}", "name", "Moss", "litter", "amber");
	(void)weigh(&scene, 355 - BOX_G);
	(void)rig_heard(&scene.voice, "355 grams. One, Moss.");
	hand_over(&scene, ALOUD_NOW "Set aside?");
	(void)rig_heard(&scene.voice, "Set aside?");
	hand_over(&scene, ALOUD_NOW "[[m0s]] <speak> $(x)\nTake back Moss?");
	(void)rig_heard(&scene.voice, "m0s speak (x) Take back Moss?");
	hand_over(&scene, ALOUD_AGAIN);         /* waits for the words before it */
	hand_over(&scene, ALOUD_NOW "Nobody."); /* and these come instead of both */
	(void)rig_heard(&scene.voice, "Nobody.");
	hand_over(&scene, "");
	hand_over(&scene, "\x01");
	end(&scene);
}

/* Said once, with the name; one that opened before the voice did is said when it begins, if it is for the vet. */
static void test_concern(void **state)
{
	struct rig_program late;
	struct scene scene;
	int status;

	begin(&scene, state, false, NULL, NULL);
	two_pups(&scene);
	for (int i = 0; i < 2; i++)
		(void)client_call(scene.client, "sign", "{s:s, s:s, s:s}", "animal", "Moss", "sign", "gums", "value",
				  "dry");
	(void)rig_heard(&scene.voice, "Call your vet. Moss");
	hand_over(&scene, "Set aside.");
	(void)rig_heard(&scene.voice, "Set aside.");
	rig_begin(scene.rig, "late",
		  (const char *const[]){ rig_argument(0), "--socket", scene.rig->socket, "--aloud", "", "--wav",
					 scene.wav, NULL },
		  &late);
	(void)rig_heard(&late, "bismard answers");
	(void)rig_heard(&late, "Call your vet. Moss");
	status = rig_end(scene.rig, &late, SIGTERM);
	assert_true(WIFEXITED(status) && WEXITSTATUS(status) == 0);
	end(&scene);
}

/* Local noon, whatever the time is, for what is started from now on. */
static void set_noon(struct rig *rig)
{
	time_t now = time(NULL);
	struct tm utc;

	assert_non_null(gmtime_r(&now, &utc));
	(void)snprintf(rig->tz, sizeof rig->tz, "XXX%+d", utc.tm_hour - 12); /* POSIX: west is positive */
}

static void test_quiet(void **state)
{
	struct scene scene;

	set_noon(*state);
	begin(&scene, state, false, "--quiet", "10:00-15:00");
	two_pups(&scene);
	(void)rig_heard(&scene.voice, "quiet hours: Moss, 350 grams.");
	(void)weigh(&scene, 355);
	(void)rig_heard(&scene.voice, "quiet hours: 355 grams.");
	(void)client_call(scene.client, "sign", "{s:s, s:s, s:s}", "animal", "Moss", "sign", "gums", "value", "dry");
	(void)rig_heard(&scene.voice, "info: Call your vet. "); /* that is said */
	end(&scene);
}

/* So much later, for the voice alone (clock_shim.c). */
static void later(const struct scene *scene, int64_t seconds)
{
	int64_t both[2] = { seconds, seconds };
	char path[128];
	int fd;

	(void)snprintf(path, sizeof path, "%s/clock", scene->rig->dir);
	fd = open(path, O_WRONLY | O_CREAT | O_CLOEXEC, 0600);
	assert_return_code(fd, errno);
	assert_int_equal(pwrite(fd, both, sizeof both, 0), sizeof both);
	assert_return_code(close(fd), errno);
}

static void with_clock(struct rig *rig)
{
	char path[128];

	(void)snprintf(path, sizeof path, "%s/clock", rig->dir);
	assert_return_code(setenv("ASAN_OPTIONS", "verify_asan_link_order=0", 1), 0);
	assert_return_code(setenv("LD_PRELOAD", rig_argument(1), 1), 0);
	assert_return_code(setenv("BISMAR_TEST_CLOCK", path, 1), 0);
}

static void note(struct scene *scene, const char *animal, const char *sign, const char *value)
{
	(void)client_call(scene->client, "sign", "{s:s, s:s, s:s}", "animal", animal, "sign", sign, "value", value);
}

/* A concern of the night is said in the morning, if it holds still. */
static void test_after_quiet(void **state)
{
	struct rig *rig = *state;
	struct scene scene;

	set_noon(rig);
	with_clock(rig);
	scene.rig = rig;
	later(&scene, 0);
	begin(&scene, state, false, "--quiet", "10:00-15:00");
	assert_return_code(unsetenv("LD_PRELOAD"), 0);
	two_pups(&scene);
	note(&scene, "Fern", "crying", "constant");
	(void)rig_heard(&scene.voice, "quiet hours, to be said after them: Today: Fern");
	note(&scene, "Moss", "crying", "constant");
	(void)rig_heard(&scene.voice, "quiet hours, to be said after them: Today: Moss");
	note(&scene, "Fern", "crying", "quiet");
	(void)rig_heard(&scene.voice, "holds no longer");
	later(&scene, 4 * 3600);
	note(&scene, "Fern", "crying", "settles"); /* to look at: it turns the loop, and is nothing to say */
	assert_non_null(strstr(rig_heard(&scene.voice, "info: Today: "), "Moss"));
	end(&scene);
}

static void test_daemon_dies(void **state)
{
	struct scene scene;

	begin(&scene, state, false, NULL, NULL);
	two_pups(&scene);
	(void)weigh(&scene, 355);
	(void)rig_heard(&scene.voice, "355 grams.");
	nursery_kill(scene.rig);
	(void)rig_heard(&scene.voice, "bismar does not answer any more.");
	client_close(scene.client);
	rig_start_daemon(scene.rig);
	scene.client = client_open(scene.rig);
	(void)rig_heard(&scene.voice, "bismard answers");
	(void)rig_heard(&scene.voice, "355 grams."); /* is open still */
	end(&scene);
}

static void test_usage(void **state)
{
	struct rig *rig = *state;
	static const char *const wrong[][3] = {
		{ "--volume", "101" }, { "--volume", "x" },  { "--rate", "79" },
		{ "--quiet", "22" },   { "--by", "nobody" }, { "--quiet-volume", "-1" },
		{ "--nothing" },       { "word" },           { "--volume" },
	};
	char folder[128];
	struct rig_program voice;

	for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
		rig_begin(rig, "speak", (const char *const[]){ rig_argument(0), wrong[i][0], wrong[i][1], NULL },
			  &voice);
		assert_int_equal(WEXITSTATUS(rig_end(rig, &voice, 0)), 2);
	}
	/* a folder that isn't there: told, and not taken for said */
	(void)snprintf(folder, sizeof folder, "%s/none", rig->dir);
	rig_begin(rig, "speak", (const char *const[]){ rig_argument(0), "--say", "Moss", "--wav", folder, NULL },
		  &voice);
	assert_int_equal(WEXITSTATUS(rig_end(rig, &voice, 0)), 1);
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, rig_setup, rig_teardown)

int main(int argc, char **argv)
{
	const struct CMUnitTest tests[] = {
		CASE(test_question),    CASE(test_stale),
		CASE(test_aloud),       CASE(test_concern),
		CASE(test_quiet),       CASE(test_after_quiet),
		CASE(test_daemon_dies), cmocka_unit_test_setup_teardown(test_usage, rig_setup_bare, rig_teardown),
	};

	rig_programs(argc, argv);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
