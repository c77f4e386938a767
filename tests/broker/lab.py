# SPDX-License-Identifier: MIT
"""
What the tests of bismar-broker share: the real mosquitto on a port of its own, bismard (with the simulated scale where
it is wanted, see tests/page/rig.py), bismar-broker, and a receiver that is another implementation (Eclipse Paho) and
does what contrib/broker/MESSAGES.md asks of one. Nothing waits for a time: each wait is for a message, a line or an end,
and gives up after PATIENCE seconds.
"""
import json
import os
import pathlib
import signal
import socket
import sqlite3
import sys
import threading
import time
import uuid

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / "page"))
import rig as page_rig  # noqa: E402
from rig import run_cases  # noqa: E402, F401

import paho.mqtt.client as mqtt  # noqa: E402

PATIENCE = page_rig.PATIENCE = 90  # a sanitizer takes its time
LOGS = ("reading", "concern")
T0 = 1767225600000  # 2026-01-01T00:00:00Z


def free_port():
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return one.getsockname()[1]


class Broker:
    """mosquitto(8) of Debian; `settings` are lines of mosquitto.conf(5) besides the listener."""

    def __init__(self, rig, persistent=False, settings=(), listener=("allow_anonymous true",), port=None):
        self.rig, self.port = rig, port or free_port()
        self.dir = rig.dir / f"mosquitto-{self.port}"
        self.dir.mkdir(exist_ok=True)
        lines = [f"listener {self.port} 127.0.0.1", *listener, f"user {os.environ.get('USER', 'root')}"]
        lines[-1] = "user root" if os.geteuid() == 0 else ""
        if persistent:
            lines += ["persistence true", f"persistence_location {self.dir}/", "autosave_interval 1"]
        (self.dir / "mosquitto.conf").write_text("\n".join([*lines, *settings, ""]))
        self.program = None

    def start(self):
        self.program = self.rig.run("mosquitto", "-c", self.dir / "mosquitto.conf")
        self.program.until(" running$")
        return self

    def stop(self, number=signal.SIGTERM):
        self.program.end(number)


class Receiver:
    """Takes each message once by its id, as MESSAGES.md has it, and asks for what is missing when it is told to."""

    def __init__(self, port, bridge="shed", base="bismar", client="receiver", clean=False, tls=None, user=None):
        self.base, self.bridge, self.port = base, bridge, port
        self.changed = threading.Condition()
        self.taken = {log: {} for log in LOGS}   # id: message
        self.order = {log: [] for log in LOGS}   # seq, as they came, without those that came again
        self.n = {log: 0 for log in LOGS}        # all that came
        self.states, self.retained, self.raw, self.subscribed = [], [], [], 0
        self.client = mqtt.Client(client, clean_session=clean)
        self.client.max_inflight_messages_set(0)
        if user:
            self.client.username_pw_set(*user)
        if tls:
            self.client.tls_set(tls)
        self.client.on_connect = lambda client, *_: client.subscribe([(f"{base}/{bridge}/#", 1)])
        self.client.on_subscribe = self._on_subscribe
        self.client.on_message = self._on_message
        self.client.reconnect_delay_set(1, 1)
        self.client.connect("localhost" if tls else "127.0.0.1", port, 60)
        self.client.loop_start()
        self.until(lambda: self.subscribed, "subscribed")

    def _on_subscribe(self, *_):
        with self.changed:
            self.subscribed += 1
            self.changed.notify_all()

    def _on_message(self, _client, _user, message):
        log = message.topic.rsplit("/", 1)[1]
        with self.changed:
            if log == "state":
                self.states.append(json.loads(message.payload))
                self.retained.append(bool(message.retain))
            elif log in LOGS:
                self.raw.append(message.payload)
                told = json.loads(message.payload)
                self.n[log] += 1
                if told["id"] not in self.taken[log]:
                    self.taken[log][told["id"]] = told
                    self.order[log].append(told["seq"])
            self.changed.notify_all()

    def until(self, true, what, seconds=PATIENCE):
        with self.changed:
            assert self.changed.wait_for(true, seconds), f"in vain: {what}; {self.counts()}; {self.states[-1:]}"

    def says(self, **members):
        return bool(self.states) and all(self.states[-1].get(k) == v for k, v in members.items())

    def until_state(self, **members):
        """A state that says so comes, or came last."""
        self.until(lambda: self.says(**members), f"state {members}")

    def seqs(self, log="reading"):
        return {told["seq"] for told in self.taken[log].values()}

    def missing(self, n, log="reading"):
        return sorted(set(range(1, n + 1)) - self.seqs(log))

    def counts(self):
        return ", ".join(f"{log}: {self.n[log]} came, {len(self.taken[log])} taken, {self.n[log] - len(self.taken[log])} again"
                         for log in LOGS)

    def ask(self, payload):
        if not isinstance(payload, (bytes, bytearray)):
            payload = json.dumps(payload).encode()
        self.client.publish(f"{self.base}/{self.bridge}/again", payload, 1)

    def fetch(self, n, log="reading"):
        """Asks until all up to n have come. Returns how often it had to."""
        for times in range(60):
            missing = self.missing(n, log)
            if not missing:
                return times
            self.ask({log: missing[0]})
            before = self.n[log]
            with self.changed:  # what is asked for comes, or time is up and it is asked for again
                self.changed.wait_for(lambda: self.n[log] > before and not self.missing(n, log), 15)
        raise AssertionError(f"still missing {len(self.missing(n, log))}; {self.counts()}")

    def close(self):
        self.client.disconnect()
        self.client.loop_stop()


