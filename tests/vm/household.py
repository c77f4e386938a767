# SPDX-License-Identifier: MIT
"""bismard as user nobody, without capabilities, with a state of its own; for the stories of guest-weigh.sh."""
import os
import shutil
import socket
import subprocess
from guest import LIMIT_S, PUPS, SOCKET, TARE_MG, Prompt, Round, Wrong, until

HOME, STATE = "/run/bismar", "/run/bismar/state"
DATABASE = STATE + "/bismar.db"
AS_USER = ["setpriv", "--reuid=nobody", "--regid=nogroup", "--clear-groups", "--no-new-privs", "--bounding-set=-all"]
ENVIRONMENT = {"PATH": "/usr/bin", "GCOV_PREFIX": "/out/gcov"}


class Daemon:
    def __init__(self):
        self.process = None

    def start(self):
        with open("/out/bismard.log", "ab") as log:
            self.process = subprocess.Popen(
                AS_USER + ["/run/vm/bismard", "--state", STATE, "--socket", SOCKET, "--log-level", "debug"],
                stdout=log, stderr=log, env=ENVIRONMENT)
        until("bismard's socket", self.listens)

    def listens(self):
        if self.process.poll() is not None:
            raise Wrong("bismard ended with %d" % self.process.returncode)
        with socket.socket(socket.AF_UNIX) as s:
            return s.connect_ex(SOCKET) == 0

    def stop(self):
        self.process.terminate()
        try:
            return self.process.wait(LIMIT_S)
        except subprocess.TimeoutExpired:
            raise Wrong("bismard doesn't end")


def bismar(*words):
    done = subprocess.run(AS_USER + ["/run/vm/bismar", "--socket", SOCKET, "--database", DATABASE, *words],
                          capture_output=True, text=True, timeout=LIMIT_S,
                          env=ENVIRONMENT)
    if done.returncode != 0:
        raise Wrong("bismar %s: %d, %s" % (" ".join(words), done.returncode, done.stderr.strip()))
    return done.stdout


class Household(Round):
    """A round with a daemon that the story starts, a scale, a container and three pups."""
    PROGRAMS = ("daemon/bismard", "daemon/ctl/bismar")

    def __init__(self, build, scale):
        super().__init__(DATABASE)
        self.build, self.address, self.daemon = build, scale, Daemon()

    def begin(self):
        shutil.rmtree(HOME, ignore_errors=True)
        for directory in (HOME, "/out/gcov"):
            os.makedirs(directory, exist_ok=True)
        shutil.chown(HOME, "nobody", "nogroup")
        os.chmod("/out/gcov", 0o777)
        for program in self.PROGRAMS:  # nobody may be kept out of the build directory
            shutil.copy(os.path.join(self.build, program), "/run/vm")
        self.daemon.start()
        self.prompt = Prompt()

    def set_up(self):
        bismar("scale", "adopt", self.address, "kitchen")
        bismar("container", "tare", "basket", "%dg" % (TARE_MG // 1000))
        bismar("container", "on", "basket", "--scale", "kitchen")
        bismar("litter", "add", "first")
        for collar, animal in PUPS.items():
            bismar("animal", "add", animal, "--litter", "first", "--collar", collar)

    def end(self):
        """Whatever happened: nothing runs on, and the database is there to be looked at."""
        if self.daemon.process and self.daemon.process.poll() is None:
            self.daemon.process.kill()
            self.daemon.process.wait()
        for name in ("bismar.db", "bismar.db-wal"):
            if os.path.exists(os.path.join(STATE, name)):
                shutil.copy(os.path.join(STATE, name), "/out")
