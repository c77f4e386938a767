# SPDX-License-Identifier: MIT
"""A private bus with scale-sim, a bismard that may be killed, clients of its socket, and one loop over all of them.
Above: the programs of this folder. Below: dbus-daemon, the build directory that BISMAR_BUILD names (else build)."""
import ctypes, json, os, selectors, shutil, signal, socket, sqlite3, subprocess, sys, tempfile, time

HERE = os.path.dirname(os.path.abspath(__file__))
BUILD = os.path.abspath(os.environ.get("BISMAR_BUILD") or os.path.join(HERE, "../../build"))
SCALE = "02:00:00:00:0A:01"  # locally administered: nobody's
PATIENCE_S = 60  # what takes longer is stuck


prctl = ctypes.CDLL(None).prctl


def die_with_parent():
    prctl(1, signal.SIGKILL)  # PR_SET_PDEATHSIG


class Stuck(Exception):
    pass


class Lines:
    """What can be read line by line; each goes to on_line, the end to on_end."""

    def __init__(self, lab, source, on_line, on_end=None):
        self.lab, self.source, self.on_line, self.on_end, self.rest = lab, source, on_line, on_end, b""
        os.set_blocking(source.fileno(), False)
        lab.selector.register(source, selectors.EVENT_READ, self)
        self.open = True

    def read(self):
        try:
            octets = os.read(self.source.fileno(), 1 << 16)
        except BlockingIOError:
            return
        except ConnectionError:
            octets = b""
        *lines, self.rest = (self.rest + octets).split(b"\n")
        for line in lines:
            self.on_line(line.decode())
        if not octets:
            self.close()

    def close(self):
        if self.open:
            self.open = False
            self.lab.selector.unregister(self.source)
            self.source.close()
            if self.on_end:
                self.on_end()


class Lab:
    def __init__(self):
        self.selector = selectors.DefaultSelector()
        self.dir = tempfile.mkdtemp(prefix="bismar-soak-")
        self.children = []
        conf = os.path.join(self.dir, "bus.conf")
        with open(conf, "w") as f:
            f.write('<busconfig><type>custom</type><listen>unix:path=%s/bus</listen><policy context="default">'
                    '<allow send_destination="*" eavesdrop="false"/><allow receive_sender="*"/><allow own="*"/></policy>'
                    '</busconfig>' % self.dir)
        bus = self.start("dbus-daemon", "--config-file=" + conf, "--nofork", "--print-address", stdout=subprocess.PIPE,
                         stderr=subprocess.DEVNULL)
        os.environ["DBUS_SYSTEM_BUS_ADDRESS"] = bus.stdout.readline().decode().strip()
        os.environ["TZ"] = "UTC"
        self.sim = Sim(self)

    def start(self, *argv, **more):
        more.setdefault("start_new_session", True)  # Ctrl-C is for us alone
        child = subprocess.Popen(argv, preexec_fn=die_with_parent, **more)
        self.children.append(child)
        return child

    def turn(self, timeout_s=0.0):
        for key, _ in self.selector.select(max(0.0, timeout_s)):
            if key.data.open:
                key.data.read()

    def until(self, true, what, patience_s=PATIENCE_S):
        limit = time.monotonic() + patience_s
        while not true():
            if time.monotonic() > limit:
                raise Stuck("waited in vain for " + what)
            self.turn(min(0.1, patience_s))

    def close(self):
        for child in reversed(self.children):
            if child.poll() is None:
                child.kill()
                child.wait()
        shutil.rmtree(self.dir)


