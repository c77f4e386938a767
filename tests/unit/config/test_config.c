// SPDX-License-Identifier: MIT
/*
 * bismard.conf and the command line: what is taken, what is told of what is wrong (each with its line), and what goes
 * on. argv[1] is the sample, systemd/bismard.conf, which must hold true.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <cmocka.h>
#include "daemon/config.h"
#include "daemon/limits.h"
#include <errno.h>
#include <fcntl.h>
#include <syslog.h>
#include <sys/resource.h>
#include <unistd.h>

#define N_OF(array) (sizeof(array) / sizeof((array)[0]))
#define TEXT_SIZE 65536
#define SOURCE "service-data = 181b\n"
#define REST "width = 2\nfactor = 0.1\nunit = g\n"
#define WHOLE SOURCE REST
#define OUT "; leaving the format out\n"

static char path[64];
static const char *sample;
static char told[TEXT_SIZE];

static void write_file(const char *text, size_t n)
{
	FILE *file = fopen(path, "we");

	assert_non_null(file);
	assert_int_equal(fwrite(text, 1, n, file), n);
	assert_int_equal(fclose(file), 0);
}

/* What is said on standard error from here to end_telling() goes to told. */
static int begin_telling(FILE **ret)
{
	int saved = fcntl(STDERR_FILENO, F_DUPFD_CLOEXEC, 0);

	assert_true(saved >= 0);
	*ret = tmpfile();
	assert_non_null(*ret);
	assert_true(dup2(fileno(*ret), STDERR_FILENO) >= 0);
	return saved;
}

static void end_telling(int saved, FILE *file)
{
	(void)fflush(stderr);
	assert_true(dup2(saved, STDERR_FILENO) >= 0);
	(void)close(saved);
	rewind(file);
	told[fread(told, 1, sizeof told - 1, file)] = '\0';
	(void)fclose(file);
}

static enum config_outcome run(struct config *ret, const char *const *options)
{
	char words[8][512] = { "bismard" };
	char *argv[9] = { words[0] };
	enum config_outcome outcome;
	FILE *file;
	int argc = 1, saved;

	for (; options && options[argc - 1]; argc++) {
		(void)snprintf(words[argc], sizeof words[argc], "%s", options[argc - 1]);
		argv[argc] = words[argc];
	}
	saved = begin_telling(&file);
	outcome = config_read(argc, argv, ret);
	end_telling(saved, file);
	return outcome;
}

static enum config_outcome read_text(const char *text, struct config *ret)
{
	write_file(text, strlen(text));
	return run(ret, (const char *const[]){ "--config", path, NULL });
}

static enum config_outcome reload(const struct config *old, struct config *ret)
{
	enum config_outcome outcome;
	FILE *file;
	int saved = begin_telling(&file);

	outcome = config_reload(old, ret);
	end_telling(saved, file);
	return outcome;
}

/* expected: "LINE: what\n"...; each line was told with this before it. */
static void assert_told(const char *before, const char *expected)
{
	char whole[TEXT_SIZE] = "";
	size_t used = 0;

	while (*expected && used < sizeof whole) {
		int n = (int)strcspn(expected, "\n");
		used += (size_t)snprintf(whole + used, sizeof whole - used, "%s%s:%.*s\n", before, path, n, expected);
		expected += n + 1;
	}
	assert_string_equal(told, whole);
}

/* ---- the command line and the defaults ---- */

static void test_defaults(void **state)
{
	struct config config;

	(void)state;
	assert_int_equal(read_text("", &config), CONFIG_OK);
	assert_string_equal(told, "");
	assert_string_equal(config.state, "/var/lib/bismar");
	assert_string_equal(config.socket, "/run/bismar/prompt.sock");
	assert_int_equal(config.log_level, LOG_INFO);
	assert_int_equal(config.n_formats, 0);
	assert_string_equal(config.file, path);
	assert_int_equal(config.given, CONFIG_GIVEN_FILE);
}

