#!/usr/bin/env python3
# SPDX-License-Identifier: MIT
"""
usage: test_security.py BUILD [CASE...]
Who isn't let in, and what nobody gets. What is expected: contrib/page/HTTP.md; headers by W3C Content Security Policy
Level 3, Fetch Metadata Request Headers, RFC 6265 (cookies), RFC 9110 (status codes).
"""
import hashlib
import json
import os
import re
import select
import socket
import ssl
import subprocess
import sys
import time

from rig import PATIENCE, ROOT, Phone, Rig, raw, run_cases

ASSETS = ["page.js", "moment.js", "lists.js", "bedside.js", "curve.js", "words.js"]
SECURITY = {
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Content-Security-Policy": "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; "
                               "base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
}


class Page(Rig):
    """bismar-page alone, without a daemon."""

    def __init__(self, build, *words):
        super().__init__(build, daemon=False)
        self.words = words

    def __enter__(self):
        super().__enter__()
        self.start_page(*self.words)
        return self


def refused(answer, status, code):
    assert answer.status == status and answer.code == code, (answer.status, answer.body)
    error = answer.json["error"]
    assert error["message"] and error["hint"], error
    for name, value in SECURITY.items():
        assert answer.headers[name] == value, (name, answer.headers[name])
    assert answer.headers["Cache-Control"] == "no-store"
    assert answer.headers["Content-Type"] == "application/json"


# ---- pairing ----

def test_without_pairing(build):
    with Page(build) as rig:
        phone = rig.phone()
        answer = phone.get("/")
        assert answer.status == 303 and answer.headers["Location"] == "/pair", answer.status
        for path in ["/" + name for name in ASSETS] + ["/animals", "/curve?animal=x", "/signs", "/events", "/call", "/nothing"]:
            refused(phone.get(path), 401, "not-paired")
        refused(phone.call("status"), 401, "not-paired")
        for path in ("/pair", "/pair.js", "/page.css", "/icon.svg"):
            answer = phone.get(path)
            assert answer.status == 200 and answer.body, path
            assert answer.headers["Cache-Control"] == "no-cache", path


def test_no_code_waits(build):
    with Page(build) as rig:
        refused(rig.phone().post("/pair", {"code": "12345678", "name": "phone"}), 403, "no-code")


def test_wrong_code(build):
    with Page(build) as rig:
        phone, code = rig.phone(), rig.code()
        assert re.fullmatch("[0-9]{8}", code)
        wrong = f"{(int(code) + 1) % 10**8:08d}"
        refused(phone.post("/pair", {"code": wrong, "name": "phone"}), 403, "bad-code")
        refused(phone.post("/pair", {"code": code[:7], "name": "phone"}), 403, "bad-code")
        refused(phone.post("/pair", {"name": "phone"}), 403, "bad-code")
        refused(phone.post("/pair", {"code": code + "0", "name": "phone"}), 403, "bad-code")
        # blanks are as people write them; the fifth try is the right one
        answer = phone.post("/pair", {"code": f"{code[:4]} {code[4:]}", "name": "phone"})
        assert answer.status == 204, answer.body


def test_five_wrong_codes_void_it(build):
    with Page(build) as rig:
        phone, code = rig.phone(), rig.code()
        wrong = f"{(int(code) + 1) % 10**8:08d}"
        for _ in range(5):
            refused(phone.post("/pair", {"code": wrong, "name": "phone"}), 403, "bad-code")
        refused(phone.post("/pair", {"code": code, "name": "phone"}), 403, "no-code")
        assert not (rig.page_state / "code").exists()


def test_wrong_codes_outlive_a_restart(build):
    with Page(build) as rig:
        code = rig.code()
        wrong = f"{(int(code) + 1) % 10**8:08d}"
        for _ in range(3):
            refused(rig.phone().post("/pair", {"code": wrong, "name": "phone"}), 403, "bad-code")
        rig.stop_page()
        rig.start_page()
        for _ in range(2):
            refused(rig.phone().post("/pair", {"code": wrong, "name": "phone"}), 403, "bad-code")
        refused(rig.phone().post("/pair", {"code": code, "name": "phone"}), 403, "no-code")


