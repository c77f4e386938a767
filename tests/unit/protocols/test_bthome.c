// SPDX-License-Identifier: MIT
/*
 * T1 to T15 of the project's fact sheet, 8.4, and the examples of the published format, one of each object id
 * (bthome.io/format, tables "Sensor data", "Binary Sensor data", "Events", "Device information", "Packet id"; 0x3B:
 * facts, 6). The encrypted example: bthome.io/encryption; T12 and T13 were computed in the facts with the same key.
 */
#include "protocols/bthome.h"
#include "daemon/desk/seal.h"
#include "tests/unit/protocols/octets.h"

/* From the published example of encryption. */
static const uint8_t key[BTHOME_KEY_SIZE] = { 0x23, 0x1d, 0x39, 0xc1, 0xd7, 0xcc, 0x1a, 0xb1,
					      0xae, 0xe2, 0x24, 0xcd, 0x09, 0x6d, 0xb9, 0x32 };
#define ADDRESS                                                                                                        \
	{                                                                                                              \
		0x54, 0x48, 0xE6, 0x8F, 0x80, 0xA5                                                                     \
	}

static const struct bthome_lock lock = { .key = key, .address = ADDRESS, .decrypt = seal_decrypt };
static const struct bthome_lock no_key = { .address = ADDRESS, .decrypt = seal_decrypt };

#define NONE (-1)

