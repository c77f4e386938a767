// SPDX-License-Identifier: MIT
#pragma once
/*
 * How we reach an MQTT broker and are let in, as people say it on a command line: what bismar-broker and bismar-gather
 * have in common. A password never goes to another machine in the open unless somebody says so, is never an argument,
 * and is never told. Above: options, contrib/merge/gather_options. Below: files.
 */
#include <stdbool.h>
#include <stddef.h>

#define LOGIN_PASSWORD_BYTES 1024
#define LOGIN_CA_SYSTEM "system"

/* The texts are borrowed. */
struct login {
	const char *host;
	int port;                    /* 0: the usual one; login_finish() sets it */
	const char *ca;              /* NULL: without TLS; LOGIN_CA_SYSTEM: whom the system trusts; else a file */
	const char *cert, *key;      /* our own; or NULL */
	const char *user, *password; /* or NULL; password is login_finish()'s */
	const char *password_file;   /* or NULL: systemd's credential "password", where there is one */
	bool clear_password;         /* without TLS to another machine all the same */
	char secret[LOGIN_PASSWORD_BYTES + 2];
};

/* When they go together: true, and port and password are set. Else false, and what is wrong is in why, in words. The
 * login mustn't be moved any more. */
bool login_finish(struct login *login, char *why, size_t size);
/* Whether what is sent to this host doesn't leave the machine: localhost, or a loopback address. Pure. */
bool login_is_local(const char *host);
