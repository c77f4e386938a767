#!/usr/bin/python3
# SPDX-License-Identifier: MIT
"""usage: test_gather.py BUILD [KILLS]
bismar-gather between the real mosquitto and the real PostgreSQL: what ledgers have is there, value for value, whatever is
killed, and whatever else is published. Figures are counted from the ledgers, not from what the program says."""
import json
import os
import random
import signal
import subprocess
import sys
import time

from ledgers import Ledger, connect
from rig import PATIENCE, Rig, skip_unless_there, until

BUILD = os.path.abspath(sys.argv[1])
KILLS = int(sys.argv[2]) if len(sys.argv) > 2 else 12
NAMES = ("moss", "fern", "gorse")
FAST = ("--wait", "1", "--every", "2")  # what takes ten seconds and a minute otherwise

# the columns that the view has from MESSAGES.md, and as protocols/database.md's `reading` has them
READING = ("reading_id", "animal_id", "animal", "collar", "litter_id", "litter", "at", "at_ms", "net_g", "u_g", "gross_g",
           "tare_g", "container", "scale", "origin", "state", "fed", "answered_at_ms", "answered_by", "offset_min", "step_g")
CONCERN = ("concern_id", "animal_id", "animal", "level", "rule", "text", "source", "since_ms", "litter_id", "litter")


def from_ledger(ledger, view, columns):
    db = connect(ledger.path)
    try:
        return sorted(db.execute("SELECT %s FROM %s" % (", ".join(columns), view)), key=str)
    finally:
        db.close()


def from_postgres(rig, view, columns, bridge):
    found = rig.rows("SELECT %s FROM bismar.%s WHERE bridge = '%s'" % (", ".join(columns), view, bridge))
    return sorted((tuple(row[name] for name in columns) for row in found), key=str)


def numbers(row):
    """272 and 272.0 are one value; JSON doesn't say which it was."""
    return tuple(float(v) if isinstance(v, (int, float)) else v for v in row)


def same(rig, name, ledger):
    for view, source, columns in ("reading", "reading", READING), ("concern_now", "concern_now", CONCERN):
        want = sorted(map(numbers, from_ledger(ledger, source, columns)), key=str)
        found = sorted(map(numbers, from_postgres(rig, view, columns, name)), key=str)
        assert len(want) == len(found), (name, view, len(want), len(found))
        assert want == found, (name, view, [pair for pair in zip(want, found) if pair[0] != pair[1]][:2])


def keys(ledger, log, key):
    db = connect(ledger.path)
    try:
        return {row[0] for row in db.execute("SELECT %s FROM %s" % (key, log))}
    finally:
        db.close()


def heads(ledger):
    db = connect(ledger.path)
    try:
        return tuple(db.execute("SELECT coalesce(max(seq), 0) FROM " + log).fetchone()[0] for log in ("answer_log", "concern_log"))
    finally:
        db.close()


def complete(rig, name, ledger):
    """All that the ledger has, in PostgreSQL without a gap."""
    found = {topic: (int(complete), int(head)) for topic, complete, head in
             rig.sql("SELECT topic, complete, head FROM bismar.bridge WHERE bridge = '%s'" % name)}
    reading, concern = heads(ledger)
    return found.get("reading") == (reading, reading) and found.get("concern") == (concern, concern)


def counts(rig, ledgers):
    """In, out, doubled, missing, of both logs."""
    text = []
    for topic, log, key in ("reading", "answer_log", "answer_id"), ("concern", "concern_log", "entry_id"):
        want = {(name, value) for name, ledger in ledgers.items() for value in keys(ledger, log, key)}
        found = [tuple(row) for row in rig.sql("SELECT bridge, id FROM bismar.%s_message" % topic)]
        numbers_ = len(want), len(found), len(found) - len(set(found)), len(want - set(found))
        assert numbers_[0] == numbers_[1] and numbers_[2:] == (0, 0), (topic, numbers_)
        text.append("%s %d %d %d %d" % (topic, *numbers_))
    return ", ".join(text)


