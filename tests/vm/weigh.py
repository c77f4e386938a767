#!/usr/bin/python3
# SPDX-License-Identifier: MIT
"""usage: weigh.py BUILD_DIR SCALE_ADDRESS
The story of the test, told in the guest: bismard is started, a scale adopted, a litter weighed while links, bluetoothd
and bismard itself come and go. Every reading must be in the database with the exact mass that the scale sent.
One line a check on standard output; exit status 0 only if all came true."""
import datetime
import json
import os
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
import time

BUILD, SCALE = sys.argv[1:3]
HOME, SOCKET, STATE = "/run/bismar", "/run/bismar/prompt.sock", "/run/bismar/state"
DATABASE = STATE + "/bismar.db"
AS_USER = ["setpriv", "--reuid=nobody", "--regid=nogroup", "--clear-groups", "--no-new-privs", "--bounding-set=-all"]
LIMIT_S = 180  # for anything to happen; it takes a few seconds on an idle machine
TARE_MG = 400_000
PUPS = {"red": "one", "blue": "two", "green": "three"}  # collar: animal


class Wrong(Exception):
    pass


failures = 0


def say(*words):
    print("vm:", *words, flush=True)


def check(what, got, wanted):
    global failures
    if got == wanted:
        say("%s: %s ok" % (what, got))
    else:
        failures += 1
        say("%s: %s FAILED, not %s" % (what, got, wanted))


def mg(grams):
    """Grams of the interface as milligrams; all digits if they aren't an integer of milligrams / 1000 exactly."""
    whole = round(grams * 1000)
    return "%d mg" % whole if grams == whole / 1000 else "%r g" % grams


def until(what, condition):
    end = time.monotonic() + LIMIT_S
    while time.monotonic() < end:
        answer = condition()
        if answer:
            return answer
        time.sleep(0.05)
    raise Wrong("%s: not within %d s" % (what, LIMIT_S))


class Payload:
    """Octets of Weight Measurement 0x2A9D and the mass in them: flags, weight, time stamp
    (org.bluetooth.characteristic.weight_measurement)."""
    POUNDS, STAMPED = 1 << 0, 1 << 1

    def __init__(self, raw, flags=0):
        self.octets = bytes([flags]) + raw.to_bytes(2, "little")
        if flags & self.STAMPED:
            t = datetime.datetime.now()
            self.octets += t.year.to_bytes(2, "little") + bytes([t.month, t.day, t.hour, t.minute, t.second])
        if flags & self.POUNDS:  # units of 0.01 lb = 4535.9237 mg, rounded half away from zero
            self.gross_mg = (raw * 45359237 + 5000) // 10000
        else:  # units of 5 g
            self.gross_mg = raw * 5000
        self.net_mg = self.gross_mg - TARE_MG


class Scale:
    def tell(self, *words):
        with open("/run/vm/scale.fifo", "w") as f:
            f.write(" ".join(words) + "\n")

    def events(self, name):
        """How often it happened since the beginning."""
        with open("/out/scale.log") as f:
            return sum(line.split(" ", 1)[1:] == [name + "\n"] for line in f)

    def until_event(self, what, name, before):
        until("%s (scale: %s)" % (what, name), lambda: self.events(name) > before)

    def drop(self):
        self.tell("drop")

    def lose_link(self):
        os.kill(pid_of("relay0"), signal.SIGUSR1)


class Prompt:
    """A client that follows the prompt socket."""
    def __init__(self):
        self.socket = socket.socket(socket.AF_UNIX)
        self.socket.connect(SOCKET)
        self.socket.sendall(b'{"jsonrpc":"2.0","id":1,"method":"follow","params":'
                            b'{"topics":["ask","withdraw","recorded","scale"]}}\n')
        self.socket.setblocking(False)
        self.held, self.heard = b"", []

    def messages(self, method):
        try:
            while octets := self.socket.recv(65536):
                self.held += octets
        except BlockingIOError:
            pass
        *lines, self.held = self.held.split(b"\n")
        with open("/out/prompt.log", "ab") as f:
            f.writelines(line + b"\n" for line in lines)
        self.heard += map(json.loads, lines)
        return [m["params"] for m in self.heard if m.get("method") == method]


def bare_word(word):
    """As a shell script would: one line in, one line back, and gone."""
    with socket.socket(socket.AF_UNIX) as s:
        s.settimeout(LIMIT_S)
        s.connect(SOCKET)
        s.sendall(word.encode() + b"\n")
        s.shutdown(socket.SHUT_WR)
        for line in s.makefile():
            if line.startswith(("ok", "error")):
                return line.strip()
    return "no reply"


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


def pid_of(name):
    with open("/run/vm/%s.pid" % name) as f:
        return int(f.read())


