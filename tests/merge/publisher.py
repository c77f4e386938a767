#!/usr/bin/python3
# SPDX-License-Identifier: MIT
"""usage: publisher.py --host H --port N --bridge NAME [--topic BASE] --state FOLDER --database FILE [--once]
Publishes a ledger as contrib/broker/MESSAGES.md says, for tests of what receives: each row of answer_log and concern_log in the
order of seq, `state`, and once more what `again` asks for. It keeps no position: it begins from 1 each time it is started,
which a receiver has to take. Prints a line for each wish, and `caught up` whenever it has published all there is."""
import argparse
import contextlib
import json
import signal
import sqlite3
import sys
import threading
import time

import paho.mqtt.client as mqtt

READING = """SELECT n.answer_id AS id, n.seq, n.weighing_id AS reading_id, n.kind, n.animal_id, n.animal, a.collar, n.litter_id,
  n.litter, w.at, w.at_ms, w.offset_min, w.net_g, w.u_g, w.gross_g, w.tare_g, w.step_g, w.container, w.scale, w.origin, w.state,
  n.fed, n.why, n.at_ms AS answered_at_ms, n.answered_by
  FROM answer_log AS n JOIN weighing_log AS w ON w.weighing_id = n.weighing_id LEFT JOIN animal_log AS a ON a.animal_id = n.animal_id
  WHERE n.seq > ? ORDER BY n.seq LIMIT 500"""
CONCERN = """SELECT entry_id AS id, seq, concern_id, animal_id, animal, litter_id, litter, at, at_ms, state, level, rule, text, source,
  since_ms FROM concern_log WHERE seq > ? ORDER BY seq LIMIT 500"""
AGAIN_EVERY_S = 10


def messages(database, bridge, sql, after):
    """(seq, the message's text) of up to 500 rows after that seq."""
    db = sqlite3.connect("file:%s?mode=ro" % database, uri=True)
    try:
        found = db.execute(sql, (after,))
        names = [column[0] for column in found.description]
        return [(row[1], json.dumps({"bridge": bridge, **dict(zip(names, row))})) for row in found]
    finally:
        db.close()


class Publisher:
    def __init__(self, args):
        self.args, self.base = args, "%s/%s/" % (args.topic, args.bridge)
        self.at, self.wish, self.followed = {"reading": 0, "concern": 0}, {}, -1e9
        self.lock, self.up, self.told = threading.Lock(), threading.Event(), None
        self.client = mqtt.Client(client_id="publisher-" + args.bridge, clean_session=True)
        self.client.max_inflight_messages_set(100)
        self.client.max_queued_messages_set(0)
        self.client.reconnect_delay_set(1, 1)
        self.client.on_connect, self.client.on_message, self.client.on_disconnect = self.connected, self.asked, self.gone
        self.client.will_set(self.base + "state", json.dumps({"bridge": args.bridge, "state": "gone"}), 1, True)

    def connected(self, client, user, flags, code):
        client.subscribe(self.base + "again", 1)
        with self.lock:
            self.told = None
        self.up.set()

    def gone(self, client, user, code):
        self.up.clear()

    def asked(self, client, user, message):
        print("again", message.payload.decode(), "%.3f" % time.monotonic(), flush=True)
        with self.lock:
            for topic, seq in json.loads(message.payload).items():
                self.wish[topic] = min(seq, self.wish.get(topic, seq))

    def follow(self):
        with self.lock:
            if self.wish and time.monotonic() - self.followed >= AGAIN_EVERY_S / 10:
                for topic, seq in self.wish.items():
                    self.at[topic] = min(self.at[topic], seq - 1)
                self.wish, self.followed = {}, time.monotonic()

    def step(self):
        """Publishes some, and waits until the broker has it. False when there was nothing."""
        any_row = False
        for topic, sql in ("reading", READING), ("concern", CONCERN):
            sent = [(seq, self.client.publish(self.base + topic, text, 1))
                    for seq, text in messages(self.args.database, self.args.bridge, sql, self.at[topic])]
            for seq, info in sent:
                while not info.is_published():
                    if not self.up.wait(.05):
                        return True  # what was on its way is published by the client once it is there again
                    time.sleep(.0005)
                self.at[topic] = seq
                any_row = True
        return any_row

    def state(self, state):
        info = self.client.publish(self.base + "state", json.dumps({"bridge": self.args.bridge, "state": state,
                                                                    **(self.at if state == "here" else {})}), 1, True)
        info.wait_for_publish(20)

    def run(self):
        self.client.connect_async(self.args.host, self.args.port, 30)
        self.client.loop_start()
        while not stopped.is_set():
            if not self.up.wait(.05):
                continue
            self.follow()
            try:
                if self.step() or not self.up.is_set():
                    continue
                if self.told != self.at:
                    self.state("here")
                    self.told = dict(self.at)
                    print("caught up", json.dumps(self.at), flush=True)
            except RuntimeError:  # paho's word for: the connection broke just then; it goes on from where the broker has it
                continue
            if self.args.once:
                break
            stopped.wait(.05)
        with contextlib.suppress(RuntimeError):  # else the broker tells it, by the will
            if self.up.is_set():
                self.state("gone")
        self.client.disconnect()
        self.client.loop_stop()


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("--host", default="localhost")
    parser.add_argument("--port", type=int, default=1883)
    parser.add_argument("--bridge", required=True)
    parser.add_argument("--topic", default="bismar")
    parser.add_argument("--state", required=True)
    parser.add_argument("--database", required=True)
    parser.add_argument("--once", action="store_true")
    stopped = threading.Event()
    signal.signal(signal.SIGTERM, lambda *_: stopped.set())
    Publisher(parser.parse_args()).run()
    sys.exit(0)
