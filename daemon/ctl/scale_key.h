// SPDX-License-Identifier: MIT
#pragma once
/*
 * The key of a scale that encrypts what it broadcasts, on its way from a file, a terminal or standard input to the
 * daemon. Never from the command line, which anybody on the machine can see. Above: scale adopt, scale key. Below: termios(3).
 */
#include <stdbool.h>
#include <stddef.h>

#define SCALE_KEY_SIZE 128 /* as typed: 32 digits, with blanks and colons wherever people like */

/*
 * The one line that the file holds; "-": of standard input, typed without being shown when that is a terminal. False
 * after telling what is wrong. Whether it is a key the daemon says. The caller wipes ret.
 */
bool scale_key_read(const char *file, char ret[SCALE_KEY_SIZE]);