static void test_order(void **state)
{
	static const char text[] = "[daemon]\nstate=/file\nsocket = /file.sock\nlog-level =debug\n";
	struct config config;

	(void)state;
	assert_int_equal(setenv("STATE_DIRECTORY", "/env:/second", 1), 0);
	assert_int_equal(setenv("RUNTIME_DIRECTORY", "/run/env", 1), 0);
	assert_int_equal(read_text("", &config), CONFIG_OK);
	assert_string_equal(config.state, "/env");
	assert_string_equal(config.socket, "/run/env/prompt.sock");
	assert_int_equal(read_text(text, &config), CONFIG_OK);
	assert_string_equal(config.state, "/file");
	assert_string_equal(config.socket, "/file.sock");
	assert_int_equal(config.log_level, LOG_DEBUG);
	assert_int_equal(
		run(&config, (const char *const[]){ "--config", path, "--state", "/line", "--log-level", "err", NULL }),
		CONFIG_OK);
	assert_string_equal(config.state, "/line");
	assert_string_equal(config.socket, "/file.sock");
	assert_int_equal(config.log_level, LOG_ERR);
	assert_int_equal(config.given, CONFIG_GIVEN_FILE | CONFIG_GIVEN_STATE | CONFIG_GIVEN_LOG_LEVEL);
	assert_int_equal(unsetenv("STATE_DIRECTORY"), 0);
	assert_int_equal(unsetenv("RUNTIME_DIRECTORY"), 0);
}

static void test_wrong_use(void **state)
{
	static const struct {
		const char *options[7], *words;
		enum config_outcome outcome;
	} rows[] = {
		{ { "--nonsense" }, "usage:", CONFIG_WRONG },
		{ { "--state" }, "usage:", CONFIG_WRONG },
		{ { "stray" }, "\"stray\"", CONFIG_WRONG },
		{ { "--config", "/dev/null", "--log-level", "loud" }, "debug", CONFIG_WRONG },
		{ { "--config", "/dev/null", "--state", "" }, "a path is empty", CONFIG_WRONG },
		{ { "--config", "" }, "--config takes", CONFIG_WRONG },
		{ { "--config", "/nowhere/at.all" }, "can't read /nowhere/at.all: No such file", CONFIG_WRONG },
		{ { "--config", "/tmp" }, "can't read /tmp: Is a directory", CONFIG_WRONG },
		{ { "--config", "/dev/null" }, "", CONFIG_OK },
	};
	struct config config, before;

	(void)state;
	for (size_t i = 0; i < N_OF(rows); i++) {
		memset(&config, 0xA5, sizeof config);
		before = config;
		assert_int_equal(run(&config, rows[i].options), rows[i].outcome);
		assert_non_null(strstr(told, rows[i].words));
		if (rows[i].outcome != CONFIG_OK)
			assert_memory_equal(&config, &before, sizeof config);
	}
}

/* For want of descriptors: nothing that a person must put right, so a service manager may try again. */
static void test_cannot_read_now(void **state)
{
	char *argv[] = { "bismard", "--config", "/dev/null", NULL };
	struct rlimit before, none;
	struct config config;
	FILE *file;
	int saved;

	(void)state;
	assert_int_equal(getrlimit(RLIMIT_NOFILE, &before), 0);
	none = before;
	none.rlim_cur = 0;
	saved = begin_telling(&file);
	assert_int_equal(setrlimit(RLIMIT_NOFILE, &none), 0);
	enum config_outcome outcome = config_read(3, argv, &config);
	assert_int_equal(setrlimit(RLIMIT_NOFILE, &before), 0);
	end_telling(saved, file);
	assert_int_equal(outcome, CONFIG_UNREAD);
	assert_non_null(strstr(told, "can't read /dev/null: Too many open files"));
}

/* ---- wrong lines ---- */

