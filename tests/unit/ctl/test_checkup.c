// SPDX-License-Identifier: MIT
/*
 * checkup on made-up machines: one where all is good, and for each thing that can be wrong the same one with that alone
 * changed. Trees as the kernel's documentation has them (Documentation/ABI/stable/sysfs-class-rfkill,
 * sysfs-class-bluetooth, sysfs-bus-usb; proc(5), group(5)).
 */
#include "daemon/ctl/checkup.h"
#include "daemon/ctl/database.h"
#include "lab.h"
#include <errno.h>
#include <fcntl.h>
#include <ftw.h>
#include <stdlib.h>
#include <sys/stat.h>

#define NOW_MS INT64_C(1795610790000) /* 2026-11-25T12:46:30Z */

static struct lab lab;
static char root[64], sys[96], proc[96], etc[96];
static struct ctl ctl;
static struct checkup checkup;
static struct checkup_line lines[32];
static size_t n_lines;

/* ---- a machine ---- */

static void put(const char *path, const char *text)
{
	char full[256];
	int fd;

	(void)snprintf(full, sizeof full, "%s/%s", root, path);
	for (char *at = full + strlen(root) + 1; (at = strchr(at, '/')); *at++ = '/') {
		*at = '\0';
		assert_true(mkdir(full, 0755) == 0 || errno == EEXIST);
	}
	if (!text)
		return; /* a folder: its name ends in a slash */
	fd = open(full, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0644);
	assert_true(fd >= 0);
	assert_int_equal(write(fd, text, strlen(text)), (ssize_t)strlen(text));
	(void)close(fd);
}

static int remove_one(const char *path, const struct stat *status, int kind, struct FTW *at)
{
	(void)status, (void)kind, (void)at;
	return remove(path);
}

static void drop(const char *path)
{
	char full[256];

	(void)snprintf(full, sizeof full, "%s/%s", root, path);
	(void)nftw(full, remove_one, 8, FTW_DEPTH | FTW_PHYS);
}

static void note(void *userdata, const struct checkup_line *line)
{
	assert_ptr_equal(userdata, &checkup);
	assert_true(n_lines < sizeof lines / sizeof *lines);
	assert_true(*line->say);
	assert_true(line->good == !*line->todo);
	lines[n_lines++] = *line;
}

static json_t *status(const char *trouble, int battery)
{
	json_t *made = json_pack("{s:s, s:{s:s, s:s}, s:[{s:s, s:s, s:s, s:i}], s:i}", "version", BISMAR_VERSION,
				 "radio", "trouble", trouble, "text", "", "scales", "scale", "kitchen", "address",
				 "02:00:00:00:00:01", "state", "away", "battery", battery, "pending", 0);

	assert_non_null(made);
	return made;
}

static void new_status(json_t *made)
{
	json_decref(checkup.facts.status);
	checkup.facts.status = made;
}

static void make_tree(void)
{
	(void)snprintf(root, sizeof root, "/tmp/bismar-checkup-XXXXXX");
	assert_non_null(mkdtemp(root));
	(void)snprintf(sys, sizeof sys, "%s/sys", root);
	(void)snprintf(proc, sizeof proc, "%s/proc", root);
	(void)snprintf(etc, sizeof etc, "%s/etc", root);
	put("sys/class/bluetooth/hci0/", NULL);
	put("sys/class/bluetooth/hci0:12/", NULL); /* a connection */
	put("sys/class/rfkill/rfkill0/type", "wlan\n");
	put("sys/class/rfkill/rfkill0/soft", "1\n"); /* no concern of ours */
	put("sys/class/rfkill/rfkill1/type", "bluetooth\n");
	put("sys/class/rfkill/rfkill1/name", "hci0\n");
	put("sys/class/rfkill/rfkill1/soft", "0\n");
	put("sys/class/rfkill/rfkill1/hard", "0\n");
	put("sys/class/rtc/rtc0/", NULL);
	put("proc/1/comm", "systemd\n");
	put("etc/group", "root:x:0:\nbismar:x:990:keeper,friend\nusers:x:100:\n");
}

static void make_ledger(void)
{
	char why[512];

	lab_init(&lab);
	lab_sql(lab.database,
		"CREATE TABLE scale_now(name, address, newest_at_ms);"
		"CREATE TABLE container_now(container, tare_g, u_g, drift_g, scale);"
		"ALTER TABLE reading ADD COLUMN step_g; UPDATE reading SET step_g = 5;"
		"INSERT INTO scale_now VALUES('kitchen', '02:00:00:00:00:01', 1795610730000);"
		"INSERT INTO container_now VALUES('basket', 404.0, 1.45, 4.9, 'kitchen'), ('old', 99, 1, 50, NULL);");
	assert_int_equal(database_open(lab.database, &checkup.facts.db, why, sizeof why), 0);
}

