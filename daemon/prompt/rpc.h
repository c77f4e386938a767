// SPDX-License-Identifier: MIT
#pragma once
/*
 * The prompt protocol as a function: a line in, lines out. JSON-RPC 2.0 (the specification of 2013-01-04) by
 * jansson, and bare words. No socket, no clock, no SQL.
 * Above: prompt.c, which has the connections. Below: jansson; the methods, given as a table by daemon/desk.
 */
#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define RPC_PROTOCOL 1
#define RPC_PARAMS_MAX 12
#define RPC_WORD_MAX 256 /* octets of a bare word */

/* Our error codes; the standard's own are sent for parse errors, invalid requests, unknown methods, bad params. */
enum rpc_code {
	RPC_PARSE_ERROR = -32700,
	RPC_INVALID_REQUEST = -32600,
	RPC_METHOD_NOT_FOUND = -32601,
	RPC_INVALID_PARAMS = -32602,
	RPC_INTERNAL = -32603,
	RPC_REFUSED = -32000, /* data.code tells why */
};

/* Filled by a method that refuses. */
struct rpc_refusal {
	int code;          /* RPC_REFUSED unless it is one of the others */
	const char *word;  /* data.code: static, for instance "already-answered" */
	char message[256]; /* for people; may contain any text */
	char hint[256];    /* data.hint: what to do */
	json_t *data;      /* further members of data, or NULL; owned by the dispatcher afterwards */
};

/* Sets all of it; returns 1, so that a method can `return rpc_refuse(...)`. word and hint are static texts. */
__attribute__((format(printf, 4, 5))) int rpc_refuse(struct rpc_refusal *refusal, const char *word,
						     const char *hint, const char *format, ...);

/* A string of any text: one that was cut inside a character, or is no UTF-8, is repaired. NULL without memory. */
json_t *rpc_text(const char *text);

enum rpc_type {
	RPC_TEXT,   /* a string */
	RPC_WHOLE,  /* an integer */
	RPC_NUMBER, /* a number */
	RPC_MASS,   /* a number: grams (a key ending in _g); or a string with its unit */
	RPC_TIME,   /* a string, RFC 3339 with offset; or an integer, ms since 1970 */
	RPC_LIST,   /* an array of strings, or one string */
	RPC_ROWS,   /* an array of objects; what is in them is the method's to check */
};

struct rpc_param {
	const char *name;
	const char *also; /* a second name that is understood, or NULL */
	enum rpc_type type;
	bool required;
};

struct rpc_value {
	bool given;        /* null counts as not given */
	const char *text;  /* RPC_TEXT; borrowed from the request; valid UTF-8 without NUL */
	int64_t whole;     /* RPC_WHOLE */
	double number;     /* RPC_NUMBER; finite */
	int64_t mass_mg, step_mg; /* RPC_MASS */
	int64_t time_ms;   /* RPC_TIME */
	int offset_min;
	const char *list[16]; /* RPC_LIST */
	size_t n_list;
	const json_t *rows; /* RPC_ROWS; borrowed from the request */
};

/* Who asks; one for each connection, kept by prompt.c. */
struct rpc_caller {
	const char *peer;  /* a user's name, or "uid 1000" */
	unsigned topics;   /* bit mask of enum prompt_topic; `follow` changes it */
	bool text;         /* notifications as readable lines */
};

struct rpc_method {
	const char *name;
	const struct rpc_param *params; /* in the order of the positional form; values come in this order */
	size_t n_params;
	/* 0: done, *ret_result set (a new reference). 1: refused, *refusal set. < 0: -errno, told as an internal
	 * error. values has n_params elements, checked for type and presence. */
	int (*call)(void *userdata, const struct rpc_caller *caller, const struct rpc_value *values,
		    json_t **ret_result, struct rpc_refusal *refusal);
};

struct rpc_service {
	const struct rpc_method *methods; /* besides hello and follow, which are built in */
	size_t n_methods;
	/* A bare word: answers it into one line without line end, which starts with "ok" or "error". */
	void (*word)(void *userdata, const struct rpc_caller *caller, const char *word, char *ret_line, size_t size);
	void *userdata;
};

/*
 * One line without its line end, n octets, not terminated. *ret_reply: the reply with a line end, to be freed by
 * free(); NULL when none is due (a notification, an empty line). 0, or -ENOMEM.
 * A line that starts with { or [ (after blanks) is JSON-RPC; "text" switches the caller; anything else is a word.
 */
int rpc_line(const struct rpc_service *service, struct rpc_caller *caller, const char *line, size_t n,
	     char **ret_reply);

/* The reply to a line that is over LIMIT_LINE_BYTES, of which n octets are here. 0, or -ENOMEM. */
int rpc_too_long(const char *line, size_t n, char **ret_reply);

/* Makes control characters blanks, in place: what people read is one line, and no terminal's command. */
void rpc_plain(char *text);
