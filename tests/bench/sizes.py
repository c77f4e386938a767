# SPDX-License-Identifier: MIT
"""How each grows from a hundred readings on record to a million. bismard's ledgers are ten years of a busy kennel (ledger.py):
closed litters, and one open, three days old, in all sizes alike; the others' have as many rows of their table."""
import http.client
import json
import os
import pathlib
import re
import sqlite3
import statistics
import subprocess
import sys
import time

from lab import HERE, Daemon, Lab, Sim, cpu_ms, disk_bytes, pss_kib
from ledger import fill

sys.path.insert(0, str(pathlib.Path(HERE).parent / "page"))
from rig import Phone  # noqa: E402

OPEN_DAYS, STARTS, CALLS = 3, 5, 5
FLAT = 0.1


def fill_other(path, n):
    db = sqlite3.connect(path, isolation_level=None)
    db.execute("PRAGMA journal_mode = WAL")
    db.execute("CREATE TABLE reading(at INTEGER, bytes BLOB, mass_mg INTEGER)")
    db.execute("BEGIN")
    db.executemany("INSERT INTO reading VALUES(?, ?, ?)",
                   ((1700000000000 + 1000 * i, b"\0\x3c\0", 300000) for i in range(n)))
    db.execute("COMMIT")
    db.close()


def readings(lab, sim, each, n, answered=lambda ask: None):
    """CPU time in ms for each of n results, asked one after the other; what answered() takes is counted too."""
    each_ms = cpu_ms(each.pid)
    for i in range(n):
        sim.indicate(60 + i % 40)
        answered(each.until_ask())
    return (cpu_ms(each.pid) - each_ms) / n


def other(build, name, n, times):
    lab = Lab(build)
    try:
        folder = lab.dir + "/" + name
        os.mkdir(folder)
        fill_other(folder + "/readings.db", n)
        size = disk_bytes(folder)
        sim, starts = Sim(lab), []
        if name == "floor":
            lab.hold()
        make = {"floor": lab.bare, "script": lab.script}[name]
        for _ in range(STARTS):
            each = make(folder)
            starts.append(each.started_ms)
            if len(starts) < STARTS:
                each.end()
                if name == "script":
                    sim.fresh()
        readings(lab, sim, each, 20)
        cost = readings(lab, sim, each, times)
        return {"start": statistics.median(starts), "ask": cost, "pss": pss_kib(each.pid), "disk": size / n}
    finally:
        lab.close()


class Page:
    """bismar-page with one paired phone; None where it wasn't built."""

    def __init__(self, lab, daemon, state):
        folder = lab.dir + "/page"
        self.child = lab.start([lab.build + "/contrib/page/bismar-page", "--socket", daemon.path, "--database", state +
                                "/bismar.db", "--state", folder, "--listen", "127.0.0.1:0"], stderr=subprocess.STDOUT)
        for line in self.child.stdout:
            if found := re.search(r"listening on https?://[^/]*:(\d+)/$", line.strip()):
                break
        self.phone = Phone(int(found[1]))
        code = subprocess.run([lab.build + "/daemon/ctl/bismar", "--socket", daemon.path, "--json", "page", "pair", "--state",
                               folder], stdout=subprocess.PIPE, check=True).stdout
        answer = self.phone.post("/pair", {"code": json.loads(code)["code"], "name": "bench"})
        self.phone.cookie = re.match(r"bismar=([0-9a-f]{64});", answer.headers["Set-Cookie"])[1]

    def first_byte_ms(self, path):
        own = self.phone.connect()
        began = time.perf_counter()
        own.request("GET", path, headers={"Cookie": "bismar=" + self.phone.cookie})
        answer = own.getresponse()
        took = (time.perf_counter() - began) * 1000
        answer.read()
        own.close()
        assert answer.status == 200, (path, answer.status)
        return took


