# SPDX-License-Identifier: MIT
"""Large ledgers for the benchmarks: rows of many litters, put in by bismard's own tables and triggers in the order of time."""
import os, random, sqlite3

PUPS, A_DAY, DAYS = 8, 4, 60
DAY_MS = 86400000


def uuid7(at_ms):  # RFC 9562, 5.7
    n = at_ms << 80 | 7 << 76 | random.getrandbits(12) << 64 | 2 << 62 | random.getrandbits(62)
    h = "%032x" % n
    return "-".join((h[:8], h[8:12], h[12:16], h[16:20], h[20:]))


def row(at_ms, *more):  # what every table of the ledger has
    return (uuid7(at_ms), at_ms, 0, "bench", None) + more


def mass_mg(birth_mg, age_days):  # 8 % a day in the first week, 5 % afterwards, with the gut's 2 %
    return int(birth_mg * 1.08 ** min(age_days, 7) * 1.05 ** max(0, age_days - 7) * random.gauss(1, 0.02))


class Writer:
    """Rows are put in by the thousand, table by table: an answer comes after its weighing."""
    SQL = {
        "litter": "name, dam, born_ms, adult_mg", "litter_end": "litter",
        "animal": "name, litter, collar, sex, birth_mg, born_ms",
        "weighing": "frame, scale, container, weighed_ms, origin, state, user, gross_mg, tare_mg, net_mg, u_mg, "
                    "step_mg",
        "answer": "weighing, kind, animal, why, fed, weighed_ms",
        "growth": "animal, as_of_ms, gain_mg_per_day, u_gain_mg_per_day, gain_pct_per_day, verdict, tell_ms",
    }

    def __init__(self, path):
        self.db = sqlite3.connect(path, isolation_level=None)
        self.db.execute("PRAGMA synchronous = OFF")
        self.db.execute("PRAGMA cache_size = -200000")
        self.db.execute("BEGIN")
        self.rows = {table: [] for table in self.SQL}

    def add(self, table, at_ms, *more):
        one = row(at_ms, *more)
        self.rows[table].append(one)
        if len(self.rows[table]) >= 20000:
            self.flush()
        return one[0]

    def flush(self):
        for table, columns in self.SQL.items():
            n = 5 + columns.count(",") + 1
            self.db.executemany("INSERT INTO %s (id, at_ms, offset_min, peer, said, %s) VALUES (%s)" %
                                (table, columns, ", ".join("?" * n)), self.rows[table])
            self.rows[table] = []

    def end(self):
        self.flush()
        self.db.execute("COMMIT")
        self.db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        self.db.close()
        os.sync()  # or a reading's own sync would wait for it

    def litter(self, name, born_ms):
        litter = self.add("litter", born_ms, name, "dam of " + name, born_ms, 25000000)
        births = [250000 + 20000 * i for i in range(PUPS)]
        animals = [self.add("animal", born_ms + i, "%s-%d" % (name, i), litter, None, "f", births[i], born_ms)
                   for i in range(PUPS)]
        return litter, animals, births

    def reading(self, animal, birth_mg, born_ms, at_ms):
        mg = mass_mg(birth_mg, (at_ms - born_ms) / DAY_MS)
        weighing = self.add("weighing", at_ms, None, None, None, at_ms, "radio", "settled", None, mg, 0, mg, 289, 1000)
        self.add("answer", at_ms + 1, weighing, "answer", animal, None, None, at_ms)
        self.add("growth", at_ms + 2, animal, at_ms, 20000, 3000, 7.0, "gaining", at_ms + DAY_MS // 2)


def fill(path, now_ms, readings, open_days):
    """Closed litters one after the other until there are about as many readings, then an open litter for each of open_days,
    so many days old."""
    random.seed(1)
    out = Writer(path)
    each = PUPS * A_DAY * DAYS
    closed = max(0, (readings - sum(PUPS * A_DAY * d for d in open_days)) // each)
    span_ms = 3650 * DAY_MS
    litters = [("c%04d" % c, now_ms - span_ms + c * (span_ms - 140 * DAY_MS) // max(1, closed), DAYS, True)
               for c in range(closed)]
    rest = max(0, readings - each * closed - sum(PUPS * A_DAY * d for d in open_days)) // (PUPS * A_DAY)
    if rest > 1:
        litters.append(("rest", now_ms - 140 * DAY_MS, rest, True))
    litters += [("o%d" % i, now_ms - d * DAY_MS, d, False) for i, d in enumerate(open_days)]
    events, n = [], 0
    for name, born_ms, days, ends in litters:
        litter, animals, births = out.litter(name, born_ms)
        for k in range(1, days * A_DAY):
            for i in range(PUPS):
                out.reading(animals[i], births[i], born_ms, born_ms + k * DAY_MS // A_DAY + i * 60000)
                n += 1
        if ends:
            out.add("litter_end", born_ms + DAYS * DAY_MS, litter)
    out.end()
    return n
