// SPDX-License-Identifier: MIT
#include "daemon/ctl/paired.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/paired_file.h"
#include "daemon/ctl/text.h"
#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <gcrypt.h>
#include <sys/random.h>
#include <sys/stat.h>
#include <unistd.h>

#define CODE_FILE "code"
#define PHONE_FILE "phone-"
#define SALT_BYTES 16
#define HEX_SIZE (2 * PAIRED_HASH + 1)

/* ---- hashes ---- */

static void hash_of(const char *text, uint8_t ret[PAIRED_HASH])
{
	if (!gcry_control(GCRYCTL_INITIALIZATION_FINISHED_P)) {
		(void)gcry_check_version(NULL);             /* begins; the linker has seen to the version */
		(void)gcry_control(GCRYCTL_DISABLE_SECMEM); /* nothing secret stays */
		(void)gcry_control(GCRYCTL_INITIALIZATION_FINISHED);
	}
	gcry_md_hash_buffer(GCRY_MD_SHA256, ret, text, strlen(text));
}

static void to_hex(const uint8_t *octets, size_t n, char *ret)
{
	for (size_t i = 0; i < n; i++)
		(void)snprintf(ret + 2 * i, 3, "%02x", octets[i]);
}

static int digit_of(char c)
{
	return c >= '0' && c <= '9' ? c - '0' : (c >= 'a' && c <= 'f' ? c - 'a' + 10 : -1);
}

static bool from_hex(const char *text, uint8_t ret[PAIRED_HASH])
{
	if (strlen(text) != 2 * PAIRED_HASH)
		return false;
	for (size_t i = 0; i < PAIRED_HASH; i++) {
		int high = digit_of(text[2 * i]), low = digit_of(text[2 * i + 1]);
		if (high < 0 || low < 0)
			return false;
		ret[i] = (uint8_t)(high << 4 | low);
	}
	return true;
}

/* Takes as long whichever octet differs. */
static bool same(const uint8_t a[PAIRED_HASH], const uint8_t b[PAIRED_HASH])
{
	volatile uint8_t differ = 0;

	for (size_t i = 0; i < PAIRED_HASH; i++)
		differ |= a[i] ^ b[i];
	return differ == 0;
}

static int random_hex(size_t n, char *ret)
{
	uint8_t octets[PAIRED_HASH];

	if (getrandom(octets, n, 0) != (ssize_t)n) /* up to 256 octets come whole */
		return -EIO;
	to_hex(octets, n, ret);
	return 0;
}

/* ---- the folder ---- */