static void begin(void)
{
	make_tree();
	ctl = (struct ctl){ .socket_path = "/run/x.sock",
			    .database_path = lab.database,
			    .unit = QUANTITY_GRAMS,
			    .utf8 = true,
			    .now_ms = NOW_MS };
	checkup = (struct checkup){
		.ctl = &ctl,
		.sys = sys,
		.proc = proc,
		.etc = etc,
		.said = note,
		.userdata = &checkup,
		.facts = { .now_ms = NOW_MS,
			   .uid = 1000,
			   .user = "keeper",
			   .groups = { 1000, 990 },
			   .n_groups = 2,
			   .bus = true,
			   .bluez = true,
			   .powered = 1,
			   .bluez_version = "5.66",
			   .load = "loaded",
			   .active = "active",
			   .enabled = "enabled",
			   .wal_octets = 4000000,
			   .disk_free = INT64_C(8000000000),
			   .disk_total = INT64_C(32000000000),
			   .clock_known = true,
			   .clock_synchronised = true },
	};
	make_ledger();
	new_status(status("fine", 80));
}

static void end(void)
{
	drop("");
	checkup_forget(&checkup);
	lab_done(&lab);
}

/* ---- looking ---- */

static void print_all(void)
{
	for (size_t i = 0; i < n_lines; i++)
		print_error("%s %s: %s | %s\n", lines[i].good ? "good " : "to do", lines[i].check, lines[i].say,
			    lines[i].todo);
}

/* Looks; exactly this check has something to do, with these words in what it says or in what is to do. NULL: none. */
static void expect(const char *check, const char *words)
{
	unsigned found = 0;

	n_lines = 0;
	checkup.n_todo = 0;
	checkup_look(&checkup);
	for (size_t i = 0; i < n_lines; i++)
		found += !lines[i].good && check && strcmp(lines[i].check, check) == 0 &&
			 (strstr(lines[i].say, words) || strstr(lines[i].todo, words));
	if (found != (check ? 1 : 0) || checkup.n_todo != found) {
		print_all();
		fail_msg("expected %s alone: %s", check ? check : "nothing", words ? words : "");
	}
}

static void expect_good(const char *check, const char *words)
{
	for (size_t i = 0; i < n_lines; i++)
		if (lines[i].good && strcmp(lines[i].check, check) == 0 && strstr(lines[i].say, words))
			return;
	print_all();
	fail_msg("no good %s: %s", check, words);
}

static void sql(const char *text)
{
	lab_sql(lab.database, text);
}

/* ---- the tests ---- */

static void test_all_good(void **state)
{
	(void)state;
	begin();
	expect(NULL, NULL);
	assert_true(n_lines >= checkup_n_checks); /* each has something to say here */
	expect_good("adapter", "hci0 is driven");
	expect_good("bluetoothd", "bluetoothd 5.66 runs");
	expect_good("service", "after a restart");
	expect_good("rights", "use the socket and read the database");
	expect_good("database", "newest weighing");
	expect_good("disk", "8000 MB");
	expect_good("scale", "kitchen: last heard");
	expect_good("scale", "battery 80 %");
	expect_good("container", "basket weighs what it weighed"); /* 4.9 g: less than a step of 5 g */
	end();
}

static void test_radio(void **state)
{
	(void)state;
	begin();
	put("sys/class/rfkill/rfkill1/soft", "1\n");
	expect("switch", "rfkill unblock bluetooth");
	put("sys/class/rfkill/rfkill1/soft", "0\n");
	put("sys/class/rfkill/rfkill1/hard", "1\n");
	expect("switch", "hardware");
	put("sys/class/rfkill/rfkill1/hard", "0\n");
	new_status(status("adapter-off", 80));
	expect("power", "bluetoothctl power on");
	new_status(status("denied", 80));
	expect("policy", "usermod -aG bluetooth bismar");
	new_status(status("no-adapter", 80));
	expect("power", "bluetoothd has no adapter");
	new_status(status("no-bluez", 80));
	checkup.facts.bluez = false;
	expect("bluetoothd", "enable --now bluetooth");
	checkup.facts.bluez_version[0] = '\0';
	expect("bluetoothd", "apt-get install bluez");
	put("proc/77/comm", "bluetoothd\n");
	expect("bluetoothd", "isn't on the system bus");
	checkup.facts.bus = false;
	expect("bluetoothd", "start dbus");
	end();
}