static const struct row {
	const char *what, *hex;
	const struct bthome_lock *lock;
	enum payload_refusal refusal;
	int packet_id, battery; /* or NONE */
	size_t n_masses;
	int64_t masses_mg[BTHOME_MASSES];
	enum mass_unit unit; /* of all */
	size_t n_buttons;
	enum bthome_button buttons[BTHOME_BUTTONS];
	bool trigger, battery_low, low_said, encrypted;
	uint32_t counter;
	unsigned notes;
} rows[] = {
#define PLAIN .packet_id = NONE, .battery = NONE
#define MASS(mg) .n_masses = 1, .masses_mg = { mg }
	{ "T1", "40 06 5E 1F", PLAIN, MASS(80300000) },
	{ "T2, 33955.9248182 g", "40 07 3E 1D", PLAIN, MASS(33955925), .unit = MASS_POUND },
	{ "T3", "44 00 09 01 61 06 23 00", .packet_id = 9, .battery = 97, MASS(350000), .trigger = true },
	{ "T4", "44 00 0A 06 2D 00 3A 01", .packet_id = 10, .battery = NONE, MASS(450000), .trigger = true,
	  .n_buttons = 1, .buttons = { BTHOME_PRESS } },
	{ "T5", "40 01 64 06 0A 00 06 14 00", .packet_id = NONE, .battery = 100, .n_masses = 2,
	  .masses_mg = { 100000, 200000 } },
	{ "T6", "40 06 FF FF", PLAIN, MASS(655350000) },
	{ "T7", "40 06 5E", PLAIN, .notes = PAYLOAD_NOTE_TRAILING },
	{ "T8", "40 06 5E 1F F5 00", PLAIN, MASS(80300000), .notes = PAYLOAD_NOTE_TRAILING },
	{ "T9", "40 F5 00 06 5E 1F", PLAIN, .notes = PAYLOAD_NOTE_TRAILING },
	{ "T10", "20 06 5E 1F", PLAIN, .refusal = PAYLOAD_UNSUPPORTED },
	{ "T11, published", "41 E4 45 F3 C9 96 2B 33 22 11 00 6C 7C 45 19", &lock, PLAIN, .encrypted = true,
	  .counter = 1122867 },
	{ "T11, without a lock", "41 E4 45 F3 C9 96 2B 33 22 11 00 6C 7C 45 19", PLAIN, .refusal = PAYLOAD_ENCRYPTED },
	{ "T11, without a key", "41 E4 45 F3 C9 96 2B 33 22 11 00 6C 7C 45 19", &no_key, PLAIN,
	  .refusal = PAYLOAD_ENCRYPTED },
	{ "T12", "45 02 17 CF 1D E9 01 00 00 00 4D 14 F2 C4", &lock, .packet_id = 9, .battery = NONE, MASS(350000),
	  .trigger = true, .encrypted = true, .counter = 1 },
	{ "T13", "41 CB 2B 14 02 00 00 00 98 E9 5F 95", &lock, PLAIN, MASS(80300000), .encrypted = true, .counter = 2 },
	{ "T14", "41 CB 2B 14 02 00 00 00 98 E9 5F 94", &lock, PLAIN, .refusal = PAYLOAD_FORGED },
	{ "T15", "40", PLAIN },

	{ "nothing", "", PLAIN, .refusal = PAYLOAD_TRUNCATED },
	{ "version 0", "00 06 5E 1F", PLAIN, .refusal = PAYLOAD_UNSUPPORTED },
	{ "version 3", "60 06 5E 1F", PLAIN, .refusal = PAYLOAD_UNSUPPORTED },
	{ "version 6, the bits of 2 and one more", "C0 06 5E 1F", PLAIN, .refusal = PAYLOAD_UNSUPPORTED },
	{ "T1 from a scale with a key", "40 06 5E 1F", &lock, PLAIN, .refusal = PAYLOAD_PLAIN },
	{ "T1 with a lock and no key", "40 06 5E 1F", &no_key, PLAIN, MASS(80300000) },
	{ "reserved bits 1, 3 and 4", "5A 06 5E 1F", PLAIN, MASS(80300000), .notes = PAYLOAD_NOTE_RESERVED_BITS },
	{ "reserved bit 1", "42 06 5E 1F", PLAIN, MASS(80300000), .notes = PAYLOAD_NOTE_RESERVED_BITS },
	{ "reserved bit 3", "48 06 5E 1F", PLAIN, MASS(80300000), .notes = PAYLOAD_NOTE_RESERVED_BITS },
	{ "reserved bit 4", "50 06 5E 1F", PLAIN, MASS(80300000), .notes = PAYLOAD_NOTE_RESERVED_BITS },
	{ "encrypted, a counter and half a MIC", "41 01 00 00 00 4D 14 F2", &lock, PLAIN,
	  .refusal = PAYLOAD_TRUNCATED },
	{ "T13 as if it were trigger based", "45 CB 2B 14 02 00 00 00 98 E9 5F 95", &lock, PLAIN,
	  .refusal = PAYLOAD_FORGED },
	{ "T13 with another counter", "41 CB 2B 14 03 00 00 00 98 E9 5F 95", &lock, PLAIN, .refusal = PAYLOAD_FORGED },

	{ "zero", "40 06 00 00", PLAIN, MASS(0) },
	{ "0xFFFF lb, 297261.7596795 g", "40 07 FF FF", PLAIN, MASS(297261760), .unit = MASS_POUND },
	{ "as many masses as are kept", "40 06 01 00 06 02 00 06 03 00 06 04 00", PLAIN, .n_masses = 4,
	  .masses_mg = { 10000, 20000, 30000, 40000 } },
	{ "one more, then a button", "40 06 01 00 06 02 00 06 03 00 06 04 00 06 05 00 3A 01", PLAIN, .n_masses = 4,
	  .masses_mg = { 10000, 20000, 30000, 40000 }, .n_buttons = 1, .buttons = { BTHOME_PRESS },
	  .notes = PAYLOAD_NOTE_TRAILING },
	{ "all buttons", "40 3A 01 3A 02 3A 03 3A 04 3A 05 3A 06 3A 80 3A 00", PLAIN, .n_buttons = 8,
	  .buttons = { BTHOME_PRESS, BTHOME_DOUBLE_PRESS, BTHOME_TRIPLE_PRESS, BTHOME_LONG_PRESS,
		       BTHOME_LONG_DOUBLE_PRESS, BTHOME_LONG_TRIPLE_PRESS, BTHOME_HOLD, BTHOME_NO_PRESS } },
	{ "one more", "40 3A 00 3A 00 3A 00 3A 00 3A 00 3A 00 3A 00 3A 01 3A 01", PLAIN, .n_buttons = 8,
	  .buttons = { [7] = BTHOME_PRESS }, .notes = PAYLOAD_NOTE_TRAILING },
	{ "published: the second of two buttons", "44 3A 00 3A 01", PLAIN, .trigger = true, .n_buttons = 2,
	  .buttons = { BTHOME_NO_PRESS, BTHOME_PRESS } },
	{ "events that stand for nothing", "40 3A 07 3A 7F 3A 81 3A FF", PLAIN, .n_buttons = 4 },
	{ "first battery counts, 101 doesn't", "40 01 65 01 32 01 14", .packet_id = NONE, .battery = 50 },
	{ "battery low", "40 06 0A 00 15 01", PLAIN, MASS(100000), .battery_low = true, .low_said = true },
	{ "battery not low", "40 06 0A 00 15 00", PLAIN, MASS(100000), .low_said = true },
	{ "one of two batteries low", "40 15 01 15 00", PLAIN, .battery_low = true, .low_said = true },
	{ "1 per cent, which isn't the object for low", "40 01 01", .packet_id = NONE, .battery = 1 },
	{ "packet id 255 and 0", "40 00 FF 00 00", .packet_id = 255, .battery = NONE },
	{ "text of no length", "40 53 00 54 00 06 5E 1F", PLAIN, MASS(80300000) },
	{ "text longer than the rest", "40 06 5E 1F 53 0D 48 65 6C 6C 6F 20 57 6F 72 6C 64 21", PLAIN, MASS(80300000),
	  .notes = PAYLOAD_NOTE_TRAILING },
	{ "text without its length", "40 06 5E 1F 53", PLAIN, MASS(80300000), .notes = PAYLOAD_NOTE_TRAILING },
};

