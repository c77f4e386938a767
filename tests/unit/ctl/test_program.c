// SPDX-License-Identifier: MIT
/*
 * The built program: its exit status (the contract's), what it prints, and that it gives the terminal back. The test
 * plays the daemon. argv[1] is the program.
 */
#include "daemon/ctl/field.h"
#include "lab.h"
#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <pty.h>
#include <signal.h>
#include <sys/wait.h>
#include <termios.h>

#define PATIENCE_MS 20000 /* for a loaded machine; nothing waits that long when all is well */

static const char *program;
static struct lab lab;

/* ---- running it ---- */

struct run {
	pid_t pid;
	int in, out, err; /* our ends; -1 none */
};

static void child(const char *const *words, int in, int out, int err)
{
	char *argv[16] = { (char *)program };

	for (size_t i = 0; words[i] && i + 2 < sizeof argv / sizeof *argv; i++)
		argv[i + 1] = (char *)words[i];
	(void)dup2(in, STDIN_FILENO);
	(void)dup2(out, STDOUT_FILENO);
	(void)dup2(err, STDERR_FILENO);
	(void)setenv("BISMAR_SOCKET", lab.socket, 1);
	(void)setenv("BISMAR_DATABASE", lab.database, 1);
	(void)setenv("BISMAR_UNITS", "g", 1);
	(void)setenv("TZ", "UTC0", 1);
	(void)setenv("LC_ALL", "C.UTF-8", 1);
	(void)setenv("TERM", "vt100", 1);
	(void)execv(program, argv);
	_exit(127);
}

static struct run start(const char *const *words)
{
	int in[2], out[2], err[2];
	struct run run;

	assert_int_equal(pipe2(in, O_CLOEXEC), 0);
	assert_int_equal(pipe2(out, O_CLOEXEC), 0);
	assert_int_equal(pipe2(err, O_CLOEXEC), 0);
	run.pid = fork();
	assert_true(run.pid >= 0);
	if (run.pid == 0)
		child(words, in[0], out[1], err[1]);
	(void)close(in[0]);
	(void)close(out[1]);
	(void)close(err[1]);
	run.in = in[1];
	run.out = out[0];
	run.err = err[0];
	return run;
}

/* Reads until text is there, or the end when text is NULL. */
static void read_until(int fd, char *buffer, size_t size, const char *text)
{
	size_t n = strlen(buffer);

	while (!text || !strstr(buffer, text)) {
		struct pollfd pollfd = { .fd = fd, .events = POLLIN };
		if (poll(&pollfd, 1, PATIENCE_MS) <= 0)
			fail_msg("no \"%s\" in: %s", text ? text : "end", buffer);
		ssize_t got = read(fd, buffer + n, size - 1 - n);
		if (got <= 0 && !text)
			return;
		if (got <= 0)
			fail_msg("ended without \"%s\": %s", text, buffer);
		n += (size_t)got;
		buffer[n] = '\0';
		assert_true(n < size - 1);
	}
}

static int finish(struct run *run, char *out, char *err, size_t size)
{
	int status;

	(void)close(run->in);
	out[0] = err[0] = '\0';
	read_until(run->out, out, size, NULL);
	read_until(run->err, err, size, NULL);
	(void)close(run->out);
	(void)close(run->err);
	assert_int_equal(waitpid(run->pid, &status, 0), run->pid);
	assert_true(WIFEXITED(status));
	return WEXITSTATUS(status);
}

static char out[16384], err[16384];

/* Words up to NULL; the exit status. */
static int run_all(const char *const *words)
{
	struct run run = start(words);

	return finish(&run, out, err, sizeof out);
}

#define RUN(...) run_all((const char *const[]){ __VA_ARGS__, NULL })

/* ---- playing the daemon ---- */

static void tell(int peer, const char *text)
{
	assert_int_equal(write(peer, text, strlen(text)), (ssize_t)strlen(text));
}

static int meet(void)
{
	struct pollfd pollfd = { .fd = lab.listener, .events = POLLIN };

	assert_int_equal(poll(&pollfd, 1, PATIENCE_MS), 1);
	int peer = accept(lab.listener, NULL, NULL);
	assert_true(peer >= 0);
	return peer;
}

