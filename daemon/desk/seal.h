// SPDX-License-Identifier: MIT
#pragma once
/*
 * The cipher of encrypted broadcasts: AES-128-CCM (NIST SP 800-38C) with a nonce of 13 octets, a tag of 4 and no
 * associated data.
 * Above: the desk, which gives it to bthome_read() with a key. Below: libgcrypt, which libsystemd has loaded already;
 * it is made ready at the first call. It keeps no key and no state.
 */
#include "protocols/bthome.h"

/* A bthome_decrypt; userdata is of no use. n: 0..BTHOME_PLAIN_SIZE. False, ret untouched: the tag doesn't fit (or the
 * library can't, which is logged). */
bool seal_decrypt(void *userdata, const uint8_t key[BTHOME_KEY_SIZE], const uint8_t nonce[BTHOME_NONCE_SIZE],
		  const uint8_t *cipher, size_t n, const uint8_t mic[BTHOME_MIC_SIZE], uint8_t *ret);
