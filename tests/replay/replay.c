// SPDX-License-Identifier: MIT
/*
 * Replays a capture: what a scale sent, through the table of formats, a declared format or BTHome,
 * settle where it streams, and weigh_take(), one line of text a frame. With an expectation beside
 * the capture it tells the first line that differs.
 * `replay --help` says what a capture may hold. Above: meson test. Below: the pure rooms. It knows
 * no radio, no database, and no case by name.
 */
#include "daemon/limits.h"
#include "daemon/weigh/quantity.h"
#include "daemon/weigh/settle.h"
#include "daemon/weigh/weigh.h"
#include "protocols/bthome.h"
#include "protocols/declared.h"
#include "protocols/formats.h"
#include "protocols/presentation.h"
#include <ctype.h>
#include <errno.h>
#include <inttypes.h>
#include <stdarg.h>

#define WORDS_MAX 24
#define UUID_LENGTH 36

static const char help[] = "Usage: replay CAPTURE [EXPECTED]\n"
			   "Decodes the frames of a capture, weighs them, and prints one line a "
			   "frame; with EXPECTED it compares instead\n"
			   "and prints the first difference. Exit status: 0 printed, or as "
			   "expected; 1 different; 2 wrong use or capture.\n"
			   "\n"
			   "A capture starts with comments, among them '# what:', '# source:' and "
			   "'# zone:' (of the scale's time stamps;\n"
			   "only UTC is known here). Then one of these a line:\n"
			   "  at 2026-11-25T13:45:30Z  when the next frames arrive\n"
			   "  +2s                      that much later (ms, s, min, h, d)\n"
			   "  scale NAME               another scale: nothing is remembered of it, "
			   "no container, no description, link 1\n"
			   "  link 2                   another connection of this scale\n"
			   "  tare 400000 u 1444       the container on the scale, in mg, weighed "
			   "at the time of arrival; 'tare none'\n"
			   "  describe 06fd0227010000  the 0x2904 of the next frames' "
			   "characteristic; 'describe none'\n"
			   "  declare 0x04d2 offset 2 width 3 exponent -1 unit g reports stream\n"
			   "                           how frames of this UUID or company are read; "
			   "also signed yes, endian big, factor N,\n"
			   "                           steady-bit OCTET.BIT, tare-bit OCTET.BIT; "
			   "'declare none'\n"
			   "  fcd2 4006d00b            a plain BTHome broadcast; a stream unless it "
			   "says that it is sent by a trigger\n"
			   "                           (silence and the end of a link get lines of their "
			   "own when they tell something)\n"
			   "  2a9d 00581b              a frame: assigned number or whole UUID, "
			   "then its octets ('-': none at all)\n";

struct replay {
	const char *path;
	FILE *expected; /* NULL: print */
	const char *expected_path;
	unsigned line_number;
	unsigned frames;
	bool has_what, has_source, has_zone;
	bool has_arrival;
	int64_t arrival_ms;
	uint32_t link;
	bool has_tare;
	struct tare tare;
	bool has_description;
	struct presentation description;
	struct weigh_memory memory;
	bool has_declared;
	struct declared declared;
	bool has_packet;
	uint8_t packet; /* of the last numbered broadcast */
	bool streams;   /* settle has samples */
	struct settle settle;
	int64_t sample_ms; /* when the newest came */
	int64_t sample_step_mg;
	bool sample_tared;
};

struct frame {
	const char *name; /* as the capture writes it */
	const char *hex;
	uint8_t *octets; /* exactly n of them, so that a sanitizer sees a read past the end */
	size_t n;
};

__attribute__((format(printf, 2, 3))) static _Noreturn void stop(const struct replay *r,
								 const char *format, ...)
{
	va_list arguments;

	fprintf(stderr, "%s:%u: ", r->path, r->line_number);
	va_start(arguments, format);
	vfprintf(stderr, format, arguments);
	va_end(arguments);
	fputc('\n', stderr);
	exit(2);
}