def empty_start_ms(build):
    lab = Lab(build)
    try:
        Daemon(lab, lab.dir + "/empty").end()
        return statistics.median(ready_ms(lab, lab.dir + "/empty") for _ in range(STARTS))
    finally:
        lab.close()


def ready_ms(lab, state):
    daemon = Daemon(lab, state)
    daemon.end()
    return daemon.ready_ms


def bismard(build, n, times):
    lab = Lab(build)
    try:
        state, sim = lab.dir + "/ours", Sim(lab)
        daemon = Daemon(lab, state)
        daemon.adopt()
        daemon.end()
        path = state + "/bismar.db"
        there = disk_bytes(state)
        n = fill(path, int(time.time() * 1000), n, (OPEN_DAYS,))
        size = disk_bytes(state) - there
        ready_ms(lab, state)  # concerns of what was put in open with the first start
        ret = {"start": statistics.median(ready_ms(lab, state) for _ in range(STARTS)), "disk": size / n}
        sim.fresh()
        daemon = Daemon(lab, state)
        daemon.until_subscribed()
        pups = sorted(one["name"] for one in daemon.call("growth", who="o0")["growth"])
        count = iter(range(10 * times))
        readings(lab, sim, daemon, 20)
        ret["ask"] = readings(lab, sim, daemon, times)
        ret["answered"] = readings(lab, sim, daemon, times, lambda ask: daemon.call(
            "answer", ask=ask, animal=pups[next(count) % len(pups)]))
        ret["pss"] = pss_kib(daemon.pid)
        ret["growth"] = statistics.median(daemon.bismar_ms("growth") for _ in range(CALLS))
        if os.path.exists(lab.build + "/contrib/page/bismar-page"):
            page = Page(lab, daemon, state)
            for name, where in (("page", "/"), ("animals", "/animals")):
                ret[name] = statistics.median(page.first_byte_ms(where) for _ in range(CALLS))
        return ret
    except http.client.HTTPException as problem:
        raise SystemExit("bismar-page: %s" % problem)
    finally:
        lab.close()


def measure(build, table, quick):
    times = 30 if quick else 200
    columns = {"bismard": [bismard(build, n, times) for n in table.sizes],
               "floor": [other(build, "floor", n, times) for n in table.sizes],
               "script": [other(build, "script", n, times) for n in table.sizes]}
    last = [columns[name][-1] for name in ("bismard", "floor", "script")]
    table.head("with %d readings on record" % table.sizes[-1])
    table.row("start to ready, empty ledger", empty_start_ms(build), columns["floor"][0]["start"], columns["script"][0]["start"], "ms")
    for what, key, unit in (("start to ready", "start", "ms"), ("an indication to its ask, CPU", "ask", "ms"),
                            ("PSS", "pss", "KiB"), ("on disk a reading", "disk", "byte")):
        table.row(what, *[each[key] for each in last], unit)
    for what, key in (("a reading asked and answered, CPU", "answered"), ("bismar growth", "growth"),
                      ("page: first byte of /", "page"), ("page: first byte of /animals", "animals")):
        if key in last[0]:
            table.row(what, last[0][key], unit="ms")
    table.sizes_head()
    rows = (("an indication to its ask, CPU", "ask", "ms", FLAT), ("start to ready", "start", "ms", None),
            ("PSS afterwards", "pss", "KiB", FLAT), ("on disk a reading", "disk", "byte", None))
    for name, points in columns.items():
        for what, key, unit, most in rows:
            table.sizes_row("%s: %s" % (name, what), [point[key] for point in points], unit,
                            most if name == "bismard" else None)
        if name == "bismard":
            for what, key, most in (("a reading asked and answered, CPU", "answered", FLAT), ("bismar growth", "growth", FLAT),
                                    ("page: first byte of /", "page", FLAT), ("page: first byte of /animals", "animals", FLAT)):
                if key in points[0]:
                    table.sizes_row("bismard: " + what, [point[key] for point in points], "ms", most)
