// SPDX-License-Identifier: MIT
#include "contrib/merge/broker.h"
#include "contrib/broker/reach.h"
#include "contrib/broker/name.h"
#include "daemon/log.h"
#include <errno.h>
#include <mosquitto.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define KEEPALIVE_S 30

struct broker {
	struct mosquitto *client;
	struct broker_setup setup;
	broker_heard_fn *heard;
	void *user;
	bool open, listens, told;
	int subscription; /* the message id of what was asked for */
};

static void tell(struct broker *broker, const char *why)
{
	char host[300];

	if (!broker->told)
		log_warning("the broker at %s port %d isn't there: %s; it is tried again",
			    log_quote(broker->setup.login->host, host, sizeof host), broker->setup.login->port, why);
	broker->told = true;
}

static void lose(struct broker *broker)
{
	broker->open = broker->listens = false;
}

/*
 * `state` is taken without the session's queue (QoS 0): of what was told while we were away the retained newest one
 * alone counts, and an old one that came after it would look as if the ledger had gone back.
 */
static void subscribe(struct broker *broker)
{
	static const struct {
		const char *word;
		int qos;
	} topics[] = { { "reading", 1 }, { "concern", 1 }, { "state", 0 } };
	char topic[256];
	int r = MOSQ_ERR_SUCCESS;

	for (size_t i = 0; r == MOSQ_ERR_SUCCESS && i < sizeof topics / sizeof *topics; i++) {
		(void)snprintf(topic, sizeof topic, "%s/+/%s", broker->setup.base, topics[i].word);
		r = mosquitto_subscribe(broker->client, &broker->subscription, topic, topics[i].qos);
	}
	if (r != MOSQ_ERR_SUCCESS)
		tell(broker, mosquitto_strerror(r)); /* the next turn finds the connection gone */
}

static void on_connect(struct mosquitto *client, void *user, int code)
{
	struct broker *broker = user;

	(void)client;
	if (code == 0) {
		subscribe(broker);
		return;
	}
	tell(broker, mosquitto_connack_string(code));
	lose(broker);
}

static void on_subscribe(struct mosquitto *client, void *user, int mid, int n, const int *granted)
{
	struct broker *broker = user;

	(void)client;
	if (n > 0 && granted[0] >= 128) { /* MQTT 3.1.1, 3.9.3 */
		tell(broker, "it doesn't let us listen to these topics");
		return;
	}
	if (mid != broker->subscription) /* the last one of them */
		return;
	if (broker->told)
		log_info("the broker is there again");
	broker->told = false;
	broker->listens = true;
}

static void on_disconnect(struct mosquitto *client, void *user, int code)
{
	struct broker *broker = user;

	(void)client;
	if (code != 0)
		tell(broker, "it ended the connection");
	lose(broker);
}

static void on_message(struct mosquitto *client, void *user, const struct mosquitto_message *message)
{
	struct broker *broker = user;

	(void)client;
	broker->heard(broker->user, message->topic, message->payload, (size_t)message->payloadlen);
}

static int set_up(struct broker *broker)
{
	/* else each acknowledgement waits for the one before it to be acknowledged by TCP (RFC 896) */
	int r = mosquitto_int_option(broker->client, MOSQ_OPT_TCP_NODELAY, 1);

	if (r == MOSQ_ERR_SUCCESS)
		r = reach_let_in(broker->client, broker->setup.login);
	if (r != MOSQ_ERR_SUCCESS) {
		log_error("the broker's settings can't be used: %s", mosquitto_strerror(r));
		return -EINVAL;
	}
	mosquitto_connect_callback_set(broker->client, on_connect);
	mosquitto_disconnect_callback_set(broker->client, on_disconnect);
	mosquitto_subscribe_callback_set(broker->client, on_subscribe);
	mosquitto_message_callback_set(broker->client, on_message);
	return 0;
}

int broker_new(struct broker **ret, const struct broker_setup *setup, broker_heard_fn *heard, void *user)
{
	struct broker *broker = calloc(1, sizeof *broker);
	int r;

	if (!broker || mosquitto_lib_init() != MOSQ_ERR_SUCCESS) {
		free(broker);
		return -ENOMEM;
	}
	broker->setup = *setup;
	broker->heard = heard;
	broker->user = user;
	broker->client = mosquitto_new(setup->client, false, broker);
	r = broker->client ? set_up(broker) : -ENOMEM;
	if (r < 0) {
		broker_free(broker);
		return r;
	}
	*ret = broker;
	return 0;
}

struct broker *broker_free(struct broker *broker)
{
	if (!broker)
		return NULL;
	mosquitto_destroy(broker->client); /* takes NULL */
	(void)mosquitto_lib_cleanup();
	free(broker);
	return NULL;
}

int broker_open(struct broker *broker)
{
	int r = mosquitto_connect(broker->client, broker->setup.login->host, broker->setup.login->port, KEEPALIVE_S);

	lose(broker);
	broker->open = r == MOSQ_ERR_SUCCESS;
	if (broker->open)
		return 0;
	tell(broker, r == MOSQ_ERR_ERRNO ? strerror(errno) : mosquitto_strerror(r));
	return -ENOTCONN;
}

bool broker_is_open(const struct broker *broker)
{
	return broker->open;
}

bool broker_listens(const struct broker *broker)
{
	return broker->open && broker->listens;
}

int broker_turn(struct broker *broker, int timeout_ms)
{
	int r = mosquitto_loop(broker->client, timeout_ms, 1);

	if (r != MOSQ_ERR_SUCCESS) {
		if (broker->open)
			tell(broker, r == MOSQ_ERR_ERRNO ? strerror(errno) : mosquitto_strerror(r));
		lose(broker);
	}
	return broker->open ? 0 : -ENOTCONN;
}

void broker_close(struct broker *broker)
{
	if (broker->open)
		(void)mosquitto_disconnect(broker->client); /* gone already: no matter */
	lose(broker);
}

int broker_ask(struct broker *broker, const char *bridge, const char *text)
{
	char topic[256];

	(void)snprintf(topic, sizeof topic, "%s/%s/again", broker->setup.base, bridge);
	return mosquitto_publish(broker->client, NULL, topic, (int)strlen(text), text, 1, false) == MOSQ_ERR_SUCCESS
		       ? 0
		       : -ENOTCONN;
}
