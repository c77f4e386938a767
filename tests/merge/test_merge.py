#!/usr/bin/env python3
# SPDX-License-Identifier: MIT
"""usage: test_merge.py BUILD [KILLS]
bismar-merge with ledgers that bismard made: each row of each view against its source, killed at random instants, and what it
refuses. Every figure is counted here, from the sources, not taken from what the program says."""
import contextlib
import hashlib
import os
import pathlib
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time

from ledgers import DAY_MS, VIEWS, Ledger, columns, connect, documented, rows

BUILD = os.path.abspath(sys.argv[1])
KILLS = int(sys.argv[2]) if len(sys.argv) > 2 else 25
ROOT = pathlib.Path(__file__).resolve().parents[2]
MERGE, BISMAR, BISMARD = (os.path.join(BUILD, p) for p in ("contrib/merge/bismar-merge", "daemon/ctl/bismar", "daemon/bismard"))
NAMES = ("moss", "fern", "gorse")
# of the logs: rows and their keys
LOGS = {"weighing_log": "weighing_id", "answer_log": "answer_id", "concern_log": "entry_id", "frame_log": "frame_id"}


def merge(*words):
    done = subprocess.run([MERGE, *words], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, timeout=300)
    return done.returncode, done.stdout, done.stderr


def must(*words):
    status, out, err = merge(*words)
    assert status == 0 and err == "", (words, status, out, err)
    return out


def refused(want_status, text, *words):
    status, out, err = merge(*words)
    assert status == want_status and text in err, (words, status, out, err)
    return out


def digest(path, bridge=None):
    """Of every row of every view; "" when there are none of the bridge."""
    total, any_row = hashlib.sha256(), False
    for view in VIEWS:
        found = rows(path, view, bridge)
        any_row = any_row or bool(found)
        total.update(("%s %d\n%s\n" % (view, len(found), "\n".join(found))).encode())
    return total.hexdigest() if any_row else ""


def same(ledger, into, bridge):
    for view in VIEWS:
        here, there = rows(ledger.path, view), rows(into, view, bridge)
        assert len(here) == len(there), (bridge, view, len(here), len(there))
        assert here == there, (bridge, view, [pair for pair in zip(here, there) if pair[0] != pair[1]][:2])


def sound(path):
    db = connect(path)
    assert db.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
    db.close()


def count(path, sql, *values):
    db = connect(path)
    try:
        return db.execute(sql, values).fetchone()[0]
    finally:
        db.close()


class Kennel:
    """Three bridges, each in its folder, and where they are merged."""

    def __init__(self, folder, readings=300, names=NAMES):
        self.folder, self.into = folder, os.path.join(folder, "merged.db")
        self.ledgers = {name: Ledger(BUILD, os.path.join(folder, name), seed) for seed, name in enumerate(names, 1)}
        for ledger in self.ledgers.values():
            ledger.grow(readings)
        self.words = [self.into] + ["%s=%s" % (name, ledger.path) for name, ledger in self.ledgers.items()]

    def check(self):
        for name, ledger in self.ledgers.items():
            same(ledger, self.into, name)


def views_are_the_contract(kennel):
    must(*kennel.words)
    kennel.check()
    told = documented(ROOT)
    assert set(told) == set(VIEWS), set(told) ^ set(VIEWS)
    for view, names in told.items():
        assert columns(kennel.into, view) == names + ["bridge"], (view, columns(kennel.into, view))
    assert count(kennel.into, "PRAGMA application_id") == 1112101709 and count(kennel.into, "PRAGMA user_version") == 1
    assert count(kennel.into, "SELECT count(*) FROM reading") == sum(len(rows(l.path, "reading")) for l in kennel.ledgers.values())
    assert must(*kennel.words).split("\n")[:-1] == [name + ": nothing new" for name in NAMES]
    for ledger in kennel.ledgers.values():
        ledger.grow(50)
    assert "50 weighings" in must(*kennel.words)
    kennel.check()


