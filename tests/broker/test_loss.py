#!/usr/bin/python3
# SPDX-License-Identifier: MIT
"""
What is lost where a program dies or a disk is put back: nothing. The receiver counts what came by its id, and asks for
what is missing as contrib/broker/MESSAGES.md tells it to.
"""
import json
import os
import random
import shutil
import sys

from lab import Broker, Ledger, Receiver, Rig, run_cases, wait_for

MANY = 10000
ROOM = ("max_queued_messages 0",)  # what a slow receiver costs is tried in test_again_of_what_a_broker_dropped


def show(receiver, n, what, log="reading"):
    came, taken = receiver.n[log], len(receiver.taken[log])
    print(f"# {what}: {n} in, {came} out, {came - taken} repeated, {len(receiver.missing(n, log))} missing", flush=True)


def filled(rig, n=MANY):
    ledger = rig.ledger()
    ledger.answers(ledger.animal("Moss"), n)
    return ledger


def whole(receiver, n):
    """All there once each, and each as the ledger has it."""
    assert receiver.missing(n) == [] and len(receiver.taken["reading"]) == n, receiver.counts()


def test_broker_away(build):
    """Ten thousand readings while it is away; then each comes once, in order. What was under way when it went may come
    twice, as QoS 1 has it (MQTT 3.1.1, 4.3.2)."""
    with Rig(build) as rig:
        ledger = filled(rig, 10)
        broker = Broker(rig, persistent=True, settings=ROOM).start()
        receiver = Receiver(broker.port)
        rig.start_bridge(broker)
        receiver.until_state(reading=10)
        broker.stop()
        rig.bridge.until("no broker at .*: (nobody listens there|the connection was closed); trying again")
        ledger.answers(ledger.animal("Fern"), MANY - 10)
        broker.start()
        receiver.until(lambda: not receiver.missing(MANY), "all of them")
        show(receiver, MANY, "broker away")
        whole(receiver, MANY)
        assert receiver.order["reading"] == list(range(1, MANY + 1)), receiver.counts()
        late = [seq for seq in (json.loads(raw)["seq"] for raw in receiver.raw) if seq > 10]
        assert late == list(range(11, MANY + 1)), receiver.counts()
        assert len([line for line in rig.bridge.seen if "no broker" in line]) <= 2, rig.bridge.seen
        rows = {row[0]: row[1:] for row in rig.rows("SELECT answer_id, seq, animal, weighed_at_ms FROM answer_log")}
        for key, told in receiver.taken["reading"].items():
            assert rows[key] == (told["seq"], told["animal"], told["at_ms"]), (rows[key], told)
        receiver.close()
        rig.stop_bridge()
        ledger.close()


def kill_the_broker(build, persistent, kills=8):
    with Rig(build) as rig:
        seed = random.randrange(1 << 32)
        print(f"# seed {seed}", flush=True)
        dice = random.Random(seed)
        ledger = filled(rig)
        broker = Broker(rig, persistent=persistent, settings=(*ROOM, "autosave_on_changes true") if persistent else ROOM).start()
        receiver = Receiver(broker.port)
        rig.start_bridge(broker, "--rate", 5000)
        for _ in range(kills):
            more = len(receiver.taken["reading"]) + dice.randrange(200, 900)
            receiver.until(lambda: len(receiver.taken["reading"]) >= min(more, MANY) or receiver.says(reading=MANY), "more")
            n = receiver.subscribed
            broker.stop(9)
            broker.start()
            receiver.until(lambda: receiver.subscribed > n, "the receiver is back")
        receiver.until_state(state="here", reading=MANY)
        lost = len(receiver.missing(MANY))
        asked = receiver.fetch(MANY)
        show(receiver, MANY, f"broker killed {kills} times {'with' if persistent else 'without'} persistence, {lost} asked for in {asked}")
        whole(receiver, MANY)
        receiver.close()
        rig.stop_bridge()
        ledger.close()


def test_broker_killed(build):
    kill_the_broker(build, True)


def test_broker_killed_and_forgetful(build):
    kill_the_broker(build, False)


def test_again_of_what_a_broker_dropped(build):
    """A receiver that is away while more comes than its broker keeps for it, by mosquitto's own limit."""
    with Rig(build) as rig:
        ledger = filled(rig)
        broker = Broker(rig).start()
        receiver = Receiver(broker.port)
        receiver.close()
        rig.start_bridge(broker)
        wait_for(lambda: (rig.bridge_state / "position.json").exists() and rig.position()["reading"]["seq"] == MANY, "all are out")
        receiver = Receiver(broker.port)
        receiver.until_state(reading=MANY)
        lost = len(receiver.missing(MANY))
        asked = receiver.fetch(MANY)
        assert lost > 0, "it kept all"
        show(receiver, MANY, f"broker dropped {lost}, asked for in {asked}")
        whole(receiver, MANY)
        receiver.close()
        rig.stop_bridge()
        ledger.close()


def test_bridge_killed(build):
    """Sixty times, at random, while ten thousand go out: only the same again, nothing missing."""
    with Rig(build) as rig:
        seed = random.randrange(1 << 32)
        print(f"# seed {seed}", flush=True)
        dice = random.Random(seed)
        ledger = filled(rig)
        broker = Broker(rig, settings=ROOM).start()
        receiver = Receiver(broker.port)
        for _ in range(60):
            rig.start_bridge(broker, "--rate", 20000)
            more = min(len(receiver.taken["reading"]) + dice.randrange(1, 160), MANY)
            receiver.until(lambda: len(receiver.taken["reading"]) >= more, "more")
            rig.bridge.end(9)
        n = len(receiver.taken["reading"])
        rig.start_bridge(broker)
        receiver.until_state(state="here", reading=MANY)
        show(receiver, MANY, f"bridge killed 60 times within {n}")
        whole(receiver, MANY)
        by_seq = {}
        for raw in receiver.raw:
            told = json.loads(raw)
            assert by_seq.setdefault(told["seq"], raw) == raw, (by_seq[told["seq"]], raw)  # the same again, octet for octet
        assert sorted(os.listdir(rig.bridge_state)) == ["position.json"], os.listdir(rig.bridge_state)
        receiver.close()
        rig.stop_bridge()
        ledger.close()