/* The next request, which must be of this method. */
static json_t *request(int peer, const char *method)
{
	char line[4096] = "";
	json_t *json;
	size_t n = 0;

	while (n == 0 || line[n - 1] != '\n') {
		struct pollfd pollfd = { .fd = peer, .events = POLLIN };
		assert_int_equal(poll(&pollfd, 1, PATIENCE_MS), 1);
		assert_int_equal(read(peer, line + n, 1), 1);
		n++;
	}
	json = json_loads(line, 0, NULL);
	assert_non_null(json);
	assert_string_equal(field_text(json, "method"), method);
	return json;
}

static void reply(int peer, json_t *request_json, const char *member, const char *value)
{
	char text[4096];

	(void)snprintf(text, sizeof text, "{\"jsonrpc\":\"2.0\",\"id\":%lld,\"%s\":%s}\n",
		       (long long)json_integer_value(json_object_get(request_json, "id")), member, value);
	tell(peer, text);
	json_decref(request_json);
}

#define ASK                                                                                                            \
	"{\"jsonrpc\":\"2.0\",\"method\":\"ask\",\"params\":{\"ask\":\"ask-1\",\"at\":\"2026-11-25T12:45:00Z\","       \
	"\"scale\":\"kitchen\",\"container\":\"basket\",\"gross_g\":716.5,\"tare_g\":404,\"net_g\":312.5,\"u_g\":2.9," \
	"\"state\":\"settled\",\"litter\":\"Birch\",\"candidates\":[{\"animal\":\"id-acer\",\"name\":\"Acer\","        \
	"\"collar\":\"green\",\"expected_g\":318,\"u_expected_g\":9,\"probability\":0.6}],\"say\":\"\"}}\n"
#define STATUS "{\"version\":\"0\",\"radio\":{\"trouble\":\"fine\",\"text\":\"\"},\"scales\":[],\"asks\":1}"
#define RECORDED                                                                                                       \
	"{\"reading\":\"ask-1\",\"ask\":\"ask-1\",\"animal\":\"id-acer\",\"name\":\"Acer\","                           \
	"\"at\":\"2026-11-25T12:45:00Z\",\"net_g\":312.5,\"u_g\":2.9,\"by\":\"keeper\"}"

/* A connection of watch: its first two requests are answered, an ask is told before that, as the daemon does. */
static int meet_watch(void)
{
	int peer = meet();

	tell(peer, ASK);
	reply(peer, request(peer, "follow"), "result", "{\"topics\":[]}");
	reply(peer, request(peer, "status"), "result", STATUS);
	return peer;
}

/* ---- the tests ---- */

static void test_wrong_use(void **state)
{
	(void)state;
	assert_int_equal(RUN("frob"), 2);
	assert_int_equal(RUN("--frob"), 2);
	assert_int_equal(RUN("scale"), 2);
	assert_int_equal(RUN("scale", "frob"), 2);
	assert_int_equal(RUN("answer"), 2);
	assert_string_equal(out, "");
	assert_non_null(strstr(err, "Usage: bismar answer WHO"));
	assert_int_equal(RUN("weigh", "Acer", "304"), 2);
	assert_non_null(strstr(err, "unit"));
	assert_int_equal(RUN("weigh", "Acer", "304g", "--at", "25:00"), 2);
	assert_int_equal(RUN("export", "xml"), 2);
	assert_int_equal(RUN("--units", "stone", "status"), 2);
	assert_int_equal(RUN("answer", "\xff"), 2); /* no UTF-8 */
	assert_int_equal(RUN("animal", "gone", "Acer"), 2);
	assert_int_equal(RUN("container", "on", "basket"), 2);
	assert_int_equal(run_all((const char *const[]){ NULL }), 2);
}

static void test_help(void **state)
{
	(void)state;
	assert_int_equal(RUN("help"), 0);
	assert_non_null(strstr(out, "container tare"));
	assert_int_equal(RUN("--help"), 0);
	assert_int_equal(RUN("help", "weigh"), 0);
	assert_non_null(strstr(out, "bismar weigh WHO MASS [--at T]"));
	assert_int_equal(RUN("scale", "adopt", "--help"), 0);
	assert_non_null(strstr(out, "ADDRESS NAME"));
	assert_int_equal(RUN("--version"), 0);
	assert_string_equal(out, "bismar " BISMAR_VERSION "\n");
	assert_string_equal(err, "");
}

