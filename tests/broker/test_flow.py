#!/usr/bin/python3
# SPDX-License-Identifier: MIT
"""What comes to a receiver: readings, what becomes of them, concerns, the state; and what was asked for again."""
import sys
import time

from lab import Broker, Receiver, Rig, run_cases, wait_for

READING = ("id bridge seq reading_id kind animal_id animal collar litter_id litter at at_ms offset_min net_g u_g gross_g tare_g step_g "
           "container scale origin state fed why answered_at_ms answered_by").split()
CONCERN = "id bridge seq concern_id animal_id animal litter_id litter at at_ms state level rule text source since_ms".split()


def last(receiver, log, n):
    receiver.until(lambda: len(receiver.taken[log]) >= n, f"{n} of {log}")
    return max(receiver.taken[log].values(), key=lambda told: told["seq"])


def test_a_reading_and_what_becomes_of_it(build):
    with Rig(build, scale=True) as rig:
        rig.litter()
        broker = Broker(rig).start()
        receiver = Receiver(broker.port)
        rig.start_bridge(broker)
        receiver.until_state(state="here", bridge="shed", reading=0)
        rig.sim_do("pup 305")
        wait_for(lambda: rig.rows("SELECT 1 FROM unanswered"), "the weighing")
        rig.bismar("answer", "Moss")
        told = last(receiver, "reading", 1)
        row = rig.rows("SELECT reading_id, net_g, u_g, gross_g, at, at_ms, scale, animal_id FROM reading")[0]
        assert (told["reading_id"], told["net_g"], told["u_g"], told["gross_g"], told["at"], told["at_ms"], told["scale"],
                told["animal_id"]) == row, (told, row)
        assert (told["kind"], told["animal"], told["collar"], told["litter"], told["origin"], told["seq"]) == \
            ("answer", "Moss", "green", "hedge", "radio", 1), told
        reading = told["reading_id"]
        rig.bismar("correct", reading[-6:], "Fern")
        told = last(receiver, "reading", 2)
        assert (told["kind"], told["animal"], told["collar"], told["reading_id"]) == ("correct", "Fern", "red", reading), told
        rig.bismar("undo", "--ask", reading[-6:])
        told = last(receiver, "reading", 3)
        assert (told["kind"], told["animal"], told["animal_id"], told["litter"], told["collar"]) == ("reopen", None, None, None, None), told
        rig.bismar("aside")
        told = last(receiver, "reading", 4)
        assert (told["kind"], told["animal"], told["reading_id"], told["net_g"]) == ("aside", None, reading, 305.0), told
        receiver.until_state(reading=4)
        assert receiver.order["reading"] == [1, 2, 3, 4] and receiver.n["reading"] == 4
        for told in receiver.taken["reading"].values():
            assert list(told) == READING, list(told)
        print(f"# {receiver.counts()}")
        receiver.close()
        rig.stop_bridge()


def test_a_concern(build):
    with Rig(build) as rig:
        rig.litter(names=(("Moss", "green", 305),))
        broker = Broker(rig).start()
        receiver = Receiver(broker.port)
        rig.start_bridge(broker)
        receiver.until_state(state="here")
        rig.bismar("weigh", "Moss", "240g")  # a fifth under its birth weight
        told = last(receiver, "concern", 1)
        rows = rig.rows("SELECT entry_id, concern_id, animal, level, rule, text, source, since_ms, state FROM concern_log ORDER BY seq")
        receiver.until(lambda: len(receiver.taken["concern"]) == len(rows), "all concerns")
        for told, row in zip(receiver.taken["concern"].values(), rows):
            assert (told["id"], told["concern_id"], told["animal"], told["level"], told["rule"], told["text"], told["source"],
                    told["since_ms"], told["state"]) == row, (told, row)
            assert list(told) == CONCERN, list(told)
        receiver.close()
        rig.stop_bridge()


def test_names_of_all_kinds(build):
    names = ['"Moss"', "Möhre 🥕", "back\\slash", "new\nline", "tab\tnul-less", "عشب", "' OR 1=1 --", "a" * 256, "\u2028"]
    with Rig(build) as rig:
        ledger = rig.ledger()
        for name in names:
            animal = ledger.animal(name, litter=name[::-1], collar=name)
            ledger.answers(animal, 1)
            ledger.concern(animal, text=f"{name} is to be looked at")
        ledger.close()
        broker = Broker(rig).start()
        receiver = Receiver(broker.port)
        rig.start_bridge(broker)
        receiver.until_state(reading=len(names), concern=len(names))
        got = sorted(receiver.taken["reading"].values(), key=lambda told: told["seq"])
        assert [told["animal"] for told in got] == names and [told["collar"] for told in got] == names
        assert [told["litter"] for told in got] == [name[::-1] for name in names]
        assert [told["text"] for told in sorted(receiver.taken["concern"].values(), key=lambda told: told["seq"])] == \
            [f"{name} is to be looked at" for name in names]
        receiver.close()
        rig.stop_bridge()


