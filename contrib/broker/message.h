// SPDX-License-Identifier: MIT
#pragma once
/*
 * The messages' text, as MESSAGES.md has them. Pure.
 * Above: bridge. Below: jansson.
 */
#include "contrib/broker/window.h"
#include <jansson.h>

#define MESSAGE_BYTES 65536    /* none is longer */
#define MESSAGE_TEXT_BYTES 512 /* longer text is cut; bismard keeps none over 256 */
#define MESSAGE_STATE_SIZE 1024

/*
 * A row of a log, its columns named as the message's members: text that the caller frees, and *ret_n its octets. `id`
 * and `bridge` stand first. 0; -ENOMEM; -EMSGSIZE when it is longer than a message may be, which no row of bismard's
 * is.
 */
int message_row(const json_t *row, const char *bridge, char **ret, size_t *ret_n);
/* How far it has come; seq NULL: it is gone. Returns the octets. */
size_t message_state(const char *bridge, const int64_t seq[LOG_KINDS], char buffer[MESSAGE_STATE_SIZE]);