static void test_absent(void **state)
{
	(void)state;
	lab_init(&lab);
	assert_int_equal(RUN("--socket", "/nonexistent/sock", "answer", "Acer"), 3);
	assert_non_null(strstr(err, "No daemon answers at /nonexistent/sock"));
	assert_non_null(strstr(err, "systemctl start bismard"));
	assert_int_equal(RUN("answer", "Acer", "--socket", "/nonexistent/sock"), 3);
	assert_int_equal(RUN("--database", "/nonexistent/db", "reading", "list"), 3);
	assert_int_equal(RUN("--database", "/nonexistent/db", "export", "csv"), 3);
	assert_string_equal(out, "");
	assert_int_equal(RUN("--socket", "/nonexistent/sock", "status"), 3);
	assert_non_null(strstr(out, "2 readings")); /* what is recorded can be seen all the same */
	lab_done(&lab);
}

static void test_done_and_refused(void **state)
{
	const char *const words[] = { "answer", "green", "--ask", "k-1", "--by", "keeper", NULL };
	struct run run;
	json_t *asked;
	int peer;

	(void)state;
	lab_init(&lab);
	run = start(words);
	peer = meet();
	tell(peer, ASK); /* told unasked; of no concern here */
	asked = request(peer, "answer");
	assert_string_equal(field_text(json_object_get(asked, "params"), "animal"), "green");
	assert_string_equal(field_text(json_object_get(asked, "params"), "ask"), "k-1");
	assert_string_equal(field_text(json_object_get(asked, "params"), "by"), "keeper");
	reply(peer, asked, "result", RECORDED);
	assert_int_equal(finish(&run, out, err, sizeof out), 0);
	assert_non_null(strstr(out, "Acer: 312.5 g"));
	(void)close(peer);

	run = start(words);
	peer = meet();
	reply(peer, request(peer, "answer"), "error",
	      "{\"code\":-32000,\"message\":\"no question is open\",\"data\":{\"code\":\"no-open-ask\","
	      "\"hint\":\"Put a pup on the scale.\"}}");
	assert_int_equal(finish(&run, out, err, sizeof out), 1);
	assert_string_equal(out, "");
	assert_string_equal(err, "bismar: no question is open. Put a pup on the scale.\n");
	(void)close(peer);

	run = start(words); /* the daemon goes away in the middle */
	peer = meet();
	json_decref(request(peer, "answer"));
	(void)close(peer);
	assert_int_equal(finish(&run, out, err, sizeof out), 3);
	lab_done(&lab);
}

static void test_mass_and_time(void **state)
{
	struct run run;
	json_t *asked, *params;
	int peer;

	(void)state;
	lab_init(&lab);
	run = start((const char *const[]){ "weigh", "Acer", "0,304", "kg", "--at", "2026-11-24 10:00", NULL });
	peer = meet();
	asked = request(peer, "weigh");
	params = json_object_get(asked, "params");
	assert_string_equal(field_text(params, "mass"),
			    "0,304kg"); /* as typed: the last digit says how well it was read */
	assert_string_equal(field_text(params, "at"), "2026-11-24T10:00:00.000+00:00");
	assert_null(json_object_get(params, "by"));
	reply(peer, asked, "result", RECORDED);
	assert_int_equal(finish(&run, out, err, sizeof out), 0);
	(void)close(peer);

	/* a tare that waits for the scale */
	run = start((const char *const[]){ "container", "tare", "Basket", NULL });
	peer = meet();
	reply(peer, request(peer, "follow"), "result", "{}");
	reply(peer, request(peer, "container.tare"), "result", "{\"container\":\"Basket\",\"waiting\":true}");
	tell(peer,
	     "{\"jsonrpc\":\"2.0\",\"method\":\"container\",\"params\":{\"container\":\"box\",\"what\":\"tared\"}}\n"
	     "{\"jsonrpc\":\"2.0\",\"method\":\"container\",\"params\":{\"container\":\"basket\",\"what\":\"tared\","
	     "\"tare_g\":404,\"u_g\":1.4}}\n");
	assert_int_equal(finish(&run, out, err, sizeof out), 0);
	assert_string_equal(out, "The container basket weighs 404 g (uncertainty 1.4 g).\n");
	(void)close(peer);
	lab_done(&lab);
}

