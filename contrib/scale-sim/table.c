// SPDX-License-Identifier: MIT
#include "table.h"
#include "put.h"
#include "words.h"

#define FIRST_HANDLE 0x0015
#define VENDOR_SERVICE "b15a0001-0c5a-4e5d-9c0a-5ca1e0000000" /* random, ours */

struct builder {
	struct attr rows[SIM_ATTRS];
	size_t n, service, chr;
	uint16_t handle;
	bool nodesc, full;
};

static struct attr *row(struct builder *builder, enum attr_kind kind, const char *uuid)
{
	if (builder->n == SIM_ATTRS) {
		builder->full = true;
		return NULL;
	}
	struct attr *attr = &builder->rows[builder->n];
	attr->kind = kind;
	words_uuid(uuid, attr->uuid);
	attr->handle = builder->handle;
	/* A characteristic takes two handles: its declaration, by which BlueZ names it, and its value. */
	builder->handle = (uint16_t)(builder->handle + (kind == ATTR_CHR ? 2 : 1));
	if (kind == ATTR_SERVICE)
		builder->service = builder->n;
	if (kind == ATTR_CHR)
		builder->chr = builder->n;
	attr->service = builder->service;
	attr->chr = builder->chr;
	builder->n++;
	return attr;
}

static void chr(struct builder *builder, const char *uuid, unsigned flags, const void *octets, size_t n)
{
	struct attr *attr = row(builder, ATTR_CHR, uuid);

	if (!attr)
		return;
	attr->flags = flags;
	if (n)
		memcpy(attr->octets, octets, n);
	attr->n = n;
	if (flags & (ATTR_NOTIFY | ATTR_INDICATE) && !builder->nodesc)
		row(builder, ATTR_DESC, "2902");
}

/* Its 0x2904 descriptors, Core specification vol 3 part G 3.3.3.5; more than one makes it an aggregate. */
static bool described(struct builder *builder, const struct table_described *one)
{
	char formats[128];
	char *save = NULL;

	chr(builder, one->uuid, ATTR_NOTIFY, NULL, 0);
	if (builder->nodesc)
		return true;
	if (strlen(one->formats) >= sizeof(formats))
		return false;
	words_copy(formats, sizeof(formats), one->formats);
	for (char *word = strtok_r(formats, ",", &save); word; word = strtok_r(NULL, ",", &save)) {
		struct attr *attr = row(builder, ATTR_DESC, "2904");
		if (!attr || !words_octets(word, attr->octets, sizeof(attr->octets), &attr->n))
			return false;
		attr->flags = ATTR_READ;
	}
	return true;
}

static void standard(struct builder *builder, const struct table_options *options)
{
	uint8_t battery = (uint8_t)options->battery_pct;

	row(builder, ATTR_SERVICE, "181d");
	chr(builder, "2a9d", ATTR_INDICATE, NULL, 0);
	chr(builder, "2a9e", ATTR_READ, options->feature, options->n_feature);
	if (options->body) {
		row(builder, ATTR_SERVICE, "181b");
		chr(builder, "2a9c", ATTR_INDICATE, NULL, 0);
		chr(builder, "2a9b", ATTR_READ, "\0\0\0\0", 4);
	}
	if (options->battery_pct >= 0) {
		row(builder, ATTR_SERVICE, "180f");
		chr(builder, "2a19", ATTR_READ | ATTR_NOTIFY, &battery, 1);
	}
	if (options->clock) {
		row(builder, ATTR_SERVICE, "1805");
		chr(builder, "2a2b", options->clock, "\0\0\0\0\0\0\0\0\0\0", 10);
	}
	if (options->user) {
		row(builder, ATTR_SERVICE, "181c");
		chr(builder, "2a9f", ATTR_WRITE | ATTR_INDICATE, NULL, 0);
		chr(builder, "2a9a", ATTR_READ, "\xff", 1);
	}
	if (options->info) {
		row(builder, ATTR_SERVICE, "180a");
		chr(builder, "2a24", ATTR_READ, "scale-sim", 9);
		chr(builder, "2a25", ATTR_READ, "1", 1);
	}
}

bool table_build(struct peer *peer, const struct table_options *options)
{
	struct builder *builder = put_alloc(1, sizeof(*builder));
	bool good = true;

	builder->handle = FIRST_HANDLE;
	builder->nodesc = options->nodesc;
	if (!options->beacon)
		standard(builder, options);
	if (options->n_described)
		row(builder, ATTR_SERVICE, VENDOR_SERVICE);
	for (size_t i = 0; i < options->n_described && good; i++)
		good = described(builder, &options->described[i]);
	good = good && !builder->full;
	if (good) {
		peer->attrs = put_alloc(builder->n, sizeof(*peer->attrs));
		memcpy(peer->attrs, builder->rows, builder->n * sizeof(*peer->attrs));
		peer->n_attrs = builder->n;
		peer->battery_pct = options->battery_pct;
	}
	free(builder);
	return good;
}
