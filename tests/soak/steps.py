# SPDX-License-Identifier: MIT
"""The steps of a day's work, each with a fault at its Nth call (fault.h), N rising until the step is through without one.
Whatever happens, nothing acknowledged may be missing or twice, and all goes on once the fault is over: bismard does so
itself, or it ends with a code that systemd restarts. Above: memory, disk. Below: lab.py, books.py."""
import collections, errno, mmap, os, random, signal, struct, sys, time
from books import Books, PUPS, Total, litter, nursery
from lab import BUILD, Client, Daemon, Lab, SCALE, Stop, Stuck, arguments

GIVEN_UP = (2, 3)  # systemd/bismard.service: RestartPreventExitStatus
SETTLED_S = 0.3  # a step that the fault has hit and that says nothing for so long says nothing any more
LITTER_RUNS = 50  # a litter lasts for
AGAIN_S = 15  # what can't be written is tried again every few seconds
STEPS = ("hello", "link", "weighing", "answer", "correct", "reopen", "typed", "growth", "concerns", "round", "start")


class Fault:
    """struct fault of fault.h."""

    def __init__(self, path):
        with open(path, "wb") as f:
            f.write(bytes(48))
        self.path, self.map = path, None
        with open(path, "r+b") as f:
            self.map = mmap.mmap(f.fileno(), 48)

    def arm(self, first, length, error):
        self.map[:] = struct.pack("6q", 0, first, length, error, 0, 0)
        self.map[:8] = struct.pack("q", 1)

    def disarm(self):
        self.map[:8] = bytes(8)

    def failed(self):
        return struct.unpack("6q", self.map[:])[5]


def width(step, stride):
    """A sample takes fewer calls of a start, which has by far the most and takes longest, and all of the shortest step."""
    if step == "hello":
        return 1
    return stride * 8 if step == "start" and stride > 1 else stride