def test_used_code(build):
    with Page(build) as rig:
        code = rig.code()
        assert rig.phone().post("/pair", {"code": code, "name": "one"}).status == 204
        refused(rig.phone().post("/pair", {"code": code, "name": "two"}), 403, "no-code")


def test_new_code_voids_the_old_one(build):
    with Page(build) as rig:
        old, new = rig.code(), rig.code()
        if old != new:  # one in 10^8
            refused(rig.phone().post("/pair", {"code": old, "name": "one"}), 403, "bad-code")
        assert rig.phone().post("/pair", {"code": new, "name": "one"}).status == 204


def test_expired_code(build):
    with Page(build) as rig:
        for shift in (-600_000, 600_000):  # over; and one of a clock that was set back, which would last longer than any
            code = rig.code()
            file = rig.page_state / "code"
            told = json.loads(file.read_text())
            file.write_text(json.dumps({**told, "until_ms": told["until_ms"] + shift}))
            refused(rig.phone().post("/pair", {"code": code, "name": "phone"}), 403, "no-code")
            assert not file.exists()


def test_names(build):
    with Page(build) as rig:
        code = rig.code()
        for name in ("", " x", "a\nb", "x" * 65, "\u007f"):
            refused(rig.phone().post("/pair", {"code": code, "name": name}), 400, "bad-name")
        assert rig.phone().post("/pair", {"code": code, "name": "Küche 📱"}).status == 204
        assert "Küche" in rig.bismar("page", "list", "--state", str(rig.page_state))


def test_too_many_tries(build):
    with Page(build) as rig:
        answers = [rig.phone().post("/pair", {"code": "00000000", "name": "phone"}) for _ in range(12)]
        late = [a for a in answers if a.status == 429]
        assert 1 <= len(late) <= 2, [a.status for a in answers]
        refused(late[-1], 429, "too-many")
        assert 1 <= int(late[-1].headers["Retry-After"]) <= 6


def test_sixteen_phones(build):
    with Page(build) as rig:
        rig.pair("first")
        one = next(rig.page_state.glob("phone-*"))
        for i in range(15):
            (rig.page_state / f"phone-{i:08x}").write_text(one.read_text())
        refused(rig.phone().post("/pair", {"code": rig.code(), "name": "more"}), 403, "full")


def test_cookie(build):
    with Page(build) as rig:
        answer = rig.phone().post("/pair", {"code": rig.code(), "name": "phone"})
        cookie = answer.headers["Set-Cookie"]
        assert answer.headers.get_all("Set-Cookie") == [cookie]
        words = cookie.split("; ")
        assert re.fullmatch("bismar=[0-9a-f]{64}", words[0]), cookie
        assert "SameSite=Strict" in words and "HttpOnly" in words and "Path=/" in words, cookie
        assert any(word.startswith("Max-Age=") for word in words) and "Domain" not in cookie, cookie
        # each answer with a cookie was this one: no other sets any
        phone = rig.phone(words[0].removeprefix("bismar="))
        for path in ("/", "/pair", "/page.js", "/animals", "/nothing"):
            assert "Set-Cookie" not in phone.get(path).headers


def test_forged_cookies(build):
    with Page(build) as rig:
        good = rig.pair().cookie
        stored = json.loads(next(rig.page_state.glob("phone-*")).read_text())["hash"]
        flipped = good[:-1] + ("0" if good[-1] != "0" else "1")
        for cookie in ("", "0" * 64, flipped, good[:-1], good + "0", good.upper() if good.upper() != good else "x",
                       stored, "*", "../" + good, good[:32] + "\x01" + good[33:]):
            refused(rig.phone().get("/animals", Cookie=f"bismar={cookie}"), 401, "not-paired")
        refused(rig.phone().get("/animals", Cookie=f"other={good}"), 401, "not-paired")
        assert rig.phone(good).get("/page.js").status == 200


