#!/usr/bin/python3
# SPDX-License-Identifier: MIT
# usage: check_completion.py BISMARD BISMAR COMPLETION
# The bash completion against the command table (`bismar help` and `bismar help COMMAND`), and its names against a record
# that a real bismard keeps, without a bus. What bash does with COMP_WORDS and COMPREPLY: bash(1), Programmable Completion.
import json, os, re, shlex, socket, subprocess, sys, tempfile, time

bismard, bismar, completion = (os.path.abspath(path) for path in sys.argv[1:4])
failures = 0


def check(what, got, want):
    global failures
    if got != want:
        failures += 1
        print(f"not as it should be: {what}\n  got  {got}\n  want {want}")


def out(*words):
    return subprocess.run([bismar, *words], stdout=subprocess.PIPE, text=True, check=True).stdout


def complete(*words, environment=None):
    """What is offered for the last word, which is as far as it was typed; sorted."""
    script = (f"source {shlex.quote(completion)}; COMP_WORDS=({shlex.join([bismar, *words])}); COMP_CWORD={len(words)};"
              f"_bismar {shlex.quote(bismar)} '' ''; printf '%s\\n' \"${{COMPREPLY[@]}}\"")
    run = subprocess.run(["bash", "--norc", "--noprofile", "-c", script], stdout=subprocess.PIPE, stderr=subprocess.PIPE,
                         text=True, env=environment)
    check(f"standard error of {words}", run.stderr, "")
    return sorted(line for line in run.stdout.split("\n") if line)


def table():
    """The commands as `bismar help` lists them: [["scale", "find"], ..., ["watch"], ...]."""
    listing = out("help").split("Commands\n")[1].split("\n\n")[0]
    return [line[2:18].split() for line in listing.splitlines()]


def check_commands(environment):
    rows = table()
    nouns = sorted({row[0] for row in rows})
    check("the table has rows", len(rows) > 20, True)
    check("nouns", complete("", environment=environment), nouns)
    check("nouns after help", complete("help", "", environment=environment), nouns)
    check("a beginning", complete("sca", environment=environment), ["scale"])
    own = sorted(re.findall(r"--[a-z]+", out("help").split("\nOptions\n")[1].split("BISMAR_SOCKET")[0]))
    for noun in nouns:
        verbs = sorted(row[1] for row in rows if row[0] == noun and len(row) > 1)
        if verbs:
            check(f"verbs of {noun}", complete(noun, "", environment=environment), verbs)
            check(f"verbs of {noun} after help", complete("help", noun, "", environment=environment), verbs)
    for row in rows:
        usage = out("help", *row).splitlines()[0]
        options = sorted(set(re.findall(r"--[a-z-]+", usage)) | set(own))
        check(f"options of {row}", complete(*row, "--", environment=environment), options)
    check("own options", complete("--", environment=environment), own)


def wait_for(path, daemon):
    probe = socket.socket(socket.AF_UNIX)
    while probe.connect_ex(path) != 0:
        if daemon.poll() is not None:
            sys.exit("bismard ended")
        time.sleep(0.01)  # there is nothing to wait on but the file
    probe.close()


