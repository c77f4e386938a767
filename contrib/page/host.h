// SPDX-License-Identifier: MIT
#pragma once
/*
 * Who may be spoken to as whom: the headers Host (RFC 9110, 7.2), Origin (RFC 6454, 7) and Sec-Fetch-Site (W3C Fetch
 * Metadata Request Headers, 2.1), and addresses. Pure but for inet_pton(3).
 * Above: server.c, options.c. Below: nothing.
 */
#include <stdbool.h>
#include <stddef.h>
#include <sys/socket.h>

/*
 * Whether Host names us: an IP address, "localhost", or one of names, in any case, with or without a port and a final
 * dot. NULL: no header, no. A name that its owner has rebound to our address isn't among them (DNS rebinding).
 */
bool host_is_ours(const char *host, const char *const *names, size_t n);
/* Whether an Origin is the Host's own: its scheme (http or https; https alone with tls) and the same host and port.
 * NULL (not sent): yes; "null": no. */
bool host_is_origin(const char *origin, const char *host, bool tls);
/* Whether Sec-Fetch-Site tells of a request that another site made. NULL (not sent): no. */
bool host_is_cross(const char *sec_fetch_site);

/* "127.0.0.1:8023", "[::1]:0", ":8023" (127.0.0.1), "localhost:8023". False when it isn't an address and port. */
bool host_address(const char *text, struct sockaddr_storage *ret, socklen_t *ret_length);
/* Of this machine itself (127.0.0.0/8, ::1, and the former mapped into IPv6). */
bool host_is_loopback(const struct sockaddr *address);
/* Whether both are one host to a limit: the IPv4 address, or the /64 of an IPv6 one (RFC 4291, 2.5.4). */
bool host_same(const struct sockaddr *a, const struct sockaddr *b);
