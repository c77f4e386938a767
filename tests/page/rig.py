# SPDX-License-Identifier: MIT
"""
The whole way for the page's tests: a private bus with the simulated BlueZ and scale, bismard, bismar-page. A phone is
http.client. Nothing waits for a time: each wait is for a line, an event or an end, and gives up after PATIENCE seconds.

    with Rig(build) as rig:
        rig.start_page()
        phone = rig.pair("phone")
        phone.get("/animals")
"""
import http.client
import json
import os
import pathlib
import queue
import re
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time

PATIENCE = 20
SCALE = "C0:FF:EE:00:00:01"
ROOT = pathlib.Path(__file__).resolve().parents[2]


class Program:
    """A child whose lines can be awaited."""

    def __init__(self, words, env, stdin=subprocess.DEVNULL):
        self.name = os.path.basename(words[0])
        self.lines, self.seen = queue.Queue(), []
        self.process = subprocess.Popen(words, env=env, text=True, stdin=stdin, stdout=subprocess.PIPE,
                                        stderr=subprocess.STDOUT, bufsize=1)
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self):
        for line in self.process.stdout:
            self.seen.append(line.rstrip("\n"))
            self.lines.put(line.rstrip("\n"))
        self.lines.put(None)

    def until(self, pattern):
        """The match of the next line that has the pattern."""
        end = time.monotonic() + PATIENCE
        while True:
            try:
                line = self.lines.get(timeout=max(.01, end - time.monotonic()))
            except queue.Empty:
                line = None
            if line is None:
                raise AssertionError(f"{self.name} didn't say {pattern!r}; it said:\n" + "\n".join(self.seen[-30:]))
            found = re.search(pattern, line)
            if found:
                return found

    def say(self, line):
        self.process.stdin.write(line + "\n")
        self.process.stdin.flush()

    def end(self, number=signal.SIGTERM):
        if self.process.poll() is None:
            self.process.send_signal(number)
        status = self.process.wait(PATIENCE)
        for word in ("Sanitizer", "runtime error:"):
            assert not any(word in line for line in self.seen), "\n".join(self.seen)
        return status

    def grown(self, before_kb, most_kb):
        """Since then by no more than that; under a sanitizer, which keeps what was freed, anything goes."""
        now = self.own_kb()
        maps = pathlib.Path(f"/proc/{self.process.pid}/maps").read_text()
        assert "libasan" in maps or now - before_kb <= most_kb, f"from {before_kb} kB to {now} kB"

    def own_kb(self):
        """What it alone has: its share of libraries changes with who else uses them."""
        rollup = pathlib.Path(f"/proc/{self.process.pid}/smaps_rollup").read_text()
        return int(re.search(r"^Anonymous: +(\d+) kB", rollup, re.M)[1])

    def pss_kb(self):
        rollup = pathlib.Path(f"/proc/{self.process.pid}/smaps_rollup").read_text()
        return int(re.search(r"^Pss: +(\d+) kB", rollup, re.M)[1])

    def cpu_s(self):
        fields = pathlib.Path(f"/proc/{self.process.pid}/stat").read_text().rsplit(")", 1)[1].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


class Answer:
    def __init__(self, response, body):
        self.status, self.headers, self.body = response.status, response.headers, body

    @property
    def json(self):
        return json.loads(self.body)

    @property
    def code(self):
        return self.json["error"]["code"]


