// SPDX-License-Identifier: MIT
#pragma once
/*
 * The paper on the wall: one page of HTML to be printed, without script or anything from elsewhere. All text is
 * escaped. Above: sheet.c. Below: html, field, show, when. It proposes no amount: of an order it says what the vet said.
 */
#include "daemon/ctl/ctl.h"
#include <jansson.h>
#include <stdio.h>

struct sheet {
	const char *litter;
	const char *vet;                          /* the number to call, as typed; NULL: a line to write it on */
	const json_t *growth, *concerns, *orders; /* arrays as the socket has them; orders of this litter alone */
	const json_t *doses;                      /* of each order and animal the newest: order, animal, ml, at_ms */
};
void sheet_page(FILE *to, const struct ctl *ctl, const struct sheet *sheet);
