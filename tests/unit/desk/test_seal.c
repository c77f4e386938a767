// SPDX-License-Identifier: MIT
/*
 * Against published vectors: those of the open broadcast format (bthome.io/encryption; facts, 6), and NIST's CAVP for
 * SP 800-38C, ccmtestvectors, DVPT128.rsp (CAVS 11.0, 2011), all that have the lengths of a broadcast: no associated
 * data, a nonce of 13 octets and a tag of 4. Count is the vector's number there; plain NULL: "Result = Fail".
 */
#include "daemon/desk/seal.h"
#include <setjmp.h>
#include <stdarg.h>

#include <cmocka.h>

#define N_OF(array) (sizeof(array) / sizeof((array)[0]))
#define KEY_0 "4bb3c4a4f893ad8c9bdc833c325d62b3"
#define KEY_24 "197afb02ffbd8f699dacae87094d5243"
#define KEY_BROADCAST "231d39c1d7cc1ab1aee224cd096db932"

static const struct vector {
	int count;
	const char *key, *nonce, *cipher, *mic, *plain;
} vectors[] = {
	{ 30, KEY_0, "5a8aa485c316e9403aff859fbb", "", "90156f3f", "" },
	{ 31, KEY_0, "a16a2e741f1cd9717285b6d882", "", "88909016", NULL },
	{ 32, KEY_0, "368f3b8180fd4b851b7b272cb1", "", "de547d03", NULL },
	{ 33, KEY_0, "7bb2bc00c0cafce65b5299ae64", "", "ea4bad52", NULL },
	{ 34, KEY_0, "935c1ef3d4032ff090f91141f3", "", "1bc82b3d", "" },
	{ 35, KEY_0, "2640b14f10b116411d1b5c1ad1", "", "92e72250", NULL },
	{ 36, KEY_0, "b229c173a13b2d83af91ec45b0", "", "e81f0647", NULL },
	{ 37, KEY_0, "37ca0dc2d6efd9efde69f14f03", "", "7cb906ec", NULL },
	{ 38, KEY_0, "6b6238aed86d677ba2b3e2622c", "", "d60f815b", NULL },
	{ 39, KEY_0, "d6cb2ac67bb13b8f6d31fad64a", "", "d3d4f3b0", NULL },
	{ 40, KEY_0, "32a7cd361ef00e65f5778fdfd4", "", "a9df97ad", NULL },
	{ 41, KEY_0, "d0a1508fdefcf5be30a459b813", "", "36a37a59", "" },
	{ 42, KEY_0, "5381a61b449dc6a42aa4c79b95", "", "dba02a36", "" },
	{ 43, KEY_0, "c55430f2da0687ea40313884ab", "", "25dcb3c5", "" },
	{ 44, KEY_0, "ec76d1850acc0979a1f11906fb", "", "1d2832d0", NULL },
	{ 90, KEY_24, "5a8aa485c316e9403aff859fbb", "4a550134f94455979ec4bf89ad2bd80d25a77ae94e456134", "a3e138b9",
	  "a16a2e741f1cd9717285b6d882c1fc53655e9773761ad697" },
	{ 91, KEY_24, "49004912fdd7269279b1f06a89", "118ec53dd1bfbe52d5b9fe5dfebecf2ee674ec983eada654", "091a5ae9",
	  NULL },
	{ 92, KEY_24, "efeb82c8c68d6600b24dd6d8ee", "6b0fea26e4dfe902b5e876c7ba92afbad8aa52d3c1d00ae5", "78b6bcc4",
	  NULL },
	{ 93, KEY_24, "7b93d368dc551640b00ba3cbb5", "640c740e2b8af851712a05948ecee055b25b145ccb82ca58", "ac542b09",
	  NULL },
	{ 94, KEY_24, "24b7a65391f88bea38fcd54a9a", "05f20b2ae70fcb0ea79aa1845c15b899a799ca60f51e6c29", "6413020a",
	  "43419715cef9a48dc7280bc035082a6581afd1d82bee9d1a" },
	{ 95, KEY_24, "6aa3f731522fce7e366ba59945", "9fa576a8a5c72468afa372338cbbc33fef81ad5a873eb38a", "142d5636",
	  NULL },
	{ 96, KEY_24, "a11cf5bed0041ee3cb1fef4b43", "8d26582c74b2b4d960ee9e417c6395daafaebb3aff45d477", "f3757b6a",
	  NULL },
	{ 97, KEY_24, "273cc5013785baeb5abc79c8bd", "cb62a13e38e17cc6635e409c922956ece38f593189a51b99", "a7001a16",
	  NULL },
	{ 98, KEY_24, "d2d4482ea8e98c1cf309671895", "f3e29b792423c7fbe743a3b2f890a2bff29519f3636a6232", "050e9225",
	  NULL },
	{ 99, KEY_24, "a8849b44adb48d271979656930", "136e60d6714d906d1f4c02b7bdbb5f3ccdd2165306912dec", "850ec9f0",
	  NULL },
	{ 100, KEY_24, "a632ba0d00511122abcd6227ff", "49b6d0b6eeff74af0de70072d9ccdc68a0ee36a5ddbf098b", "4eb95533",
	  NULL },
	{ 101, KEY_24, "c47af80cd26d047630c1fdf0d1", "a2a59041c3f78f6e10c3045118e8a475945e24c85b02abc4", "0f8fb949",
	  "d8306c9c4ea6c69c6e2ad0fc0e49b1e0126b01078d6419ff" },
	{ 102, KEY_24, "70e132023acae1f88c7a237b68", "19b4ad222795326cb031cfdb07b652dbf64ca5db5ff5d6d5", "69d8ab41",
	  "d0b2bef5ed1a87d9c73d4a459cb05c11799c4f51ad640b1e" },
	{ 103, KEY_24, "8010d3a2a14f72f5585defc940", "76b66b908657f4df8a329c34ccdde50ae7fc71c4a718b712", "f00fe764",
	  "4faba05569bf7ac656780c16995e9122e565fe9984be8a68" },
	{ 104, KEY_24, "a98c2f0e0a7b68942853905191", "20df4662ce6c8c4ce49b14fa791e41ff8598ec93d8a825e8", "79f9eb72",
	  NULL },
	/* The broadcast format's own; then T12 and T13 of the facts, 8.4, computed there */
	{ 0, KEY_BROADCAST, "5448e68f80a5d2fc4133221100", "e445f3c9962b", "6c7c4519", "02ca0903bf13" },
	{ 0, KEY_BROADCAST, "5448e68f80a5d2fc4501000000", "0217cf1de9", "4d14f2c4", "0009062300" },
	{ 0, KEY_BROADCAST, "5448e68f80a5d2fc4102000000", "cb2b14", "98e95f95", "065e1f" },
};

