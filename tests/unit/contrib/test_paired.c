// SPDX-License-Identifier: MIT
/* The pairing's state on disk. That its hashes are SHA-256 is held to Python's library in tests/page. */
#include "daemon/ctl/paired.h"
#include "daemon/ctl/paired_file.h"
#include <errno.h>
#include <fcntl.h>
#include <setjmp.h>
#include <stdarg.h>
#include <sys/stat.h>
#include <unistd.h>
#include <cmocka.h>

#define NOW INT64_C(1764000000000)

struct box {
	char dir[64];
	int fd;
};

static int setup(void **state)
{
	struct box *box = calloc(1, sizeof *box);

	(void)snprintf(box->dir, sizeof box->dir, "/tmp/bismar-paired-XXXXXX");
	if (!mkdtemp(box->dir) || paired_open(box->dir, false, &box->fd) < 0)
		return -1;
	*state = box;
	return 0;
}

static int teardown(void **state)
{
	struct box *box = *state;
	char command[96];

	(void)close(box->fd);
	(void)snprintf(command, sizeof command, "rm -rf %s", box->dir);
	free(box);
	return system(command);
}

static int redeem(const struct box *box, const char *code, int64_t now_ms)
{
	char token[PAIRED_TOKEN_SIZE];
	struct paired_phone phone;

	return paired_redeem(box->fd, code, "phone", now_ms, token, &phone);
}

static void test_once(void **state)
{
	struct box *box = *state;
	char code[PAIRED_CODE_SIZE], token[PAIRED_TOKEN_SIZE];
	struct paired_phone phone;
	struct paired paired;

	assert_int_equal(redeem(box, "00000000", NOW), PAIRED_NO_CODE);
	assert_int_equal(paired_new_code(box->fd, NOW, code), 0);
	assert_int_equal(strspn(code, "0123456789"), 8);
	assert_int_equal(paired_redeem(box->fd, code, "phone", NOW + PAIRED_CODE_MS - 1, token, &phone), PAIRED_DONE);
	assert_int_equal(redeem(box, code, NOW), PAIRED_NO_CODE);
	assert_int_equal(paired_load(box->fd, &paired), 0);
	assert_int_equal(paired.n, 1);
	assert_string_equal(paired.phones[0].name, "phone");
	assert_string_equal(paired.phones[0].id, phone.id);
	assert_non_null(paired_find(&paired, token, phone.since_ms + PAIRED_FOR_MS - 1));
	assert_null(paired_find(&paired, token, phone.since_ms + PAIRED_FOR_MS));
	token[63] = token[63] == '0' ? '1' : '0';
	assert_null(paired_find(&paired, token, NOW));
	assert_null(paired_find(&paired, "", NOW));
	assert_int_equal(paired_revoke(box->fd, phone.id), 0);
	assert_int_equal(paired_revoke(box->fd, phone.id), -ENOENT);
	assert_int_equal(paired_revoke(box->fd, "../etc"), -ENOENT);
	assert_int_equal(paired_load(box->fd, &paired), 0);
	assert_int_equal(paired.n, 0);
}

static void test_five_tries(void **state)
{
	struct box *box = *state;
	char code[PAIRED_CODE_SIZE], wrong[PAIRED_CODE_SIZE];

	assert_int_equal(paired_new_code(box->fd, NOW, code), 0);
	memcpy(wrong, code, sizeof wrong);
	wrong[7] = wrong[7] == '0' ? '1' : '0';
	for (int i = 0; i < PAIRED_TRIES; i++)
		assert_int_equal(redeem(box, wrong, NOW), PAIRED_BAD_CODE);
	assert_int_equal(redeem(box, code, NOW), PAIRED_NO_CODE);
}

static void test_its_time(void **state)
{
	struct box *box = *state;
	char code[PAIRED_CODE_SIZE];

	assert_int_equal(paired_new_code(box->fd, NOW, code), 0);
	assert_int_equal(redeem(box, code, NOW + PAIRED_CODE_MS), PAIRED_NO_CODE);
	assert_int_equal(redeem(box, code, NOW), PAIRED_NO_CODE); /* it is gone, not only late */
	assert_int_equal(paired_new_code(box->fd, NOW, code), 0);
	assert_int_equal(redeem(box, code, NOW - 1), PAIRED_NO_CODE); /* a clock that was set back */
}