static int64_t parse_number(const struct replay *r, const char *text, int64_t max)
{
	char *end;
	long long value;

	errno = 0;
	value = strtoll(text, &end, 10);
	if (!isdigit((unsigned char)*text) || *end || errno || value > max)
		stop(r, "%s: not a whole number up to %" PRId64, text, max);
	return value;
}

static uint8_t *parse_hex(const struct replay *r, const char *hex, size_t *ret_n)
{
	size_t n = strcmp(hex, "-") == 0 ? 0 : strlen(hex) / 2;
	uint8_t *octets = malloc(n > 0 ? n : 1);

	if (!octets)
		stop(r, "out of memory");
	for (size_t i = 0; i < n; i++) {
		char pair[3] = { hex[2 * i], hex[2 * i + 1], '\0' };

		if (!isxdigit((unsigned char)pair[0]) || !isxdigit((unsigned char)pair[1]))
			stop(r, "%s: not hexadecimal", hex);
		octets[i] = (uint8_t)strtoul(pair, NULL, 16);
	}
	if (n > LIMIT_FRAME_BYTES || (n > 0 ? hex[2 * n] != '\0' : strcmp(hex, "-") != 0))
		stop(r, "%s: not 1 to %d whole octets, or '-'", hex, LIMIT_FRAME_BYTES);
	*ret_n = n;
	return octets;
}

/* One line of the answer: printed, or held against the next line of the expectation. */
static void answer(struct replay *r, const char *text)
{
	char line[4096] = "(nothing more)\n";

	r->frames++;
	if (!r->expected) {
		printf("%s\n", text);
		return;
	}
	(void)fgets(line, sizeof line,
		    r->expected); /* at the end the line keeps what it says above */
	line[strcspn(line, "\n")] = '\0';
	if (strcmp(line, text) == 0)
		return;
	fprintf(stderr, "%s:%u: differs from %s:%u\n  expected: %s\n  replayed: %s\n", r->path,
		r->line_number, r->expected_path, r->frames, line, text);
	exit(1);
}

static void print_payload(FILE *out, const struct payload *p)
{
	static const struct {
		enum payload_note note;
		const char *text;
	} notes[] = { { PAYLOAD_NOTE_RESERVED_BITS, " reserved-bits" },
		      { PAYLOAD_NOTE_TRAILING, " trailing" },
		      { PAYLOAD_NOTE_MULTI_PACKET, " multi-packet" },
		      { PAYLOAD_NOTE_BAD_STAMP, " bad-stamp" } };

	fprintf(out, " mass %" PRId64 " step %" PRId64 " %s", p->mass_mg, p->step_mg,
		p->unit == MASS_POUND ? "lb" : "kg");
	if (p->has_stamp)
		fprintf(out, " stamp %04u-%02u-%02uT%02u:%02u:%02u", p->stamp.year, p->stamp.month,
			p->stamp.day, p->stamp.hour, p->stamp.minute, p->stamp.second);
	if (p->has_user && p->user == 0xff)
		fputs(" user unknown", out);
	else if (p->has_user)
		fprintf(out, " user %u", p->user);
	for (size_t i = 0; i < sizeof notes / sizeof notes[0]; i++)
		if (p->notes & notes[i].note)
			fputs(notes[i].text, out);
}

static void print_outcome(FILE *out, enum weigh_outcome outcome, const struct weighing *w)
{
	char at[QUANTITY_RFC3339_SIZE];

	quantity_rfc3339_utc(at, w->at_ms);
	switch (outcome) {
	case WEIGH_DONE:
		fprintf(out,
			" -> weighing gross %" PRId64 " tare %" PRId64 " net %" PRId64
			" u %" PRId64,
			w->gross_mg, w->tare_mg, w->net_mg, w->u_mg);
		break;
	case WEIGH_REPEAT:
		fputs(" -> repeat", out);
		return;
	case WEIGH_EMPTY:
	case WEIGH_BELOW:
		fprintf(out, " -> %s drift %" PRId64 "%s",
			outcome == WEIGH_EMPTY ? "empty" : "below", w->drift_mg,
			w->drifted ? " drifted" : "");
		break;
	}
	fprintf(out, " at %s %s%s", at, weigh_origin_text(w->origin),
		w->stamp_refused ? " stamp-refused" : "");
}

