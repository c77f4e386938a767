// SPDX-License-Identifier: MIT
/* Keys as files: who may read them, what survives what, and what people may type. */
#include "daemon/desk/keys.h"
#include <dirent.h>
#include <errno.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>

#define N_OF(array) (sizeof(array) / sizeof((array)[0]))
#define ID "0193617a-2b4c-7d5e-8f60-718293a4b5c6"
#define HEX "231d39c1d7cc1ab1aee224cd096db932" /* bthome.io/encryption */

static const uint8_t key[KEYS_KEY_SIZE] = { 0x23, 0x1d, 0x39, 0xc1, 0xd7, 0xcc, 0x1a, 0xb1,
					    0xae, 0xe2, 0x24, 0xcd, 0x09, 0x6d, 0xb9, 0x32 };
static const uint8_t other[KEYS_KEY_SIZE] = { 0xFF, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 0x0F };

static char dir[64], folder[80], file[160];

static int set_up(void **state)
{
	(void)snprintf(dir, sizeof dir, "/tmp/bismar-keys-XXXXXX");
	if (!mkdtemp(dir))
		return -1;
	(void)snprintf(folder, sizeof folder, "%s/keys", dir);
	(void)snprintf(file, sizeof file, "%s/" ID, folder);
	*state = NULL;
	return 0;
}

static size_t count_files(void)
{
	DIR *d = opendir(folder);
	struct dirent *entry;
	size_t n = 0;

	assert_non_null(d);
	while ((entry = readdir(d)))
		n += entry->d_name[0] != '.';
	(void)closedir(d);
	return n;
}

static int tear_down(void **state)
{
	DIR *d = opendir(folder);
	struct dirent *entry;

	(void)state;
	while (d && (entry = readdir(d)))
		if (entry->d_name[0] != '.')
			(void)unlinkat(dirfd(d), entry->d_name, 0);
	if (d)
		(void)closedir(d);
	(void)rmdir(folder);
	return rmdir(dir);
}

static struct keys *open_keys(void)
{
	struct keys *keys = NULL;

	assert_int_equal(keys_open(dir, &keys), 0);
	assert_non_null(keys);
	return keys;
}

static mode_t mode(const char *path)
{
	struct stat st;

	assert_int_equal(stat(path, &st), 0);
	return st.st_mode & 07777;
}

static void put_file(const char *path, const char *text, size_t n)
{
	FILE *stream = fopen(path, "we");

	assert_non_null(stream);
	assert_int_equal(fwrite(text, 1, n, stream), n);
	assert_int_equal(fclose(stream), 0);
}

static void assert_loads(struct keys *keys, const uint8_t expected[KEYS_KEY_SIZE])
{
	uint8_t got[KEYS_KEY_SIZE];

	assert_int_equal(keys_load(keys, ID, got), 0);
	assert_memory_equal(got, expected, sizeof got);
}

static void assert_no_load(struct keys *keys, const char *id, int r)
{
	uint8_t got[KEYS_KEY_SIZE], before[KEYS_KEY_SIZE];

	memset(got, 0xA5, sizeof got);
	memset(before, 0xA5, sizeof before);
	assert_int_equal(keys_load(keys, id, got), r);
	assert_memory_equal(got, before, sizeof got);
}

static void test_round(void **state)
{
	mode_t mask = umask(0); /* what the unit or the shell says must not matter */
	struct keys *keys = open_keys();
	char text[64] = "";
	FILE *stream;

	(void)state;
	assert_int_equal(mode(folder), 0700);
	assert_no_load(keys, ID, -ENOENT);
	assert_int_equal(keys_remove(keys, ID), 0);
	assert_int_equal(keys_store(keys, ID, key), 0);
	assert_int_equal(mode(file), 0600);
	assert_loads(keys, key);
	stream = fopen(file, "re");
	assert_non_null(stream);
	assert_int_equal(fread(text, 1, sizeof text - 1, stream), 33);
	(void)fclose(stream);
	assert_string_equal(text, HEX "\n");
	assert_int_equal(keys_store(keys, ID, other), 0);
	assert_loads(keys, other);
	assert_int_equal(count_files(), 1);
	keys = keys_close(keys);
	assert_null(keys);
	keys = open_keys(); /* as after a restart */
	assert_loads(keys, other);
	assert_int_equal(keys_remove(keys, ID), 0);
	assert_no_load(keys, ID, -ENOENT);
	assert_int_equal(count_files(), 0);
	assert_null(keys_close(keys));
	assert_null(keys_close(NULL));
	(void)umask(mask);
}