def test_only_hashes_on_disk(build):
    with Page(build) as rig:
        code = rig.code()
        texts = [(rig.page_state / "code").read_text()]
        phone = rig.phone()
        phone.cookie = phone.post("/pair", {"code": code, "name": "phone"}).headers["Set-Cookie"][7:71]
        texts += [file.read_text() for file in rig.page_state.iterdir()]
        assert len(texts) == 2 and not any(code in text or phone.cookie in text for text in texts), texts
        # FIPS 180-4, as Python's library has it
        assert json.loads(texts[1])["hash"] == hashlib.sha256(phone.cookie.encode()).hexdigest()
        assert rig.page_state.stat().st_mode & 0o777 == 0o700
        assert all(file.stat().st_mode & 0o777 == 0o600 for file in rig.page_state.iterdir())
        assert not any(code in line or phone.cookie in line for line in rig.page.seen)


def test_open_folder_is_refused(build):
    with Rig(build, daemon=False) as rig:
        rig.page_state.mkdir(mode=0o755)
        ran = subprocess.run([str(w) for w in rig.page_words()], capture_output=True, text=True, timeout=PATIENCE)
        assert ran.returncode == 1 and "chmod 700" in ran.stderr, ran


def test_pairing_outlives_a_restart(build):
    with Page(build) as rig:
        phone = rig.pair()
        rig.stop_page()
        rig.start_page()
        assert Phone(rig.port, phone.cookie).get("/page.js").status == 200


def test_pairing_ends_after_half_a_year(build):
    with Page(build) as rig:
        phone = rig.pair()
        file = next(rig.page_state.glob("phone-*"))
        told = json.loads(file.read_text())
        told["since_ms"] -= 180 * 86400 * 1000
        (rig.page_state / "new").write_text(json.dumps(told))
        (rig.page_state / "new").rename(file)
        refused(phone.get("/animals"), 401, "not-paired")


def test_revoked(build):
    with Page(build) as rig:
        phone, other = rig.pair("phone"), rig.pair("other")
        stream, kept = phone.events(), other.events()
        assert stream.next()[0] == "link" and kept.next()[0] == "link"
        rig.bismar("page", "revoke", "phone", "--state", str(rig.page_state))
        assert stream.until("revoked") == {}
        assert stream.next() is None, "the stream goes on"
        refused(phone.get("/animals"), 401, "not-paired")
        refused(phone.call("status"), 401, "not-paired")
        assert phone.get("/").status == 303
        assert other.get("/page.js").status == 200
        kept.close()


def test_revoke_by_id_and_refusals(build):
    with Page(build) as rig:
        state = ("--state", str(rig.page_state))
        one, two = rig.pair("phone"), rig.pair("phone")
        listed = [json.loads(line) for line in rig.bismar("--json", "page", "list", *state).splitlines()]
        assert [row["name"] for row in listed] == ["phone", "phone"], listed
        assert "2 phones" in rig.bismar("page", "revoke", "phone", *state, status=1)
        assert "No phone" in rig.bismar("page", "revoke", "tablet", *state, status=1)
        rig.bismar("page", "revoke", listed[0]["id"], *state)
        assert sorted(p.get("/page.js").status for p in (one, two)) == [200, 401]
        assert "There is no" in rig.bismar("page", "list", "--state", str(rig.dir / "none"), status=3)


# ---- other sites ----

def test_foreign_origin(build):
    with Page(build) as rig:
        phone = rig.pair()
        for origin in ("http://evil.example", "null", f"http://127.0.0.1:{rig.port + 1}", f"http://localhost:{rig.port}", "",
                       f"ftp://127.0.0.1:{rig.port}", f"http://127.0.0.1:{rig.port}.evil.example"):
            refused(phone.post("/call", {"method": "status"}, Origin=origin), 403, "cross-site")
            refused(phone.post("/pair", {"code": "1", "name": "x"}, Origin=origin), 403, "cross-site")
            refused(phone.get("/animals", Origin=origin), 403, "cross-site")
            refused(phone.get("/events", Origin=origin), 403, "cross-site")
        own = phone.post("/call", {"method": "status"}, Origin=f"http://127.0.0.1:{rig.port}")
        refused(own, 502, "no-daemon")  # it came as far as that


