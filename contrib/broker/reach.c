// SPDX-License-Identifier: MIT
#include "contrib/broker/reach.h"
#include "contrib/broker/window.h"
#include <errno.h>
#include <mosquitto.h>
#include <netdb.h>
#include <string.h>
#include <sys/socket.h>

const char *reach_why(int error)
{
	if (error == EPIPE || error == ECONNRESET)
		return "the connection was closed";
	return error == ECONNREFUSED ? "nobody listens there" : strerror(error);
}

int reach_look_up(const char *host, bool *ret_both)
{
	const struct addrinfo hints = { .ai_socktype = SOCK_STREAM };
	struct addrinfo *list;
	bool four = false, six = false;
	int r = getaddrinfo(host, NULL, &hints, &list);

	if (r != 0)
		return r;
	for (const struct addrinfo *one = list; one; one = one->ai_next) {
		four = four || one->ai_family == AF_INET;
		six = six || one->ai_family == AF_INET6;
	}
	freeaddrinfo(list);
	*ret_both = four && six;
	return 0;
}

/* No key of ours has a password: nobody is there to type one. */
static int no_password(char *buffer, int size, int writes, void *user)
{
	(void)buffer, (void)size, (void)writes, (void)user;
	return 0;
}

static int set_tls(struct mosquitto *mosq, const struct login *login)
{
	bool system = strcmp(login->ca, LOGIN_CA_SYSTEM) == 0;

	return mosquitto_tls_set(mosq, system ? NULL : login->ca, system ? "/etc/ssl/certs" : NULL, login->cert,
				 login->key, no_password);
}

int reach_let_in(struct mosquitto *mosq, const struct login *login)
{
	int r = login->user ? mosquitto_username_pw_set(mosq, login->user, login->password) : MOSQ_ERR_SUCCESS;

	return r == MOSQ_ERR_SUCCESS && login->ca ? set_tls(mosq, login) : r;
}

int reach_set_up(struct mosquitto *mosq, const struct link_setup *setup)
{
	int r = mosquitto_int_option(mosq, MOSQ_OPT_PROTOCOL_VERSION, MQTT_PROTOCOL_V311);

	if (r == MOSQ_ERR_SUCCESS)
		r = mosquitto_int_option(mosq, MOSQ_OPT_TCP_NODELAY, 1);
	if (r == MOSQ_ERR_SUCCESS) /* the window is ours */
		r = mosquitto_max_inflight_messages_set(mosq, 2 * WINDOW_MAX);
	if (r == MOSQ_ERR_SUCCESS)
		r = mosquitto_will_set(mosq, setup->will_topic, (int)strlen(setup->will), setup->will, 1, true);
	return r == MOSQ_ERR_SUCCESS ? reach_let_in(mosq, setup->login) : r;
}
