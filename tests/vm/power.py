#!/usr/bin/python3
# SPDX-License-Identifier: MIT
"""usage: power.py KERNEL OUT_DIR CUTS SEED
Boots a small virtual machine, KERNEL with OUT_DIR/initramfs.cpio, with bismard on a disk (disk.py), weighs as fast as it
can, and cuts the power in the middle of a disk request; again and again, from what is left of the disk. After each cut
bismard has to start by itself, and the database has to hold, exactly once, all that a client on the host was told of.
When the power goes: QEMU is killed, and of what was written to the disk since its last flush nothing is left, or a
random choice, block by block, or (the kernel died, not the power) all.
One line a cut on standard output, totals last; exit status 0 only if nothing is missing, doubled or damaged. A failure
leaves the disk as bismard found it in OUT_DIR/disk.img. The same SEED cuts at the same requests; what the machine was
doing then depends on its speed."""
import collections
import json
import os
import random
import select
import signal
import socket
import subprocess
import sys
import time
import disk

KERNEL, OUT, CUTS, SEED = sys.argv[1], sys.argv[2], int(sys.argv[3]), int(sys.argv[4])
LIMIT_S = 180        # for anything to happen; a few seconds are usual
DISK_MIB = 64
DISK_CUTS = 40       # then a new disk: beginnings are cut as well
REQUESTS = 240       # a cut comes after 1 to this many writes and flushes
BURST = 3            # weighings before the answers to them, at most
LEFT_OPEN = 8        # one ask in so many isn't answered before the next boot
SCALE = "C0:FF:EE:00:00:01"
PUPS = ("one", "two", "three")
MODES = {"nothing": 4, "some": 5, "all": 1}  # what is left of unflushed writes, and how often


class Wrong(Exception):
    pass


class Port:
    """A virtio-serial port's end on the host: lines."""
    def __init__(self, name):
        self.path, self.held, self.lines, self.socket = os.path.join(OUT, name), b"", collections.deque(), None

    def listen(self):
        if os.path.exists(self.path):
            os.unlink(self.path)
        self.listener = socket.socket(socket.AF_UNIX)
        self.listener.bind(self.path)
        self.listener.listen(1)
        self.held = b""
        self.lines.clear()

    def accept(self):
        self.socket, _ = self.listener.accept()
        self.listener.close()

    def receive(self):
        """False at the end of file."""
        try:
            octets = self.socket.recv(1 << 16)
        except ConnectionResetError:  # as an end: QEMU was killed with something unread
            octets = b""
        *lines, self.held = (self.held + octets).split(b"\n")
        self.lines += [line.decode() for line in lines]
        return bool(octets)

    def send(self, line):
        self.socket.sendall(line.encode() + b"\n")


class Told:
    """All that a client was told, over the life of one disk."""
    def __init__(self):
        self.done = set()      # requests that were granted
        self.tried = set()     # and those that were sent
        self.sent = set()      # gross masses in mg, each sent once
        self.asked = {}        # ask: net in mg
        self.answered = {}     # ask: the animal that we said, before anyone confirmed it
        self.recorded = {}     # reading: (net in mg, animal)
        self.gross_mg = 300_000

    def next_gross_g(self):
        self.gross_mg += 5_000  # the step of the characteristic: no two are alike
        self.sent.add(self.gross_mg)
        return self.gross_mg // 1000

    def hear(self, message):
        if message.get("method") == "ask":
            ask = message["params"]
            self.once(self.asked, ask["ask"], mg(ask["net_g"]))
        elif message.get("method") == "recorded":
            reading = message["params"]
            self.once(self.recorded, reading["reading"], (mg(reading["net_g"]), reading["name"]))

    @staticmethod
    def once(known, key, value):
        if known.setdefault(key, value) != value:
            raise Wrong("%s was %s, and is told as %s" % (key, known[key], value))


def mg(grams):
    return round(grams * 1000)