class Phone:
    """Requests to the page, each on a connection of its own unless keep is set."""

    def __init__(self, port, cookie=None, tls=None):
        self.port, self.cookie, self.tls = port, cookie, tls

    def connect(self):
        if self.tls:
            return http.client.HTTPSConnection("127.0.0.1", self.port, timeout=PATIENCE, context=self.tls)
        return http.client.HTTPConnection("127.0.0.1", self.port, timeout=PATIENCE)

    def send(self, method, path, body=None, headers=(), connection=None):
        own = connection or self.connect()
        own.putrequest(method, path, skip_host="Host" in dict(headers), skip_accept_encoding=True)
        told = dict(headers)
        if self.cookie and "Cookie" not in told:
            told["Cookie"] = f"bismar={self.cookie}"
        if body is not None and "Content-Length" not in told and "Transfer-Encoding" not in told:
            told["Content-Length"] = str(len(body))
        for name, value in told.items():
            if value is not None:
                own.putheader(name, value)
        own.endheaders(body)
        response = own.getresponse()
        answer = Answer(response, response.read())
        if not connection:
            own.close()
        return answer

    def get(self, path, **headers):
        return self.send("GET", path, headers={k.replace("_", "-"): v for k, v in headers.items()})

    def post(self, path, value, **headers):
        body = value if isinstance(value, bytes) else json.dumps(value).encode()
        told = {"Content-Type": "application/json", "X-Bismar": "1", **{k.replace("_", "-"): v for k, v in headers.items()}}
        return self.send("POST", path, body, told)

    def call(self, method, **params):
        return self.post("/call", {"method": method, "params": params})

    def events(self):
        return Stream(self)


class Stream:
    """Server-sent events, parsed as WHATWG HTML, 9.2.6 has it."""

    def __init__(self, phone):
        self.connection = phone.connect()
        self.connection.request("GET", "/events", headers={"Cookie": f"bismar={phone.cookie}"})
        self.response = self.connection.getresponse()
        self.status, self.headers = self.response.status, self.response.headers
        self.comments = 0

    def next(self):
        """(topic, params), or None at the end."""
        topic, data = "message", []
        for line in iter(self.response.readline, b""):
            line = line.decode().rstrip("\n")
            if not line and data:
                return topic, json.loads("\n".join(data))
            name, _, value = line.partition(":")
            value = value.removeprefix(" ")
            if line.startswith(":"):
                self.comments += 1
            elif name == "event":
                topic = value
            elif name == "data":
                data.append(value)
        return None

    def until(self, topic, **members):
        while True:
            event = self.next()
            assert event, f"the stream ended before {topic} {members}"
            if event[0] == topic and all(event[1].get(k) == v for k, v in members.items()):
                return event[1]

    def close(self):
        self.response.close()
        self.connection.close()


