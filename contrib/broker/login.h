// SPDX-License-Identifier: MIT
#pragma once
/*
 * How we reach an MQTT broker and are let in, as people say it on a command line: what bismar-broker and bismar-gather
 * have in common. A password never goes to another machine in the open unless somebody says so, is never an argument,
 * and is never told. Above: options, contrib/merge/gather_options. Below: contrib/client/usage, files.
 */
#include "contrib/client/usage.h"
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

enum { LOGIN_HOST = 512, LOGIN_PORT, LOGIN_CA, LOGIN_CERT, LOGIN_KEY, LOGIN_USER, LOGIN_PASSWORD, LOGIN_CLEAR };
/* Rows of a table of options, their lines in a usage, and what --help says of them. */
#define LOGIN_OPTIONS                                                                                                  \
	{ "host", required_argument, NULL, LOGIN_HOST }, { "port", required_argument, NULL, LOGIN_PORT },              \
		{ "ca", required_argument, NULL, LOGIN_CA }, { "cert", required_argument, NULL, LOGIN_CERT },          \
		{ "key", required_argument, NULL, LOGIN_KEY }, { "user", required_argument, NULL, LOGIN_USER },        \
		{ "password-file", required_argument, NULL, LOGIN_PASSWORD },                                          \
	{                                                                                                              \
		"clear-password", no_argument, NULL, LOGIN_CLEAR                                                       \
	}
#define LOGIN_USAGE                                                                                                    \
	"[--host HOST] [--port N] [--ca FILE|system [--cert FILE --key FILE]]\n"                                       \
	"                     [--user NAME [--password-file FILE] [--clear-password]]"
#define LOGIN_HELP                                                                                                     \
	"  --host HOST           the broker (localhost)\n"                                                             \
	"  --port N              its port (1883; with TLS 8883)\n"                                                     \
	"  --ca FILE             TLS: who may have signed the broker's certificate; \"system\": whom the system "      \
	"trusts\n"                                                                                                     \
	"  --cert FILE --key FILE\n"                                                                                   \
	"                        our own certificate and its key\n"                                                    \
	"  --user NAME           by which the broker lets us in\n"                                                     \
	"  --password-file FILE  its first line is the password; readable by no other user. Without it systemd's\n"    \
	"                        credential \"password\", where there is one\n"                                        \
	"  --clear-password      send it without TLS to another machine all the same\n"

/* Takes the one of those options, its value in optarg. */
enum usage login_take(struct login *login, int option);
/* When they go together: true, and port and password are set. Else false, and what is wrong is in why, in words. The
 * login mustn't be moved any more. */
bool login_finish(struct login *login, char *why, size_t size);
/* Whether what is sent to this host doesn't leave the machine: localhost, or a loopback address. Pure. */
bool login_is_local(const char *host);
