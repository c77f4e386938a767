// SPDX-License-Identifier: MIT
/* scale offers: what a scale that nobody has adopted could be asked for. */
#include "daemon/ctl/args.h"
#include "daemon/ctl/commands.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/request.h"
#include "daemon/ctl/scale_fit.h"
#include "daemon/ctl/text.h"

#define OFFERS_MS 45000 /* the daemon gives up after 30 s */

static void show_offer(const struct ctl *ctl, const json_t *offer)
{
	char buffer[512], fit[SCALE_FIT_SIZE];
	struct text_line line;
	int64_t step_mg;

	text_begin(&line, buffer, sizeof buffer, 200, ctl->utf8);
	if (strncmp(field_text(offer, "uuid"), "00002a9d-", 9) == 0)
		text_put(&line, scale_fit_offer("weight-scale"));
	else if (strncmp(field_text(offer, "uuid"), "00002a9c-", 9) == 0)
		text_put(&line, scale_fit_offer("body-composition"));
	else if (field_mg(offer, "step_g", &step_mg))
		text_putf(&line, "A described mass (%s)", field_text(offer, "uuid"));
	else
		text_put(&line, field_text(offer, "say"));
	if (field_mg(offer, "step_g", &step_mg))
		text_putf(&line, ", %s", scale_fit_words(fit, step_mg, ctl->unit));
	(void)puts(buffer);
}

static enum ctl_status follow_offers(const struct ctl *ctl, struct socket *socket)
{
	bool weighs = false;

	for (;;) {
		json_t *offer = NULL;
		enum ctl_status status = request_notice(ctl, socket, "offer", OFFERS_MS, &offer);
		int64_t step_mg;
		bool done, ok;

		if (status != CTL_DONE)
			return status;
		done = field_true(offer, "done");
		ok = !done || field_true(offer, "ok");
		weighs = weighs || field_mg(offer, "step_g", &step_mg);
		if (!ok)
			ctl_error("%s.", field_text(offer, "say"));
		else if (!done && ctl->json)
			field_print(offer);
		else if (!done)
			show_offer(ctl, offer);
		json_decref(offer);
		if (!ok)
			return CTL_REFUSED;
		if (done)
			break;
	}
	if (!weighs && !ctl->json)
		(void)puts("Nothing of that is a mass that can be listened to by connecting; a scale that broadcasts "
			   "shows in `bismar scale find`.");
	return ctl_flush();
}

enum ctl_status scale_offers(struct ctl *ctl, int argc, char **argv)
{
	json_t *result = NULL;
	struct socket *socket;
	enum ctl_status status;
	struct args args;

	if (!args_parse(ctl, argc, argv, NULL, 0, 1, 1, &args))
		return CTL_USAGE;
	status = request_follow(ctl, json_pack("[s]", "offer"), &socket);
	if (status != CTL_DONE)
		return status;
	status = request_on(ctl, socket, "scale.offers", json_pack("{s:s}", "address", args.words[0]), &result);
	json_decref(result);
	if (status == CTL_DONE) {
		if (!ctl->json)
			(void)fputs("Connecting; wake the scale now (press or load it). This takes half a minute at "
				    "most.\n",
				    stderr);
		status = follow_offers(ctl, socket);
	}
	socket_free(socket);
	return status;
}
