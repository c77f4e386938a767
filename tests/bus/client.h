// SPDX-License-Identifier: MIT
#pragma once
/*
 * A client of the prompt socket. Above: the tests. Below: tape.c, rig.h for where the socket is; jansson.
 * JSON that is returned is borrowed, and lasts as long as the rig.
 */
#include "rig.h"

struct client;

/* Connects. Freed with client_close(), which hangs up. */
struct client *client_open(struct rig *rig);
/* Takes NULL; returns NULL. */
struct client *client_close(struct client *client);
/* As it is, without a line end of its own. false: it is closed. */
bool client_write(struct client *client, const char *octets, size_t n);
/* A line. */
__attribute__((format(printf, 2, 3))) void client_say(struct client *client, const char *format, ...);
/* Says a bare word and returns the line that answers it. */
const char *client_word(struct client *client, const char *word);
/* The next line that is no JSON. */
const char *client_line(struct client *client);
/* It stops reading, or goes on. */
void client_read(struct client *client, bool on);
/* Waits until the daemon has hung up. */
void client_await_end(struct client *client);
bool client_ended(const struct client *client);

/* A request with params as json_pack() makes them of format (NULL: none), without waiting; returns its id. */
int client_ask(struct client *client, const char *method, const char *format, ...);
/* The reply to it: the whole object. */
const json_t *client_reply(struct client *client, int id);
/* A request that must be done: its result. */
const json_t *client_call(struct client *client, const char *method, const char *format, ...);
/* A request that must be refused with this data.code: its error. */
const json_t *client_refused(struct client *client, const char *code, const char *method, const char *format, ...);

/* The next error that answers no request of ours, its id being null: its error. */
const json_t *client_stray_error(struct client *client);

/* Waits for the next notification of a topic: its params. */
const json_t *client_notice(struct client *client, const char *topic);
/* The same, where params' member key is this text. */
const json_t *client_notice_of(struct client *client, const char *topic, const char *key, const char *value);
/* The same without waiting: NULL when none has come. */
const json_t *client_look(struct client *client, const char *topic);
/* How many have come and were not waited for. All that the daemon has sent before now counts. */
size_t client_notices(struct client *client, const char *topic);

/* A scale's state, as status tells; "" when there is no such scale. */
const char *client_scale_state(struct client *client, const char *scale);
/* Waits until it is in this state, whether that is so already or will be told; "scale" must be followed. After a
 * restart it may have come to it before anybody could follow. */
void client_await_scale(struct client *client, const char *scale, const char *state);

/* Members. A missing one, or one of another type, fails the test. */
const char *client_text(struct client *client, const json_t *object, const char *key);
/* Milligrams of a member in grams, which must be a whole number of them. */
int64_t client_mg(struct client *client, const json_t *object, const char *key);
