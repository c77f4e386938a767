// SPDX-License-Identifier: MIT
/*
 * bismard as a service, seen by its manager: what it tells at $NOTIFY_SOCKET (sd_notify(3)), the watchdog
 * (sd_watchdog_enabled(3)), and the socket that it is handed (sd_listen_fds(3)). The test is the manager.
 */
#include "nursery.h"
#include <errno.h>
#include <poll.h>
#include <signal.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <sys/wait.h>
#include <unistd.h>

#define MESSAGE_SIZE 1024
#define WATCHDOG_US "400000"
#define FIRST_FD 3 /* SD_LISTEN_FDS_START */

static struct manager {
	int notify;    /* where bismard tells */
	int listening; /* the socket that it is handed; -1: none */
	bool watches;
	char path[128];
} manager;

static int bind_at(const char *path, int type)
{
	struct sockaddr_un address = { .sun_family = AF_UNIX };
	int fd = socket(AF_UNIX, type | SOCK_CLOEXEC, 0);

	(void)snprintf(address.sun_path, sizeof address.sun_path, "%s", path);
	assert_return_code(fd, errno);
	assert_return_code(bind(fd, (const struct sockaddr *)&address, sizeof address), errno);
	return fd;
}

/* In bismard's process. */
static void as_manager(const struct rig *rig)
{
	char pid[16];

	(void)rig;
	(void)snprintf(pid, sizeof pid, "%d", (int)getpid());
	(void)setenv("NOTIFY_SOCKET", manager.path, 1);
	if (manager.watches) {
		(void)setenv("WATCHDOG_USEC", WATCHDOG_US, 1);
		(void)setenv("WATCHDOG_PID", pid, 1);
	}
	if (manager.listening >= 0) {
		if (dup2(manager.listening, FIRST_FD) != FIRST_FD)
			_exit(126);
		(void)setenv("LISTEN_FDS", "1", 1);
		(void)setenv("LISTEN_FDNAMES", "prompt", 1);
		(void)setenv("LISTEN_PID", pid, 1);
	}
}

static int setup(void **state)
{
	struct rig *rig;

	if (rig_setup_bare(state) != 0)
		return -1;
	rig = *state;
	manager = (struct manager){ .listening = -1 };
	(void)snprintf(manager.path, sizeof manager.path, "%s/notify", rig->dir);
	manager.notify = bind_at(manager.path, SOCK_DGRAM);
	rig->before_daemon = as_manager;
	rig_start_bus(rig);
	rig_start_sim(rig);
	return 0;
}

static int teardown(void **state)
{
	int r = rig_teardown(state);

	(void)close(manager.notify);
	if (manager.listening >= 0)
		(void)close(manager.listening);
	return r;
}

static bool says(const char *message, const char *line)
{
	size_t n = strlen(line);

	for (const char *at = strstr(message, line); at; at = strstr(at + 1, line))
		if ((at == message || at[-1] == '\n') && (at[n] == '\n' || at[n] == '\0'))
			return true;
	return false;
}

/* The next message, whatever it says. */
static void next_message(struct rig *rig, int64_t until_ms, const char *wanted, char ret[MESSAGE_SIZE])
{
	struct pollfd wait = { .fd = manager.notify, .events = POLLIN };
	int64_t left_ms = until_ms - deck_ms(rig->deck);
	ssize_t n;

	if (left_ms <= 0 || poll(&wait, 1, (int)left_ms) <= 0)
		deck_fail(rig->deck, "the manager waits in vain for %s", wanted);
	n = recv(manager.notify, ret, MESSAGE_SIZE - 1, 0);
	assert_return_code(n, errno);
	ret[n] = '\0';
	deck_note(rig->deck, "notify", "%s", ret);
	deck_turn(rig->deck, 0);
}

/* Waits for a message that has this line; others on the way are passed over. */
static void await(struct rig *rig, const char *line, char ret[MESSAGE_SIZE])
{
	int64_t until_ms = deck_ms(rig->deck) + TAPE_PATIENCE_MS;

	do
		next_message(rig, until_ms, line, ret);
	while (!says(ret, line));
}

