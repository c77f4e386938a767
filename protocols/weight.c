// SPDX-License-Identifier: MIT
/* Weight (0x2A98): one uint16, 0.005 kg a count, no special value (GATT characteristic weight;
 * facts, 3.1). */
#include "protocols/formats.h"

enum payload_refusal decode_weight(struct bytes value, const struct presentation *description,
				   struct payload *ret)
{
	struct payload p = { 0 };
	uint16_t raw;

	(void)description; /* the characteristic's own definition says it all */
	if (!bytes_u16(&value, &raw))
		return PAYLOAD_TRUNCATED;
	payload_set_weight(&p, raw, false);
	payload_note_trailing(&p, &value);
	*ret = p;
	return PAYLOAD_OK;
}
