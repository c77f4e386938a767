// SPDX-License-Identifier: MIT
/* Requests about scales and the containers on them, and the daemon's own state. */
#include "daemon/desk/keys.h"
#include "daemon/desk/names.h"
#include "daemon/desk/room.h"
#include "daemon/log.h"
#include <errno.h>
#include <systemd/sd-event.h>

static int find_scale(struct desk *desk, const char *name, struct roster_scale **ret, struct rpc_refusal *refusal)
{
	*ret = roster_scale(&desk->roster, name);
	if (*ret)
		return 0;
	return rpc_refuse(refusal, "not-found", "`bismar scale list` shows the adopted scales.",
			  "no adopted scale is called \"%s\"", name);
}

static int find_container(struct desk *desk, const char *name, struct roster_container **ret,
			  struct rpc_refusal *refusal)
{
	*ret = roster_container(&desk->roster, name);
	if (*ret && (*ret)->has_tare)
		return 0;
	return rpc_refuse(refusal, "not-found", "Weigh it first: `bismar container tare NAME`, or with its mass.",
			  "no container called \"%s\" is known", name);
}

static const char *trouble_word(enum radio_trouble trouble)
{
	switch (trouble) {
	case RADIO_FINE:
		return "fine";
	case RADIO_NO_BUS:
		return "no-bus";
	case RADIO_DENIED:
		return "denied";
	case RADIO_NO_BLUEZ:
		return "no-bluez";
	case RADIO_NO_ADAPTER:
		return "no-adapter";
	case RADIO_ADAPTER_OFF:
		return "adapter-off";
	case RADIO_STARTING:
		return "starting";
	}
	return "?";
}

static const char *container_name(struct desk *desk, const struct roster_scale *scale)
{
	const struct roster_container *container = roster_container_by_id(&desk->roster, scale->container_id);

	return container ? container->name : NULL;
}

static json_t *name_or_null(const char *name)
{
	return name ? json_string(name) : json_null();
}

DESK_METHOD(desk_status)
{
	struct desk *desk = userdata;
	enum radio_trouble trouble = desk->radio ? radio_trouble(desk->radio) : RADIO_NO_BUS;
	json_t *scales = json_array();

	(void)caller;
	(void)values;
	(void)refusal;
	desk_prune_asks(desk);
	for (size_t i = 0; i < desk->roster.n_scales; i++) {
		const struct roster_scale *scale = &desk->roster.scales[i];
		enum link_state state = desk->radio ? radio_link(desk->radio, scale->address) : LINK_AWAY;
		(void)json_array_append_new(
			scales, json_pack("{s:s, s:s, s:s, s:o, s:b, s:o}", "scale", scale->name, "address", scale->address,
					  "state", link_state_text(state), "battery",
					  scale->battery >= 0 ? json_integer(scale->battery) : json_null(), "battery_low",
					  scale->air.battery_low, "container",
					  name_or_null(container_name(desk, scale))));
	}
	*ret_result = json_pack(
		"{s:s, s:i, s:{s:s, s:s}, s:o, s:I, s:I, s:I, s:s}", "version", BISMAR_VERSION, "protocol", RPC_PROTOCOL,
		"radio", "trouble", trouble_word(trouble), "text", radio_trouble_text(trouble), "scales", scales, "asks",
		(json_int_t)desk->asks.n, "clients", (json_int_t)(desk->prompt ? prompt_clients(desk->prompt) : 0), "pending",
		(json_int_t)desk->pending.n, "database",
		desk->pending.n ? "can't be written; results wait in memory" : "fine");
	return *ret_result ? 0 : -ENOMEM;
}

DESK_METHOD(desk_scale_find) /* seconds? */
{
	struct desk *desk = userdata;
	int64_t seconds = values[0].given ? values[0].whole : 15;
	enum radio_trouble trouble = desk->radio ? radio_trouble(desk->radio) : RADIO_NO_BUS;

	(void)caller;
	if (seconds < 1 || seconds > 120)
		return rpc_refuse(refusal, "bad-value", "Give 1 to 120 seconds.", "can't look for %lld seconds",
				  (long long)seconds);
	if (trouble != RADIO_FINE)
		return rpc_refuse(refusal, "radio", "`bismar status` shows the radio's state.", "%s",
				  radio_trouble_text(trouble));
	if (radio_find(desk->radio, (unsigned)seconds) < 0)
		return -ENOMEM;
	*ret_result = json_pack("{s:I}", "seconds", (json_int_t)seconds);
	return 0;
}