int paired_open(const char *dir, bool make, int *ret_fd)
{
	struct stat status;
	int fd, r = 0;

	if (make && mkdir(dir, 0700) < 0 && errno != EEXIST)
		return -errno;
	fd = open(dir, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
	if (fd < 0)
		return -errno;
	if (fstat(fd, &status) < 0)
		r = -errno;
	else if ((status.st_mode & 077) || (status.st_uid != geteuid() && geteuid() != 0))
		r = -EPERM;
	if (r < 0) {
		(void)close(fd); /* was only looked at */
		return r;
	}
	*ret_fd = fd;
	return 0;
}

static bool take_phone(const json_t *object, const char *id, struct paired_phone *ret)
{
	struct paired_phone phone = { 0 };

	field_copy(object, "name", phone.name, sizeof phone.name);
	(void)snprintf(phone.id, sizeof phone.id, "%s", id);
	if (!*phone.name || !from_hex(field_text(object, "hash"), phone.hash) ||
	    !field_whole(object, "since_ms", &phone.since_ms))
		return false;
	*ret = phone;
	return true;
}

static bool is_id(const char *text)
{
	return strlen(text) == PAIRED_ID_SIZE - 1 && strspn(text, "0123456789abcdef") == PAIRED_ID_SIZE - 1;
}

static void load_one(int dir_fd, const char *name, struct paired *paired)
{
	const char *id = name + strlen(PHONE_FILE);
	json_t *object = paired->n < PAIRED_PHONES && is_id(id) ? paired_file_read(dir_fd, name) : NULL;

	if (object && take_phone(object, id, &paired->phones[paired->n]))
		paired->n++;
	else
		paired->unreadable++;
	json_decref(object);
}

static int by_id(const void *a, const void *b)
{
	return strcmp(((const struct paired_phone *)a)->id, ((const struct paired_phone *)b)->id);
}

int paired_load(int dir_fd, struct paired *ret)
{
	int fd = openat(dir_fd, ".", O_RDONLY | O_DIRECTORY | O_CLOEXEC); /* closedir() takes it along */
	DIR *dir = fd < 0 ? NULL : fdopendir(fd);
	struct dirent *entry;

	if (!dir) {
		int r = -errno;
		if (fd >= 0)
			(void)close(fd);
		return r;
	}
	*ret = (struct paired){ 0 };
	while ((entry = readdir(dir)))
		if (strncmp(entry->d_name, PHONE_FILE, strlen(PHONE_FILE)) == 0)
			load_one(dir_fd, entry->d_name, ret);
	(void)closedir(dir); /* was only read */
	qsort(ret->phones, ret->n, sizeof *ret->phones, by_id);
	return 0;
}

const struct paired_phone *paired_find(const struct paired *paired, const char *token, int64_t now_ms)
{
	const struct paired_phone *found = NULL;
	uint8_t hash[PAIRED_HASH];

	if (strlen(token) != PAIRED_TOKEN_SIZE - 1)
		return NULL;
	hash_of(token, hash);
	for (size_t i = 0; i < paired->n; i++)
		if (same(paired->phones[i].hash, hash) && now_ms < paired->phones[i].since_ms + PAIRED_FOR_MS)
			found = &paired->phones[i];
	return found;
}

/* ---- the code ---- */

static void hash_code(const char *salt, const char *code, uint8_t ret[PAIRED_HASH])
{
	char text[2 * SALT_BYTES + PAIRED_CODE_SIZE];

	(void)snprintf(text, sizeof text, "%s%s", salt, code);
	hash_of(text, ret);
}

static int random_code(char ret[PAIRED_CODE_SIZE])
{
	uint32_t value;

	do {
		if (getrandom(&value, sizeof value, 0) != (ssize_t)sizeof value)
			return -EIO;
	} while (value >= UINT32_C(4200000000)); /* a multiple of 10^8, so that each code is as likely */
	(void)snprintf(ret, PAIRED_CODE_SIZE, "%08u", value % UINT32_C(100000000));
	return 0;
}

static int write_code(int dir_fd, const char *salt, const char *hash, int64_t until_ms, int64_t tries)
{
	json_t *object = json_pack("{s:s, s:s, s:I, s:I}", "salt", salt, "hash", hash, "until_ms", (json_int_t)until_ms,
				   "tries", (json_int_t)tries);
	int r = object ? paired_file_write(dir_fd, CODE_FILE, object) : -ENOMEM;

	json_decref(object);
	return r;
}

int paired_new_code(int dir_fd, int64_t now_ms, char ret_code[PAIRED_CODE_SIZE])
{
	char salt[2 * SALT_BYTES + 1], hex[HEX_SIZE], code[PAIRED_CODE_SIZE];
	uint8_t hash[PAIRED_HASH];
	int r = random_hex(SALT_BYTES, salt);

	if (r == 0)
		r = random_code(code);
	if (r < 0)
		return r;
	hash_code(salt, code, hash);
	to_hex(hash, sizeof hash, hex);
	r = paired_file_lock(dir_fd, true);
	if (r < 0)
		return r;
	r = write_code(dir_fd, salt, hex, now_ms + PAIRED_CODE_MS, PAIRED_TRIES);
	paired_file_unlock(dir_fd);
	if (r == 0)
		memcpy(ret_code, code, sizeof code);
	return r;
}

/* A wrong one: one try less, or none is left. */
static int count(int dir_fd, const json_t *object, int64_t until_ms, int64_t tries)
{
	int r = tries > 1 ? write_code(dir_fd, field_text(object, "salt"), field_text(object, "hash"), until_ms,
				       tries - 1)
			  : paired_file_remove(dir_fd, CODE_FILE);

	return r < 0 ? r : PAIRED_BAD_CODE;
}

/* PAIRED_DONE: it is right, and still there. */
static int try_code(int dir_fd, const json_t *object, const char *code, int64_t now_ms)
{
	uint8_t wanted[PAIRED_HASH], hash[PAIRED_HASH];
	int64_t until_ms = 0, tries = 0;
	int r;

	if (!object)
		return PAIRED_NO_CODE;
	/* one that lasts longer than any is of a clock that was set back since */
	if (!field_whole(object, "until_ms", &until_ms) || !field_whole(object, "tries", &tries) || tries < 1 ||
	    !from_hex(field_text(object, "hash"), wanted) || now_ms >= until_ms || until_ms > now_ms + PAIRED_CODE_MS) {
		r = paired_file_remove(dir_fd, CODE_FILE);
		return r < 0 ? r : PAIRED_NO_CODE;
	}
	if (strlen(code) != PAIRED_CODE_SIZE - 1)
		return count(dir_fd, object, until_ms, tries);
	hash_code(field_text(object, "salt"), code, hash);
	return same(hash, wanted) ? PAIRED_DONE : count(dir_fd, object, until_ms, tries);
}

/* ---- a phone ---- */

static bool good_name(const char *name)
{
	size_t n = strlen(name);

	if (n == 0 || n > LIMIT_NAME_BYTES || name[0] == ' ' || !text_valid(name))
		return false;
	for (size_t i = 0; i < n; i++)
		if ((unsigned char)name[i] < ' ' || name[i] == 0x7f)
			return false;
	return true;
}

static int write_phone(int dir_fd, const struct paired_phone *phone)
{
	char file[sizeof PHONE_FILE + PAIRED_ID_SIZE], hex[HEX_SIZE];
	json_t *object;
	int r;

	to_hex(phone->hash, sizeof phone->hash, hex);
	(void)snprintf(file, sizeof file, PHONE_FILE "%s", phone->id);
	object =
		json_pack("{s:s, s:s, s:I}", "name", phone->name, "hash", hex, "since_ms", (json_int_t)phone->since_ms);
	r = object ? paired_file_write(dir_fd, file, object) : -ENOMEM;
	json_decref(object);
	return r;
}

static int redeem(int dir_fd, const char *code, const char *name, int64_t now_ms, char ret_token[PAIRED_TOKEN_SIZE],
		  struct paired_phone *ret_phone)
{
	struct paired_phone phone = { .since_ms = now_ms };
	json_t *object = paired_file_read(dir_fd, CODE_FILE);
	int r = try_code(dir_fd, object, code, now_ms);

	json_decref(object);
	if (r == PAIRED_DONE)
		r = paired_file_remove(dir_fd, CODE_FILE); /* before anything else can go wrong: it serves once */
	if (r == 0)
		r = random_hex(PAIRED_HASH, ret_token);
	if (r == 0)
		r = random_hex((PAIRED_ID_SIZE - 1) / 2, phone.id);
	if (r != 0)
		return r;
	(void)snprintf(phone.name, sizeof phone.name, "%s", name);
	hash_of(ret_token, phone.hash);
	r = write_phone(dir_fd, &phone);
	if (r == 0)
		*ret_phone = phone;
	return r;
}

int paired_redeem(int dir_fd, const char *code, const char *name, int64_t now_ms, char ret_token[PAIRED_TOKEN_SIZE],
		  struct paired_phone *ret_phone)
{
	struct paired paired;
	int r;

	if (!good_name(name))
		return PAIRED_BAD_NAME;
	r = paired_file_lock(dir_fd, false); /* the server waits for nobody */
	if (r < 0)
		return r;
	r = paired_load(dir_fd, &paired);
	if (r == 0)
		r = paired.n + paired.unreadable >= PAIRED_PHONES
			    ? PAIRED_FULL
			    : redeem(dir_fd, code, name, now_ms, ret_token, ret_phone);
	paired_file_unlock(dir_fd);
	return r;
}

int paired_revoke(int dir_fd, const char *id)
{
	char file[sizeof PHONE_FILE + PAIRED_ID_SIZE];
	int r;

	if (!is_id(id))
		return -ENOENT;
	(void)snprintf(file, sizeof file, PHONE_FILE "%s", id);
	r = paired_file_lock(dir_fd, true);
	if (r < 0)
		return r;
	r = paired_file_remove(dir_fd, file);
	paired_file_unlock(dir_fd);
	return r;
}
