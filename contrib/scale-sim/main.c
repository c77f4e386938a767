// SPDX-License-Identifier: MIT
/* scale-sim: weight scales and the bluetoothd that hears them, on a private bus. One poll loop: the bus, standard
 * input, and times that are due. */
#include "adapter.h"
#include "apps.h"
#include "bus.h"
#include "commands.h"
#include "model.h"
#include "say.h"
#include "script.h"
#include "strangers.h"
#include <errno.h>
#include <fcntl.h>
#include <unistd.h>

/* How long poll() may block: -1 for ever. */
static int poll_timeout_ms(struct sim *sim, const struct script *script)
{
	int64_t due_ms = script->waiting ? script->until_ms : SIM_NEVER, now_ms = model_now_ms();

	if (bus_busy(sim->bus) || strangers_busy(sim))
		return 0;
	for (size_t i = 0; sim->bus && i < SIM_ADAPTERS; i++) {
		int64_t one_ms = adapter_due(&sim->adapters[i]);
		if (one_ms < due_ms)
			due_ms = one_ms;
	}
	if (due_ms == SIM_NEVER)
		return -1;
	return due_ms <= now_ms ? 0 : due_ms - now_ms > 60000 ? 60000 : (int)(due_ms - now_ms);
}

static bool wait_for_work(struct sim *sim, struct script *script)
{
	struct pollfd fds[BUS_WATCHES + 1];
	size_t n = bus_poll_set(sim->bus, fds);

	/* poll() takes a negative fd as nothing to wait for. */
	fds[n] = (struct pollfd){ .fd = script_wants_input(script) ? STDIN_FILENO : -1, .events = POLLIN };
	if (poll(fds, n + 1, poll_timeout_ms(sim, script)) < 0 && errno != EINTR) {
		perror("scale-sim: poll");
		return false;
	}
	if (sim->bus)
		bus_handle(sim->bus, fds, n);
	if (fds[n].revents)
		script_read(script);
	return true;
}

static void tick(struct sim *sim)
{
	for (size_t i = 0; sim->bus && i < SIM_ADAPTERS; i++)
		adapter_tick(&sim->adapters[i], model_now_ms());
}

static int run(struct sim *sim, bool stay)
{
	struct script *script = &(struct script){ 0 };

	while (!sim->quit) {
		/* A command may make a tick do something, and that may end a command's wait. */
		do
			tick(sim);
		while (script_run(script, sim));
		strangers_push(sim);
		if (sim->quit || (!stay && script_over(script)))
			break;
		if (!wait_for_work(sim, script))
			return 1;
	}
	return sim->exit_status;
}

/* A closed standard stream would give its number to the bus's socket. */
static void open_streams(void)
{
	int fd;

	do
		fd = open("/dev/null", O_RDWR | O_CLOEXEC);
	while (fd >= 0 && fd <= STDERR_FILENO);
	if (fd >= 0)
		close(fd);
}

int main(int argc, char **argv)
{
	static struct sim sim;
	bool stay = false;

	for (int i = 1; i < argc; i++) {
		if (!strcmp(argv[i], "--help")) {
			commands_help(stdout);
			return 0;
		}
		if (strcmp(argv[i], "--stay")) {
			fprintf(stderr, "scale-sim: unknown option %s; --help lists what there is\n", argv[i]);
			return 2;
		}
		stay = true;
	}
	open_streams();
	model_init(&sim);
	if (!commands_start(&sim))
		return 1;
	int status = run(&sim, stay);
	commands_stop(&sim);
	model_done(&sim);
	dbus_shutdown();
	return status;
}
