#!/bin/bash
# SPDX-License-Identifier: MIT
# A scale, the real bluetoothd with one adapter, and the real bismard.
. "$(dirname "$0")/guest-lib.sh"
address=C0:FF:EE:00:00:01 # static random (Core Specification, Vol 6, Part B, 1.3.2.1)
begin
scale $address
controller 0
bluetooth
/usr/bin/python3 "$here/weigh.py" "$BUILD" $address >/dev/ttyS1