def bismar_reads_it(kennel):
    must(*kennel.words)

    def bismar(*words):
        return subprocess.run([BISMAR, "--database", kennel.into, *words], stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
                              text=True, env={**os.environ, "TZ": "UTC"})
    for words in (("litter", "list"), ("animal", "list"), ("reading", "list"), ("export", "jsonl"), ("ask", "list")):
        done = bismar(*words)
        assert done.returncode == 0 or words[0] == "ask", (words, done)
    # three litters of one name, in three bridges: by name all three, with their bridge; by id each alone
    text = bismar("export", "csv", "--litter", "hedge").stdout
    lines = text.splitlines()
    assert lines[0].endswith(",bridge")
    for name in NAMES:
        want = count(kennel.into, "SELECT count(*) FROM reading WHERE bridge = ?", name)
        assert sum(line.endswith("," + name) for line in lines) == want > 0, name
        db = connect(kennel.into)
        litter, n = db.execute("SELECT litter_id, count(*) FROM reading WHERE bridge = ? GROUP BY 1 ORDER BY 2 DESC LIMIT 1",
                               (name,)).fetchone()
        db.close()
        alone = bismar("export", "csv", "--litter", litter).stdout.splitlines()[1:]
        assert len(alone) == n and all(line.endswith("," + name) for line in alone), name
        report = os.path.join(kennel.folder, "report.html")
        done = bismar("report", litter, "-o", report)
        assert done.returncode == 0 and os.path.getsize(report) > 1000, done


def plans(kennel):
    """What protocols/database.md promises to be quick looks at no whole table of readings here either."""
    must(*kennel.words)
    db = connect(kennel.into)
    for sql in ("SELECT * FROM reading WHERE animal = 'Moss'", "SELECT * FROM reading WHERE animal_id = 'x'",
                "SELECT * FROM reading WHERE litter = 'hedge'", "SELECT * FROM reading WHERE litter_id = 'x'",
                "SELECT * FROM reading WHERE at_ms >= 5 AND at_ms < 9", "SELECT * FROM reading WHERE reading_id = 'x'",
                "SELECT * FROM unanswered"):
        plan = [row[3] for row in db.execute("EXPLAIN QUERY PLAN " + sql)]
        assert not any("SCAN n" in step or "SCAN w" in step for step in plan), (sql, plan)
    db.close()


def bismard_refuses(kennel):
    must(*kennel.words)
    for begun in False, True:
        state = os.path.join(kennel.folder, "state%d" % begun)
        os.mkdir(state)
        shutil.copy(kennel.into, state + "/bismar.db")
        if begun:
            shutil.copy(kennel.folder + "/moss/bismar.began", state)
        before = open(state + "/bismar.db", "rb").read()
        done = subprocess.run([BISMARD, "--state", state, "--socket", state + "/s", "--config", os.devnull],
                              stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, timeout=60)
        assert done.returncode == 3 and "bismar-merge" in done.stdout, done
        assert open(state + "/bismar.db", "rb").read() == before


def killed(kennel, random_):
    """How long a whole step takes here; then it is killed within that time, again and again."""
    began = time.perf_counter()
    must("--quiet", *kennel.words)
    whole_s, first, deaths, finished = time.perf_counter() - began, {}, 0, 0
    for name, ledger in kennel.ledgers.items():
        same(ledger, kennel.into, name)
        first[name] = digest(ledger.path)
    for turn in range(2 * KILLS):
        fresh = turn < KILLS  # from nothing; afterwards from the state before
        before = {name: "" if fresh else first[name] for name in NAMES}
        if fresh:
            for end in "", "-wal", "-shm":
                with contextlib.suppress(FileNotFoundError):
                    os.unlink(kennel.into + end)
        else:
            for name, ledger in kennel.ledgers.items():
                ledger.grow(random_.randrange(1, 400))
                first[name] = digest(ledger.path)
        child = subprocess.Popen([MERGE, "--quiet", *kennel.words])
        try:
            child.wait(timeout=random_.uniform(0, whole_s))
            finished += 1
        except subprocess.TimeoutExpired:
            child.kill()
            deaths += child.wait() == -signal.SIGKILL
        if os.path.exists(kennel.into) and os.path.getsize(kennel.into) and \
                count(kennel.into, "SELECT count(*) FROM sqlite_schema"):
            for name in NAMES:
                assert digest(kennel.into, name) in (before[name], first[name]), (turn, name)
        if turn % 5 == 4 or turn >= KILLS - 1:
            began = time.perf_counter()
            must("--quiet", *kennel.words)
            if not fresh:  # how long a small step takes, not the first one
                whole_s = time.perf_counter() - began
            for name in NAMES:
                assert digest(kennel.into, name) == first[name], (turn, name)
    sound(kennel.into)
    total = {}
    for view, key in LOGS.items():
        want = [value for ledger in kennel.ledgers.values() for value in keys(ledger.path, view, key)]
        found = keys(kennel.into, view, key)
        total[view] = (len(want), len(found), len(found) - len(set(found)), len(set(want) - set(found)))
        assert total[view][0] == total[view][1] and total[view][2:] == (0, 0), total
    assert deaths > KILLS / 2, (deaths, finished)
    print("killed %d times, ended by itself %d times; in, out, doubled, missing: %s" %
          (deaths, finished, ", ".join("%s %d %d %d %d" % (v, *n) for v, n in total.items())))