class Machine:
    """The virtual machine while it has power."""
    def __init__(self, drive, told, qemu_log):
        self.disk, self.told, self.qemu_log = drive, told, qemu_log
        self.report, self.sim, self.prompt = Port("report"), Port("sim"), Port("prompt")
        self.ports = (self.report, self.sim, self.prompt)
        self.process, self.requests, self.replies = None, 0, {}

    def switch_on(self):
        command = ["qemu-system-x86_64", "-M", "q35", "-accel", "tcg", "-cpu", "qemu64", "-smp", "1", "-m", "192",
                   "-nodefaults", "-no-user-config", "-no-reboot", "-display", "none",
                   "-serial", "file:" + os.path.join(OUT, "console.log"),
                   "-kernel", KERNEL, "-initrd", os.path.join(OUT, "initramfs.cpio"),
                   "-append", "console=ttyS0 quiet panic=-1 mitigations=off nokaslr random.trust_cpu=on",
                   "-device", "virtio-rng-pci", "-device", "virtio-serial-pci",
                   "-blockdev", "driver=nbd,node-name=disk,server.type=unix,server.path=" + self.disk.path,
                   "-device", "virtio-blk-pci,drive=disk,write-cache=on,logical_block_size=%d,"
                   "physical_block_size=%d" % (disk.SECTOR, disk.SECTOR)]
        for n, port in enumerate(self.ports, 1):
            command += ["-chardev", "socket,id=p%d,path=%s" % (n, port.path),
                        "-device", "virtserialport,nr=%d,chardev=p%d" % (n, n)]
            port.listen()
        self.disk.listen()
        self.process = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=self.qemu_log, stderr=self.qemu_log)
        for port in self.ports:
            port.accept()
        self.disk.accept()

    def switch_off(self):
        """What the machine had sent before is heard, as somebody would have."""
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()
        for port in self.ports:
            while port.receive():
                pass
            port.socket.close()
        self.hear()

    def hear(self):
        while self.prompt.lines:
            message = json.loads(self.prompt.lines.popleft())
            if "id" in message:
                self.replies[message["id"]] = message
            self.told.hear(message)

    def until(self, what, condition):
        end = time.monotonic() + LIMIT_S
        while True:
            answer = condition()
            if answer:
                return answer
            sockets = {port.socket: port for port in self.ports}
            sockets[self.disk.connection] = self.disk
            ready, _, _ = select.select(list(sockets), [], [], max(0, end - time.monotonic()))
            if not ready:
                raise Wrong("%s: not within %d s" % (what, LIMIT_S))
            for one in ready:
                if sockets[one].receive() is False:
                    raise Wrong("%s: QEMU ended" % what)
            self.hear()

    def told_lines(self, last):
        """What the guest told on its report port, up to a line."""
        self.until("guest: " + last, lambda: last in self.report.lines or
                   any(line.startswith("failed: ") for line in self.report.lines))
        lines = []
        while self.report.lines and lines[-1:] != [last]:
            lines.append(self.report.lines.popleft())
        if lines[-1] != last:
            raise Wrong("before \"%s\": %s" % (last, "; ".join(lines)))
        lines.pop()
        return lines

    def command(self, line):
        """To the simulated scale; its events are of no interest."""
        def answer():
            while self.sim.lines:
                got = self.sim.lines.popleft()
                if got.startswith("ok"):
                    return True
                if got.startswith("error"):
                    raise Wrong("scale-sim, %s: %s" % (line, got))
            return False
        self.sim.send(line)
        self.until("scale-sim: " + line, answer)

    def request(self, method, **params):
        self.requests += 1
        n = self.requests
        self.prompt.send(json.dumps({"jsonrpc": "2.0", "id": n, "method": method, "params": params}))
        return self.until("reply to " + method, lambda: self.replies.pop(n, None))

    def once(self, method, **params):
        """A request that may have been done before the power was cut: then, and only then, it is refused."""
        key = json.dumps([method, params])
        tried, done = key in self.told.tried, key in self.told.done
        self.told.tried.add(key)
        reply = self.request(method, **params)
        code = reply.get("error", {}).get("data", {}).get("code")
        if code == "exists" if done else code is None or tried and code == "exists":
            self.told.done.add(key)
        else:
            raise Wrong("%s %s: %s" % (method, "was lost" if done else "failed", reply))


