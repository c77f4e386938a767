// SPDX-License-Identifier: MIT
/* The page that is printed: names are text whatever they hold, and nothing in it comes from elsewhere. */
#include "daemon/ctl/sheet_page.h"
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

#define NOW_MS INT64_C(1795610730000) /* 2026-11-25T12:45:30Z */

static char *page(const char *litter, const char *vet, const char *growth, const char *concerns, const char *orders,
		  const char *doses)
{
	const struct ctl ctl = { .now_ms = NOW_MS, .unit = QUANTITY_GRAMS, .utf8 = true };
	json_t *parts[] = { json_loads(growth, 0, NULL), json_loads(concerns, 0, NULL), json_loads(orders, 0, NULL),
			    json_loads(doses, 0, NULL) };
	char *text = NULL;
	size_t n = 0;
	FILE *to = open_memstream(&text, &n);

	assert_non_null(to);
	sheet_page(to, &ctl,
		   &(struct sheet){ .litter = litter,
				    .vet = vet,
				    .growth = parts[0],
				    .concerns = parts[1],
				    .orders = parts[2],
				    .doses = parts[3] });
	assert_int_equal(fclose(to), 0);
	for (size_t i = 0; i < sizeof parts / sizeof *parts; i++) {
		assert_non_null(parts[i]);
		json_decref(parts[i]);
	}
	return text;
}

static void test_odd_names(void **state)
{
	char *text = page(
		"<b>&\"x'", "<script>alert(1)</script>",
		"[{\"name\":\"</td><img "
		"src=x>\",\"newest_g\":304.0,\"newest\":\"2026-11-25T06:00:00Z\",\"verdict\":\"gaining\"},"
		"{\"name\":\"a\\u0007b\\nc\",\"verdict\":\"too soon\"}]",
		"[{\"name\":\"<i>\",\"level\":\"vet\",\"text\":\"<u>\",\"advice\":\"Call.\"}]",
		"[{\"order\":\"o1\",\"name\":\"<s>\",\"what\":\"<p>\",\"amount\":\"10 mL/kg\",\"route\":\"by mouth\","
		"\"most_24h\":\"40 mL/kg\",\"every_h\":6,\"until\":\"2026-11-26T06:00:00Z\",\"vet\":\"<em>\"}]",
		"[{\"order\":\"o1\",\"animal\":\"<a>\",\"ml\":3.0,\"at_ms\":1795600000000}]");
	static const char *const never[] = { "<script", "<img", "<i>",   "<u>",    "<s>", "<em>",
					     "<a>",     "\a",   "http:", "https:", "url(" };

	(void)state;
	for (size_t i = 0; i < sizeof never / sizeof *never; i++)
		if (strstr(text, never[i]))
			fail_msg("%s is in the page", never[i]);
	assert_non_null(strstr(text, "<title>&lt;b&gt;&amp;&quot;x&#39;</title>"));
	assert_non_null(strstr(text, "&lt;script&gt;alert(1)&lt;/script&gt;"));
	assert_non_null(strstr(text, "<td>&lt;/td&gt;&lt;img src=x&gt;</td><td>304 g</td>"));
	assert_non_null(strstr(text, "a?b?c"));
	assert_non_null(strstr(text, "<b>CALL YOUR VET NOW</b> &lt;i&gt;: &lt;u&gt;. Call."));
	assert_non_null(strstr(text, "&lt;a&gt;: last 3 mL at "));
	free(text);
}

/* A day after the last weighing; due at exactly that moment. */
static void test_due(void **state)
{
	char *text;

	(void)state;
	(void)setenv("TZ", "UTC0", 1);
	text = page("hedge", NULL,
		    "[{\"name\":\"Ash\",\"newest_g\":304.0,\"newest\":\"2026-11-24T12:45:30Z\",\"verdict\":\"flat\"},"
		    "{\"name\":\"Elm\",\"newest_g\":310.0,\"newest\":\"2026-11-24T12:46:30Z\",\"verdict\":\"gaining\"},"
		    "{\"name\":\"Fir\",\"verdict\":\"too soon\"}]",
		    "[]",
		    "[{\"order\":\"o1\",\"name\":null,\"what\":\"syrup\",\"amount\":\"4 mL\",\"route\":\"by "
		    "mouth\",\"most_24h\":\"8 mL\","
		    "\"every_h\":6,\"until\":\"2026-11-25T12:45:30Z\",\"vet\":\"v\"}]",
		    "[]");
	assert_non_null(strstr(text, "<td>flat</td><td>weigh now</td>"));
	assert_non_null(strstr(text, "<td>gaining</td><td>2026-11-25 12:46</td>"));
	assert_non_null(strstr(text, "<td>never</td><td>-</td><td>too soon</td><td>weigh now</td>"));
	assert_null(strstr(text, "syrup")); /* its time is over: not in force */
	assert_non_null(strstr(text, "Give nothing that your vet hasn't ordered."));
	assert_non_null(strstr(text, "No rule has fired. That isn't the same as well."));
	assert_non_null(strstr(text, "(write the number here"));
	assert_non_null(strstr(text, "@page"));
	free(text);
}

int main(void)
{
	const struct CMUnitTest tests[] = { cmocka_unit_test(test_odd_names), cmocka_unit_test(test_due) };

	return cmocka_run_group_tests(tests, NULL, NULL);
}
