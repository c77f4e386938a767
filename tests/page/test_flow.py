#!/usr/bin/env python3
# SPDX-License-Identifier: MIT
"""
usage: test_flow.py BUILD [CASE...]
What a phone sees of a round, and of trouble. Events: WHATWG HTML, 9.2; what they carry: protocols/prompt.md; the views are
held to the database, read by Python's sqlite3.
"""
import json
import math
import os
import signal
import socket
import sys
import threading
import time

from rig import PATIENCE, Rig, run_cases

DAY = 86400_000


class Pretender:
    """Plays the daemon on its socket: replies to `follow`, and says what it is told to say."""

    def __init__(self, path, mute=False):
        self.listener = socket.socket(socket.AF_UNIX)
        self.listener.bind(str(path))
        self.listener.listen()
        self.mute, self.followed, self.heard, self.news = mute, threading.Event(), [], threading.Condition()
        threading.Thread(target=self._serve, daemon=True).start()

    def _serve(self):
        self.connection, _ = self.listener.accept()
        for line in self.connection.makefile():
            request = json.loads(line)
            with self.news:
                self.heard.append(request)
                self.news.notify()
            if request["method"] == "follow":
                topics = request["params"]["topics"]
                self.say({"id": request["id"], "result": {"topics": topics}})
                if topics:
                    self.followed.set()
            elif not self.mute:
                self.say({"id": request["id"], "result": {}})

    def requests(self, method, n):
        """The first n of a method, once they have come."""
        with self.news:
            heard = lambda: [r for r in self.heard if r["method"] == method]
            assert self.news.wait_for(lambda: len(heard()) >= n, PATIENCE), self.heard
            return heard()[:n]

    def say(self, message):
        self.connection.sendall(json.dumps({"jsonrpc": "2.0", **message}).encode() + b"\n")

    def tell(self, topic, *params):
        self.connection.sendall(b"".join(json.dumps({"jsonrpc": "2.0", "method": topic, "params": p}).encode() + b"\n" for p in params))

    def close(self):
        self.listener.close()
        if self.followed.is_set():
            self.connection.shutdown(socket.SHUT_RDWR)


def test_round(build):
    with Rig(build, scale=True) as rig:
        rig.litter()
        rig.start_page()
        phone, other = rig.pair("phone"), rig.pair("other")
        stream, second = phone.events(), other.events()
        assert stream.until("link")["up"] and second.until("link")["up"]
        assert phone.call("round.begin", litter="hedge", fed="before").status == 200
        assert stream.until("round")["left"]
        weighed = {"Moss": 330, "Fern": 370, "Gorse": 310}
        for name, grams in weighed.items():
            rig.sim_do(f"pup {grams}")
            ask = stream.until("ask")
            assert ask["net_g"] == grams and ask["candidates"], ask
            answer = phone.call("answer", ask=ask["ask"], animal=name)
            assert answer.status == 200 and answer.json["result"]["name"] == name, answer.body
            for s in (stream, second):
                told = s.until("recorded", ask=ask["ask"])
                assert (told["name"], told["net_g"], told["by"]) == (name, grams, "phone"), told
        assert stream.until("round", ended=True)["left"] == []
        assert sorted(rig.rows("SELECT animal, net_g, answered_by, fed FROM reading")) == sorted(
            (name, float(grams), "phone", "before") for name, grams in weighed.items())
        # another name is kept; the phone's own is not put into requests that don't take one
        answer = other.call("weigh", who="Moss", mass="331g", by="the vet")
        assert answer.json["result"]["by"] == "the vet", answer.body
        assert other.call("growth", litter="hedge").status == 200
        assert len(other.call("concerns").json["result"]["concerns"]) >= 0
        stream.close(), second.close()