def check_names(environment):
    def offered(*words):
        return complete(*words, environment=environment)

    def say(*words):
        subprocess.run([bismar, *words], env=environment, stdout=subprocess.DEVNULL, check=True)

    say("litter", "add", "hedge")
    say("litter", "add", "two words")
    for name, collar in ("Acorn", "green"), ("Bramble", "red"), ("Old Tom", "blue"):
        say("animal", "add", name, "--litter", "hedge", "--collar", collar)
    say("container", "tare", "basket", "404g")
    say("scale", "adopt", "C0:FF:EE:12:34:56", "kitchen")
    say("weigh", "Acorn", "304g")
    say("weigh", "Bramble", "299g")
    listing = subprocess.run([bismar, "--json", "reading", "list"], env=environment, stdout=subprocess.PIPE, check=True)
    ids = [json.loads(line)["reading_id"] for line in listing.stdout.splitlines()]
    last = sorted(i[-4:] for i in ids) if len({i[-4:] for i in ids}) == len(ids) else sorted(ids)
    who = sorted(["Acorn", "Bramble", "Old\\ Tom", "green", "red", "blue"])

    check("who", offered("answer", ""), who)
    check("who, begun", offered("weigh", "Ac"), ["Acorn"])
    check("who, second word", offered("correct", last[0], ""), who)
    check("a mass isn't guessed", offered("weigh", "Acorn", ""), [])
    check("readings", offered("correct", ""), last)
    check("readings to undo", offered("undo", "--ask", ""), last)
    check("animals that go", offered("animal", "gone", ""), ["Acorn", "Bramble", "Old\\ Tom"])
    check("a new animal", offered("animal", "add", ""), [])
    check("litters", offered("animal", "add", "Fern", "--litter", ""), ["hedge", "two\\ words"])
    check("litters, with =", offered("animal", "add", "Fern", "--litter", "=", "he"), ["hedge"])
    check("a new collar", offered("animal", "add", "Fern", "--collar", ""), [])
    check("alternatives", offered("animal", "add", "Fern", "--sex", ""), ["f", "m"])
    check("litters to close", offered("litter", "close", ""), ["hedge", "two\\ words"])
    check("litters to begin a round of", offered("round", "begin", ""), ["hedge", "two\\ words"])
    check("verbs, and litters", offered("round", ""), sorted(["begin", "end", "exchange", "hedge", "two\\ words"]))
    check("before or after", offered("round", "begin", "hedge", "--fed", ""), ["after", "before"])
    check("who grows, or a litter", offered("growth", ""), sorted([*who, "hedge", "two\\ words"]))
    check("scales", offered("scale", "forget", ""), ["kitchen"])
    check("a container's scale", offered("container", "on", "basket", "--scale", ""), ["kitchen"])
    check("containers", offered("container", "on", ""), ["basket"])
    check("containers to tare", offered("container", "tare", ""), ["basket"])
    check("container of a new scale", offered("scale", "adopt", "C0:FF:EE:12:34:57", "loft", "--container", ""), ["basket"])
    check("a new scale", offered("scale", "adopt", "C0:FF:EE:12:34:57", ""), [])
    check("formats", offered("export", ""), ["csv", "icar", "jsonl"])
    check("what comes in", offered("import", ""), ["csv"])
    check("units of a paper log", offered("import", "csv", "paper.csv", "--units", ""), ["g", "kg", "lb", "oz"])
    check("units", offered("--units", "oz", "reading", "list", "--units", ""), ["g", "oz"])
    check("asks", offered("aside", "--ask", ""), [])
    check("who speaks", offered("scale", "forget", "--by", ""), [])
    check("an option once", offered("animal", "add", "Fern", "--litter", "hedge", "--l"), [])
    check("the database named", complete("--database", environment["BISMAR_DATABASE"], "scale", "forget", "",
                                         environment={**environment, "BISMAR_DATABASE": "/nonexistent"}), ["kitchen"])


with tempfile.TemporaryDirectory() as folder:
    path = folder + "/prompt.sock"
    environment = {**os.environ, "BISMAR_SOCKET": path, "BISMAR_DATABASE": folder + "/state/bismar.db"}
    check_commands(environment)
    check("silent without a database", complete("answer", "", environment=environment), [])
    with open(folder + "/log", "w") as log:
        daemon = subprocess.Popen([bismard, "--state", folder + "/state", "--socket", path, "--config", "/dev/null"],
                                  stderr=log, env={**os.environ, "DBUS_SYSTEM_BUS_ADDRESS": f"unix:path={folder}/none"})
    try:
        wait_for(path, daemon)
        check_names(environment)
    finally:
        daemon.terminate()
        daemon.wait()
    check("without a daemon", complete("scale", "forget", "", environment=environment), ["kitchen"])
print("completion: all right" if not failures else f"completion: {failures} wrong")
sys.exit(failures != 0)
