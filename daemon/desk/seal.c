// SPDX-License-Identifier: MIT
#include "daemon/desk/seal.h"
#include "daemon/log.h"
#include <gcrypt.h>

/* The library asks for this before its first use; libsystemd may have done it. */
static void make_ready(void)
{
	if (gcry_control(GCRYCTL_INITIALIZATION_FINISHED_P))
		return;
	(void)gcry_check_version(NULL);             /* begins; the linker has seen to the version */
	(void)gcry_control(GCRYCTL_DISABLE_SECMEM); /* locked memory is for keys that outlive a call */
	(void)gcry_control(GCRYCTL_INITIALIZATION_FINISHED);
}

static gcry_error_t decrypt(gcry_cipher_hd_t handle, const uint8_t *key, const uint8_t *nonce, const uint8_t *cipher,
			    size_t n, const uint8_t *mic, uint8_t *plain)
{
	uint64_t lengths[] = { n, 0, BTHOME_MIC_SIZE }; /* of the text, the associated data and the tag */
	gcry_error_t error = gcry_cipher_setkey(handle, key, BTHOME_KEY_SIZE);

	if (!error)
		error = gcry_cipher_setiv(handle, nonce, BTHOME_NONCE_SIZE);
	if (!error)
		error = gcry_cipher_ctl(handle, GCRYCTL_SET_CCM_LENGTHS, lengths, sizeof lengths);
	if (!error)
		error = gcry_cipher_decrypt(handle, plain, n, cipher, n);
	return error ? error : gcry_cipher_checktag(handle, mic, BTHOME_MIC_SIZE);
}

bool seal_decrypt(void *userdata, const uint8_t key[BTHOME_KEY_SIZE], const uint8_t nonce[BTHOME_NONCE_SIZE],
		  const uint8_t *cipher, size_t n, const uint8_t mic[BTHOME_MIC_SIZE], uint8_t *ret)
{
	uint8_t plain[BTHOME_PLAIN_SIZE];
	gcry_cipher_hd_t handle;
	gcry_error_t error;

	(void)userdata;
	if (n > sizeof plain)
		return false;
	make_ready();
	error = gcry_cipher_open(&handle, GCRY_CIPHER_AES128, GCRY_CIPHER_MODE_CCM, 0);
	if (!error) {
		error = decrypt(handle, key, nonce, cipher, n, mic, plain);
		gcry_cipher_close(handle); /* wipes what it made of the key */
	}
	if (error && gcry_err_code(error) != GPG_ERR_CHECKSUM)
		log_error("can't decrypt a broadcast: %s", gcry_strerror(error));
	if (!error)
		memcpy(ret, plain, n);
	return !error;
}
