// SPDX-License-Identifier: MIT
#pragma once
/*
 * What may be a name, a collar or an alias: words that a person says and a bare-word answer can carry.
 * Above: care.c, scales.c. Below: nothing.
 */
struct rpc_refusal;

/*
 * 0, or refuses (returns 1). what: "name", "collar", ... for the message. A name is 1..LIMIT_NAME_BYTES octets of
 * UTF-8 without control characters or blanks at its ends; it isn't "-", "?" or "text", which mean something on the
 * socket, has no "/" (which parts litter from name), and doesn't begin with { or [.
 */
int name_check(const char *text, const char *what, struct rpc_refusal *refusal);
/* The same for a few words of text, which may be those and contain "/". */
int name_check_text(const char *text, const char *what, struct rpc_refusal *refusal);
