// SPDX-License-Identifier: MIT
/* Requests about a vet's orders: kept as they were said, read back, ended. */
#include "daemon/desk/orders.h"
#include "daemon/desk/bedside.h"
#include "daemon/desk/names.h"
#include <errno.h>
#include <math.h>

static const char *const kinds[] = { [ORDER_FLUID] = "fluid", [ORDER_MEDICINE] = "medicine" };
static const char *const routes[] = { [ORDER_UNDER_SKIN] = "under the skin", [ORDER_BY_MOUTH] = "by mouth" };
static const char *const bases[] = {
	[VOLUME_PER_ANIMAL] = "animal", [VOLUME_PER_KG] = "kg", [VOLUME_PER_100G] = "100 g"
};

/* ---- in memory, while a request is at work ---- */

static int word_in(const char *word, const char *const *words, int n)
{
	for (int i = 0; i < n; i++)
		if (strcmp(words[i], word) == 0)
			return i;
	return -1;
}

static void copy(const struct store_order *row, struct kept_order *ret)
{
	int basis = word_in(row->per, bases, 3);

	*ret = (struct kept_order){
		.order = {
			.kind = strcmp(row->kind, kinds[ORDER_MEDICINE]) == 0 ? ORDER_MEDICINE : ORDER_FLUID,
			.route = strcmp(row->route, routes[ORDER_BY_MOUTH]) == 0 ? ORDER_BY_MOUTH : ORDER_UNDER_SKIN,
			.amount = { .ul = row->amount_ul, .basis = (enum volume_basis)(basis < 0 ? 0 : basis) },
			.most = { .ul = row->most_ul, .basis = (enum volume_basis)(basis < 0 ? 0 : basis) },
			.every_ms = row->every_ms,
			.from_ms = row->from_ms,
			.until_ms = row->until_ms,
		},
		.of_litter = !row->animal_id,
	};
	(void)snprintf(ret->id, sizeof ret->id, "%s", row->id);
	(void)snprintf(ret->animal_id, sizeof ret->animal_id, "%s", row->animal_id ? row->animal_id : "");
	(void)snprintf(ret->what, sizeof ret->what, "%s", row->what);
	(void)snprintf(ret->vet, sizeof ret->vet, "%s", row->vet);
}

struct finding {
	const char *animal_id, *tail; /* tail NULL: any */
	int64_t now_ms;
	struct kept_order *ret;
	size_t n, n_over; /* that hold; whose time is over */
};

static bool ends_with(const char *id, const char *tail)
{
	size_t n = strlen(id), m = strlen(tail);

	return m >= 4 && m <= n && strcmp(id + n - m, tail) == 0;
}

static int find_row(void *userdata, const struct store_order *row)
{
	struct finding *finding = userdata;

	if (row->animal_id && strcmp(row->animal_id, finding->animal_id) != 0)
		return 0;
	if (finding->tail && !ends_with(row->id, finding->tail))
		return 0;
	if (!finding->tail && finding->now_ms >= row->until_ms) {
		if (finding->n == 0)
			copy(row, finding->ret);
		finding->n_over++;
		return 0;
	}
	copy(row, finding->ret);
	finding->n++;
	return 0;
}

int orders_find(struct desk *desk, const struct roster_animal *animal, const char *tail, int64_t now_ms,
		struct kept_order *ret, struct rpc_refusal *refusal)
{
	struct finding finding = { .animal_id = animal->id, .tail = tail, .now_ms = now_ms, .ret = ret };
	int r = store_each_order(desk->store, animal->litter_id, find_row, &finding);

	if (r != 0)
		return desk_refuse_ledger(r, refusal);
	ret->order.what = ret->what;
	ret->order.vet = ret->vet;
	if (finding.n == 1 || (finding.n == 0 && finding.n_over > 0 && !tail))
		return 0; /* one whose time is over is refused with its own words */
	if (finding.n > 1)
		return rpc_refuse(refusal, "ambiguous",
				  "`bismar order list` shows them; name one by the last characters of its id.",
				  "%zu orders hold for %s", finding.n, animal->name);
	return rpc_refuse(
		refusal, "no-order",
		"bismar proposes no amount of its own. Call your vet; what is ordered goes in by `bismar order add`.",
		tail ? "no such order holds for %s" : "no order of a vet is on record for %s", animal->name);
}

