// SPDX-License-Identifier: MIT
/* scale adopt, pair, consent: what comes before the first weighing. */
#include "daemon/ctl/args.h"
#include "daemon/ctl/commands.h"
#include "daemon/ctl/field.h"
#include "daemon/ctl/request.h"
#include "daemon/ctl/scale_key.h"
#include "daemon/ctl/scale_pair.h"
#include <unistd.h>

#define CODE_MAX 9999
#define USER_MAX 254

static json_t *pairing_topics(void)
{
	return json_pack("[s, s]", "pairing", "scale");
}

enum ctl_status scale_adopt(struct ctl *ctl, int argc, char **argv)
{
	const char *container = NULL, *key_file = NULL;
	const struct args_option options[] = { { .name = "--container", .value = &container },
					       { .name = "--key", .value = &key_file } };
	char key[SCALE_KEY_SIZE];
	bool stays = !ctl->json && isatty(STDIN_FILENO) && isatty(STDOUT_FILENO);
	json_t *params, *result = NULL;
	struct socket *socket;
	enum ctl_status status;
	struct args args;

	if (!args_parse(ctl, argc, argv, options, 2, 2, 2, &args))
		return CTL_USAGE;
	if (key_file && !scale_key_read(key_file, key))
		return CTL_REFUSED;
	stays = stays && !ctl->json; /* --json may have come after the command */
	status = request_follow(ctl, pairing_topics(), &socket);
	if (status != CTL_DONE) {
		explicit_bzero(key, sizeof key);
		return status;
	}
	params = request_params(ctl);
	(void)field_put(params, "address", args.words[0]); /* a member left out for lack of memory is refused */
	(void)field_put(params, "name", args.words[1]);
	(void)field_put(params, "container", container);
	(void)field_put(params, "key", key_file ? key : NULL);
	explicit_bzero(key, sizeof key);
	status = request_on(ctl, socket, "scale.adopt", params, &result);
	if (status == CTL_DONE && ctl->json)
		field_print(result);
	else if (status == CTL_DONE && stays)
		(void)printf("The scale %s (%s) is adopted. Switch it on, or put something on it; this waits until it is "
			     "connected (Enter: don't).\n",
			     field_text(result, "scale"), field_text(result, "address"));
	else if (status == CTL_DONE)
		(void)printf("The scale %s (%s) is listened to from now on. Weigh once to wake it; `bismar status` "
			     "shows when it is connected.\n",
			     field_text(result, "scale"), field_text(result, "address"));
	json_decref(result);
	if (status == CTL_DONE)
		status = ctl_flush();
	if (status == CTL_DONE && stays)
		status = scale_pair_wait(ctl, socket, args.words[1], SCALE_WAIT_READY);
	socket_free(socket);
	return status;
}

enum ctl_status scale_pair(struct ctl *ctl, int argc, char **argv)
{
	json_t *params, *result = NULL;
	struct socket *socket;
	enum ctl_status status;
	struct args args;
	char name[256];

	if (!args_parse(ctl, argc, argv, NULL, 0, 1, 1, &args))
		return CTL_USAGE;
	status = request_follow(ctl, pairing_topics(), &socket);
	if (status != CTL_DONE)
		return status;
	params = request_params(ctl);
	(void)field_put(params, "scale", args.words[0]); /* left out for lack of memory, it is refused */
	status = request_on(ctl, socket, "scale.pair", params, &result);
	field_copy(result, "scale", name, sizeof name); /* the notifications have it as the ledger does */
	json_decref(result);
	if (status == CTL_DONE) {
		if (!ctl->json)
			(void)fputs("Pairing; wake the scale now (press or load it). This takes a minute at most.\n", stderr);
		status = scale_pair_wait(ctl, socket, name, SCALE_WAIT_PAIRED);
	}
	socket_free(socket);
	return status;
}

enum ctl_status scale_consent(struct ctl *ctl, int argc, char **argv)
{
	bool none = false;
	const struct args_option options[] = { { .name = "--none", .flag = &none } };
	json_t *params, *result = NULL;
	enum ctl_status status;
	struct args args;
	long user = 0, code = 0;

	if (!args_parse(ctl, argc, argv, options, 1, 1, 3, &args))
		return CTL_USAGE;
	if (none ? args.n != 1 : args.n != 3)
		return args_wrong(ctl, "Give USER and CODE, or --none.");
	if (!none && !args_whole(args.words[1], 0, USER_MAX, &user))
		return args_wrong(ctl, "USER is the index that the scale gave, from 0 to %d.", USER_MAX);
	if (!none && !args_whole(args.words[2], 0, CODE_MAX, &code))
		return args_wrong(ctl, "CODE is the consent code set on the scale, from 0 to %d.", CODE_MAX);
	params = request_params(ctl);
	(void)field_put(params, "scale", args.words[0]); /* what is left out for lack of memory is refused */
	if (params && !none) {
		(void)json_object_set_new(params, "user", json_integer(user));
		(void)json_object_set_new(params, "code", json_integer(code));
	}
	status = request_call(ctl, "scale.consent", params, &result);
	if (status != CTL_DONE)
		return status;
	if (none)
		return request_print(ctl, result, "The scale %s is told no consent code any more.", field_text(result, "scale"));
	return request_print(ctl, result, "The scale %s is told the consent code of user %ld from now on, on each connection.",
			     field_text(result, "scale"), user);
}
