// SPDX-License-Identifier: MIT
#pragma once
/*
 * A request's parameters, by name or by position, as typed values. Pure.
 * Above: rpc.c. Below: jansson, daemon/weigh/quantity (masses and times as people write them).
 */
#include "rpc.h"

/*
 * params: an object, an array, or NULL; it must outlive the values, which borrow its texts.
 * values: method->n_params of them, all set. 0; or 1 with *refusal set, RPC_INVALID_PARAMS.
 */
int params_read(const struct rpc_method *method, const json_t *params, struct rpc_value *values,
		struct rpc_refusal *refusal);