json_t *orders_json(struct desk *desk, const struct kept_order *kept, const char *litter)
{
	const struct order *order = &kept->order;
	const struct roster_animal *animal = roster_animal_by_id(&desk->roster, kept->animal_id);
	char amount[40], most[40];

	volume_format_rate(&order->amount, amount, sizeof amount);
	volume_format_rate(&order->most, most, sizeof most);
	return json_pack("{s:s, s:o, s:s, s:s, s:s, s:s, s:s, s:s, s:s, s:f, s:o, s:o}", "order", kept->id, "name",
			 kept->of_litter ? json_null() : json_string(animal ? animal->name : "?"), "litter", litter,
			 "what", kept->what, "vet", kept->vet, "kind", kinds[order->kind], "route",
			 routes[order->route], "amount", amount, "most_24h", most, "every_h",
			 (double)order->every_ms / 3600000.0, "from", bedside_at(order->from_ms), "until",
			 bedside_at(order->until_ms));
}

/* ---- order.add ---- */

static int rate(const struct rpc_value *value, const char *what, struct volume_rate *ret, struct rpc_refusal *refusal)
{
	enum volume_parsed parsed = volume_parse_rate(value->text, ret);

	if (parsed == VOLUME_PARSED)
		return 0;
	return rpc_refuse(refusal, "bad-value", volume_hint(parsed), "%s: \"%.40s\" can't be taken", what, value->text);
}

static int choice(const struct rpc_value *value, const char *what, const char *const *words, int n, int fallback,
		  int *ret, struct rpc_refusal *refusal)
{
	*ret = value->text ? word_in(value->text, words, n) : fallback;
	if (*ret >= 0)
		return 0;
	return rpc_refuse(refusal, "bad-value",
			  n == 2 && words == kinds ? "Say fluid or medicine."
						   : "Say \"under the skin\" or \"by mouth\".",
			  "\"%.40s\" is no %s", value->text ? value->text : "", what);
}

/* what, route, amount, most, every_h, vet, until, from?, kind? from values[1] on */
static int read_order(const struct rpc_value *values, int64_t now_ms, struct order *ret, struct rpc_refusal *refusal)
{
	int route = 0, kind = 0, r;

	*ret = (struct order){ .what = values[1].text,
			       .vet = values[6].text,
			       .from_ms = values[8].given ? values[8].time_ms : now_ms,
			       .until_ms = values[7].time_ms };
	r = name_check_text(ret->what, "what was ordered", refusal);
	if (r == 0)
		r = name_check_text(ret->vet, "vet", refusal);
	if (r == 0)
		r = choice(&values[2], "route", routes, 2, -1, &route, refusal);
	if (r == 0)
		r = choice(&values[9], "kind", kinds, 2, ORDER_FLUID, &kind, refusal);
	if (r == 0)
		r = rate(&values[3], "a dose", &ret->amount, refusal);
	if (r == 0)
		r = rate(&values[4], "the most in 24 hours", &ret->most, refusal);
	if (r != 0)
		return r;
	ret->route = (enum order_route)route;
	ret->kind = (enum order_kind)kind;
	ret->every_ms =
		values[5].number > 0 && values[5].number < 1000 ? (int64_t)llround(values[5].number * 3600000) : 0;
	if (order_check(ret) != ORDER_FITS)
		return rpc_refuse(refusal, "bad-order", order_check_hint(order_check(ret)),
				  "that order can't be kept as it was told");
	return 0;
}

/* What it comes to at today's weight, while the vet can still be asked. */
static void add_check(const struct roster_animal *animal, const struct order *order, json_t *result)
{
	const char *range = "";
	enum dose_outcome outcome;

	if (!animal || animal->newest_mg <= 0)
		return;
	outcome = order_range(order, animal->newest_mg, &range);
	(void)json_object_set_new(result, "unusual", json_boolean(outcome != DOSE_PLANNED));
	(void)json_object_set_new(result, "range", json_string(range));
	if (outcome != DOSE_PLANNED)
		(void)json_object_set_new(result, "hint", json_string(order_range_hint(outcome)));
	(void)json_object_set_new(result, "at_newest_ml",
				  bedside_ml(volume_for(&order->amount, animal->newest_mg) / 10 * 10));
}