def test_cross_site_fetch(build):
    with Page(build) as rig:
        phone = rig.pair()
        for site in ("cross-site", "same-site", "x"):
            refused(phone.post("/call", {"method": "status"}, Sec_Fetch_Site=site), 403, "cross-site")
            for path in ("/animals", "/events", "/page.js", "/"):
                refused(phone.get(path, Sec_Fetch_Site=site, Sec_Fetch_Mode="no-cors"), 403, "cross-site")
        for site in ("same-origin", "none"):
            refused(phone.post("/call", {"method": "status"}, Sec_Fetch_Site=site), 502, "no-daemon")
        # a link in a message may lead to the page itself; its cookie isn't sent then (SameSite)
        assert phone.get("/", Sec_Fetch_Site="cross-site", Sec_Fetch_Mode="navigate").status == 200
        refused(phone.get("/animals", Sec_Fetch_Site="cross-site", Sec_Fetch_Mode="navigate"), 403, "cross-site")


def test_without_x_bismar(build):
    with Page(build) as rig:
        phone = rig.pair()
        refused(phone.post("/call", {"method": "status"}, X_Bismar=None), 403, "cross-site")


def test_wrong_host(build):
    """DNS rebinding: the attacker's name points to us."""
    with Page(build, "--host", "whelping.lan") as rig:
        phone = rig.pair()
        for host in ("evil.example", f"evil.example:{rig.port}", "127.0.0.1.evil.example", "localhost.evil.example", "[::1", "",
                     "127.0.0.1:80:80", "1.2.3", "whelping.lan.evil.example", "[evil.example]", "127.0.0.1:port", "a" * 300):
            for answer in (phone.get("/animals", Host=host), phone.get("/pair", Host=host),
                           phone.post("/call", {"method": "status"}, Host=host)):
                refused(answer, 421, "wrong-host")
        for host in (f"localhost:{rig.port}", "LOCALHOST", "whelping.lan", f"Whelping.Lan.:{rig.port}", "[::1]:80", "192.0.2.7"):
            assert phone.get("/page.js", Host=host).status == 200, host


# ---- paths, methods, bodies ----

def test_paths_outside(build):
    with Page(build) as rig:
        phone = rig.pair()
        for path in ("/../etc/passwd", "/..%2f..%2fetc/passwd", "/%2e%2e/etc/passwd", "//etc/passwd", "/page.css/../../etc/passwd",
                     "/assets/page.css", "/page.css%00.html", "/index.html", "/pair.html", "/PAGE.CSS", "/page.css/", "/.", "/code",
                     "/%c0%ae%c0%ae/etc/passwd", "/\\..\\etc\\passwd"):
            answer = phone.get(path)
            refused(answer, 404, "not-found")
            refused(rig.phone().get(path), 401, "not-paired")
        answer = raw(rig.port, b"GET http://127.0.0.1/../etc/passwd HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n\r\n")
        assert b" 401 " in answer.split(b"\r\n")[0] and b"root:" not in answer, answer


def test_methods_of_http(build):
    with Page(build) as rig:
        phone = rig.pair()
        for method, path, allow in (("PUT", "/", "GET, HEAD"), ("DELETE", "/pair", "GET, HEAD, POST"), ("GET", "/call", "POST"),
                                    ("HEAD", "/call", "POST"), ("POST", "/events", "GET"), ("HEAD", "/events", "GET"),
                                    ("OPTIONS", "/call", "POST"), ("PATCH", "/animals", "GET, HEAD")):
            answer = phone.send(method, path, b"" if method not in ("GET", "HEAD") else None)
            assert answer.status == 405 and answer.headers["Allow"] == allow, (method, path, answer.status, answer.headers["Allow"])
        answer = phone.send("HEAD", "/page.js")
        assert answer.status == 200 and not answer.body and int(answer.headers["Content-Length"]) > 0