static void await_line(struct rig *rig, const char *line)
{
	char message[MESSAGE_SIZE];

	await(rig, line, message);
}

/* ---- what is told ---- */

static void test_ready(void **state)
{
	struct rig *rig = *state;
	char message[MESSAGE_SIZE];

	rig_start_daemon(rig);
	next_message(rig, deck_ms(rig->deck) + TAPE_PATIENCE_MS, "READY=1", message); /* nothing comes before it */
	assert_true(says(message, "READY=1"));
	assert_non_null(strstr(message, "\nSTATUS="));
	await_line(rig, "STATUS=no scale, no question open"); /* by now it has met the bus */
}

static void test_status(void **state)
{
	struct rig *rig = *state;
	struct client *client;

	rig_start_daemon(rig);
	client = client_open(rig);
	nursery_make(rig, client);
	await_line(rig, "STATUS=1 scale, no question open");
	nursery_weigh(rig, BENCH, BOX_G + 305);
	await_line(rig, "STATUS=1 scale, 1 question open");
	nursery_weigh(rig, BENCH, BOX_G + 340);
	await_line(rig, "STATUS=1 scale, 2 questions open");
	(void)client_word(client, "-");
	await_line(rig, "STATUS=1 scale, 1 question open");
	(void)client_call(client, "scale.adopt", "{s:s, s:s}", "address", PORCH, "name", "porch");
	await_line(rig, "STATUS=2 scales, 1 question open");
	(void)rig_sim(rig, "adapter power hci0 off");
	await_line(rig, "STATUS=the Bluetooth adapter is off; 2 scales, 1 question open");
	(void)rig_sim(rig, "adapter power hci0 on");
	await_line(rig, "STATUS=2 scales, 1 question open");
	(void)rig_sim(rig, "adapter remove hci0");
	await_line(rig, "STATUS=no Bluetooth adapter; 2 scales, 1 question open");
	rig_stop_bus(rig);
	await_line(rig, "STATUS=no system bus; 2 scales, 1 question open");
	rig_reap_sim(rig);
	client_close(client);
}

/* Told when it has changed, and else not: what many events leave as it was is told once. */
static void test_told_once(void **state)
{
	struct rig *rig = *state;
	char message[MESSAGE_SIZE];
	struct client *client;
	int told = 0;

	rig_start_daemon(rig);
	await_line(rig, "STATUS=no scale, no question open");
	client = client_open(rig);
	for (int i = 0; i < 50; i++)
		(void)client_call(client, "status", NULL);
	client_close(client);
	(void)kill(rig->daemon, SIGHUP);
	do {
		next_message(rig, deck_ms(rig->deck) + TAPE_PATIENCE_MS, "RELOADING=1", message);
		told += strstr(message, "STATUS=") != NULL;
	} while (!says(message, "RELOADING=1"));
	assert_int_equal(told, 0);
}

static void test_stopping(void **state)
{
	struct rig *rig = *state;
	int status;

	rig_start_daemon(rig);
	await_line(rig, "READY=1");
	status = rig_stop_daemon(rig, SIGTERM);
	assert_true(WIFEXITED(status) && WEXITSTATUS(status) == 0);
	await_line(rig, "STOPPING=1");
	(void)rig_log(rig, "has been stopped");
}

/* ---- reading the settings again ---- */

static void write_settings(const char *path, const char *text)
{
	FILE *file = fopen(path, "we");

	assert_non_null(file);
	assert_true(fputs(text, file) >= 0);
	assert_int_equal(fclose(file), 0);
}

static void reload(struct rig *rig)
{
	(void)kill(rig->daemon, SIGHUP);
	await_line(rig, "RELOADING=1");
	await_line(rig, "READY=1");
}

