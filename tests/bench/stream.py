# SPDX-License-Identifier: MIT
"""A long stream of results through each alone, as fast as it takes them: results a second, and the memory that stays."""
import time

from lab import Daemon, Lab, Sim, private_dirty_kib, pss_kib

WINDOW = 32  # results on their way at once


def through(each, sim, n):
    """The time it takes in s."""
    began = time.perf_counter()
    for i in range(n + WINDOW):
        if i < n:
            sim.indicate(60 + i % 1000)
            sim.until("ok")
        if i >= WINDOW:
            each.until_ask()
    took = time.perf_counter() - began
    return took


def one(build, name, n):
    lab = Lab(build)
    try:
        sim = Sim(lab)
        if name == "bismard":
            each = Daemon(lab, lab.dir + "/ours")
            each.adopt()
            each.litter()
        else:
            if name == "floor":
                lab.hold()
            each = getattr(lab, {"floor": "bare"}.get(name, name))(lab.dir + "/" + name)
        before = pss_kib(each.pid), private_dirty_kib(each.pid)
        took = through(each, sim, n)
        return before + (pss_kib(each.pid), private_dirty_kib(each.pid), n / took)
    finally:
        lab.close()


def measure(build, table, quick):
    n = 2000 if quick else 100000
    table.head("each alone, %d results; bismard asks each time" % n)
    columns = zip(*[one(build, name, n) for name in ("bismard", "floor", "script")])
    for what, unit, most in (("PSS before", "KiB", 2), ("private dirty before", "KiB", None), ("PSS afterwards", "KiB", 2),
                             ("private dirty afterwards", "KiB", None), ("results a second, sustained", "/s", None)):
        table.row(what, *next(columns), unit, floor_most=most, script_most=most and 1 / 6)