def create(rig):
    rig.sql("DROP SCHEMA IF EXISTS bismar CASCADE")
    assert rig.gather("--create").end(0) == 0


def drop_session(rig):
    """Each case begins with a broker that knows nothing."""
    rig.broker.end(signal.SIGKILL)
    rig.start_broker()


def send(rig, topic, payload, retain=False):
    """One message, QoS 1, by a client that isn't ours."""
    with subprocess.Popen(["/usr/bin/python3", "-c", "import sys\nimport paho.mqtt.publish as p\n"
                           "p.single(sys.argv[1], sys.stdin.buffer.read(), 1, %r, 'localhost', %d)" % (retain, rig.port), topic],
                          stdin=subprocess.PIPE) as child:
        child.communicate(payload if isinstance(payload, bytes) else json.dumps(payload).encode())
        assert child.returncode == 0


def schema(rig):
    status, said = rig.once()
    assert status == 2 and "--create" in said, said
    create(rig)
    create(rig)
    assert rig.gather("--create").end(0) == 0  # it is there: nothing is done
    for words in (("--port", "0"), ("--topic", "a/#"), ("--wait", "x"), ("--cert", "x"), ("more",), ("--nothing",)):
        assert rig.gather(*words).end(0) == 2, words
    columns = [row[0] for row in rig.sql("SELECT column_name FROM information_schema.columns WHERE table_schema = 'bismar' AND "
                                         "table_name = 'reading' ORDER BY ordinal_position")]
    text = open(os.path.join(os.path.dirname(__file__), "../../contrib/broker/MESSAGES.md")).read()
    told, section = [], ""
    for line in text.splitlines():
        section = line[3:].strip("`") if line.startswith("## ") else section
        if section == "reading" and line.startswith("| `"):
            told += [cell.strip().strip("`") for cell in line.split("|")[1].split(",")]
    assert columns == told, (columns, told)


def once(rig):
    """What was published while nobody listened is asked for, once; the second time nothing is new."""
    create(rig)
    ledger = Ledger(BUILD, rig.folder + "/once", 11)
    ledger.grow(700)
    publisher = rig.publish("moss", ledger.path)
    rig.until_told("moss", *heads(ledger))
    status, said = rig.once("--wait", "1", "--every", "30")
    assert status == 0, said
    same(rig, "moss", ledger)
    wishes = [line for line in said.splitlines() if "is asked" in line]
    assert len(wishes) == 1 and '"reading": 1' in wishes[0] and '"concern": 1' in wishes[0], wishes
    status, said = rig.once(*FAST)
    assert status == 0 and " 0 new messages" in said, said
    # the same once more, from the beginning: the same rows
    publisher.end()
    rig.publish("moss", ledger.path, "--once").process.wait(PATIENCE)
    status, said = rig.once(*FAST)
    assert status == 0 and " 0 new messages" in said, said
    same(rig, "moss", ledger)
    # a bridge that went before all of it was here
    ledger.grow(30)
    drop_session(rig)
    rig.publish("moss", ledger.path)
    rig.until_told("moss", *heads(ledger))
    rig.programs[-1].end(signal.SIGKILL)  # the broker tells that it is gone
    reading = heads(ledger)[0]
    send(rig, "bismar/moss/state", {"bridge": "moss", "state": "here", "reading": reading, "concern": heads(ledger)[1]}, True)
    status, said = rig.once(*FAST)
    assert status == 1 and "of %d" % reading in said, said


