// SPDX-License-Identifier: MIT
#pragma once
/*
 * What stands before a connection to the broker: its name's addresses, and what the library must know of us.
 * Above: link, contrib/merge/broker. Below: libmosquitto, getaddrinfo(3).
 */
#include "contrib/broker/link.h"

struct mosquitto;

/* User and password, TLS. MOSQ_ERR_SUCCESS, or another of the library's. */
int reach_let_in(struct mosquitto *mosq, const struct login *login);
/* The same, and protocol and will. */
int reach_set_up(struct mosquitto *mosq, const struct link_setup *setup);
/* Whether the name has addresses of both families: then they are tried one after the other. 0, or EAI_*. It takes the
 * time that resolv.conf(5) allows. */
int reach_look_up(const char *host, bool *ret_both);
/* Why a TCP connection failed, for errno, in words that go on living. */
const char *reach_why(int error);
