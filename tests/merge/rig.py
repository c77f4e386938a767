# SPDX-License-Identifier: MIT
"""
The real mosquitto and the real PostgreSQL for tests: both are the test's own, in its folder, and end with it. PostgreSQL runs as an
unprivileged user and listens on a UNIX socket there; nothing of the machine's own cluster is touched.
"""
import contextlib
import glob
import json
import os
import pathlib
import queue
import re
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time

PATIENCE = 90
HERE = pathlib.Path(__file__).resolve().parent
POSTGRES = sorted(glob.glob("/usr/lib/postgresql/*/bin"))[-1:]
AS_POSTGRES = ["runuser", "-u", "postgres", "--"] if os.getuid() == 0 else []


def skip_unless_there():
    """Exit status 77 is `skipped` for meson."""
    missing = [name for name in ("mosquitto",) if not shutil.which(name, path=os.environ.get("PATH", "") + ":/usr/sbin")]
    if not POSTGRES:
        missing.append("PostgreSQL")
    if subprocess.run(["/usr/bin/python3", "-c", "import paho.mqtt.client"], stderr=subprocess.DEVNULL).returncode:
        missing.append("python3-paho-mqtt")
    if missing:
        print("not here: " + ", ".join(missing) + "; tests/merge/packages says what to install")
        sys.exit(77)


def until(what, seconds=PATIENCE):
    """Waits until what() is true; there is nothing to wait on but its answer."""
    end = time.monotonic() + seconds
    while True:
        found = what()
        if found:
            return found
        assert time.monotonic() < end, "it didn't come to that"
        time.sleep(.05)


class Program:
    """A child whose lines can be awaited."""

    def __init__(self, words, env=None):
        self.name, self.seen, self.lines = os.path.basename(words[0]), [], queue.Queue()
        self.process = subprocess.Popen(words, env=env, text=True, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
                                        stderr=subprocess.STDOUT, errors="replace", bufsize=1)
        self.reader = threading.Thread(target=self._read, daemon=True)
        self.reader.start()

    def _read(self):
        for line in self.process.stdout:
            self.seen.append(line.rstrip("\n"))
            self.lines.put(line)
        self.lines.put(None)

    def until(self, pattern):
        end = time.monotonic() + PATIENCE
        while True:
            try:
                line = self.lines.get(timeout=max(.01, end - time.monotonic()))
            except queue.Empty:
                line = None
            assert line is not None, "%s didn't say %r; it said: %s" % (self.name, pattern, self.seen[-20:])
            if re.search(pattern, line):
                return line

    def end(self, number=signal.SIGTERM):
        if self.process.poll() is None:
            self.process.send_signal(number)
        status = self.process.wait(PATIENCE)
        self.reader.join(PATIENCE)
        return status


