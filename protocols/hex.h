// SPDX-License-Identifier: MIT
#pragma once
/* Hexadecimal digits as people and BlueZ write them. Pure. Above: formats, and whoever reads keys and UUIDs. */

/* The value of a digit of either case, or -1. */
static inline int hex_digit(char c)
{
	if (c >= '0' && c <= '9')
		return c - '0';
	if (c >= 'a' && c <= 'f')
		return c - 'a' + 10;
	if (c >= 'A' && c <= 'F')
		return c - 'A' + 10;
	return -1;
}
