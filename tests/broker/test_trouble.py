#!/usr/bin/python3
# SPDX-License-Identifier: MIT
"""A broker that isn't one, isn't trusted, doesn't let us in, or stops answering: one clear line, and it goes on."""
import os
import re
import socket
import subprocess
import sys
import threading

from lab import Broker, Receiver, Rig, free_port, run_cases

DAY = 86400


def gone(rig, why):
    rig.bridge.until(rf"no broker at [^ ]*: {why}.*; trying again")


def filled(rig, n=20):
    ledger = rig.ledger()
    ledger.answers(ledger.animal("Moss"), n)
    ledger.close()


# ---- certificates ----

class Authority:
    """A certificate authority of openssl(1), and what it signs."""

    def __init__(self, folder, name):
        self.folder, self.name = folder, name
        folder.mkdir(exist_ok=True)
        self.key, self.cert = folder / f"{name}.key", folder / f"{name}.pem"
        self.openssl("req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes", "-days", "30", "-subj",
                     f"/CN={name}", "-keyout", self.key, "-out", self.cert)

    def openssl(self, *words):
        ran = subprocess.run(["openssl", *map(str, words)], capture_output=True, text=True)
        assert ran.returncode == 0, ran.stderr

    def sign(self, name, host, days=30):
        key, request, cert, more = (self.folder / f"{name}.{end}" for end in ("key", "csr", "crt", "ext"))
        self.openssl("req", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes", "-subj", f"/CN={host}", "-keyout",
                     key, "-out", request)
        more.write_text(f"subjectAltName=DNS:{host}\n")
        self.openssl("x509", "-req", "-in", request, "-CA", self.cert, "-CAkey", self.key, "-CAcreateserial", "-days", days, "-extfile",
                     more, "-out", cert)
        os.chmod(key, 0o644)  # mosquitto may run as another user
        return cert, key


def tls_broker(rig, authority, pair, *more):
    return Broker(rig, listener=("allow_anonymous true", f"cafile {authority.cert}", f"certfile {pair[0]}", f"keyfile {pair[1]}",
                                 *more)).start()


def test_tls(build):
    with Rig(build) as rig:
        filled(rig)
        os.chmod(rig.dir, 0o755)
        ours, other = Authority(rig.dir / "ours", "ours"), Authority(rig.dir / "other", "other")
        good = ours.sign("good", "localhost")
        broker = tls_broker(rig, ours, good)
        receiver = Receiver(broker.port, tls=str(ours.cert))
        # --host localhost is the certificate's name, 127.0.0.1 isn't
        rig.start_bridge(broker, "--ca", ours.cert, "--host", "localhost")
        receiver.until_state(reading=20)
        assert receiver.missing(20) == []
        rig.stop_bridge()
        untrusted = "its certificate isn't to be trusted"
        rig.start_bridge(broker, "--ca", ours.cert)  # another host than it is for
        gone(rig, untrusted)
        rig.stop_bridge()
        rig.start_bridge(broker, "--ca", other.cert, "--host", "localhost")  # of an authority that isn't trusted
        gone(rig, untrusted)
        rig.stop_bridge()
        rig.start_bridge(broker, "--ca", "system", "--host", "localhost")
        gone(rig, untrusted)
        rig.stop_bridge()
        rig.start_bridge(broker, "--host", "localhost", "--patience", 3)  # without TLS to a port with it
        gone(rig, "")
        rig.stop_bridge()
        receiver.close()
        for pair, host in ((ours.sign("old", "localhost", days=-1), "localhost"), (ours.sign("wrong", "elsewhere.example"), "localhost")):
            broker = tls_broker(rig, ours, pair)
            rig.start_bridge(broker, "--ca", ours.cert, "--host", host)
            gone(rig, untrusted)
            assert "connected to" not in "\n".join(rig.bridge.seen)
            rig.stop_bridge()
        # TLS to a port without it
        broker = Broker(rig).start()
        rig.start_bridge(broker, "--ca", ours.cert, "--host", "localhost")
        gone(rig, "")
        rig.stop_bridge()


def test_tls_with_a_certificate_of_our_own(build):
    with Rig(build) as rig:
        filled(rig)
        os.chmod(rig.dir, 0o755)
        ours, other = Authority(rig.dir / "ours", "ours"), Authority(rig.dir / "other", "other")
        broker = tls_broker(rig, ours, ours.sign("good", "localhost"), "require_certificate true")
        mine, stranger = ours.sign("mine", "shed"), other.sign("stranger", "shed")
        words = ("--ca", ours.cert, "--host", "localhost")
        rig.once(broker, *words, "--cert", mine[0], "--key", mine[1])
        for more in ((), ("--cert", stranger[0], "--key", stranger[1]), ("--cert", mine[0], "--key", stranger[1])):
            program = rig.once(broker, *words, *more, status=1)
            program.until("no broker at localhost:.*; giving up")