/* As the daemon does it, but for the zone: here the scale's local time is UTC, there it is the
 * machine's. */
static void weigh(struct replay *r, const struct payload *p, bool fresh, FILE *out)
{
	struct weigh_result result = { .gross_mg = p->mass_mg,
				       .step_mg = p->step_mg,
				       .received_ms = r->arrival_ms,
				       .fresh = fresh,
				       .link = r->link };
	struct weighing weighing;
	enum weigh_outcome outcome;

	if (p->has_stamp && !(p->notes & PAYLOAD_NOTE_BAD_STAMP)) {
		result.has_stamp = true;
		result.stamp_ms = date_time_seconds(&p->stamp) * 1000;
	}
	outcome = weigh_take(&r->memory, &result, r->has_tare && !p->tared ? &r->tare : NULL, &weighing);
	print_outcome(out, outcome, &weighing);
}

/* ---- streams ---- */

static const struct tare *tare_of(const struct replay *r, bool tared)
{
	return r->has_tare && !tared ? &r->tare : NULL;
}

/* A settled mass, as a result that came with the newest sample. */
static void weigh_settled(struct replay *r, const struct settle_result *settled, FILE *out)
{
	struct weigh_result result = { .gross_mg = settled->gross_mg,
				       .step_mg = r->sample_step_mg,
				       .u_mg = settled->u_mg,
				       .fresh = true,
				       .received_ms = r->sample_ms,
				       .link = r->link };
	struct weighing weighing;
	enum weigh_outcome outcome;

	outcome = weigh_take(&r->memory, &result, tare_of(r, r->sample_tared), &weighing);
	print_outcome(out, outcome, &weighing);
}

static void print_settled(struct replay *r, enum settle_event event, const struct settle_result *settled,
			  FILE *out)
{
	switch (event) {
	case SETTLE_NOTHING:
		fputs(" -> sample", out);
		break;
	case SETTLE_ONSET:
		fputs(" -> onset", out);
		break;
	case SETTLE_LOADED:
		fputs(settled->restless ? " -> restless" : " -> settled", out);
		weigh_settled(r, settled, out);
		break;
	case SETTLE_IDLE:
		fputs(" -> idle", out);
		weigh_settled(r, settled, out);
		break;
	}
}

static void take_sample(struct replay *r, const struct payload *p, FILE *out)
{
	const struct tare *tare = tare_of(r, p->tared);
	struct settle_sample sample = { .gross_mg = p->mass_mg,
					.at_us = (uint64_t)r->arrival_ms * 1000,
					.mark = p->steady == PAYLOAD_STEADY_YES ? SETTLE_STEADY :
						p->steady == PAYLOAD_STEADY_NO	? SETTLE_MOVING :
										  SETTLE_UNSAID };
	struct settle_result settled;
	enum settle_event event;

	if (!r->streams)
		settle_init(&r->settle, p->step_mg, tare ? tare->mass_mg : 0);
	r->streams = true;
	r->sample_ms = r->arrival_ms;
	r->sample_step_mg = p->step_mg;
	r->sample_tared = p->tared;
	settle_set_step(&r->settle, p->step_mg);
	settle_set_idle(&r->settle, tare ? tare->mass_mg : 0);
	event = settle_take(&r->settle, &sample, &settled);
	print_settled(r, event, &settled, out);
}

/* What came of it without a frame: a line of its own. */
static void tell_event(struct replay *r, const char *what, enum settle_event event,
		       const struct settle_result *settled)
{
	char *line = NULL;
	size_t size;
	FILE *out;

	if (event == SETTLE_NOTHING)
		return;
	out = open_memstream(&line, &size);
	if (!out)
		stop(r, "out of memory");
	fputs(what, out);
	print_settled(r, event, settled, out);
	fclose(out);
	answer(r, line);
	free(line);
}

