#!/usr/bin/python3
# SPDX-License-Identifier: MIT
"""usage: host-talk.py QMP_SOCKET OUT_DIR <what the guest says
Prints what the guest says, and does what it can't do to itself: at "vm: suspend N" the machine is stopped for N seconds
and goes on; the time of that is left in OUT_DIR/woken, in seconds since 1970.
QEMU Machine Protocol: qemu.org, "QEMU QMP Reference Manual", stop and cont."""
import json
import os
import socket
import sys
import time

qmp = None


def command(name):
    global qmp
    if qmp is None:
        qmp = socket.socket(socket.AF_UNIX)
        qmp.connect(sys.argv[1])
        qmp = qmp.makefile("rw")
        command("qmp_capabilities")
    qmp.write(json.dumps({"execute": name}) + "\n")
    qmp.flush()
    while "return" not in json.loads(qmp.readline()):
        pass  # the greeting, events


for line in sys.stdin:
    if line.startswith("vm: suspend "):
        command("stop")
        time.sleep(int(line.split()[2]))
        with open(os.path.join(sys.argv[2], "woken.new"), "w") as f:
            f.write("%.3f" % time.time())
        os.rename(os.path.join(sys.argv[2], "woken.new"), os.path.join(sys.argv[2], "woken"))
        command("cont")
    print(line, end="", flush=True)
