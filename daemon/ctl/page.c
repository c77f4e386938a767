// SPDX-License-Identifier: MIT
/* page pair, list, revoke: the phones that may use bismar-page (contrib/page). They write its folder, never the record.
 */
#include "daemon/ctl/args.h"
#include "daemon/ctl/commands.h"
#include "daemon/ctl/list.h"
#include "daemon/ctl/paired.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/table.h"
#include "daemon/ctl/text.h"
#include "daemon/ctl/when.h"
#include <errno.h>
#include <unistd.h>

static enum ctl_status trouble(const char *dir, int r)
{
	if (r == -ENOENT)
		ctl_error("There is no %s: bismar-page makes it when it starts (`systemctl enable --now bismar-page`); "
			  "or name "
			  "its folder with --state.",
			  dir);
	else if (r == -EACCES || r == -EPERM)
		ctl_error("%s is for the user of bismar-page and for root alone: try `sudo bismar page ...`. If that "
			  "is refused "
			  "too, others may enter the folder: chmod 700 %s.",
			  dir, dir);
	else
		ctl_error("%s can't be used: %s.", dir, strerror(-r));
	return CTL_ABSENT;
}

/* Takes the words and opens the folder. */
static enum ctl_status begin(struct ctl *ctl, int argc, char **argv, size_t words, struct args *args, const char **dir,
			     int *ret_fd)
{
	const struct args_option options[] = { { .name = "--state", .value = dir } };
	int r;

	*dir = NULL;
	if (!args_parse(ctl, argc, argv, options, 1, words, words, args))
		return CTL_USAGE;
	if (!*dir)
		*dir = PAIRED_DIR;
	r = paired_open(*dir, false, ret_fd);
	return r < 0 ? trouble(*dir, r) : CTL_DONE;
}

enum ctl_status page_pair(struct ctl *ctl, int argc, char **argv)
{
	char code[PAIRED_CODE_SIZE];
	struct args args;
	const char *dir;
	enum ctl_status status;
	int fd, r;

	status = begin(ctl, argc, argv, 0, &args, &dir, &fd);
	if (status != CTL_DONE)
		return status;
	r = paired_new_code(fd, ctl->now_ms, code);
	(void)close(fd); /* what was written is synced */
	if (r < 0)
		return trouble(dir, r);
	if (ctl->json) {
		json_t *object = json_pack("{s:s, s:i}", "code", code, "seconds", (int)(PAIRED_CODE_MS / 1000));
		field_print(object);
		json_decref(object);
	} else {
		(void)printf("The code is %.4s %s. Open the page on the phone and type it within ten minutes; it "
			     "serves once.\n",
			     code, code + 4);
	}
	return ctl_flush();
}

static void print_phones(const struct ctl *ctl, const struct paired *paired)
{
	for (size_t i = 0; i < paired->n; i++) {
		const struct paired_phone *phone = &paired->phones[i];
		char since[WHEN_SIZE], name[4 * sizeof phone->name];
		if (ctl->json) {
			json_t *object = json_pack("{s:s, s:s, s:I}", "id", phone->id, "name", phone->name, "since_ms",
						   (json_int_t)phone->since_ms);
			field_print(object);
			json_decref(object);
			continue;
		}
		when_show_near(since, phone->since_ms, ctl->now_ms);
		(void)text_fit(name, sizeof name, phone->name, 2 * LIMIT_NAME_BYTES, ctl->utf8);
		(void)printf("%s  %s, paired %s%s\n", phone->id, name, since,
			     ctl->now_ms >= phone->since_ms + PAIRED_FOR_MS ? " (too long ago: pair it anew)" : "");
	}
	if (!ctl->json && paired->n == 0)
		(void)puts("No phone is paired. `bismar page pair` makes a code for one.");
}

enum ctl_status page_list(struct ctl *ctl, int argc, char **argv)
{
	struct paired paired;
	struct args args;
	const char *dir;
	enum ctl_status status;
	int fd, r;

	status = begin(ctl, argc, argv, 0, &args, &dir, &fd);
	if (status != CTL_DONE)
		return status;
	r = paired_load(fd, &paired);
	(void)close(fd); /* was only read */
	if (r < 0)
		return trouble(dir, r);
	print_phones(ctl, &paired);
	if (paired.unreadable)
		ctl_error("%zu files in %s aren't taken as phones: more than %d, or not written by bismar.",
			  paired.unreadable, dir, PAIRED_PHONES);
	return ctl_flush();
}

/* The phone that a word means: its id, or else its name where one alone has it. */
static const struct paired_phone *meant(const struct paired *paired, const char *word)
{
	const struct paired_phone *found = NULL;
	size_t n = 0;

	for (size_t i = 0; i < paired->n; i++) {
		if (strcmp(paired->phones[i].id, word) == 0)
			return &paired->phones[i];
		if (strcmp(paired->phones[i].name, word) == 0) {
			found = &paired->phones[i];
			n++;
		}
	}
	if (n > 1)
		ctl_error("%zu phones are called \"%s\": say its id, as `bismar page list` shows it.", n, word);
	else if (n == 0)
		ctl_error("No phone is called \"%s\": `bismar page list` shows them.", word);
	return n == 1 ? found : NULL;
}

enum ctl_status page_revoke(struct ctl *ctl, int argc, char **argv)
{
	const struct paired_phone *phone = NULL;
	struct paired paired;
	struct args args;
	const char *dir;
	enum ctl_status status;
	int fd, r;

	status = begin(ctl, argc, argv, 1, &args, &dir, &fd);
	if (status != CTL_DONE)
		return status;
	r = paired_load(fd, &paired);
	if (r == 0)
		phone = meant(&paired, args.words[0]);
	if (phone)
		r = paired_revoke(fd, phone->id);
	(void)close(fd); /* what was changed is synced */
	if (r < 0)
		return trouble(dir, r);
	if (!phone)
		return CTL_REFUSED;
	if (ctl->json) {
		json_t *object = json_pack("{s:s, s:s}", "id", phone->id, "name", phone->name);
		field_print(object);
		json_decref(object);
	} else {
		(void)printf("%s (%s) may not use the page any more; if it is open there, it closes now.\n",
			     phone->name, phone->id);
	}
	return ctl_flush();
}