/* Time has gone on. */
static void pass_time(struct replay *r)
{
	uint64_t now_us = (uint64_t)r->arrival_ms * 1000, wake_us;

	while (r->streams && (wake_us = settle_wake_us(&r->settle)) <= now_us) {
		struct settle_result settled;
		tell_event(r, "silence", settle_wake(&r->settle, wake_us, &settled), &settled);
		if (settle_wake_us(&r->settle) == wake_us)
			stop(r, "settle doesn't go on");
	}
}

static void end_link(struct replay *r)
{
	struct settle_result settled;

	if (r->streams)
		tell_event(r, "link", settle_end(&r->settle, &settled), &settled);
	r->streams = false;
}

/* ---- frames ---- */

static void take_declared_frame(struct replay *r, const struct frame *frame, FILE *out)
{
	struct payload p, cut;
	enum payload_refusal refusal =
		declared_decode(&r->declared, (struct bytes){ frame->octets, frame->n }, &p);

	for (size_t n = 0; n < frame->n; n++)
		if (declared_decode(&r->declared, (struct bytes){ frame->octets, n }, &cut) == PAYLOAD_OK &&
		    (refusal != PAYLOAD_OK || cut.mass_mg != p.mass_mg))
			stop(r, "%zu of %zu octets are taken for %" PRId64 " mg", n, frame->n, cut.mass_mg);
	if (refusal != PAYLOAD_OK) {
		fprintf(out, " -> refused %s", payload_refusal_text(refusal));
		return;
	}
	print_payload(out, &p);
	if (r->declared.reports == DECLARED_STREAM)
		take_sample(r, &p, out);
	else if (p.steady == PAYLOAD_STEADY_NO)
		fputs(" -> moving", out);
	else
		weigh(r, &p, false, out);
}

static void print_broadcast(FILE *out, const struct bthome *b)
{
	if (b->trigger)
		fputs(" trigger", out);
	if (b->has_packet_id)
		fprintf(out, " packet %u", b->packet_id);
	if (b->has_battery)
		fprintf(out, " battery %u", b->battery);
	if (b->has_battery_low)
		fprintf(out, " battery-%s", b->battery_low ? "low" : "fine");
	for (size_t i = 0; i < b->n_masses; i++)
		print_payload(out, &b->masses[i]);
	for (size_t i = 0; i < b->n_buttons; i++)
		fprintf(out, " button 0x%02x", b->buttons[i]);
	if (b->notes & PAYLOAD_NOTE_TRAILING)
		fputs(" trailing", out);
}

static void take_broadcast(struct replay *r, const struct frame *frame, FILE *out)
{
	struct bthome b, cut;
	enum payload_refusal refusal = bthome_read((struct bytes){ frame->octets, frame->n }, NULL, &b);

	for (size_t n = 0; n < frame->n; n++)
		if (bthome_read((struct bytes){ frame->octets, n }, NULL, &cut) == PAYLOAD_OK &&
		    (refusal != PAYLOAD_OK || cut.n_masses > b.n_masses ||
		     (cut.n_masses > 0 && cut.masses[0].mass_mg != b.masses[0].mass_mg)))
			stop(r, "%zu of %zu octets are taken for something else", n, frame->n);
	if (refusal != PAYLOAD_OK) {
		fprintf(out, " -> refused %s", payload_refusal_text(refusal));
		return;
	}
	print_broadcast(out, &b);
	if (b.has_packet_id && r->has_packet && r->packet == b.packet_id) {
		fputs(" -> the packet before", out);
		return;
	}
	r->has_packet = r->has_packet || b.has_packet_id;
	r->packet = b.has_packet_id ? b.packet_id : r->packet;
	if (b.n_masses == 0)
		fputs(" -> no mass", out);
	else if (b.trigger)
		weigh(r, &b.masses[0], b.has_packet_id, out);
	else
		take_sample(r, &b.masses[0], out);
}

/* Each shorter length too: refused, or the same mass when only octets are missing that no field
 * claims. */
