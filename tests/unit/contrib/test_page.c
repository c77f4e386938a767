// SPDX-License-Identifier: MIT
/*
 * The pure parts of contrib/page. Hosts and origins: RFC 9110, 7.2; RFC 6454, 6.1 and 7; RFC 3986, 3.2.2. Loopback: RFC
 * 1122, 3.2.1.3 and RFC 4291, 2.5.3; mapped addresses: RFC 4291, 2.5.5.2.
 */
#include "contrib/page/allow.h"
#include "contrib/page/host.h"
#include "contrib/page/rate.h"
#include "contrib/page/route.h"
#include <arpa/inet.h>
#include <netinet/in.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>

static void test_hosts(void **state)
{
	static const char *const names[] = { "whelping.lan", "box" };
	static const char *const ours[] = {
		"127.0.0.1",         "127.0.0.1:8023", "192.0.2.7:1",  "[::1]",      "[::1]:8023",
		"[2001:db8::7]",     "localhost",      "LocalHost:80", "localhost.", "whelping.lan",
		"WHELPING.lan.:443", "box:65535",      "box:", /* an empty port is the default one */
	};
	static const char *const others[] = { "",
					      ":80",
					      "evil.example",
					      "127.0.0.1.evil.example",
					      "localhost.evil.example",
					      "xlocalhost",
					      "whelping.lan.evil",
					      "::1",
					      "[::1",
					      "[127.0.0.1]",
					      "[box]",
					      "box:80:80",
					      "box:x",
					      "box:123456",
					      "127.1",
					      "0x7f.0.0.1",
					      "[::1]x",
					      "box " };

	(void)state;
	for (size_t i = 0; i < sizeof ours / sizeof *ours; i++)
		if (!host_is_ours(ours[i], names, 2))
			fail_msg("\"%s\" isn't ours", ours[i]);
	for (size_t i = 0; i < sizeof others / sizeof *others; i++)
		if (host_is_ours(others[i], names, 2))
			fail_msg("\"%s\" is ours", others[i]);
	assert_false(host_is_ours(NULL, names, 2));
	assert_false(host_is_ours("box", names, 0));
}

static void test_origins(void **state)
{
	(void)state;
	assert_true(host_is_origin(NULL, "box:80", false));
	assert_true(host_is_origin("http://box:80", "box:80", false));
	assert_true(host_is_origin("https://BOX", "box", false)); /* a proxy speaks TLS before us */
	assert_true(host_is_origin("https://box:8443", "box:8443", true));
	assert_false(host_is_origin("http://box:8443", "box:8443", true));
	assert_false(host_is_origin("http://box", "box:80", false));
	assert_false(host_is_origin("http://box.evil", "box", false));
	assert_false(host_is_origin("http://box/", "box", false));
	assert_false(host_is_origin("null", "box", false));
	assert_false(host_is_origin("null", "null", false));
	assert_false(host_is_origin("", "", false));
	assert_false(host_is_origin("http://box", NULL, false));
	assert_false(host_is_cross(NULL));
	assert_false(host_is_cross("same-origin"));
	assert_false(host_is_cross("none"));
	assert_true(host_is_cross("same-site"));
	assert_true(host_is_cross("cross-site"));
	assert_true(host_is_cross(""));
}

static void check_address(const char *text, int family, const char *address, unsigned port, bool loopback)
{
	struct sockaddr_storage parsed;
	struct sockaddr_in v4;
	struct sockaddr_in6 v6;
	socklen_t length;
	char shown[INET6_ADDRSTRLEN];

	assert_true(host_address(text, &parsed, &length));
	assert_int_equal(parsed.ss_family, family);
	memcpy(&v4, &parsed, sizeof v4);
	memcpy(&v6, &parsed, sizeof v6);
	assert_non_null(inet_ntop(family, family == AF_INET ? (void *)&v4.sin_addr : (void *)&v6.sin6_addr, shown,
				  sizeof shown));
	assert_string_equal(shown, address);
	assert_int_equal(ntohs(family == AF_INET ? v4.sin_port : v6.sin6_port), port);
	assert_int_equal(length, family == AF_INET ? sizeof v4 : sizeof v6);
	assert_int_equal(host_is_loopback((struct sockaddr *)&parsed), loopback);
}