# ---- passwords ----

def test_password(build):
    with Rig(build) as rig:
        filled(rig)
        os.chmod(rig.dir, 0o755)
        passwords = rig.dir / "passwords"
        passwords.touch()
        for user, word in (("shed", "right-one"), ("reader", "other-one")):
            subprocess.run(["mosquitto_passwd", "-b", passwords, user, word], check=True, capture_output=True)
        os.chmod(passwords, 0o644)
        broker = Broker(rig, listener=("allow_anonymous false", f"password_file {passwords}")).start()
        secret = rig.dir / "secret"
        secret.write_text("right-one\nand a second line\n")
        secret.chmod(0o600)
        receiver = Receiver(broker.port, user=("reader", "other-one"))
        rig.once(broker, "--user", "shed", "--password-file", secret)
        receiver.until(lambda: receiver.missing(20) == [], "all")
        # systemd's credential is found by itself
        folder = rig.dir / "credentials"
        folder.mkdir()
        (folder / "password").write_text("right-one")
        (folder / "password").chmod(0o400)
        rig.env["CREDENTIALS_DIRECTORY"] = str(folder)
        rig.once(broker, "--user", "shed")
        del rig.env["CREDENTIALS_DIRECTORY"]
        secret.write_text("wrong-one\n")
        for words in (("--user", "shed", "--password-file", secret), ("--user", "nobody", "--password-file", secret), ("--user", "shed"), ()):
            rig.start_bridge(broker, *words)
            gone(rig, "the broker refuses the user or the password")
            rig.stop_bridge()
            assert not any("-one" in line for line in rig.bridge.seen), rig.bridge.seen
        # let in again, it goes on where it was
        rig.start_bridge(broker, "--user", "shed", "--password-file", secret)
        gone(rig, "the broker refuses the user or the password")
        subprocess.run(["mosquitto_passwd", "-b", passwords, "shed", "wrong-one"], check=True, capture_output=True)
        broker.program.process.send_signal(1)  # SIGHUP: it reads them anew
        rig.one_more()
        receiver.until_state(state="here", reading=21)
        assert receiver.n["reading"] == 21, receiver.counts()
        line = subprocess.run(["ps", "-o", "args=", "-p", str(rig.bridge.process.pid)], capture_output=True, text=True).stdout
        assert "-one" not in line, line
        receiver.close()
        rig.stop_bridge()


def test_may_not_hear(build):
    """A broker whose rules don't let us subscribe: said, and the readings go out all the same."""
    with Rig(build) as rig:
        filled(rig)
        os.chmod(rig.dir, 0o755)
        rules = rig.dir / "rules"
        rules.write_text("topic write bismar/#\npattern read bismar/%c/never\n")
        rules.chmod(0o644)
        broker = Broker(rig, settings=(f"acl_file {rules}", "log_type all")).start()
        rig.start_bridge(broker)
        broker.program.until("Received PUBLISH from bismar.*m20,")
        rig.stop_bridge()


# ---- no broker at all ----

class Pretender:
    """Takes connections and does with each what `act` does."""

    def __init__(self, act):
        self.listener = socket.create_server(("127.0.0.1", 0))
        self.port, self.taken, self.news = self.listener.getsockname()[1], 0, threading.Condition()
        self.act, self.kept = act, []
        threading.Thread(target=self._serve, daemon=True).start()

    def _serve(self):
        while True:
            try:
                connection, _ = self.listener.accept()
            except OSError:
                return
            with self.news:
                self.taken += 1
                self.kept.append(connection)
                self.news.notify_all()
            threading.Thread(target=self._one, args=(connection,), daemon=True).start()

    def _one(self, connection):
        try:
            self.act(connection)
        except OSError:
            pass  # it had enough of us

    def until(self, n):
        with self.news:
            assert self.news.wait_for(lambda: self.taken >= n, 60), f"{self.taken} connections"

    def close(self):
        self.listener.close()
        for connection in self.kept:
            connection.close()


CONNACK = b"\x20\x02\x00\x00"  # MQTT 3.1.1, 3.2


def read_connect(connection):
    """Its CONNECT, which is shorter than 2 KiB; MQTT 3.1.1, 3.1."""
    head = connection.recv(2048)
    assert head[0] == 0x10, head