static void test_find(void **state)
{
	struct run run;
	int peer;

	(void)state;
	lab_init(&lab);
	run = start((const char *const[]){ "scale", "find", "3", NULL });
	peer = meet();
	reply(peer, request(peer, "follow"), "result", "{}");
	reply(peer, request(peer, "scale.find"), "result", "{\"seconds\":3}");
	tell(peer, "{\"jsonrpc\":\"2.0\",\"method\":\"found\",\"params\":{\"address\":\"AA:BB:CC:00:00:01\",\"name\":"
		   "\"x\\u001b[2J\","
		   "\"offers\":[\"weight-scale\"],\"rssi_dbm\":-60,\"adopted\":null}}\n");
	out[0] = '\0';
	read_until(run.out, out, sizeof out, "\n"); /* as it comes, not at the end */
	assert_string_equal(out, "AA:BB:CC:00:00:01   -60 dBm  x?[2J             Weight Scale Service\n");
	tell(peer, "{\"jsonrpc\":\"2.0\",\"method\":\"found\",\"params\":{\"done\":true}}\n");
	assert_int_equal(finish(&run, out, err, sizeof out), 0);
	(void)close(peer);
	lab_done(&lab);
}

static void test_export(void **state)
{
	(void)state;
	lab_init(&lab);
	assert_int_equal(RUN("export", "csv", "--litter", "birch"), 0);
	assert_string_equal(
		out,
		"reading_id,animal_id,animal,collar,litter_id,litter,at,at_ms,net_g,u_g,gross_g,tare_g,container,scale,"
		"origin,state,fed,answered_at_ms,answered_by\r\n"
		"r1-aaaa,A1,Acer,green,L1,Birch,2026-11-25T12:45:30.000Z,1795610730000,312.5,2.9,716.5,404.0,basket,"
		"kitchen,radio,settled,,1795610740000,keeper\r\n"
		"r2-bbbb,A2,\"Bean, \"\"the\r\nsecond\"\"\",,L1,Birch,2026-11-25T12:46:30.000Z,1795610790000,304.1,2.9,"
		"708.1,404.0,basket,kitchen,radio,settled,before,1795610750000,keeper\r\n");
	assert_int_equal(RUN("export", "jsonl", "--since", "2026-11-25T12:46:00Z"), 0);
	json_t *row = json_loads(out, 0, NULL);
	assert_string_equal(field_text(row, "animal"), "Bean, \"the\r\nsecond\"");
	assert_non_null(strstr(out, "\"net_g\":304.1,")); /* not 304.10000000000002 */
	json_decref(row);
	assert_int_equal(RUN("export", "csv", "--litter", "Beech"), 1);
	assert_int_equal(RUN("reading", "list", "Acer", "--units", "oz"), 0);
	assert_non_null(strstr(out, "11.02 oz")); /* 312.5 / 28.349523125 = 11.0231; NIST SP 811 */
	assert_int_equal(RUN("reading", "list", "--json", "--last", "1"), 0);
	assert_non_null(strstr(out, "\"reading_id\":\"r2-bbbb\""));
	assert_null(strstr(out, "r1-aaaa"));
	assert_int_equal(RUN("ask", "list"), 0);
	assert_string_equal(out, "Every weighing is answered.\n");
	assert_int_equal(RUN("ask", "list", "--json"), 0);
	assert_string_equal(out, "");
	lab_done(&lab);
}

