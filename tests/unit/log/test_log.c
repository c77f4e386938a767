// SPDX-License-Identifier: MIT
/*
 * The fields of a journal entry; the ids of events; and what reaches a journal's socket, which is the test's own in a
 * mount namespace of its own, where the kernel lets a test have one. The datagram's form: "JOURNAL_NATIVE_PROTOCOL" of
 * systemd's documentation: FIELD=value and a line end for a value without line end in it.
 */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include "daemon/log.h"
#include "daemon/log_fields.h"
#include <errno.h>
#include <fcntl.h>
#include <sched.h>
#include <stdbool.h>
#include <sys/mount.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <sys/wait.h>
#include <unistd.h>

static bool field_is(const struct log_fields *fields, int i, const char *text)
{
	return i < fields->n && fields->list[i].iov_len == strlen(text) &&
	       memcmp(fields->list[i].iov_base, text, strlen(text)) == 0;
}

static void test_line(void **state)
{
	struct log_fields fields;

	(void)state;
	log_fields_fill(&fields, LOG_WARNING, "", NULL, NULL, "a scale, ignoring");
	assert_int_equal(fields.n, 3);
	assert_true(field_is(&fields, 0, "MESSAGE=a scale, ignoring"));
	assert_true(field_is(&fields, 1, "PRIORITY=4")); /* RFC 5424, 6.2.1: warning is 4 */
	assert_true(field_is(&fields, 2, "SYSLOG_IDENTIFIER=bismard"));
}

static void test_event(void **state)
{
	struct log_fields fields;

	(void)state;
	log_fields_fill(&fields, LOG_INFO, log_event_id(LOG_EVENT_SCALE_LINK), "BISMAR_SCALE", "02:00:00:00:0A:01", "x");
	assert_int_equal(fields.n, 5);
	assert_true(field_is(&fields, 1, "PRIORITY=6"));
	assert_true(field_is(&fields, 3, "MESSAGE_ID=dd448fca14244de88755307a0472e563"));
	assert_true(field_is(&fields, 4, "BISMAR_SCALE=02:00:00:00:0A:01"));
	log_fields_fill(&fields, LOG_INFO, log_event_id(LOG_EVENT_SCALE_LINK), "BISMAR_SCALE", NULL, "x");
	assert_int_equal(fields.n, 4);
}

/* What is too long is cut, never written past. */
static void test_long(void **state)
{
	char text[2 * LOG_TEXT_SIZE], value[2 * LOG_VALUE_SIZE];
	struct log_fields fields;

	(void)state;
	memset(text, 'a', sizeof text - 1);
	text[sizeof text - 1] = '\0';
	memset(value, 'b', sizeof value - 1);
	value[sizeof value - 1] = '\0';
	log_fields_fill(&fields, LOG_ERR, log_event_id(LOG_EVENT_STARTED), "BISMAR_FILE", value, text);
	assert_int_equal(fields.n, 5);
	for (int i = 0; i < fields.n; i++)
		assert_int_equal(strnlen(fields.list[i].iov_base, fields.list[i].iov_len + 1), fields.list[i].iov_len);
	assert_true(fields.list[0].iov_len > LOG_TEXT_SIZE);
	assert_int_equal(fields.list[4].iov_len, LOG_VALUE_SIZE - 1);
}

static void test_ids(void **state)
{
#define ROW(name, id) { LOG_EVENT_##name, id },
	static const struct {
		enum log_event event;
		const char *id;
	} rows[] = { LOG_EVENTS(ROW) };
	const size_t n = sizeof rows / sizeof *rows;

	(void)state;
	for (size_t i = 0; i < n; i++) {
		assert_int_equal(rows[i].event, i);
		assert_string_equal(log_event_id(rows[i].event), rows[i].id);
		assert_int_equal(strlen(rows[i].id), 32);
		assert_int_equal(strspn(rows[i].id, "0123456789abcdef"), 32);
		/* random, as systemd.journal-fields(7) wants it: RFC 9562, 5.4 (version 4, variant 10) */
		assert_int_equal(rows[i].id[12], '4');
		assert_non_null(strchr("89ab", rows[i].id[16]));
		for (size_t j = 0; j < i; j++)
			assert_string_not_equal(rows[i].id, rows[j].id);
	}
	assert_string_equal(log_event_id((enum log_event)n), "");
}

/* ---- standard error and journal ---- */

/* In a process of its own: runs say with its standard error in a pipe; returns what came out there. */
static void standard_error(void (*say)(int fd), char *ret, size_t size)
{
	int out[2];
	ssize_t n;
	pid_t pid;

	assert_return_code(pipe2(out, O_CLOEXEC), errno);
	pid = fork();
	assert_return_code(pid, errno);
	if (pid == 0) {
		(void)dup2(out[1], STDERR_FILENO);
		say(out[1]);
		_exit(0);
	}
	(void)close(out[1]);
	n = read(out[0], ret, size - 1);
	assert_return_code(n, errno);
	ret[n] = '\0';
	(void)close(out[0]);
	assert_int_equal(waitpid(pid, NULL, 0), pid);
}

static void say_here(int fd)
{
	(void)fd;
	(void)unsetenv("JOURNAL_STREAM");
	log_event(LOG_EVENT_STARTED, LOG_INFO, NULL, NULL, "ready %d", 1);
}