def test_open_asks_for_new_streams(build):
    with Rig(build, scale=True) as rig:
        rig.litter()
        rig.start_page()
        phone = rig.pair()
        first = phone.events()
        first.until("link", up=True)
        asks = []
        for grams in (330, 370, 310):
            rig.sim_do(f"pup {grams}")
            asks.append(first.until("ask"))
        late = phone.events()
        assert late.next() == ("link", {"up": True})
        assert [late.next() for _ in asks] == [("ask", ask) for ask in asks]  # oldest first, as they were
        late.close()
        phone.call("answer", ask=asks[0]["ask"], animal="Moss")
        phone.call("aside", ask=asks[1]["ask"], why="a cat")
        first.until("withdraw", ask=asks[1]["ask"])
        later = phone.events()
        assert later.next()[0] == "link" and later.next() == ("ask", asks[2])
        phone.call("reopen", ask=asks[0]["ask"])
        again = later.until("ask")
        assert again["ask"] == asks[0]["ask"]
        for stream in (first, later):
            stream.close()


def test_daemon_dies_and_comes_back(build):
    with Rig(build, scale=True) as rig:
        rig.litter()
        rig.start_page()
        phone = rig.pair()
        stream = phone.events()
        stream.until("link", up=True)
        rig.sim_do("pup 330")
        ask = stream.until("ask")
        for number in (signal.SIGKILL, signal.SIGTERM):
            rig.daemon.end(number)
            down = stream.until("link")
            assert down["up"] is False and down["say"], down
            answer = phone.call("answer", ask=ask["ask"], animal="Moss")
            assert answer.status == 502 and answer.code == "no-daemon" and answer.json["error"]["hint"], answer.body
            meanwhile = phone.events()
            assert meanwhile.next() == ("link", down)
            assert phone.get("/animals").status == 200  # the record is there while the daemon isn't
            rig.start_daemon()
            for s in (stream, meanwhile):
                assert s.until("link") == {"up": True}
                assert s.until("ask")["ask"] == ask["ask"]
            meanwhile.close()
        assert phone.call("answer", ask=ask["ask"], animal="Moss").status == 200
        stream.until("recorded", ask=ask["ask"], name="Moss")
        assert rig.rows("SELECT count(*) FROM reading") == [(1,)]
        stream.close()


def test_ounces(build):
    with Rig(build) as rig:
        rig.env["BISMAR_UNITS"] = "oz"
        rig.start_page()
        stream = rig.pair().events()
        assert stream.until("link", up=True) == {"up": True, "units": "oz"}
        late = rig.pair("late").events()
        assert late.next() == ("link", {"up": True, "units": "oz"})
        stream.close(), late.close()
        rig.stop_page()
        rig.env["BISMAR_UNITS"] = "stones"
        assert rig.run(*rig.page_words()).process.wait(60) == 2
        rig.programs.pop()


def test_page_before_the_daemon(build):
    with Rig(build, daemon=False) as rig:
        rig.start_page()
        phone = rig.pair()
        stream = phone.events()
        assert stream.until("link")["up"] is False
        answer = phone.get("/animals")
        assert answer.status == 503 and answer.code == "no-record", answer.body
        rig.start_daemon()
        stream.until("link", up=True)
        assert phone.get("/animals").json == {"animals": [], "scales": []}
        stream.close()


def test_refusals_of_the_daemon(build):
    with Rig(build, scale=True) as rig:
        rig.litter()
        rig.start_page()
        phone = rig.pair()
        stream = phone.events()
        stream.until("link", up=True)
        rig.sim_do("pup 330")
        ask = stream.until("ask")["ask"]
        for params, code in (({"ask": ask, "animal": "Nobody"}, "not-found"), ({"ask": ask}, "missing-param"),
                             ({"ask": ask, "animal": 7}, "wrong-type"), ({"ask": ask, "animal": "Moss", "x": 1}, "unknown-param")):
            answer = phone.call("answer", **params)
            error = answer.json["error"]
            assert answer.status == 409 and answer.code == code and error["message"] and error["hint"], answer.body
        assert phone.call("answer", ask=ask, animal="Moss").status == 200
        answer = phone.call("answer", ask=ask, animal="Fern")
        error = answer.json["error"]
        assert (answer.status, error["code"], error["name"], error["by"]) == (409, "already-answered", "Moss", "phone"), error
        stream.close()