def hostile(rig):
    """What is broken is counted and told with its bridge, and stops nothing."""
    create(rig)
    drop_session(rig)
    ledger = Ledger(BUILD, rig.folder + "/hostile", 12)
    ledger.grow(200)
    gather = rig.gather(*FAST)
    publisher = rig.publish("moss", ledger.path)
    until(lambda: complete(rig, "moss", ledger))
    db = connect(ledger.path)
    row = dict(zip(("id", "seq", "reading_id", "at_ms"), db.execute(
        "SELECT answer_id, seq, weighing_id, weighed_at_ms FROM answer_log WHERE kind = 'answer' LIMIT 1").fetchone()))
    db.close()
    good = {"id": "019b76eb-0e2c-7154-8111-7595de3a5db5", "bridge": "evil", "seq": 1, "reading_id": row["reading_id"],
            "kind": "answer", "animal_id": "019b76ea-1abf-71a2-9450-c464e6c3f339", "animal": "Robin'); DROP TABLE bismar.bridge; --",
            "collar": "$1", "litter_id": "019b76ea-0b9f-7720-ae2d-b63f442e3d43", "litter": "\\x00 {} \"'", "at": "x", "at_ms": 5,
            "offset_min": 0, "net_g": 1e3, "u_g": 0, "gross_g": 1, "tare_g": 0, "step_g": None, "container": None, "scale": None,
            "origin": "radio", "state": "settled", "fed": None, "why": None, "answered_at_ms": 5, "answered_by": "x", "more": [1]}

    def but(**changes):
        return {**good, **changes}
    bad = [b"", b"{", b"null", b"[]", b"\xff\xfe", b"{\"bridge\": \"evil\"", b"[" * 5000, b"x" * 70000, {}, {"bridge": "evil"},
           json.dumps(good).encode()[:-9], json.dumps(good).replace('"seq": 1', '"seq": 1, "seq": 2').encode(),
           json.dumps(good).replace('"net_g": 1000.0', '"net_g": 1e999').encode(),
           json.dumps(good).replace('"net_g": 1000.0', '"net_g": NaN').encode(),
           json.dumps(but(animal="\u0000")).encode(), json.dumps(but(animal="x")).replace('"x"', '"\\ud800"', 1).encode(),
           but(bridge="moss"), but(bridge=None), but(id="x"), but(id=row["id"].upper()), but(seq=0), but(seq=-1), but(seq=1.5),
           but(seq="1"), but(seq=True), but(seq=10 ** 18), but(seq=10 ** 30), but(kind="delete"), but(kind=None), but(net_g="1"),
           but(net_g=1e7), but(net_g=None), but(u_g=-1), but(at_ms=10 ** 16), but(at_ms=-1), but(offset_min=5000),
           but(animal_id=None), but(kind="aside"), but(animal="x" * 5000), but(origin="sky"), but(state=""), but(fed="during"),
           but(answered_by=None), but(step_g=[]), but(animal={"a": 1})]
    missing = dict(good)
    del missing["tare_g"]
    bad.append(missing)
    script = ("import json, sys\nimport paho.mqtt.publish as p\n"
              "p.multiple([(t, bytes.fromhex(b), 1, False) for t, b in json.load(sys.stdin)], 'localhost', %d)" % rig.port)
    messages = [("bismar/evil/reading", m) for m in bad]
    messages += [("bismar/evil/concern", b"{}"), ("bismar/evil/concern", but()), ("bismar/a\u202eb/state", {"state": "here"}),
                 ("bismar/" + "n" * 65 + "/state", {"bridge": "n" * 65, "state": "gone"}), ("bismar//reading", but(bridge="")),
                 ("bismar/moss/reading", but(bridge="evil"))]
    messages += [("bismar/evil/state", m) for m in (
        {"bridge": "evil", "state": "here"}, {"bridge": "evil", "state": "here", "reading": -1, "concern": 0},
        {"bridge": "evil", "state": "here", "reading": 10 ** 17, "concern": 0}, {"bridge": "evil", "state": "away"},
        {"bridge": "moss", "state": "gone"}, {"state": "gone"})]
    refused = len(messages)
    # and one that is well, but takes an id of another bridge, an animal's name with all that SQL could mind, and seq far ahead
    messages += [("bismar/evil/reading", good), ("bismar/evil/reading", but(id=row["id"], seq=2 ** 53 - 1)),
                 ("bismar/evil/state", {"bridge": "evil", "state": "here", "reading": 2 ** 53 - 1, "concern": 5})]
    done = subprocess.run(["/usr/bin/python3", "-c", script], input=json.dumps(
        [(t, (m if isinstance(m, bytes) else json.dumps(m).encode()).hex()) for t, m in messages]), text=True)
    assert done.returncode == 0
    until(lambda: rig.sql("SELECT 1 FROM bismar.bridge WHERE bridge = 'evil' AND head > 0"))
    ledger.grow(50)
    until(lambda: complete(rig, "moss", ledger))
    same(rig, "moss", ledger)
    assert rig.one("SELECT count(*) FROM bismar.reading WHERE bridge = 'evil'") == "1"  # both are of one reading_id
    assert sorted(row[0] for row in rig.sql("SELECT DISTINCT bridge FROM bismar.bridge")) == ["evil", "moss"]
    assert rig.one("SELECT animal FROM bismar.reading_message WHERE bridge = 'evil' AND seq = 1") == good["animal"]
    assert rig.one("SELECT count(*) FROM bismar.reading_message WHERE bridge = 'moss'") == str(heads(ledger)[0])
    gather.until("evil is asked")
    assert gather.end() == 0
    said = "\n".join(gather.seen)
    assert "%d refused" % refused in said, (refused, said)
    assert "a message of evil on" in said and said.count("is refused") <= 20, said
    # of those that came while its row was there, that row has a count
    assert 0 <= int(rig.one("SELECT refused FROM bismar.bridge WHERE bridge = 'evil' AND topic = 'reading'")) <= refused
    publisher.end()


