// SPDX-License-Identifier: MIT
#include "mirror.h"
#include <ctype.h>

bool mirror_under(const char *path, const char *parent)
{
	size_t n = strlen(parent);

	return strncmp(path, parent, n) == 0 && (path[n] == '/' || path[n] == '\0');
}

bool mirror_address(const char *text, char ret[static RADIO_ADDRESS_SIZE])
{
	char address[RADIO_ADDRESS_SIZE];

	for (size_t i = 0; i < RADIO_ADDRESS_SIZE - 1; i++) {
		unsigned char c = (unsigned char)text[i];

		if (i % 3 == 2 ? c != ':' : !isxdigit(c))
			return false;
		address[i] = (char)toupper(c);
	}
	if (text[RADIO_ADDRESS_SIZE - 1] != '\0')
		return false;
	address[RADIO_ADDRESS_SIZE - 1] = '\0';
	memcpy(ret, address, sizeof address);
	return true;
}

bool mirror_address_of(const char *path, DBusMessageIter *properties,
		       char ret[static RADIO_ADDRESS_SIZE])
{
	const char *text = strrchr(path, '/');
	char address[RADIO_ADDRESS_SIZE];
	DBusMessageIter value;

	if (dict_find(properties, "Address", &value) && dict_text(&value, &text))
		return mirror_address(text, ret);
	if (!text || strncmp(text, "/dev_", 5) != 0 || strlen(text + 5) != RADIO_ADDRESS_SIZE - 1)
		return false;
	for (size_t i = 0; i < RADIO_ADDRESS_SIZE; i++)
		address[i] = text[5 + i] == '_' ? ':' : text[5 + i];
	return mirror_address(address, ret);
}

struct mirror_adapter *mirror_adapter(const struct mirror *mirror, const char *path)
{
	for (struct mirror_adapter *at = mirror->adapters; at; at = at->next)
		if (strcmp(at->path, path) == 0)
			return at;
	return NULL;
}

struct mirror_adapter *mirror_adapter_of(const struct mirror *mirror,
					 const struct mirror_device *device)
{
	for (struct mirror_adapter *at = mirror->adapters; at; at = at->next)
		if (mirror_under(device->path, at->path))
			return at;
	return NULL;
}

struct mirror_device *mirror_device_over(const struct mirror *mirror, const char *path)
{
	for (struct mirror_device *at = mirror->devices; at; at = at->next)
		if (mirror_under(path, at->path))
			return at;
	return NULL;
}

struct mirror_attribute *mirror_attribute_in(const struct mirror_device *device, const char *path)
{
	for (struct mirror_attribute *at = device->attributes; at; at = at->next)
		if (strcmp(at->path, path) == 0)
			return at;
	return NULL;
}

struct mirror_attribute *mirror_attribute(const struct mirror *mirror, const char *path)
{
	struct mirror_device *device = mirror_device_over(mirror, path);

	return device ? mirror_attribute_in(device, path) : NULL;
}

static void attribute_remove(struct mirror *mirror, struct mirror_attribute **link)
{
	struct mirror_attribute *gone = *link;

	*link = gone->next;
	gone->device->n_attributes--;
	gone->device->said |= SAID_ATTRIBUTE;
	mirror->ops->attribute_gone(mirror->userdata, gone);
	free(gone);
}

static void device_remove(struct mirror *mirror, struct mirror_device **link)
{
	struct mirror_device *gone = *link;

	*link = gone->next;
	while (gone->attributes)
		attribute_remove(mirror, &gone->attributes);
	mirror->reshaped = true;
	mirror->ops->device_gone(mirror->userdata, gone);
	free(gone);
}

static void adapter_remove(struct mirror *mirror, struct mirror_adapter **link)
{
	struct mirror_adapter *gone = *link;

	*link = gone->next;
	for (struct mirror_device **at = &mirror->devices; *at;)
		if (mirror_under((*at)->path, gone->path))
			device_remove(mirror, at);
		else
			at = &(*at)->next;
	mirror->reshaped = true;
	mirror->ops->adapter_gone(mirror->userdata, gone);
	free(gone);
}

void mirror_clear(struct mirror *mirror)
{
	while (mirror->adapters)
		adapter_remove(mirror, &mirror->adapters);
	while (mirror->devices)
		device_remove(mirror, &mirror->devices);
}

void mirror_drop_scale(struct mirror *mirror, const struct scale *scale)
{
	for (struct mirror_device **at = &mirror->devices; *at;)
		if ((*at)->scale == scale)
			device_remove(mirror, at);
		else
			at = &(*at)->next;
}

void mirror_sweep(struct mirror *mirror)
{
	for (struct mirror_adapter **at = &mirror->adapters; *at;)
		if ((*at)->mark != mirror->mark)
			adapter_remove(mirror, at);
		else
			at = &(*at)->next;
	for (struct mirror_device **at = &mirror->devices; *at;) {
		if ((*at)->mark != mirror->mark) {
			device_remove(mirror, at);
			continue;
		}
		for (struct mirror_attribute **a = &(*at)->attributes; *a;)
			if ((*a)->mark != mirror->mark)
				attribute_remove(mirror, a);
			else
				a = &(*a)->next;
		at = &(*at)->next;
	}
}

void *mirror_object_new(size_t size, const char *path)
{
	size_t n = strlen(path) + 1;
	char *object = calloc(1, size + n);

	if (object)
		memcpy(object + size, path,
		       n); /* the path is the last member of each, an array without bound */
	return object;
}

static bool remove_at(struct mirror *mirror, const char *path, DBusMessageIter *interfaces)
{
	struct mirror_device *device = mirror_device_over(mirror, path);

	if (dict_lists(interfaces, MIRROR_ADAPTER))
		for (struct mirror_adapter **at = &mirror->adapters; *at; at = &(*at)->next)
			if (strcmp((*at)->path, path) == 0) {
				adapter_remove(mirror, at);
				return true;
			}
	if (!device)
		return false;
	if (strcmp(device->path, path) != 0) {
		if (!dict_lists(interfaces, MIRROR_CHARACTERISTIC) &&
		    !dict_lists(interfaces, MIRROR_DESCRIPTOR))
			return false;
		for (struct mirror_attribute **at = &device->attributes; *at;)
			if (mirror_under((*at)->path, path))
				attribute_remove(mirror, at);
			else
				at = &(*at)->next;
		return true;
	}
	if (dict_lists(interfaces, MIRROR_BATTERY))
		device->battery = UINT8_MAX;
	if (!dict_lists(interfaces, MIRROR_DEVICE))
		return false;
	for (struct mirror_device **at = &mirror->devices; *at; at = &(*at)->next)
		if (*at == device) {
			device_remove(mirror, at);
			break;
		}
	return true;
}

bool mirror_removed(struct mirror *mirror, DBusMessage *signal)
{
	DBusMessageIter at;
	const char *path;

	/* the removed object stands in the argument; the signal's own path is the root */
	return dbus_message_iter_init(signal, &at) && dict_path(&at, &path) &&
	       dbus_message_iter_next(&at) && remove_at(mirror, path, &at);
}
