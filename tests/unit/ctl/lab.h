// SPDX-License-Identifier: MIT
#pragma once
/*
 * A folder of the test's own, with a database that has the views' names and columns, and a socket that the test plays
 * the daemon on.
 */
#include <setjmp.h>
#include <sqlite3.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdint.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>
#include <cmocka.h>

#define LAB_APPLICATION_ID 1112101709 /* protocols/database.md */

struct lab {
	char dir[32], database[64], socket[64];
	int listener;
};

static inline void lab_sql(const char *path, const char *sql)
{
	sqlite3 *db = NULL;

	assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
	assert_int_equal(sqlite3_exec(db, sql, NULL, NULL, NULL), SQLITE_OK);
	assert_int_equal(sqlite3_close(db), SQLITE_OK);
}

static inline void lab_init(struct lab *lab)
{
	struct sockaddr_un address = { .sun_family = AF_UNIX };

	*lab = (struct lab){ .dir = "/tmp/bismar-ctl-XXXXXX" };
	assert_non_null(mkdtemp(lab->dir));
	(void)snprintf(lab->database, sizeof lab->database, "%s/bismar.db", lab->dir);
	(void)snprintf(lab->socket, sizeof lab->socket, "%s/sock", lab->dir);
	lab->listener = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
	assert_true(lab->listener >= 0);
	(void)snprintf(address.sun_path, sizeof address.sun_path, "%s", lab->socket);
	assert_int_equal(bind(lab->listener, (const struct sockaddr *)&address, sizeof address), 0);
	assert_int_equal(listen(lab->listener, 4), 0);
	lab_sql(lab->database,
		"PRAGMA application_id=1112101709; PRAGMA user_version=1; PRAGMA journal_mode=WAL;"
		"CREATE TABLE reading(reading_id, animal_id, animal, collar, litter_id, litter, at, at_ms, net_g, u_g, "
		"gross_g,"
		" tare_g, container, scale, origin, state, fed, answered_at_ms, answered_by);"
		"CREATE TABLE unanswered(weighing_id, at, at_ms, net_g, u_g, gross_g, tare_g, container, scale, "
		"origin, state);"
		"CREATE TABLE litter_now(litter_id, litter, dam, born_at_ms, adult_g, open, animals);"
		"INSERT INTO litter_now VALUES('L1','Birch',NULL,NULL,NULL,1,2);"
		"INSERT INTO reading VALUES('r1-aaaa','A1','Acer','green','L1','Birch','2026-11-25T12:45:30.000Z',"
		"1795610730000,312.5,2.9,716.5,404.0,'basket','kitchen','radio','settled',NULL,1795610740000,'keeper'),"
		"('r2-bbbb','A2','Bean, "
		"\"the\r\nsecond\"',NULL,'L1','Birch','2026-11-25T12:46:30.000Z',1795610790000,304.1,"
		"2.9,708.1,404.0,'basket','kitchen','radio','settled','before',1795610750000,'keeper');");
}

static inline void lab_done(struct lab *lab)
{
	static const char *const files[] = { "bismar.db", "bismar.db-wal", "bismar.db-shm", "sock", "other" };
	char path[128];

	(void)close(lab->listener);
	for (size_t i = 0; i < sizeof files / sizeof *files; i++) {
		(void)snprintf(path, sizeof path, "%s/%s", lab->dir, files[i]);
		(void)unlink(path);
	}
	assert_int_equal(rmdir(lab->dir), 0);
}
