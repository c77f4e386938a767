#!/usr/bin/python3
# SPDX-License-Identifier: MIT
# usage: rights.py BISMARD BISMAR
# Who may do what: the service's user, a member of its group, and a stranger, with ids that no account has. As the unit runs
# it (systemd.exec(5): UMask=, StateDirectoryMode=), by setpriv(1). Needs root for that; status 77 without.
import os, shutil, socket, sqlite3, stat, subprocess, sys, tempfile, time

if os.geteuid() != 0:
    print("skipped: only root can be others")
    sys.exit(77)

SERVICE, MEMBER, STRANGER = 61001, 61002, 61003
failures = 0


def check(what, got, want):
    global failures
    if got != want:
        failures += 1
        print(f"not as it should be: {what}\n  got  {got}\n  want {want}")


def become(uid):
    groups = ["--groups", str(SERVICE)] if uid == MEMBER else ["--clear-groups"]
    return ["setpriv", "--reuid", str(uid), "--regid", str(uid), *groups, "--no-new-privs", "--inh-caps=-all",
            "--bounding-set=-all", "--"]


def as_user(uid, *words, given=None):
    """Exit status, and what was said."""
    run = subprocess.run([*become(uid), *words], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, input=given,
                         cwd="/")
    return run.returncode, run.stdout


# A program of another maker, as far as SQLite goes: Python's. "mode=rw" fails to open what can't be written.
SQL = """
import sqlite3, sys
try:
    db = sqlite3.connect(f"file:{sys.argv[1]}?mode={sys.argv[2]}", uri=True)
    print(db.execute(sys.argv[3]).fetchall())
    db.commit()
except sqlite3.Error as error:
    print("refused:", error)
    sys.exit(1)
"""
READ = "SELECT animal, net_g FROM reading"
WRITE = "PRAGMA user_version = 99"


def sql(uid, mode, statement):
    return as_user(uid, "/usr/bin/python3", "-c", SQL, DATABASE, mode, statement)


def modes(folder):
    """What everything in the record's folder may be used for, and by whom."""
    found = {}
    for path in [folder] + [f"{at}/{name}" for at, folders, files in os.walk(folder) for name in folders + files]:
        status = os.lstat(path)
        found[os.path.relpath(path, folder)] = (stat.filemode(status.st_mode), status.st_uid, status.st_gid)
    return found


def check_modes():
    keys = STATE + "/keys"
    for name, (mode, uid, gid) in modes(STATE).items():
        check(f"owner of {name}", (uid, gid), (SERVICE, SERVICE))
        if name == "keys":
            check("mode of keys", mode, "drwx------")
        elif name.startswith("keys/"):
            check(f"mode of {name}", mode, "-rw-------")
        elif name == ".":
            check("mode of the folder", mode, "drwxr-x---")
        else:
            check(f"mode of {name}", mode, "-rw-r-----")
    check("database and log are there", {"bismar.db", "bismar.db-wal", "bismar.db-shm"} <= set(os.listdir(STATE)), True)
    if os.path.isdir(keys):
        check("keys, by a member", as_user(MEMBER, "ls", keys)[0] != 0, True)


def check_reading(when):
    ROWS = "[('Acorn', 304.0)]\n"
    check(f"member reads, {when}", sql(MEMBER, "ro", READ), (0, ROWS))
    status, text = as_user(MEMBER, BISMAR, "--database", DATABASE, "--json", "reading", "list")
    check(f"member's bismar reads, {when}", (status, '"Acorn"' in text), (0, True))
    check(f"stranger reads, {when}", sql(STRANGER, "ro", READ)[0], 1)
    check(f"stranger's bismar reads, {when}", as_user(STRANGER, BISMAR, "--database", DATABASE, "reading", "list")[0], 3)
    for uid, who in (MEMBER, "member"), (STRANGER, "stranger"):
        for statement in WRITE, "DELETE FROM frame_log", "CREATE TABLE mine (x)":
            check(f"{who} writes, {when}: {statement}", sql(uid, "rw", statement)[0], 1)
        for name in sorted(os.listdir(STATE)):
            path = f"{STATE}/{name}"
            check(f"{who} appends to {name}, {when}", as_user(uid, "dd", "of=" + path, "conv=notrunc", "oflag=append",
                                                              given="x")[0], 1)
            check(f"{who} deletes {name}, {when}", as_user(uid, "rm", "-rf", path)[0], 1)
            check(f"{who} renames {name}, {when}", as_user(uid, "mv", path, path + ".gone")[0], 1)
        check(f"{who} adds a file, {when}", as_user(uid, "touch", STATE + "/more")[0], 1)
    check_modes()


def check_socket():
    status = os.lstat(SOCKET)
    check("the socket", (stat.filemode(status.st_mode), status.st_uid, status.st_gid), ("srw-rw----", SERVICE, SERVICE))
    bismar = [BISMAR, "--socket", SOCKET, "--database", DATABASE]
    for words in ["litter", "add", "hedge"], ["animal", "add", "Acorn", "--litter", "hedge"], ["weigh", "Acorn", "304g"]:
        check(f"member: {words}", as_user(MEMBER, *bismar, *words)[0], 0)
        check(f"stranger: {words}", as_user(STRANGER, *bismar, *words)[0], 3)
    check("stranger deletes the socket", as_user(STRANGER, "rm", "-f", SOCKET)[0], 1)
    check("member deletes the socket", as_user(MEMBER, "rm", "-f", SOCKET)[0], 1)


def start():
    log = open(WORK + "/log", "a")
    daemon = subprocess.Popen([*become(SERVICE), BISMARD, "--state", STATE, "--socket", SOCKET, "--config", "/dev/null"],
                              stderr=log, umask=0o027, cwd="/",
                              env={**os.environ, "DBUS_SYSTEM_BUS_ADDRESS": f"unix:path={WORK}/none"})
    with socket.socket(socket.AF_UNIX) as probe:
        while probe.connect_ex(SOCKET) != 0:
            if daemon.poll() is not None:
                sys.exit("bismard ended: " + open(WORK + "/log").read())
            time.sleep(0.01)  # there is nothing to wait on but the file
    return daemon


def stop(daemon):
    daemon.terminate()
    check("bismard's exit status", daemon.wait(), 0)


WORK = tempfile.mkdtemp()
try:
    os.chmod(WORK, 0o755)
    # Where the build is, others may not look.
    BISMARD, BISMAR = (shutil.copy(program, WORK) for program in sys.argv[1:3])
    STATE, RUN = WORK + "/state", WORK + "/run"
    DATABASE, SOCKET = STATE + "/bismar.db", RUN + "/prompt.sock"
    for folder, mode in (STATE, 0o750), (RUN, 0o755):
        os.mkdir(folder)
        os.chown(folder, SERVICE, SERVICE)
        os.chmod(folder, mode)
    daemon = start()
    check_socket()
    check_reading("running")
    stop(daemon)
    check_reading("stopped")
    daemon = start()
    check_reading("started again")
    daemon.kill()
    daemon.wait()
    check_reading("killed")
    check("the service's own user writes", sql(SERVICE, "rw", "CREATE TABLE mine (x)")[0], 0)
finally:
    shutil.rmtree(WORK)
print("rights: all right" if not failures else f"rights: {failures} wrong")
sys.exit(failures != 0)
