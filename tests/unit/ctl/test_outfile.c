// SPDX-License-Identifier: MIT
/* A file for people is there whole or not at all; and text in it is text, whatever it holds. */
#include "daemon/ctl/html.h"
#include "daemon/ctl/outfile.h"
#include <dirent.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include <cmocka.h>

static int folder(void **state)
{
	static char dir[32];

	(void)snprintf(dir, sizeof dir, "/tmp/bismar-outfile-XXXXXX");
	*state = mkdtemp(dir);
	return *state ? 0 : -1;
}

static int entries(const char *dir)
{
	DIR *d = opendir(dir);
	int n = -2; /* itself and its parent */

	assert_non_null(d);
	while (readdir(d))
		n++;
	closedir(d);
	return n;
}

static void read_back(const char *path, const char *text)
{
	char got[64] = "";
	FILE *f = fopen(path, "re");

	assert_non_null(f);
	got[fread(got, 1, sizeof got - 1, f)] = 0;
	(void)fclose(f);
	assert_string_equal(got, text);
}

static void put(const char *path, const char *text)
{
	struct outfile out;

	assert_int_equal(outfile_begin(&out, path), CTL_DONE);
	(void)fputs(text, out.to);
	assert_int_equal(outfile_end(&out), CTL_DONE);
}

static int remove_folder(void **state)
{
	char command[128];

	(void)snprintf(command, sizeof command, "rm -r %s", (char *)*state);
	return system(command);
}

static void test_replaces(void **state)
{
	char path[96], link[96];
	struct outfile out;
	struct stat is;

	(void)snprintf(path, sizeof path, "%s/a.html", (char *)*state);
	(void)snprintf(link, sizeof link, "%s/b.html", (char *)*state);
	put(path, "one");
	assert_int_equal(chmod(path, 0640), 0);
	assert_int_equal(symlink("a.html", link), 0);

	assert_int_equal(outfile_begin(&out, path), CTL_DONE);
	(void)fputs("half of t", out.to);
	(void)fflush(out.to);
	read_back(path, "one"); /* until it is whole */
	outfile_drop(&out);
	read_back(path, "one");
	assert_int_equal(entries(*state), 2);

	put(link, "two"); /* what the link points to */
	read_back(path, "two");
	assert_int_equal(lstat(link, &is), 0);
	assert_true(S_ISLNK(is.st_mode));
	assert_int_equal(stat(path, &is), 0);
	assert_int_equal(is.st_mode & 0777, 0640);
	assert_int_equal(entries(*state), 2);
}

static void test_refused(void **state)
{
	char path[96];
	struct outfile out;

	assert_int_equal(outfile_begin(&out, *state), CTL_REFUSED);
	assert_int_equal(outfile_begin(&out, ""), CTL_REFUSED);
	(void)snprintf(path, sizeof path, "%s/none/a.html", (char *)*state);
	assert_int_equal(outfile_begin(&out, path), CTL_REFUSED);
	(void)snprintf(path, sizeof path, "%s/a.html/", (char *)*state);
	assert_int_equal(outfile_begin(&out, path), CTL_REFUSED);
	assert_int_equal(entries(*state), 0);

	assert_int_equal(outfile_begin(&out, "/dev/full"), CTL_DONE);
	(void)fputs("x", out.to);
	assert_int_equal(outfile_end(&out), CTL_REFUSED);
}

static void test_text(void **state)
{
	char *text = NULL;
	size_t n = 0;
	FILE *to = open_memstream(&text, &n);

	(void)state;
	assert_non_null(to);
	html_text(to, "<img src=x onerror=\"f('&')\">\x1b[2J\xe2\x80\xae"
		      "m\xc3\xbc\xff");
	assert_int_equal(fclose(to), 0);
	assert_null(strpbrk(text, "<>\"'\x1b"));
	assert_null(strstr(text, "\xe2\x80\xae")); /* U+202E turns what follows */
	assert_null(strchr(text, '\xff'));         /* no UTF-8 */
	assert_non_null(strstr(text, "&lt;img src=x onerror=&quot;f(&#39;&amp;&#39;)&quot;&gt;"));
	assert_non_null(strstr(text, "m\xc3\xbc"));
	free(text);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test_setup_teardown(test_replaces, folder, remove_folder),
		cmocka_unit_test_setup_teardown(test_refused, folder, remove_folder),
		cmocka_unit_test(test_text),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