static void try_shorter(const struct replay *r, const struct format *format,
			const struct frame *frame, const struct payload *whole)
{
	const struct presentation *description = r->has_description ? &r->description : NULL;

	for (size_t n = 0; n < frame->n; n++) {
		uint8_t *octets = malloc(n > 0 ? n : 1);
		struct payload p;

		if (!octets)
			stop(r, "out of memory");
		memcpy(octets, frame->octets, n);
		if (format->decode((struct bytes){ octets, n }, description, &p) == PAYLOAD_OK &&
		    (!whole || !(whole->notes & PAYLOAD_NOTE_TRAILING) ||
		     p.mass_mg != whole->mass_mg))
			stop(r, "%zu of the frame's %zu octets are taken for %" PRId64 " mg", n,
			     frame->n, p.mass_mg);
		free(octets);
	}
}

static void print_frame(struct replay *r, const struct frame *frame, FILE *out)
{
	const struct presentation *description = r->has_description ? &r->description : NULL;
	char uuid[UUID_LENGTH + 1];
	const struct format *format;
	struct payload payload;
	enum payload_refusal refusal;

	(void)snprintf(uuid, sizeof uuid,
		       strlen(frame->name) == 4 ? "0000%s-0000-1000-8000-00805f9b34fb" : "%s",
		       frame->name);
	fprintf(out, "%s %s", frame->name, frame->hex);
	if (r->has_declared && declared_for(&r->declared, 1, r->declared.source,
					    strncmp(frame->name, "0x", 2) == 0 ? frame->name : uuid)) {
		take_declared_frame(r, frame, out);
		return;
	}
	if (strcmp(frame->name, "fcd2") == 0) {
		take_broadcast(r, frame, out);
		return;
	}
	format = format_for(uuid, description);
	if (!format) {
		fputs(" -> not for us", out);
		return;
	}
	refusal = format->decode((struct bytes){ frame->octets, frame->n }, description, &payload);
	try_shorter(r, format, frame, refusal == PAYLOAD_OK ? &payload : NULL);
	if (refusal != PAYLOAD_OK) {
		fprintf(out, " -> refused %s", payload_refusal_text(refusal));
		return;
	}
	print_payload(out, &payload);
	weigh(r, &payload, false, out);
}

static void take_frame(struct replay *r, char **words)
{
	struct frame frame = { .name = words[0], .hex = words[1] };
	char *line = NULL;
	size_t size;
	FILE *out = open_memstream(&line, &size);

	if (!out)
		stop(r, "out of memory");
	if (!r->has_arrival)
		stop(r, "a frame before the first 'at'");
	frame.octets = parse_hex(r, frame.hex, &frame.n);
	print_frame(r, &frame, out);
	fclose(out);
	answer(r, line);
	free(line);
	free(frame.octets);
}

static void take_at(struct replay *r, char **words)
{
	int offset_min;

	if (quantity_rfc3339(words[1], &r->arrival_ms, &offset_min) != QUANTITY_OK)
		stop(r, "%s: no time of RFC 3339", words[1]);
	r->has_arrival = true;
	pass_time(r);
}

static void take_later(struct replay *r, char **words)
{
	static const struct {
		const char *name;
		int64_t ms;
	} units[] = {
		{ "ms", 1 }, { "s", 1000 }, { "min", 60000 }, { "h", 3600000 }, { "d", 86400000 }
	};
	char *unit = words[0] + 1 + strspn(words[0] + 1, "0123456789");

	for (size_t i = 0; i < sizeof units / sizeof units[0]; i++) {
		if (strcmp(unit, units[i].name) == 0) {
			*unit = '\0';
			r->arrival_ms += parse_number(r, words[0] + 1, 1000000) * units[i].ms;
			pass_time(r);
			return;
		}
	}
	stop(r, "%s: write for instance +2s (ms, s, min, h, d)", words[0]);
}

static void take_scale(struct replay *r, char **words)
{
	(void)words; /* the name is for people */
	end_link(r);
	r->has_declared = false;
	r->has_packet = false;
	r->memory = (struct weigh_memory){ 0 };
	r->has_tare = false;
	r->has_description = false;
	r->link = 1;
}

static void take_link(struct replay *r, char **words)
{
	end_link(r);
	r->link = (uint32_t)parse_number(r, words[1], UINT32_MAX);
}