class Rig:
    def __init__(self, build):
        self.build = build
        self.folder = tempfile.mkdtemp(prefix="bismar-gather-")
        os.chmod(self.folder, 0o755)
        self.programs, self.broker = [], None
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = probe.getsockname()[1]
        self.data, self.sockets = self.folder + "/data", self.folder + "/sockets"
        self.env = {**{k: v for k, v in os.environ.items() if not k.startswith("PG")}, "PGHOST": self.sockets,
                    "PGDATABASE": "postgres", "PGUSER": "postgres"}

    def __enter__(self):
        try:
            os.mkdir(self.sockets)
            os.mkdir(self.data, 0o700)
            if AS_POSTGRES:
                for path in self.data, self.sockets:
                    shutil.chown(path, "postgres", "postgres")
            self.postgres("initdb", "-D", self.data, "-U", "postgres", "-A", "trust", "-E", "UTF8", "--locale=C.UTF-8", "-N")
            with open(self.data + "/postgresql.conf", "a") as conf:
                conf.write("listen_addresses = ''\nunix_socket_directories = '%s'\nmax_connections = 20\n" % self.sockets)
            self.start_postgres()
            self.start_broker()
        except BaseException:
            self.__exit__(*sys.exc_info())
            raise
        return self

    def __exit__(self, kind, value, trace):
        if kind:
            for program in self.programs:
                print("%s said:\n  %s" % (program.name, "\n  ".join(line[:300] for line in program.seen[-15:])), file=sys.stderr)
        for program in self.programs:
            with contextlib.suppress(Exception):
                program.end(signal.SIGKILL)
        if os.path.exists(self.data + "/postmaster.pid"):
            with contextlib.suppress(Exception):
                self.stop_postgres("immediate")
        shutil.rmtree(self.folder, ignore_errors=True)

    # PostgreSQL

    def postgres(self, program, *words):
        done = subprocess.run([*AS_POSTGRES, os.path.join(POSTGRES[0], program), *words], stdout=subprocess.PIPE,
                              stderr=subprocess.STDOUT, text=True, cwd="/", stdin=subprocess.DEVNULL)
        assert done.returncode == 0, (program, done.stdout)

    def start_postgres(self):
        self.postgres("pg_ctl", "-D", self.data, "-l", self.data + "/log", "-w", "-t", str(PATIENCE), "start")

    def stop_postgres(self, mode):
        """`immediate` is as a crash: its log is played back at the next start."""
        self.postgres("pg_ctl", "-D", self.data, "-w", "-m", mode, "stop")

    def sql(self, text):
        """Rows as lists of text; psql's own words when it fails."""
        done = subprocess.run(["psql", "-XAtq", "-F", "\x1f", "-R", "\x1e", "-v", "ON_ERROR_STOP=1", "-c", text], env=self.env,
                              stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        assert done.returncode == 0, done.stderr
        out = done.stdout.decode().rstrip("\n")
        return [row.split("\x1f") for row in out.split("\x1e")] if out else []

    def one(self, text):
        return self.sql(text)[0][0]

    def rows(self, text):
        """Rows as dicts, values as JSON has them: a double in the shortest digits that give it back."""
        return [json.loads(row[0]) for row in self.sql("SELECT row_to_json(r)::text FROM (%s) AS r" % text)]

    # mosquitto: without persistence, so that a kill loses its memory

    def start_broker(self, *lines):
        conf = self.folder + "/mosquitto.conf"
        with open(conf, "w") as file:
            file.write("listener %d 127.0.0.1\nallow_anonymous true\npersistence false\n" % self.port + "".join(
                line + "\n" for line in lines))
        self.broker = Program([shutil.which("mosquitto", path=os.environ["PATH"] + ":/usr/sbin"), "-c", conf])
        self.programs.append(self.broker)
        self.broker.until("running")

    # ours

    def gather(self, *words):
        program = Program([os.path.join(self.build, "contrib/merge/bismar-gather"), "--port", str(self.port), *words], self.env)
        self.programs.append(program)
        return program

    def once(self, *words):
        """Runs it to its end: the status, and what it said."""
        program = self.gather("--once", *words)
        status = program.process.wait(PATIENCE * 2)
        program.reader.join(PATIENCE)
        return status, "\n".join(program.seen)

    def publish(self, bridge, database, *words, ours=False):
        """The program that publishes a ledger: the tests' own, or, where `ours` or BISMAR_BROKER says, bismar-broker, which looks for
        news once a minute where no bismard tells of them."""
        broker = os.environ.get("BISMAR_BROKER") or (os.path.join(self.build, "contrib/broker/bismar-broker") if ours else None)
        program = Program([*([broker, "--socket", self.folder + "/none"] if broker else ["/usr/bin/python3", str(HERE / "publisher.py")]),
                           "--host", "127.0.0.1", "--port", str(self.port), "--bridge", bridge, "--state",
                           "%s/publisher-%s" % (self.folder, bridge), "--database", database, *words])
        self.programs.append(program)
        return program

    def told(self, bridge):
        """What the broker keeps of a bridge's `state`."""
        done = subprocess.run(["/usr/bin/python3", "-c", (
            "import paho.mqtt.subscribe as s\nprint(s.simple('bismar/%s/state', 1, hostname='localhost', port=%d).payload.decode())"
            % (bridge, self.port))], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, timeout=PATIENCE)
        return json.loads(done.stdout or b"{}")

    def until_told(self, bridge, reading, concern):
        """The broker has all of it, whoever listens."""
        until(lambda: {"state": "here", "reading": reading, "concern": concern}.items() <= self.told(bridge).items())
