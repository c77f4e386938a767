// SPDX-License-Identifier: MIT
#pragma once
/*
 * The answer to the request `concerns`, printed.
 * Above: concerns, look. Below: prose.
 */
#include "daemon/ctl/ctl.h"
#include <jansson.h>

/* Worst first, and what the daemon says of it all; objects alone for --json. */
void concerns_print(const struct ctl *ctl, const json_t *result);
