#!/usr/bin/python3
# SPDX-License-Identifier: MIT
"""usage: weigh.py BUILD_DIR SCALE_ADDRESS
The story of the test, told in the guest: bismard is started, a scale adopted, a litter weighed while links, bluetoothd
and bismard itself come and go. Every reading must be in the database with the exact mass that the scale sent.
One line a check on standard output; exit status 0 only if all came true."""
import os
import shutil
import signal
import socket
import subprocess
import sys
import guest
from guest import LIMIT_S, PUPS, SOCKET, TARE_MG, Payload, Prompt, Round, Wrong, check, pid_of, until

BUILD, SCALE = sys.argv[1:3]
HOME, STATE = "/run/bismar", "/run/bismar/state"
DATABASE = STATE + "/bismar.db"
AS_USER = ["setpriv", "--reuid=nobody", "--regid=nogroup", "--clear-groups", "--no-new-privs", "--bounding-set=-all"]


class Daemon:
    def __init__(self):
        self.process = None

    def start(self):
        with open("/out/bismard.log", "ab") as log:
            self.process = subprocess.Popen(
                AS_USER + ["/run/vm/bismard", "--state", STATE, "--socket", SOCKET, "--log-level", "debug"],
                stdout=log, stderr=log, env={"PATH": "/usr/bin", "GCOV_PREFIX": "/out/gcov"})
        until("bismard's socket", self.listens)

    def listens(self):
        if self.process.poll() is not None:
            raise Wrong("bismard ended with %d" % self.process.returncode)
        with socket.socket(socket.AF_UNIX) as s:
            return s.connect_ex(SOCKET) == 0

    def stop(self):
        self.process.terminate()
        try:
            return self.process.wait(LIMIT_S)
        except subprocess.TimeoutExpired:
            raise Wrong("bismard doesn't end")


def bismar(*words):
    done = subprocess.run(AS_USER + ["/run/vm/bismar", "--socket", SOCKET, "--database", DATABASE, *words],
                          capture_output=True, text=True, timeout=LIMIT_S,
                          env={"PATH": "/usr/bin", "GCOV_PREFIX": "/out/gcov"})
    if done.returncode != 0:
        raise Wrong("bismar %s: %d, %s" % (" ".join(words), done.returncode, done.stderr.strip()))
    return done.stdout


class Story(Round):
    def __init__(self):
        super().__init__(DATABASE)
        self.daemon = Daemon()

    def begin(self):
        for directory in (HOME, "/out/gcov"):
            os.makedirs(directory, exist_ok=True)
        shutil.chown(HOME, "nobody", "nogroup")
        os.chmod("/out/gcov", 0o777)
        for program in ("daemon/bismard", "daemon/ctl/bismar"):  # nobody may be kept out of the build directory
            shutil.copy(os.path.join(BUILD, program), "/run/vm")
        self.daemon.start()
        self.prompt = Prompt()

    def set_up(self):
        bismar("scale", "adopt", SCALE, "kitchen")
        bismar("container", "tare", "basket", "%dg" % (TARE_MG // 1000))
        bismar("container", "on", "basket", "--scale", "kitchen")
        bismar("litter", "add", "first")
        for collar, animal in PUPS.items():
            bismar("animal", "add", animal, "--litter", "first", "--collar", collar)

    def repeat(self, payload):
        """The same result once more: kept as a frame, no second weighing."""
        asks = len(self.prompt.messages("ask"))
        self.indicate(payload)
        until("repeat: frame", lambda: self.frames()[len(self.sent) - 1:])
        fate = self.rows("SELECT fate FROM frame_log ORDER BY received_at_ms DESC, frame_id DESC LIMIT 1")[0][0]
        check("the same result again", fate, "repeat")
        check("asks after it", len(self.prompt.messages("ask")) - asks, 0)

    def back_at_once(self):
        """bluetoothd 5.66 can take the new link for a second channel of the old one; then its services are never
        resolved, and all that it tells is ServicesResolved=false."""
        before = self.scale.events("disconnected")
        self.scale.tell("blink")
        self.scale.until_event("drop by the scale", "disconnected", before)

    def kill_bluetoothd(self):
        os.kill(pid_of("bluetoothd"), signal.SIGKILL)

    def restart_daemon(self):
        check("bismard, ended by SIGTERM: exit status", self.daemon.stop(), 0)
        self.daemon.start()
        self.prompt = Prompt()

    def unanswered_restart(self, collar, payload):
        """What was asked before the end is asked again, and can be answered."""
        ask = self.ask_for(payload)
        self.subscribed_after("bismard restarted", self.restart_daemon)
        until("the open ask again", lambda: any(a["ask"] == ask for a in self.prompt.messages("ask")))
        self.answer(collar, ask, payload)

    def tell(self):
        self.begin()
        self.subscribed_after("adopted", self.set_up)
        self.weigh("red", Payload(141))
        self.weigh("blue", Payload(139, Payload.STAMPED))
        self.weigh("green", Payload(159, Payload.POUNDS))
        stamped = Payload(142, Payload.STAMPED)
        self.weigh("red", stamped)
        self.repeat(stamped)
        self.subscribed_after("dropped by the scale", lambda: self.until_lost(self.scale.drop))
        self.weigh("blue", Payload(140))
        self.subscribed_after("link lost", lambda: self.until_lost(self.scale.lose_link))
        self.weigh("green", Payload(145))
        self.subscribed_after("bluetoothd killed", self.kill_bluetoothd)
        self.weigh("red", Payload(143))
        self.unanswered_restart("blue", Payload(160, Payload.POUNDS))
        self.weigh("green", Payload(146))
        self.subscribed_after("dropped, back at once", self.back_at_once)
        self.weigh("red", Payload(147))
        self.compare()
        check("feature read, at least once", self.scale.events("feature read") > 0, True)
        check("bismard's exit status", self.daemon.stop(), 0)


story = Story()
try:
    story.tell()
except Wrong as wrong:
    guest.fail(wrong)
finally:
    if story.daemon.process and story.daemon.process.poll() is None:
        story.daemon.process.kill()
    for name in ("bismar.db", "bismar.db-wal"):
        if os.path.exists(os.path.join(STATE, name)):
            shutil.copy(os.path.join(STATE, name), "/out")
sys.exit(guest.failures > 0)
