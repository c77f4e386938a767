// SPDX-License-Identifier: MIT
#include "protocols/feature.h"
#include "protocols/bytes.h"
#include "protocols/mass.h"
#include <stddef.h>

#define FLAG_STAMP (UINT32_C(1) << 0)
#define FLAG_USERS (UINT32_C(1) << 1)
#define RESOLUTION_MASK 0x0F

/* Where the four bits of the resolution code start (facts, 1.2 and 2.1). */
#define WEIGHT_SCALE_SHIFT 3
#define BODY_COMPOSITION_SHIFT 11

struct decimal {
	int mantissa;
	int exponent;
};

/* By resolution code, in the table's own kilograms and pounds; both services share it. */
static const struct {
	struct decimal kg;
	struct decimal lb;
} resolutions[] = {
	[1] = { { 5, -1 }, { 1, 0 } },  [2] = { { 2, -1 }, { 5, -1 } },
	[3] = { { 1, -1 }, { 2, -1 } }, [4] = { { 5, -2 }, { 1, -1 } },
	[5] = { { 2, -2 }, { 5, -2 } }, [6] = { { 1, -2 }, { 2, -2 } },
	[7] = { { 5, -3 }, { 1, -2 } },
};

static bool read_feature(struct bytes value, unsigned shift, struct feature *ret)
{
	struct feature f = { 0 };
	uint32_t bits;

	if (!bytes_u32(&value, &bits))
		return false;
	f.time_stamp = bits & FLAG_STAMP;
	f.multiple_users = bits & FLAG_USERS;
	f.resolution = (uint8_t)(bits >> shift & RESOLUTION_MASK);
	if (f.resolution < sizeof resolutions / sizeof resolutions[0]) {
		struct decimal kg = resolutions[f.resolution].kg;
		struct decimal lb = resolutions[f.resolution].lb;

		/* Can't fail: the table holds half a kilogram at most, and code 0 is 0. */
		(void)mass_from_decimal(kg.mantissa, kg.exponent, MASS_KILOGRAM,
					&f.resolution_kg_mg);
		(void)mass_from_decimal(lb.mantissa, lb.exponent, MASS_POUND, &f.resolution_lb_mg);
	}
	*ret = f;
	return true;
}

bool feature_weight_scale(struct bytes value, struct feature *ret)
{
	return read_feature(value, WEIGHT_SCALE_SHIFT, ret);
}

bool feature_body_composition(struct bytes value, struct feature *ret)
{
	return read_feature(value, BODY_COMPOSITION_SHIFT, ret);
}
