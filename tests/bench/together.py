# SPDX-License-Identifier: MIT
"""bismard, the floor and the script on one bus at the same time: memory, strangers, time to the ask, wake-ups, clients."""
import selectors
import signal
import statistics
import time

from lab import LIMIT_CLIENTS, Daemon, Lab, Sim, cpu_ms, private_dirty_kib, pss_kib, wakes
from table import percentile_99, slope

STRANGERS, SETTLE_S = 300, 45


class Together:
    def __init__(self, build, table, quick):
        self.table, self.quick, self.lab = table, quick, Lab(build)
        self.sim = Sim(self.lab)
        self.script = self.lab.script(self.lab.dir + "/script")  # first: it looks for a scale that advertises
        self.ours = Daemon(self.lab, self.lab.dir + "/ours")
        self.ours.adopt()
        self.ours.litter()
        self.floor = self.lab.bare(self.lab.dir + "/floor")
        self.broad = self.lab.bare(self.lab.dir + "/broad", "/org/bluez")
        self.three = [self.ours, self.floor, self.script]

    def of_three(self, look):
        return [look(each.pid) for each in self.three]

    def memory(self):
        self.table.row("idle, PSS", *self.of_three(pss_kib), "KiB", floor_most=2, script_most=1 / 6)
        self.table.row("idle, private dirty", *self.of_three(private_dirty_kib), "KiB")

    def weigh(self, raw):
        """One result, heard and answered by all."""
        self.sim.indicate(raw)
        ask = self.ours.until_ask()
        for other in (self.floor, self.broad, self.script):
            other.until_ask()
        self.ours.call("answer", ask=ask, animal="pup%d" % (raw % 8))

    def strangers(self):
        changes = 5000 if self.quick else 100000
        everyone = self.three + [self.broad]
        self.sim.send("strangers %d 0" % STRANGERS)
        self.sim.until("event strangers-done")
        self.weigh(100)
        before = [cpu_ms(each.pid) for each in everyone]
        self.sim.send("strangers %d %d" % (STRANGERS, changes))
        self.sim.until("event strangers-done")
        self.weigh(101)  # who has this one has had all before it
        ours, narrow, script, broad = [cpu_ms(each.pid) - b for each, b in zip(everyone, before)]
        what = "CPU, %d changes of %d strangers" % (changes, STRANGERS)
        self.table.row(what + "; floor hears", ours, broad, script, "ms")
        self.table.row(what + "; floor deaf", ours, narrow, script, "ms")
        self.sim.send("strangers 0 0")

    def ask(self):
        """From a result sent to the committed ask, each timed alone, the others stopped meanwhile."""
        times = 30 if self.quick else 300
        took = {each: [] for each in self.three}
        everyone = self.three + [self.broad]
        for i in range(3 * times):
            timed = self.three[i % 3]
            others = [each for each in everyone if each is not timed]
            for other in others:
                other.child.send_signal(signal.SIGSTOP)
            began = time.perf_counter()
            self.sim.indicate(60 + i % 40)
            ask = timed.until_ask()
            took[timed].append((time.perf_counter() - began) * 1000)
            for other in others:
                other.child.send_signal(signal.SIGCONT)
            for other in others:
                ask = other.until_ask() or ask
            self.ours.call("answer", ask=ask, animal="pup%d" % (i % 8))
        self.table.row("indication to committed ask, median of %d" % times, *map(statistics.median, took.values()), "ms",
                       floor_most=1.3)
        self.table.row("indication to committed ask, 99th percentile", *map(percentile_99, took.values()), "ms")

    def clients(self):
        """Until the last of so many clients has an ask; includes the one reader's own work, a few microseconds a client."""
        points, times = [], 5 if self.quick else 30
        for n in (1, 100, 1000):
            if n + 8 > LIMIT_CLIENTS:
                continue
            ready, crowd = selectors.EpollSelector(), []
            for _ in range(n):
                crowd.append(self.ours.connect()[0])
                crowd[-1].setblocking(False)
                ready.register(crowd[-1], selectors.EVENT_READ)
                self.ours.call("status")  # it has taken that one in
            took, spent = [], 0
            for i in range(times):
                before = cpu_ms(self.ours.pid)
                began = time.perf_counter()
                self.sim.indicate(200 + i)
                left = n
                while left:
                    for key, _ in ready.select():
                        left -= key.fileobj.recv(65536).count(b'"method":"ask"')
                took.append((time.perf_counter() - began) * 1000)
                ask = self.ours.until_ask()
                spent += cpu_ms(self.ours.pid) - before
                for other in (self.floor, self.broad, self.script):
                    other.until_ask()
                self.ours.call("aside", ask=ask)
            for one in crowd:
                ready.unregister(one)
                one.close()
            points.append((n, statistics.median(took)))
            self.table.row("%d clients of at most %d: ask at the last one" % (n, LIMIT_CLIENTS), points[-1][1], unit="ms")
            self.table.row("  the same, CPU a broadcast", spent / times, unit="ms")
        self.table.row("  slope of it over clients (1 is as their number)", slope(points))

    def idle(self, minutes):
        """Nothing happens: the scale, used before, is off and away; the watchdog is fed as systemd wants it."""
        self.sim.say("advertise C0:FF:EE:00:00:01 off")
        self.sim.say("drop C0:FF:EE:00:00:01")
        time.sleep(2 if self.quick else SETTLE_S)  # only what goes on for ever counts
        before, fed, cpu = self.of_three(wakes), self.ours.fed, self.of_three(cpu_ms)
        time.sleep(minutes * 60)
        self.table.row("idle %g min, wake-ups a minute" % minutes, *[(a - b) / minutes for a, b in zip(self.of_three(wakes), before)])
        self.table.row("  CPU a minute; the watchdog was fed %d times" % (self.ours.fed - fed),
                       *[(a - b) / minutes for a, b in zip(self.of_three(cpu_ms), cpu)], "ms")

    def close(self):
        self.lab.close()


def measure(build, table, quick, minutes):
    table.head("on one bus together")
    together = Together(build, table, quick)
    try:
        together.memory()
        together.strangers()
        together.ask()
        together.clients()
        together.idle(minutes)
    finally:
        together.close()