def keys(path, view, key):
    db = connect(path)
    try:
        return [row[0] for row in db.execute("SELECT %s FROM %s" % (key, view))]
    finally:
        db.close()


def copy_of(ledger, folder):
    """As `bismar backup` or VACUUM INTO makes it."""
    os.makedirs(folder)
    db = connect(ledger.path)
    db.execute("VACUUM INTO ?", (folder + "/bismar.db",))
    db.close()
    return folder + "/bismar.db"


def refuses(kennel):
    must(*kennel.words)
    before = {name: digest(kennel.into, name) for name in NAMES}
    moss, into, folder = kennel.ledgers["moss"], kennel.into, kennel.folder
    # the same ledger under two names: the file, a copy of it, in one call and in two
    refused(2, "same file", into, "moss=" + moss.path, "other=" + moss.path)
    backup = copy_of(moss, folder + "/backup")
    refused(1, "are here already, as \"moss\"", into, "other=" + backup)
    refused(1, "are here already, as \"one\"", folder + "/two.db", "one=" + moss.path, "two=" + backup)
    assert digest(folder + "/two.db", "one") == before["moss"] and digest(folder + "/two.db", "two") == ""
    # another ledger under a name that was used
    stranger = Ledger(BUILD, folder + "/stranger", 9)
    stranger.grow(30)
    refused(1, "isn't the ledger that was taken under the name \"moss\"", into, "moss=" + stranger.path)
    # a copy of an older state
    moss.grow(20)
    must("--quiet", *kennel.words)
    before["moss"] = digest(moss.path)
    refused(1, "older copy", into, "moss=" + backup)
    # no ledger, none at all, a folder, damaged ones, a merged one, another program's
    for name, octets in (("text", b"no database\n" * 1000), ("cut", open(backup, "rb").read()[:20000]), ("empty", b"")):
        with open(folder + "/" + name, "wb") as file:
            file.write(octets)
        refused(1, name, into, "new=%s/%s" % (folder, name))
    refused(1, "No such file", into, "new=%s/nowhere" % folder)
    refused(1, "is no file", into, "new=" + folder)
    refused(1, "merged file itself", folder + "/three.db", "new=" + into)
    db = sqlite3.connect(folder + "/shop.db")
    db.execute("CREATE TABLE shopping (what)")
    db.commit()
    db.close()
    refused(1, "no database of bismard's", into, "new=%s/shop.db" % folder)
    # one of an older bismard: without what addition 5 brought
    old = copy_of(kennel.ledgers["fern"], folder + "/old")
    db = sqlite3.connect(old)
    db.execute("DROP VIEW weighing_log")
    db.commit()
    db.close()
    refused(1, "older bismard", into, "new=" + old)
    # a locked one holds up none of the others
    db = sqlite3.connect(backup, isolation_level=None)
    db.execute("PRAGMA journal_mode = DELETE")
    db.execute("BEGIN EXCLUSIVE")
    kennel.ledgers["gorse"].grow(5)
    out = refused(1, "has locked", into, "new=" + backup, "gorse=" + kennel.ledgers["gorse"].path)
    assert "gorse: 5 weighings" in out, out
    db.execute("ROLLBACK")
    db.close()
    before["gorse"] = digest(kennel.ledgers["gorse"].path)
    # INTO is a source, a ledger, another program's, no database
    refused(2, "what is merged into", moss.path, "moss=" + moss.path)
    refused(1, "a ledger of bismard's", backup, "fern=" + kennel.ledgers["fern"].path)
    refused(1, "another program's", folder + "/shop.db", "fern=" + kennel.ledgers["fern"].path)
    refused(1, "no database", folder + "/text", "fern=" + kennel.ledgers["fern"].path)
    assert open(folder + "/text", "rb").read() == b"no database\n" * 1000
    # words
    for text, words in (("isn't NAME=FILE", (into, "moss")), ("no name", (into, "=x")), ("no name", (into, "a/b=x")),
                        ("no name", (into, "a\x1bb=x")), ("called", (into, "a=x", "a=y")), ("It takes", (into,))):
        refused(2, text, *words)
    for name in NAMES:
        assert digest(into, name) == before[name], name
    sound(into)


