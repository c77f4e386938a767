// SPDX-License-Identifier: MIT
#pragma once
/* The commands that concern one scale. Above: commands.c's table. Below: the model, device.h, chr.h. Each takes the
 * words (words[0] is the command) and writes text, as commands_run() does; the table has checked how many. */
#include "commands.h"

enum command_outcome scales_define(struct sim *sim, int n, char **words, char *text);
enum command_outcome scales_advertise(struct sim *sim, int n, char **words, char *text);
enum command_outcome scales_broadcast(struct sim *sim, int n, char **words, char *text);
enum command_outcome scales_hush(struct sim *sim, int n, char **words, char *text);
enum command_outcome scales_announce(struct sim *sim, int n, char **words, char *text);
enum command_outcome scales_indicate(struct sim *sim, int n, char **words, char *text);
enum command_outcome scales_store(struct sim *sim, int n, char **words, char *text);
enum command_outcome scales_value(struct sim *sim, int n, char **words, char *text);
enum command_outcome scales_battery(struct sim *sim, int n, char **words, char *text);
enum command_outcome scales_drop(struct sim *sim, int n, char **words, char *text);
enum command_outcome scales_mistake(struct sim *sim, int n, char **words, char *text);
enum command_outcome scales_fail(struct sim *sim, int n, char **words, char *text);
enum command_outcome scales_hold(struct sim *sim, int n, char **words, char *text);
enum command_outcome scales_release(struct sim *sim, int n, char **words, char *text);
enum command_outcome scales_forget(struct sim *sim, int n, char **words, char *text);
enum command_outcome scales_state(struct sim *sim, int n, char **words, char *text);
