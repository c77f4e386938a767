# SPDX-License-Identifier: MIT
"""
Ledgers for tests of what merges them. bismard makes the database itself; rows go in through its own tables, and so through
its triggers, in the order of time. There is of everything: readings, corrections, weighings that were set aside or taken
back, signs, orders, concerns.

    ledger = Ledger(build, folder, seed=1)
    ledger.grow(10000)      # readings more; each call is committed
    ledger.path             # its bismar.db
"""
import os
import pathlib
import random
import signal
import socket
import sqlite3
import subprocess
import time

DAY_MS = 86400000
T0 = 1767225600000  # 2026-01-01T00:00:00Z
PLANTS = ("Moss", "Fern", "Gorse", "Sorrel", "Clover", "Bramble", "Yarrow", "Tansy")


def make_database(build, folder):
    """bismard makes it and ends."""
    os.makedirs(folder, exist_ok=True)
    where = os.path.join(folder, "socket")
    daemon = subprocess.Popen([os.path.join(build, "daemon/bismard"), "--state", folder, "--socket", where, "--config",
                               os.devnull, "--log-level", "err"], stderr=subprocess.DEVNULL,
                              env={**os.environ, "DBUS_SYSTEM_BUS_ADDRESS": "unix:path=" + folder + "/nobody"})
    with socket.socket(socket.AF_UNIX) as probe:
        while probe.connect_ex(where) != 0:
            assert daemon.poll() is None, "bismard ended"
            time.sleep(0.002)  # there is nothing to wait on but the file
    daemon.send_signal(signal.SIGTERM)
    assert daemon.wait() == 0


