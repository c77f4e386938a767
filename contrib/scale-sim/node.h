// SPDX-License-Identifier: MIT
#pragma once
/* Object paths: /org/bluez/hciN/dev_XX_XX_XX_XX_XX_XX/serviceHHHH/charHHHH/descHHHH. Above: props.c, calls.c. Below:
 * model.h. */
#include "sim.h"

struct node node_adapter(struct adapter *adapter);
struct node node_device(struct device *device);
struct node node_attr(struct device *device, size_t attr);
/* Writes the path to buffer and returns it. */
const char *node_path(const struct node *node, char buffer[static SIM_PATH]);
/* The object at a path; false when there is none now. */
bool node_find(struct sim *sim, const char *path, struct node *ret);
/* Calls visit for each object below "/" that is on the bus, parents first. */
void node_each(struct sim *sim, void (*visit)(const struct node *node, void *userdata), void *userdata);
