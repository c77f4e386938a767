// SPDX-License-Identifier: MIT
/*
 * What other programs and the kernel's calls tell, asked once. Nothing is started by asking: messages carry the flag
 * that forbids the bus to (D-Bus specification, NO_AUTO_START), and of programs only `bluetoothd --version` is run.
 */
#include "daemon/ctl/checkup.h"
#include "daemon/ctl/database.h"
#include "daemon/ctl/socket.h"
#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <libgen.h>
#include <poll.h>
#include <pwd.h>
#include <signal.h>
#include <spawn.h>
#include <sys/stat.h>
#include <sys/statvfs.h>
#include <sys/timex.h>
#include <sys/wait.h>
#include <systemd/sd-bus.h>
#include <unistd.h>

#define PATIENCE_MS 3000
#define PATH_SIZE 4096
#define UNIT "/org/freedesktop/systemd1/unit/bismard_2eservice" /* sd_bus_path_encode() of bismard.service */

/* ---- the system bus ---- */

/* A property of type s or b as text ("yes", "no"); "" when it can't be had. Returns 0 or -errno. */
static int property(sd_bus *bus, const char *name, const char *path, const char *interface, const char *member,
		    char ret[CHECKUP_WORD])
{
	sd_bus_message *call = NULL, *reply = NULL;
	const char *type, *text;
	int r = sd_bus_message_new_method_call(bus, &call, name, path, "org.freedesktop.DBus.Properties", "Get"), flag;
	char kind;

	ret[0] = '\0';
	if (r >= 0)
		r = sd_bus_message_set_auto_start(call, 0);
	if (r >= 0)
		r = sd_bus_message_append(call, "ss", interface, member);
	if (r >= 0)
		r = sd_bus_call(bus, call, (uint64_t)PATIENCE_MS * 1000, NULL, &reply);
	if (r >= 0)
		r = sd_bus_message_peek_type(reply, &kind, &type);
	if (r > 0 && kind == 'v' && strcmp(type, "s") == 0 && sd_bus_message_read(reply, "v", "s", &text) > 0)
		(void)snprintf(ret, CHECKUP_WORD, "%s", text);
	else if (r > 0 && kind == 'v' && strcmp(type, "b") == 0 && sd_bus_message_read(reply, "v", "b", &flag) > 0)
		(void)snprintf(ret, CHECKUP_WORD, "%s", flag ? "yes" : "no");
	sd_bus_message_unref(reply);
	sd_bus_message_unref(call);
	return r < 0 ? r : 0;
}

static void ask_bluez(struct checkup *checkup, sd_bus *bus)
{
	struct checkup_facts *facts = &checkup->facts;
	sd_bus_creds *creds = NULL;
	char path[64], value[CHECKUP_WORD];

	facts->bluez = sd_bus_get_name_creds(bus, "org.bluez", 0, &creds) >= 0;
	sd_bus_creds_unref(creds);
	for (unsigned i = 0; facts->bluez && i < 16; i++) { /* LIMIT_ADAPTERS of the daemon */
		(void)snprintf(path, sizeof path, "/org/bluez/hci%u", i);
		if (property(bus, "org.bluez", path, "org.bluez.Adapter1", "Powered", value) == -EACCES)
			facts->denied = true;
		if (*value)
			facts->powered = (facts->powered > 0 ? facts->powered : 0) + (strcmp(value, "yes") == 0);
	}
}

static void ask_systemd(struct checkup *checkup, sd_bus *bus)
{
	static const char name[] = "org.freedesktop.systemd1", interface[] = "org.freedesktop.systemd1.Unit";
	struct checkup_facts *facts = &checkup->facts;

	(void)property(bus, name, UNIT, interface, "LoadState", facts->load); /* "" where there is no systemd */
	(void)property(bus, name, UNIT, interface, "ActiveState", facts->active);
	(void)property(bus, name, UNIT, interface, "UnitFileState", facts->enabled);
}

static void ask_bus(struct checkup *checkup)
{
	sd_bus *bus = NULL;

	checkup->facts.powered = -1;
	if (sd_bus_open_system(&bus) < 0)
		return;
	checkup->facts.bus = true;
	(void)sd_bus_set_method_call_timeout(bus, (uint64_t)PATIENCE_MS * 1000); /* its own is 25 s */
	ask_bluez(checkup, bus);
	ask_systemd(checkup, bus);
	sd_bus_flush_close_unref(bus);
}

/* ---- bluetoothd's version ---- */

static pid_t start(const char *program, int out)
{
	char *const argv[] = { (char *)program, (char *)"--version", NULL }, *const environment[] = { NULL };
	posix_spawn_file_actions_t actions;
	pid_t pid = -1;

	if (posix_spawn_file_actions_init(&actions) != 0)
		return -1;
	if (posix_spawn_file_actions_addopen(&actions, STDIN_FILENO, "/dev/null", O_RDONLY, 0) != 0 ||
	    posix_spawn_file_actions_adddup2(&actions, out, STDOUT_FILENO) != 0 ||
	    posix_spawn_file_actions_addopen(&actions, STDERR_FILENO, "/dev/null", O_WRONLY, 0) != 0 ||
	    posix_spawn(&pid, program, &actions, NULL, argv, environment) != 0)
		pid = -1;
	(void)posix_spawn_file_actions_destroy(&actions);
	return pid;
}