class Ledger:
    SQL = {
        "scale": "address, name", "container": "name", "scale_container": "scale, container",
        "container_tare": "container, frame, tared_ms, mass_mg, u_mg",
        "container_check": "container, tare, frame, seen_ms, gross_mg, u_mg, drift_mg, drifted",
        "litter": "name, dam, born_ms, adult_mg", "litter_end": "litter",
        "animal": "name, litter, collar, sex, birth_mg, born_ms", "animal_end": "animal, why",
        "frame": "scale, received_ms, uuid, bytes, link, fate, why, mass_mg, step_mg, stamp_ms",
        "weighing": "frame, scale, container, weighed_ms, origin, state, user, gross_mg, tare_mg, net_mg, u_mg, step_mg",
        "answer": "weighing, kind, animal, why, fed, weighed_ms",
        "growth": "animal, as_of_ms, gain_mg_per_day, u_gain_mg_per_day, gain_pct_per_day, verdict, tell_ms",
        "concern": "concern, litter, animal, state, level, rule, text, source, since_ms",
        "round": "litter, fed", "round_end": "round, why", "sign": "animal, seen_ms, sign, value",
        "birth": "litter, animal, weighing, born_ms, sex, mass_mg", "newborn_score": "animal, scored_ms, points",
        "feed": "animal, fed_ms, how, ul, taken_mg, u_mg, what",
        "vet_order": "litter, animal, what, vet, kind, route, per, amount_ul, most_ul, every_ms, from_ms, until_ms",
        "vet_order_end": "vet_order, why", "dose": "vet_order, animal, given_ms, ul, mass_mg, judged, words",
    }

    def __init__(self, build, folder, seed, litter="hedge"):
        make_database(build, folder)
        self.folder, self.path = folder, os.path.join(folder, "bismar.db")
        self.random, self.now, self.name = random.Random(seed), T0 + seed * 1000003, litter
        self.litters, self.animals, self.open, self.concerns, self.doubles = [], [], [], [], 0
        with self.writing() as db:
            self.begin(db)
        self.hold()

    def hold(self):
        """Kept open as bismard keeps it: else whoever closes it last takes the log away under a reader that is just opening it."""
        self.held = connect(self.path)
        self.held.execute("SELECT count(*) FROM litter_now").fetchall()

    def put_back(self, copy):
        """An older copy takes its place, as README.md says it is done; the daemon isn't running."""
        self.held.close()
        for end in "-wal", "-shm":
            if os.path.exists(self.path + end):
                os.unlink(self.path + end)
        os.replace(copy, self.path)
        self.open = []
        self.hold()

    def writing(self):
        db = sqlite3.connect(self.path)
        db.execute("PRAGMA synchronous = OFF")
        return db

    def uuid(self):  # RFC 9562, 5.7
        n = self.now << 80 | 7 << 76 | self.random.getrandbits(12) << 64 | 2 << 62 | self.random.getrandbits(62)
        h = "%032x" % n
        return "-".join((h[:8], h[8:12], h[12:16], h[16:20], h[20:]))

    def add(self, db, table, *values):
        self.now += self.random.randrange(1, 4000)
        key = self.uuid()
        n = 5 + len(values)
        db.execute("INSERT INTO %s (id, at_ms, offset_min, peer, said, %s) VALUES (%s)" %
                   (table, self.SQL[table], ", ".join("?" * n)),
                   (key, self.now, 60, "keeper", self.random.choice((None, "Ann \"é\" \U0001f33f")), *values))
        return key

    def begin(self, db):
        self.scale = self.add(db, "scale", "C0:FF:EE:00:00:01", "kitchen")
        self.basket = self.add(db, "container", "basket, padded")
        self.add(db, "scale_container", self.scale, self.basket)
        frame = self.frame(db, 250000)
        self.tare = self.add(db, "container_tare", self.basket, frame, self.now, 250000, 300)
        self.new_litter(db)

    def new_litter(self, db):
        r, litter = self.random, self.add(db, "litter", self.name, "dam of it", self.now, 25000000)
        self.litters.append(litter)
        for i, plant in enumerate(PLANTS):
            mg = r.randrange(250000, 450000)
            animal = self.add(db, "animal", plant, litter, ("green", None)[i % 2], "fm"[i % 2], mg, self.now)
            self.add(db, "birth", litter, animal, None, self.now, "fm"[i % 2], mg)
            self.add(db, "newborn_score", animal, self.now, "21212")
            self.animals.append([animal, mg])
        self.add(db, "birth", litter, None, None, self.now, None, None)
        order = self.add(db, "vet_order", litter, None, "fluid, as told", "vet on call", "fluid", "under the skin", "kg", 10000,
                         40000, 6 * 3600000, self.now, self.now + DAY_MS)
        self.add(db, "dose", order, self.animals[-1][0], self.now, 3000, 300000, "plain", None)
        self.add(db, "vet_order_end", order, "well again")

    def frame(self, db, mg, fate="used", why=None):
        return self.add(db, "frame", self.scale, self.now, "00002a9d-0000-1000-8000-00805f9b34fb",
                        mg.to_bytes(4, "little"), 1, fate, why, mg if fate != "refused" else None, 1000, None)

    def grow(self, readings):
        db = self.writing()
        with db:
            for _ in range(readings):
                self.reading(db)
        db.close()

    def answer(self, db, weighing, kind, at_ms, animal=None, why=None):
        fed = self.random.choice((None, "before", "after")) if animal else None
        return self.add(db, "answer", weighing, kind, animal, why, fed, at_ms)

    def reading(self, db):
        r, animal = self.random, self.random.choice(self.animals[-8:])
        animal[1] += r.randrange(-3000, 5000)
        dice, restless = r.random(), r.random() < .1
        if dice < .05:  # typed by hand
            mg, at = animal[1], self.now
            weighing = self.add(db, "weighing", None, None, None, at, "typed", "settled", None, mg, 0, mg, 289, 0)
        else:
            frame, at = self.frame(db, animal[1] + 250000), self.now
            weighing = self.add(db, "weighing", frame, self.scale, self.basket, at, r.choice(("radio", "stored")),
                                "restless" if restless else "settled", None, animal[1] + 250000, 250000, animal[1],
                                r.randrange(289, 4000), 1000)
        self.open.append((weighing, at))
        if dice > .02 or len(self.open) > 20:  # else it waits
            weighing, at = self.open.pop(0)
            self.answer(db, weighing, "answer", at, animal[0])
            self.doubles += 1
        if dice < .04:
            self.answer(db, weighing, "correct", at, r.choice(self.animals[-8:])[0])
        elif dice < .06:
            self.answer(db, weighing, "aside", at, why="the hand was on it")
        elif dice < .08:
            self.answer(db, weighing, "reopen", at)
            if dice < .07:
                self.answer(db, weighing, "answer", at, animal[0])
        self.beside(db, animal, dice)

    def beside(self, db, animal, dice):
        r, litter = self.random, self.litters[-1]
        if dice > .97:
            self.add(db, "sign", animal[0], self.now, "temperature", "35.%dC" % r.randrange(10))
            self.add(db, "growth", animal[0], self.now, r.randrange(-9000, 30000), 3000, 6.0, "gaining", None)
        elif dice > .95:
            self.add(db, "feed", animal[0], self.now, "given", 6000, None, None, "replacer")
        elif dice > .93:
            self.frame(db, 1000, "repeat", "sent twice")
        elif dice > .92:
            frame = self.frame(db, 250100)
            self.add(db, "container_check", self.basket, self.tare, frame, self.now, 250100, 300, 100, 0)
        elif dice > .90:
            concern = self.concerns.pop(0) if len(self.concerns) > 3 else None
            key = concern or self.uuid()
            self.add(db, "concern", key, litter, r.choice((None, animal[0])), "closed" if concern else "open",
                     r.choice(("look", "act", "vet")), "behind", "It weighs less than it did: 304 g.", "our own", self.now)
            if not concern:
                self.concerns.append(key)
        elif dice > .895:
            begun = self.add(db, "round", litter, "before")
            if dice > .897:
                self.add(db, "round_end", begun, "complete")
        elif dice > .894 and len(self.animals) < 80:
            self.add(db, "animal_end", animal[0], "to its new home")
            if dice > .8945:
                self.add(db, "litter_end", litter)
            self.new_litter(db)


VIEWS = ("reading", "unanswered", "animal_now", "concern_now", "round_now", "birth_log", "sign_log", "feed_log", "order_log",
         "dose_log", "animal_log", "answer_log", "weighing_log", "concern_log", "tare_log", "litter_now", "scale_now",
         "container_now", "frame_log")


def connect(path):
    return sqlite3.connect("file:%s?mode=ro" % path, uri=True)


def rows(path, view, bridge=None):
    """Each row as a text, sorted: of one bridge in a merged file, without the column `bridge`."""
    db = connect(path)
    try:
        found = db.execute("SELECT * FROM %s%s" % (view, " WHERE bridge = ?" if bridge else ""), (bridge,) if bridge else ())
        return sorted(repr(row[:-1] if bridge else row) for row in found)
    finally:
        db.close()


def columns(path, view):
    db = connect(path)
    try:
        return [row[1] for row in db.execute("PRAGMA table_info(%s)" % view)]
    finally:
        db.close()


def documented(root):
    """The views of protocols/database.md with their columns."""
    views, view = {}, None
    for line in (pathlib.Path(root) / "protocols/database.md").read_text().splitlines():
        if line.startswith("## "):
            view = line[4:-1] if line.startswith("## `") else None
        elif view and line.startswith("| `") and not line.startswith("| column"):
            for cell in line.split("|")[1].split(","):
                views.setdefault(view, []).append(cell.strip().strip("`"))
    return views