def test_requests_that_a_phone_may_not_make(build):
    with Page(build) as rig:
        phone = rig.pair()
        allowed = set(re.findall(r'\{ "([a-z.]+)", (?:true|false) \}', (ROOT / "contrib/page/allow.c").read_text()))
        known = {}
        for line in (ROOT / "protocols/prompt.md").read_text().splitlines():
            row = re.match(r"\| `([a-z.]+)` \|([^|]*)\|", line)
            if row:
                known[row[1]] = "`" in row[2] and "by?" in row[2]
        assert {"answer", "scale.adopt", "litter.close"} <= set(known)
        for method in sorted(set(known) - allowed) + ["", "Status", "answer ", "rpc.discover"]:
            refused(phone.call(method), 403, "method-not-allowed")
        for method in ("scale.forget", "litter.close", "animal.gone", "order.add", "order.end", "follow", "hello"):
            assert method in known and method not in allowed, method
        # those that take `by` are told who
        by = dict(re.findall(r'\{ "([a-z.]+)", (true|false) \}', (ROOT / "contrib/page/allow.c").read_text()))
        assert len(allowed) == 27 and allowed <= set(known), allowed - set(known)
        for method in allowed:
            assert (by[method] == "true") == known[method], method


def test_bodies(build):
    with Page(build) as rig:
        phone = rig.pair()
        for body in (b"", b"{", b"[]", b"null", b'"x"', b'{"method":"status"} x', b'{"method":"status","method":"asks"}',
                     b'{"method":7}', b"{}", b'{"method":"status","params":[]}', b'{"method":"status","params":"x"}',
                     b'{"method":"\xff"}', b'{"method":"status\\u0000"}', b"[" * 60000, b'{"method":"status","a":' + b"[" * 3000 + b"]" * 3000 + b"}"):
            refused(phone.post("/call", body), 400, "malformed")
        for kind in ("text/plain", "application/x-www-form-urlencoded", "multipart/form-data", "application/jsonx", "", None):
            refused(phone.post("/call", {"method": "status"}, Content_Type=kind), 415, "not-json")
            refused(phone.post("/pair", {"code": "1", "name": "x"}, Content_Type=kind), 415, "not-json")
        refused(phone.post("/call", {"method": "status"}, Content_Type="Application/JSON; charset=utf-8"), 502, "no-daemon")


def test_too_large_bodies(build):
    with Page(build) as rig:
        phone = rig.pair()
        body = json.dumps({"method": "status", "x": ""}).encode()
        just = body[:-2] + b"y" * (65536 - len(body)) + body[-2:]
        refused(phone.post("/call", just), 502, "no-daemon")
        refused(phone.post("/call", just + b" "), 413, "too-large")
        refused(phone.post("/call", b" " * 900_000), 413, "too-large")
        chunk = b"%x\r\n" % len(just) + just + b"\r\n"
        refused(phone.send("POST", "/call", chunk + b"1\r\n \r\n0\r\n\r\n",
                           {"Content-Type": "application/json", "X-Bismar": "1", "Transfer-Encoding": "chunked"}), 413, "too-large")
        # one that never ends is cut off, and nothing is kept of it
        before = rig.page.own_kb()
        with socket.create_connection(("127.0.0.1", rig.port), PATIENCE) as connection:
            connection.sendall(f"POST /call HTTP/1.1\r\nHost: 127.0.0.1\r\nCookie: bismar={phone.cookie}\r\nX-Bismar: 1\r\n"
                               "Content-Type: application/json\r\nTransfer-Encoding: chunked\r\n\r\n".encode())
            sent = 0
            try:
                while sent < 50_000_000:
                    connection.sendall(b"10000\r\n" + b" " * 65536 + b"\r\n")
                    sent += 65536
            except OSError:
                pass
            assert sent < 50_000_000, "it listens for ever"
        rig.page.grown(before, 4096)
        head = f"POST /call HTTP/1.1\r\nHost: 127.0.0.1\r\nCookie: bismar={phone.cookie}\r\nX-Bismar: 1\r\n"
        answer = raw(rig.port, (head + "Content-Type: application/json\r\nContent-Length: 99999999999\r\n\r\n").encode())
        assert answer.startswith(b"HTTP/1.1 413 "), answer[:80]


