// SPDX-License-Identifier: MIT
/* The table of requests: names, parameters in the order of their positional form, and who answers. The contract is
 * protocols/prompt.md; a test compares the two. */
#include "daemon/desk/room.h"

#define BY { "by", NULL, RPC_TEXT, false }

static const struct rpc_param answer_params[] = {
	{ "ask", NULL, RPC_TEXT, false }, { "animal", "who", RPC_TEXT, true }, BY };
static const struct rpc_param aside_params[] = {
	{ "ask", NULL, RPC_TEXT, false }, { "why", NULL, RPC_TEXT, false }, BY };
static const struct rpc_param reopen_params[] = { { "ask", "reading", RPC_TEXT, true }, BY };
static const struct rpc_param correct_params[] = {
	{ "reading", "ask", RPC_TEXT, true }, { "animal", "who", RPC_TEXT, true }, BY };
static const struct rpc_param weigh_params[] = {
	{ "animal", "who", RPC_TEXT, true }, { "mass_g", "mass", RPC_MASS, true }, { "at", NULL, RPC_TIME, false }, BY };
static const struct rpc_param find_params[] = { { "seconds", NULL, RPC_WHOLE, false } };
static const struct rpc_param adopt_params[] = {
	{ "address", NULL, RPC_TEXT, true }, { "name", "scale", RPC_TEXT, true },
	{ "container", NULL, RPC_TEXT, false }, { "key", NULL, RPC_TEXT, false }, BY };
static const struct rpc_param key_params[] = {
	{ "scale", "name", RPC_TEXT, true }, { "key", NULL, RPC_TEXT, true }, BY };
static const struct rpc_param forget_params[] = { { "name", "scale", RPC_TEXT, true }, BY };
static const struct rpc_param pair_params[] = { { "scale", "name", RPC_TEXT, true }, BY };
static const struct rpc_param passkey_params[] = {
	{ "passkey", NULL, RPC_TEXT, false }, { "yes", NULL, RPC_TEXT, false } };
static const struct rpc_param consent_params[] = {
	{ "scale", "name", RPC_TEXT, true }, { "user", NULL, RPC_WHOLE, false }, { "code", NULL, RPC_WHOLE, false }, BY };
static const struct rpc_param offers_params[] = { { "address", "scale", RPC_TEXT, true } };
static const struct rpc_param tare_params[] = {
	{ "name", "container", RPC_TEXT, true }, { "mass_g", "mass", RPC_MASS, false },
	{ "scale", NULL, RPC_TEXT, false }, BY };
static const struct rpc_param on_params[] = {
	{ "name", "container", RPC_TEXT, true }, { "scale", NULL, RPC_TEXT, true }, BY };
static const struct rpc_param none_params[] = { { "scale", NULL, RPC_TEXT, true }, BY };
static const struct rpc_param litter_params[] = {
	{ "name", "litter", RPC_TEXT, true }, { "dam", NULL, RPC_TEXT, false }, { "born", NULL, RPC_TIME, false },
	{ "adult_g", "adult", RPC_MASS, false }, BY };
static const struct rpc_param close_params[] = { { "name", "litter", RPC_TEXT, true }, BY };
static const struct rpc_param animal_params[] = {
	{ "name", "animal", RPC_TEXT, true }, { "litter", NULL, RPC_TEXT, true }, { "collar", NULL, RPC_TEXT, false },
	{ "sex", NULL, RPC_TEXT, false }, { "birth_g", "birth", RPC_MASS, false }, { "at", "born", RPC_TIME, false },
	{ "alias", "aliases", RPC_LIST, false }, BY };
static const struct rpc_param alias_params[] = {
	{ "animal", "name", RPC_TEXT, true }, { "alias", NULL, RPC_TEXT, true }, BY };
static const struct rpc_param gone_params[] = {
	{ "name", "animal", RPC_TEXT, true }, { "why", NULL, RPC_TEXT, true }, BY };