static void test_undo(void **state)
{
	struct run run;
	json_t *asked;
	int peer;

	(void)state;
	lab_init(&lab);
	run = start((const char *const[]){ "undo", NULL });
	peer = meet();
	asked = request(peer, "reopen");
	assert_string_equal(field_text(json_object_get(asked, "params"), "ask"), "r2-bbbb"); /* answered last */
	reply(peer, asked, "result", "{\"ask\":\"r2-bbbb\"}");
	assert_int_equal(finish(&run, out, err, sizeof out), 0);
	(void)close(peer);
	lab_sql(lab.database, "DELETE FROM reading");
	assert_int_equal(RUN("undo"), 1);
	lab_done(&lab);
}

static void test_watch_lines(void **state)
{
	struct run run;
	json_t *asked;
	int peer;

	(void)state;
	lab_init(&lab);
	run = start((const char *const[]){ "watch", NULL });
	tell(run.in, "green\n-\n"); /* before anything was asked: kept until then */
	peer = meet_watch();
	out[0] = '\0';
	read_until(run.out, out, sizeof out, "60 %");
	asked = request(peer, "answer");
	assert_string_equal(field_text(json_object_get(asked, "params"), "ask"), "ask-1");
	assert_string_equal(field_text(json_object_get(asked, "params"), "animal"), "green");
	tell(peer, "{\"jsonrpc\":\"2.0\",\"method\":\"recorded\",\"params\":" RECORDED "}\n");
	reply(peer, asked, "result", RECORDED);
	read_until(run.out, out, sizeof out, "Recorded: Acer, 312.5 g, weighed");
	read_until(run.out, out, sizeof out, "No question is open."); /* the second line found none */
	(void)close(peer);
	peer = meet_watch(); /* it comes back by itself, and is told the asks again */
	assert_int_equal(kill(run.pid, SIGTERM), 0);
	assert_int_equal(finish(&run, out, err, sizeof out), 0);
	assert_non_null(strstr(err, "Trying again"));
	(void)close(peer);
	lab_done(&lab);
}

static void test_watch_json(void **state)
{
	struct run run;
	json_t *line;
	int peer;

	(void)state;
	lab_init(&lab);
	run = start((const char *const[]){ "--json", "watch", NULL });
	peer = meet_watch();
	out[0] = '\0';
	read_until(run.out, out, sizeof out, "\n");
	line = json_loads(out, 0, NULL);
	assert_string_equal(field_text(line, "topic"), "ask");
	assert_string_equal(field_text(line, "ask"), "ask-1");
	json_decref(line);
	(void)close(run.out); /* the reader has gone: it goes too */
	run.out = open("/dev/null", O_RDONLY | O_CLOEXEC);
	assert_int_equal(finish(&run, out, err, sizeof out), 0);
	(void)close(peer);
	lab_done(&lab);
}

/* On a terminal: keys become requests; however it ends, the terminal is as it was. */
static void watch_on_terminal(int signal_number)
{
	const struct winsize size = { .ws_row = 24, .ws_col = 80 };
	struct termios before, during, after;
	char screen[65536] = "";
	int master, slave, status, peer;
	json_t *asked;
	pid_t pid;

	lab_init(&lab);
	assert_int_equal(openpty(&master, &slave, NULL, NULL, &size), 0);
	assert_int_equal(tcgetattr(slave, &before), 0);
	pid = fork();
	assert_true(pid >= 0);
	if (pid == 0)
		child((const char *const[]){ "watch", NULL }, slave, slave, STDERR_FILENO);
	peer = meet_watch();
	read_until(master, screen, sizeof screen, "Who is it?");
	assert_int_equal(tcgetattr(slave, &during), 0);
	assert_int_equal(during.c_lflag & (ICANON | ECHO | ISIG), 0);
	tell(master, "grx\x7f"
		     "een\r");
	asked = request(peer, "answer");
	assert_string_equal(field_text(json_object_get(asked, "params"), "animal"), "green");
	reply(peer, asked, "result", RECORDED);
	read_until(master, screen, sizeof screen, "Recorded: Acer.");
	if (signal_number)
		assert_int_equal(kill(pid, signal_number), 0);
	else
		tell(master, "\x03");
	read_until(master, screen, sizeof screen, "\033[999;1H");
	assert_int_equal(waitpid(pid, &status, 0), pid);
	assert_true(WIFEXITED(status) && WEXITSTATUS(status) == 0);
	assert_int_equal(tcgetattr(slave, &after), 0);
	assert_int_equal(after.c_lflag, before.c_lflag);
	assert_int_equal(after.c_iflag, before.c_iflag);
	assert_memory_equal(after.c_cc, before.c_cc, sizeof after.c_cc);
	(void)close(master);
	(void)close(slave);
	(void)close(peer);
	lab_done(&lab);
}

