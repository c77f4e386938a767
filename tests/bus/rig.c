// SPDX-License-Identifier: MIT
/* Programs: how they are started, ended and waited for. */
#include "rig.h"
#include <errno.h>
#include <fcntl.h>
#include <ftw.h>
#include <signal.h>
#include <sys/prctl.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

/* Default rules of a session bus: whoever comes may own names and talk. */
#define BUS_CONFIG                                                                                                     \
	"<!DOCTYPE busconfig PUBLIC \"-//freedesktop//DTD D-Bus Bus Configuration 1.0//EN\"\n"                         \
	" \"http://www.freedesktop.org/standards/dbus/1.0/busconfig.dtd\">\n"                                          \
	"<busconfig><type>session</type><listen>unix:path=%s/bus</listen><auth>EXTERNAL</auth>\n"                      \
	"<policy context=\"default\"><allow send_destination=\"*\"/><allow receive_sender=\"*\"/><allow own=\"*\"/>"   \
	"</policy></busconfig>\n"

static struct {
	const char *daemon, *sim, *ctl;
	char **rest;
} programs;

void rig_programs(int argc, char **argv)
{
	if (argc < 4) {
		(void)fprintf(stderr, "usage: %s BISMARD SCALE-SIM BISMAR [ARGUMENT]...\n", argv[0]);
		exit(2);
	}
	programs.daemon = argv[1];
	programs.sim = argv[2];
	programs.ctl = argv[3];
	programs.rest = argv + 4;                      /* ends with NULL */
	cmocka_set_test_filter(getenv("BISMAR_TEST")); /* "test_l*": only these; NULL: all */
	/* a program that has died must show as such, not end the test */
	(void)signal(SIGPIPE, SIG_IGN);
}

const char *rig_argument(int i)
{
	for (int at = 0; programs.rest[at]; at++)
		if (at == i)
			return programs.rest[at];
	return "";
}

/* ---- children ---- */

struct child {
	pid_t pid;
	int in, out, err; /* our ends */
};

static void child_environment(const struct rig *rig)
{
	static const char *const foreign[] = { "JOURNAL_STREAM",  "NOTIFY_SOCKET",     "LISTEN_FDS",   "LISTEN_PID",
					       "STATE_DIRECTORY", "RUNTIME_DIRECTORY", "WATCHDOG_USEC" };
	char address[128];

	for (size_t i = 0; i < sizeof foreign / sizeof *foreign; i++)
		(void)unsetenv(foreign[i]);
	(void)snprintf(address, sizeof address, "unix:path=%s/bus", rig->dir);
	(void)setenv("DBUS_SYSTEM_BUS_ADDRESS", address, 1);
	(void)setenv("TZ", rig->tz, 1);
	(void)setenv("LC_ALL", "C.UTF-8", 1);
}

static void child_run(const struct rig *rig, const char *const argv[], pid_t parent, int in, int out, int err)
{
	(void)prctl(PR_SET_PDEATHSIG, SIGKILL);
	if (getppid() != parent)
		_exit(126); /* it died before it could take us along */
	child_environment(rig);
	(void)signal(SIGPIPE, SIG_DFL);
	if (dup2(in, 0) < 0 || dup2(out, 1) < 0 || dup2(err, 2) < 0)
		_exit(126);
	if (argv[0] == programs.daemon && rig->before_daemon)
		rig->before_daemon(rig);
	(void)execvp(argv[0], (char *const *)argv);
	_exit(127);
}

static void spawn(struct rig *rig, const char *const argv[], struct child *ret)
{
	int in[2], out[2], err[2];
	pid_t parent = getpid(), pid;

	if (pipe2(in, O_CLOEXEC) < 0 || pipe2(out, O_CLOEXEC) < 0 || pipe2(err, O_CLOEXEC) < 0)
		deck_fail(rig->deck, "no pipes: %s", strerror(errno));
	pid = fork();
	if (pid < 0)
		deck_fail(rig->deck, "no process: %s", strerror(errno));
	if (pid == 0)
		child_run(rig, argv, parent, in[0], out[1], err[1]);
	(void)close(in[0]);
	(void)close(out[1]);
	(void)close(err[1]);
	*ret = (struct child){ pid, in[1], out[0], err[0] };
}

/* The status of a child that is ending, or has ended. */
static int reap(struct rig *rig, pid_t *pid)
{
	int status = 0;

	if (waitpid(*pid, &status, 0) != *pid)
		deck_fail(rig->deck, "waitpid: %s", strerror(errno));
	*pid = 0;
	return status;
}

static bool has_words(const struct tape_line *line, const void *words)
{
	return strstr(line->text, words) != NULL;
}

/* ---- the bus and who is on it ---- */

static void write_config(struct rig *rig, const char *path)
{
	FILE *file = fopen(path, "we");

	if (!file || fprintf(file, BUS_CONFIG, rig->dir) < 0 || fclose(file) != 0)
		deck_fail(rig->deck, "can't write %s", path);
}

