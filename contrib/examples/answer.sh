#!/bin/sh
# SPDX-License-Identifier: MIT
# Shows what bismard asks and records; a pup's name, collar or alias on a line answers the oldest question.
# usage: answer.sh [SOCKET]    needs socat
{ echo text && cat; } | socat -t 5 - "UNIX-CONNECT:${1:-/run/bismar/prompt.sock}"