def put_back(kennel):
    """A ledger that was put back from an older copy and went on: nothing that was taken is lost, all that is new is there."""
    moss, into = kennel.ledgers["moss"], kennel.into
    copy = copy_of(moss, kennel.folder + "/copy")
    moss.grow(40)
    must(*kennel.words)
    lost = {view: set(keys(into, view, key)) for view, key in LOGS.items()}
    moss.put_back(copy)
    moss.grow(10)
    must(*kennel.words)
    for view, key in LOGS.items():
        assert set(keys(into, view, key)) == lost[view] | set(keys(moss.path, view, key)), view
        assert len(keys(into, view, key)) == len(set(keys(into, view, key))), view
    for view in "animal_now", "concern_now", "round_now":
        assert rows(into, view, "moss") == rows(moss.path, view), view
    # of each weighing one answer counts, the one with the highest seq
    assert count(into, "SELECT count(*) FROM (SELECT 1 FROM answer_log GROUP BY weighing_id HAVING sum(counts) <> 1)") == 0
    assert count(into, "SELECT count(*) FROM answer_log AS n WHERE counts = 1 AND EXISTS (SELECT 1 FROM answer_log AS m "
                       "WHERE m.weighing_id = n.weighing_id AND (m.seq, m.answer_id) > (n.seq, n.answer_id))") == 0
    readings = set(rows(moss.path, "reading"))
    assert readings <= set(rows(into, "reading", "moss"))
    moss.grow(100)
    assert "100 weighings" in must(*kennel.words)
    assert must(*kennel.words).startswith("moss: nothing new")


def a_clock_set_back(kennel):
    """Results that arrive later with smaller ids are taken too."""
    must(*kennel.words)
    moss = kennel.ledgers["moss"]
    moss.now -= DAY_MS
    moss.grow(60)
    must(*kennel.words)
    kennel.check()


def forgets(kennel):
    must(*kennel.words)
    refused(1, "No bridge \"ivy\"", "--forget", "ivy", kennel.into)
    must("--forget", "moss", kennel.into)
    assert digest(kennel.into, "moss") == "" and count(kennel.into, "SELECT count(*) FROM unanswered WHERE bridge = 'moss'") == 0
    must(kennel.into, "ivy=" + kennel.ledgers["moss"].path)
    same(kennel.ledgers["moss"], kennel.into, "ivy")
    same(kennel.ledgers["fern"], kennel.into, "fern")
    sound(kennel.into)


def while_bismard_writes(kennel):
    """Each step sees a ledger at one moment, while another connection commits to it."""
    for _ in range(12):
        child = subprocess.Popen([MERGE, "--quiet", *kennel.words], stderr=subprocess.DEVNULL)
        kennel.ledgers["fern"].grow(30)
        two = merge("--quiet", *kennel.words)  # and a second one at the same time
        assert child.wait() in (0, 1) and two[0] in (0, 1), two  # one of them may find the other at it
        assert two[2] == "" or "Another bismar-merge" in two[2], two
        must("--quiet", *kennel.words)
        for view in "reading", "unanswered":
            db = connect(kennel.into)
            # each weighing is in one of the two, or was set aside
            n = db.execute("SELECT (SELECT count(*) FROM weighing_log) - (SELECT count(*) FROM reading) - "
                           "(SELECT count(*) FROM unanswered) - (SELECT count(*) FROM answer_log WHERE counts AND "
                           "kind = 'aside')").fetchone()[0]
            db.close()
            assert n == 0, n
    must("--quiet", *kennel.words)
    kennel.check()


random_ = random.Random(20261126)
for case in (views_are_the_contract, bismar_reads_it, plans, bismard_refuses, refuses, put_back, a_clock_set_back, forgets,
             while_bismard_writes, killed):
    with tempfile.TemporaryDirectory(prefix="bismar-merge-") as folder:
        if case is killed:
            case(Kennel(folder, 10000), random_)
        else:
            case(Kennel(folder))
    print("ok", case.__name__, flush=True)
