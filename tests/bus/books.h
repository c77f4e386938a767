// SPDX-License-Identifier: MIT
#pragma once
/*
 * What a scale has sent and bluetoothd confirmed, against what bismard has made of it: nothing may be lost, nothing
 * invented, and the log must stay readable. Above: the tests of faults. Below: nursery.h, client.h, rig.h.
 */
#include "nursery.h"

/* Lines of the log that one fault and the recovery from it may cost: the trouble and its end, away, seen, connecting,
 * resolving, subscribed; some may come twice. */
#define BOOKS_NEWS 12

struct books {
	struct rig *rig;
	struct client *client; /* follows asks, withdrawals, scales, live masses, and what scale.find finds */
	size_t sent;           /* frames that reached bismard */
	size_t weighings;      /* that must have come of them */
	size_t closed;         /* whose questions are open no more: answered, or too old */
};

/* Begins with an empty ledger. */
void books_open(struct books *books, struct rig *rig);
/* A scale is defined, heard, adopted and subscribed to; as nursery_scale(). */
void books_scale(struct books *books, const char *address, const char *name, const char *options);
/* Subscribed again, once the link was lost: bismard has said so since it was lost. */
void books_await_link(struct books *books, const char *name);
/* A weighing that comes through: waits for its question. */
void books_weigh(struct books *books, const char *address, int grams);
/* Octets of 0x2A9D or 0x2A9C, subscribed to or not: what waits first is up to the test. new: they are a weighing. */
void books_indicate(struct books *books, const char *address, const char *uuid, const char *hex, bool new);
/* All that was sent is in the ledger, and nothing else; as many weighings and questions as there must be; and no more
 * than so many lines of log since the last time. */
void books_check(struct books *books, size_t news);
/* The radio's trouble, as `status` words it, becomes this. */
void books_await_trouble(struct books *books, const char *word);
void books_close(struct books *books);