def put_back(rig):
    """A ledger that was put back from an older copy gives seq anew: what was there stays, what is new comes."""
    create(rig)
    drop_session(rig)
    ledger = Ledger(BUILD, rig.folder + "/back", 13)
    ledger.grow(200)
    gather = rig.gather(*FAST)
    publisher = rig.publish("moss", ledger.path)
    until(lambda: complete(rig, "moss", ledger))
    copy = rig.folder + "/copy.db"
    db = connect(ledger.path)
    db.execute("VACUUM INTO ?", (copy,))
    db.close()
    ledger.grow(60)
    until(lambda: complete(rig, "moss", ledger))
    old = keys(ledger, "answer_log", "answer_id")
    publisher.end()
    gather.end()
    ledger.put_back(copy)
    ledger.grow(20)
    drop_session(rig)
    publisher = rig.publish("moss", ledger.path)  # nobody listens: all of it has to be asked for
    rig.until_told("moss", *heads(ledger))
    gather = rig.gather(*FAST)
    until(lambda: complete(rig, "moss", ledger))
    ledger.grow(100)  # past where it was
    until(lambda: complete(rig, "moss", ledger))
    new = keys(ledger, "answer_log", "answer_id")
    found = {row[0] for row in rig.sql("SELECT id FROM bismar.reading_message WHERE bridge = 'moss'")}
    assert found == old | new, (len(found), len(old), len(new))
    readings = set(map(numbers, from_ledger(ledger, "reading", READING)))
    assert readings <= set(map(numbers, from_postgres(rig, "reading", READING, "moss")))
    publisher.end()
    gather.end()