def test_views_against_the_database(build):
    with Rig(build) as rig:
        rig.litter()
        rig.bismar("animal", "add", "Sorrel", "--litter", "hedge")
        rig.bismar("litter", "add", "gone")
        rig.bismar("animal", "add", "Thistle", "--litter", "gone")
        rig.bismar("litter", "close", "gone")
        rig.start_page()
        phone = rig.pair()
        for grams, ago in ((310, "-36h"), (318, "-24h"), (325.5, "-12h"), (333, "-1h")):
            rig.bismar("weigh", "Moss", f"{grams}g", "--at", ago)
        rig.bismar("weigh", "Fern", "371g", "--at", "-2h")
        for method, params in (("sign", {"animal": "Moss", "sign": "gums", "value": "moist"}),
                               ("sign", {"animal": "Moss", "sign": "temperature", "value": "36.4C"}),
                               ("feed.give", {"animal": "Moss", "volume": "4 mL", "what": "replacer"})):
            answer = phone.call(method, **params)
            assert answer.status == 200, answer.body

        animals = phone.get("/animals").json
        keys = ("animal", "name", "litter", "litter_id", "collar", "sex", "born_ms", "birth_g", "newest_g", "newest_ms")
        rows = rig.rows("SELECT animal_id, animal, litter, litter_id, collar, sex, born_at_ms, birth_g, newest_g, newest_at_ms "
                        "FROM animal_now ORDER BY animal")
        assert [tuple(a[k] for k in keys) for a in animals["animals"]] == rows and len(rows) == 4
        assert {a["name"] for a in animals["animals"]} == {"Moss", "Fern", "Gorse", "Sorrel"}
        assert animals["scales"] == []

        moss = next(a for a in animals["animals"] if a["name"] == "Moss")
        curve = phone.get(f"/curve?animal={moss['animal']}").json
        rows = rig.rows("SELECT at_ms, net_g, u_g FROM reading WHERE animal = 'Moss' ORDER BY at_ms")
        assert [(p["at_ms"], p["net_g"], p["u_g"]) for p in curve["points"]] == rows and len(rows) == 4
        assert (curve["name"], curve["litter"], curve["birth_g"], curve["born_ms"]) == ("Moss", "hedge", 305, moss["born_ms"])
        mates = {m["name"]: m for m in curve["littermates"]}
        assert set(mates) == {"Fern", "Gorse", "Sorrel"} and mates["Fern"]["collar"] == "red"
        assert [p["net_g"] for p in mates["Fern"]["points"]] == [371] and mates["Gorse"]["points"] == []
        # 5 to 10 % a day for a week, 3.5 to 6 % up to four (Small Animal Clinical Nutrition, 5th ed., p. 292)
        assert "Small Animal Clinical Nutrition" in curve["band_source"]
        assert curve["band"][0] == {"at_ms": moss["born_ms"], "low_g": 305, "high_g": 305}
        assert curve["band"][-1]["at_ms"] == moss["born_ms"] + 28 * DAY
        for point in curve["band"]:
            age = (point["at_ms"] - moss["born_ms"]) / DAY
            first, rest = min(age, 7), max(0, age - 7)
            assert math.isclose(point["low_g"], 305 * 1.05**first * 1.035**rest, rel_tol=1e-9)
            assert math.isclose(point["high_g"], 305 * 1.10**first * 1.06**rest, rel_tol=1e-9)
        sorrel = next(a for a in animals["animals"] if a["name"] == "Sorrel")
        curve = phone.get(f"/curve?animal={sorrel['animal']}").json
        assert curve["band"] is None and curve["band_source"] is None and curve["points"] == []

        signs = phone.get(f"/signs?animal={moss['animal']}").json
        assert [(s["at_ms"], s["sign"], s["value"]) for s in signs["signs"]] == rig.rows(
            "SELECT at_ms, sign, value FROM sign_log ORDER BY at_ms DESC") and len(signs["signs"]) == 2
        assert [(f["ml"], f["what"]) for f in signs["feeds"]] == [(4, "replacer")] and signs["doses"] == []
        assert rig.rows("SELECT DISTINCT noted_by FROM sign_log") == [("phone",)]

        gone = rig.rows("SELECT litter_id FROM litter_now WHERE litter = 'gone'")[0][0]
        for path in ("/curve", "/signs"):
            for animal in ("", "?animal=", "?animal=x", f"?animal={gone}", "?animal='--", "?animal=%27", "?other=1"):
                answer = phone.get(path + animal)
                assert answer.status == 404 and answer.code == "not-found", (path + animal, answer.body)