static enum payload_refusal read_first(const struct row *row, size_t n, struct bthome *ret)
{
	struct octets o = octets_first(row->hex, n);
	enum payload_refusal refusal = bthome_read(o.value, row->lock, ret);

	octets_free(&o);
	return refusal;
}

static void check_refused(const struct row *row, size_t n, enum payload_refusal refusal)
{
	struct bthome b, before;

	memset(&b, 0xA5, sizeof b);
	memset(&before, 0xA5, sizeof before);
	assert_int_equal(read_first(row, n, &b), refusal);
	assert_memory_equal(&b, &before, sizeof b);
}

static void check_read(const struct row *row, const struct bthome *b)
{
	assert_int_equal(b->encrypted, row->encrypted);
	assert_int_equal(b->counter, row->counter);
	assert_int_equal(b->trigger, row->trigger);
	assert_int_equal(b->has_packet_id ? b->packet_id : NONE, row->packet_id);
	assert_int_equal(b->has_battery ? b->battery : NONE, row->battery);
	assert_int_equal(b->has_battery_low, row->low_said);
	assert_int_equal(b->battery_low, row->battery_low);
	assert_int_equal(b->n_masses, row->n_masses);
	for (size_t i = 0; i < row->n_masses; i++) {
		assert_int_equal(b->masses[i].mass_mg, row->masses_mg[i]);
		assert_int_equal(b->masses[i].unit, row->unit);
		assert_int_equal(b->masses[i].step_mg, row->unit == MASS_POUND ? 4536 : 10000);
		assert_int_equal(b->masses[i].steady, PAYLOAD_STEADY_UNSAID);
		assert_false(b->masses[i].has_stamp || b->masses[i].has_user || b->masses[i].tared);
		assert_int_equal(b->masses[i].notes, 0);
	}
	assert_int_equal(b->n_buttons, row->n_buttons);
	for (size_t i = 0; i < row->n_buttons; i++)
		assert_int_equal(b->buttons[i], row->buttons[i]);
	assert_int_equal(b->notes, row->notes);
}

static void test_rows(void **state)
{
	(void)state;
	for (size_t i = 0; i < N_OF(rows); i++) {
		struct bthome b;

		print_message("  %s: %s\n", rows[i].what, rows[i].hex);
		if (rows[i].refusal) {
			check_refused(&rows[i], SIZE_MAX, rows[i].refusal);
			continue;
		}
		memset(&b, 0xA5, sizeof b);
		assert_int_equal(read_first(&rows[i], SIZE_MAX, &b), PAYLOAD_OK);
		check_read(&rows[i], &b);
	}
}

/* ---- every length ---- */

