// SPDX-License-Identifier: MIT
/*
 * Every decoder of protocols/. The first octet says which one; the described format takes seven octets of description
 * first, a declared one sixteen of its settings.
 */
#include "fuzz.h"
#include "protocols/bthome.h"
#include "protocols/declared.h"
#include "protocols/feature.h"
#include "protocols/formats.h"
#include "protocols/presentation.h"

static void check(enum payload_refusal refusal, const struct payload *payload)
{
	FUZZ_HOLDS(*payload_refusal_text(refusal));
	if (refusal != PAYLOAD_OK)
		return;
	FUZZ_HOLDS(payload->mass_mg <= MASS_MAX_MG && payload->mass_mg >= -MASS_MAX_MG);
	FUZZ_HOLDS(payload->step_mg >= 1);
}

static uint64_t number(struct bytes *b, size_t n)
{
	uint64_t value = 0;
	uint8_t octet;

	while (n-- && bytes_u8(b, &octet))
		value = value << 8 | octet;
	return value;
}

static void declared(struct bytes value)
{
	struct payload payload = { 0 };
	struct declared settings = {
		.offset = (uint16_t)(number(&value, 1) % 32),
		.width = (uint8_t)(1 + number(&value, 1) % DECLARED_WIDTH_MAX),
		.is_signed = number(&value, 1) & 1,
		.big_endian = number(&value, 1) & 1,
		.exponent = (int8_t)number(&value, 1),
		.unit = number(&value, 1) & 1 ? MASS_POUND : MASS_KILOGRAM,
		.steady_bit = number(&value, 1) & 1 ? DECLARED_NO_BIT : (uint16_t)number(&value, 2),
		.tare_bit = DECLARED_NO_BIT,
		.factor = (int64_t)number(&value, 8),
	};

	if (settings.factor == 0)
		settings.factor = 1;
	check(declared_decode(&settings, value, &payload), &payload);
}

static bool decrypt(void *userdata, const uint8_t key[BTHOME_KEY_SIZE], const uint8_t nonce[BTHOME_NONCE_SIZE],
		    const uint8_t *cipher, size_t n, const uint8_t mic[BTHOME_MIC_SIZE], uint8_t *ret)
{
	(void)userdata;
	for (size_t i = 0; i < n; i++)
		ret[i] = cipher[i] ^ key[i % BTHOME_KEY_SIZE] ^ nonce[i % BTHOME_NONCE_SIZE];
	return (mic[0] & 1) == 0; /* a stand-in: what matters is what is read after a mic that fits */
}

static void bthome(struct bytes value, bool locked)
{
	static const uint8_t key[BTHOME_KEY_SIZE] = { 1, 2, 3 };
	const struct bthome_lock lock = { .key = key, .has_counter = true, .counter = 7, .decrypt = decrypt };
	struct bthome read = { 0 };
	enum payload_refusal refusal = bthome_read(value, locked ? &lock : NULL, &read);

	FUZZ_HOLDS(read.n_masses <= BTHOME_MASSES && read.n_buttons <= BTHOME_BUTTONS);
	for (size_t i = 0; i < read.n_masses; i++)
		check(refusal, &read.masses[i]);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	struct bytes value = (struct bytes){ data, size };
	struct presentation description;
	struct payload payload = { 0 };
	struct feature feature;
	const struct format *table;
	uint8_t which = 0, octets[7] = { 0 };
	size_t n;

	if (!bytes_u8(&value, &which))
		return 0;
	table = format_table(&n);
	which %= (uint8_t)(n + 4);
	if (which < n) {
		bool described = table[which].uuid16 == 0;
		for (size_t i = 0; described && i < sizeof octets; i++)
			(void)bytes_u8(&value, &octets[i]); /* stays 0 */
		if (!described || presentation_read((struct bytes){ octets, sizeof octets }, &description))
			check(table[which].decode(value, described ? &description : NULL, &payload), &payload);
	} else if (which == n) {
		declared(value);
	} else if (which == n + 1) {
		(void)feature_weight_scale(value, &feature);     /* whether it is one doesn't matter here, ... */
		(void)feature_body_composition(value, &feature); /* ... only that it is read within its bounds */
	} else {
		bthome(value, which == n + 3);
	}
	return 0;
}