static void test_watch_terminal(void **state)
{
	(void)state;
	watch_on_terminal(0);
	watch_on_terminal(SIGINT);
	watch_on_terminal(SIGTERM);
	watch_on_terminal(SIGHUP);
}

/* Asks by words, answers with this result; the exit status. */
static int ask_for(const char *const *words, const char *method, const char *result)
{
	struct run run = start(words);
	int peer = meet(), status;

	reply(peer, request(peer, method), "result", result);
	status = finish(&run, out, err, sizeof out);
	(void)close(peer);
	return status;
}

#define ASK_FOR(method, result, ...) ask_for((const char *const[]){ __VA_ARGS__, NULL }, method, result)

static void check_out(const char *text)
{
	if (!strstr(out, text))
		fail_msg("no \"%s\" in:\n%s%s", text, out, err);
}

#define GAINS                                                                                                          \
	"{\"animal\":\"a\",\"name\":\"Acer\",\"litter\":\"Birch\",\"verdict\":\"gaining\",\"readings\":9,"             \
	"\"newest\":\"2026-11-25T07:00:00Z\",\"mass_g\":312.449,\"gain_g_per_day\":21.44,\"u_gain_g_per_day\":2.06,"   \
	"\"gain_pct_per_day\":6.861,\"u_gain_pct_per_day\":0.659,\"since_birth_pct\":12.3,\"tell_at\":null,"           \
	"\"p_stopped\":0.01,\"since\":null,\"wild\":false}"
#define LOSES                                                                                                          \
	"{\"animal\":\"b\",\"name\":\"Bean\",\"litter\":\"Birch\",\"verdict\":\"losing\",\"readings\":9,"              \
	"\"newest\":\"2026-11-25T07:00:00Z\",\"mass_g\":290.0,\"gain_g_per_day\":-4.96,\"u_gain_g_per_day\":1.5,"      \
	"\"gain_pct_per_day\":-1.71,\"u_gain_pct_per_day\":0.5,\"since_birth_pct\":-3.4,"                              \
	"\"tell_at\":\"2025-11-20T07:00:00Z\",\"p_stopped\":0.9994,\"since\":\"2025-11-20T06:00:00Z\",\"wild\":true}"

static void test_growth(void **state)
{
	(void)state;
	lab_init(&lab);
	assert_int_equal(ASK_FOR("growth", "{\"as_of\":\"2026-11-25T08:00:00Z\",\"growth\":[" GAINS "," LOSES "]}", "growth"), 0);
	/* as many digits as the uncertainty leaves: JCGM 100, 7.2.6 */
	check_out("Acer  Birch   312 g     +21 \xc2\xb1 2 g  +6.9 \xc2\xb1 0.7 %        +12 %  gaining  any time\n");
	/* told already: nobody is to wait for the next weighing */
	check_out("Bean  Birch   290 g  -5.0 \xc2\xb1 1.5 g  -1.7 \xc2\xb1 0.5 %         -3 %  losing   -\n");
	check_out("Don't wait for the next weighing");
	/* of one that isn't gaining a sentence, and when to stop reading; certainty is never told as whole */
	check_out("Bean is losing weight (99 % sure), likeliest since 2025-11-20 06:00.\n");
	check_out("call the vet now");
	check_out("Bean: the newest reading is far from what was expected");
	assert_null(strstr(out, "Acer is"));
	assert_int_equal(ASK_FOR("growth", "{\"growth\":[" GAINS "]}", "growth", "Acer", "--units", "oz"), 0);
	check_out("11.02 oz  +0.8 \xc2\xb1 0.1 oz"); /* 312.449 g, 21.44 g, 2.06 g; NIST SP 811: 28.349 523 125 g */
	assert_null(strstr(out, "vet"));
	assert_int_equal(ASK_FOR("growth",
				 "{\"growth\":[{\"animal\":\"c\",\"name\":\"Corn\",\"litter\":\"Birch\","
				 "\"verdict\":\"too soon\",\"readings\":0}]}", "growth"), 0);
	check_out("Corn  Birch      -      -         -            -  too soon  now\n");
	assert_int_equal(ASK_FOR("growth", "{\"growth\":[" LOSES "]}", "growth", "--as-of", "2025-11-20T08:00:00Z"), 0);
	check_out("By what was measured up to 2025-11-20 08:00:\n");
	assert_null(strstr(out, "Don't wait")); /* that is of the past */
	assert_int_equal(ASK_FOR("growth", "{\"growth\":[" GAINS "," LOSES "]}", "--json", "growth"), 0);
	assert_int_equal(strncmp(out, "{\"animal\":\"a\",", 14), 0);
	assert_non_null(strstr(out, "}\n{\"animal\":\"b\","));
	assert_int_equal(ASK_FOR("growth", "{\"growth\":[]}", "growth"), 0);
	check_out("No animal is on record");
	assert_int_equal(ASK_FOR("growth", "{\"growth\":[7,null,{},{\"name\":5,\"mass_g\":1e300}]}", "growth"), 0);
	assert_int_equal(RUN("growth", "a", "b"), 2);
	assert_int_equal(RUN("growth", "--as-of", "noon"), 2);
	lab_done(&lab);
}