static void take_tare(struct replay *r, char **words)
{
	r->has_tare = words[2] != NULL;
	if (!r->has_tare) {
		if (strcmp(words[1], "none") != 0)
			stop(r, "write 'tare MG u MG' or 'tare none'");
		return;
	}
	if (strcmp(words[2], "u") != 0 || !words[3] || !r->has_arrival)
		stop(r, "write 'tare MG u MG', after the first 'at'");
	r->tare = (struct tare){ .mass_mg = parse_number(r, words[1], MASS_MAX_MG),
				 .u_mg = parse_number(r, words[3], MASS_MAX_MG),
				 .checked_ms = r->arrival_ms };
}

static void take_description(struct replay *r, char **words)
{
	char line[128];
	uint8_t *octets;
	size_t n;

	r->has_description = false;
	if (strcmp(words[1], "none") == 0)
		return;
	octets = parse_hex(r, words[1], &n);
	r->has_description = presentation_read((struct bytes){ octets, n }, &r->description);
	free(octets);
	if (!r->has_description) {
		(void)snprintf(line, sizeof line, "describe %s -> refused", words[1]);
		answer(r, line);
	}
}

/* "1.0": octet and bit */
static uint16_t parse_bit(const struct replay *r, char *text)
{
	char *dot = strchr(text, '.');

	if (!dot)
		stop(r, "%s: write a bit as OCTET.BIT", text);
	*dot = '\0';
	return (uint16_t)(parse_number(r, text, DECLARED_OFFSET_MAX) * 8 + parse_number(r, dot + 1, 7));
}

static enum mass_unit parse_unit(const struct replay *r, struct declared *d, const char *text)
{
	if (strcmp(text, "g") == 0)
		d->exponent -= 3;
	else if (strcmp(text, "kg") != 0 && strcmp(text, "lb") != 0)
		stop(r, "%s: the unit is kg, g or lb", text);
	return *text == 'l' ? MASS_POUND : MASS_KILOGRAM;
}

static void take_setting(const struct replay *r, struct declared *d, const char *key, char *value)
{
	if (strcmp(key, "offset") == 0)
		d->offset = (uint16_t)parse_number(r, value, DECLARED_OFFSET_MAX);
	else if (strcmp(key, "width") == 0)
		d->width = (uint8_t)parse_number(r, value, DECLARED_WIDTH_MAX);
	else if (strcmp(key, "factor") == 0)
		d->factor = parse_number(r, value, 1000000);
	else if (strcmp(key, "exponent") == 0)
		d->exponent += *value == '-' ? -(int)parse_number(r, value + 1, 9) : (int)parse_number(r, value, 9);
	else if (strcmp(key, "unit") == 0)
		d->unit = parse_unit(r, d, value);
	else if (strcmp(key, "signed") == 0)
		d->is_signed = strcmp(value, "yes") == 0;
	else if (strcmp(key, "endian") == 0)
		d->big_endian = strcmp(value, "big") == 0;
	else if (strcmp(key, "steady-bit") == 0)
		d->steady_bit = parse_bit(r, value);
	else if (strcmp(key, "tare-bit") == 0)
		d->tare_bit = parse_bit(r, value);
	else if (strcmp(key, "reports") == 0)
		d->reports = strcmp(value, "stream") == 0 ? DECLARED_STREAM : DECLARED_RESULT;
	else
		stop(r, "%s: no setting of a declared format", key);
}

