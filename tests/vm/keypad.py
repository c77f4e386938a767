#!/usr/bin/python3
# SPDX-License-Identifier: MIT
"""usage: keypad.py BUILD_DIR SCALE_ADDRESS
The story of the number pad, told in the guest: bismar-keypad, as user nobody, answers what bismard asks by the keys of a
device that the kernel's uinput makes. The device comes late, isn't to be read at first, is grabbed, goes and comes back.
One line a check on standard output; exit status 0 only if all came true."""
import os
import subprocess
import sys
import guest
from guest import PUPS, Payload, Wrong, check, until
from household import AS_USER, ENVIRONMENT, Household
from uinput import KP, Keyboard

NAME, LOG = "number pad of the test", "/out/keypad.log"


class Story(Household):
    PROGRAMS = Household.PROGRAMS + ("contrib/keypad/bismar-keypad",)

    def __init__(self, *words):
        super().__init__(*words)
        self.keyboard = self.pad = None

    def log(self):
        with open(LOG) as f:
            return f.read().splitlines()

    def heard(self, words, since=0):
        return until("keypad: " + words, lambda: [line for line in self.log()[since:] if words in line])[0]

    def start_pad(self):
        with open(LOG, "ab") as log:
            self.pad = subprocess.Popen(
                AS_USER + ["/run/vm/bismar-keypad", "--name", NAME, "--socket", guest.SOCKET, "--aloud", "/run/none",
                           "--log-level", "debug"], stdout=log, stderr=log, env=ENVIRONMENT)
        self.heard("bismard answers")

    def plug(self):
        since = len(self.log())
        self.keyboard = Keyboard(NAME, KP.values())
        check("the pad's device may be read by root alone", oct(os.stat(self.keyboard.path).st_mode & 0o777), "0o600")
        spy = os.open(self.keyboard.path, os.O_RDONLY | os.O_NONBLOCK)
        self.keyboard.press(KP["1"])
        check("another program reads the keys of a pad that isn't taken", len(os.read(spy, 4096)) > 0, True)
        os.chmod(self.keyboard.path, 0o666)  # as a group's member would find it
        self.heard(NAME, since)
        return spy

    def press_until(self, key, outcome):
        """As a person does: again, when it was too soon to have heard the question."""
        while True:
            since = len(self.log())
            self.keyboard.press(KP[key])
            line = until("key " + key, lambda: [
                line for line in self.log()[since:]
                if any(words in line for words in ("recorded: ", "set aside", ".", "refused: ")) and "to be" not in line])[0]
            if outcome in line:
                return
            if "Too soon" not in line:
                raise Wrong("key %s: %s" % (key, line))

    def weigh_by(self, collar, payload):
        """The digit of that pup's suggestion."""
        ask = self.ask_for(payload)
        asked = next(a for a in self.prompt.messages("ask") if a["ask"] == ask)
        digit = 1 + [c["name"] for c in asked["candidates"]].index(PUPS[collar])
        self.heard("question " + ask)
        self.press_until(str(digit), "recorded: ")
        recorded = next(r for r in self.prompt.messages("recorded") if r["ask"] == ask)
        check("key %d" % digit, recorded["name"], PUPS[collar])
        self.expected.append((PUPS[collar], payload))

    def aside(self, payload):
        ask = self.ask_for(payload)
        self.heard("question " + ask)
        self.press_until("minus", "set aside")

    def replug(self):
        since = len(self.log())
        self.keyboard.unplug()
        self.heard("waiting", since)
        return self.plug()

    def nothing_for(self, spy, what):
        try:
            left = os.read(spy, 4096)
        except BlockingIOError:
            left = b""
        os.close(spy)
        check("keys of a taken pad that go elsewhere, " + what, len(left), 0)

    def tell(self):
        self.begin()
        self.start_pad()
        self.heard("waiting")
        spy = self.plug()
        self.subscribed_after("adopted", self.set_up)
        self.weigh_by("red", Payload(141))
        self.weigh_by("blue", Payload(139))
        self.aside(Payload(95))
        self.nothing_for(spy, "plugged in late")
        spy = self.replug()
        self.weigh_by("green", Payload(159))
        self.nothing_for(spy, "plugged in again")
        self.compare()
        self.pad.terminate()
        check("bismar-keypad's exit status", self.pad.wait(guest.LIMIT_S), 0)
        check("bismard's exit status", self.daemon.stop(), 0)

    def end(self):
        if self.pad and self.pad.poll() is None:
            self.pad.kill()
        super().end()


story = Story(*sys.argv[1:3])
try:
    story.tell()
except Wrong as wrong:
    guest.fail(wrong)
finally:
    story.end()
sys.exit(guest.failures > 0)
