// SPDX-License-Identifier: MIT
#pragma once
/*
 * Whoever is connected: how many, from where, and for how long without having shown a paired phone's cookie. A flood
 * and slow senders end here; a phone that has shown its cookie is left alone. Above: server.c. Below: sockets.
 */
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <sys/socket.h>
#include <systemd/sd-event.h>

#define GUESTS_MAX 256        /* connections at once */
#define GUESTS_STRANGERS 96   /* of them without a cookie; one more, and the oldest stranger goes */
#define GUESTS_PER_ADDRESS 32 /* from one host that isn't this machine (a proxy before us is this machine) */
#define GUESTS_STRANGER_S 10  /* a stranger's whole stay */

struct guests;
struct guest;

/* 0 or -errno. The event loop is borrowed; it must outlive it. */
int guests_new(struct guests **ret, sd_event *event);
struct guests *guests_free(struct guests *guests); /* takes NULL, returns NULL; all have left */
/* Whether one more from there may come in. */
bool guests_admit(const struct guests *guests, const struct sockaddr *address);
/* One has come in, on a socket that stays open until guests_leave(). NULL without memory: then it isn't counted. */
struct guest *guests_enter(struct guests *guests, int fd, const struct sockaddr *address);
/* It is a paired phone's: no stranger any more. Takes NULL. */
void guests_greet(struct guests *guests, struct guest *guest);
void guests_leave(struct guests *guests, struct guest *guest); /* takes NULL */