static void test_concerns(void **state)
{
	static const char look[] = "{\"animal\":\"a\",\"name\":\"Acer\",\"litter\":\"Birch\",\"level\":\"look\",\"rule\":\"behind\","
				   "\"text\":\"far behind\",\"source\":\"a book\",\"advice\":\"See.\",\"since_ms\":null}";
	static const char vet[] = "{\"animal\":null,\"name\":null,\"litter\":\"Oak\",\"level\":\"vet\",\"rule\":\"litter-slow\","
				  "\"text\":\"all are slow\",\"source\":\"a book\",\"advice\":\"Call your vet now.\","
				  "\"since_ms\":1763618400000}";
	char result[1200];

	(void)state;
	lab_init(&lab);
	(void)snprintf(result, sizeof result, "{\"concerns\":[%s,%s],\"say\":\"bismar is no vet.\"}", look, vet);
	assert_int_equal(ASK_FOR("concerns", result, "concerns"), 0);
	assert_string_equal(out, "CALL YOUR VET NOW: the litter Oak, since 2025-11-20 06:00\n"
				 "  all are slow\n"
				 "  Do: Call your vet now.\n"
				 "  Rule litter-slow. Source: a book\n"
				 "LOOK: Acer (Birch)\n"
				 "  far behind\n"
				 "  Do: See.\n"
				 "  Rule behind. Source: a book\n"
				 "bismar is no vet.\n");
	assert_int_equal(ASK_FOR("concerns", result, "concerns", "--json"), 0);
	assert_non_null(strstr(out, "\"level\":\"vet\""));
	assert_true(strstr(out, "\"level\":\"vet\"") < strstr(out, "\"level\":\"look\"")); /* worst first */
	assert_int_equal(ASK_FOR("concerns", "{\"concerns\":[],\"say\":\"bismar is no vet.\"}", "concerns", "Birch"), 0);
	check_out("isn't the same as well");
	check_out("bismar is no vet.\n");
	lab_done(&lab);
}

#define ROUND "\"round\":\"r\",\"litter\":\"Birch\",\"begun\":\"2025-11-20T06:00:00Z\","

