// SPDX-License-Identifier: MIT
/* One line for `systemctl status`: what is wrong, then what there is. It is compared after every turn of the loop: no
 * number in it may change with each frame. */
#include "daemon/desk/room.h"

static const char *trouble_text(enum radio_trouble trouble)
{
	switch (trouble) {
	case RADIO_FINE:
		return "";
	case RADIO_NO_BUS:
		return "no system bus; ";
	case RADIO_DENIED:
		return "the bus forbids talking to Bluetooth; ";
	case RADIO_NO_BLUEZ:
		return "the Bluetooth service isn't running; ";
	case RADIO_NO_ADAPTER:
		return "no Bluetooth adapter; ";
	case RADIO_ADAPTER_OFF:
		return "the Bluetooth adapter is off; ";
	case RADIO_STARTING:
		return "looking for Bluetooth; ";
	}
	return "";
}

/* Those that have been open too long are closed when somebody next looks; they count no more already. */
static size_t open_questions(const struct asks *asks)
{
	int64_t oldest_ms = clock_boot_ms() - ASKS_OPEN_MS;
	size_t n = 0;

	for (size_t i = 0; i < asks->n; i++)
		n += asks->list[i].opened_ms >= oldest_ms;
	return n;
}

/* "no scale", "1 scale", "2 scales" */
static void count(char *ret, size_t size, size_t n, const char *what)
{
	if (n == 0)
		(void)snprintf(ret, size, "no %s", what);
	else
		(void)snprintf(ret, size, "%zu %s%s", n, what, n == 1 ? "" : "s");
}

void desk_status_text(const struct desk *desk, char *ret, size_t size)
{
	enum radio_trouble trouble = desk->radio ? radio_trouble(desk->radio) : RADIO_NO_BUS;
	char scales[32], questions[32];

	count(scales, sizeof scales, desk->roster.n_scales, "scale");
	count(questions, sizeof questions, open_questions(&desk->asks), "question");
	(void)snprintf(ret, size, "%s%s%s, %s open", desk->pending.n ? "the database can't be written; " : "",
		       trouble_text(trouble), scales, questions);
}