def says(octets, after_connect=True):
    def act(connection):
        if after_connect:
            read_connect(connection)
        connection.sendall(octets)
        while connection.recv(65536):
            pass
    return act


def test_no_broker(build):
    with Rig(build) as rig:
        filled(rig)
        cases = [
            ("says nothing", lambda connection: None, "no answer within 1 s"),
            ("closes at once", lambda connection: connection.close(), "the connection was closed"),
            ("speaks HTTP", says(b"HTTP/1.1 400 Bad Request\r\n\r\n"), "no answer within 1 s|what answers there speaks no MQTT"),
            ("speaks first", says(b"SSH-2.0-x\r\n", False), ""),
            ("speaks noise", says(bytes(range(256)) * 40), ""),
            ("refuses the protocol", says(b"\x20\x02\x00\x01"), "the broker refuses the connection"),
            ("isn't ready", says(b"\x20\x02\x00\x03"), "the broker refuses the connection"),
            ("refuses by no known code", says(b"\x20\x02\x00\x99"), "the broker refuses the connection"),
            ("says half a CONNACK", says(b"\x20\x02\x00"), "no answer within 1 s"),
            ("acknowledges nothing", says(CONNACK), "it takes no message any more"),
            ("acknowledges what wasn't sent", says(CONNACK + b"\x40\x02\x77\x77"), "it takes no message any more"),
            ("announces 256 MB", says(CONNACK + b"\x30\xff\xff\xff\x7f" + b"\x00\x05again" + b"x" * 100000), ""),
        ]
        for what, act, why in cases:
            pretender = Pretender(act)
            rig.start_bridge(pretender.port, "--patience", 1)
            gone(rig, f"({why})")
            pretender.until(2)  # and tries again
            rig.stop_bridge()
            pretender.close()
            told = [line for line in rig.bridge.seen if "no broker" in line]
            assert len(told) <= 3, told
            print(f"# {what}: {re.sub('.*no broker at [^ ]*: ', '', told[0])}")
        assert not (rig.bridge_state / "position.json").exists()
        # a name that isn't, a port where nobody is
        rig.start_bridge(free_port(), "--host", "no-such-host.invalid")  # RFC 6761, 6.4: never a host
        gone(rig, "its name can't be looked up")
        rig.stop_bridge()
        port = free_port()
        rig.start_bridge(port, "--host", "localhost")
        gone(rig, "nobody listens there")
        broker = Broker(rig, port=port).start()  # and it is there at last
        receiver = Receiver(broker.port)
        receiver.until_state(reading=20)
        receiver.close()
        rig.stop_bridge()


def test_broker_held_up(build):
    """A broker that stops in the middle, as a machine that hangs does, and goes on later."""
    with Rig(build) as rig:
        ledger = rig.ledger()
        ledger.answers(ledger.animal("Moss"), 3000)
        broker = Broker(rig, settings=("max_queued_messages 0",)).start()
        receiver = Receiver(broker.port)
        rig.start_bridge(broker, "--patience", 2, "--rate", 1000)
        receiver.until(lambda: receiver.n["reading"] >= 500, "some")
        broker.program.process.send_signal(19)  # SIGSTOP
        gone(rig, "it takes no message any more")
        gone(rig, "no answer within 2 s")
        broker.program.process.send_signal(18)
        receiver.until_state(state="here", reading=3000)
        assert receiver.missing(3000) == [], receiver.counts()
        print(f"# {receiver.counts()}")
        receiver.close()
        rig.stop_bridge()
        ledger.close()


def test_huge_wish(build):
    """100 MB to `again`, where the service has 64 MiB: that connection ends, and nobody is heard for a while."""
    with Rig(build) as rig:
        filled(rig)
        broker = Broker(rig, settings=("max_queued_messages 0",)).start()
        receiver = Receiver(broker.port)
        rig.start_bridge(broker)
        receiver.until_state(state="here")
        maps = open(f"/proc/{rig.bridge.process.pid}/maps").read()
        if "libasan" not in maps:  # whose own memory is more
            subprocess.run(["prlimit", f"--pid={rig.bridge.process.pid}", f"--data={64 << 20}"], check=True)
        receiver.ask(b"x" * 100_000_000)
        if "libasan" in maps:
            rig.bridge.until("not understood")
        else:
            gone(rig, "it sent more than there is memory for")
        rig.one_more()
        receiver.until_state(state="here", reading=21)
        assert receiver.missing(21) == []
        receiver.close()
        rig.stop_bridge()


if __name__ == "__main__":
    run_cases(globals(), sys.argv)