class Rig:
    def __init__(self, build, scale=False, daemon=True):
        self.build = pathlib.Path(build)
        self.with_scale, self.with_daemon = scale, daemon
        self.dir = pathlib.Path(tempfile.mkdtemp(prefix="bismar-page-"))
        self.socket, self.database = self.dir / "prompt.sock", self.dir / "state" / "bismar.db"
        self.page_state = self.dir / "page"
        self.programs = []
        self.bus = self.sim = self.daemon = self.page = None
        foreign = ("NOTIFY_SOCKET", "LISTEN_FDS", "LISTEN_PID", "STATE_DIRECTORY", "RUNTIME_DIRECTORY", "WATCHDOG_USEC")
        self.env = {k: v for k, v in os.environ.items() if k not in foreign}
        self.env.update(DBUS_SYSTEM_BUS_ADDRESS=f"unix:path={self.dir}/bus", TZ="UTC", LC_ALL="C.UTF-8")

    def __enter__(self):
        try:
            if self.with_scale:
                self.start_bus()
            if self.with_daemon:
                self.start_daemon()
            if self.with_scale:
                self.adopt()
        except BaseException:
            self.__exit__(*sys.exc_info())
            raise
        return self

    def __exit__(self, *problem):
        if problem[0]:
            for program in self.programs:
                print(f"---- {program.name}", *program.seen[-20:], sep="\n", file=sys.stderr)
        statuses = [(program.name, program.end()) for program in reversed(self.programs)
                    if program.process.poll() is None]
        shutil.rmtree(self.dir, ignore_errors=True)
        if not problem[0]:
            ours = [s for s in statuses if s[0] in ("bismard", "bismar-page") and s[1] != 0]
            assert not ours, f"after SIGTERM: {ours}"

    def run(self, *words, stdin=subprocess.DEVNULL):
        self.programs.append(Program([str(w) for w in words], self.env, stdin))
        return self.programs[-1]

    def start_bus(self):
        (self.dir / "bus.conf").write_text(
            f"<busconfig><type>custom</type><listen>unix:path={self.dir}/bus</listen><policy context='default'>"
            "<allow send_destination='*'/><allow receive_sender='*'/><allow own='*'/></policy></busconfig>\n")
        self.bus = self.run("dbus-daemon", f"--config-file={self.dir}/bus.conf", "--nofork", "--nopidfile", "--print-address=1")
        self.bus.until("unix:path=")
        self.sim = self.run(self.build / "contrib/scale-sim/scale-sim", stdin=subprocess.PIPE)
        self.sim.until("^event ready")
        for words in ("set connect-ms 5", "set resolve-ms 5", "set disconnect-ms 5", "set advert-ms 100",
                      "adapter add hci0 00:AA:01:00:00:00"):
            self.sim_do(words)

    def sim_do(self, line):
        self.sim.say(line)
        self.sim.until("^ok")

    def start_daemon(self):
        self.database.parent.mkdir(exist_ok=True)
        self.daemon = self.run(self.build / "daemon/bismard", "--state", self.database.parent, "--socket", self.socket,
                               "--config", "/dev/null")
        self.daemon.until(" is ready")

    def adopt(self):
        self.sim_do(f"scale {SCALE} kitchen battery 80")
        self.bismar("scale", "adopt", SCALE, "kitchen")
        self.sim_do(f"advertise {SCALE} on")
        self.sim_do(f"wait-client {SCALE}")

    def bismar(self, *words, status=0):
        ran = subprocess.run([self.build / "daemon/ctl/bismar", "--socket", self.socket, "--database", self.database, *words],
                             env=self.env, text=True, capture_output=True, timeout=PATIENCE)
        assert ran.returncode == status, f"bismar {words}: {ran.returncode}\n{ran.stdout}{ran.stderr}"
        return ran.stdout + ran.stderr

    def page_words(self, *words):
        return [self.build / "contrib/page/bismar-page", "--socket", self.socket, "--database", self.database, "--state",
                self.page_state, "--listen", "127.0.0.1:0", *words]

    def start_page(self, *words):
        self.page = self.run(*self.page_words(*words))
        self.port = int(self.page.until(r"listening on https?://[^/]*:(\d+)/$")[1])
        return self.page

    def stop_page(self):
        status = self.page.end()
        assert status == 0, f"bismar-page ended with {status}"

    def phone(self, cookie=None):
        return Phone(self.port, cookie)

    def code(self):
        return json.loads(self.bismar("--json", "page", "pair", "--state", str(self.page_state)))["code"]

    def pair(self, name="phone", phone=None):
        phone = phone or self.phone()
        answer = phone.post("/pair", {"code": self.code(), "name": name})
        assert answer.status == 204, (answer.status, answer.body)
        phone.cookie = re.match(r"bismar=([0-9a-f]{64});", answer.headers["Set-Cookie"])[1]
        return phone

    def litter(self, names=(("Moss", "green", 305), ("Fern", "red", 340), ("Gorse", "blue", 290))):
        born = time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime(time.time() - 2 * 86400))
        self.bismar("litter", "add", "hedge", "--born", born)
        for name, collar, birth in names:
            self.bismar("animal", "add", name, "--litter", "hedge", "--collar", collar, "--birth", f"{birth}g")

    def rows(self, sql, *values):
        with sqlite3.connect(f"file:{self.database}?mode=ro", uri=True) as database:
            return database.execute(sql, values).fetchall()


def raw(port, data, whole=True):
    """What comes back for these octets: for requests that http.client wouldn't send."""
    with socket.create_connection(("127.0.0.1", port), PATIENCE) as connection:
        connection.sendall(data)
        got = b""
        while whole:
            more = connection.recv(65536)
            if not more:
                break
            got += more
        return got


def run_cases(module, argv):
    """Runs each function named test_* with the build's folder; says which fail. NAMES in argv: only those."""
    build, names = argv[1], argv[2:]
    failed, ran = 0, 0
    for name, case in list(module.items()):
        if not name.startswith("test_") or (names and name not in names):
            continue
        ran += 1
        try:
            case(build)
            print(f"ok {name}", flush=True)
        except Exception as problem:  # the next case is tried all the same
            import traceback
            failed += 1
            traceback.print_exc()
            print(f"not ok {name}: {problem}", flush=True)
    print(f"{ran} cases, {failed} failed")
    sys.exit(1 if failed or not ran else 0)