/* What a plain one tells at n octets is what its whole objects within them tell, and nothing else. */
static void check_cut(const struct row *row, size_t n)
{
	struct bthome whole, cut;

	assert_int_equal(read_first(row, SIZE_MAX, &whole), PAYLOAD_OK);
	assert_int_equal(read_first(row, n, &cut), PAYLOAD_OK);
	assert_true(cut.n_masses <= whole.n_masses && cut.n_buttons <= whole.n_buttons);
	for (size_t i = 0; i < cut.n_masses; i++)
		assert_int_equal(cut.masses[i].mass_mg, whole.masses[i].mass_mg);
	for (size_t i = 0; i < cut.n_buttons; i++)
		assert_int_equal(cut.buttons[i], whole.buttons[i]);
	assert_true(!cut.has_packet_id || cut.packet_id == whole.packet_id);
	assert_true(!cut.has_battery || cut.battery == whole.battery);
	assert_true(!cut.battery_low || whole.battery_low);
}

static void test_truncated(void **state)
{
	(void)state;
	for (size_t i = 0; i < N_OF(rows); i++) {
		size_t length = (strlen(rows[i].hex) + 1) / 3;

		if (rows[i].refusal)
			continue;
		for (size_t n = 0; n < length; n++)
			if (n == 0 || (rows[i].encrypted && n < 9))
				check_refused(&rows[i], n, PAYLOAD_TRUNCATED);
			else if (rows[i].encrypted)
				check_refused(&rows[i], n, PAYLOAD_FORGED);
			else
				check_cut(&rows[i], n);
	}
}

/* T3, octet by octet: where each object is whole. */
static void test_t3_cut(void **state)
{
	static const struct {
		int packet_id, battery;
		size_t n_masses;
		unsigned notes;
	} at[] = {
		[1] = { NONE, NONE, 0, 0 },
		[2] = { NONE, NONE, 0, PAYLOAD_NOTE_TRAILING },
		[3] = { 9, NONE, 0, 0 },
		[4] = { 9, NONE, 0, PAYLOAD_NOTE_TRAILING },
		[5] = { 9, 97, 0, 0 },
		[6] = { 9, 97, 0, PAYLOAD_NOTE_TRAILING },
		[7] = { 9, 97, 0, PAYLOAD_NOTE_TRAILING },
		[8] = { 9, 97, 1, 0 },
	};

	(void)state;
	for (size_t n = 1; n < N_OF(at); n++) {
		struct bthome b;

		assert_int_equal(read_first(&rows[2], n, &b), PAYLOAD_OK);
		assert_int_equal(b.has_packet_id ? b.packet_id : NONE, at[n].packet_id);
		assert_int_equal(b.has_battery ? b.battery : NONE, at[n].battery);
		assert_int_equal(b.n_masses, at[n].n_masses);
		assert_int_equal(b.notes, at[n].notes);
	}
}

/* ---- every published object is stepped over ---- */

static const char *const examples[] = {
	"51 87 56",
	"01 61",
	"12 E2 04",
	"56 E8 03",
	"09 60",
	"3D 09 60",
	"3E 2A 2C 09 60",
	"59 EA",
	"5A EA EA",
	"5B EA 02 34 EA",
	"43 4E 34",
	"5D 02 EA",
	"08 CA 06",
	"40 0C 00",
	"41 4E 00",
	"42 4E 34 00",
	"4D 12 13 8A 14",
	"0A 13 8A 14",
	"4B 13 8A 14",
	"4C 41 01 8A 01",
	"52 87 56",
	"03 BF 13",
	"2E 23",
	"05 13 8A 14",
	"06 5E 1F",
	"07 3E 1D",
	"14 02 0C",
	"2F 23",
	"0D 12 0C",
	"0E 02 1C",
	"0B 02 1B 00",
	"5C 02 FB FF FF",
	"04 13 8A 01",
	"54 0C 48 65 6C 6C 6F 20 57 6F 72 6C 64 21",
	"3F 02 0C",
	"44 4E 34",
	"57 EA",
	"58 EA",
	"45 11 01",
	"02 CA 09",
	"53 0C 48 65 6C 6C 6F 20 57 6F 72 6C 64 21",
	"50 5D 39 61 64",
	"13 33 01",
	"0C 02 0C",
	"4A 02 0C",
	"4E 87 56 2A 01",
	"47 87 56",
	"48 DC 87",
	"55 87 56 2A 01",
	"49 DC 87",
	"46 32",
	"4F 87 56 2A 01",
	"5E 9F 8C",
	"5F A0 0F",
	/* binary */
	"15 01",
	"16 01",
	"17 00",
	"18 01",
	"19 00",
	"1A 00",
	"1B 01",
	"1C 01",
	"0F 01",
	"1D 00",
	"1E 01",
	"1F 01",
	"20 01",
	"21 00",
	"22 01",
	"23 01",
	"11 00",
	"24 00",
	"10 01",
	"25 00",
	"26 01",
	"27 01",
	"28 00",
	"29 00",
	"2A 00",
	"2B 00",
	"2C 01",
	"2D 01",
	/* events, device, packet id */
	"3A 00",
	"3A 01",
	"3A 02",
	"3A 03",
	"3A 04",
	"3A 05",
	"3A 06",
	"3A 80",
	"3C 00 00",
	"3C 01 03",
	"3C 02 0A",
	"3B 00 01",
	"F0 01 00",
	"F1 00 01 02 04",
	"F2 00 01 06",
	"00 09",
};

