// SPDX-License-Identifier: MIT
#include "node.h"
#include "model.h"
#include "words.h"

#define TOP "/org/bluez"

struct node node_adapter(struct adapter *adapter)
{
	return (struct node){ .kind = NODE_ADAPTER, .sim = adapter->sim, .adapter = adapter };
}

struct node node_device(struct device *device)
{
	struct node node = node_adapter(device->adapter);

	node.kind = NODE_DEVICE;
	node.device = device;
	return node;
}

struct node node_attr(struct device *device, size_t attr)
{
	struct node node = node_device(device);

	switch (device->peer->attrs[attr].kind) {
	case ATTR_SERVICE:
		node.kind = NODE_SERVICE;
		break;
	case ATTR_CHR:
		node.kind = NODE_CHR;
		break;
	case ATTR_DESC:
		node.kind = NODE_DESC;
		break;
	}
	node.attr = attr;
	return node;
}

const char *node_path(const struct node *node, char buffer[static SIM_PATH])
{
	const struct attr *attrs = node->device ? node->device->peer->attrs : NULL;
	char *p = buffer, *end = buffer + SIM_PATH;

	if (node->kind == NODE_ROOT)
		p += snprintf(p, SIM_PATH, "/");
	else
		p += snprintf(p, SIM_PATH, TOP);
	if (node->kind >= NODE_ADAPTER)
		p += snprintf(p, (size_t)(end - p), "/%s", node->adapter->name);
	if (node->kind >= NODE_DEVICE) {
		char *address = p + strlen("/dev_");
		p += snprintf(p, (size_t)(end - p), "/dev_%s", node->device->peer->address);
		while ((address = strchr(address, ':')))
			*address = '_';
	}
	if (node->kind >= NODE_SERVICE)
		p += snprintf(p, (size_t)(end - p), "/service%04x", attrs[attrs[node->attr].service].handle);
	if (node->kind >= NODE_CHR)
		p += snprintf(p, (size_t)(end - p), "/char%04x", attrs[attrs[node->attr].chr].handle);
	if (node->kind == NODE_DESC)
		snprintf(p, (size_t)(end - p), "/desc%04x", attrs[node->attr].handle);
	return buffer;
}

static bool find_attr(struct device *device, const char *path, struct node *ret)
{
	char buffer[SIM_PATH];

	for (size_t i = 0; device->exported && i < device->peer->n_attrs; i++) {
		struct node node = node_attr(device, i);
		if (!strcmp(node_path(&node, buffer), path)) {
			*ret = node;
			return true;
		}
	}
	return false;
}

/* rest: what follows the adapter's path. */
static bool find_device(struct adapter *adapter, const char *path, const char *rest, struct node *ret)
{
	char address[SIM_ADDRESS] = "";

	if (strncmp(rest, "/dev_", 5) || strlen(rest) < 5 + SIM_ADDRESS - 1)
		return false;
	rest += 5;
	memcpy(address, rest, SIM_ADDRESS - 1);
	for (size_t i = 2; i < SIM_ADDRESS - 1; i += 3)
		address[i] = address[i] == '_' ? ':' : '?';
	struct device *device = model_device(adapter, address);
	if (!device)
		return false;
	if (rest[SIM_ADDRESS - 1])
		return find_attr(device, path, ret);
	*ret = node_device(device);
	return true;
}

bool node_find(struct sim *sim, const char *path, struct node *ret)
{
	char buffer[SIM_PATH];

	if (!strcmp(path, "/") || !strcmp(path, TOP)) {
		*ret = (struct node){ .kind = path[1] ? NODE_BLUEZ : NODE_ROOT, .sim = sim };
		return true;
	}
	for (size_t i = 0; i < SIM_ADAPTERS; i++) {
		struct adapter *adapter = &sim->adapters[i];
		struct node node = node_adapter(adapter);
		size_t length = strlen(node_path(&node, buffer));

		if (!adapter->present || strncmp(path, buffer, length))
			continue;
		if (!path[length]) {
			*ret = node;
			return true;
		}
		if (find_device(adapter, path, path + length, ret))
			return true;
	}
	return false;
}

void node_each(struct sim *sim, void (*visit)(const struct node *node, void *userdata), void *userdata)
{
	visit(&(struct node){ .kind = NODE_BLUEZ, .sim = sim }, userdata);
	for (size_t i = 0; i < SIM_ADAPTERS; i++) {
		if (!sim->adapters[i].present)
			continue;
		struct node node = node_adapter(&sim->adapters[i]);
		visit(&node, userdata);
		for (struct device *d = sim->adapters[i].devices; d; d = d->next) {
			node = node_device(d);
			visit(&node, userdata);
			for (size_t k = 0; d->exported && k < d->peer->n_attrs; k++) {
				node = node_attr(d, k);
				visit(&node, userdata);
			}
		}
	}
}