DESK_METHOD(desk_order_add) /* who, what, route, amount, most, every_h, vet, until, from?, kind?, by? */
{
	struct desk *desk = userdata;
	struct store_stamp stamp = desk_stamp(caller->peer, values[10].text);
	const struct roster_litter *litter = roster_litter(&desk->roster, values[0].text);
	struct roster_animal *animal = NULL;
	struct store_order row;
	struct kept_order kept;
	struct order order;
	char id[UUID7_SIZE];
	int r = litter ? 0 : desk_find_animal(desk, values[0].text, &animal, refusal);

	if (r == 0)
		r = read_order(values, stamp.at_ms, &order, refusal);
	if (r != 0)
		return r;
	row = (struct store_order){ .litter_id = animal ? animal->litter_id : litter->id,
				    .animal_id = animal ? animal->id : NULL,
				    .what = order.what,
				    .vet = order.vet,
				    .kind = kinds[order.kind],
				    .route = routes[order.route],
				    .per = bases[order.amount.basis],
				    .amount_ul = order.amount.ul,
				    .most_ul = order.most.ul,
				    .every_ms = order.every_ms,
				    .from_ms = order.from_ms,
				    .until_ms = order.until_ms };
	r = store_add_order(desk->store, &stamp, &row, id);
	if (r != 0)
		return desk_refuse_ledger(r, refusal);
	row.id = id;
	copy(&row, &kept);
	*ret_result = orders_json(desk, &kept,
				  animal ? roster_litter_by_id(&desk->roster, animal->litter_id)->name : litter->name);
	add_check(animal, &order, *ret_result);
	return *ret_result ? 0 : -ENOMEM;
}

/* ---- order.list, order.end ---- */

struct listing {
	struct desk *desk;
	const struct roster_litter *litter;
	json_t *list;
	const char *tail;
	char id[UUID7_SIZE];
	size_t n;
};

static int list_row(void *userdata, const struct store_order *row)
{
	struct listing *listing = userdata;
	struct kept_order kept;

	if (listing->tail) {
		if (!ends_with(row->id, listing->tail))
			return 0;
		(void)snprintf(listing->id, sizeof listing->id, "%s", row->id);
		listing->n++;
		return 0;
	}
	copy(row, &kept);
	(void)json_array_append_new(listing->list, orders_json(listing->desk, &kept, listing->litter->name));
	return 0;
}

static int walk(struct desk *desk, struct listing *listing)
{
	int r = 0;

	for (size_t i = 0; r == 0 && i < desk->roster.n_litters; i++) {
		listing->litter = &desk->roster.litters[i];
		r = store_each_order(desk->store, listing->litter->id, list_row, listing);
	}
	return r;
}

DESK_METHOD(desk_order_list)
{
	struct desk *desk = userdata;
	struct listing listing = { .desk = desk, .list = json_array() };
	int r = walk(desk, &listing);

	(void)caller;
	(void)values;
	if (r != 0) {
		json_decref(listing.list);
		return desk_refuse_ledger(r, refusal);
	}
	*ret_result = json_pack("{s:o}", "orders", listing.list);
	return *ret_result ? 0 : -ENOMEM;
}

DESK_METHOD(desk_order_end) /* order, why, by? */
{
	struct desk *desk = userdata;
	struct store_stamp stamp = desk_stamp(caller->peer, values[2].text);
	struct listing listing = { .desk = desk, .tail = values[0].text };
	int r = walk(desk, &listing);

	if (r == 0 && listing.n != 1)
		return rpc_refuse(
			refusal, "not-found",
			"`bismar order list` shows the orders; the last four characters of the id are enough.",
			"%s order has an id that ends so", listing.n ? "more than one" : "no");
	if (r == 0 && !*values[1].text)
		return rpc_refuse(refusal, "bad-value", "Say why in a few words.", "the reason is empty");
	if (r == 0)
		r = store_end_order(desk->store, &stamp, listing.id, values[1].text);
	if (r != 0)
		return desk_refuse_ledger(r, refusal);
	*ret_result = json_pack("{s:s}", "order", listing.id);
	return *ret_result ? 0 : -ENOMEM;
}