static const struct {
	const char *text, *told;
	enum config_outcome outcome;
	size_t n_formats;
} wrong[] = {
	/* bismard doesn't begin */
	{ "[daemon]\nstate =\n", "2: state takes a directory, as a path, not \"\"\n", CONFIG_WRONG,
	  0 },
	{ "\n\n[daemon]\nsocket= ;none\n", "4: socket takes a path, not \"\"\n", CONFIG_WRONG, 0 },
	/* it does, without the line */
	{ "[daemon]\nstat = /tmp\n",
	  "2: there is no setting \"stat\" in [daemon], only state, socket and log-level; ignoring it\n", CONFIG_OK,
	  0 },
	{ "[daemon]\nlog-level = loud\n", "2: log-level takes err, warning, info or debug, not \"loud\"; ignoring it\n",
	  CONFIG_OK, 0 },
	{ "[people]\nunits = kg\nstate = /x\n",
	  "2: units takes g or oz, not \"kg\"; ignoring it\n"
	  "3: there is no setting \"state\" in [people], only units; ignoring it\n",
	  CONFIG_OK, 0 },
	{ "[demon]\nstate =\nnonsense = 1\n[people]\nunits = lb\n",
	  "1: there is no section [demon], only [daemon], [people] and [format NAME]; ignoring it\n"
	  "5: units takes g or oz, not \"lb\"; ignoring it\n",
	  CONFIG_OK, 0 },
	{ "[Daemon]\n[formats x]\n[format]x\n",
	  "1: there is no section [Daemon], only [daemon], [people] and [format NAME]; ignoring it\n"
	  "2: there is no section [formats x], only [daemon], [people] and [format NAME]; ignoring it\n"
	  "3: a section ends with ], as in [daemon]; ignoring it\n",
	  CONFIG_OK, 0 },
	{ "state = /x\n", "1: a setting stands below its section, [daemon] for instance; ignoring it\n", CONFIG_OK, 0 },
	{ "[daemon\nstate =\n[daemon]\nstate\n",
	  "1: a section ends with ], as in [daemon]; ignoring it\n"
	  "4: expected [section] or key = value; ignoring it\n",
	  CONFIG_OK, 0 },
	{ "[daemon]\nlog-level = \xFF\n", "2: not text in UTF-8; ignoring it\n", CONFIG_OK, 0 },
	{ "[daemon]\n# \xC3\xBC is, \xC3 isn't\n#\xED\xA0\x80\n#\xF4\x90\x80\x80\n#\xE0\x80\xBC\n#\x1B\n",
	  "2: not text in UTF-8; ignoring it\n3: not text in UTF-8; ignoring it\n4: not text in UTF-8; ignoring it\n"
	  "5: not text in UTF-8; ignoring it\n6: not text in UTF-8; ignoring it\n",
	  CONFIG_OK, 0 },
	/* a format, alone */
	{ "[format]\n" WHOLE, "1: format \"\": it needs a name, as in [format kitchen]" OUT, CONFIG_OK, 0 },
	{ "[format 0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcdef+]\n" WHOLE,
	  "1: format \"0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcdef\": its name has more than 64 "
	  "octets" OUT,
	  CONFIG_OK, 0 },
	{ "[format a]\n" WHOLE "[format a]\nmanufacturer=0x1\n" REST,
	  "6: format \"a\": there is one of that name above; give it another" OUT, CONFIG_OK, 1 },
	{ "[format a]\n" WHOLE "[format b]\nservice-data = 0000181B-0000-1000-8000-00805F9B34FB\n" REST,
	  "7: format \"b\": format \"a\" reads the same already" OUT, CONFIG_OK, 1 },
	{ "[format a]\nmanufacturer = 0x4D2\n" REST "[format b]\nmanufacturer = 0x04d2\n" REST "[format c]\n" WHOLE,
	  "7: format \"b\": format \"a\" reads the same already" OUT, CONFIG_OK, 2 },
	{ "[format a]\n",
	  "1: format \"a\": it needs one of characteristic, service-data and manufacturer" OUT
	  "1: format \"a\": it needs width: the octets of the mass, 1 to 8" OUT
	  "1: format \"a\": it needs factor: a number above 0 with a point, like 1, 0.001 or 5e-3" OUT
	  "1: format \"a\": it needs unit: kg, g, lb or oz" OUT,
	  CONFIG_OK, 0 },
	{ "[format a]\n" WHOLE "manufacturer = 0x1\n",
	  "6: format \"a\": it takes one of characteristic, service-data and manufacturer, and line 2 has one "
	  "already" OUT,
	  CONFIG_OK, 0 },
	{ "[format a]\n" WHOLE "unit = kg\n", "6: format \"a\": unit stands in line 5 already" OUT, CONFIG_OK, 0 },
	{ "[format a]\n" WHOLE "ofset = 2\n",
	  "6: format \"a\": there is no setting \"ofset\" in a format, only characteristic, service-data, "
	  "manufacturer, offset, "
	  "width, signed, endian, factor, unit, steady-bit, tare-bit, reports" OUT,
	  CONFIG_OK, 0 },
	{ "[format a]\n" WHOLE "offset 2\n", "6: format \"a\": expected [section] or key = value" OUT, CONFIG_OK, 0 },
	{ "[format a]\n" WHOLE "# \xFF\n", "6: format \"a\": not text in UTF-8" OUT, CONFIG_OK, 0 },
	{ "[format a]\n" WHOLE "offset = 511\n",
	  "1: format \"a\": offset and width go past 512 octets, the longest value there is" OUT, CONFIG_OK, 0 },
	{ "[format a]\n" SOURCE "width = 1\nunit = kg\nfactor = 1000.000001\n",
	  "5: format \"a\": with this factor and unit, a count of 1 is over a tonne" OUT, CONFIG_OK, 0 },
	/* the format before, the one after, and the daemon's settings count */
	{ "[format a]\n" WHOLE "[format b]\nmanufacturer = 0x1\nwidth = 9\nfactor = 0,1\nunit = st\n[format c]\n"
	  "manufacturer = 0x2\n" REST "[daemon]\nlog-level = debug\n",
	  "8: format \"b\": width takes the octets of the mass, 1 to 8, not \"9\"" OUT
	  "9: format \"b\": factor takes a number above 0 with a point, like 1, 0.001 or 5e-3, not \"0,1\"" OUT
	  "10: format \"b\": unit takes kg, g, lb or oz, not \"st\"" OUT,
	  CONFIG_OK, 2 },
};

