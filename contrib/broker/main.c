// SPDX-License-Identifier: MIT
/*
 * `bismar-broker`: publishes readings and concerns to an MQTT broker. Arguments, the loop, the end.
 */
#include "contrib/broker/options.h"
#include "contrib/client/loop.h"
#include "daemon/log.h"
#include <mosquitto.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <systemd/sd-daemon.h>

static int run(const struct bridge_setup *setup)
{
	struct bridge *bridge = NULL;
	sd_event *event = NULL;
	int r;

	(void)signal(SIGPIPE, SIG_IGN); /* TLS writes without MSG_NOSIGNAL */
	(void)setenv("RES_OPTIONS", "timeout:3 attempts:2",
		     0);            /* a name is looked up in the loop's time: resolv.conf(5) */
	(void)mosquitto_lib_init(); /* fails on another system alone */
	r = loop_new(&event);
	if (r >= 0)
		r = bridge_new(&bridge, event, setup);
	if (r >= 0) {
		(void)sd_notify(0, "READY=1"); /* nobody may have asked */
		r = sd_event_loop(event);
	}
	if (r < 0)
		log_error("can't run: %s", strerror(-r));
	bridge_free(bridge);
	sd_event_unref(event);
	(void)mosquitto_lib_cleanup();
	return r == 0 ? 0 : 1;
}

int main(int argc, char **argv)
{
	struct options options;
	enum usage usage = options_read(&options, argc, argv);
	int status;

	if (usage != USAGE_RUN)
		return usage_status(usage);
	status = run(&options.setup);
	explicit_bzero(options.login.secret, sizeof options.login.secret);
	return status;
}