class Ledger:
    """Rows put in through the tables that bismard made, as its own would be: append-only, in the order of time."""

    def __init__(self, path, at_ms=T0):
        self.db = sqlite3.connect(path, isolation_level=None)
        self.db.execute("PRAGMA synchronous = OFF")
        self.at_ms = at_ms

    def add(self, table, columns, *values):
        self.at_ms += 1
        n = self.at_ms << 80 | 7 << 76 | uuid.uuid4().int & ((1 << 76) - 1)
        key = str(uuid.UUID(int=n & ~(3 << 62) | 2 << 62))  # RFC 9562, 5.7
        names = "id, at_ms, offset_min, peer, said, " + columns
        row = (key, self.at_ms, 60, "test", None, *values)
        self.db.execute(f"INSERT INTO {table} ({names}) VALUES ({', '.join('?' * len(row))})", row)
        return key

    def animal(self, name, litter="hedge", collar=None):
        found = self.db.execute("SELECT id FROM litter WHERE name = ?", (litter,)).fetchone()
        of = found[0] if found else self.add("litter", "name", litter)
        return self.add("animal", "name, litter, collar", name, of, collar)

    def answers(self, animal, n, first_g=300):
        self.db.execute("BEGIN")
        for i in range(n):
            mg, weighed_ms = 1000 * (first_g + i % 500), self.at_ms
            weighing = self.add("weighing", "weighed_ms, origin, state, gross_mg, tare_mg, net_mg, u_mg, step_mg", weighed_ms,
                                "typed", "settled", mg + 508000, 508000, mg, 410, 1000)
            self.add("answer", "weighing, kind, animal, weighed_ms", weighing, "answer", animal, weighed_ms)
        self.db.execute("COMMIT")

    def concern(self, animal, state="open", text="Moss has not gained for 26 hours.", concern=None):
        litter = self.db.execute("SELECT litter FROM animal WHERE id = ?", (animal,)).fetchone()[0]
        return self.add("concern", "concern, litter, animal, state, level, rule, text, source, since_ms", concern or str(uuid.uuid4()),
                        litter, animal, state, "act", "no-gain-24h", text, "common practice", self.at_ms)

    def count(self, log="reading"):
        table = {"reading": "answer", "concern": "concern"}[log]
        return self.db.execute(f"SELECT count(*) FROM {table}").fetchone()[0]

    def close(self):
        self.db.close()


class Rig(page_rig.Rig):
    """A bismard, a broker and bismar-broker; the first is stopped where only its ledger is wanted."""

    def __init__(self, build, scale=False):
        super().__init__(build, scale=scale)
        self.bridge, self.typed = None, 0
        self.bridge_state = self.dir / "bridge"
        self.env.pop("CREDENTIALS_DIRECTORY", None)

    def __exit__(self, *problem):
        if problem[0]:
            for program in self.programs:
                if program.process.poll() is not None:
                    print(f"---- {program.name} has ended with {program.process.returncode}", file=sys.stderr)
        super().__exit__(*problem)

    def ledger(self):
        """bismard has made the database; it runs on."""
        return Ledger(self.database)

    def one_more(self):
        """A reading by way of bismard, which tells of it: what Ledger writes is seen within the minute."""
        if not self.typed:
            self.bismar("litter", "add", "shrub")
            self.bismar("animal", "add", "Broom", "--litter", "shrub")
        self.typed += 1
        self.bismar("weigh", "Broom", f"{300 + self.typed}g")

    def bridge_words(self, broker, *words):
        port = broker.port if isinstance(broker, Broker) else broker
        return [self.build / "contrib/broker/bismar-broker", "--host", "127.0.0.1", "--port", port, "--bridge", "shed", "--state",
                self.bridge_state, "--database", self.database, "--socket", self.socket, "--rate", 0, *words]

    def start_bridge(self, broker, *words):
        self.bridge = self.run(*self.bridge_words(broker, *words))
        return self.bridge

    def stop_bridge(self):
        status = self.bridge.end()
        assert status == 0, f"bismar-broker ended with {status}"

    def once(self, broker, *words, status=0):
        program = self.run(*self.bridge_words(broker, "--once", *words))
        got = program.process.wait(PATIENCE)
        assert got == status, f"--once ended with {got}:\n" + "\n".join(program.seen)
        return program

    def position(self):
        return json.loads((self.bridge_state / "position.json").read_text())


def wait_for(true, what, seconds=PATIENCE):
    """For what is outside of any program of ours, such as a file: looks until it is so."""
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end, f"in vain: {what}"
        time.sleep(.01)