static void test_wrong(void **state)
{
	struct config config;

	(void)state;
	for (size_t i = 0; i < N_OF(wrong); i++) {
		print_message("  %s", wrong[i].told);
		assert_int_equal(read_text(wrong[i].text, &config), wrong[i].outcome);
		assert_told("bismard: ", wrong[i].told);
		if (wrong[i].outcome == CONFIG_OK)
			assert_int_equal(config.n_formats, wrong[i].n_formats);
	}
	assert_int_equal(config.log_level, LOG_DEBUG); /* the last row's last line */
}

/* One wrong value of each setting of a format; the rest of the format is right. */
static void test_wrong_values(void **state)
{
	static const struct {
		const char *key, *values[12];
	} rows[] = {
		{ "characteristic",
		  { "", "2a9", "2a9g", "0x2a9d", "00002a9d00001000800000805f9b34fb",
		    "00002a9d-0000-1000-8000-00805f9b34f", "00002a9d-0000-1000-8000-00805f9b34fbb",
		    "00002a9d-0000-1000-8000+00805f9b34fb", "00002a9d-0000-1000-8000-00805f9b34fx",
		    "------------------------------------" } },
		{ "service-data", { "fcd", "FCD2 ,", "*" } },
		{ "manufacturer", { "", "0x", "04d2", "1234", "0x104d2", "0xg", "x1", "0x-1" } },
		{ "offset", { "", "-1", "+1", "512", "0x2", "2.0", "two", "99999999999999999999", "1 2" } },
		{ "width", { "", "0", "9", "-2", "16 bit", "24" } },
		{ "signed", { "", "true", "1", "Yes", "y" } },
		{ "endian", { "", "Big", "le", "middle" } },
		{ "factor", { "", "0", "0.000", "-1", "+1", "0,1", ".", "e3", "1e", "1e31", "1e-31" } },
		{ "factor",
		  { "1.2.3", "0x1", "1/10", "nan", "inf", "1 000", "1234567890123456789", "1e5e5", "1e-", "10g",
		    "100e30" } },
		{ "unit", { "", "KG", "mg", "gram", "st", "kg lb" } },
		{ "steady-bit", { "", "1", "1.", ".1", "1.8", "512.0", "1,0", "1.0.0", "-1.0", "0x1.0" } },
		{ "tare-bit", { "", "5.9", "b.1" } },
		{ "reports", { "", "Stream", "results", "both" } },
	};
	char text[512], expected[256];
	struct config config;

	(void)state;
	for (size_t i = 0; i < N_OF(rows); i++)
		for (size_t v = 0; v < N_OF(rows[i].values) && rows[i].values[v]; v++) {
			bool source = strstr("characteristic service-data manufacturer", rows[i].key);

			(void)snprintf(text, sizeof text, "[format a]\n%s = %s\n%s%s%s%s", rows[i].key,
				       rows[i].values[v], source ? "" : SOURCE,
				       strcmp(rows[i].key, "width") ? "width = 2\n" : "",
				       strcmp(rows[i].key, "factor") ? "factor = 1\n" : "",
				       strcmp(rows[i].key, "unit") ? "unit = g\n" : "");
			(void)snprintf(expected, sizeof expected, "bismard: %s:2: format \"a\": %s takes ", path,
				       rows[i].key);
			assert_int_equal(read_text(text, &config), CONFIG_OK);
			assert_int_equal(config.n_formats, 0);
			if (strncmp(told, expected, strlen(expected)) != 0 || strchr(told, '\n')[1] != '\0')
				fail_msg("%s = %s: %s", rows[i].key, rows[i].values[v], told);
		}
}