def test_step_of_the_scale(build):
    with Rig(build, scale=True) as rig:
        rig.litter()
        rig.start_page()
        phone = rig.pair()
        stream = phone.events()
        stream.until("link", up=True)
        rig.sim_do("pup 330")
        phone.call("answer", ask=stream.until("ask")["ask"], animal="Moss")
        told = phone.get("/animals").json
        moss = next(a for a in told["animals"] if a["name"] == "Moss")
        assert moss["scale_step_g"] == 5 and told["scales"] == [{"scale": "kitchen", "container": None}], told
        stream.close()


def test_signs_of_life(build):
    with Rig(build, daemon=False) as rig:
        rig.start_page("--heartbeat", "0.02")
        phone = rig.pair()
        stream = phone.events()
        assert stream.next()[0] == "link"
        for _ in range(100):
            line = stream.response.readline()
            assert line in (b":\n", b"\n"), line
        before = rig.page.own_kb()
        for _ in range(1000):
            assert stream.response.readline()
        rig.page.grown(before, 512)
        # one whose phone has gone is found by it, and let go
        stream.close()
        fds = lambda: len(os.listdir(f"/proc/{rig.page.process.pid}/fd"))
        end, most = time.monotonic() + PATIENCE, fds()
        other = phone.events()
        while fds() > most and time.monotonic() < end:
            other.response.readline()
        assert fds() <= most
        other.close()


def test_hundred_thousand_events(build):
    """A night's, in a row: a stream that is read goes on, and nothing is kept of what was sent."""
    with Rig(build, daemon=False) as rig:
        daemon = Pretender(rig.socket)
        rig.start_page()
        assert daemon.followed.wait(PATIENCE)
        phone = rig.pair()
        stream = phone.events()
        stream.until("link", up=True)
        before = 0
        for batch in range(200):
            ask = {"ask": f"a{batch}", "net_g": 304.0, "say": "Is it Moss (green)?"}
            daemon.tell("ask", ask)
            daemon.tell("concern", *({"concern": "c", "n": batch * 498 + i, "text": "Moss has not gained."} for i in range(498)))
            daemon.tell("recorded", {"ask": f"a{batch}", "name": "Moss"})
            assert stream.until("ask") == ask
            for i in range(498):
                topic, params = stream.next()
                assert topic == "concern" and params["n"] == batch * 498 + i, (topic, params)
            assert stream.next()[0] == "recorded"
            if batch == 20:
                before = rig.page.own_kb()
        print(f"# 100000 events; grown by {rig.page.own_kb() - before} kB since the 10000th")
        rig.page.grown(before, 256)
        late = phone.events()  # and all that were asked are answered
        assert late.next()[0] == "link"
        daemon.tell("scale", {"scale": "kitchen"})
        assert late.next() == ("scale", {"scale": "kitchen"})
        late.close(), stream.close(), daemon.close()