static void test_addresses(void **state)
{
	static const char *const wrong[] = {
		"",        "127.0.0.1",   "127.0.0.1:",  "127.0.0.1:65536",  "127.0.0.1:-1", "127.0.0.1: 1",
		"host:80", "::1:80",      "[::1]",       "[::1]80",          "[1.2.3.4]:80", "1.2.3:80",
		":8023 ",  "1.2.3.4:80x", "[::1%lo]:80", "http://1.2.3.4:80"
	};
	struct sockaddr_storage parsed;
	socklen_t length;

	(void)state;
	check_address("127.0.0.1:8023", AF_INET, "127.0.0.1", 8023, true);
	check_address(":0", AF_INET, "127.0.0.1", 0, true);
	check_address("localhost:80", AF_INET, "127.0.0.1", 80, true);
	check_address("127.255.255.254:1", AF_INET, "127.255.255.254", 1, true);
	check_address("[::1]:65535", AF_INET6, "::1", 65535, true);
	check_address("[::ffff:127.0.0.1]:80", AF_INET6, "::ffff:127.0.0.1", 80, true);
	check_address("0.0.0.0:80", AF_INET, "0.0.0.0", 80, false);
	check_address("128.0.0.1:80", AF_INET, "128.0.0.1", 80, false);
	check_address("[::]:80", AF_INET6, "::", 80, false);
	check_address("[::ffff:192.0.2.1]:80", AF_INET6, "::ffff:192.0.2.1", 80, false);
	for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++)
		if (host_address(wrong[i], &parsed, &length))
			fail_msg("\"%s\" is taken", wrong[i]);
}

static bool same(const char *a, const char *b)
{
	struct sockaddr_storage one, two;
	socklen_t length;

	assert_true(host_address(a, &one, &length) && host_address(b, &two, &length));
	return host_same((struct sockaddr *)&one, (struct sockaddr *)&two);
}

static void test_one_host(void **state)
{
	(void)state;
	assert_true(same("192.0.2.1:1", "192.0.2.1:2"));
	assert_false(same("192.0.2.1:1", "192.0.2.2:1"));
	assert_true(same("[2001:db8::1]:1", "[2001:db8::ffff:1:2]:1"));
	assert_false(same("[2001:db8::1]:1", "[2001:db8:0:1::1]:1"));
	assert_false(same("[::ffff:192.0.2.1]:1", "[::ffff:192.0.2.2]:1"));
	assert_false(same("192.0.2.1:1", "[2001:db8::1]:1"));
}

static void test_rate(void **state)
{
	struct rate rate = { 0 };
	unsigned retry = 0;
	uint64_t now = UINT64_C(5000000000);

	(void)state;
	for (int i = 0; i < 10; i++)
		assert_true(rate_take(&rate, 10, 0.5, now, &retry));
	assert_false(rate_take(&rate, 10, 0.5, now, &retry));
	assert_int_equal(retry, 3); /* the token is back after 2 s; told a second more than it takes at most */
	assert_false(rate_take(&rate, 10, 0.5, now + 1900000, &retry));
	assert_int_equal(retry, 1);
	assert_true(rate_take(&rate, 10, 0.5, now + 2100000, &retry));
	assert_false(rate_take(&rate, 10, 0.5, now + 2100000, &retry));
	/* refusals don't put it off; and it is never fuller than full */
	now += UINT64_C(86400000000);
	for (int i = 0; i < 10; i++)
		assert_true(rate_take(&rate, 10, 0.5, now, &retry));
	assert_false(rate_take(&rate, 10, 0.5, now, &retry));
}

static void test_routes(void **state)
{
	(void)state;
	assert_non_null(route_find("/", "GET"));
	assert_non_null(route_find("/", "HEAD"));
	assert_null(route_find("/", "POST"));
	assert_true(route_find("/pair", "POST")->kind == ROUTE_PAIR);
	assert_true(route_find("/pair", "GET")->kind == ROUTE_ASSET);
	assert_null(route_find("/events", "HEAD"));
	assert_null(route_find("/call", "GET"));
	assert_true(route_known("/call"));
	assert_false(route_known("/../etc/passwd"));
	assert_false(route_known(""));
	assert_null(route_find("/call", "post")); /* methods are case-sensitive: RFC 9110, 9.1 */
}

static void test_allowed(void **state)
{
	static const char *const refused[] = {
		"",           "hello",     "follow",    "scale.adopt",    "scale.forget", "litter.close", "animal.gone",
		"animal.add", "order.add", "order.end", "whelping.begin", "Answer"
	};

	(void)state;
	assert_true(allow_find("answer")->by);
	assert_false(allow_find("growth")->by);
	for (size_t i = 0; i < sizeof refused / sizeof *refused; i++)
		assert_null(allow_find(refused[i]));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_hosts),    cmocka_unit_test(test_origins), cmocka_unit_test(test_addresses),
		cmocka_unit_test(test_one_host), cmocka_unit_test(test_rate),    cmocka_unit_test(test_routes),
		cmocka_unit_test(test_allowed),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