static void test_nul(void **state)
{
	static const char text[] = "[daemon]\nlog-level = debug\0\nstate = /x\n";
	struct config config;

	(void)state;
	write_file(text, sizeof text - 1);
	assert_int_equal(run(&config, (const char *const[]){ "--config", path, NULL }), CONFIG_OK);
	assert_told("bismard: ", "2: not text in UTF-8; ignoring it\n");
	assert_string_equal(config.state, "/x");
}

/* A line that would be cut is told; one that may say where the database is stops the start. */
static void test_line_lengths(void **state)
{
	char text[512], name[256];
	struct config config;

	(void)state;
	memset(name, 'x', sizeof name);
	name[0] = '/';
	name[198 - strlen("state = ") + 1] = '\0'; /* 199 octets */
	(void)snprintf(text, sizeof text, "[daemon]\nstate = %s\n", name);
	assert_int_equal(read_text(text, &config), CONFIG_WRONG);
	assert_told("bismard: ", "2: a line has 198 octets at most; ignoring it\n");
	name[198 - strlen("state = ")] = '\0';
	(void)snprintf(text, sizeof text, "[daemon]\nstate = %s\n", name);
	assert_int_equal(read_text(text, &config), CONFIG_OK);
	assert_string_equal(config.state, name);
	name[198 - strlen("state = ")] = 'x';
	(void)snprintf(text, sizeof text, "[format a]\nunit = %s\n", name);
	assert_int_equal(read_text(text, &config), CONFIG_OK);
	assert_int_equal(config.n_formats, 0);
	name[240] = '\0';
	(void)snprintf(text, sizeof text, "[daemon]\n# %s\nlog-level = err\n", name); /* a comment may be longer */
	assert_int_equal(read_text(text, &config), CONFIG_OK);
	assert_int_equal(config.log_level, LOG_ERR);
}

/* ---- formats ---- */

