// SPDX-License-Identifier: MIT
#pragma once
/*
 * What the commands about signs, feeding, orders and doses share: volumes, cautions, the words that end each screen.
 * It computes nothing of a dose; that is the daemon's.
 * Above: look, sign, feed, order, dose. Below: litter/volume, list, prose.
 */
#include "daemon/ctl/ctl.h"
#include "daemon/ctl/list.h"
#include <jansson.h>

#define CARE_SIZE 48
/* A word and perhaps the one after it, "4" and "mL", as one text; longer ones are cut, and then are no volume. */
void care_join(char buffer[CARE_SIZE], const char *word, const char *next);
/* True when text is a volume with its unit, or NULL; else tells what is wrong with the use of this option or word. */
bool care_volume(const struct ctl *ctl, const char *what, const char *text);
/* "3.5 mL" of a member in millilitres, rounded down to a hundredth of one; "-" when it isn't there. */
const char *care_ml(char buffer[CARE_SIZE], const json_t *object, const char *key);
/* "13:45" of a member in RFC 3339, "-" when it isn't there. */
const char *care_when(char buffer[CARE_SIZE], const struct ctl *ctl, const json_t *object, const char *key);
/* A sentence of the daemon's without its full stop, for the midst of another. */
const char *care_clause(char *buffer, size_t size, const json_t *object, const char *key);
/* All of the cautions, each with its source. */
void care_cautions(const struct ctl *ctl, const json_t *list);
/* What is to be said last (NULL: nothing), when to stop reading and call the vet, and whose word goes first. */
void care_end(const struct ctl *ctl, const char *say);
/* A whole command "[WHO] [--since T]": the rows of one of the ledger's log views, newest first. For people there
 * is a column "volume" where there is `ml`: with its unit. */
enum ctl_status care_log(struct ctl *ctl, int argc, char **argv, const char *view, const char *id,
			 const struct list_column *columns, size_t n_columns, const char *nothing);
/* The end of a list command: the same for people, after what list_print() returned. */
enum ctl_status care_listed(const struct ctl *ctl, enum ctl_status status);
/* A refusal that came as a result, to standard error; CTL_REFUSED. */
__attribute__((format(printf, 1, 2))) enum ctl_status care_refused(const char *format, ...);
