#!/usr/bin/python3
# SPDX-License-Identifier: MIT
# usage: check_pages.py BISMARD BISMAR SETTINGS PAGES
# Holds the manual pages (their sources in the folder PAGES) to the programs and to the settings file, both ways.
import re, subprocess, sys

bismard, bismar, settings, pages = sys.argv[1:5]
failures = 0


def compare(what, truth, page):
    """Each of the two must have all that the other has."""
    global failures
    if not truth or not page:
        failures += 1
        print(f"{what}: nothing found to compare")
    for item in sorted(truth - page):
        failures += 1
        print(f"{what}: not in the page: {item}")
    for item in sorted(page - truth):
        failures += 1
        print(f"{what}: in the page alone: {item}")


def out(*words):
    return subprocess.run(words, stdout=subprocess.PIPE, text=True, check=True).stdout


def terms(name):
    """The definition terms of a page by section, without marks: {"OPTIONS": ["--state DIR", ...]}."""
    found, section, before = {}, "", ""
    for line in open(f"{pages}/{name}.md", encoding="utf-8"):
        if line.startswith("# "):
            section = line[2:].strip()
        elif line.startswith(": "):
            found.setdefault(section, []).append(re.sub(r"[*`]", "", before).strip())
        before = line
    return found


def first_words(text):
    return {line.split()[0] for line in text}


# bismar: each command with its arguments, as `bismar help COMMAND` begins; and the options.
listing = out(bismar, "help")
rows = [line[2:18].split() for line in listing.split("Commands\n")[1].split("\n\n")[0].splitlines()]
page = terms("bismar.1")
compare("bismar(1), commands", {out(bismar, "help", *row).splitlines()[0] for row in rows},
        {term for section in page.values() for term in section if re.match(r"bismar [a-z]", term)})
options = [line.strip() for line in listing.split("\nOptions\n")[1].split("BISMAR_SOCKET")[0].splitlines()]
compare("bismar(1), options", {word for line in options for word in re.findall(r"--[a-z]+(?: [A-Zg]\S*)?", line)},
        set(page["OPTIONS"]))
compare("bismar(1), exit status", set(re.findall(r"(\d) [a-z]", listing.split("Exit status: ")[1])),
        first_words(page["EXIT STATUS"]))
compare("bismar(1), environment", set(re.findall(r"BISMAR_[A-Z]+", listing)),
        {word for term in page["ENVIRONMENT"] for word in re.findall(r"BISMAR_[A-Z]+", term)})

# bismard: the options. That it knows --help, --help needn't say.
page = terms("bismard.8")
usage = out(bismard, "--help")
compare("bismard(8), options", first_words(re.findall(r"--[a-z-]+", usage)) | {"--help"}, first_words(page["OPTIONS"]))

# The settings file: "#key = value" is a setting, "#   key = value" another one that may stand in its place.
truth, section = set(), ""
for line in open(settings, encoding="utf-8"):
    header = re.match(r"#?\[([a-z]+)( [a-z]+)?\]$", line)
    key = re.match(r"(?:#(?:   )?)?([a-z-]+) = ", line)
    if header:
        section = header[1] + (" NAME" if header[2] else "")
    elif key:
        truth.add(f"[{section}] {key[1]}")
compare("bismard.conf(5)", truth, {f"{section} {term.split()[0]}" for section, found in terms("bismard.conf.5").items()
                                   for term in found})

print("pages: all right" if not failures else f"pages: {failures} wrong")
sys.exit(failures != 0)