void rig_start_bus(struct rig *rig)
{
	char config[128], option[160];
	struct child child;

	(void)snprintf(config, sizeof config, "%s/bus.conf", rig->dir);
	(void)snprintf(option, sizeof option, "--config-file=%s", config);
	write_config(rig, config);
	spawn(rig, (const char *const[]){ "dbus-daemon", option, "--nofork", "--nopidfile", "--print-address=1", NULL },
	      &child);
	rig->bus = child.pid;
	(void)close(child.in);
	rig->bus_out = tape_new(rig->deck, "bus", child.out);
	(void)tape_new(rig->deck, "bus!", child.err);
	(void)tape_take(rig->bus_out, has_words, "unix:path=", "the address of the bus");
}

void rig_stop_bus(struct rig *rig)
{
	deck_note(rig->deck, "test", "kill the bus");
	(void)kill(rig->bus, SIGKILL);
	(void)reap(rig, &rig->bus);
}

void rig_start_sim(struct rig *rig)
{
	struct child child;

	spawn(rig, (const char *const[]){ programs.sim, NULL }, &child);
	rig->sim = child.pid;
	rig->sim_in = child.in;
	rig->sim_out = tape_new(rig->deck, "sim", child.out);
	rig->sim_err = tape_new(rig->deck, "sim!", child.err);
	(void)rig_event(rig, "ready ");
	(void)rig_sim(rig, "set connect-ms 5");
	(void)rig_sim(rig, "set resolve-ms 5");
	(void)rig_sim(rig, "set disconnect-ms 5");
	(void)rig_sim(rig, "set advert-ms 100");
	(void)rig_sim(rig, "adapter add hci0 02:00:00:00:00:01");
}

void rig_reap_sim(struct rig *rig)
{
	tape_await_end(rig->sim_out);
	(void)close(rig->sim_in);
	(void)reap(rig, &rig->sim);
}

void rig_configure(struct rig *rig, const char *text)
{
	FILE *file;

	(void)snprintf(rig->config_path, sizeof rig->config_path, "%s/bismard.conf", rig->dir);
	rig->config = rig->config_path;
	file = fopen(rig->config, "we");
	if (!file || fputs(text, file) < 0 || fclose(file) != 0)
		deck_fail(rig->deck, "can't write %s", rig->config);
}

void rig_reload(struct rig *rig)
{
	deck_note(rig->deck, "test", "SIGHUP for bismard");
	(void)kill(rig->daemon, SIGHUP);
	(void)tape_take(rig->log, has_words, "the settings have been read again", "bismard to read its settings again");
}

void rig_start_daemon(struct rig *rig)
{
	struct child child;

	deck_note(rig->deck, "test", "start bismard");
	spawn(rig,
	      (const char *const[]){ programs.daemon, "--state", rig->state, "--socket", rig->socket, "--config",
				     rig->config ? rig->config : "/dev/null", "--log-level", "debug", NULL },
	      &child);
	rig->daemon = child.pid;
	rig->n_log = 0;
	(void)close(child.in);
	rig->log = tape_new(rig->deck, "bismard", child.err);
	(void)tape_new(rig->deck, "bismard>", child.out);
	(void)tape_take(rig->log, has_words, " is ready", "bismard to be ready");
}

static void look_for_sanitizers(struct rig *rig, const struct tape *log, const char *name)
{
	if (tape_count(log, has_words, "Sanitizer") || tape_count(log, has_words, "runtime error:"))
		deck_fail(rig->deck, "a sanitizer found something in %s", name);
}

int rig_stop_daemon(struct rig *rig, int signal)
{
	int status;

	deck_note(rig->deck, "test", "signal %d for bismard", signal);
	(void)kill(rig->daemon, signal);
	tape_await_end(rig->log);
	status = reap(rig, &rig->daemon);
	look_for_sanitizers(rig, rig->log, "bismard");
	return status;
}

void rig_kill_daemon(struct rig *rig)
{
	int status = rig_stop_daemon(rig, SIGKILL);

	if (!WIFSIGNALED(status) || WTERMSIG(status) != SIGKILL)
		deck_fail(rig->deck, "bismard had ended by itself, status 0x%x", (unsigned)status);
}

static bool is_any(const struct tape_line *line, const void *wanted)
{
	(void)line, (void)wanted;
	return true;
}

static void gather(struct tape *tape, char *ret, size_t size)
{
	const struct tape_line *line;
	size_t n = 0;

	*ret = '\0';
	tape_await_end(tape);
	while ((line = tape_look(tape, is_any, NULL)) && n < size)
		n += (size_t)snprintf(ret + n, size - n, "%s\n", line->text);
}