class Sim:
    """scale-sim with one scale; subscribed: bismard listens to it; links: how often it began to."""

    def __init__(self, lab):
        self.lab, self.answers, self.events, self.subscribed, self.links = lab, [], [], False, 0
        self.child = lab.start(os.path.join(BUILD, "contrib/scale-sim/scale-sim"), stdin=subprocess.PIPE,
                               stdout=subprocess.PIPE)
        Lines(lab, self.child.stdout, self.heard)
        lab.until(lambda: self.events, "scale-sim")
        for line in ("set connect-ms 2", "set resolve-ms 2", "set disconnect-ms 2", "set advert-ms 20",
                     "adapter add hci0 02:00:00:00:00:01", "scale %s bench" % SCALE, "advertise %s on" % SCALE):
            self.say(line)

    def heard(self, line):
        if line.startswith("event "):
            words = line.split()
            self.events = [line]
            if words[1] in ("subscribed", "unsubscribed"):
                self.subscribed = words[1] == "subscribed"
                self.links += self.subscribed
        else:
            self.answers.append(line)

    def send(self, line):
        self.child.stdin.write(line.encode() + b"\n")
        self.child.stdin.flush()

    def say(self, line):
        self.answers.clear()
        self.send(line)
        self.lab.until(lambda: self.answers, line)
        if not self.answers[-1].startswith("ok"):
            raise Stuck("%s: %s" % (line, self.answers[-1]))

    def weigh(self, grams, at_s):
        """Indicates a mass with its time: Weight Measurement 0x2A9D (Weight Scale Service 1.0.1, 3.2), flags 0x02,
        steps of 5 g, then Date Time: year, month, day, hours, minutes, seconds."""
        when = time.gmtime(at_s)
        octets = bytes([2]) + (grams // 5).to_bytes(2, "little") + when.tm_year.to_bytes(2, "little") + bytes(when[1:6])
        self.send("indicate %s 2a9d %s" % (SCALE, octets.hex()))


class Daemon:
    """bismard, as systemd would start it: it says when it is ready. preload: shims that stand before its libraries."""

    def __init__(self, lab, state="state", preload=(), environ=None):
        self.lab, self.child, self.ready, self.status = lab, None, False, None
        self.state = os.path.join(lab.dir, state)
        self.path = os.path.join(lab.dir, "prompt.sock")
        os.makedirs(self.state, exist_ok=True)
        self.log_path = os.path.join(lab.dir, "log")
        self.environ = dict(os.environ, NOTIFY_SOCKET=os.path.join(lab.dir, "notify"), **(environ or {}))
        if preload:
            self.environ["LD_PRELOAD"] = ":".join(preload)
            # a sanitizer insists on being loaded first, and needn't
            self.environ["ASAN_OPTIONS"] = self.environ.get("ASAN_OPTIONS", "") + ":verify_asan_link_order=0"
        self.notify = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_NONBLOCK)
        if os.path.exists(self.environ["NOTIFY_SOCKET"]):
            os.unlink(self.environ["NOTIFY_SOCKET"])
        self.notify.bind(self.environ["NOTIFY_SOCKET"])
        self.open = True  # as a source of the loop
        lab.selector.register(self.notify, selectors.EVENT_READ, self)

    def read(self):
        while True:
            try:
                self.ready |= self.notify.recv(4096).startswith(b"READY=1")
            except BlockingIOError:
                return

    def start(self):
        self.ready, self.status = False, None
        with open(self.log_path, "ab") as log:
            self.child = self.lab.start(os.path.join(BUILD, "daemon/bismard"), "--state", self.state, "--socket", self.path,
                                        "--config", os.devnull, "--log-level", "info", stderr=log, env=self.environ)

    def await_ready(self):
        self.lab.until(lambda: self.ready or self.ended(), "bismard to be ready")
        if not self.ready:
            raise Stuck("bismard ended with %s: %s" % (self.status, self.last_words()))

    def ended(self):
        if self.child and self.child.poll() is not None:
            self.reap()
        return self.child is None

    def reap(self):
        self.status = self.child.wait()
        self.lab.children.remove(self.child)
        self.child = None
        self.read()

    def end(self, number):
        self.child.send_signal(number)
        self.lab.sim.subscribed = False
        self.reap()
        return self.status

    def memory_kib(self):
        with open("/proc/%d/smaps_rollup" % self.child.pid) as f:
            return next(int(line.split()[1]) for line in f if line.startswith("Pss:"))

    def last_words(self, n=3):
        with open(self.log_path, errors="replace") as f:
            return " | ".join(f.read().splitlines()[-n:])

    def ledger(self, sql, *values):
        db = sqlite3.connect("file:%s/bismar.db?mode=ro" % self.state, uri=True, timeout=10)
        try:
            return db.execute(sql, values).fetchall()
        finally:
            db.close()


class Client:
    """Of the socket. on_message(client, message) gets each notification and reply; replies are kept as well."""

    def __init__(self, lab, daemon, on_message=None):
        self.lab, self.on_message, self.replies, self.n = lab, on_message, {}, 0
        self.socket = socket.socket(socket.AF_UNIX)
        self.socket.connect(daemon.path)
        self.lines = Lines(lab, self.socket, self.heard)

    def heard(self, line):
        if not line.startswith("{"):
            return
        message = json.loads(line)
        if "id" in message:
            self.replies[message["id"]] = message
        if self.on_message:
            self.on_message(self, message)

    def ask(self, method, **params):
        self.n += 1
        line = {"jsonrpc": "2.0", "id": self.n, "method": method, "params": params}
        try:
            self.socket.sendall(json.dumps(line).encode() + b"\n")
        except OSError:
            pass  # what it said before its end is still to be read
        return self.n

    def reply(self, number, patience_s=PATIENCE_S):
        """None: it hung up instead."""
        self.lab.until(lambda: number in self.replies or not self.lines.open, "a reply", patience_s)
        return self.replies.pop(number, None)

    def call(self, method, **params):
        reply = self.reply(self.ask(method, **params))
        if not reply or "error" in reply:
            raise Stuck("%s: %s" % (method, reply))
        return reply["result"]

    def drain(self):
        """What it said before it died."""
        while self.lines.open:
            self.lines.read()

    def close(self):
        self.lines.close()


class Stop:
    """True once SIGINT or SIGTERM came: a long run then ends early, with the row of what it did."""

    def __init__(self):
        self.asked = False
        for number in signal.SIGINT, signal.SIGTERM:
            signal.signal(number, self.ask)

    def ask(self, *_):
        self.asked = True

    def __bool__(self):
        return self.asked


def arguments(argv, usage):
    """N [SEED]; without a seed one of the clock."""
    if len(argv) not in (2, 3) or not all(word.isdigit() for word in argv[1:]):
        print(usage, file=sys.stderr)
        sys.exit(2)
    return int(argv[1]), int(argv[2]) if len(argv) == 3 else int(time.time())