static void put(const struct box *box, const char *name, const char *text)
{
	int fd = openat(box->fd, name, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0600);

	assert_true(fd >= 0);
	assert_int_equal(write(fd, text, strlen(text)), strlen(text));
	(void)close(fd);
}

#define ABC "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"

/* What isn't a phone isn't taken for one, and nothing is followed out of the folder. */
static void test_strange_files(void **state)
{
	static const char *const strange[] = { "",
					       "{}",
					       "[]",
					       "{\"name\":\"x\",\"hash\":\"00\",\"since_ms\":1}",
					       "{\"name\":\"\",\"hash\":\"" ABC "\",\"since_ms\":1}",
					       "{\"name\":\"x\",\"hash\":\"" ABC "\"}",
					       "{\"name\":\"x\",\"hash\":\"" ABC "\",\"since_ms\":\"1\"}" };
	struct box *box = *state;
	struct paired paired;
	char name[32];

	put(box, "phone-0000000g", "{\"name\":\"x\",\"hash\":\"" ABC "\",\"since_ms\":1}");
	put(box, "elsewhere", "{\"name\":\"x\",\"hash\":\"" ABC "\",\"since_ms\":1}");
	assert_int_equal(symlinkat("elsewhere", box->fd, "phone-000000ff"), 0);
	assert_int_equal(mkfifoat(box->fd, "phone-000000fe", 0600), 0);
	for (size_t i = 0; i < sizeof strange / sizeof *strange; i++) {
		(void)snprintf(name, sizeof name, "phone-%08zx", i);
		put(box, name, strange[i]);
	}
	assert_int_equal(paired_load(box->fd, &paired), 0);
	assert_int_equal(paired.n, 0);
	assert_int_equal(paired.unreadable, 3 + sizeof strange / sizeof *strange);
	put(box, "phone-0000000a", "{\"name\":\"x\",\"hash\":\"" ABC "\",\"since_ms\":1}");
	assert_int_equal(paired_load(box->fd, &paired), 0);
	assert_int_equal(paired.n, 1);
	assert_int_equal(paired.phones[0].hash[0], 0xba);
	assert_int_equal(paired.phones[0].hash[31], 0xad);
}

static void test_locked(void **state)
{
	struct box *box = *state;
	char code[PAIRED_CODE_SIZE];
	int other;

	assert_int_equal(paired_new_code(box->fd, NOW, code), 0);
	assert_int_equal(paired_open(box->dir, false, &other), 0);
	assert_int_equal(paired_file_lock(other, true), 0);
	assert_int_equal(redeem(box, code, NOW), -EAGAIN);
	paired_file_unlock(other);
	(void)close(other);
	assert_int_equal(redeem(box, code, NOW), PAIRED_DONE);
}

static void test_modes(void **state)
{
	struct box *box = *state;
	char code[PAIRED_CODE_SIZE], made[80];
	struct stat status;
	int fd;

	assert_int_equal(paired_new_code(box->fd, NOW, code), 0);
	assert_int_equal(fstatat(box->fd, "code", &status, 0), 0);
	assert_int_equal(status.st_mode & 07777, 0600);
	assert_int_equal(chmod(box->dir, 0710), 0);
	assert_int_equal(paired_open(box->dir, false, &fd), -EPERM);
	assert_int_equal(chmod(box->dir, 0700), 0);
	(void)snprintf(made, sizeof made, "%s/made", box->dir);
	assert_int_equal(paired_open(made, false, &fd), -ENOENT);
	assert_int_equal(paired_open(made, true, &fd), 0);
	assert_int_equal(fstat(fd, &status), 0);
	assert_int_equal(status.st_mode & 07777, 0700);
	(void)close(fd);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test_setup_teardown(test_once, setup, teardown),
		cmocka_unit_test_setup_teardown(test_five_tries, setup, teardown),
		cmocka_unit_test_setup_teardown(test_its_time, setup, teardown),
		cmocka_unit_test_setup_teardown(test_strange_files, setup, teardown),
		cmocka_unit_test_setup_teardown(test_locked, setup, teardown),
		cmocka_unit_test_setup_teardown(test_modes, setup, teardown),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
