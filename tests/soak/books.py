# SPDX-License-Identifier: MIT
"""What a scale sent and what clients were told, against what the ledger has. A weighing is known by its mass: no two of
one ledger are alike. It is acknowledged when a client sees its question, an answer when its result (or `recorded`) is seen."""
import statistics, sys, time
import lab

PUPS = ("Ash", "Birch", "Cedar", "Elm", "Fir", "Hazel", "Larch", "Maple")
STEP_G = 5
HEAD = "%-44s %7s %8s %8s %8s %8s %8s  %s" % (
    "fault", "runs", "asked", "answered", "found", "doubled", "missing", "recovery ms: median, 99 %, most")


class Books:
    def __init__(self):
        self.sent = {}       # grams -> stamp, seconds
        self.typed = set()   # of those, by hand: no scale sends them again
        self.asked = {}      # grams -> weighing's id, acknowledged
        self.answered = {}   # weighing's id -> animal, acknowledged
        self.corrected = []  # (id, animal), acknowledged

    def new(self, at_s=None):
        """A further weighing."""
        grams = 100 + STEP_G * len(self.sent)
        self.sent[grams] = int(at_s or time.time())
        return grams

    def send(self, sim, grams):
        """For the first time or again: by mass and stamp bismard knows that it is the same."""
        sim.weigh(grams, self.sent[grams])

    def unseen(self):
        return [grams for grams in self.sent if grams not in self.asked and grams not in self.typed]

    def hear(self, message):
        """Any line of the daemon's."""
        params = message.get("params") or {}
        result = message.get("result")
        if message.get("method") == "ask":
            self.asked[params["net_g"]] = params["ask"]
        elif message.get("method") == "recorded" and not params.get("corrected"):
            self.answered[params["reading"]] = params["name"]
        elif isinstance(result, dict) and "reading" in result and "name" in result:
            self.answered.setdefault(result["reading"], result["name"])


class Total:
    def __init__(self, fault):
        self.fault, self.runs, self.asked, self.answered = fault, 0, 0, 0
        self.found, self.doubled, self.missing, self.recovery_s, self.wrong = 0, 0, 0, [], []

    def check(self, daemon, books, all_sent=True):
        """Holds a ledger to its books."""
        for (text,) in daemon.ledger("PRAGMA integrity_check"):
            if text != "ok":
                self.wrong.append("integrity_check: " + text)
        weighings, answers, times = {}, {}, {}
        for key, net_g in daemon.ledger("SELECT weighing_id, net_g FROM weighing_log"):
            weighings[key] = net_g
            times[net_g] = times.get(net_g, 0) + 1
        for key, animal, kind in daemon.ledger("SELECT weighing_id, animal, kind FROM answer_log ORDER BY seq"):
            answers.setdefault(key, []).append((kind, animal))
        found = sum(weighings.get(key) == grams for grams, key in books.asked.items())
        found += sum(("answer", animal) in answers.get(key, ()) for key, animal in books.answered.items())
        self.asked += len(books.asked)
        self.answered += len(books.answered)
        self.found += found
        self.missing += len(books.asked) + len(books.answered) - found
        self.missing += sum(("correct", animal) not in answers.get(key, ()) for key, animal in books.corrected)
        self.doubled += sum(n - 1 for n in times.values())
        self.doubled += sum(max(0, sum(kind == "answer" for kind, _ in list_) - 1) for list_ in answers.values())
        for net_g in set(times) - set(books.sent):
            self.wrong.append("nobody weighed %s g" % net_g)
        lost = set(books.sent) - set(times) - books.typed
        if all_sent and lost:
            self.wrong.append("%d weighings that were sent never came into the ledger" % len(lost))

    def row(self):
        recovery = "-"
        if self.recovery_s:
            ms = sorted(1000 * s for s in self.recovery_s)
            recovery = "%.0f, %.0f, %.0f" % (statistics.median(ms), ms[min(len(ms) - 1, len(ms) * 99 // 100)], ms[-1])
        return "%-44s %7d %8d %8d %8d %8d %8d  %s" % (
            self.fault, self.runs, self.asked, self.answered, self.found, self.doubled, self.missing, recovery)

    def end(self, seed, head=True):
        """Prints the row and what was wrong; the exit status."""
        if head:
            print("seed %d\n%s" % (seed, HEAD))
        print(self.row(), flush=True)
        for text in self.wrong[:20]:
            print("WRONG: " + text, file=sys.stderr)
        return 1 if self.wrong or self.doubled or self.missing else 0


def nursery(client):
    """The scale's adoption and a litter of eight."""
    client.call("scale.adopt", address=lab.SCALE, name="bench")
    litter(client)


def litter(client):
    client.call("litter.add", name="amber")
    for name in PUPS:
        client.call("animal.add", name=name, litter="amber")
