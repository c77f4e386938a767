// SPDX-License-Identifier: MIT
#include "contrib/page/pair.h"
#include "daemon/ctl/ctl.h"
#include "daemon/ctl/field.h"
#include "daemon/log.h"
#include <errno.h>

/* As people type it: "1234 5678". */
static void plain_code(const char *text, char *ret, size_t size)
{
	size_t n = 0;

	for (; *text && n + 1 < size; text++)
		if (*text != ' ' && *text != '-')
			ret[n++] = *text;
	ret[n] = '\0';
}

/* RFC 6265, section 4.1; SameSite: RFC 6265bis. */
static struct answer welcome(const char *token, bool secure)
{
	struct answer answer = answer_empty(MHD_HTTP_NO_CONTENT, NULL);
	char cookie[PAIRED_TOKEN_SIZE + 128];

	(void)snprintf(cookie, sizeof cookie, "bismar=%s; HttpOnly; SameSite=Strict; Path=/; Max-Age=%lld%s", token,
		       (long long)(PAIRED_FOR_MS / 1000), secure ? "; Secure" : "");
	if (answer.response && MHD_add_response_header(answer.response, "Set-Cookie", cookie) != MHD_YES) {
		MHD_destroy_response(answer.response);
		answer.response = NULL;
	}
	explicit_bzero(cookie, sizeof cookie);
	return answer;
}

static void refuse(struct request *request, int r)
{
	switch (r) {
	case PAIRED_NO_CODE:
		request_refuse(request, MHD_HTTP_FORBIDDEN, "no-code", "No code is waiting.",
			       "Run `bismar page pair` at the computer, and type its code within ten minutes.");
		return;
	case PAIRED_BAD_CODE:
		request_refuse(request, MHD_HTTP_FORBIDDEN, "bad-code", "That isn't the code.",
			       "Look at it again: eight digits. After five wrong ones it is void.");
		return;
	case PAIRED_BAD_NAME:
		request_refuse(request, MHD_HTTP_BAD_REQUEST, "bad-name", "That name can't be taken.",
			       "Give the phone a name of one to 64 octets, without control characters.");
		return;
	case PAIRED_FULL:
		request_refuse(request, MHD_HTTP_FORBIDDEN, "full", "As many phones are paired as may be.",
			       "Take one away: `bismar page list`, `bismar page revoke NAME`.");
		return;
	default:
		log_error("a phone can't be paired: %s", strerror(-r));
		request_refuse(request, MHD_HTTP_SERVICE_UNAVAILABLE, "state", "The phone can't be kept now.",
			       r == -EAGAIN ? "Try again." : "Look at the log of bismar-page.");
	}
}

void pair_run(struct request *request, struct phones *phones, struct rate *rate, uint64_t now_usec, bool secure)
{
	char code[32], token[PAIRED_TOKEN_SIZE], quoted[4 * LIMIT_NAME_BYTES + 1];
	struct paired_phone phone;
	unsigned retry_s = 0;
	json_t *object;
	int r;

	if (!rate_take(rate, PAIR_BURST, PAIR_PER_S, now_usec, &retry_s)) {
		request->answer = answer_refusal(&(struct refusal){ .status = MHD_HTTP_TOO_MANY_REQUESTS,
								    .code = "too-many",
								    .message = "Too many codes were tried.",
								    .hint = "Wait a minute.",
								    .retry_s = retry_s });
		return;
	}
	object = request_object(request);
	if (!object)
		return;
	plain_code(field_text(object, "code"), code, sizeof code);
	r = paired_redeem(phones->dir_fd, code, field_text(object, "name"), ctl_now_ms(), token, &phone);
	json_decref(object);
	if (r != PAIRED_DONE) {
		refuse(request, r);
		return;
	}
	log_info("the phone \"%s\" (%s) is paired", log_quote(phone.name, quoted, sizeof quoted), phone.id);
	request->answer = welcome(token, secure);
	explicit_bzero(token, sizeof token);
}