static void test_reload(void **state)
{
	struct rig *rig = *state;
	char path[128];
	struct client *client;

	(void)snprintf(path, sizeof path, "%s/bismard.conf", rig->dir);
	rig->config = path;
	write_settings(path, "[people]\nunits = g\n");
	rig_start_daemon(rig);
	await_line(rig, "READY=1");
	client = client_open(rig);
	reload(rig);
	(void)rig_log(rig, "the settings have been read again");
	/* one that can't be read changes nothing, and ends nothing */
	assert_return_code(unlink(path), errno);
	reload(rig);
	(void)rig_log(rig, "the settings stay as they were");
	write_settings(path, "[people]\nunits = oz\n");
	reload(rig);
	(void)rig_log(rig, "the settings have been read again");
	/* a wrong line is named by its number */
	write_settings(path, "[people]\nunits = g\n\ncolour = green\n");
	(void)kill(rig->daemon, SIGHUP);
	(void)rig_log(rig, "bismard.conf:4:");
	await_line(rig, "RELOADING=1");
	await_line(rig, "READY=1");
	(void)client_call(client, "status", NULL); /* the connection has outlived it all */
	client_close(client);
}

/* ---- the watchdog ---- */

static void test_watchdog(void **state)
{
	struct rig *rig = *state;
	char message[MESSAGE_SIZE];

	manager.watches = true;
	rig_start_daemon(rig);
	await_line(rig, "READY=1");
	for (int i = 0; i < 5; i++) { /* an idle loop kicks too, else the manager would end it */
		int64_t before_ms = deck_ms(rig->deck);
		await(rig, "WATCHDOG=1", message);
		assert_true(deck_ms(rig->deck) - before_ms < TAPE_PATIENCE_MS);
	}
}

/* ---- a socket from outside ---- */

static void test_handed_socket(void **state)
{
	struct rig *rig = *state;
	struct client *client;
	struct stat before, after;
	int status;

	manager.listening = bind_at(rig->socket, SOCK_STREAM);
	assert_return_code(listen(manager.listening, 16), errno);
	assert_return_code(stat(rig->socket, &before), errno);
	client = client_open(rig); /* nobody serves yet: it waits, as at a unit that is only now started */
	rig_start_daemon(rig);
	(void)client_call(client, "hello", NULL);
	/* the file is the manager's: it is neither made anew nor removed, and who comes in between isn't lost */
	status = rig_stop_daemon(rig, SIGTERM);
	assert_true(WIFEXITED(status) && WEXITSTATUS(status) == 0);
	client_await_end(client);
	client_close(client);
	assert_return_code(stat(rig->socket, &after), errno);
	assert_true(before.st_ino == after.st_ino && before.st_dev == after.st_dev);
	assert_int_equal(before.st_mode, after.st_mode);
	client = client_open(rig);
	rig_start_daemon(rig);
	(void)client_call(client, "hello", NULL);
	rig_kill_daemon(rig);
	client_close(client);
	client = client_open(rig);
	rig_start_daemon(rig);
	(void)client_call(client, "hello", NULL);
	client_close(client);
}

/* What isn't a listening socket is refused with words, and doesn't make bismard listen somewhere else. */
static void test_handed_rubbish(void **state)
{
	struct rig *rig = *state;
	struct rig_ran ran;
	struct stat status;

	manager.listening = bind_at(rig->socket, SOCK_STREAM); /* it doesn't listen */
	assert_return_code(unlink(rig->socket), errno);
	rig_run_daemon(rig,
		       (const char *const[]){ "--state", rig->state, "--socket", rig->socket, "--config", "/dev/null", NULL },
		       &ran);
	assert_int_equal(ran.status, 1);
	assert_non_null(strstr(ran.err, "can't listen on the socket that systemd handed over"));
	assert_int_equal(stat(rig->socket, &status), -1);
}

int main(int argc, char **argv)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test_setup_teardown(test_ready, setup, teardown),
		cmocka_unit_test_setup_teardown(test_status, setup, teardown),
		cmocka_unit_test_setup_teardown(test_told_once, setup, teardown),
		cmocka_unit_test_setup_teardown(test_stopping, setup, teardown),
		cmocka_unit_test_setup_teardown(test_reload, setup, teardown),
		cmocka_unit_test_setup_teardown(test_watchdog, setup, teardown),
		cmocka_unit_test_setup_teardown(test_handed_socket, setup, teardown),
		cmocka_unit_test_setup_teardown(test_handed_rubbish, setup, teardown),
	};

	rig_programs(argc, argv);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