static const struct rpc_param whelping_begin_params[] = { { "litter", "name", RPC_TEXT, true }, BY };
static const struct rpc_param whelping_params[] = { { "litter", NULL, RPC_TEXT, false } };
static const struct rpc_param whelping_end_params[] = { { "litter", NULL, RPC_TEXT, false }, BY };
static const struct rpc_param whelping_pup_params[] = {
	{ "litter", NULL, RPC_TEXT, false }, { "name", "animal", RPC_TEXT, false }, { "sex", NULL, RPC_TEXT, false },
	{ "collar", NULL, RPC_TEXT, false }, { "birth_g", "birth", RPC_MASS, false }, { "ask", NULL, RPC_TEXT, false },
	{ "at", "born", RPC_TIME, false }, { "stillborn", NULL, RPC_TEXT, false }, BY };
static const struct rpc_param whelping_score_params[] = {
	{ "animal", "who", RPC_TEXT, true }, { "points", NULL, RPC_TEXT, true }, { "at", NULL, RPC_TIME, false }, BY };
static const struct rpc_param look_params[] = { { "animal", "who", RPC_TEXT, true } };
static const struct rpc_param sign_params[] = {
	{ "animal", "who", RPC_TEXT, true }, { "sign", NULL, RPC_TEXT, true }, { "value", NULL, RPC_TEXT, true },
	{ "at", NULL, RPC_TIME, false }, BY };
static const struct rpc_param feed_plan_params[] = {
	{ "who", "litter", RPC_TEXT, true }, { "label_kcal_per_ml", "label", RPC_NUMBER, true }, { "steps", NULL, RPC_TEXT, true },
	{ "meals", NULL, RPC_WHOLE, false }, { "vet_kcal_per_kg", NULL, RPC_WHOLE, false } };
static const struct rpc_param feed_give_params[] = {
	{ "animal", "who", RPC_TEXT, true }, { "volume", NULL, RPC_TEXT, true }, { "what", NULL, RPC_TEXT, false },
	{ "at", NULL, RPC_TIME, false }, BY };
static const struct rpc_param nursed_params[] = { { "animal", "who", RPC_TEXT, true }, BY };
static const struct rpc_param order_add_params[] = {
	{ "who", "litter", RPC_TEXT, true }, { "what", NULL, RPC_TEXT, true }, { "route", NULL, RPC_TEXT, true },
	{ "amount", NULL, RPC_TEXT, true }, { "most_24h", "most", RPC_TEXT, true }, { "every_h", NULL, RPC_NUMBER, true },
	{ "vet", NULL, RPC_TEXT, true }, { "until", NULL, RPC_TIME, true }, { "from", NULL, RPC_TIME, false },
	{ "kind", NULL, RPC_TEXT, false }, BY };
static const struct rpc_param order_end_params[] = { { "order", NULL, RPC_TEXT, true }, { "why", NULL, RPC_TEXT, true }, BY };
static const struct rpc_param dose_plan_params[] = {
	{ "animal", "who", RPC_TEXT, true }, { "steps", NULL, RPC_TEXT, true }, { "order", NULL, RPC_TEXT, false } };
static const struct rpc_param dose_give_params[] = {
	{ "animal", "who", RPC_TEXT, true }, { "volume", NULL, RPC_TEXT, true }, { "steps", NULL, RPC_TEXT, true },
	{ "order", NULL, RPC_TEXT, false }, { "at", NULL, RPC_TIME, false }, { "words", NULL, RPC_TEXT, false }, BY };
static const struct rpc_param limits_params[] = {
	{ "litter", "name", RPC_TEXT, true },
	{ "early_loss_pct", NULL, RPC_NUMBER, false },
	{ "band_low_pct", NULL, RPC_NUMBER, false },
	{ "overdue_h", NULL, RPC_NUMBER, false },
	{ "behind_pct", NULL, RPC_NUMBER, false }, BY };
