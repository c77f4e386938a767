// SPDX-License-Identifier: MIT
#pragma once
/*
 * The table of commands, and finding one in it. Each row's function lives in the file named like its noun.
 */
#include "daemon/ctl/ctl.h"
#include <stddef.h>

extern const struct command commands[];
extern const size_t commands_n;

/*
 * argv[0] is the noun, argv[1] perhaps the verb. Returns the row and how many words named it; NULL with a message to
 * standard error when there is none.
 */
const struct command *commands_find(int argc, char **argv, int *ret_words);
/* `bismar help`, or with words `bismar help COMMAND`. */
enum ctl_status commands_help(struct ctl *ctl, int argc, char **argv);
/* "scale adopt ADDRESS NAME ...", one line. */
void commands_usage(const struct command *command, FILE *to);

enum ctl_status scale_find(struct ctl *ctl, int argc, char **argv);
enum ctl_status scale_adopt(struct ctl *ctl, int argc, char **argv);
enum ctl_status scale_pair(struct ctl *ctl, int argc, char **argv);
enum ctl_status scale_consent(struct ctl *ctl, int argc, char **argv);
enum ctl_status scale_key(struct ctl *ctl, int argc, char **argv);
enum ctl_status scale_offers(struct ctl *ctl, int argc, char **argv);
enum ctl_status scale_list(struct ctl *ctl, int argc, char **argv);
enum ctl_status scale_forget(struct ctl *ctl, int argc, char **argv);
enum ctl_status container_tare(struct ctl *ctl, int argc, char **argv);
enum ctl_status container_on(struct ctl *ctl, int argc, char **argv);
enum ctl_status container_none(struct ctl *ctl, int argc, char **argv);
enum ctl_status container_list(struct ctl *ctl, int argc, char **argv);
enum ctl_status litter_add(struct ctl *ctl, int argc, char **argv);
enum ctl_status litter_list(struct ctl *ctl, int argc, char **argv);
enum ctl_status litter_limits(struct ctl *ctl, int argc, char **argv);
enum ctl_status litter_close(struct ctl *ctl, int argc, char **argv);
enum ctl_status animal_add(struct ctl *ctl, int argc, char **argv);
enum ctl_status animal_list(struct ctl *ctl, int argc, char **argv);
enum ctl_status animal_alias(struct ctl *ctl, int argc, char **argv);
enum ctl_status animal_gone(struct ctl *ctl, int argc, char **argv);
enum ctl_status ask_list(struct ctl *ctl, int argc, char **argv);
enum ctl_status reading_list(struct ctl *ctl, int argc, char **argv);
enum ctl_status watch_run(struct ctl *ctl, int argc, char **argv);
enum ctl_status answer_answer(struct ctl *ctl, int argc, char **argv);
enum ctl_status answer_aside(struct ctl *ctl, int argc, char **argv);
enum ctl_status answer_correct(struct ctl *ctl, int argc, char **argv);
enum ctl_status answer_undo(struct ctl *ctl, int argc, char **argv);
enum ctl_status growth_run(struct ctl *ctl, int argc, char **argv);
enum ctl_status concerns_run(struct ctl *ctl, int argc, char **argv);
enum ctl_status round_begin(struct ctl *ctl, int argc, char **argv);
enum ctl_status round_end(struct ctl *ctl, int argc, char **argv);
enum ctl_status round_exchange(struct ctl *ctl, int argc, char **argv);
enum ctl_status round_show(struct ctl *ctl, int argc, char **argv);
enum ctl_status whelping_begin(struct ctl *ctl, int argc, char **argv);
enum ctl_status whelping_pup(struct ctl *ctl, int argc, char **argv);
enum ctl_status whelping_score(struct ctl *ctl, int argc, char **argv);
enum ctl_status whelping_end(struct ctl *ctl, int argc, char **argv);
enum ctl_status whelping_show(struct ctl *ctl, int argc, char **argv);
enum ctl_status whelping_run(struct ctl *ctl, int argc, char **argv);
enum ctl_status sheet_run(struct ctl *ctl, int argc, char **argv);
enum ctl_status report_run(struct ctl *ctl, int argc, char **argv);
enum ctl_status weigh_run(struct ctl *ctl, int argc, char **argv);
enum ctl_status export_run(struct ctl *ctl, int argc, char **argv);
enum ctl_status import_run(struct ctl *ctl, int argc, char **argv);
enum ctl_status backup_run(struct ctl *ctl, int argc, char **argv);
enum ctl_status checkup_run(struct ctl *ctl, int argc, char **argv);
enum ctl_status status_run(struct ctl *ctl, int argc, char **argv);
enum ctl_status look_run(struct ctl *ctl, int argc, char **argv);
enum ctl_status sign_run(struct ctl *ctl, int argc, char **argv);
enum ctl_status sign_list(struct ctl *ctl, int argc, char **argv);
enum ctl_status feed_plan(struct ctl *ctl, int argc, char **argv);
enum ctl_status feed_give(struct ctl *ctl, int argc, char **argv);
enum ctl_status feed_nursed(struct ctl *ctl, int argc, char **argv);
enum ctl_status feed_list(struct ctl *ctl, int argc, char **argv);
enum ctl_status order_add(struct ctl *ctl, int argc, char **argv);
enum ctl_status order_list(struct ctl *ctl, int argc, char **argv);
enum ctl_status order_end(struct ctl *ctl, int argc, char **argv);
enum ctl_status dose_plan_run(struct ctl *ctl, int argc, char **argv);
enum ctl_status dose_give_run(struct ctl *ctl, int argc, char **argv);
enum ctl_status dose_list_run(struct ctl *ctl, int argc, char **argv);
enum ctl_status page_pair(struct ctl *ctl, int argc, char **argv);
enum ctl_status page_list(struct ctl *ctl, int argc, char **argv);
enum ctl_status page_revoke(struct ctl *ctl, int argc, char **argv);