class Tour:
    def __init__(self, lab, total, fault, dice, state, length, error, **daemon):
        self.lab, self.total, self.fault, self.dice = lab, total, fault, dice
        self.length, self.error, self.books = length, error, Books()
        self.daemon, self.client, self.link = Daemon(lab, state, **daemon), None, None
        self.outcomes = {step: collections.Counter() for step in STEPS}
        self.daemon.start()
        self.daemon.await_ready()
        self.connect()
        nursery(self.client)
        self.listening()

    def connect(self):
        if self.client:
            self.client.drain() if self.daemon.ended() else self.client.close()
        self.client = Client(self.lab, self.daemon, lambda _, message: self.books.hear(message))

    def greet(self):
        """Connects where need be, and is answered. That it is hung up on, for what there was no memory to tell it, may come
        only when it speaks."""
        for _ in range(2):
            if not self.client or not self.client.lines.open:
                self.client = None
                self.connect()
            reply = self.client.reply(self.client.ask("hello"))
            if reply:
                if "error" in reply:
                    raise Stuck("hello: %s" % reply)
                return
        raise Stuck("hello: hung up on twice, without a fault")

    def listening(self):
        self.lab.until(lambda: self.lab.sim.subscribed or self.daemon.ended(), "the scale to be listened to", 20)

    # ---- steps: each says what came of it

    def ask(self, method, **params):
        """A request: done, refused in words, hung up on, ended, or silence."""
        number = self.client.ask(method, **params)
        hit_s = None
        while number not in self.client.replies:
            if self.daemon.ended():
                self.client.drain()
                break
            if not self.client.lines.open:
                return "hung up"
            if self.client.replies.pop(None, None):
                return "misread"  # jansson takes a string that it has no memory for to be bad syntax
            self.lab.turn(0.01)
            if self.fault.failed():
                hit_s = hit_s or time.monotonic()
                if time.monotonic() > hit_s + 10 * SETTLED_S:
                    return "silent"
        reply = self.client.replies.pop(number, None)
        if not reply:
            return "ended"
        if "result" in reply:
            if not reply["result"]:
                self.total.wrong.append("%s is done, and its result is %s" % (method, reply["result"]))
            elif method == "correct":
                self.books.corrected.append((reply["result"]["reading"], reply["result"]["name"]))
            elif method == "weigh":
                self.books.asked[params["mass_g"]] = reply["result"]["reading"]
            return "done"
        if not reply["error"].get("data", {}).get("hint"):
            self.total.wrong.append("%s is refused without a hint: %s" % (method, reply))
        return "refused"

    def newest(self):
        return self.books.asked[max(self.books.asked)]

    def step_start(self):
        self.daemon.start()
        self.lab.until(lambda: self.daemon.ready or self.daemon.ended(), "bismard to be ready or to end")
        return "done" if self.daemon.ready else "ended"

    def step_hello(self):
        self.connect()
        return self.ask("hello")

    def step_link(self):
        links = self.lab.sim.links
        self.lab.sim.send("drop " + SCALE)
        self.lab.until(lambda: self.lab.sim.links > links or self.daemon.ended(), "the scale to be listened to again", 20)
        return "ended" if self.daemon.ended() else "done"

    def step_weighing(self):
        grams, hit_s = self.books.new(), None
        self.books.send(self.lab.sim, grams)
        while grams not in self.books.asked:
            if self.daemon.ended():
                self.client.drain()
                return "ended"
            self.lab.turn(0.01)
            if self.fault.failed():
                hit_s = hit_s or time.monotonic()
                if time.monotonic() > hit_s + SETTLED_S:
                    return "late"
        return "done"

    def step_answer(self):
        return self.ask("answer", ask=self.newest(), animal=PUPS[0])

    def step_correct(self):
        return self.ask("correct", reading=self.newest(), animal=self.dice.choice(PUPS[1:]))

    def step_reopen(self):
        done = self.ask("reopen", reading=self.newest())
        return done if done != "done" else self.ask("aside", ask=self.newest())

    def step_typed(self):
        grams = self.books.new()
        self.books.typed.add(grams)
        return self.ask("weigh", mass_g=grams, animal=PUPS[2])

    def step_growth(self):
        return self.ask("growth")

    def step_concerns(self):
        return self.ask("concerns")

    def step_round(self):
        done = self.ask("round.begin", litter="amber")
        return done if done != "done" else self.ask("round.end", litter="amber")

    # ---- what each needs before

    def prepare(self, step):
        if step == "start":
            self.daemon.end(signal.SIGTERM)
            self.client.drain()
            self.client = None
        elif step in ("answer", "correct", "reopen"):
            grams = self.books.new()
            self.books.send(self.lab.sim, grams)
            self.lab.until(lambda: grams in self.books.asked, "a question", 20)
            if step != "answer":
                self.client.call("answer", ask=self.newest(), animal=PUPS[0])

    def next_litter(self):
        """With each reading of a litter a look at it calls more: a step would go on for ever."""
        self.client.call("litter.close", name="amber")
        litter(self.client)

    def recover(self):
        """The fault is over: everything must go on, without a restart unless it ended."""
        began_s = time.monotonic()
        if self.daemon.ended():
            # a read-only disk is for a person to look at, and the log says so
            given_up = () if self.error == errno.EROFS else GIVEN_UP
            if self.daemon.status < 0 or self.daemon.status in given_up:
                self.total.wrong.append("ended with %s, after: %s" % (self.daemon.status, self.daemon.last_words()))
            self.lab.sim.subscribed = False
            if self.client:
                self.client.drain()
            self.client = None
            self.daemon.start()
            self.daemon.await_ready()
        self.greet()
        self.listening()
        self.link = None  # sent again now, and on each further link: it may take a moment to notice that it lost one
        if not self.waits(lambda: not self.books.unseen() or not self.client.lines.open, AGAIN_S):
            self.total.wrong.append("a client wasn't told of a weighing, and stayed connected")
            self.connect()
        elif not self.client.lines.open:
            self.connect()
        if not self.waits(lambda: not self.books.unseen(), 20):
            raise Stuck("what the scale sent never came through")
        self.total.recovery_s.append(time.monotonic() - began_s)

    def waits(self, true, patience_s):
        limit_s = time.monotonic() + patience_s
        while not true() and time.monotonic() < limit_s:
            if self.lab.sim.subscribed and self.link != self.lab.sim.links:
                self.link = self.lab.sim.links
                for grams in self.books.unseen():
                    self.books.send(self.lab.sim, grams)
            self.lab.turn(0.01)
        return true()

    def once(self, step, first):
        """False: the step was through before its Nth call."""
        self.prepare(step)
        self.fault.arm(first, self.length, self.error)
        try:
            outcome = getattr(self, "step_" + step)()
        finally:
            self.fault.disarm()
        hit = self.fault.failed() > 0
        if hit or outcome != "done":
            self.outcomes[step][outcome] += 1
        if outcome == "silent":
            self.total.wrong.append("%s: call %d failed, and a request was never answered" % (step, first))
        self.total.runs += hit
        self.recover()
        return hit

    def run(self, stride, stop=()):
        for step in STEPS:
            wide = width(step, stride)
            first, runs = 1 + self.dice.randrange(wide), 0
            try:
                while not stop and self.once(step, first):
                    first, runs = first + wide, runs + 1
                    if runs % LITTER_RUNS == 0:
                        self.next_litter()
            except Stuck as stuck:
                raise Stuck("%s, call %d: %s" % (step, first, stuck))
        if self.daemon.end(signal.SIGTERM) != 0:
            self.total.wrong.append("after SIGTERM: %s" % self.daemon.status)
        self.client.drain()
        self.total.check(self.daemon, self.books)

    def tell(self):
        for step, outcomes in self.outcomes.items():
            print("  %-10s %s" % (step, ", ".join("%s %d" % pair for pair in sorted(outcomes.items()))), file=sys.stderr)


def tours(usage, shim, environ, rows):
    """The program: a tour for each (fault in words, length, errno) of rows, with that shim preloaded and what environ(lab,
    fault, state) says; a table of them. The exit status."""
    stride, seed = arguments(sys.argv, usage)
    lab, stop, status = Lab(), Stop(), 0
    fault = Fault(os.path.join(lab.dir, "fault"))
    try:
        for n, (words, length, error) in enumerate(rows):
            total, tour, state = Total(words), None, "state%d" % n
            try:
                tour = Tour(lab, total, fault, random.Random(seed), state, length, error,
                            preload=[os.path.join(BUILD, "tests/soak", shim)], environ=environ(lab, fault, state))
                tour.run(stride, stop)
            except Stuck as stuck:
                total.wrong.append(str(stuck))
            status |= total.end(seed, n == 0)
            if tour:
                tour.tell()
                if not tour.daemon.ended():
                    tour.daemon.child.kill()
                tour.lab.selector.unregister(tour.daemon.notify)
    finally:
        lab.close()
    return status