static void test_examples(void **state)
{
	(void)state;
	for (size_t i = 0; i < N_OF(examples); i++) {
		char hex[128];
		struct octets o;
		struct bthome b;
		bool mass = !strncmp(examples[i], "06", 2) || !strncmp(examples[i], "07", 2);

		/* the example, a mark after it, and the mark cut: it is the object's size that is right, not one near
		 * it */
		(void)snprintf(hex, sizeof hex, "40 %s 06 0A 00", examples[i]);
		o = octets_of(hex);
		assert_int_equal(bthome_read(o.value, NULL, &b), PAYLOAD_OK);
		print_message("  %s\n", examples[i]);
		assert_int_equal(b.n_masses, mass ? 2 : 1);
		assert_int_equal(b.masses[mass].mass_mg, 100000);
		assert_int_equal(b.notes, 0);
		octets_free(&o);
		/* alone and without its last octet it is cut */
		o = octets_first(hex, (strlen(examples[i]) + 1) / 3);
		assert_int_equal(bthome_read(o.value, NULL, &b), PAYLOAD_OK);
		assert_int_equal(b.n_masses, 0);
		assert_int_equal(b.notes, PAYLOAD_NOTE_TRAILING);
		octets_free(&o);
	}
}

static bool is_published(unsigned id)
{
	char hex[4];

	(void)snprintf(hex, sizeof hex, "%02X ", id & 0xFF);
	for (size_t i = 0; i < N_OF(examples); i++)
		if (!strncmp(examples[i], hex, 3))
			return true;
	return false;
}

static void test_unknown_ids(void **state)
{
	(void)state;
	for (unsigned id = 0; id < 256; id++) {
		uint8_t octets[] = { 0x40, (uint8_t)id, 0, 0, 0, 0, 0, 0, 0, 0 };
		struct bthome b;

		assert_int_equal(bthome_read((struct bytes){ octets, 2 }, NULL, &b), PAYLOAD_OK);
		assert_int_equal(b.notes, PAYLOAD_NOTE_TRAILING); /* cut, or unknown */
		assert_int_equal(bthome_read((struct bytes){ octets, sizeof octets }, NULL, &b), PAYLOAD_OK);
		if (!is_published(id))
			assert_false(b.has_packet_id); /* none of the zeros was taken for one */
	}
}

/* ---- encrypted ones ---- */

static void test_replay(void **state)
{
	static const struct {
		bool has_counter;
		uint32_t counter;
		enum payload_refusal refusal;
	} cases[] = {
		{ false, 0, PAYLOAD_OK },
		{ false, 5, PAYLOAD_OK },
		{ true, 0, PAYLOAD_OK },
		{ true, 1, PAYLOAD_OK },
		{ true, 2, PAYLOAD_REPLAYED },
		{ true, 3, PAYLOAD_REPLAYED },
		{ true, UINT32_MAX, PAYLOAD_REPLAYED },
	};
	struct octets o = octets_of("41 CB 2B 14 02 00 00 00 98 E9 5F 95"),
		      forged = octets_of("41 CB 2B 14 02 00 00 00 98 E9 5F 94");

	(void)state;
	for (size_t i = 0; i < N_OF(cases); i++) {
		struct bthome_lock l = lock;
		struct bthome b;

		l.has_counter = cases[i].has_counter;
		l.counter = cases[i].counter;
		assert_int_equal(bthome_read(o.value, &l, &b), cases[i].refusal);
		assert_int_equal(bthome_read(forged.value, &l, &b), PAYLOAD_FORGED); /* not even a replay */
	}
	octets_free(&o);
	octets_free(&forged);
}