class Rows:
    """What power-guest tells of the database."""
    def __init__(self, lines):
        self.facts, self.readings, self.weighings, self.masses = {}, {}, {}, collections.Counter()
        for kind, *words in (line.split(" ") for line in lines):
            if kind in ("reading", "unanswered"):
                key, net_mg, gross_mg, *animal = words
                self.weighings[key] = int(net_mg)
                self.masses[int(gross_mg)] += 1
                if animal:
                    self.readings[key] = int(net_mg), animal[0]
            else:
                self.facts[kind] = " ".join(words)
        self.n = sum(self.masses.values())


class Test:
    def __init__(self):
        self.random = random.Random(SEED)
        self.drive = self.told = None
        self.cuts = self.acknowledged = self.found = self.asked = self.asked_found = 0
        self.doubled = self.lost_sectors = self.found_now = self.asked_found_now = 0
        self.empty = self.make_empty()
        self.qemu_log = open(os.path.join(OUT, "qemu.log"), "wb")

    @staticmethod
    def make_empty():
        path = os.path.join(OUT, "empty.img")
        with open(path, "wb") as f:
            f.truncate(DISK_MIB << 20)
        subprocess.run(["mke2fs", "-q", "-F", "-t", "ext4", "-b", "4096", "-E",
                        "lazy_itable_init=0,lazy_journal_init=0", path], check=True)
        with open(path, "rb") as f:
            return f.read()

    def compare(self, lines):
        """What is in the database with what was told. Returns how many weighings there are."""
        self.there, self.found_now, self.asked_found_now = Rows(lines), 0, 0
        there, told = self.there, self.told
        if there.facts != {"integrity": "ok", "dangling": "0", "frames": str(there.n)}:
            raise Wrong("%d weighings, but %s: %s" % (there.n, there.facts, "; ".join(lines[:20])))
        doubled = sum(n - 1 for n in there.masses.values())
        self.doubled += doubled
        self.found_now = sum(there.readings.get(reading) == what for reading, what in told.recorded.items())
        self.asked_found_now = sum(there.weighings.get(ask) == net_mg for ask, net_mg in told.asked.items())
        if doubled or there.n != len(there.weighings):
            raise Wrong("weighed twice: %s" % [mass for mass, n in there.masses.items() if n > 1])
        for reading, what in told.recorded.items():
            if there.readings.get(reading) != what:
                raise Wrong("recorded %s, %s; in the database: %s" % (reading, what, there.readings.get(reading)))
        for ask, net_mg in told.asked.items():
            if there.weighings.get(ask) != net_mg:
                raise Wrong("asked %s, %d mg; in the database: %s" % (ask, net_mg, there.weighings.get(ask)))
        for reading, (_, animal) in there.readings.items():
            if told.answered.get(reading) != animal:
                raise Wrong("%s is %s, said was %s" % (reading, animal, told.answered.get(reading)))
        if not there.masses.keys() <= told.sent:
            raise Wrong("never on the scale: %s" % (there.masses.keys() - told.sent))
        return there.n

    def set_up(self, machine):
        machine.command("adapter add hci0 00:AA:01:00:00:00")
        machine.command("scale %s kitchen" % SCALE)
        machine.once("scale.adopt", address=SCALE, name="kitchen")
        machine.once("litter.add", name="first")
        for animal in PUPS:
            machine.once("animal.add", name=animal, litter="first")
        machine.command("advertise %s on" % SCALE)
        machine.command("wait-client %s" % SCALE)

    def answer(self, machine, ask):
        animal = self.told.answered.setdefault(ask, self.random.choice(PUPS))
        reply = machine.request("answer", ask=ask, animal=animal)
        if "error" in reply:
            raise Wrong("answer to %s: %s" % (ask, reply))

    def weigh(self, machine):
        """Until the power is cut."""
        told = self.told
        for ask in [ask for ask in told.asked if ask not in told.recorded]:
            if ask in told.answered:  # done already, perhaps, before anyone could be told of it
                machine.request("answer", ask=ask, animal=told.answered[ask])
            else:
                self.answer(machine, ask)
        while True:
            before = set(told.asked)
            burst = self.random.randint(1, BURST)
            for _ in range(burst):
                machine.command("pup %d" % told.next_gross_g())
            new = machine.until("asks", lambda: len(told.asked) >= len(before) + burst and set(told.asked) - before)
            for ask in sorted(new):
                if self.random.randrange(LEFT_OPEN):
                    self.answer(machine, ask)

    def live(self, machine, left):
        """One life of the machine, until the power is cut."""
        machine.told_lines("mounted")
        self.phase = "starting bismard"
        self.compare(machine.told_lines("checked"))
        if left is None:
            return
        self.phase = "setting up"
        self.set_up(machine)
        self.phase = "weighing"
        self.weigh(machine)

    def boot(self, number, left):
        """left: requests to the disk until the power is cut; None: until all is compared."""
        machine = Machine(self.drive, self.told, self.qemu_log)
        self.drive.left = left
        self.found_by_bismard = bytes(self.drive.image)
        self.phase, began = "booting", time.monotonic()
        machine.switch_on()
        try:
            try:
                self.live(machine, left)
            finally:
                machine.switch_off()
        except disk.PowerCut:
            pass
        mode = self.random.choices(list(MODES), MODES.values())[0]
        choose = {"nothing": lambda n: 0, "some": self.random.randrange, "all": lambda n: n - 1}[mode]
        lost = self.drive.lose_power(choose)
        self.lost_sectors += lost
        if left is not None:
            print("cut %d: after %.1f s, at request %d, %s; told so far: %d asked, %d recorded; %s of what wasn't "
                  "flushed is left, %d sectors lost"
                  % (number, time.monotonic() - began, left, self.phase, len(self.told.asked),
                     len(self.told.recorded), mode, lost), flush=True)

    def count(self):
        """What a disk held in the end, into the totals."""
        self.acknowledged += len(self.told.recorded)
        self.found += self.found_now
        self.asked += len(self.told.asked)
        self.asked_found += self.asked_found_now
        self.drive = None

    def run(self):
        for number in range(1, CUTS + 1):
            if self.drive is None:
                self.drive, self.told = disk.Disk(self.empty, os.path.join(OUT, "disk")), Told()
            self.boot(number, self.random.randint(1, REQUESTS))
            self.cuts = number
            if number % DISK_CUTS == 0 or number == CUTS:
                self.boot(number, None)  # no cut: what the last one left is compared
                self.count()

    def totals(self):
        print("power: seed %d: %d cuts, %d readings acknowledged, %d found, %d duplicates; %d questions, %d found; "
              "%d unflushed sectors lost" % (SEED, self.cuts, self.acknowledged, self.found, self.doubled, self.asked,
                                             self.asked_found, self.lost_sectors), flush=True)


for number in signal.SIGINT, signal.SIGTERM:  # in the background a shell has had the first ignored
    signal.signal(number, signal.default_int_handler)
os.makedirs(OUT, exist_ok=True)
test = Test()
status = 0
try:
    test.run()
except Wrong as wrong:
    status = 1
    print("power: FAILED after cut %d: %s" % (test.cuts, wrong))
    test.count()
    with open(os.path.join(OUT, "disk.img"), "wb") as f:
        f.write(test.found_by_bismard)
except KeyboardInterrupt:
    print("power: ended after cut %d; what the last disk held isn't in the totals" % test.cuts)
test.totals()
sys.exit(status)