def test_position_torn(build):
    with Rig(build) as rig:
        ledger = filled(rig, 200)
        broker = Broker(rig, settings=ROOM).start()
        receiver = Receiver(broker.port)
        rig.once(broker)
        path = rig.bridge_state / "position.json"
        good = path.read_bytes()
        whole(receiver, 200)
        for octets, why in ((good[:len(good) // 2], "isn't what it was written as"), (b"\0" * len(good), "isn't what it was written as"),
                            (b"", "isn't what it was written as"), (good.replace(b"127.0.0.1", b"127.0.0.2"), "is another than before"),
                            (good.replace(b'"seq":200', b'"seq":199'), "older copy was put back")):
            path.write_bytes(octets)
            n = receiver.n["reading"]
            program = rig.once(broker)
            assert why in "\n".join(program.seen), program.seen
            receiver.until(lambda: receiver.n["reading"] == n + 200, "all again")
            assert path.read_bytes() == good, path.read_bytes()
        show(receiver, 200, "position torn five times")
        whole(receiver, 200)
        path.unlink()
        path.mkdir()  # it can't be written there: told once, and all goes on
        program = rig.once(broker)
        assert len([line for line in program.seen if "can't be kept" in line]) == 1, program.seen
        receiver.close()
        ledger.close()


def test_ledger_put_back(build):
    """An older copy, as README.md has it put back: what was recorded since has other ids at the same seq, and comes."""
    with Rig(build) as rig:
        ledger = filled(rig, 100)
        copy = rig.dir / "copy.db"
        rig.bismar("backup", str(copy))
        ledger.answers(ledger.animal("Fern"), 50)
        broker = Broker(rig, settings=ROOM).start()
        receiver = Receiver(broker.port)
        rig.start_bridge(broker)
        receiver.until_state(reading=150)
        ledger.close()
        rig.daemon.end()
        for suffix in ("", "-wal", "-shm"):
            os.rename(f"{rig.database}{suffix}", rig.dir / f"before{suffix}")
        shutil.copy(copy, rig.database)
        rig.start_daemon()
        rig.bridge.until("older copy was put back")
        receiver.until_state(reading=100)
        for _ in range(3):
            rig.one_more()
        receiver.until_state(reading=103)
        at = {}
        for told in receiver.taken["reading"].values():
            at[told["seq"]] = max(at.get(told["seq"], ""), told["id"])  # the greater id holds
        rows = dict(rig.rows("SELECT seq, answer_id FROM answer_log"))
        assert len(rows) == 103 and all(at[seq] == key for seq, key in rows.items()), "not what the ledger has"
        print(f"# ledger put back: {receiver.counts()}")
        receiver.close()
        rig.stop_bridge()


def test_no_ledger_yet(build):
    """It waits for the database, says so once, and needs no bismard when it is there."""
    with Rig(build) as rig:
        broker = Broker(rig).start()
        receiver = Receiver(broker.port)
        rig.daemon.end()
        away = rig.dir / "away"
        os.rename(rig.database.parent, away)
        rig.start_bridge(broker)
        rig.bridge.until("There is no database at .* Waiting for it")
        os.rename(away, rig.database.parent)
        rig.start_daemon()  # it is told when bismard answers
        rig.bridge.until("the database can be read")
        rig.one_more()
        receiver.until_state(reading=1)
        rig.daemon.end()
        ledger = Ledger(rig.database)
        ledger.answers(ledger.animal("Moss"), 4)  # seen within the minute
        receiver.until_state(reading=5)
        assert len([line for line in rig.bridge.seen if "Waiting for it" in line]) == 1, rig.bridge.seen
        rig.stop_bridge()
        # the same state folder twice is refused
        rig.start_bridge(broker)
        receiver.until_state(state="here")
        second = rig.run(*rig.bridge_words(broker))
        assert second.process.wait(20) == 1
        second.until("another bismar-broker runs with")
        receiver.close()
        rig.stop_bridge()
        ledger.close()


def test_memory(build):
    """A hundred thousand readings, then once more: what it holds of its own doesn't grow with them."""
    first, n = 5000, 100000
    with Rig(build) as rig:
        ledger = filled(rig, first)
        broker = Broker(rig, settings=ROOM).start()
        rig.start_bridge(broker)
        path = rig.bridge_state / "position.json"
        wait_for(lambda: path.exists() and rig.position()["reading"]["seq"] == first, "the first")
        before = rig.bridge.own_kb()
        ledger.answers(ledger.animal("Fern"), n - first)
        rig.one_more()
        most = [before]

        def out():
            most.append(rig.bridge.own_kb())
            return rig.position()["reading"]["seq"] == n + 1
        wait_for(out, "all are out", 300)
        print(f"# memory of its own: {before} kB after {first}, {max(most)} kB at most and {most[-1]} kB after {n + 1}")
        rig.bridge.grown(before, 512)
        rig.stop_bridge()
        ledger.close()


if __name__ == "__main__":
    run_cases(globals(), sys.argv)