static void test_closes_to_others(void **state)
{
	(void)state;
	assert_int_equal(mkdir(folder, 0700), 0);
	assert_int_equal(chmod(folder, 0755), 0);
	keys_close(open_keys());
	assert_int_equal(mode(folder), 0700);
}

static void test_no_folder(void **state)
{
	char path[80];
	struct keys *keys = NULL;

	(void)state;
	put_file(folder, "x", 1); /* a file in its place */
	assert_int_equal(keys_open(dir, &keys), -ENOTDIR);
	assert_int_equal(unlink(folder), 0);
	assert_int_equal(symlink("/tmp", folder), 0); /* and a way elsewhere */
	assert_true(keys_open(dir, &keys) < 0);
	assert_int_equal(unlink(folder), 0);
	(void)snprintf(path, sizeof path, "%s/none", dir);
	assert_int_equal(keys_open(path, &keys), -ENOENT);
	assert_null(keys);
}

static void test_ids(void **state)
{
	static const char *const ids[] = {
		"",    ".",           "..",       "../x",
		"a/b", "/etc/passwd", "a.new",    "A",
		"a b", "a\n",         "\xC3\xBC", "01234567890123456789012345678901234567890123456789012345678901234"
	};
	struct keys *keys = open_keys();

	(void)state;
	for (size_t i = 0; i < N_OF(ids); i++) {
		assert_no_load(keys, ids[i], -EINVAL);
		assert_int_equal(keys_store(keys, ids[i], key), -EINVAL);
		assert_int_equal(keys_remove(keys, ids[i]), -EINVAL);
	}
	assert_int_equal(count_files(), 0);
	keys_close(keys);
}

static void test_damaged(void **state)
{
	static const struct {
		const char *text;
		size_t n;
	} rows[] = {
		{ "", 0 },
		{ "\n", 1 },
		{ HEX, 32 },
		{ HEX "\n\n", 34 },
		{ HEX "0\n", 34 },
		{ HEX "\0", 33 },
		{ "g" HEX, 33 },
		{ "2 " HEX "\n", 35 },
		{ HEX "0", 33 },
		{ "231d39c1d7cc1ab1aee224cd096db9 2\n", 33 },
		{ "231d39c1\0"
		  "7cc1ab1aee224cd096db932\n",
		  33 },
	};
	struct keys *keys = open_keys();

	(void)state;
	for (size_t i = 0; i < N_OF(rows); i++) {
		put_file(file, rows[i].text, rows[i].n);
		assert_no_load(keys, ID, -EBADMSG);
	}
	assert_int_equal(keys_store(keys, ID, key), 0); /* and typing it again helps */
	assert_loads(keys, key);
	keys_close(keys);
}

/* What a power cut between writing and renaming leaves is overwritten, and goes with the key. */
static void test_leftover(void **state)
{
	struct keys *keys = open_keys();
	char path[200];

	(void)state;
	(void)snprintf(path, sizeof path, "%s.new", file);
	put_file(path, "half", 4);
	assert_int_equal(chmod(path, 0644), 0);
	assert_no_load(keys, ID, -ENOENT);
	assert_int_equal(keys_store(keys, ID, key), 0);
	assert_loads(keys, key);
	assert_int_equal(mode(file), 0600);
	assert_int_equal(count_files(), 1);
	put_file(path, "half", 4);
	assert_int_equal(keys_remove(keys, ID), 0);
	assert_int_equal(count_files(), 0);
	keys_close(keys);
}