/* Somebody else's: started by a service, but with a standard error of one's own. */
static void say_elsewhere(int fd)
{
	(void)fd;
	(void)setenv("JOURNAL_STREAM", "1:2", 1);
	log_line(LOG_WARNING, "beware");
}

static void say_too_much(int fd)
{
	(void)fd;
	(void)unsetenv("JOURNAL_STREAM");
	log_set_level(LOG_WARNING);
	log_event(LOG_EVENT_STARTED, LOG_INFO, NULL, NULL, "not told");
	log_event(LOG_EVENT_STARTED, LOG_ERR, "BISMAR_SCALE", "x", "told");
}

static void test_standard_error(void **state)
{
	char text[512];

	(void)state;
	standard_error(say_here, text, sizeof text);
	assert_string_equal(text, "bismard: info: ready 1\n");
	standard_error(say_elsewhere, text, sizeof text);
	assert_string_equal(text, "bismard: warning: beware\n");
	standard_error(say_too_much, text, sizeof text);
	assert_string_equal(text, "bismard: error: told\n");
}

static bool put(const char *path, const char *text)
{
	FILE *file = fopen(path, "we");

	return file && fputs(text, file) >= 0 && fclose(file) == 0;
}

/* root in a user namespace that holds nobody else (user_namespaces(7)) */
static bool own_users(void)
{
	char uids[32], gids[32];

	(void)snprintf(uids, sizeof uids, "0 %u 1", (unsigned)geteuid());
	(void)snprintf(gids, sizeof gids, "0 %u 1", (unsigned)getegid());
	return unshare(CLONE_NEWUSER | CLONE_NEWNS) == 0 && put("/proc/self/setgroups", "deny") &&
	       put("/proc/self/uid_map", uids) && put("/proc/self/gid_map", gids);
}

/* An empty /run of one's own: as root, or in a user namespace. */
static bool own_run(void)
{
	if (unshare(CLONE_NEWNS) < 0 && !own_users())
		return false;
	return mount("none", "/", "none", MS_REC | MS_PRIVATE, NULL) == 0 &&
	       mount("tmpfs", "/run", "tmpfs", 0, NULL) == 0 && mkdir("/run/systemd", 0755) == 0 &&
	       mkdir("/run/systemd/journal", 0755) == 0;
}

/* 0: as it should be, 77: can't be tried here, else the step that failed. */
static int journal(void)
{
	static const struct sockaddr_un address = { .sun_family = AF_UNIX, .sun_path = "/run/systemd/journal/socket" };
	static const char *const lines[] = {
		"MESSAGE=scale 02:00:00:00:0A:01: subscribed\n", "PRIORITY=6\n", "SYSLOG_IDENTIFIER=bismard\n",
		"MESSAGE_ID=dd448fca14244de88755307a0472e563\n", "BISMAR_SCALE=02:00:00:00:0A:01\n",
	};
	char stream[64], got[4096];
	struct stat status;
	ssize_t n;
	int fd;

	if (!own_run())
		return 77;
	fd = socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC, 0);
	if (fd < 0 || bind(fd, (const struct sockaddr *)&address, sizeof address) < 0 || fstat(STDERR_FILENO, &status) < 0)
		return 1;
	(void)snprintf(stream, sizeof stream, "%ju:%ju", (uintmax_t)status.st_dev, (uintmax_t)status.st_ino);
	(void)setenv("JOURNAL_STREAM", stream, 1);
	log_event(LOG_EVENT_SCALE_LINK, LOG_INFO, "BISMAR_SCALE", "02:00:00:00:0A:01", "scale %s: %s", "02:00:00:00:0A:01",
		  "subscribed");
	n = recv(fd, got, sizeof got - 1, MSG_DONTWAIT);
	if (n < 0)
		return 2;
	got[n] = '\0';
	for (size_t i = 0; i < sizeof lines / sizeof *lines; i++)
		if (!strstr(got, lines[i]))
			return 3 + (int)i;
	log_line(LOG_ERR, "plain");
	n = recv(fd, got, sizeof got - 1, MSG_DONTWAIT);
	got[n > 0 ? n : 0] = '\0';
	return strstr(got, "MESSAGE=plain\n") && !strstr(got, "MESSAGE_ID") ? 0 : 20;
}

static void test_journal(void **state)
{
	int status = 0;
	pid_t pid = fork();

	(void)state;
	assert_return_code(pid, errno);
	if (pid == 0)
		_exit(journal());
	assert_int_equal(waitpid(pid, &status, 0), pid);
	assert_true(WIFEXITED(status));
	if (WEXITSTATUS(status) == 77)
		skip();
	assert_int_equal(WEXITSTATUS(status), 0);
}

static void test_quote(void **state)
{
	char text[16];

	(void)state;
	assert_string_equal(log_quote("a\"b\n", text, sizeof text), "a\\x22b\\x0a");
	assert_string_equal(log_quote("aaaaaaaaaaaaaaaaaaaaaaa", text, sizeof text), "aaaaaaaaaaa");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_line),
		cmocka_unit_test(test_event),
		cmocka_unit_test(test_long),
		cmocka_unit_test(test_ids),
		cmocka_unit_test(test_standard_error),
		cmocka_unit_test(test_journal),
		cmocka_unit_test(test_quote),
	};

	program_invocation_short_name = (char[]){ "bismard" }; /* as where it belongs */
	return cmocka_run_group_tests(tests, NULL, NULL);
}
