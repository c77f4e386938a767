// SPDX-License-Identifier: MIT
/*
 * The floor that bismard is measured against: a bare loop over libdbus and SQLite. It takes each Weight Measurement
 * value, inserts one row (WAL, synchronous FULL) and prints one line. No link life, no tare, no question, no client.
 *   usage: bare DATABASE PATH_NAMESPACE
 * Only signals below PATH_NAMESPACE are matched: "/org/bluez" hears every stranger, a device's path that device alone.
 */
#include <dbus/dbus.h>
#include <sqlite3.h>
#include <stdbool.h>
#include <stdint.h>

static sqlite3_stmt *insert;

static bool open_database(const char *path)
{
	sqlite3 *db;

	return sqlite3_open(path, &db) == SQLITE_OK &&
	       sqlite3_exec(db,
			    "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL;"
			    "CREATE TABLE IF NOT EXISTS reading(at INTEGER, bytes BLOB, mass_mg INTEGER)",
			    NULL, NULL, NULL) == SQLITE_OK &&
	       sqlite3_prepare_v2(db, "INSERT INTO reading VALUES(?1, ?2, ?3)", -1, &insert, NULL) == SQLITE_OK;
}

static void keep(const uint8_t *octets, int n)
{
	struct timespec now;

	if (n < 3)
		return;
	(void)clock_gettime(CLOCK_REALTIME, &now);
	sqlite3_bind_int64(insert, 1, now.tv_sec * 1000 + now.tv_nsec / 1000000);
	sqlite3_bind_blob(insert, 2, octets, n, SQLITE_TRANSIENT);
	sqlite3_bind_int64(insert, 3, (octets[1] + 256 * octets[2]) * INT64_C(5000));
	if (sqlite3_step(insert) != SQLITE_DONE)
		(void)fputs("bare: the row was not written\n", stderr);
	sqlite3_reset(insert);
	(void)puts("ask");
	(void)fflush(stdout);
}

static void take(DBusMessage *message)
{
	DBusMessageIter args, dict, entry, value, array;
	const char *key;
	const uint8_t *octets;
	int n;

	if (!dbus_message_is_signal(message, "org.freedesktop.DBus.Properties", "PropertiesChanged") ||
	    !dbus_message_has_signature(message, "sa{sv}as"))
		return;
	dbus_message_iter_init(message, &args);
	dbus_message_iter_next(&args);
	for (dbus_message_iter_recurse(&args, &dict); dbus_message_iter_get_arg_type(&dict) == DBUS_TYPE_DICT_ENTRY;
	     dbus_message_iter_next(&dict)) {
		dbus_message_iter_recurse(&dict, &entry);
		dbus_message_iter_get_basic(&entry, &key);
		dbus_message_iter_next(&entry);
		dbus_message_iter_recurse(&entry, &value);
		if (strcmp(key, "Value") != 0 || dbus_message_iter_get_arg_type(&value) != DBUS_TYPE_ARRAY)
			continue;
		dbus_message_iter_recurse(&value, &array);
		dbus_message_iter_get_fixed_array(&array, &octets, &n);
		keep(octets, n);
	}
}

int main(int argc, char **argv)
{
	char rule[512];
	DBusConnection *bus;

	if (argc != 3 || !open_database(argv[1]))
		return 2;
	bus = dbus_bus_get_private(DBUS_BUS_SYSTEM, NULL);
	if (!bus)
		return 1;
	(void)snprintf(rule, sizeof rule,
		       "type='signal',sender='org.bluez',member='PropertiesChanged',path_namespace='%s'", argv[2]);
	dbus_bus_add_match(bus, rule, NULL);
	(void)puts("ready");
	(void)fflush(stdout);
	while (dbus_connection_read_write(bus, -1)) {
		DBusMessage *message;
		while ((message = dbus_connection_pop_message(bus))) {
			take(message);
			dbus_message_unref(message);
		}
	}
	return 0;
}