static void test_wrong_key_or_address(void **state)
{
	struct octets o = octets_of("41 CB 2B 14 02 00 00 00 98 E9 5F 95");
	struct bthome_lock l = lock;
	uint8_t wrong[BTHOME_KEY_SIZE];
	struct bthome b;

	(void)state;
	memcpy(wrong, key, sizeof wrong);
	wrong[15] ^= 1;
	l.key = wrong;
	assert_int_equal(bthome_read(o.value, &l, &b), PAYLOAD_FORGED);
	l = lock;
	l.address[0] ^= 1;
	assert_int_equal(bthome_read(o.value, &l, &b), PAYLOAD_FORGED);
	octets_free(&o);
}

/* What the cipher is asked: bthome.io/encryption prints this nonce. */
struct asked {
	unsigned times;
	size_t n;
	uint8_t nonce[BTHOME_NONCE_SIZE], mic[BTHOME_MIC_SIZE];
	const uint8_t *key;
};

static bool note_what_is_asked(void *userdata, const uint8_t k[BTHOME_KEY_SIZE], const uint8_t nonce[BTHOME_NONCE_SIZE],
			       const uint8_t *cipher, size_t n, const uint8_t mic[BTHOME_MIC_SIZE], uint8_t *ret)
{
	struct asked *asked = userdata;

	(void)cipher;
	asked->times++;
	asked->n = n;
	asked->key = k;
	memcpy(asked->nonce, nonce, sizeof asked->nonce);
	memcpy(asked->mic, mic, sizeof asked->mic);
	memset(ret, 0xFF, n); /* no object has this id */
	return true;
}

static void test_asked(void **state)
{
	static const uint8_t nonce[] = { 0x54, 0x48, 0xe6, 0x8f, 0x80, 0xa5, 0xd2, 0xfc, 0x41, 0x33, 0x22, 0x11, 0x00 };
	static const uint8_t mic[] = { 0x6c, 0x7c, 0x45, 0x19 };
	struct octets o = octets_of("41 E4 45 F3 C9 96 2B 33 22 11 00 6C 7C 45 19");
	struct asked asked = { 0 };
	struct bthome_lock l = lock;
	uint8_t octets[1 + BTHOME_PLAIN_SIZE + 1 + 8] = { 0x41 };
	struct bthome b;

	(void)state;
	l.decrypt = note_what_is_asked;
	l.userdata = &asked;
	assert_int_equal(bthome_read(o.value, &l, &b), PAYLOAD_OK);
	assert_int_equal(asked.n, 6);
	assert_ptr_equal(asked.key, key);
	assert_memory_equal(asked.nonce, nonce, sizeof nonce);
	assert_memory_equal(asked.mic, mic, sizeof mic);
	octets_free(&o);
	/* the longest, and one more */
	assert_int_equal(bthome_read((struct bytes){ octets, sizeof octets - 1 }, &l, &b), PAYLOAD_OK);
	assert_int_equal(asked.n, BTHOME_PLAIN_SIZE);
	assert_int_equal(asked.times, 2);
	assert_int_equal(bthome_read((struct bytes){ octets, sizeof octets }, &l, &b), PAYLOAD_UNSUPPORTED);
	assert_int_equal(bthome_read((struct bytes){ octets, 9 }, &l, &b), PAYLOAD_OK); /* none inside: well formed */
	assert_int_equal(asked.n, 0);
	assert_int_equal(asked.times, 3);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_rows),
		cmocka_unit_test(test_truncated),
		cmocka_unit_test(test_t3_cut),
		cmocka_unit_test(test_examples),
		cmocka_unit_test(test_unknown_ids),
		cmocka_unit_test(test_replay),
		cmocka_unit_test(test_wrong_key_or_address),
		cmocka_unit_test(test_asked),
	};

	return cmocka_run_group_tests_name("protocols/bthome", tests, NULL, NULL);
}
