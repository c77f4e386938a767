// SPDX-License-Identifier: MIT
#pragma once
/* `pup GRAMS [FLAGS]`: a weighing in grams as the first scale would send it. Above: commands.c's table. Below: chr.h.
 */
#include "commands.h"

enum command_outcome pup_run(struct sim *sim, int n, char **words, char *text);