def test_a_phone_that_does_not_read(build):
    with Rig(build, daemon=False) as rig:
        daemon = Pretender(rig.socket)
        rig.start_page()
        assert daemon.followed.wait(PATIENCE)
        phone = rig.pair()
        stuck, stream = phone.events(), phone.events()
        stream.until("link", up=True)
        before = rig.page.own_kb()
        text = "x" * 1000
        for batch in range(300):  # 15 MB: more than sockets hold
            daemon.tell("concern", *({"n": batch * 50 + i, "text": text} for i in range(50)))
            for i in range(50):
                assert stream.next()[1]["n"] == batch * 50 + i
        rig.page.grown(before, 2048)
        # of what the scale shows the newest alone waits: it isn't ended by that, and the stream that is read sees the end
        daemon.tell("live", *({"n": i} for i in range(1000)))
        daemon.tell("scale", {"last": True})
        stream.until("scale", last=True)
        seen = 0
        try:
            while stuck.next():
                seen += 1
        except (OSError, ValueError):
            pass
        assert seen < 15000, "all of it was kept for one who didn't read"
        stream.close(), daemon.close()


def test_live_is_the_newest(build):
    with Rig(build, daemon=False) as rig:
        daemon = Pretender(rig.socket)
        rig.start_page()
        assert daemon.followed.wait(PATIENCE)
        stream = rig.pair().events()
        stream.until("link", up=True)
        for n in range(50):
            daemon.tell("live", {"n": n})
            assert stream.until("live")["n"] == n
        daemon.tell("live", *({"n": i} for i in range(50, 5050)))
        last = -1
        while last < 5049:
            n = stream.until("live")["n"]
            assert n > last
            last = n
        stream.close(), daemon.close()


def test_a_daemon_that_does_not_answer(build):
    with Rig(build, daemon=False) as rig:
        daemon = Pretender(rig.socket, mute=True)
        rig.start_page()
        assert daemon.followed.wait(PATIENCE)
        phone = rig.pair()
        stream = phone.events()
        stream.until("link", up=True)
        answer = phone.call("status")
        assert answer.status == 504 and answer.code == "timeout", answer.body
        stream.until("link", up=False)
        assert [r["params"] for r in daemon.heard if r["method"] == "status"] == [{}]
        stream.close(), daemon.close()


def test_a_phone_that_leaves_amid_a_call(build):
    with Rig(build, daemon=False) as rig:
        daemon = Pretender(rig.socket, mute=True)
        rig.start_page()
        assert daemon.followed.wait(PATIENCE)
        phone = rig.pair()
        stream = phone.events()
        stream.until("link", up=True)
        body = b'{"method":"status"}'
        head = (f"POST /call HTTP/1.1\r\nHost: 127.0.0.1\r\nCookie: bismar={phone.cookie}\r\nX-Bismar: 1\r\n"
                f"Content-Type: application/json\r\nContent-Length: {len(body)}\r\n\r\n").encode()
        for _ in range(20):
            with socket.create_connection(("127.0.0.1", rig.port), PATIENCE) as connection:
                connection.sendall(head + body)
        for request in daemon.requests("status", 20):
            daemon.say({"id": request["id"], "result": {}})
        daemon.tell("scale", {"last": True})
        stream.until("scale", last=True)
        # stopped amid calls: they end with it
        with socket.create_connection(("127.0.0.1", rig.port), PATIENCE) as connection:
            connection.sendall(head + body)
            daemon.requests("status", 21)
            rig.stop_page()
        daemon.close()


def test_stopped_with_open_streams(build):
    with Rig(build) as rig:
        rig.start_page()
        phone = rig.pair()
        streams = [phone.events() for _ in range(4)]
        for stream in streams:
            stream.until("link", up=True)
        rig.stop_page()
        for stream in streams:
            try:
                assert stream.next() is None
            except OSError:
                pass


run_cases(globals(), sys.argv)