def test_text_that_is_too_long(build):
    """No bismard writes it; the message stays below 64 KiB, and what comes after it comes."""
    with Rig(build) as rig:
        ledger = rig.ledger()
        animal = ledger.animal("é" * 100000)
        ledger.answers(animal, 2)
        ledger.close()
        broker = Broker(rig).start()
        receiver = Receiver(broker.port)
        rig.start_bridge(broker)
        receiver.until_state(reading=2)
        assert all(len(raw) < 65536 for raw in receiver.raw)
        assert {told["animal"] for told in receiver.taken["reading"].values()} == {"é" * 256}
        receiver.close()
        rig.stop_bridge()


def test_state_and_will(build):
    with Rig(build) as rig:
        ledger = rig.ledger()
        ledger.answers(ledger.animal("Moss"), 25)
        broker = Broker(rig, settings=("log_type all",)).start()
        rig.start_bridge(broker)
        first = Receiver(broker.port, client="one")
        first.until_state(state="here", reading=25, concern=0, bridge="shed")
        later = Receiver(broker.port, client="two")  # it is retained, and alone is
        later.until_state(state="here", reading=25)
        assert later.retained == [True] and later.n["reading"] == 0, (later.retained, later.counts())
        rig.bridge.end(9)  # SIGKILL: the broker tells
        first.until_state(state="gone", bridge="shed")
        assert "reading" not in first.states[-1]
        rig.start_bridge(broker)
        first.until_state(state="here", reading=25)
        rig.stop_bridge()  # an orderly end tells by itself
        first.until_state(state="gone")
        broker.program.until("Received DISCONNECT from bismar")
        assert first.missing(25) == [] and len(first.taken["reading"]) == 25, first.counts()  # the last second's may come again
        # a broker that still holds the old connection ends it, will and all, before the new one says that it is here
        rig.start_bridge(broker)
        first.until_state(state="here")
        rig.bridge.process.send_signal(19)  # SIGSTOP
        n = len(first.states)
        other = rig.run(*[str(w).replace(str(rig.bridge_state), str(rig.dir / "other")) for w in rig.bridge_words(broker)])
        first.until(lambda: len(first.states) >= n + 2, "both states")
        assert [state["state"] for state in first.states[n:n + 2]] == ["gone", "here"], first.states[n:]
        other.end()
        rig.bridge.process.send_signal(18)
        first.close()
        later.close()
        rig.stop_bridge()
        ledger.close()


def test_again(build):
    with Rig(build) as rig:
        ledger = rig.ledger()
        animal = ledger.animal("Moss")
        ledger.answers(animal, 300)
        for _ in range(3):
            ledger.concern(animal)
        broker = Broker(rig).start()
        rig.start_bridge(broker)
        early = Receiver(broker.port, client="early")
        early.until_state(reading=300, concern=3)
        late = Receiver(broker.port, client="late")  # was away, and its session with it
        late.until_state(reading=300)
        late.ask({"reading": 101, "concern": 2, "more": None})
        late.until(lambda: len(late.taken["reading"]) == 200 and len(late.taken["concern"]) == 2, "what was asked for")
        assert late.order["reading"] == list(range(101, 301)) and late.order["concern"] == [2, 3]
        # two more at once: the lowest is followed, once, and not within ten seconds of the one before
        late.ask({"reading": 50})
        late.ask({"reading": 40})
        late.until(lambda: late.n["reading"] == 200 + 261, "all from the lowest on")
        assert late.missing(300) == list(range(1, 40)), late.counts()
        followed = [line for line in rig.bridge.seen if "asked for once more" in line]
        assert len(followed) == 2, followed
        # what is asked for beyond the end is nothing, and new ones come as ever
        late.ask({"reading": 10 ** 15})
        rig.one_more()
        late.until_state(reading=301)
        assert late.n["reading"] == 200 + 261 + 1, late.counts()
        early.close()
        late.close()
        rig.stop_bridge()
        ledger.close()


