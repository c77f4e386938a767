# SPDX-License-Identifier: MIT
"""A keyboard of the kernel's uinput (linux/uinput.h; input documentation, 1.7): what a number pad is to a program."""
import fcntl
import os
import struct

# linux/uinput.h and linux/input-event-codes.h
UI_DEV_CREATE, UI_DEV_DESTROY, UI_DEV_SETUP = 0x5501, 0x5502, 0x405C5503
UI_SET_EVBIT, UI_SET_KEYBIT, UI_SET_MSCBIT = 0x40045564, 0x40045565, 0x40045568
EV_SYN, EV_KEY, EV_MSC, SYN_REPORT, MSC_SCAN, BUS_USB = 0, 1, 4, 0, 4, 3
KP = {"1": 79, "2": 80, "3": 81, "minus": 74, "enter": 96, "slash": 98}
SYSFS = "/sys/devices/virtual/input"


class Keyboard:
    def __init__(self, name, keys):
        self.fd = os.open("/dev/uinput", os.O_WRONLY | os.O_CLOEXEC)
        for kind in (EV_KEY, EV_MSC):
            fcntl.ioctl(self.fd, UI_SET_EVBIT, kind)
        fcntl.ioctl(self.fd, UI_SET_MSCBIT, MSC_SCAN)
        for code in keys:
            fcntl.ioctl(self.fd, UI_SET_KEYBIT, code)
        # struct uinput_setup: struct input_id (bustype, vendor, product, version), name, ff_effects_max
        fcntl.ioctl(self.fd, UI_DEV_SETUP, struct.pack("=4H80sI", BUS_USB, 1, 1, 1, name.encode(), 0))
        fcntl.ioctl(self.fd, UI_DEV_CREATE)
        self.path = "/dev/input/" + next(
            entry for folder in os.listdir(SYSFS) if self.named(folder, name)
            for entry in os.listdir(os.path.join(SYSFS, folder)) if entry.startswith("event"))

    @staticmethod
    def named(folder, name):
        path = os.path.join(SYSFS, folder, "name")
        if not os.path.exists(path):
            return False
        with open(path) as f:
            return f.read().strip() == name

    def emit(self, kind, code, value):
        os.write(self.fd, struct.pack("=qqHHi", 0, 0, kind, code, value))  # the kernel has its own time

    def turn(self, code, value):
        self.emit(EV_MSC, MSC_SCAN, code)
        self.emit(EV_KEY, code, value)
        self.emit(EV_SYN, SYN_REPORT, 0)

    def press(self, code):
        self.turn(code, 1)
        self.turn(code, 0)

    def unplug(self):
        fcntl.ioctl(self.fd, UI_DEV_DESTROY)
        os.close(self.fd)
