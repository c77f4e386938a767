// SPDX-License-Identifier: MIT
#pragma once
/*
 * What the topics are called (contrib/broker/MESSAGES.md), and by which client identifier the broker knows us.
 * MQTT 3.1.1 (OASIS Standard, 29 October 2014), 1.5.3, 3.1.3.1, 4.7. Pure.
 * Above: options, main. Below: daemon/ctl/text.
 */
#include <stddef.h>

#define NAME_BRIDGE_BYTES 64
#define NAME_BASE_BYTES 128
#define NAME_SIZE (NAME_BASE_BYTES + NAME_BRIDGE_BYTES + 16)
#define NAME_CLIENT_SIZE 24 /* 23 characters: what every broker must take */

enum name_topic { NAME_READING, NAME_CONCERN, NAME_STATE, NAME_AGAIN };

/* NULL when it can be a bridge's name: one level of a topic; else what is wrong with it. Static. */
const char *name_bridge_wrong(const char *text);
/* The same for what the topics begin with: one or more levels. */
const char *name_base_wrong(const char *text);

/* Both names are well; buffer has NAME_SIZE octets. Returns it. */
const char *name_topic(const char *base, const char *bridge, enum name_topic topic, char *buffer);
/*
 * The same for the same two names, always: a broker that still holds a connection of ours closes it when the next one
 * comes, and publishes its will before that one's messages. Letters and digits alone.
 */
const char *name_client(const char *base, const char *bridge, char buffer[NAME_CLIENT_SIZE]);