static void test_rounds(void **state)
{
	(void)state;
	lab_init(&lab);
	assert_int_equal(ASK_FOR("round.begin", "{" ROUND "\"fed\":\"after\",\"left\":[\"Acer\",\"Bean\"],\"ended\":false}",
				 "round", "begin", "Birch", "--fed", "after"), 0);
	assert_string_equal(out, "The round of Birch, begun 2025-11-20 06:00, weighed after feeding.\n"
				 "  Still to weigh: Acer, Bean\n");
	assert_int_equal(ASK_FOR("round",
				 "{\"rounds\":[{" ROUND "\"fed\":null,\"left\":[],\"ended\":true,\"exchanges\":[{\"say\":\"both off\","
				 "\"corrections\":[{\"name\":\"Bean\",\"was\":\"Acer\"},{\"name\":\"Acer\",\"was\":\"Bean\"}]}]}]}",
				 "round"), 0);
	assert_string_equal(out, "The round of Birch, begun 2025-11-20 06:00, is over.\n"
				 "  All are weighed.\n"
				 "  Exchanged? both off.\n"
				 "    what was said to be Acer would be Bean\n"
				 "    what was said to be Bean would be Acer\n"
				 "  If that is so: bismar round exchange \"Birch\". Weigh those pups again when in doubt.\n");
	assert_int_equal(ASK_FOR("round.end", "{" ROUND "\"fed\":null,\"left\":[\"Bean\"],\"ended\":true,\"exchanges\":[]}", "round",
				 "end"), 0);
	check_out("  Not weighed: Bean\n");
	assert_int_equal(ASK_FOR("round.exchange", "{\"litter\":\"Birch\",\"corrected\":2,\"exchanges\":[]}", "round", "exchange"),
			 0);
	check_out("2 readings of Birch have changed hands.");
	assert_int_equal(ASK_FOR("round", "{\"rounds\":[]}", "round"), 0);
	check_out("No round was begun");
	assert_int_equal(RUN("round", "begin", "--fed", "during"), 2);
	assert_int_equal(RUN("help", "round"), 0);
	check_out("bismar round exchange [L]");
	lab_done(&lab);
}

static void test_limits(void **state)
{
	struct run run;
	json_t *asked, *params;
	int peer;

	(void)state;
	lab_init(&lab);
	run = start((const char *const[]){ "litter", "limits", "Birch", "--behind", "30", "--overdue=published", NULL });
	peer = meet();
	asked = request(peer, "litter.limits");
	params = json_object_get(asked, "params");
	assert_true(json_real_value(json_object_get(params, "behind_pct")) > 29.9);
	assert_true(json_is_real(json_object_get(params, "overdue_h")));
	assert_true(json_real_value(json_object_get(params, "overdue_h")) <= 0);
	assert_null(json_object_get(params, "early_loss_pct"));
	reply(peer, asked, "result",
	      "{\"litter\":\"Birch\",\"early_loss_pct\":4,\"band_low_pct\":5,\"overdue_h\":26,\"behind_pct\":30,"
	      "\"own\":[\"behind_pct\"]}");
	assert_int_equal(finish(&run, out, err, sizeof out), 0);
	(void)close(peer);
	check_out("  --behind        30 %  below the litter's mean (this litter's own)\n");
	check_out("  --overdue       26 h  without a weighing in the first two weeks (published)\n");
	for (const char *const *bad = (const char *const[]){ "", "x", "-4", "0x4", "1e1", "inf", "nan", "4,5", ".5", "4 ", NULL }; *bad;
	     bad++)
		assert_int_equal(RUN("litter", "limits", "Birch", "--behind", *bad), 2);
	assert_non_null(strstr(err, "--behind is a number such as 20 or 4.5, or published"));
	assert_int_equal(RUN("litter", "limits"), 2);
	assert_non_null(strstr(err, "L is missing."));
	assert_int_equal(RUN("correct", "r1-aaaa"), 2);
	assert_non_null(strstr(err, "WHO is missing."));
	lab_done(&lab);
}

int main(int argc, char **argv)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_wrong_use),      cmocka_unit_test(test_help),
		cmocka_unit_test(test_absent),         cmocka_unit_test(test_done_and_refused),
		cmocka_unit_test(test_mass_and_time),  cmocka_unit_test(test_find),
		cmocka_unit_test(test_growth),         cmocka_unit_test(test_concerns),
		cmocka_unit_test(test_rounds),         cmocka_unit_test(test_limits),
		cmocka_unit_test(test_export),         cmocka_unit_test(test_undo),
		cmocka_unit_test(test_watch_lines),    cmocka_unit_test(test_watch_json),
		cmocka_unit_test(test_watch_terminal),
	};

	if (argc != 2)
		return 2;
	program = argv[1];
	(void)signal(SIGPIPE, SIG_IGN);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
