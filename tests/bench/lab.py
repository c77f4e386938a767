# SPDX-License-Identifier: MIT
"""What the benchmarks share: one private bus with the simulated BlueZ and scale, bismard, the two it is measured against, and
what the kernel says of a process. All lives in one folder and ends with `close()`. TMPDIR says where; it should be a disk."""
import json
import os
import re
import resource
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time

HERE = os.path.dirname(os.path.abspath(__file__))
SCALE, PATH = "C0:FF:EE:00:00:01", "/org/bluez/hci0/dev_C0_FF_EE_00_00_01"
PATIENCE_S = 60
with open(HERE + "/../../daemon/limits.h") as limits:
    LIMIT_CLIENTS = int(re.search(r"#define LIMIT_CLIENTS (\d+)", limits.read())[1])


def pss_kib(pid):
    return rollup_kib(pid, "Pss")


def private_dirty_kib(pid):
    return rollup_kib(pid, "Private_Dirty")


def rollup_kib(pid, what):
    with open("/proc/%d/smaps_rollup" % pid) as rollup:
        return int(re.search(r"^%s:\s+(\d+)" % what, rollup.read(), re.M)[1])


def cpu_ms(pid):
    """Of all its threads, in nanoseconds in the kernel: finer than clock ticks."""
    tasks = "/proc/%d/task" % pid
    return sum(int(open("%s/%s/schedstat" % (tasks, t)).read().split()[0]) for t in os.listdir(tasks)) / 1e6


def wakes(pid):
    tasks = "/proc/%d/task" % pid
    return sum(int(re.search(r"^voluntary_ctxt_switches:\s+(\d+)", open("%s/%s/status" % (tasks, t)).read(), re.M)[1])
               for t in os.listdir(tasks))


def disk_bytes(folder):
    return sum(os.path.getsize(os.path.join(folder, name)) for name in os.listdir(folder))


class Sim:
    """The simulated BlueZ with its scale: commands in, answers and events out."""

    def __init__(self, lab):
        self.child = lab.start([lab.build + "/contrib/scale-sim/scale-sim"], stdin=subprocess.PIPE)
        self.until("event ready")
        for line in ("set connect-ms 5", "set resolve-ms 5", "set disconnect-ms 5", "set advert-ms 100",
                     "adapter add hci0 00:AA:01:00:00:00", "scale %s bench" % SCALE, "advertise %s on" % SCALE):
            self.say(line)

    def send(self, line):
        self.child.stdin.write(line + "\n")
        self.child.stdin.flush()

    def say(self, line):
        self.send(line)
        self.until("ok")

    def fresh(self):
        """The link of whoever went is lost, and the scale advertises again."""
        self.send("drop " + SCALE)
        while not self.child.stdout.readline().startswith(("ok", "error not connected")):
            assert self.child.poll() is None, "scale-sim ended"
        for line in ("advertise %s off" % SCALE, "advertise %s on" % SCALE):
            self.say(line)

    def indicate(self, raw):
        """Sends one result of so many steps of 5 g, and doesn't wait for the answer."""
        self.send("indicate %s 2a9d 00%02x%02x" % (SCALE, raw & 255, raw >> 8))

    def until(self, begin):
        for line in self.child.stdout:
            if line.startswith("error"):
                raise SystemExit("scale-sim: " + line)
            if line.startswith(begin):
                return
        raise SystemExit("scale-sim ended")


class Other:
    """One of those bismard is measured against: says "ready" when it is subscribed, and a line for each committed row."""

    def __init__(self, lab, name, words):
        self.name = name
        began = time.perf_counter()
        self.child = lab.start(words)
        self.pid = self.child.pid
        self.started_ms = 0  # until it could take results, but for the scale's own time
        while (line := self.child.stdout.readline().strip()) != "ready":
            assert line == "started", name + " ended"
            self.started_ms = (time.perf_counter() - began) * 1000
        self.started_ms = self.started_ms or (time.perf_counter() - began) * 1000
        self.lab = lab

    def until_ask(self):
        assert self.child.stdout.readline().strip() == "ask", self.name + " ended"

    def end(self):
        self.lab.end(self.child)


