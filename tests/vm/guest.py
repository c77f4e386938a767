# SPDX-License-Identifier: MIT
"""What the stories told in the guest have in common: checks, the scale, a client of the prompt socket."""
import datetime
import json
import os
import signal
import socket
import sqlite3
import time

SOCKET = "/run/bismar/prompt.sock"
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


def fail(wrong):
    global failures
    failures += 1
    say(wrong, "FAILED")


def mg(grams):
    """Grams of the interface as milligrams; all digits if they aren't an integer of milligrams / 1000 exactly."""
    whole = round(grams * 1000)
    return "%d mg" % whole if grams == whole / 1000 else "%r g" % grams


def until(what, condition, limit_s=LIMIT_S):
    end = time.monotonic() + limit_s
    while time.monotonic() < end:
        answer = condition()
        if answer:
            return answer
        time.sleep(0.05)
    raise Wrong("%s: not within %d s" % (what, limit_s))


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


def pid_of(name):
    with open("/run/vm/%s.pid" % name) as f:
        return int(f.read())


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
    TOPICS = ["ask", "withdraw", "recorded", "scale", "container"]

    def __init__(self):
        self.socket = socket.socket(socket.AF_UNIX)
        self.socket.connect(SOCKET)
        follow = {"jsonrpc": "2.0", "id": 1, "method": "follow", "params": {"topics": self.TOPICS}}
        self.socket.sendall(json.dumps(follow).encode() + b"\n")
        self.socket.setblocking(False)
        self.held, self.heard = b"", []

    def messages(self, method):
        try:
            while octets := self.socket.recv(65536):
                self.held += octets
        except (BlockingIOError, ConnectionResetError):
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


class Round:
    """Weighings of one scale, and what must be in the database in the end."""
    def __init__(self, database):
        self.database, self.scale, self.prompt = database, Scale(), None
        self.sent = []      # octets, in order
        self.expected = []  # (animal, payload), in order
        self.n = 0

    def rows(self, query, *values):
        db = sqlite3.connect("file:%s?mode=ro" % self.database, uri=True)
        try:
            return db.execute(query, values).fetchall()
        finally:
            db.close()

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
        """Weighs, and waits until it is asked who it was, and the scale knows that it was heard: else it tells it again after
        a lost link, and later than WEIGH_RESEND_MS (weigh.h) that would be another weighing."""
        self.n += 1
        asks, confirmed = len(self.prompt.messages("ask")), self.scale.events("confirmed")
        self.indicate(payload)
        ask = until("indication %d: ask" % self.n, lambda: self.prompt.messages("ask")[asks:])[0]
        self.scale.until_event("indication %d" % self.n, "confirmed", confirmed)
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

    def frames(self):
        return [bytes(octets) for octets, in
                self.rows("SELECT bytes FROM frame_log WHERE uuid LIKE '%2a9d%' ORDER BY received_at_ms, frame_id")]

    def until_lost(self, cause):
        """The scale goes off the air, the link ends, bismard hears of it, the scale is there again."""
        self.scale.tell("adv", "off")
        before = len(self.prompt.messages("scale"))
        cause()
        until("bismard: link lost", lambda: any(m["state"] == "lost" for m in self.prompt.messages("scale")[before:]))
        self.scale.tell("adv", "on")

    def compare(self):
        readings = self.rows("SELECT animal, net_g, gross_g, tare_g, scale FROM reading "
                             "ORDER BY answered_at_ms, reading_id")
        check("readings", len(readings), len(self.expected))
        for i, (row, (animal, payload)) in enumerate(zip(readings, self.expected), 1):
            check("reading %d" % i, "%s, %s = %s - %s, at %s" % (row[0], *map(mg, row[1:4]), row[4]),
                  "%s, %d mg = %d mg - %d mg, at kitchen" % (animal, payload.net_mg, payload.gross_mg, TARE_MG))
        check("unanswered", self.rows("SELECT count(*) FROM unanswered")[0][0], 0)
        frames = self.frames()
        check("frames, octet for octet", sum(map(bytes.__eq__, frames, self.sent)), max(len(frames), len(self.sent)))
