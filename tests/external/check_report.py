#!/usr/bin/env python3
# SPDX-License-Identifier: MIT
"""
The report of the demo's fortnight: valid HTML, no script, nothing from elsewhere, and its numbers are those of the views.

usage: check_report.py FORTNIGHT BUILD NPM
Outside references: html-validate's standard rules (npm: the WHATWG HTML standard); Python's own HTML parser and sqlite3
read page and ledger back; the gain a day is reckoned anew; marks are measured by the ticks that stand beside them.
"""
import json
import math
import os
import re
import sqlite3
import subprocess
import sys
import tempfile
from html.parser import HTMLParser

fortnight, build, npm = sys.argv[1:4]
failed = 0


def check(good, what):
    global failed
    if not good:
        failed += 1
        print("wrong:", what, file=sys.stderr)


class Page(HTMLParser):
    """Tables as rows of (text, datetime of its first time element); the marks and ticks of each figure; all elements."""

    def __init__(self):
        super().__init__()
        self.tables, self.figures, self.elements = [], [], []
        self.section, self.cell, self.text, self.into = "", None, None, None

    def handle_starttag(self, tag, attrs):
        attrs = dict(attrs)
        self.elements.append((tag, attrs))
        if tag == "table":
            self.tables.append({"class": attrs.get("class"), "section": self.section, "heads": [], "rows": []})
        elif tag == "tr":
            self.tables[-1]["rows"].append([])
        elif tag in ("td", "th"):
            self.cell, self.text = [tag, None], []
        elif tag == "time" and self.cell and self.cell[1] is None:
            self.cell[1] = attrs["datetime"]
        elif tag in ("h1", "h2", "caption", "text"):
            self.into, self.text = (tag, attrs), []
        elif tag == "svg":
            self.figures.append({"section": self.section, "x": [], "y": [], "marks": []})
        elif tag == "circle" and attrs.get("class") in ("ring", "dot"):
            self.figures[-1]["marks"].append((float(attrs["cx"]), float(attrs["cy"])))

    def handle_data(self, data):
        if self.text is not None:
            self.text.append(data)

    def handle_endtag(self, tag):
        if tag in ("td", "th") and self.cell:
            self.tables[-1]["rows"][-1].append(("".join(self.text), self.cell[1]))
            self.cell = self.text = None
        elif self.into and tag == self.into[0]:
            attrs, text = self.into[1], "".join(self.text)
            if tag == "h2":
                self.section = text
            elif tag == "text" and "tick" in attrs.get("class", "").split():
                for axis in "xy":
                    if axis in attrs["class"].split():
                        self.figures[-1][axis].append((float(attrs[axis]), float(text)))
            self.into = self.text = None


def number(text):
    return float(text.replace("\u2212", "-"))


def scale_of(ticks, shift):
    """The value at a place, by the outermost ticks; the others must agree."""
    (a, u), (b, v) = ticks[0], ticks[-1]
    for at, value in ticks:
        check(abs(u + (at - a) * (v - u) / (b - a) - value) < 1e-2 * abs(v - u), f"tick {value}")
    return lambda at: u + (at + shift - a) * (v - u) / (b - a)


def gains(points):
    """Per cent a day: against the weighing nearest to 24 h before, from 12 to 36 h; of two as near, either."""
    for t, mass in points:
        before = [(abs(t - 86400000 - s), s, m) for s, m in points if 43200000 <= t - s <= 129600000]
        near = min(before)[0] if before else None
        yield {round(100 * ((mass / m) ** (86400000 / (t - s)) - 1), 1) for d, s, m in before if d == near}, \
              {round(100 * (mass / m - 1) * 86400000 / (t - s), 1) for d, s, m in before if d == near}


def compare_pup(page, db, pup):
    own = [t for t in page.tables if t["section"].endswith(" " + pup["animal"])]
    rows = [r for t in own if t["class"] == "weights" for r in t["rows"][1:]]
    readings = list(db.execute("SELECT at, at_ms, net_g, u_g FROM reading WHERE animal_id = ? ORDER BY at_ms",
                               (pup["animal_id"],)))
    want = [(pup["born_at_ms"], pup["birth_g"])] + [(r["at_ms"], r["net_g"]) for r in readings]
    check(len(rows) == len(want), f"{pup['animal']}: {len(rows)} rows for {len(want)} masses")
    for row, reading in zip(rows[1:], readings):
        check(row[0][1] == reading["at"], f"{pup['animal']}: {row[0]} for {reading['at']}")
        check(abs(number(row[3][0]) - reading["u_g"]) < 0.006, f"{pup['animal']}: u {row[3][0]} for {reading['u_g']}")
    plain = compound = 0
    for row, (at, mass), (by_power, by_part) in zip(rows, want, gains(want)):
        check(abs(number(row[1][0]) - (at - pup["born_at_ms"]) / 86400e3) < 0.006, f"{pup['animal']}: age {row[1][0]}")
        check(number(row[2][0]) == round(mass), f"{pup['animal']}: {row[2][0]} for {mass} g")
        if not by_part:
            check(row[4][0] == "\u2013", f"{pup['animal']}: a gain from nothing: {row[4][0]}")
            continue
        near = lambda these: any(abs(number(row[4][0]) - g) < 0.051 for g in these)
        plain, compound = plain + (not near(by_part)), compound + (not near(by_power))
        low, high = (number(x) for x in re.search(r"\((\S+) to (\S+)\)", row[5][0]).groups())
        check(low <= number(row[5][0].split()[0]) <= high, f"{pup['animal']}: {row[5][0]}")
    check(min(plain, compound) == 0, f"{pup['animal']}: {min(plain, compound)} gains a day differ")

    figure = next(f for f in page.figures if f["section"].endswith(" " + pup["animal"]))
    x, y = scale_of(figure["x"], 0), scale_of(figure["y"], 4)  # a tick's text stands 4 units below its line
    marks = [m for m in figure["marks"] if m[1] < max(at for at, _ in figure["y"])]  # below the frame is the key
    check(len(marks) == len(readings), f"{pup['animal']}: {len(marks)} marks")
    for (px, py), (at, mass) in zip(marks, want[1:]):
        check(abs(x(px) - (at - pup["born_at_ms"]) / 86400e3) < 0.02, f"{pup['animal']}: a mark at {x(px)} d")
        check(abs(y(py) - mass) < 1.5, f"{pup['animal']}: a mark at {y(py)} g for {mass}")

    for kind, view, column in (("signs", "sign_log", "value"), ("feeds", "feed_log", "ml"), ("doses", "dose_log", "ml")):
        shown = [r for t in own if t["class"] == kind for r in t["rows"][1:]]
        known = list(db.execute(f"SELECT at, {column} AS value FROM {view} WHERE animal_id = ? ORDER BY at_ms",
                                (pup["animal_id"],)))
        check([r[0][1] for r in shown] == [k["at"] for k in known], f"{pup['animal']}: {kind}")
        for row, k in zip(shown, known):
            value = k["value"] if isinstance(k["value"], str) else f"{k['value']:.1f}"
            check(value in [cell[0] for cell in row], f"{pup['animal']}: {kind}: {value} in {row}")
    concerns = db.execute("SELECT count(DISTINCT concern_id) FROM concern_log WHERE animal_id = ?", (pup["animal_id"],))
    check(sum(len(t["rows"]) - 1 for t in own if t["class"] == "concerns") == concerns.fetchone()[0],
          f"{pup['animal']}: concerns")
    return len(rows), len(marks)


