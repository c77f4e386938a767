// SPDX-License-Identifier: MIT
#include "rules.h"
#include "objects.h"

struct rule {
	struct rule *next;
	bool wanted, space; /* space: by path_namespace */
	char text[];
};

static void want(struct rules *rules, const char *text)
{
	size_t size = strlen(text) + 1;
	struct rule *rule;

	for (rule = rules->first; rule; rule = rule->next)
		if (strcmp(rule->text, text) == 0) {
			rule->wanted = true;
			return;
		}
	rule = malloc(sizeof *rule + size);
	if (!rule)
		return; /* the next update tries again */
	memcpy(rule->text, text, size);
	rule->wanted = true;
	rule->space = strstr(text, ",path_namespace=") != NULL;
	rule->next = rules->first;
	rules->first = rule;
	rules->grown = true;
	bus_match(rules->bus, text, true);
}

#define ALL_CHANGES                                                                                                    \
	"type='signal',sender='" BUS_BLUEZ "',interface='" DBUS_INTERFACE_PROPERTIES "',member='PropertiesChanged'"

/* Matches again what is wanted, or no longer what was matched. */
static void match_spaces(const struct rules *rules, bool match)
{
	for (const struct rule *at = rules->first; at; at = at->next)
		if (at->space && (at->wanted || !match))
			bus_match(rules->bus, at->text, match);
}

static bool has_unwanted_space(const struct rules *rules)
{
	for (const struct rule *at = rules->first; at; at = at->next)
		if (at->space && !at->wanted)
			return true;
	return false;
}

/*
 * dbus-daemon 1.14 doesn't compare path_namespace when a rule is removed: it takes the newest of those that are alike
 * otherwise, another scale's (seen with 1.14.10). So all of them go, and those that are wanted come back, while one that
 * is unlike them stands in for all.
 */
static void drop_unwanted(struct rules *rules)
{
	bool anew = has_unwanted_space(rules);

	if (anew) {
		bus_match(rules->bus, ALL_CHANGES, true);
		match_spaces(rules, false);
		match_spaces(rules, true);
		bus_match(rules->bus, ALL_CHANGES, false);
	}
	for (struct rule **at = &rules->first; *at;) {
		struct rule *rule = *at;

		if (rule->wanted) {
			at = &rule->next;
			continue;
		}
		if (!rule->space)
			bus_match(rules->bus, rule->text, false);
		*at = rule->next;
		free(rule);
	}
}

static void want_changes(struct rules *rules, const char *key, const char *path, const char *tail)
{
	char rule[512];
	int n = snprintf(rule, sizeof rule,
			 ALL_CHANGES ",%s='%s%s'", key, path, tail);

	if (n > 0 && (size_t)n < sizeof rule)
		want(rules, rule);
}

/* Where BlueZ will put the device, before it does. */
static void want_scale(struct rules *rules, const struct mirror_adapter *adapter,
		       const struct scale *scale)
{
	char tail[] = "/dev_AA_BB_CC_DD_EE_FF";

	for (size_t i = 0; i < RADIO_ADDRESS_SIZE - 1; i++)
		tail[5 + i] = scale->address[i] == ':' ? '_' : scale->address[i];
	want_changes(rules, "path_namespace", adapter->path, tail);
}

bool rules_update(struct rules *rules, const struct mirror *mirror, const struct scale *scales)
{
	rules->grown = false;
	for (struct rule *at = rules->first; at; at = at->next)
		at->wanted = false;
	want(rules, "type='signal',sender='" BUS_BLUEZ "',path='/',interface='" OBJECTS_MANAGER
		    "',member='InterfacesAdded'");
	want(rules, "type='signal',sender='" BUS_BLUEZ "',path='/',interface='" OBJECTS_MANAGER
		    "',member='InterfacesRemoved'");
	for (const struct mirror_adapter *at = mirror->adapters; at; at = at->next) {
		want_changes(rules, "path", at->path, "");
		for (const struct scale *scale = scales; scale; scale = scale->next)
			if (!scale->forgotten)
				want_scale(rules, at, scale);
	}
	for (const struct mirror_device *at = mirror->devices; at; at = at->next)
		if (!at->scale->forgotten)
			want_changes(rules, "path_namespace", at->path,
				     ""); /* the same, if BlueZ is as expected */
	drop_unwanted(rules);
	return rules->grown;
}

void rules_tell(const struct rules *rules)
{
	for (const struct rule *at = rules->first; at; at = at->next)
		bus_match(rules->bus, at->text, true);
}

void rules_done(struct rules *rules)
{
	while (rules->first) {
		struct rule *rule = rules->first;

		rules->first = rule->next;
		free(rule);
	}
}
