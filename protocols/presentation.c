// SPDX-License-Identifier: MIT
#include "protocols/presentation.h"
#include "protocols/bytes.h"

#define UNIT_KILOGRAM 0x2702
#define UNIT_POUND 0x27B8

/* By format code; no octets: not a number, or one that no scale needs (facts, 3.2). */
static const struct presentation_number numbers[] = {
	[0x04] = { PRESENTATION_UNSIGNED, 1 }, [0x06] = { PRESENTATION_UNSIGNED, 2 },
	[0x07] = { PRESENTATION_UNSIGNED, 3 }, [0x08] = { PRESENTATION_UNSIGNED, 4 },
	[0x09] = { PRESENTATION_UNSIGNED, 6 }, [0x0A] = { PRESENTATION_UNSIGNED, 8 },
	[0x0C] = { PRESENTATION_SIGNED, 1 },   [0x0E] = { PRESENTATION_SIGNED, 2 },
	[0x0F] = { PRESENTATION_SIGNED, 3 },   [0x10] = { PRESENTATION_SIGNED, 4 },
	[0x11] = { PRESENTATION_SIGNED, 6 },   [0x12] = { PRESENTATION_SIGNED, 8 },
	[0x16] = { PRESENTATION_SFLOAT, 2 },   [0x17] = { PRESENTATION_FLOAT, 4 },
};

bool presentation_read(struct bytes value, struct presentation *ret)
{
	int64_t exponent;

	if (value.left != PRESENTATION_LENGTH)
		return false;
	if (!bytes_u8(&value, &ret->format) || !bytes_sint(&value, 1, &exponent))
		return false;
	ret->exponent = (int8_t)exponent;
	return bytes_u16(&value, &ret->unit) && bytes_u8(&value, &ret->name_space) &&
	       bytes_u16(&value, &ret->description);
}

bool presentation_number(uint8_t format, struct presentation_number *ret)
{
	if (format >= sizeof numbers / sizeof numbers[0] || numbers[format].octets == 0)
		return false;
	*ret = numbers[format];
	return true;
}

bool presentation_mass_unit(uint16_t unit, enum mass_unit *ret)
{
	if (unit != UNIT_KILOGRAM && unit != UNIT_POUND)
		return false;
	*ret = unit == UNIT_KILOGRAM ? MASS_KILOGRAM : MASS_POUND;
	return true;
}

bool presentation_is_mass(const struct presentation *p)
{
	struct presentation_number number;
	enum mass_unit unit;

	return presentation_number(p->format, &number) && presentation_mass_unit(p->unit, &unit);
}