def wishes_are_rare(rig):
    """A bridge that doesn't follow is asked once in --every, and not before --wait is over."""
    create(rig)
    drop_session(rig)
    ledger = Ledger(BUILD, rig.folder + "/rare", 14)
    ledger.grow(20)
    listener = subprocess.Popen(["/usr/bin/python3", "-c", (
        "import time, paho.mqtt.subscribe as s\nprint('ready', flush=True)\n"
        "s.callback(lambda c, u, m: print(m.payload.decode(), time.monotonic(), flush=True), 'bismar/+/again', 1, "
        "hostname='localhost', port=%d)" % rig.port)], stdout=subprocess.PIPE, text=True)
    try:
        listener.stdout.readline()
        began = time.monotonic()
        send(rig, "bismar/moss/state", {"bridge": "moss", "state": "here", "reading": 17, "concern": 3}, True)
        gather = rig.gather("--wait", "2", "--every", "4")
        lines = [listener.stdout.readline().split("} ") for _ in range(3)]
        times = [float(line[1]) for line in lines]
        assert all(json.loads(line[0] + "}") == {"reading": 1, "concern": 1} for line in lines), lines
        assert times[0] - began >= 2 and all(b - a >= 3.9 for a, b in zip(times, times[1:])), (began, times)
        gather.end()
        status, said = rig.once("--wait", "1", "--every", "1")
        assert status == 1 and "complete up to 0 of 17" in said, said
    finally:
        listener.kill()
        listener.wait()


def postgres_away(rig):
    """It leaves the broker, keeps little in memory, comes back, and asks for what the broker couldn't keep."""
    create(rig)
    drop_session(rig)
    ledger = Ledger(BUILD, rig.folder + "/away", 15)
    ledger.grow(100)
    gather = rig.gather(*FAST)
    publisher = rig.publish("moss", ledger.path)
    until(lambda: complete(rig, "moss", ledger))

    def memory_kb():
        return int(next(line for line in open("/proc/%d/status" % gather.process.pid) if line.startswith("VmRSS")).split()[1])
    before = memory_kb()
    rig.stop_postgres("immediate")
    ledger.grow(5000)
    gather.until("PostgreSQL can't be used")
    rig.until_told("moss", *heads(ledger))
    assert memory_kb() - before < 32768, (before, memory_kb())
    rig.start_postgres()
    gather.until("there again")
    until(lambda: complete(rig, "moss", ledger))
    same(rig, "moss", ledger)
    # a second receiver on the same database waits
    second = rig.gather("--client", "second")
    second.until("another bismar-gather")
    second.end()
    # sessions that are cut from outside
    for _ in range(3):
        ledger.grow(50)
        rig.sql("SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE application_name = 'bismar-gather'")
    until(lambda: complete(rig, "moss", ledger))
    same(rig, "moss", ledger)
    publisher.end()
    assert gather.end() == 0


def guarded(rig):
    """TLS and a password: the right ones, and none."""
    create(rig)
    rig.broker.end()
    folder = rig.folder + "/tls"
    os.mkdir(folder)
    for words in (("req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", "/CN=localhost", "-addext",
                   "subjectAltName=DNS:localhost,IP:127.0.0.1", "-keyout", folder + "/key", "-out", folder + "/cert"),
                  ("req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", "/CN=other", "-keyout",
                   folder + "/key2", "-out", folder + "/cert2")):
        assert subprocess.run(["openssl", *words], stderr=subprocess.DEVNULL).returncode == 0
    for name in "cert", "key":
        os.chmod(folder + "/" + name, 0o644)
    with open(folder + "/passwords", "w") as file:
        file.write("house:correct horse\n")
    assert subprocess.run(["mosquitto_passwd", "-U", folder + "/passwords"]).returncode == 0
    os.chmod(folder + "/passwords", 0o644)
    os.chmod(folder, 0o755)
    rig.start_broker("allow_anonymous false", "password_file %s/passwords" % folder, "certfile %s/cert" % folder,
                     "keyfile %s/key" % folder)
    with open(folder + "/password", "w") as file:
        os.chmod(folder + "/password", 0o600)
        file.write("correct horse\n")
    with open(folder + "/wrong", "w") as file:
        os.chmod(folder + "/wrong", 0o600)
        file.write("battery\n")
    good = ("--ca", folder + "/cert", "--user", "house", "--password-file", folder + "/password")
    status, said = rig.once("--host", "localhost", *good)
    assert status == 0, said
    env = dict(rig.env)
    rig.env["CREDENTIALS_DIRECTORY"] = folder
    status, said = rig.once("--host", "localhost", "--ca", folder + "/cert", "--user", "house")
    assert status == 0, said
    rig.env = env
    for words, text in ((("--ca", folder + "/cert2", *good[2:]), "isn't there"),
                        ((*good[:4], "--password-file", folder + "/wrong"), "isn't there"), ((), "isn't there")):
        gather = rig.gather("--host", "localhost", *words)
        gather.until(text)
        assert gather.end() == 0
    for words, text in ((("--host", "192.0.2.1", "--user", "house", "--password-file", folder + "/password"), "use TLS"),
                        (("--password-file", folder + "/password"), "--user"),
                        (("--user", "x", "--password-file", folder + "/cert"), "chmod"),
                        (("--user", "x", "--password-file", folder + "/none"), "can't be read")):
        gather = rig.gather(*words)
        assert gather.end(0) == 2 and text in "\n".join(gather.seen), (words, gather.seen)

    rig.broker.end()
    rig.start_broker()


