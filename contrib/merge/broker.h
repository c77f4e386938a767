// SPDX-License-Identifier: MIT
#pragma once
/*
 * The connection to the MQTT broker, as a receiver: libmosquitto with a loop of our own. A session that lasts, so that
 * the broker keeps for us what comes meanwhile, as far as it does. The client acknowledges (PUBACK) before we see a
 * message: what is lost between that and the database shows as a gap in `seq`, and is asked for. Above: gather. Below:
 * libmosquitto (MQTT 3.1.1), named.
 */
#include "contrib/broker/login.h"
#include <stdbool.h>
#include <stddef.h>

/* All is borrowed, and lives as long as the connection. */
struct broker_setup {
	const struct login *login; /* finished */
	const char *client;        /* the client identifier: each receiver has its own */
	const char *base;          /* what topics begin with */
};

typedef void broker_heard_fn(void *user, const char *topic, const void *octets, size_t n);

struct broker;

/* 0; -ENOMEM; -EINVAL when what is in setup can't be used, told. */
int broker_new(struct broker **ret, const struct broker_setup *setup, broker_heard_fn *heard, void *user);
struct broker *broker_free(struct broker *broker); /* takes NULL, returns NULL */

/* One attempt, which may take a while. 0; -ENOTCONN, told once. */
int broker_open(struct broker *broker);
bool broker_is_open(const struct broker *broker);
/* The broker has confirmed what we listen to. */
bool broker_listens(const struct broker *broker);
/* Takes what comes, for timeout_ms at most; calls heard. 0; -ENOTCONN: it is gone, told once. */
int broker_turn(struct broker *broker, int timeout_ms);
/* Leaves; the session stays, and the broker keeps what comes. */
void broker_close(struct broker *broker);
/* Asks a bridge for messages once more. 0 or -ENOTCONN. */
int broker_ask(struct broker *broker, const char *bridge, const char *text);