static void test_usual_values(void **state)
{
	struct config config;
	const struct declared *d = &config.formats[0];

	(void)state;
	/* white space, an indent, comments, a byte order mark, CR LF, and no newline at the end */
	assert_int_equal(read_text("\xEF\xBB\xBF# first\r\n; second\r\n\t[format \t K\xC3\xBC"
				   "che 1 ]  ; third\r\n  characteristic\t=\t2A98\r\n"
				   " width=8 ; octets\r\nfactor = 1\r\nunit = lb",
				   &config),
			 CONFIG_OK);
	assert_string_equal(told, "");
	assert_int_equal(config.n_formats, 1);
	assert_string_equal(d->name, "K\xC3\xBC"
				     "che 1");
	assert_int_equal(d->source, DECLARED_CHARACTERISTIC);
	assert_string_equal(d->uuid, "00002a98-0000-1000-8000-00805f9b34fb");
	assert_int_equal(d->offset, 0);
	assert_int_equal(d->width, 8);
	assert_false(d->is_signed);
	assert_false(d->big_endian);
	assert_int_equal(d->factor, 1);
	assert_int_equal(d->exponent, 0);
	assert_int_equal(d->unit, MASS_POUND);
	assert_int_equal(d->steady_bit, DECLARED_NO_BIT);
	assert_int_equal(d->tare_bit, DECLARED_NO_BIT);
	assert_int_equal(d->reports, DECLARED_STREAM);
}

static void test_all_values(void **state)
{
	struct config config;
	const struct declared *d = &config.formats[0];

	(void)state;
	assert_int_equal(
		read_text("[format a]\nservice-data = 3D1C0A52-86fb-4e1e-9c40-7b5a2f6e9d13\noffset = 504\nwidth = 8\n"
			  "signed = yes\nendian = big\nfactor = 0.0250\nunit = oz\nsteady-bit = 511.7\ntare-bit = 0.0\n"
			  "reports = stream\n[format b]\nmanufacturer = 0Xab\n" REST,
			  &config),
		CONFIG_OK);
	assert_string_equal(told, "");
	assert_int_equal(config.n_formats, 2);
	assert_int_equal(d->source, DECLARED_SERVICE_DATA);
	assert_string_equal(d->uuid, "3d1c0a52-86fb-4e1e-9c40-7b5a2f6e9d13");
	assert_int_equal(d->offset, 504);
	assert_true(d->is_signed);
	assert_true(d->big_endian);
	assert_int_equal(d->factor, 25);
	assert_int_equal(d->exponent, -3);
	assert_int_equal(d->unit, MASS_OUNCE);
	assert_int_equal(d->steady_bit, 511 * 8 + 7);
	assert_int_equal(d->tare_bit, 0);
	assert_int_equal(d->reports, DECLARED_STREAM);
	assert_int_equal(config.formats[1].source, DECLARED_MANUFACTURER);
	assert_int_equal(config.formats[1].company, 0xAB);
	assert_int_equal(config.formats[1].reports, DECLARED_RESULT);
}

/* By hand: the decimal's own digits. */
static void test_factors(void **state)
{
	static const struct {
		const char *text;
		int64_t mantissa;
		int exponent;
	} rows[] = {
		{ "1", 1, 0 },
		{ "0.001", 1, -3 },
		{ "5e-3", 5, -3 },
		{ "5E-3", 5, -3 },
		{ "1e+2", 1, 2 },
		{ "200", 2, 2 },
		{ "007.50", 75, -1 },
		{ ".5", 5, -1 },
		{ "5.", 5, 0 },
		{ "0.1", 1, -1 },
		{ "28.349523125", INT64_C(28349523125), -9 },
		{ "0.000000000000000000000000000001", 1, -30 },
		{ "0.00000000000000000123456789012345678", INT64_C(123456789012345678) / 2 * 2, -35 },
		{ "123456789012345678e-18", INT64_C(123456789012345678), -18 },
		{ "100000000000000000e-17", 1, 0 },
	};
	char text[256];
	struct config config;

	(void)state;
	for (size_t i = 0; i < N_OF(rows); i++) {
		(void)snprintf(text, sizeof text, "[format a]\n" SOURCE "width = 2\nunit = g\nfactor = %s\n",
			       rows[i].text);
		assert_int_equal(read_text(text, &config), CONFIG_OK);
		print_message("  %s %s", rows[i].text, told[0] ? told : "\n");
		if (rows[i].exponent < -30) { /* past what is taken */
			assert_int_equal(config.n_formats, 0);
			continue;
		}
		assert_int_equal(config.n_formats, 1);
		assert_int_equal(config.formats[0].factor, rows[i].mantissa);
		assert_int_equal(config.formats[0].exponent, rows[i].exponent);
	}
}

