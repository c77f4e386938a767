#!/usr/bin/python3
# SPDX-License-Identifier: MIT
"""usage: installed.py SCALE_ADDRESS
The story of the package, told in a guest with systemd as process 1: installed by dpkg, started by systemd inside its
hardened unit, used by a member of group bismar; then all that a machine can do to it, with a weighing after each, and
never a restart of bismard but the one that it is killed for. One line a check; exit status 0 only if all came true."""
import json
import os
import signal
import socket
import subprocess
import sys
import time
import guest
from guest import LIMIT_S, PUPS, SOCKET, TARE_MG, Payload, Prompt, Round, Wrong, check, pid_of, say, until

SCALE = sys.argv[1]
HERE = os.path.dirname(os.path.abspath(__file__))
STATE = "/var/lib/bismar"
DATABASE = STATE + "/bismar.db"
DEB = os.environ["VM"] + "/bismar.deb"
UNIT, SOCKET_UNIT = "bismard.service", "bismard.socket"
CLIENTS = 50
SLEEP_S = 15      # how long the machine is stopped
LINES_MAX = 200   # in the journal, for all of this
RFKILL = "/sys/class/rfkill"


def as_user_of(user, words):
    return ("setpriv", "--reuid=" + user, "--regid=" + user, "--init-groups", "--", *words)


def run(*words, wanted=0, as_user=None):
    """Standard output; wanted None: the exit status doesn't matter."""
    if as_user:
        words = as_user_of(as_user, words)
    done = subprocess.run(words, capture_output=True, text=True, timeout=3 * LIMIT_S, env={"PATH": os.environ["PATH"]})
    with open("/out/commands.log", "a") as f:
        print("$ %s: %d\n%s%s" % (" ".join(words), done.returncode, done.stdout, done.stderr), end="", file=f)
    if wanted is not None and done.returncode != wanted:
        raise Wrong("%s: %d, not %d; %s" % (" ".join(words), done.returncode, wanted, done.stderr.strip()))
    return done.stdout


def status_of(*words, as_user=None):
    return subprocess.run(as_user_of(as_user, words), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, timeout=LIMIT_S).returncode


def shown(name, unit=UNIT):
    return run("systemctl", "show", "-P", name, unit).strip()


def member(*words):
    """bismar, as a member of the group uses it: no options."""
    return run("bismar", *words, as_user="keeper")


def powered(on):
    run("busctl", "set-property", "org.bluez", "/org/bluez/hci0", "org.bluez.Adapter1", "Powered", "b", on)


def radio():
    """What bismard says of the radio: "fine", or what is wrong."""
    reply = request("status")["result"]
    return reply["radio"]["trouble"]


def request(method):
    with socket.socket(socket.AF_UNIX) as s:
        s.settimeout(LIMIT_S)
        s.connect(SOCKET)
        s.sendall(b'{"jsonrpc":"2.0","id":7,"method":"%s"}\n' % method.encode())
        for line in s.makefile():
            message = json.loads(line)
            if message.get("id") == 7:
                return message
    raise Wrong("%s: no reply" % method)


