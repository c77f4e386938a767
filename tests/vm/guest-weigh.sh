#!/bin/bash
# SPDX-License-Identifier: MIT
# A scale, the real bluetoothd with one adapter, and the real bismard; the same again with a number pad.
. "$(dirname "$0")/guest-lib.sh"
address=C0:FF:EE:00:00:01 # static random (Core Specification, Vol 6, Part B, 1.3.2.1)
begin
scale $address
controller 0
bluetooth
for story in weigh keypad; do
	[ $story != keypad ] || [ -e "$BUILD/contrib/keypad/bismar-keypad" ] || continue
	/usr/bin/python3 "$here/$story.py" "$BUILD" $address >/dev/ttyS1 || exit 1
done