static void test_cap(void **state)
{
	char text[8192], expected[256];
	struct config config;
	size_t used = 0;

	(void)state;
	for (int i = 0; i <= CONFIG_FORMATS; i++)
		used += (size_t)snprintf(text + used, sizeof text - used, "[format %d]\nmanufacturer = 0x%x\n" REST, i,
					 i);
	assert_int_equal(read_text(text, &config), CONFIG_OK);
	assert_int_equal(config.n_formats, CONFIG_FORMATS);
	(void)snprintf(expected, sizeof expected,
		       "%d: format \"%d\": there are %d formats already, and no more are read" OUT,
		       CONFIG_FORMATS * 5 + 1, CONFIG_FORMATS, CONFIG_FORMATS);
	assert_told("bismard: ", expected);
}

/* ---- the sample ---- */

/* Every line "#key = value" and "#[section]" without its #: prose has a space there. */
static size_t uncomment(char *text, size_t size)
{
	FILE *file = fopen(sample, "re");
	char line[512];
	size_t used = 0, settings = 0;

	assert_non_null(file);
	while (fgets(line, sizeof line, file)) {
		bool off = line[0] == '#' && line[1] != ' ' && line[1] != '\n';

		settings += off;
		used += (size_t)snprintf(text + used, size - used, "%s", line + off);
		assert_true(used < size);
	}
	(void)fclose(file);
	return settings;
}

static void test_sample(void **state)
{
	static const uint8_t octets[] = { 0x05, 0x01, 0xd4, 0x0b, 0x00, 0x40 }; /* as the sample's text says */
	char text[8192];
	struct config config;
	struct payload payload;

	(void)state;
	assert_int_equal(run(&config, (const char *const[]){ "--config", sample, NULL }), CONFIG_OK);
	assert_string_equal(told, "");
	assert_int_equal(config.n_formats, 0);
	assert_int_equal(uncomment(text, sizeof text), 15);
	assert_int_equal(read_text(text, &config), CONFIG_OK);
	assert_string_equal(told, "");
	assert_string_equal(config.state, "/var/lib/bismar");
	assert_string_equal(config.socket, "/run/bismar/prompt.sock");
	assert_int_equal(config.n_formats, 1);
	assert_non_null(declared_for(config.formats, config.n_formats, DECLARED_MANUFACTURER, "0xffff"));
	assert_int_equal(declared_decode(&config.formats[0], (struct bytes){ octets, sizeof octets }, &payload),
			 PAYLOAD_OK);
	assert_int_equal(payload.mass_mg, 302800);
	assert_int_equal(payload.step_mg, 100);
	assert_int_equal(payload.unit, MASS_GRAM);
	assert_int_equal(payload.steady, PAYLOAD_STEADY_YES);
	assert_true(payload.tared);
	assert_int_equal(config.formats[0].reports, DECLARED_STREAM);
}

/* Whatever a format can be told is in the sample. */
static void test_sample_names_all(void **state)
{
	static const char *const keys[] = { "characteristic = ", "service-data = ", "manufacturer = ", "offset = ",
					    "width = ",          "signed = ",       "endian = ",       "factor = ",
					    "unit = ",           "steady-bit = ",   "tare-bit = ",     "reports = ",
					    "state = ",          "socket = ",       "log-level = ",    "units = " };
	char text[8192];

	(void)state;
	(void)uncomment(text, sizeof text);
	for (size_t i = 0; i < N_OF(keys); i++)
		assert_non_null(strstr(text, keys[i]));
}

/* ---- reading again ---- */