static bool ask_version(const char *program, char ret[CHECKUP_WORD])
{
	struct pollfd pollfd = { .events = POLLIN };
	ssize_t n = 0;
	int ends[2];
	pid_t pid;

	if (access(program, X_OK) != 0 || pipe2(ends, O_CLOEXEC) < 0)
		return false;
	pid = start(program, ends[1]);
	(void)close(ends[1]);
	pollfd.fd = ends[0];
	if (pid > 0 && poll(&pollfd, 1, PATIENCE_MS) == 1)
		n = read(ends[0], ret, CHECKUP_WORD - 1);
	(void)close(ends[0]);
	if (pid > 0) {
		(void)kill(pid, SIGKILL); /* it has said what it says, or won't */
		(void)waitpid(pid, NULL, 0);
	}
	ret[n > 0 ? n : 0] = '\0';
	ret[strcspn(ret, "\n")] = '\0';
	return *ret;
}

/* The D-Bus interface doesn't tell the version. Only paths that root alone can write are run: checkup may be run by
 * root, and the command line that /proc shows is whatever a process says. */
static void ask_bluez_version(struct checkup_facts *facts)
{
	static const char *const programs[] = { "/usr/libexec/bluetooth/bluetoothd", "/usr/lib/bluetooth/bluetoothd",
						"/usr/sbin/bluetoothd" };

	for (size_t i = 0; i < sizeof programs / sizeof *programs; i++)
		if (ask_version(programs[i], facts->bluez_version))
			return;
}

/* ---- bismard, the database, this user, the clock ---- */

static int ask_status(const char *path, json_t **ret)
{
	struct socket *socket = NULL;
	json_t *message = NULL, *params = json_object();
	int64_t id = 0;
	int r = socket_new(path, &socket);

	if (r == 0)
		r = socket_send(socket, "status", params, &id);
	json_decref(params);
	while (r == 0 && (r = socket_wait(socket, PATIENCE_MS, &message)) == 0) {
		bool answers = socket_answers(message, id);
		if (answers)
			*ret = json_incref(json_object_get(message, "result"));
		json_decref(message);
		if (answers)
			break;
	}
	socket_free(socket);
	return r == 0 && !*ret ? -EPROTO : r;
}

static void ask_daemon(struct checkup *checkup)
{
	struct checkup_facts *facts = &checkup->facts;

	facts->socket_error = ask_status(checkup->ctl->socket_path, &facts->status);
	facts->socket_denied = facts->socket_error == -EACCES || facts->socket_error == -EPERM;
}

static void ask_disk(struct checkup_facts *facts, const char *database)
{
	char path[PATH_SIZE];
	struct statvfs fs;
	struct stat status;

	facts->wal_octets = -1;
	if ((size_t)snprintf(path, sizeof path, "%s-wal", database) < sizeof path && stat(path, &status) == 0)
		facts->wal_octets = status.st_size;
	(void)snprintf(path, sizeof path, "%s", database);
	if (statvfs(dirname(path), &fs) != 0)
		return;
	facts->disk_free = (int64_t)fs.f_bavail * (int64_t)fs.f_frsize;
	facts->disk_total = (int64_t)fs.f_blocks * (int64_t)fs.f_frsize;
}

static void ask_database(struct checkup *checkup)
{
	struct checkup_facts *facts = &checkup->facts;
	const char *path = checkup->ctl->database_path;

	ask_disk(facts, path);
	if (database_open(path, &facts->db, facts->db_trouble, sizeof facts->db_trouble) < 0)
		facts->db = NULL;
	facts->database_denied = access(path, R_OK) < 0 && errno == EACCES;
}

static void ask_user(struct checkup_facts *facts)
{
	const struct passwd *user;
	int n = getgroups(CHECKUP_GROUPS - 1, facts->groups);

	facts->uid = geteuid();
	facts->n_groups = n > 0 ? (size_t)n : 0;
	facts->groups[facts->n_groups++] = getegid(); /* need not be among them (getgroups(2)) */
	user = getpwuid(facts->uid);
	if (user)
		(void)snprintf(facts->user, sizeof facts->user, "%s", user->pw_name);
}

/* adjtimex(2): without modes it only reads, and needs no right. */
static void ask_clock(struct checkup_facts *facts)
{
	struct timex timex = { .modes = 0 };
	int r = adjtimex(&timex);

	facts->clock_known = r >= 0;
	facts->clock_synchronised = r >= 0 && r != TIME_ERROR && !(timex.status & STA_UNSYNC);
}

void checkup_ask(struct checkup *checkup)
{
	checkup->facts.now_ms = checkup->ctl->now_ms;
	ask_user(&checkup->facts);
	ask_bus(checkup);
	ask_bluez_version(&checkup->facts);
	ask_daemon(checkup);
	ask_database(checkup);
	ask_clock(&checkup->facts);
}

void checkup_forget(struct checkup *checkup)
{
	json_decref(checkup->facts.status);
	database_close(checkup->facts.db);
	checkup->facts.status = NULL;
	checkup->facts.db = NULL;
}
