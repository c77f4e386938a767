// SPDX-License-Identifier: MIT
#include "contrib/page/host.h"
#include <arpa/inet.h>
#include <netinet/in.h>
#include <strings.h>

#define NAME_SIZE 256 /* a DNS name has up to 253 octets */

/* Takes a port off: what is left of "a:80", "[::1]:80". False when that is no host with or without a port. */
static bool take_name(const char *host, char ret[NAME_SIZE], bool *ret_brackets)
{
	const char *end = host[0] == '[' ? strchr(host, ']') : host + strcspn(host, ":");
	size_t n;

	if (!end)
		return false;
	*ret_brackets = host[0] == '[';
	host += *ret_brackets;
	n = (size_t)(end - host);
	end += *ret_brackets;
	if (n == 0 || n >= NAME_SIZE || (*end && *end != ':'))
		return false;
	if (*end == ':' && (strlen(end) > 6 || strspn(end + 1, "0123456789") != strlen(end + 1)))
		return false;
	memcpy(ret, host, n);
	ret[n] = '\0';
	return true;
}

bool host_is_ours(const char *host, const char *const *names, size_t n)
{
	char name[NAME_SIZE];
	struct in6_addr address;
	bool brackets;
	size_t end;

	if (!host || !take_name(host, name, &brackets))
		return false;
	if (inet_pton(brackets ? AF_INET6 : AF_INET, name, &address) == 1)
		return true;
	if (brackets)
		return false;
	end = strlen(name);
	if (name[end - 1] == '.')
		name[end - 1] = '\0';
	if (strcasecmp(name, "localhost") == 0)
		return true;
	for (size_t i = 0; i < n; i++)
		if (strcasecmp(name, names[i]) == 0)
			return true;
	return false;
}

bool host_is_origin(const char *origin, const char *host, bool tls)
{
	if (!origin)
		return true;
	if (!host)
		return false;
	if (strncmp(origin, "https://", 8) == 0)
		return strcasecmp(origin + 8, host) == 0;
	/* http even where we don't speak TLS ourselves; a proxy before us may */
	return !tls && strncmp(origin, "http://", 7) == 0 && strcasecmp(origin + 7, host) == 0;
}

bool host_is_cross(const char *sec_fetch_site)
{
	return sec_fetch_site && strcmp(sec_fetch_site, "same-origin") != 0 && strcmp(sec_fetch_site, "none") != 0;
}

static bool port_of(const char *text, in_port_t *ret)
{
	char *end;
	unsigned long port;

	if (!(*text >= '0' && *text <= '9'))
		return false;
	port = strtoul(text, &end, 10);
	if (*end || end - text > 5 || port > 65535)
		return false;
	*ret = htons((in_port_t)port);
	return true;
}

bool host_address(const char *text, struct sockaddr_storage *ret, socklen_t *ret_length)
{
	struct sockaddr_in v4 = { .sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK) };
	struct sockaddr_in6 v6 = { .sin6_family = AF_INET6 };
	const char *colon = strrchr(text, ':');
	char name[NAME_SIZE];
	bool brackets = false;

	if (!colon)
		return false;
	if (colon != text && !take_name(text, name, &brackets))
		return false;
	if (brackets) {
		if (inet_pton(AF_INET6, name, &v6.sin6_addr) != 1 || !port_of(colon + 1, &v6.sin6_port))
			return false;
		memcpy(ret, &v6, sizeof v6);
		*ret_length = sizeof v6;
		return true;
	}
	if (colon != text && strcasecmp(name, "localhost") != 0 && inet_pton(AF_INET, name, &v4.sin_addr) != 1)
		return false;
	if (!port_of(colon + 1, &v4.sin_port))
		return false;
	memcpy(ret, &v4, sizeof v4);
	*ret_length = sizeof v4;
	return true;
}

bool host_is_loopback(const struct sockaddr *address)
{
	struct sockaddr_in v4;
	struct sockaddr_in6 v6;

	if (address->sa_family == AF_INET) {
		memcpy(&v4, address, sizeof v4);
		return ntohl(v4.sin_addr.s_addr) >> 24 == 127;
	}
	if (address->sa_family != AF_INET6)
		return false;
	memcpy(&v6, address, sizeof v6);
	return IN6_IS_ADDR_LOOPBACK(&v6.sin6_addr) ||
	       (IN6_IS_ADDR_V4MAPPED(&v6.sin6_addr) && v6.sin6_addr.s6_addr[12] == 127);
}

bool host_same(const struct sockaddr *a, const struct sockaddr *b)
{
	struct sockaddr_in6 a6, b6;

	if (a->sa_family != b->sa_family)
		return false;
	if (a->sa_family == AF_INET) {
		struct sockaddr_in a4, b4;
		memcpy(&a4, a, sizeof a4);
		memcpy(&b4, b, sizeof b4);
		return a4.sin_addr.s_addr == b4.sin_addr.s_addr;
	}
	if (a->sa_family != AF_INET6)
		return true;
	memcpy(&a6, a, sizeof a6);
	memcpy(&b6, b, sizeof b6);
	/* all of the mapped IPv4 share their first 64 bits */
	return memcmp(&a6.sin6_addr, &b6.sin6_addr, IN6_IS_ADDR_V4MAPPED(&a6.sin6_addr) ? 16 : 8) == 0;
}