static void test_adapters(void **state)
{
	(void)state;
	begin();
	put("sys/class/bluetooth/hci1/", NULL);
	expect(NULL, NULL);
	drop("sys/class/bluetooth/hci0");
	drop("sys/class/bluetooth/hci1");
	expect("adapter", "There is no Bluetooth adapter"); /* the connection's entry is none */
	put("sys/bus/usb/devices/1-1:1.0/bInterfaceClass", "e0\n");
	put("sys/bus/usb/devices/1-1:1.0/bInterfaceSubClass", "01\n");
	put("sys/bus/usb/devices/1-1:1.0/bInterfaceProtocol", "01\n");
	expect("adapter", "no driver has taken it");
	put("sys/bus/usb/devices/1-1:1.0/driver/", NULL);
	expect("adapter", "There is no Bluetooth adapter");
	put("sys/class/bluetooth/hci0/", NULL);
	expect(NULL, NULL);
	drop("sys/class/bluetooth");
	n_lines = 0;
	checkup.n_todo = 0;
	checkup_look(&checkup);
	assert_int_equal(checkup.n_todo, 2); /* the kernel, and so no adapter */
	assert_string_equal(lines[0].check, "kernel");
	end();
}

/* Without the daemon: what can be seen is said all the same. */
static void test_service(void **state)
{
	(void)state;
	begin();
	(void)snprintf(checkup.facts.enabled, CHECKUP_WORD, "disabled");
	expect("service", "systemctl enable bismard");
	(void)snprintf(checkup.facts.active, CHECKUP_WORD, "inactive");
	expect(NULL, NULL); /* it is run by hand */
	checkup.facts.active[0] = '\0';
	expect(NULL, NULL); /* there is no systemd */
	new_status(NULL);
	checkup.facts.socket_error = -ENOENT;
	expect("socket", "systemctl start bismard");
	checkup.facts.powered = 0;
	n_lines = 0;
	checkup_look(&checkup);
	checkup.facts.powered = 1;
	assert_true(checkup.n_todo >= 2); /* the adapter's state is seen without it */
	static const char *const ways[][3] = {
		{ "inactive", "loaded", "enable --now bismard" },
		{ "failed", "loaded", "journalctl -u bismard" },
		{ "activating", "loaded", "in a moment" },
		{ "inactive", "not-found", "isn't installed" },
	};
	for (size_t i = 0; i < sizeof ways / sizeof *ways; i++) {
		bool found = false;
		(void)snprintf(checkup.facts.active, CHECKUP_WORD, "%s", ways[i][0]);
		(void)snprintf(checkup.facts.load, CHECKUP_WORD, "%s", ways[i][1]);
		n_lines = 0;
		checkup.n_todo = 0;
		checkup_look(&checkup);
		assert_int_equal(checkup.n_todo, 2); /* and the socket */
		for (size_t l = 0; l < n_lines; l++)
			found = found || (!lines[l].good && strcmp(lines[l].check, "service") == 0 &&
					  (strstr(lines[l].todo, ways[i][2]) || strstr(lines[l].say, ways[i][2])));
		assert_true(found);
	}
	end();
}

static void test_rights(void **state)
{
	(void)state;
	begin();
	checkup.facts.database_denied = true; /* the socket is another's affair: else two things would be to do */
	expect("rights", "modes 0660 and 0640");
	checkup.facts.n_groups = 1;
	expect("rights", "this login is older");
	(void)snprintf(checkup.facts.user, CHECKUP_WORD, "guest");
	expect("rights", "adduser guest bismar");
	put("etc/group", "root:x:0:\nbismarck:x:990:guest\n");
	expect("rights", "systemd-sysusers");
	drop("etc/group");
	expect("rights", "systemd-sysusers");
	end();
}

static void test_version(void **state)
{
	(void)state;
	begin();
	(void)json_object_set_new(checkup.facts.status, "version", json_string("0.0.1"));
	expect("version", "bismard is 0.0.1, bismar " BISMAR_VERSION);
	end();
}

static void test_ledger(void **state)
{
	(void)state;
	begin();
	(void)json_object_set_new(checkup.facts.status, "pending", json_integer(3));
	expect("database", "3 results wait");
	new_status(status("fine", 80));
	checkup.facts.wal_octets = CHECKUP_WAL_OCTETS + 1;
	expect("database", "grown to 64 MB");
	checkup.facts.wal_octets = -1;
	checkup.facts.disk_free = CHECKUP_DISK_OCTETS - 1;
	expect("disk", "199 MB");
	checkup.facts.disk_free = checkup.facts.disk_total / 100 * CHECKUP_DISK_PERCENT - 1; /* 640 MB of 32 GB */
	expect("disk", "639 MB");
	checkup.facts.disk_free = checkup.facts.disk_total / 100 * CHECKUP_DISK_PERCENT;
	expect(NULL, NULL);
	checkup.facts.disk_total = 0; /* not known: nothing is said */
	expect(NULL, NULL);
	sql("DELETE FROM reading");
	expect(NULL, NULL);
	expect_good("database", "nothing has been weighed");
	database_close(checkup.facts.db);
	checkup.facts.db = NULL;
	(void)snprintf(checkup.facts.db_trouble, CHECKUP_TEXT, "There is no database at x.");
	expect("database", "There is no database at x.");
	end();
}