/* The address in upper case, or refuses. */
static int check_address(const char *text, char ret[RADIO_ADDRESS_SIZE], struct rpc_refusal *refusal)
{
	bool fits = strlen(text) == RADIO_ADDRESS_SIZE - 1;

	for (size_t i = 0; fits && text[i]; i++)
		fits = i % 3 == 2 ? text[i] == ':' : strchr("0123456789abcdefABCDEF", text[i]) != NULL;
	if (!fits)
		return rpc_refuse(refusal, "bad-value", "An address looks like AA:BB:CC:DD:EE:FF; `bismar scale find` lists "
				  "those in reach.", "\"%.40s\" is no Bluetooth address", text);
	for (size_t i = 0; i < RADIO_ADDRESS_SIZE; i++)
		ret[i] = (char)(text[i] >= 'a' && text[i] <= 'f' ? text[i] - 'a' + 'A' : text[i]);
	return 0;
}

static int check_new_scale(struct desk *desk, const char *address, const char *name, struct rpc_refusal *refusal)
{
	const struct roster_scale *known = roster_scale(&desk->roster, address);

	if (known)
		return rpc_refuse(refusal, "exists", "`bismar scale forget` gives it up.", "%s is adopted already, as %s",
				  address, known->name);
	if (roster_scale(&desk->roster, name))
		return rpc_refuse(refusal, "exists", "Choose another name, or forget the other scale.",
				  "there is a scale called \"%s\"", name);
	if (desk->roster.n_scales >= LIMIT_SCALES)
		return rpc_refuse(refusal, "too-many", "Forget one that is no longer used.", "%d scales are adopted already",
				  LIMIT_SCALES);
	return 0;
}

/* The key as typed, or refuses; "" isn't one. */
static int read_key(struct desk *desk, const char *text, uint8_t ret[KEYS_KEY_SIZE], struct rpc_refusal *refusal)
{
	enum keys_typed typed = keys_parse(text, ret);

	if (!desk->keys)
		return rpc_refuse(refusal, "keys", "The daemon's log says what is wrong with its folder of keys.",
				  "no key can be kept");
	if (typed == KEYS_TYPED_OK)
		return 0;
	return rpc_refuse(refusal, "bad-value", "The scale's maker or its own program tells the key (BTHome: bind key).", "%s",
			  keys_typed_text(typed));
}

static int keep_key(struct desk *desk, const char *id, const uint8_t key[KEYS_KEY_SIZE], struct rpc_refusal *refusal)
{
	int r = keys_store(desk->keys, id, key);

	return r < 0 ? rpc_refuse(refusal, "keys", "Mend that, then `bismar scale key`.", "the key can't be kept: %s", strerror(-r)) : 0;
}

DESK_METHOD(desk_scale_key) /* scale, key, by? */
{
	struct desk *desk = userdata;
	struct roster_scale *scale;
	uint8_t key[KEYS_KEY_SIZE];
	int r = find_scale(desk, values[0].text, &scale, refusal);

	(void)caller; /* who did it isn't in the ledger: a key is no part of it */
	if (r == 0)
		r = read_key(desk, values[1].text, key, refusal);
	if (r == 0)
		r = keep_key(desk, scale->id, key, refusal);
	explicit_bzero(key, sizeof key);
	if (r != 0)
		return r;
	scale->air.refused = PAYLOAD_OK;
	/* whoever gives it anew vouches for what comes next: the scale may have been reset, and counts from the start */
	scale->air.known = true;
	scale->air.has_counter = false;
	*ret_result = json_pack("{s:s}", "scale", scale->name);
	return 0;
}

/* container: NULL for none. */
static int adopt(struct desk *desk, const struct store_stamp *stamp, const char *address, const char *name,
		 const struct roster_container *container, char id[UUID7_SIZE], struct rpc_refusal *refusal)
{
	int r = store_adopt_scale(desk->store, stamp, address, name, id);

	if (r == 0 && container)
		r = store_put_container(desk->store, stamp, id, container->id);
	if (r == 0)
		r = roster_load_scales(&desk->roster, desk->store);
	if (r != 0)
		return desk_refuse_ledger(r, refusal);
	return 0;
}

static void listen_to(struct desk *desk, const char *address)
{
	int r = desk->radio ? radio_adopt(desk->radio, address) : 0;

	if (r < 0 && r != -EEXIST)
		log_warning("scale %s is adopted, but can't be listened to before a restart, ignoring", address);
	log_event(LOG_EVENT_SCALE_ADOPTED, LOG_INFO, "BISMAR_SCALE", address, "scale %s adopted", address);
}

