// SPDX-License-Identifier: MIT
#include "introspect.h"
#include "node.h"
#include "props.h"
#include "put.h"
#include "show.h"

struct walk {
	FILE *out;
	char parent[SIM_PATH];
	size_t length;       /* of parent with a slash at its end */
	char last[SIM_PATH]; /* child printed last; children of one come together */
};

static void visit(const struct node *node, void *userdata)
{
	struct walk *walk = userdata;
	char path[SIM_PATH], child[SIM_PATH];

	node_path(node, path);
	if (strncmp(path, walk->parent, walk->length) || !path[walk->length])
		return;
	snprintf(child, sizeof(child), "%.*s", (int)strcspn(path + walk->length, "/"), path + walk->length);
	if (!strcmp(child, walk->last))
		return;
	snprintf(walk->last, sizeof(walk->last), "%s", child);
	fprintf(walk->out, "  <node name=\"%s\"/>\n", child);
}

/* node NULL: nothing is at path but children. */
static DBusMessage *tell(struct sim *sim, const char *path, const struct node *node, DBusMessage *msg)
{
	struct walk walk = { 0 };
	char *text = NULL;
	size_t n;
	DBusMessageIter iter;

	walk.out = open_memstream(&text, &n);
	if (!walk.out)
		put_oom();
	fputs(DBUS_INTROSPECT_1_0_XML_DOCTYPE_DECL_NODE "<node>\n", walk.out);
	if (node)
		fputs("  <interface name=\"" DBUS_INTERFACE_PROPERTIES "\"/>\n", walk.out);
	if (node && node->kind == NODE_ROOT)
		fputs("  <interface name=\"org.freedesktop.DBus.ObjectManager\"/>\n", walk.out);
	for (const struct iface *i = show_ifaces; node && i->name; i++)
		if (i->kind == node->kind && props_has_iface(node, i->name))
			fprintf(walk.out, "  <interface name=\"%s\"/>\n", i->name);
	walk.length = (size_t)snprintf(walk.parent, sizeof(walk.parent), "%.150s%s", path, path[1] ? "/" : "");
	node_each(sim, visit, &walk);
	fputs("</node>\n", walk.out);
	if (fclose(walk.out))
		put_oom();
	DBusMessage *reply = put_ok(msg);
	dbus_message_iter_init_append(reply, &iter);
	put_string(&iter, text);
	free(text);
	return reply;
}

DBusMessage *introspect_call(const struct node *node, DBusMessage *msg)
{
	char path[SIM_PATH];

	return tell(node->sim, node_path(node, path), node, msg);
}

DBusMessage *introspect_org(struct sim *sim, DBusMessage *msg)
{
	return tell(sim, "/org", NULL, msg);
}
