// SPDX-License-Identifier: MIT
#pragma once
/*
 * Requests to the daemon, with their failures told to people.
 * Above: the commands. Below: socket.
 */
#include "daemon/ctl/ctl.h"
#include "daemon/ctl/socket.h"

/* Connects. CTL_DONE, or CTL_ABSENT with a message. */
enum ctl_status request_open(const struct ctl *ctl, struct socket **ret);
/*
 * Sends a request and waits for its answer; notifications meanwhile are dropped. params is stolen; NULL is out of
 * memory. CTL_DONE and *ret_result (a new reference); CTL_REFUSED and a message with the daemon's reason; CTL_ABSENT.
 */
enum ctl_status request_on(const struct ctl *ctl, struct socket *socket, const char *method, json_t *params,
			   json_t **ret_result);
/* The same on a connection of its own. */
enum ctl_status request_call(const struct ctl *ctl, const char *method, json_t *params, json_t **ret_result);
/* The next notification of a topic: params as a new reference. CTL_DONE or CTL_ABSENT. timeout_ms < 0: for ever. */
enum ctl_status request_notice(const struct ctl *ctl, struct socket *socket, const char *topic, int timeout_ms,
			       json_t **ret_params);
/* Params of a request that changes something: { "by": ... } if the person named somebody. NULL without memory. */
json_t *request_params(const struct ctl *ctl);

/* What went wrong with the connection, in words, what to do included. r is -errno of socket_*(). */
void request_trouble(const char *path, int r, char *buffer, size_t size);
/* The reason and hint of a JSON-RPC error, in one text. */
void request_refusal(const json_t *error, char *buffer, size_t size);
