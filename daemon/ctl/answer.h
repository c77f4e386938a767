// SPDX-License-Identifier: MIT
#pragma once
/*
 * What was recorded, in words: shared by answer, correct and weigh.
 */
#include "daemon/ctl/ctl.h"
#include <jansson.h>

/* Prints the result of such a request and drops its reference. */
enum ctl_status answer_print(const struct ctl *ctl, json_t *result);