DESK_METHOD(desk_scale_adopt) /* address, name, container?, key?, by? */
{
	struct desk *desk = userdata;
	struct store_stamp stamp = desk_stamp(caller->peer, values[4].text);
	struct roster_container *container = NULL;
	char address[RADIO_ADDRESS_SIZE], id[UUID7_SIZE];
	uint8_t key[KEYS_KEY_SIZE];
	int r = check_address(values[0].text, address, refusal);

	if (r == 0)
		r = name_check(values[1].text, "name", refusal);
	if (r == 0)
		r = check_new_scale(desk, address, values[1].text, refusal);
	if (r == 0 && values[2].text)
		r = find_container(desk, values[2].text, &container, refusal);
	if (r == 0 && values[3].text)
		r = read_key(desk, values[3].text, key, refusal);
	if (r == 0)
		r = adopt(desk, &stamp, address, values[1].text, container, id, refusal);
	if (r == 0) {
		r = values[3].text ? keep_key(desk, id, key, refusal) : 0;
		listen_to(desk, address); /* it is in the ledger, with its key or without */
	}
	explicit_bzero(key, sizeof key);
	if (r != 0)
		return r;
	*ret_result = json_pack("{s:s, s:s, s:o}", "scale", values[1].text, "address", address, "container",
				name_or_null(container ? container->name : NULL));
	return 0;
}

DESK_METHOD(desk_scale_forget) /* name, by? */
{
	struct desk *desk = userdata;
	struct store_stamp stamp = desk_stamp(caller->peer, values[1].text);
	char address[RADIO_ADDRESS_SIZE], id[UUID7_SIZE];
	struct roster_scale *scale;
	int r = find_scale(desk, values[0].text, &scale, refusal);

	if (r != 0)
		return r;
	(void)snprintf(address, sizeof address, "%s", scale->address);
	(void)snprintf(id, sizeof id, "%s", scale->id);
	r = store_forget_scale(desk->store, &stamp, scale->id);
	if (r == 0)
		r = roster_load_scales(&desk->roster, desk->store);
	if (r != 0)
		return desk_refuse_ledger(r, refusal);
	stream_forget(desk, id);
	if (desk->keys && keys_remove(desk->keys, id) < 0)
		log_warning("scale %s: its key can't be removed, ignoring", address);
	if (desk->radio)
		(void)radio_forget(desk->radio, address); /* it may never have been adopted there */
	log_event(LOG_EVENT_SCALE_FORGOTTEN, LOG_INFO, "BISMAR_SCALE", address, "scale %s forgotten", address);
	*ret_result = json_pack("{s:s, s:s}", "scale", values[0].text, "address", address);
	return 0;
}

/* ---- containers ---- */

static int known_or_new_container(struct desk *desk, const struct store_stamp *stamp, const char *name,
				  char ret_id[UUID7_SIZE], struct rpc_refusal *refusal)
{
	const struct roster_container *container = roster_container(&desk->roster, name);
	int r;

	if (container) {
		(void)snprintf(ret_id, UUID7_SIZE, "%s", container->id);
		return 0;
	}
	r = name_check(name, "name", refusal);
	if (r != 0)
		return r;
	if (desk->roster.n_containers >= LIMIT_CONTAINERS)
		return rpc_refuse(refusal, "too-many", "Use the name of one that is no longer used.",
				  "%d containers are known already", LIMIT_CONTAINERS);
	r = store_add_container(desk->store, stamp, name, ret_id);
	if (r == 0)
		r = roster_load_containers(&desk->roster, desk->store);
	return r ? desk_refuse_ledger(r, refusal) : 0;
}

static int tare_typed(struct desk *desk, const struct store_stamp *stamp, const char *id, const char *name,
		      const struct rpc_value *mass, json_t **ret_result, struct rpc_refusal *refusal)
{
	int64_t u_mg = weigh_step_u_mg(mass->step_mg);
	int r = store_tare(desk->store, stamp, id, mass->mass_mg, u_mg);

	if (r == 0)
		r = roster_load_containers(&desk->roster, desk->store);
	if (r != 0)
		return desk_refuse_ledger(r, refusal);
	if (desk->tare.waiting && strcmp(desk->tare.container_id, id) == 0)
		desk_end_tare(desk);
	*ret_result = json_pack("{s:s, s:f, s:f}", "container", name, "tare_g", (double)mass->mass_mg / 1000, "u_g",
				(double)u_mg / 1000);
	return 0;
}