def everything_dies(rig, random_):
    """Three bismar-brokers, of 10,000 readings each, which grow meanwhile; what is killed, and when, is drawn."""
    create(rig)
    drop_session(rig)
    ledgers = {name: Ledger(BUILD, rig.folder + "/" + name, seed) for seed, name in enumerate(NAMES, 1)}
    for ledger in ledgers.values():
        ledger.grow(9000)
    began, done = time.monotonic(), {"gather": 0, "mosquitto": 0, "PostgreSQL": 0, "a bridge": 0}
    publishers = {name: rig.publish(name, ledger.path, ours=True) for name, ledger in ledgers.items()}
    gather = rig.gather(*FAST)
    for turn in range(KILLS):
        for ledger in ledgers.values():
            ledger.grow(1000 // KILLS + (turn < 1000 % KILLS))
        time.sleep(random_.uniform(.05, 1.5))  # the instant is what is tried
        what = ("gather", "gather", "gather", "mosquitto", "PostgreSQL", "a bridge")[turn % 6]
        done[what] += 1
        if what == "gather":
            assert gather.end(signal.SIGKILL) == -signal.SIGKILL
            gather = rig.gather(*FAST)
        elif what == "mosquitto":
            rig.broker.end(signal.SIGKILL)
            rig.start_broker()
        elif what == "PostgreSQL":
            rig.stop_postgres(random_.choice(("immediate", "fast")))
            rig.start_postgres()
        else:
            name = random_.choice(NAMES)
            publishers[name].end(signal.SIGKILL)
            publishers[name] = rig.publish(name, ledgers[name].path, ours=True)
    for name, ledger in ledgers.items():
        try:
            until(lambda: complete(rig, name, ledger), 240)
        except AssertionError:
            print(name, heads(ledger), rig.sql("SELECT *, now() FROM bismar.bridge"), file=sys.stderr)
            raise
    gather.end()
    for name, ledger in ledgers.items():
        publishers[name].end()
        same(rig, name, ledger)
    assert sum(len(keys(ledger, "weighing_log", "weighing_id")) for ledger in ledgers.values()) == 30000
    print("killed %s; %.0f s; in, out, doubled, missing: %s" % (
        ", ".join("%s %d times" % pair for pair in done.items()), time.monotonic() - began, counts(rig, ledgers)))


skip_unless_there()
with Rig(BUILD) as rig:
    for case in (schema, once, hostile, put_back, wishes_are_rare, postgres_away, guarded):
        if len(sys.argv) > 3 and case.__name__ not in sys.argv[3:]:
            continue
        case(rig)
        print("ok", case.__name__, flush=True)
    if len(sys.argv) <= 3 or "everything_dies" in sys.argv[3:]:
        everything_dies(rig, random.Random(20261126))
        print("ok everything_dies")