static const struct rpc_param growth_params[] = {
	{ "who", "litter", RPC_TEXT, false }, { "as_of", NULL, RPC_TIME, false } };
static const struct rpc_param round_begin_params[] = {
	{ "litter", NULL, RPC_TEXT, false }, { "fed", NULL, RPC_TEXT, false }, BY };
static const struct rpc_param round_params[] = { { "litter", NULL, RPC_TEXT, false }, BY };

static const struct rpc_param import_begin_params[] = { { "seconds", NULL, RPC_WHOLE, false }, BY };
static const struct rpc_param import_rows_params[] = { { "rows", NULL, RPC_ROWS, true } };

#define ROW(name, params, call) { name, params, sizeof params / sizeof *params, call }

const struct rpc_method desk_methods[] = {
	{ "status", NULL, 0, desk_status },
	{ "asks", NULL, 0, desk_list_asks },
	ROW("answer", answer_params, desk_do_answer),
	ROW("aside", aside_params, desk_do_aside),
	ROW("reopen", reopen_params, desk_reopen),
	ROW("correct", correct_params, desk_correct),
	ROW("weigh", weigh_params, desk_weigh),
	ROW("scale.find", find_params, desk_scale_find),
	ROW("scale.adopt", adopt_params, desk_scale_adopt),
	ROW("scale.forget", forget_params, desk_scale_forget),
	ROW("scale.key", key_params, desk_scale_key),
	ROW("scale.pair", pair_params, desk_scale_pair),
	ROW("scale.passkey", passkey_params, desk_scale_passkey),
	ROW("scale.consent", consent_params, desk_scale_consent),
	ROW("scale.offers", offers_params, desk_scale_offers),
	ROW("container.tare", tare_params, desk_container_tare),
	ROW("container.on", on_params, desk_container_on),
	ROW("container.none", none_params, desk_container_none),
	ROW("litter.add", litter_params, desk_litter_add),
	ROW("litter.close", close_params, desk_litter_close),
	ROW("litter.limits", limits_params, desk_litter_limits),
	ROW("animal.add", animal_params, desk_animal_add),
	ROW("animal.alias", alias_params, desk_animal_alias),
	ROW("animal.gone", gone_params, desk_animal_gone),
	ROW("whelping", whelping_params, desk_whelping),
	ROW("whelping.begin", whelping_begin_params, desk_whelping_begin),
	ROW("whelping.pup", whelping_pup_params, desk_whelping_pup),
	ROW("whelping.score", whelping_score_params, desk_whelping_score),
	ROW("whelping.end", whelping_end_params, desk_whelping_end),
	ROW("look", look_params, desk_look),
	ROW("sign", sign_params, desk_sign),
	ROW("feed.plan", feed_plan_params, desk_feed_plan),
	ROW("feed.give", feed_give_params, desk_feed_give),
	ROW("feed.nursed", nursed_params, desk_feed_nursed),
	ROW("order.add", order_add_params, desk_order_add),
	{ "order.list", NULL, 0, desk_order_list },
	ROW("order.end", order_end_params, desk_order_end),
	ROW("dose.plan", dose_plan_params, desk_dose_plan),
	ROW("dose.give", dose_give_params, desk_dose_give),
	ROW("growth", growth_params, desk_growth),
	ROW("concerns", growth_params, desk_concerns),
	ROW("round", round_params, desk_round),
	ROW("round.begin", round_begin_params, desk_round_begin),
	ROW("round.end", round_params, desk_round_end),
	ROW("round.exchange", round_params, desk_round_exchange),
	ROW("import.begin", import_begin_params, desk_import_begin),
	ROW("import.rows", import_rows_params, desk_import_rows),
	{ "import.check", NULL, 0, desk_import_check },
	{ "import.commit", NULL, 0, desk_import_commit },
	{ "import.drop", NULL, 0, desk_import_drop },
};
const size_t desk_n_methods = sizeof desk_methods / sizeof *desk_methods;