static void test_reload(void **state)
{
	struct config first, second;

	(void)state;
	write_file("[daemon]\nsocket = /a.sock\n", 26);
	assert_int_equal(run(&first, (const char *const[]){ "--config", path, "--state", "/line", NULL }), CONFIG_OK);
	write_file(
		"[daemon]\nstate = /file\nsocket = /b.sock\nlog-level = err\nnonsense = 1\n[format a]\n" WHOLE,
		strlen("[daemon]\nstate = /file\nsocket = /b.sock\nlog-level = err\nnonsense = 1\n[format a]\n" WHOLE));
	assert_int_equal(reload(&first, &second), CONFIG_OK);
	assert_non_null(strstr(told, ":5: there is no setting \"nonsense\" in [daemon]"));
	assert_non_null(strstr(told, "bismard: warning: socket stays /a.sock until bismard is started again"));
	assert_null(strstr(told, "state stays")); /* the command line's, whatever the file says */
	assert_string_equal(second.state, "/line");
	assert_string_equal(second.socket, "/a.sock");
	assert_int_equal(second.log_level, LOG_ERR);
	assert_int_equal(second.n_formats, 1);
	assert_string_equal(second.file, path);
	assert_int_equal(second.given, first.given);
	/* and in place; what the file no longer says is as if it had never been said */
	write_file("[daemon]\nsocket = /a.sock\nstate =\n", 34);
	assert_int_equal(reload(&second, &second), CONFIG_OK);
	assert_told("bismard: warning: ", "3: state takes a directory, as a path, not \"\"\n");
	assert_int_equal(second.n_formats, 0);
	assert_int_equal(second.log_level, LOG_INFO);
}

static void test_reload_keeps_level(void **state)
{
	struct config config;

	(void)state;
	write_file("", 0);
	assert_int_equal(run(&config, (const char *const[]){ "--config", path, "--log-level", "debug", NULL }),
			 CONFIG_OK);
	write_file("[daemon]\nlog-level = err\n", 25);
	assert_int_equal(reload(&config, &config), CONFIG_OK);
	assert_int_equal(config.log_level, LOG_DEBUG);
}

static void test_reload_unreadable(void **state)
{
	struct config first, second, before;

	(void)state;
	assert_int_equal(read_text("[format a]\n" WHOLE, &first), CONFIG_OK);
	assert_int_equal(unlink(path), 0);
	memset(&second, 0xA5, sizeof second);
	before = second;
	assert_int_equal(reload(&first, &second), CONFIG_WRONG);
	assert_non_null(strstr(told, "No such file or directory; the settings stay as they were"));
	assert_memory_equal(&second, &before, sizeof second);
	first.given &= ~(unsigned)CONFIG_GIVEN_FILE; /* the default file may go */
	assert_int_equal(reload(&first, &second), CONFIG_OK);
	assert_int_equal(second.n_formats, 0);
}

int main(int argc, char **argv)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_defaults),
		cmocka_unit_test(test_order),
		cmocka_unit_test(test_wrong_use),
		cmocka_unit_test(test_cannot_read_now),
		cmocka_unit_test(test_wrong),
		cmocka_unit_test(test_wrong_values),
		cmocka_unit_test(test_nul),
		cmocka_unit_test(test_line_lengths),
		cmocka_unit_test(test_usual_values),
		cmocka_unit_test(test_all_values),
		cmocka_unit_test(test_factors),
		cmocka_unit_test(test_cap),
		cmocka_unit_test(test_sample),
		cmocka_unit_test(test_sample_names_all),
		cmocka_unit_test(test_reload),
		cmocka_unit_test(test_reload_keeps_level),
		cmocka_unit_test(test_reload_unreadable),
	};
	int fd, failed;

	if (argc != 2)
		return 2;
	sample = argv[1];
	/* what the surroundings say is not part of the tests */
	(void)unsetenv("STATE_DIRECTORY");
	(void)unsetenv("RUNTIME_DIRECTORY");
	(void)unsetenv("JOURNAL_STREAM");
	(void)snprintf(path, sizeof path, "/tmp/bismar-config-XXXXXX");
	fd = mkstemp(path);
	if (fd < 0)
		return 2;
	(void)close(fd);
	program_invocation_short_name = (char[]){ "bismard" }; /* as where it belongs */
	failed = cmocka_run_group_tests_name("config/config", tests, NULL, NULL);
	(void)unlink(path);
	return failed;
}
