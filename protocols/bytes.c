// SPDX-License-Identifier: MIT
#include "protocols/bytes.h"

bool bytes_uint(struct bytes *b, size_t n, uint64_t *ret)
{
	uint64_t value = 0;

	if (n < 1 || n > sizeof value || b->left < n)
		return false;
	for (size_t i = n; i > 0; i--)
		value = value << 8 | b->at[i - 1];
	b->at += n;
	b->left -= n;
	*ret = value;
	return true;
}

bool bytes_sint(struct bytes *b, size_t n, int64_t *ret)
{
	uint64_t value;

	if (!bytes_uint(b, n, &value))
		return false;
	if (n < sizeof value && value >> (8 * n - 1))
		value |= UINT64_MAX << 8 * n; /* the sign fills the octets that weren't sent */
	*ret = (int64_t)value;
	return true;
}

bool bytes_u8(struct bytes *b, uint8_t *ret)
{
	uint64_t value;

	if (!bytes_uint(b, 1, &value))
		return false;
	*ret = (uint8_t)value;
	return true;
}

bool bytes_u16(struct bytes *b, uint16_t *ret)
{
	uint64_t value;

	if (!bytes_uint(b, 2, &value))
		return false;
	*ret = (uint16_t)value;
	return true;
}

static bool take_u32(struct bytes *b, size_t n, uint32_t *ret)
{
	uint64_t value;

	if (!bytes_uint(b, n, &value))
		return false;
	*ret = (uint32_t)value;
	return true;
}

bool bytes_u24(struct bytes *b, uint32_t *ret)
{
	return take_u32(b, 3, ret);
}

bool bytes_u32(struct bytes *b, uint32_t *ret)
{
	return take_u32(b, 4, ret);
}

bool bytes_skip(struct bytes *b, size_t n)
{
	if (b->left < n)
		return false;
	if (n > 0) /* an empty value may have no address, and then no arithmetic either */
		b->at += n;
	b->left -= n;
	return true;
}