def test_again_from_strangers(build):
    """Broken, hostile, huge, kept: a handful of lines, no harm, no loss."""
    bad = [b"", b"{", b"null", b"[]", b"17", b"{}", b'{"reading":0}', b'{"reading":-1}', b'{"reading":1.5}', b'{"reading":"1"}',
           b'{"reading":true}', b'{"reading":1e3}', b'{"reading":99999999999999999999}', b'{"reading":1,"reading":2}',
           b'{"concern":null}', b'{"reading":5,"concern":"x"}', b"\xff\xfe", b"\x00" * 50, b"[" * 1000, b'{"reading":' + b" " * 2000 + b"1}",
           b"x" * 1000000]
    with Rig(build) as rig:
        ledger = rig.ledger()
        animal = ledger.animal("Moss")
        ledger.answers(animal, 50)
        broker = Broker(rig, settings=("max_queued_messages 0",)).start()
        rig.start_bridge(broker)
        receiver = Receiver(broker.port)
        receiver.until_state(reading=50)
        before = rig.bridge.own_kb()
        for payload in bad:
            receiver.ask(payload)
        for _ in range(5000):
            receiver.ask(b"flood" * 20)
        receiver.ask({"reading": 50})
        receiver.until(lambda: receiver.n["reading"] >= 51, "a wish among them")
        assert receiver.n["reading"] == 51, receiver.counts()  # one wish among all these
        rig.one_more()
        receiver.until_state(reading=51)
        told = [line for line in rig.bridge.seen if "not understood" in line]
        assert 1 <= len(told) <= 5, told
        rig.bridge.grown(before, 3000)
        # a wish that somebody left retained is not followed at each connection
        receiver.client.publish("bismar/shed/again", b'{"reading":1}', 1, retain=True).wait_for_publish()
        rig.stop_bridge()
        rig.start_bridge(broker)
        receiver.until_state(state="here")
        rig.one_more()
        receiver.until_state(reading=52)
        assert not any("asked for once more" in line for line in rig.bridge.seen), rig.bridge.seen
        assert receiver.missing(52) == []
        print(f"# {len(bad) + 5000} wishes that are none, {len(told)} lines; {receiver.counts()}")
        receiver.close()
        rig.stop_bridge()
        ledger.close()


def test_once(build):
    with Rig(build) as rig:
        ledger = rig.ledger()
        animal = ledger.animal("Moss")
        ledger.answers(animal, 1000)
        broker = Broker(rig, settings=("max_queued_messages 0",)).start()
        receiver = Receiver(broker.port)
        rig.once(broker)
        receiver.until_state(state="gone")
        assert receiver.order["reading"] == list(range(1, 1001)) and receiver.n["reading"] == 1000, receiver.counts()
        assert {"state": "here", "bridge": "shed", "reading": 1000, "concern": 0} in receiver.states, receiver.states
        rig.once(broker)
        ledger.answers(animal, 3)
        rig.once(broker)
        receiver.until(lambda: receiver.n["reading"] == 1003, "three more")
        broker.stop()
        assert "nobody listens there; giving up" in "\n".join(rig.once(broker, status=1).seen)
        receiver.close()
        ledger.close()


def test_rate(build):
    """No faster than it is told to: what mosquitto holds for a slow receiver is little."""
    with Rig(build) as rig:
        ledger = rig.ledger()
        ledger.answers(ledger.animal("Moss"), 200)
        broker = Broker(rig).start()
        receiver = Receiver(broker.port)
        rig.start_bridge(broker, "--rate", 100)
        receiver.until(lambda: receiver.n["reading"] >= 1, "the first")
        began = time.monotonic()
        receiver.until_state(reading=200)
        took = time.monotonic() - began
        assert took >= 1.7, f"200 at 100 a second, 20 of them at once, in {took:.2f} s"  # (200 - 20) / 100 less a step
        receiver.close()
        rig.stop_bridge()
        ledger.close()


def test_options(build):
    cases = [
        (["--bridge", "a/b"], "parts the levels"), (["--bridge", "+"], r"stand for any topic"), (["--bridge", ""], "is empty"),
        (["--bridge", "a\nb"], "can't be in a topic"), (["--bridge", "x" * 65], "longer than 64"), (["--topic", "a//b"], "empty level"),
        (["--topic", "$SYS"], "broker's own"), (["--topic", "/a"], "empty level"), (["--port", "0"], "--port is 1 to 65535"),
        (["--port", "80x"], "--port is"), (["--cert", "/dev/null"], "whom to trust"), (["--ca", "/nowhere"], "can't be read"),
        (["--ca", "system", "--key", "/dev/null"], "go together"), (["more"], "one word too many"),
        (["--rate", "-1"], "--rate is"), (["--patience", "0"], "--patience is"), (["--log-level", "loud"], "--log-level is err"),
    ]
    with Rig(build) as rig:
        for words, why in cases:
            program = rig.run(rig.build / "contrib/broker/bismar-broker", *words)
            assert program.process.wait(20) == 2, words
            program.until(why)
        secret = rig.dir / "secret"
        secret.write_text("s3cret-word\n")
        for mode, words, why in ((0o644, ["--user", "me"], "other users"), (0o600, [], "takes a --user"),
                                 (0o600, ["--user", "me", "--host", "broker.example"], "for all to read")):
            secret.chmod(mode)
            program = rig.run(rig.build / "contrib/broker/bismar-broker", "--password-file", secret, *words)
            assert program.process.wait(20) == 2, words
            program.until(why)
            assert "s3cret" not in "\n".join(program.seen)
        secret.write_text("\nsecond\n")
        program = rig.run(rig.build / "contrib/broker/bismar-broker", "--password-file", secret, "--user", "me")
        assert program.process.wait(20) == 2
        program.until("no password")
        version = rig.run(rig.build / "contrib/broker/bismar-broker", "--version")
        assert version.process.wait(20) == 0
        version.until(r"^bismar-broker \d")


if __name__ == "__main__":
    run_cases(globals(), sys.argv)