static void run(struct rig *rig, const char *const head[], const char *const args[], struct rig_ran *ret)
{
	const char *argv[2 * RIG_ARGS_MAX + 1];
	struct tape *out, *err;
	struct child child;
	size_t n = 0;
	int status;

	for (size_t i = 0; head[i]; i++)
		argv[n++] = head[i];
	for (size_t i = 0; args[i] && i < RIG_ARGS_MAX; i++)
		argv[n++] = args[i];
	argv[n] = NULL;
	spawn(rig, argv, &child);
	if (rig->input && write(child.in, rig->input, strlen(rig->input)) < 0) /* fits into the pipe */
		deck_note(rig->deck, "run", "it doesn't read: %s", strerror(errno));
	(void)close(child.in);
	out = tape_new(rig->deck, "run", child.out);
	err = tape_new(rig->deck, "run!", child.err);
	gather(out, ret->out, sizeof ret->out);
	gather(err, ret->err, sizeof ret->err);
	status = reap(rig, &child.pid);
	ret->status = WIFEXITED(status) ? WEXITSTATUS(status) : -1;
	deck_note(rig->deck, "run", "exit status %d", ret->status);
}

void rig_run_daemon(struct rig *rig, const char *const args[], struct rig_ran *ret)
{
	run(rig, (const char *const[]){ programs.daemon, NULL }, args, ret);
}

void rig_run_ctl(struct rig *rig, const char *const args[], struct rig_ran *ret)
{
	char database[128];

	(void)snprintf(database, sizeof database, "%s/bismar.db", rig->state);
	run(rig, (const char *const[]){ programs.ctl, "--socket", rig->socket, "--database", database, NULL }, args,
	    ret);
}

/* ---- further programs ---- */

void rig_begin(struct rig *rig, const char *name, const char *const argv[], struct rig_program *ret)
{
	struct child child;
	char err[32];

	(void)snprintf(err, sizeof err, "%s!", name);
	deck_note(rig->deck, "test", "start %s", name);
	spawn(rig, argv, &child);
	(void)close(child.in);
	*ret = (struct rig_program){ child.pid, tape_new(rig->deck, name, child.out), tape_new(rig->deck, err, child.err) };
}

const char *rig_heard(struct rig_program *program, const char *words)
{
	return tape_take(program->err, has_words, words, words)->text;
}

int rig_end(struct rig *rig, struct rig_program *program, int signal)
{
	int status;

	if (signal)
		(void)kill(program->pid, signal);
	tape_await_end(program->err);
	status = reap(rig, &program->pid);
	look_for_sanitizers(rig, program->err, "a program beside bismard");
	return status;
}

/* ---- setup and teardown ---- */

int rig_setup_bare(void **state)
{
	struct rig *rig = calloc(1, sizeof *rig);

	if (!rig)
		return -1;
	rig->deck = deck_new();
	rig->sim_in = -1;
	(void)snprintf(rig->tz, sizeof rig->tz, "UTC");
	(void)snprintf(rig->dir, sizeof rig->dir, "/tmp/bismar-bus-XXXXXX");
	if (!mkdtemp(rig->dir))
		return -1;
	(void)snprintf(rig->state, sizeof rig->state, "%s/state", rig->dir);
	(void)snprintf(rig->socket, sizeof rig->socket, "%s/prompt.sock", rig->dir);
	if (mkdir(rig->state, 0750) < 0)
		return -1;
	*state = rig;
	return 0;
}

int rig_setup(void **state)
{
	int r = rig_setup_bare(state);

	if (r != 0)
		return r;
	rig_start_bus(*state);
	rig_start_sim(*state);
	rig_start_daemon(*state);
	return 0;
}

static int remove_one(const char *path, const struct stat *status, int kind, struct FTW *at)
{
	(void)status, (void)kind, (void)at;
	(void)remove(path); /* what can't be removed is left for the machine's cleaner */
	return 0;
}

static void end_sim(struct rig *rig)
{
	int status;

	(void)close(rig->sim_in); /* the end of its commands is its end */
	tape_await_end(rig->sim_out);
	status = reap(rig, &rig->sim);
	look_for_sanitizers(rig, rig->sim_err, "scale-sim");
	if (!WIFEXITED(status) || WEXITSTATUS(status) != 0)
		deck_fail(rig->deck, "scale-sim ended with status 0x%x", (unsigned)status);
}

static void discard(struct rig *rig)
{
	pid_t *const pids[] = { &rig->daemon, &rig->sim, &rig->bus };

	for (size_t i = 0; i < sizeof pids / sizeof *pids; i++) {
		if (*pids[i] <= 0)
			continue;
		(void)kill(*pids[i], SIGKILL);
		(void)waitpid(*pids[i], NULL, 0);
		*pids[i] = 0;
	}
	(void)nftw(rig->dir, remove_one, 8, FTW_DEPTH | FTW_PHYS);
}

int rig_teardown(void **state)
{
	struct rig *rig = *state;
	int status = rig->daemon ? rig_stop_daemon(rig, SIGTERM) : 0;
	bool clean = WIFEXITED(status) && WEXITSTATUS(status) == 0;

	if (getenv("BISMAR_SEEN"))
		deck_print(rig->deck);
	if (rig->sim)
		end_sim(rig);
	discard(rig);
	if (!clean)
		deck_fail(rig->deck, "bismard ended with status 0x%x after SIGTERM", (unsigned)status);
	deck_free(rig->deck);
	free(rig);
	return 0;
}