def validate(page):
    rules = os.path.join(os.path.dirname(page), "rules.json")
    with open(rules, "w") as to:
        json.dump({"root": True, "extends": ["html-validate:standard"]}, to)
    ran = subprocess.run([f"{npm}/node_modules/.bin/html-validate", "-c", rules, page], stdout=subprocess.PIPE, text=True)
    return ran.returncode, ran.stdout


with tempfile.TemporaryDirectory(prefix="bismar-report-") as place:
    house = f"{place}/house"
    subprocess.run([fortnight, build, "--keep", house], check=True, stdout=subprocess.DEVNULL)
    out = f"{place}/hedge.html"
    env = {**os.environ, "TZ": "UTC"}
    bismar = [f"{build}/daemon/ctl/bismar", "--database", f"{house}/bismar.db"]
    subprocess.run([*bismar, "report", "hedge", "-o", out], check=True, stdout=subprocess.DEVNULL, env=env)
    text = open(out, encoding="utf-8").read()

    status, said = validate(out)
    check(status == 0, "not valid HTML:\n" + said)
    with open(out + ".broken.html", "w") as to:
        to.write(text.replace("</h1>", "</h2>", 1))
    check(validate(out + ".broken.html")[0] == 1, "the validator finds nothing in a broken page")

    page = Page()
    page.feed(text)
    check(not any(tag in ("script", "link", "img", "iframe", "object", "form") for tag, _ in page.elements), "not plain")
    check(not any(k.startswith("on") or k in ("src", "href") and not v.startswith("#")
                  for _, attrs in page.elements for k, v in attrs.items()), "something that runs, or is from elsewhere")
    check("url(" not in re.sub(r"url\(#[\w-]+\)", "", text) and "@import" not in text, "a style from elsewhere")

    db = sqlite3.connect(f"file:{house}/bismar.db?mode=ro", uri=True)
    db.row_factory = sqlite3.Row
    pups = list(db.execute("SELECT * FROM animal_now WHERE litter = 'hedge' ORDER BY animal"))
    check(len(pups) == 8, "pups")
    overview = next(t for t in page.tables if t["class"] == "overview")["rows"][1:]
    for row, pup in zip(overview, pups):
        check(row[0][0].split()[1] == pup["animal"] and number(row[3][0]) == round(pup["birth_g"])
              and number(row[4][0]) == round(pup["newest_g"]), f"overview: {row}")
        check(abs(number(row[6][0]) - 100 * (pup["newest_g"] / pup["birth_g"] - 1)) < 0.06, f"since birth: {row[6]}")
    counts = [compare_pup(page, db, pup) for pup in pups]
    print(f"{sum(r for r, _ in counts)} rows and {sum(m for _, m in counts)} marks compared with the views, "
          f"{len(page.figures)} figures, {len(text)} characters")

    # what is there stays when nothing can be written
    before = os.stat(out).st_mtime_ns
    ran = subprocess.run([*bismar, "report", "no-such-litter", "-o", out], stderr=subprocess.PIPE, text=True, env=env)
    check(ran.returncode != 0 and "no-such-litter" in ran.stderr and os.stat(out).st_mtime_ns == before, ran.stderr)
    ran = subprocess.run([*bismar, "report", "hedge", "-o", f"{place}/none/hedge.html"], stderr=subprocess.PIPE, text=True,
                         env=env)
    check(ran.returncode != 0 and "none" in ran.stderr, ran.stderr)
    later = subprocess.run([*bismar, "report", "hedge", "--since", "2026-03-14T00:00:00Z"], stdout=subprocess.PIPE, text=True,
                           check=True, env=env).stdout
    check("2026-03-13T" not in later and later.count("2026-03-14T07:55") >= 8, "--since")
    full = subprocess.run(f"{' '.join(bismar)} report hedge >/dev/full", shell=True, stderr=subprocess.PIPE, text=True, env=env)
    check(full.returncode != 0 and full.stderr, "a full disk is no success")

sys.exit(failed > 0)