class Daemon:
    """bismard with its state in a folder, and one client of it. Started as systemd does: it says when it is ready."""

    def __init__(self, lab, state, name="bismard"):
        self.name, self.lab, self.path = name, lab, state + ".sock"
        path = state + ".notify"
        if os.path.exists(path):
            os.unlink(path)
        self.notify = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self.notify.bind(path)
        self.notify.settimeout(PATIENCE_S)
        began = time.perf_counter()
        self.child = lab.start([lab.build + "/daemon/bismard", "--state", state, "--socket", self.path, "--config",
                                os.devnull, "--log-level", "err"], stdout=subprocess.DEVNULL,
                               env=dict(os.environ, NOTIFY_SOCKET=path, WATCHDOG_USEC="60000000"))
        self.pid = self.child.pid
        while b"READY=1" not in self.notify.recv(4096):
            assert self.child.poll() is None, "bismard ended"
        self.ready_ms = (time.perf_counter() - began) * 1000
        self.fed = 0  # times the watchdog was fed
        self.notify.settimeout(None)
        threading.Thread(target=self._heed, daemon=True).start()  # few datagrams fit: unread ones would stop bismard
        self.sock, self.lines = self.connect()

    def _heed(self):
        try:
            while word := self.notify.recv(4096):
                self.fed += word.count(b"WATCHDOG=1")
        except OSError:
            pass

    def connect(self):
        sock = socket.socket(socket.AF_UNIX)
        sock.settimeout(PATIENCE_S)
        sock.connect(self.path)
        return sock, sock.makefile("rb")

    def call(self, method, **params):
        self.sock.sendall((json.dumps({"jsonrpc": "2.0", "id": 1, "method": method, "params": params}) + "\n").encode())
        while True:
            message = json.loads(self.lines.readline())
            if "id" in message:
                assert "error" not in message, message
                return message["result"]

    def bismar_ms(self, *words):
        """What a command takes that asks it."""
        began = time.perf_counter()
        done = subprocess.run([self.lab.build + "/daemon/ctl/bismar", "--socket", self.path, *words], stdout=subprocess.PIPE)
        took = time.perf_counter() - began
        assert done.returncode == 0 and done.stdout, done
        return took * 1000

    def until_ask(self):
        for line in self.lines:
            if b'"method":"ask"' in line:
                return json.loads(line)["params"]["ask"]
        raise SystemExit("bismard closed the connection")

    def adopt(self):
        """The scale; returns when it is subscribed."""
        self.call("follow", topics=["ask", "scale"])
        self.call("scale.adopt", address=SCALE, name="bench")
        self.until_subscribed()

    def until_subscribed(self):
        while self.call("status")["scales"][0]["state"] != "subscribed":
            time.sleep(0.01)

    def litter(self, name="bench", pups=8):
        self.call("litter.add", name=name)
        for i in range(pups):
            self.call("animal.add", name="pup%d" % i, litter=name, birth_g=250 + 20 * i)

    def end(self):
        self.lines.close()
        self.sock.close()
        self.lab.end(self.child)
        self.notify.shutdown(socket.SHUT_RDWR)
        self.notify.close()


class Lab:
    def __init__(self, build, bus=True):
        self.build, self.children = os.path.abspath(build), []
        if not os.path.exists(self.build + "/daemon/bismard"):
            sys.exit("%s has no bismard: meson setup %s && ninja -C %s" % (build, build, build))
        self.dir = tempfile.mkdtemp(prefix="bismar-bench-")
        os.environ["DBUS_SYSTEM_BUS_ADDRESS"] = "unix:path=%s/bus" % self.dir
        os.environ.update(TZ="UTC", LC_ALL="C.UTF-8")
        soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
        resource.setrlimit(resource.RLIMIT_NOFILE, (hard, hard))  # for a thousand clients, and bismard's end of them
        if bus:
            self.start_bus()

    def start_bus(self):
        conf = self.dir + "/bus.conf"
        with open(conf, "w") as f:
            f.write("<busconfig><type>custom</type><listen>unix:path=%s/bus</listen><policy context='default'>"
                    "<allow send_destination='*' eavesdrop='false'/><allow receive_sender='*'/><allow own='*'/></policy>"
                    "<limit name='max_match_rules_per_connection'>512</limit></busconfig>" % self.dir)
        bus = self.start(["dbus-daemon", "--config-file=" + conf, "--nofork", "--print-address"])
        assert bus.stdout.readline(), "dbus-daemon ended"

    def start(self, words, stdout=subprocess.PIPE, **more):
        child = subprocess.Popen(words, stdout=stdout, text=True, bufsize=1, **more)
        self.children.append(child)
        return child

    def hold(self):
        """The floor doesn't connect: where it is alone, a stopped script keeps link and subscription for it."""
        self.script(self.dir + "/holder").child.send_signal(signal.SIGSTOP)

    def bare(self, folder, path=PATH):
        os.makedirs(folder, exist_ok=True)
        return Other(self, "floor", [self.build + "/tests/bench/bench-bare", folder + "/readings.db", path])

    def script(self, folder):
        os.makedirs(folder, exist_ok=True)
        return Other(self, "script", ["/usr/bin/python3", HERE + "/script.py", folder + "/readings.db", SCALE])

    def end(self, child, number=signal.SIGTERM):
        child.send_signal(number)
        child.wait()
        self.children.remove(child)

    def close(self):
        for child in reversed(self.children):
            child.kill()
            child.wait()
        shutil.rmtree(self.dir, ignore_errors=True)
