// SPDX-License-Identifier: MIT
#pragma once
/*
 * Requests to the daemon, with their failures told to people.
 * Above: the commands. Below: socket, args.
 */
#include "daemon/ctl/ctl.h"
#include "daemon/ctl/socket.h"

/* Connects. CTL_DONE, or CTL_ABSENT with a message. */
enum ctl_status request_open(const struct ctl *ctl, struct socket **ret);
/* Connects and follows topics (an array, stolen; NULL is out of memory). CTL_DONE, or what is wrong, told. */
enum ctl_status request_follow(const struct ctl *ctl, json_t *topics, struct socket **ret);
/*
 * Sends a request and waits for its answer; notifications meanwhile are dropped. params is stolen; NULL is out of
 * memory. CTL_DONE and *ret_result (a new reference); CTL_REFUSED and a message with the daemon's reason; CTL_ABSENT.
 */
enum ctl_status request_on(const struct ctl *ctl, struct socket *socket, const char *method, json_t *params,
			   json_t **ret_result);
/* The same for what takes the daemon longer. */
enum ctl_status request_within(const struct ctl *ctl, struct socket *socket, int timeout_ms, const char *method,
			       json_t *params, json_t **ret_result);
/* The same on a connection of its own. */
enum ctl_status request_call(const struct ctl *ctl, const char *method, json_t *params, json_t **ret_result);
/* The next notification of a topic: params as a new reference. CTL_DONE or CTL_ABSENT. timeout_ms < 0: for ever. */
enum ctl_status request_notice(const struct ctl *ctl, struct socket *socket, const char *topic, int timeout_ms,
			       json_t **ret_params);
/* A whole command: asks, and shows the result, as JSON or by show(). params is stolen. */
enum ctl_status request_show(const struct ctl *ctl, const char *method, json_t *params,
			     void (*show)(const struct ctl *ctl, const json_t *result));
/*
 * The end of a command: prints the result, or the sentence instead for people, and drops the result's reference. The
 * sentence may borrow from the result.
 */
__attribute__((format(printf, 3, 4)))
enum ctl_status request_print(const struct ctl *ctl, json_t *result, const char *format, ...);
/* A whole command that has one word, the "name" of its request: prints "before NAME after". */
enum ctl_status request_named(struct ctl *ctl, int argc, char **argv, const char *method, const char *before,
			      const char *after);
/* A whole question "[WHO|L] [--as-of T]": CTL_DONE, *ret_result (a new reference), and the time or 0 for none. */
enum ctl_status request_of_whom(struct ctl *ctl, int argc, char **argv, const char *method, int64_t *ret_as_of_ms,
				json_t **ret_result);
/* Params of a request that changes something: { "by": ... } if the person named somebody. NULL without memory. */
json_t *request_params(const struct ctl *ctl);

/* What went wrong with the connection, in words, what to do included. r is -errno of socket_*(). */
void request_trouble(const char *path, int r, char *buffer, size_t size);
/* The reason and hint of a JSON-RPC error, in one text. */
void request_refusal(const json_t *error, char *buffer, size_t size);
