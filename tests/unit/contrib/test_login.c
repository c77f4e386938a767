// SPDX-License-Identifier: MIT
/* How a broker is reached: what goes together, where a password comes from, and where it doesn't go. */
#include "contrib/broker/login.h"
#include <errno.h>
#include <fcntl.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include <cmocka.h>

static char folder[] = "/tmp/bismar-login-XXXXXX";
static char file[64];
static char why[512];

static void put(const void *octets, size_t n, mode_t mode)
{
	int fd = open(file, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0600);

	assert_return_code(fd, errno);
	assert_int_equal(write(fd, octets, n), n);
	assert_return_code(fchmod(fd, mode), errno);
	assert_return_code(close(fd), errno);
}

static bool finish(struct login *login)
{
	why[0] = '\0';
	return login_finish(login, why, sizeof why);
}

/* RFC 1122, 3.2.1.3 (g), and RFC 4291, 2.5.3: 127/8 and ::1 alone never leave the machine; a name may be anybody's. */
static void local(void **state)
{
	static const char *const here[] = { "localhost", "127.0.0.1", "127.255.3.4", "::1" };
	static const char *const there[] = {
		"127.example.org", "127.0.0.1.example.org", "127.1",  "128.0.0.1", "10.0.0.1", "::2",
		"fe80::1",         "localhost.example.org", "broker", "/run/x",    ""
	};

	(void)state;
	for (size_t i = 0; i < sizeof here / sizeof *here; i++)
		assert_true(login_is_local(here[i]));
	for (size_t i = 0; i < sizeof there / sizeof *there; i++)
		assert_false(login_is_local(there[i]));
}

/* IANA, Service Name and Transport Protocol Port Number Registry: mqtt 1883, secure-mqtt 8883. */
static void ports(void **state)
{
	struct login plain = { .host = "localhost" }, tls = { .host = "localhost", .ca = LOGIN_CA_SYSTEM },
		     other = { .host = "localhost", .port = 4 };

	(void)state;
	assert_true(finish(&plain) && finish(&tls) && finish(&other));
	assert_int_equal(plain.port, 1883);
	assert_int_equal(tls.port, 8883);
	assert_int_equal(other.port, 4);
	assert_null(plain.password);
}

static void tls(void **state)
{
	struct login cert = { .host = "x", .ca = LOGIN_CA_SYSTEM, .cert = "/dev/null" },
		     without = { .host = "x", .cert = "/dev/null", .key = "/dev/null" },
		     none = { .host = "x", .ca = "/nonexistent/ca" },
		     all = { .host = "x", .ca = "/dev/null", .cert = "/dev/null", .key = "/dev/null" };

	(void)state;
	assert_false(finish(&cert));
	assert_non_null(strstr(why, "go together"));
	assert_false(finish(&without));
	assert_non_null(strstr(why, "--ca"));
	assert_false(finish(&none));
	assert_non_null(strstr(why, "/nonexistent/ca"));
	assert_true(finish(&all));
}

static void password(void **state)
{
	struct login login = { .host = "localhost", .user = "u", .password_file = file };
	char longest[LOGIN_PASSWORD_BYTES + 2];

	(void)state;
	put("correct horse\r\nsecond", 21, 0600);
	assert_true(finish(&login));
	assert_string_equal(login.password, "correct horse");
	put("x", 1, 0640); /* a group of ours may */
	assert_true(finish(&login));
	put("x", 1, 0604);
	assert_false(finish(&login));
	assert_non_null(strstr(why, "chmod 0600"));
	put("\nx", 2, 0600);
	assert_false(finish(&login));
	put("a\0b", 3, 0600);
	assert_false(finish(&login));
	memset(longest, 'x', sizeof longest);
	put(longest, LOGIN_PASSWORD_BYTES, 0600);
	assert_true(finish(&login));
	assert_int_equal(strlen(login.password), LOGIN_PASSWORD_BYTES);
	put(longest, LOGIN_PASSWORD_BYTES + 1, 0600);
	assert_false(finish(&login));
	login.password_file = folder;
	assert_false(finish(&login));
	login.password_file = "/nonexistent/password";
	assert_false(finish(&login));
	assert_non_null(strstr(why, "can't be read"));
}

/* Not in the open to another machine, unless somebody says so. */
static void in_the_open(void **state)
{
	struct login login = { .host = "127.example.org", .user = "u", .password_file = file };

	(void)state;
	put("correct horse", 13, 0600);
	assert_false(finish(&login));
	assert_non_null(strstr(why, "use TLS"));
	assert_null(strstr(why, "correct horse"));
	assert_null(login.password);
	login.clear_password = true;
	assert_true(finish(&login));
	login.clear_password = false;
	login.ca = LOGIN_CA_SYSTEM;
	assert_true(finish(&login));
	login.user = NULL;
	assert_false(finish(&login));
	assert_non_null(strstr(why, "--user"));
}

/* systemd.exec(5), LoadCredential=. */
static void credential(void **state)
{
	struct login login = { .host = "localhost", .user = "u" }, nobody = { .host = "localhost" };

	(void)state;
	put("from systemd\n", 13, 0400);
	assert_return_code(setenv("CREDENTIALS_DIRECTORY", folder, 1), errno);
	assert_true(finish(&login));
	assert_string_equal(login.password, "from systemd");
	assert_true(finish(&nobody)); /* who has no name needs none */
	assert_null(nobody.password);
	assert_return_code(unlink(file), errno);
	login.password = NULL;
	assert_true(finish(&login));
	assert_null(login.password);
	assert_return_code(unsetenv("CREDENTIALS_DIRECTORY"), errno);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(local),    cmocka_unit_test(ports),       cmocka_unit_test(tls),
		cmocka_unit_test(password), cmocka_unit_test(in_the_open), cmocka_unit_test(credential),
	};
	int failed;

	if (!mkdtemp(folder))
		return 1;
	(void)snprintf(file, sizeof file, "%s/password", folder);
	failed = cmocka_run_group_tests(tests, NULL, NULL);
	(void)unlink(file);
	(void)rmdir(folder);
	return failed;
}