static int on_lapse(sd_event_source *source, uint64_t usec, void *userdata)
{
	struct desk *desk = userdata;
	const struct roster_container *container = roster_container_by_id(&desk->roster, desk->tare.container_id);
	char text[256], say[192];

	(void)source;
	(void)usec;
	desk_end_tare(desk);
	if (!container)
		return 0;
	(void)snprintf(say, sizeof say, "%s was not weighed; ask for it again", container->name);
	(void)snprintf(text, sizeof text, "container: %s", say);
	desk_tell(desk, PROMPT_CONTAINER,
		  json_pack("{s:s, s:n, s:s, s:s}", "container", container->name, "scale", "what", "lapsed", "say", say), text);
	return 0;
}

void desk_end_tare(struct desk *desk)
{
	desk->tare.waiting = false;
	desk->tare.lapse = sd_event_source_disable_unref(desk->tare.lapse);
}

static int await_tare(struct desk *desk, const char *container_id, const struct roster_scale *scale, const char *peer,
		      const char *said)
{
	int r;

	desk_end_tare(desk);
	r = sd_event_add_time_relative(desk->event, &desk->tare.lapse, CLOCK_BOOTTIME, DESK_TARE_WAIT_S * UINT64_C(1000000), 0,
				       on_lapse, desk);
	if (r < 0)
		return r;
	desk->tare.waiting = true;
	(void)snprintf(desk->tare.container_id, sizeof desk->tare.container_id, "%s", container_id);
	(void)snprintf(desk->tare.scale_id, sizeof desk->tare.scale_id, "%s", scale ? scale->id : "");
	(void)snprintf(desk->tare.peer, sizeof desk->tare.peer, "%s", peer);
	(void)snprintf(desk->tare.said, sizeof desk->tare.said, "%s", said ? said : "");
	streams_begin_anew(desk, desk->tare.scale_id); /* it may stand there already */
	return 0;
}

DESK_METHOD(desk_container_tare) /* name, mass_g?, scale?, by? */
{
	struct desk *desk = userdata;
	struct store_stamp stamp = desk_stamp(caller->peer, values[3].text);
	struct roster_scale *scale = NULL;
	char id[UUID7_SIZE];
	int r = values[2].text ? find_scale(desk, values[2].text, &scale, refusal) : 0;

	if (r == 0 && !values[1].given && desk->roster.n_scales == 0)
		r = rpc_refuse(refusal, "not-found", "Adopt a scale first, or give the container's mass.",
			       "no scale is adopted that could weigh it");
	if (r == 0)
		r = known_or_new_container(desk, &stamp, values[0].text, id, refusal);
	if (r != 0)
		return r;
	if (values[1].given)
		return tare_typed(desk, &stamp, id, values[0].text, &values[1], ret_result, refusal);
	r = await_tare(desk, id, scale, caller->peer, values[3].text);
	if (r < 0)
		return r;
	*ret_result = json_pack("{s:s, s:b, s:i}", "container", values[0].text, "waiting", true, "seconds", DESK_TARE_WAIT_S);
	return 0;
}

static int put_container(struct desk *desk, const struct store_stamp *stamp, const char *scale_name,
			 const struct roster_container *container, json_t **ret_result, struct rpc_refusal *refusal)
{
	struct roster_scale *scale;
	int r = find_scale(desk, scale_name, &scale, refusal);

	if (r != 0)
		return r;
	r = store_put_container(desk->store, stamp, scale->id, container ? container->id : NULL);
	if (r != 0)
		return desk_refuse_ledger(r, refusal);
	(void)snprintf(scale->container_id, sizeof scale->container_id, "%s", container ? container->id : "");
	*ret_result = json_pack("{s:s, s:o}", "scale", scale->name, "container",
				name_or_null(container ? container->name : NULL));
	return 0;
}

DESK_METHOD(desk_container_on) /* name, scale, by? */
{
	struct desk *desk = userdata;
	struct store_stamp stamp = desk_stamp(caller->peer, values[2].text);
	struct roster_container *container;
	int r = find_container(desk, values[0].text, &container, refusal);

	return r ? r : put_container(desk, &stamp, values[1].text, container, ret_result, refusal);
}

DESK_METHOD(desk_container_none) /* scale, by? */
{
	struct desk *desk = userdata;
	struct store_stamp stamp = desk_stamp(caller->peer, values[1].text);

	return put_container(desk, &stamp, values[0].text, NULL, ret_result, refusal);
}