static void test_damaged(void **state)
{
	char why[512];
	int fd;

	(void)state;
	begin();
	sql("CREATE TABLE bulk(x); WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 4000) "
	    "INSERT INTO bulk SELECT randomblob(100) FROM n;");
	database_close(checkup.facts.db);
	sql("PRAGMA journal_mode=DELETE");
	fd = open(lab.database, O_RDWR | O_CLOEXEC);
	assert_true(fd >= 0);
	assert_int_equal(pwrite(fd, "no page of a database", 21, 40 * 4096), 21); /* of `bulk` */
	(void)close(fd);
	assert_int_equal(database_open(lab.database, &checkup.facts.db, why, sizeof why), 0);
	expect("database", "damaged");
	end();
}

static void test_clock(void **state)
{
	(void)state;
	begin();
	checkup.facts.clock_synchronised = false;
	expect("clock", "The clock isn't synchronised.");
	drop("sys/class/rtc");
	expect("clock", "runs on without power");
	checkup.facts.clock_known = false;
	expect(NULL, NULL);
	sql("UPDATE reading SET at_ms = 1795610790000 + 301000");
	expect("clock", "lies in the future");
	sql("UPDATE reading SET at_ms = 1795610790000 + 299000");
	expect(NULL, NULL);
	sql("DELETE FROM reading");
	checkup.facts.now_ms = INT64_C(86400000); /* 1970: no clock that runs on, and no network yet */
	sql("UPDATE scale_now SET newest_at_ms = 0");
	expect("clock", "the year 1970");
	end();
}

static void test_scales(void **state)
{
	(void)state;
	begin();
	new_status(status("fine", CHECKUP_BATTERY_PERCENT));
	expect("scale", "new batteries");
	new_status(status("fine", CHECKUP_BATTERY_PERCENT + 1));
	expect(NULL, NULL);
	sql("UPDATE scale_now SET newest_at_ms = NULL");
	expect("scale", "kitchen has not sent any weight yet, battery 16 %");
	sql("UPDATE scale_now SET newest_at_ms = 1795610790000 - 48 * 3600000 - 1");
	expect("scale", "silent since");
	sql("UPDATE litter_now SET open = 0"); /* nobody to weigh: silence is no news */
	expect(NULL, NULL);
	new_status(NULL); /* without the daemon its battery isn't known */
	checkup.facts.socket_error = -ECONNREFUSED;
	checkup.facts.active[0] = '\0';
	expect("socket", "systemctl start bismard");
	expect_good("scale", "kitchen: last heard");
	new_status(status("fine", 80));
	sql("DELETE FROM scale_now");
	expect("scale", "No scale is adopted");
	end();
}

static void test_containers(void **state)
{
	(void)state;
	begin();
	/* more than a step of 5 g, and more than 2 * sqrt(5^2 / 12 + 1.45^2) = 4.1 g */
	sql("UPDATE container_now SET drift_g = 5.1 WHERE container = 'basket'");
	expect("container", "basket was 5.1 g heavier");
	sql("UPDATE container_now SET drift_g = -12 WHERE container = 'basket'");
	expect("container", "12 g lighter");
	sql("UPDATE container_now SET drift_g = 12, u_g = 6 WHERE container = 'basket'"); /* 2 u = 12.3 g */
	expect(NULL, NULL);
	sql("UPDATE container_now SET drift_g = NULL WHERE container = 'basket'");
	expect(NULL, NULL);
	sql("UPDATE container_now SET tare_g = NULL WHERE container = 'basket'");
	expect("container", "container tare basket");
	sql("UPDATE container_now SET scale = NULL WHERE container = 'basket'");
	expect(NULL, NULL); /* it stands nowhere */
	end();
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_all_good), cmocka_unit_test(test_radio),      cmocka_unit_test(test_adapters),
		cmocka_unit_test(test_service),  cmocka_unit_test(test_rights),     cmocka_unit_test(test_version),
		cmocka_unit_test(test_ledger),   cmocka_unit_test(test_damaged),    cmocka_unit_test(test_clock),
		cmocka_unit_test(test_scales),   cmocka_unit_test(test_containers),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