def test_headers_on_every_answer(build):
    with Page(build) as rig:
        phone = rig.pair()
        stranger = rig.phone()
        answers = [p.get(path) for p in (phone, stranger) for path in
                   ["/", "/pair", "/pair.js", "/page.css", "/icon.svg", "/animals", "/curve", "/signs?animal=1", "/call", "/no"] +
                   ["/" + name for name in ASSETS]]
        answers += [phone.call("status"), stranger.call("status"), phone.call("no"), stranger.post("/pair", {}),
                    phone.send("PUT", "/", b""), phone.get("/", Host="evil.example"), phone.post("/call", b"{"),
                    phone.get("/page.js", If_None_Match=phone.get("/page.js").headers["ETag"]), phone.send("HEAD", "/")]
        answers.append(stranger.post("/pair", {"code": rig.code(), "name": "second"}))
        stream = phone.events()
        answers.append(stream)
        assert stream.headers["Content-Type"] == "text/event-stream"
        assert {a.status for a in answers} >= {200, 204, 303, 304, 400, 401, 403, 404, 405, 421, 502, 503}, {a.status for a in answers}
        for answer in answers:
            for name, value in SECURITY.items():
                assert answer.headers.get_all(name) == [value], (answer.status, name)
            assert answer.headers["Cache-Control"] in ("no-store", "no-cache"), answer.status
            assert not any(name.lower().startswith("access-control") for name in answer.headers), answer.headers
        stream.close()
        for path, kind in (("/", "text/html; charset=utf-8"), ("/page.js", "text/javascript; charset=utf-8"),
                           ("/page.css", "text/css; charset=utf-8"), ("/icon.svg", "image/svg+xml")):
            answer = phone.get(path)
            assert answer.headers["Content-Type"] == kind and answer.headers["Cache-Control"] == "no-cache", path


def test_assets_are_the_files(build):
    with Page(build) as rig:
        phone = rig.pair()
        folder = ROOT / "contrib/page/assets"
        for file in folder.iterdir():
            path = {"index.html": "/", "pair.html": "/pair"}.get(file.name, "/" + file.name)
            assert phone.get(path).body == file.read_bytes(), file.name
            if file.suffix == ".html":  # what the policy forbids
                text = file.read_text()
                assert not re.search(r"<style|<script(?![^>]*\ssrc=)|\son\w+=|\sstyle=|javascript:", text, re.I), file.name


# ---- floods ----

def test_rate_of_a_phone(build):
    with Page(build) as rig:
        phone = rig.pair()
        statuses = [phone.get("/page.js").status for _ in range(300)]
        assert 429 in statuses and statuses[:40] == [200] * 40, statuses
        rig.pair("other")  # others aren't held up


def test_ten_thousand_connections(build):
    with Page(build) as rig:
        phone = rig.pair()
        stream = phone.events()
        assert stream.next()[0] == "link"
        before, opened = rig.page.own_kb(), []
        try:
            for i in range(10_000):
                connection = socket.socket()
                connection.setblocking(False)
                connection.connect_ex(("127.0.0.1", rig.port))
                opened.append(connection)
                if len(opened) > 900:  # as many as one process may have, and more than the server keeps
                    opened.pop(0).close()
                if i % 2500 == 1250:  # in the midst of it the phone is served
                    began = time.monotonic()
                    assert phone.get("/page.js").status == 200
                    print(f"# answered in {1000 * (time.monotonic() - began):.1f} ms after {i} connections")
            assert rig.page.process.poll() is None
            descriptors = len(os.listdir(f"/proc/{rig.page.process.pid}/fd"))
            assert descriptors < 300, descriptors
            print(f"# {descriptors} descriptors, memory of its own {before} kB before, {rig.page.own_kb()} kB amid 900 open ones")
            rig.page.grown(before, 16384)
            # the stream was never touched
            rig.bismar("page", "revoke", "phone", "--state", str(rig.page_state))
            assert stream.until("revoked") == {}
        finally:
            for connection in opened:
                connection.close()
        rig.pair("again")


def test_connections_without_a_word_and_slow_senders(build):
    """Ten seconds are a stranger's whole stay, whatever it sends meanwhile."""
    with Page(build) as rig:
        began = time.monotonic()
        silent = socket.create_connection(("127.0.0.1", rig.port), PATIENCE)
        slow = socket.create_connection(("127.0.0.1", rig.port), PATIENCE)
        slow.sendall(b"GET /pair HTTP/1.1\r\nHost: 127.0.0.1\r\nX: ")
        waiting, ended = {silent, slow}, {}
        while waiting and time.monotonic() - began < 15:
            ready, _, _ = select.select(list(waiting), [], [], .2)
            for connection in ready:
                try:
                    assert connection.recv(100) == b"", "an answer to half a request"
                except ConnectionError:
                    pass
                waiting.discard(connection)
                ended[connection] = time.monotonic() - began
            if slow in waiting:
                try:
                    slow.sendall(b"x")
                except OSError:
                    pass
        assert not waiting and all(9 < t < 12 for t in ended.values()), (ended, waiting)
        silent.close(), slow.close()