def bismar(*words):
    done = subprocess.run(AS_USER + ["/run/vm/bismar", "--socket", SOCKET, "--database", DATABASE, *words],
                          capture_output=True, text=True, timeout=LIMIT_S,
                          env={"PATH": "/usr/bin", "GCOV_PREFIX": "/out/gcov"})
    if done.returncode != 0:
        raise Wrong("bismar %s: %d, %s" % (" ".join(words), done.returncode, done.stderr.strip()))
    return done.stdout


def rows(query, *values):
    db = sqlite3.connect("file:%s?mode=ro" % DATABASE, uri=True)
    try:
        return db.execute(query, values).fetchall()
    finally:
        db.close()


class Story:
    def __init__(self):
        self.daemon, self.scale, self.prompt = Daemon(), Scale(), None
        self.sent = []      # octets, in order
        self.expected = []  # (animal, payload), in order
        self.n = 0

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

    def subscribed_after(self, what, cause):
        """Runs cause, and waits until the scale was subscribed to again."""
        before, began = self.scale.events("subscribed"), time.monotonic()
        cause()
        self.scale.until_event(what, "subscribed", before)
        say("%s: subscribed after %.1f s ok" % (what, time.monotonic() - began))

    def indicate(self, payload):
        self.sent.append(payload.octets)
        self.scale.tell("weigh", payload.octets.hex())

    def ask_for(self, payload):
        """Weighs, and waits until it is asked who it was."""
        self.n += 1
        asks = len(self.prompt.messages("ask"))
        self.indicate(payload)
        ask = until("indication %d: ask" % self.n, lambda: self.prompt.messages("ask")[asks:])[0]
        check("indication %d" % self.n, mg(ask["net_g"]), "%d mg" % payload.net_mg)
        return ask["ask"]

    def answer(self, collar, ask, payload):
        reply = bare_word(collar)
        if not reply.startswith("ok"):
            raise Wrong("answer %s: %s" % (collar, reply))
        until("answer %s: recorded" % collar,
              lambda: any(r["ask"] == ask for r in self.prompt.messages("recorded")))
        self.expected.append((PUPS[collar], payload))

    def weigh(self, collar, payload):
        self.answer(collar, self.ask_for(payload), payload)

    def repeat(self, payload):
        """The same result once more: kept as a frame, no second weighing."""
        asks = len(self.prompt.messages("ask"))
        self.indicate(payload)
        until("repeat: frame", lambda: self.frames()[len(self.sent) - 1:])
        fate = rows("SELECT fate FROM frame_log ORDER BY received_at_ms DESC, frame_id DESC LIMIT 1")[0][0]
        check("the same result again", fate, "repeat")
        check("asks after it", len(self.prompt.messages("ask")) - asks, 0)

    def frames(self):
        return [bytes(octets) for octets, in
                rows("SELECT bytes FROM frame_log WHERE uuid LIKE '%2a9d%' ORDER BY received_at_ms, frame_id")]

    def until_lost(self, cause):
        """The scale goes off the air, the link ends, bismard hears of it, the scale is there again."""
        self.scale.tell("adv", "off")
        before = len(self.prompt.messages("scale"))
        cause()
        until("bismard: link lost", lambda: any(m["state"] == "lost" for m in self.prompt.messages("scale")[before:]))
        self.scale.tell("adv", "on")

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
        check("bismard's exit status", self.daemon.stop(), 0)

    def compare(self):
        readings = rows("SELECT animal, net_g, gross_g, tare_g, scale FROM reading ORDER BY answered_at_ms, reading_id")
        check("readings", len(readings), len(self.expected))
        for i, (row, (animal, payload)) in enumerate(zip(readings, self.expected), 1):
            check("reading %d" % i, "%s, %s = %s - %s, at %s" % (row[0], *map(mg, row[1:4]), row[4]),
                  "%s, %d mg = %d mg - %d mg, at kitchen" % (animal, payload.net_mg, payload.gross_mg, TARE_MG))
        check("unanswered", rows("SELECT count(*) FROM unanswered")[0][0], 0)
        frames = self.frames()
        check("frames, octet for octet", sum(map(bytes.__eq__, frames, self.sent)), max(len(frames), len(self.sent)))
        check("feature read, at least once", self.scale.events("feature read") > 0, True)


story = Story()
try:
    story.tell()
except Wrong as wrong:
    failures += 1
    say(wrong, "FAILED")
finally:
    if story.daemon.process and story.daemon.process.poll() is None:
        story.daemon.process.kill()
    for name in ("bismar.db", "bismar.db-wal"):
        if os.path.exists(os.path.join(STATE, name)):
            shutil.copy(os.path.join(STATE, name), "/out")
sys.exit(failures > 0)