static void take_declaration(struct replay *r, char **words)
{
	struct declared d = { .factor = 1,
			      .steady_bit = DECLARED_NO_BIT,
			      .tare_bit = DECLARED_NO_BIT,
			      .reports = DECLARED_RESULT };
	char *end;

	r->has_declared = strcmp(words[1], "none") != 0;
	if (!r->has_declared)
		return;
	if (strncmp(words[1], "0x", 2) == 0) {
		d.source = DECLARED_MANUFACTURER;
		d.company = (uint16_t)strtoul(words[1], &end, 16);
		if (*end || strlen(words[1]) != 6)
			stop(r, "%s: a company is 0x and four digits", words[1]);
	} else if (strlen(words[1]) == UUID_LENGTH) {
		(void)snprintf(d.uuid, sizeof d.uuid, "%s", words[1]);
	} else {
		stop(r, "%s: neither a whole UUID nor a company", words[1]);
	}
	for (size_t i = 2; words[i]; i += 2) {
		if (!words[i + 1])
			stop(r, "%s: without a value", words[i]);
		take_setting(r, &d, words[i], words[i + 1]);
	}
	if (d.width == 0)
		stop(r, "a declared format needs a width");
	r->declared = d;
}

static void take_line(struct replay *r, char **words, size_t n)
{
	static const struct {
		const char *word;
		size_t least, most;
		void (*take)(struct replay *, char **words);
	} lines[] = { { "at", 2, 2, take_at },
		      { "scale", 2, 2, take_scale },
		      { "link", 2, 2, take_link },
		      { "tare", 2, 4, take_tare },
		      { "describe", 2, 2, take_description },
		      { "declare", 2, WORDS_MAX, take_declaration } };

	if (words[0][0] == '+' && n == 1) {
		take_later(r, words);
		return;
	}
	for (size_t i = 0; i < sizeof lines / sizeof lines[0]; i++) {
		if (strcmp(words[0], lines[i].word) == 0 && n >= lines[i].least &&
		    n <= lines[i].most) {
			lines[i].take(r, words);
			return;
		}
	}
	if (n != 2 || (strlen(words[0]) != 4 && strlen(words[0]) != UUID_LENGTH &&
		       !(r->has_declared && strncmp(words[0], "0x", 2) == 0)))
		stop(r, "not understood; replay --help says what may stand here");
	take_frame(r, words);
}

static void take_comment(struct replay *r, const char *text)
{
	r->has_what = r->has_what || strncmp(text, "# what: ", 8) == 0;
	r->has_source = r->has_source || strncmp(text, "# source: ", 10) == 0;
	r->has_zone = r->has_zone || strcmp(text, "# zone: UTC") == 0;
}

static void run(struct replay *r, FILE *capture)
{
	char line[4096];

	while (fgets(line, sizeof line, capture)) {
		char *words[WORDS_MAX + 2] = { NULL }, *rest = line, *word;
		size_t n = 0;

		r->line_number++;
		line[strcspn(line, "\n")] = '\0';
		if (line[0] == '#' || line[0] == '\0') {
			take_comment(r, line);
			continue;
		}
		if (!r->has_what || !r->has_source || !r->has_zone)
			stop(r, "the header must come first, with '# what: ', '# source: ' and '# "
				"zone: UTC'");
		while ((word = strsep(&rest, " ")) && n < WORDS_MAX)
			if (*word)
				words[n++] = word;
		if (word || n == 0)
			stop(r, "too many words, or none");
		take_line(r, words, n);
	}
	end_link(r);
	if (r->frames == 0)
		stop(r, "no frame in the capture");
	if (r->expected && fgetc(r->expected) != EOF) {
		fprintf(stderr, "%s: the capture ends, but %s goes on after line %u\n", r->path,
			r->expected_path, r->frames);
		exit(1);
	}
}

int main(int argc, char **argv)
{
	struct replay r = { .link = 1 };
	FILE *capture;

	if (argc == 2 && strcmp(argv[1], "--help") == 0) {
		fputs(help, stdout);
		return 0;
	}
	if (argc < 2 || argc > 3 || argv[1][0] == '-') {
		fputs(help, stderr);
		return 2;
	}
	r.path = argv[1];
	capture = fopen(r.path, "re");
	if (argc == 3) {
		r.expected_path = argv[2];
		r.expected = fopen(r.expected_path, "re");
	}
	if (!capture || (argc == 3 && !r.expected)) {
		fprintf(stderr, "replay: %s can't be opened: %m\n", capture ? argv[2] : argv[1]);
		return 2;
	}
	run(&r, capture);
	if (r.expected)
		fclose(r.expected);
	fclose(capture);
	return 0;
}