static size_t octets(const char *hex, uint8_t *ret)
{
	size_t n = strlen(hex) / 2;

	for (size_t i = 0; i < n; i++)
		assert_int_equal(sscanf(hex + 2 * i, "%2hhx", &ret[i]), 1);
	return n;
}

struct parts {
	uint8_t key[BTHOME_KEY_SIZE], nonce[BTHOME_NONCE_SIZE], mic[BTHOME_MIC_SIZE], cipher[BTHOME_PLAIN_SIZE + 1];
	uint8_t plain[BTHOME_PLAIN_SIZE + 1]; /* what must come out */
	size_t n;
};

static void take(const struct vector *v, struct parts *ret)
{
	assert_int_equal(octets(v->key, ret->key), sizeof ret->key);
	assert_int_equal(octets(v->nonce, ret->nonce), sizeof ret->nonce);
	assert_int_equal(octets(v->mic, ret->mic), sizeof ret->mic);
	ret->n = octets(v->cipher, ret->cipher);
	if (v->plain)
		assert_int_equal(octets(v->plain, ret->plain), ret->n);
}

/* Refused, and nothing of it left behind. */
static void assert_refused(const struct parts *p)
{
	uint8_t out[BTHOME_PLAIN_SIZE + 1], before[sizeof out];

	memset(out, 0xA5, sizeof out);
	memset(before, 0xA5, sizeof before);
	assert_false(seal_decrypt(NULL, p->key, p->nonce, p->cipher, p->n, p->mic, out));
	assert_memory_equal(out, before, sizeof out);
}

static void assert_opens(const struct parts *p)
{
	uint8_t out[BTHOME_PLAIN_SIZE + 1];

	memset(out, 0xA5, sizeof out);
	assert_true(seal_decrypt(NULL, p->key, p->nonce, p->cipher, p->n, p->mic, out));
	assert_memory_equal(out, p->plain, p->n);
	assert_int_equal(out[p->n], 0xA5);
}

static void test_vectors(void **state)
{
	(void)state;
	for (size_t i = 0; i < N_OF(vectors); i++) {
		struct parts p;

		print_message("  %d %s\n", vectors[i].count, vectors[i].nonce);
		take(&vectors[i], &p);
		if (vectors[i].plain)
			assert_opens(&p);
		else
			assert_refused(&p);
	}
}

/* Every single bit of what was received, and of the key, counts. */
static void test_one_bit(void **state)
{
	(void)state;
	for (size_t i = 0; i < N_OF(vectors); i++) {
		struct parts p;
		struct {
			uint8_t *at;
			size_t n;
		} fields[] = {
			{ p.key, sizeof p.key }, { p.nonce, sizeof p.nonce }, { p.mic, sizeof p.mic }, { p.cipher, 0 }
		};

		take(&vectors[i], &p);
		fields[3].n = p.n;
		for (size_t f = 0; vectors[i].plain && f < N_OF(fields); f++)
			for (size_t bit = 0; bit < 8 * fields[f].n; bit++) {
				fields[f].at[bit / 8] ^= (uint8_t)(1 << bit % 8);
				assert_refused(&p);
				fields[f].at[bit / 8] ^= (uint8_t)(1 << bit % 8);
			}
	}
}

static void test_too_long(void **state)
{
	struct parts p = { .n = BTHOME_PLAIN_SIZE + 1 };

	(void)state;
	assert_refused(&p);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_vectors),
		cmocka_unit_test(test_one_bit),
		cmocka_unit_test(test_too_long),
	};

	return cmocka_run_group_tests_name("desk/seal", tests, NULL, NULL);
}