def test_streams_of_a_phone(build):
    with Page(build) as rig:
        phone = rig.pair()
        streams = [phone.events() for _ in range(5)]
        assert all(s.status == 200 for s in streams)
        for event in iter(streams[0].next, None):  # the oldest makes room for the fifth
            assert event[0] == "link"
        assert streams[4].next()[0] == "link"
        for stream in streams:
            stream.close()


# ---- where it listens ----

def test_not_in_the_open_without_tls(build):
    with Rig(build, daemon=False) as rig:
        for address in ("0.0.0.0:0", "[::]:0", "192.0.2.1:80"):
            ran = subprocess.run([str(w) for w in rig.page_words("--listen", address)], capture_output=True, text=True, timeout=PATIENCE)
            assert ran.returncode == 2 and "--certificate" in ran.stderr and not ran.stdout, ran
        for words in (["--listen", "127.0.0.1"], ["--listen", "host:80"], ["--listen", "1.2.3.4:99999"], ["--certificate", "x"],
                      ["--certificate", "/nonexistent", "--key", "/nonexistent"], ["--bogus"], ["word"], ["--heartbeat", "0"]):
            ran = subprocess.run([str(w) for w in rig.page_words(*words)], capture_output=True, text=True, timeout=PATIENCE)
            assert ran.returncode == 2 and ran.stderr, (words, ran)
        rig.run(*rig.page_words("--listen", "0.0.0.0:0", "--private-network")).until("listening on http://0.0.0.0:[1-9]")


def test_tls(build):
    with Rig(build, daemon=False) as rig:
        certificate, key = rig.dir / "cert.pem", rig.dir / "key.pem"
        subprocess.run(["openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes", "-days", "1",
                        "-subj", "/CN=whelping", "-addext", "subjectAltName=IP:127.0.0.1", "-keyout", key, "-out", certificate],
                       check=True, capture_output=True)
        rig.start_page("--listen", "0.0.0.0:0", "--certificate", certificate, "--key", key)
        context = ssl.create_default_context(cafile=certificate)
        phone = Phone(rig.port, tls=context)
        answer = phone.post("/pair", {"code": rig.code(), "name": "phone"})
        assert answer.status == 204 and "; Secure" in answer.headers["Set-Cookie"], answer.body
        phone.cookie = answer.headers["Set-Cookie"][7:71]
        assert phone.get("/page.js").status == 200
        refused(phone.post("/call", {"method": "status"}, Origin=f"http://127.0.0.1:{rig.port}"), 403, "cross-site")
        refused(phone.post("/call", {"method": "status"}, Origin=f"https://127.0.0.1:{rig.port}"), 502, "no-daemon")
        stream = phone.events()
        assert stream.next()[0] == "link"
        rig.bismar("page", "revoke", "phone", "--state", str(rig.page_state))
        assert stream.until("revoked") == {}
        assert stream.next() is None
        for version, spoken in (("-tls1_1", False), ("-tls1_2", True), ("-tls1_3", True)):
            ran = subprocess.run(["openssl", "s_client", "-connect", f"127.0.0.1:{rig.port}", version, "-cipher", "ALL:@SECLEVEL=0"],
                                 stdin=subprocess.DEVNULL, capture_output=True, timeout=PATIENCE)
            assert (ran.returncode == 0) == spoken, (version, ran.stderr)
        key.write_text("nonsense\n")
        ran = subprocess.run([str(w) for w in rig.page_words("--certificate", certificate, "--key", key)], capture_output=True,
                             text=True, timeout=PATIENCE)
        assert ran.returncode == 1 and "--key" in ran.stderr, ran


run_cases(globals(), sys.argv)