/* A write that fails leaves the old key, and nothing else. */
static void test_full(void **state)
{
	struct keys *keys = open_keys();
	struct rlimit whole, none;

	(void)state;
	assert_int_equal(keys_store(keys, ID, key), 0);
	assert_true(signal(SIGXFSZ, SIG_IGN) != SIG_ERR);
	assert_int_equal(getrlimit(RLIMIT_FSIZE, &whole), 0);
	for (rlim_t limit = 0; limit < 33; limit++) { /* no octet of it, one, ... all but one */
		none = (struct rlimit){ limit, whole.rlim_max };
		assert_int_equal(setrlimit(RLIMIT_FSIZE, &none), 0);
		assert_int_equal(keys_store(keys, ID, other), -EFBIG);
		assert_int_equal(setrlimit(RLIMIT_FSIZE, &whole), 0);
		assert_loads(keys, key);
		assert_int_equal(count_files(), 1);
	}
	keys_close(keys);
}

static void test_folder_gone(void **state)
{
	struct keys *keys = open_keys();

	(void)state;
	assert_int_equal(rmdir(folder), 0);
	assert_int_equal(keys_store(keys, ID, key), -ENOENT);
	assert_no_load(keys, ID, -ENOENT);
	keys_close(keys);
}

/* ---- typed ---- */

static void test_typed(void **state)
{
	static const char *const good[] = {
		HEX,
		"231D39C1D7CC1AB1AEE224CD096DB932",
		"23:1d:39:c1:d7:cc:1a:b1:ae:e2:24:cd:09:6d:b9:32",
		" 231d 39c1 d7cc 1ab1  aee2 24cd 096d b932 ",
		"2 31d39c1d7cc1ab1aee224cd096db93:2",
	};
	static const struct {
		const char *text;
		enum keys_typed typed;
	} bad[] = {
		{ "", KEYS_TYPED_SHORT },
		{ " : ", KEYS_TYPED_SHORT },
		{ "231d39c1d7cc1ab1aee224cd096db93", KEYS_TYPED_SHORT },
		{ HEX "0", KEYS_TYPED_LONG },
		{ HEX " " HEX, KEYS_TYPED_LONG },
		{ "0x" HEX, KEYS_TYPED_NOT_HEX },
		{ "g31d39c1d7cc1ab1aee224cd096db932", KEYS_TYPED_NOT_HEX },
		{ HEX "\n", KEYS_TYPED_NOT_HEX },
		{ HEX "x", KEYS_TYPED_NOT_HEX },
		{ "23-1d-39-c1-d7-cc-1a-b1-ae-e2-24-cd-09-6d-b9-32", KEYS_TYPED_NOT_HEX },
		{ "23\xC2\xA0"
		  "1d39c1d7cc1ab1aee224cd096db932",
		  KEYS_TYPED_NOT_HEX },
	};
	uint8_t got[KEYS_KEY_SIZE], before[KEYS_KEY_SIZE];

	(void)state;
	for (size_t i = 0; i < N_OF(good); i++) {
		memset(got, 0, sizeof got);
		assert_int_equal(keys_parse(good[i], got), KEYS_TYPED_OK);
		assert_memory_equal(got, key, sizeof got);
	}
	memset(before, 0xA5, sizeof before);
	for (size_t i = 0; i < N_OF(bad); i++) {
		memset(got, 0xA5, sizeof got);
		assert_int_equal(keys_parse(bad[i].text, got), bad[i].typed);
		assert_memory_equal(got, before, sizeof got);
		assert_true(strlen(keys_typed_text(bad[i].typed)) > 0);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test_setup_teardown(test_round, set_up, tear_down),
		cmocka_unit_test_setup_teardown(test_closes_to_others, set_up, tear_down),
		cmocka_unit_test_setup_teardown(test_no_folder, set_up, tear_down),
		cmocka_unit_test_setup_teardown(test_ids, set_up, tear_down),
		cmocka_unit_test_setup_teardown(test_damaged, set_up, tear_down),
		cmocka_unit_test_setup_teardown(test_leftover, set_up, tear_down),
		cmocka_unit_test_setup_teardown(test_full, set_up, tear_down),
		cmocka_unit_test_setup_teardown(test_folder_gone, set_up, tear_down),
		cmocka_unit_test(test_typed),
	};

	return cmocka_run_group_tests_name("desk/keys", tests, NULL, NULL);
}
