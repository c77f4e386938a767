// SPDX-License-Identifier: MIT
#pragma once
/*
 * What stands behind two characteristics: a clock that runs (Current Time, 0x2A2B) and the User Control Point (0x2A9F) of a
 * scale with one user. Above: chr.c, commands.c. Below: say.h.
 */
#include "commands.h"

/* `clock ADDR OFFSET [ignores]`: its clock runs, so many seconds ahead of ours; with "ignores" a write is taken and
 * answered by ATT error 0x80, "Data field ignored". */
enum command_outcome cts_command(struct sim *sim, int n, char **words, char *text);
/* Before a read: what attr answers now. */
void cts_refresh(const struct peer *peer, struct attr *attr);

enum cts_outcome {
	CTS_TAKEN = 0, /* nothing more is to be done than for any write */
	CTS_IGNORED,   /* answer ATT error 0x80 */
	CTS_UNREADY,   /* answer ATT error 0xfd: nobody has enabled indications */
	CTS_INDICATE,  /* ret is to be indicated after the answer */
};
/* After a write, octets being the attr's. live: its indications are enabled. ret: room for three octets. */
enum cts_outcome cts_written(struct peer *peer, const struct attr *attr, bool live, uint8_t *ret);