class Story(Round):
    def __init__(self):
        super().__init__(DATABASE)
        self.raw = 140
        self.collars = 0
        self.status = None

    # ---- installing ----

    def install(self):
        began = time.monotonic()
        run("dpkg", "-i", DEB)
        say("package installed in %.1f s ok" % (time.monotonic() - began))
        run("systemctl", "enable", "--now", SOCKET_UNIT, UNIT)
        check("bismard", shown("ActiveState") + ", " + shown("SubState"), "active, running")
        check("its user and group", run("stat", "-c", "%U:%G", "/proc/" + shown("MainPID")).strip(), "bismar:bismar")
        check("capabilities", [line.split()[1] for line in open("/proc/%s/status" % shown("MainPID"))
                               if line.startswith(("CapEff", "CapBnd"))], ["0" * 16, "0" * 16])
        check("NoNewPrivs, Seccomp", [line.split()[1] for line in open("/proc/%s/status" % shown("MainPID"))
                                      if line.startswith(("NoNewPrivs:", "Seccomp:"))], ["1", "2"])

    def rights(self):
        run("useradd", "--user-group", "--groups", "bismar", "keeper")
        run("useradd", "--user-group", "stranger")
        query = ("sqlite3", "file:%s?mode=ro" % DATABASE, "SELECT count(*) FROM reading")
        check("a member of group bismar: socket, database",
              [status_of("bismar", "status", as_user="keeper"), status_of(*query, as_user="keeper")], [0, 0])
        check("a stranger: socket", status_of("bismar", "status", as_user="stranger"), 3)
        check("a stranger: database", status_of(*query, as_user="stranger") != 0, True)

    def set_up(self):
        member("scale", "adopt", SCALE, "kitchen")
        member("litter", "add", "first")
        for collar, animal in PUPS.items():
            member("animal", "add", animal, "--litter", "first", "--collar", collar)

    def tare(self):
        waits = subprocess.Popen(as_user_of("keeper", ["bismar", "container", "tare", "basket"]), stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
        until("bismar waits for the basket", lambda: waits.stdout.readline())
        self.indicate(Payload(TARE_MG // 5000))
        told = until("tared", lambda: self.prompt.messages("container"))[-1]
        check("bismar container tare: exit status", waits.wait(LIMIT_S), 0)
        check("tared", "%s %s %s" % (told["what"], told["container"], guest.mg(told["gross_g"])),
              "tared basket %d mg" % TARE_MG)

    def next_pup(self):
        """No two results are alike."""
        self.raw += 1
        self.collars += 1
        return list(PUPS)[self.collars % len(PUPS)], Payload(self.raw)

    def weigh_next(self):
        self.weigh(*self.next_pup())

    def after(self, what, cause):
        """bismard is the same process before and after, and weighs."""
        pid = shown("MainPID")
        self.subscribed_after(what, cause)
        self.weigh_next()
        check("%s: bismard is the same process" % what, shown("MainPID") == pid, True)

    # ---- what happens to it ----

    @staticmethod
    def answered(client):
        client.settimeout(LIMIT_S)
        try:
            client.sendall(b"?\n")
            return client.makefile().readline() != ""
        except ConnectionError:
            return False
        finally:
            client.close()

    def kill_bismard(self):
        """Clients come while it is down; none is refused, and each gets its answer."""
        pid = shown("MainPID")
        before, began = self.scale.events("subscribed"), time.monotonic()
        run("systemctl", "kill", "--signal=KILL", UNIT)
        clients = [socket.socket(socket.AF_UNIX) for _ in range(CLIENTS)]
        check("bismard killed: connections refused, of %d" % CLIENTS,
              sum(client.connect_ex(SOCKET) != 0 for client in clients), 0)
        check("answers to them", sum(map(self.answered, clients)), CLIENTS)
        until("bismard is started again", lambda: shown("ActiveState") == "active")
        say("bismard is there again after %.1f s ok" % (time.monotonic() - began))
        check("bismard killed: restarted", [shown("NRestarts"), shown("MainPID") != pid], ["1", True])
        self.prompt = Prompt()
        until("bismard hears BlueZ", lambda: radio() == "fine")
        # The kernel's link outlives bismard: whether it is made anew or not, a weighing comes through.
        self.weigh_next()
        say("bismard killed: scale subscribed to %d times since" % (self.scale.events("subscribed") - before))

    def kill_bluetoothd(self):
        run("systemctl", "kill", "--signal=KILL", "bluetooth.service")
        self.bluetooth_again("bluetoothd killed")

    def kill_bus(self):
        run("systemctl", "kill", "--signal=KILL", "dbus.service")
        until("dbus.service ended, and was started again",
              lambda: run("systemctl", "is-active", "dbus.service", wanted=None).strip() == "active")
        self.bluetooth_again("system bus killed")

    def bluetooth_again(self, what):
        """Debian's bluetooth.service has no Restart=: somebody has to start it, unless the bus has."""
        until("bluetoothd ended", lambda: shown("MainPID", "bluetooth.service") != self.bluetoothd)
        run("systemctl", "start", "bluetooth.service")
        say("%s: bluetooth.service started ok" % what)

    def reload(self):
        pid = shown("MainPID")
        check("reloading is offered", shown("CanReload"), "yes")
        run("systemctl", "reload", UNIT)
        check("after a reload", [shown("ActiveState"), shown("MainPID") == pid], ["active", True])

    def replug(self):
        os.kill(pid_of("relay0"), signal.SIGTERM)
        until("bismard: no adapter", lambda: radio() == "no-adapter")
        self.tell_status("adapter unplugged")
        self.guest_function("controller 0")
        self.tell_status("adapter back")

    def guest_function(self, call):
        subprocess.run(["bash", "-c", '. "$0"; %s' % call, HERE + "/guest-lib.sh"], check=True)

    def off_and_on(self):
        powered("false")
        until("bismard: adapter off", lambda: radio() == "adapter-off")
        self.tell_status("adapter off")
        powered("true")

    def soft_block(self, on):
        for name in os.listdir(RFKILL):
            if open("%s/%s/type" % (RFKILL, name)).read() == "bluetooth\n":
                with open("%s/%s/soft" % (RFKILL, name), "w") as f:
                    f.write("01"[on])

    def block_and_unblock(self):
        self.soft_block(True)
        until("bismard: blocked", lambda: radio() == "adapter-off")
        self.soft_block(False)
        try:
            until("powered after unblocking", lambda: radio() == "fine", 10)
            say("unblocked: bluetoothd switched the adapter on again ok")
        except Wrong:
            say("unblocked: bluetoothd left the adapter off; switched on by hand")
            powered("true")

    def others_discovery(self):
        log = open("/out/bluetoothctl.log", "w")
        other = subprocess.Popen(["bluetoothctl"], stdin=subprocess.PIPE, stdout=log, text=True)
        other.stdin.write("scan on\n")
        other.stdin.flush()
        until("another process discovers", lambda: "Discovery started" in open("/out/bluetoothctl.log").read())
        self.weigh_next()
        self.after("dropped by the scale while another process discovers", lambda: self.until_lost(self.scale.drop))
        other.stdin.close()
        other.wait(LIMIT_S)

    def sleep(self):
        """Stopped by QEMU, as in a suspend the machine's clocks stand still; then the wall clock is set."""
        before = time.time()
        say("suspend %d" % SLEEP_S)
        until("woken", lambda: os.path.exists("/out/woken"))
        with open("/out/woken") as f:
            run("date", "-s", "@" + f.read().strip())
        say("woken, the clock was set %.0f s ahead ok" % (time.time() - before))

    def scale_dies(self):
        """In the middle of a result: it sent it, and does nothing any more; then the link times out, and it is gone. (In
        this order: btvirt knows no link of a controller that is gone, and so could not end it.)"""
        collar, payload = self.next_pup()
        asks = len(self.prompt.messages("ask"))
        self.indicate(payload)
        ask = until("the dying scale's result: ask", lambda: self.prompt.messages("ask")[asks:])[0]["ask"]
        os.kill(pid_of("scale"), signal.SIGSTOP)
        told = len(self.prompt.messages("scale"))
        self.scale.lose_link()
        until("bismard: link lost", lambda: any(m["state"] == "lost" for m in self.prompt.messages("scale")[told:]))
        os.kill(pid_of("scale"), signal.SIGKILL)
        self.subscribed_after("scale died, and has a new battery", lambda: self.guest_function("scale " + SCALE))
        self.answer(collar, ask, payload)
        self.weigh_next()

    # ---- what it told ----

    def tell_status(self, when):
        """The status text follows what happens."""
        def changed():
            text = shown("StatusText")
            return text if text != self.status else ""
        text = until("status text, " + when, changed)
        say("status text, %s: %s ok" % (when, text))
        self.status = text

    def journal(self):
        lines = [json.loads(line) for line in
                 run("journalctl", "-o", "json", "-u", UNIT, "SYSLOG_IDENTIFIER=bismard").splitlines()]
        events = [line for line in lines if "MESSAGE_ID" in line]
        with open("/out/journal.log", "w") as f:
            for line in lines:
                print(line.get("PRIORITY"), line.get("MESSAGE_ID", "-"), line["MESSAGE"], file=f)
        check("lines of bismard in the journal: %d, at most %d" % (len(lines), LINES_MAX),
              0 < len(lines) <= LINES_MAX, True)
        check("errors among them", [line["MESSAGE"] for line in lines if int(line["PRIORITY"]) <= 3], [])
        check("events (MESSAGE_ID): %d; some" % len(events), bool(events), True)
        other = run("journalctl", "-o", "cat", "-u", UNIT, "--grep", "denied|not permitted|Failed at step", wanted=None)
        check("nothing was denied by the unit", other.strip(), "")

    def stop(self):
        run("systemctl", "stop", SOCKET_UNIT, UNIT)
        check("stopped", [shown("ActiveState"), shown("Result"), shown("ExecMainStatus")], ["inactive", "success", "0"])

    def remove(self):
        package = run("dpkg-deb", "-f", DEB, "Package").strip()
        run("dpkg", "-r", package)
        check("removed: bismard is gone, the record is there",
              [os.path.exists("/usr/sbin/bismard"), os.path.exists(DATABASE)], [False, True])
        run("dpkg", "-P", package)
        check("purged: the record is gone", os.path.exists(STATE), False)

    def tell(self):
        self.install()
        self.rights()
        self.prompt = Prompt()
        self.subscribed_after("adopted", self.set_up)
        self.status = shown("StatusText")
        say("status text, in use: %s" % self.status)
        self.tare()
        for _ in PUPS:
            self.weigh_next()
        self.kill_bismard()
        self.bluetoothd = shown("MainPID", "bluetooth.service")
        self.after("bluetoothd killed", self.kill_bluetoothd)
        self.bluetoothd = shown("MainPID", "bluetooth.service")
        self.after("system bus killed", self.kill_bus)
        self.after("adapter unplugged and back", self.replug)
        self.after("adapter off and on", self.off_and_on)
        self.after("radio blocked and unblocked", self.block_and_unblock)
        self.others_discovery()
        self.after("link lost", lambda: self.until_lost(self.scale.lose_link))
        self.sleep()
        self.weigh_next()
        self.scale_dies()
        self.journal()
        self.reload()
        self.weigh_next()
        self.compare()
        self.stop()
        self.remove()


try:
    Story().tell()
except (Wrong, subprocess.SubprocessError, OSError) as wrong:
    guest.fail(wrong)
finally:
    subprocess.run("systemctl status bismard.service bismard.socket bluetooth.service dbus.service;"
                   "systemctl show bismard.service; journalctl -o short-monotonic", shell=True,
                   stdout=open("/out/system.log", "w"), stderr=subprocess.STDOUT)
    subprocess.run("cp %s* /out" % DATABASE, shell=True, stderr=subprocess.DEVNULL)
sys.exit(guest.failures > 0)
