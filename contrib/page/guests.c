// SPDX-License-Identifier: MIT
#include "contrib/page/guests.h"
#include "contrib/page/host.h"
#include <errno.h>
#include <netinet/in.h>
#include <sys/queue.h>

#define STAY_USEC (GUESTS_STRANGER_S * UINT64_C(1000000))
#define SLACK_USEC (250 * UINT64_C(1000))

struct guest {
	TAILQ_ENTRY(guest) at;
	struct sockaddr_storage address;
	uint64_t until_usec; /* of a stranger */
	int fd;
	bool stranger, shown_out;
};

TAILQ_HEAD(line, guest);

struct guests {
	sd_event *event;
	sd_event_source *timer;
	struct line strangers, phones; /* the oldest first */
	size_t n, n_strangers;
};

/* The library sees the end of the connection, and closes it. */
static void show_out(struct guests *guests, struct guest *guest)
{
	(void)shutdown(guest->fd, SHUT_RDWR); /* not connected any more: as well */
	guest->shown_out = true;
	TAILQ_REMOVE(&guests->strangers, guest, at);
	TAILQ_INSERT_TAIL(&guests->phones, guest, at); /* out of the way until it has left */
	guests->n_strangers--;
}

static int on_timer(sd_event_source *source, uint64_t usec, void *user)
{
	struct guests *guests = user;
	struct guest *first;

	while ((first = TAILQ_FIRST(&guests->strangers)) && first->until_usec <= usec)
		show_out(guests, first);
	if (!first)
		return sd_event_source_set_enabled(source, SD_EVENT_OFF);
	(void)sd_event_source_set_time(source, first->until_usec);
	return sd_event_source_set_enabled(source, SD_EVENT_ONESHOT);
}

int guests_new(struct guests **ret, sd_event *event)
{
	struct guests *guests = calloc(1, sizeof *guests);
	int r;

	if (!guests)
		return -ENOMEM;
	guests->event = event;
	TAILQ_INIT(&guests->strangers);
	TAILQ_INIT(&guests->phones);
	r = sd_event_add_time(event, &guests->timer, CLOCK_MONOTONIC, 0, SLACK_USEC, on_timer, guests);
	if (r >= 0)
		r = sd_event_source_set_enabled(guests->timer, SD_EVENT_OFF);
	if (r < 0) {
		guests_free(guests);
		return r;
	}
	*ret = guests;
	return 0;
}

struct guests *guests_free(struct guests *guests)
{
	if (!guests)
		return NULL;
	sd_event_source_disable_unref(guests->timer);
	free(guests);
	return NULL;
}

static size_t count(const struct line *line, const struct sockaddr *address)
{
	const struct guest *guest;
	size_t n = 0;

	TAILQ_FOREACH(guest, line, at)
	n += host_same((const struct sockaddr *)&guest->address, address);
	return n;
}

bool guests_admit(const struct guests *guests, const struct sockaddr *address)
{
	return host_is_loopback(address) ||
	       count(&guests->strangers, address) + count(&guests->phones, address) < GUESTS_PER_ADDRESS;
}

struct guest *guests_enter(struct guests *guests, int fd, const struct sockaddr *address)
{
	struct guest *guest = calloc(1, sizeof *guest);
	uint64_t now = 0;

	if (!guest)
		return NULL;
	(void)sd_event_now(guests->event, CLOCK_MONOTONIC, &now); /* the loop exists, and so does the clock */
	guest->fd = fd;
	guest->until_usec = now + STAY_USEC;
	guest->stranger = true;
	memcpy(&guest->address, address,
	       address->sa_family == AF_INET6 ? sizeof(struct sockaddr_in6) : sizeof(struct sockaddr_in));
	TAILQ_INSERT_TAIL(&guests->strangers, guest, at);
	guests->n++;
	if (++guests->n_strangers > GUESTS_STRANGERS)
		show_out(guests, TAILQ_FIRST(&guests->strangers));
	if (TAILQ_FIRST(&guests->strangers) == guest) {
		(void)sd_event_source_set_time(guests->timer, guest->until_usec);
		(void)sd_event_source_set_enabled(guests->timer, SD_EVENT_ONESHOT);
	}
	return guest;
}

void guests_greet(struct guests *guests, struct guest *guest)
{
	if (!guest || !guest->stranger || guest->shown_out)
		return;
	guest->stranger = false;
	TAILQ_REMOVE(&guests->strangers, guest, at);
	TAILQ_INSERT_TAIL(&guests->phones, guest, at);
	guests->n_strangers--;
}

void guests_leave(struct guests *guests, struct guest *guest)
{
	if (!guest)
		return;
	if (guest->stranger && !guest->shown_out) {
		TAILQ_REMOVE(&guests->strangers, guest, at);
		guests->n_strangers--;
	} else {
		TAILQ_REMOVE(&guests->phones, guest, at);
	}
	guests->n--;
	free(guest);
}
