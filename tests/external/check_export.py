#!/usr/bin/python3
# SPDX-License-Identifier: MIT
"""
What `bismar export` writes, read by other programs and held to the views value for value.

usage: check_export.py BISMARD BISMAR SCHEMA
Outside references: Python's csv module (csv), jq (every form of JSON), python3-jsonschema with SCHEMA, a transcription of what
the ICAR standard asks; sqlite3 reads the views. bismard makes the database; rows go in through its own tables and triggers.
"""
import copy
import csv
import datetime
import io
import json
import os
import socket
import sqlite3
import subprocess
import sys
import tempfile
import time
import uuid

import jsonschema

bismard, bismar, schema_path = sys.argv[1:4]
failed = checked = 0
NASTY = ['Mo"ss, the 2nd', "Fern; \u00e4\u00f6\U0001f33f", "'Gorse'", "=1+1", "-x", "a\\b\u2028c", " tab?".strip(), "\u202egnal"]
BY = 'keeper\r\nof "all",\nand more\t\x01'
T0 = 1767249000000


def check(good, what):
    global failed, checked
    checked += 1
    if not good:
        failed += 1
        print("wrong:", what, file=sys.stderr)


def begin(folder):
    path = folder + "/sock"
    child = subprocess.Popen([bismard, "--state", folder + "/state", "--socket", path, "--config", os.devnull, "--log-level", "err"],
                             stderr=subprocess.DEVNULL, env={**os.environ, "DBUS_SYSTEM_BUS_ADDRESS": f"unix:path={folder}/none"})
    sock = socket.socket(socket.AF_UNIX)
    while True:
        try:
            sock.connect(path)
            return child, sock
        except OSError:
            assert child.poll() is None, "bismard ended"
            time.sleep(0.01)


def call(sock, lines, method, **params):
    sock.sendall((json.dumps({"jsonrpc": "2.0", "id": 1, "method": method, "params": params}) + "\n").encode())
    while True:
        message = json.loads(lines.readline())
        if "id" in message:
            assert "error" not in message, message
            return message["result"]


def make(folder):
    """Two litters of one name one after the other, names of all sorts, typed readings, some taken back and corrected."""
    child, sock = begin(folder)
    lines = sock.makefile("r", encoding="utf-8")
    for litter in range(2):
        call(sock, lines, "litter.add", name="he, \"dge\"", born=T0 - 86400000)
        for i, name in enumerate(NASTY):
            call(sock, lines, "animal.add", name=name, litter="he, \"dge\"", collar=f"c,{i}", birth="305g")
        for k in range(4):
            for i, name in enumerate(NASTY):
                call(sock, lines, "weigh", animal=name, mass=f"{300 + 7 * k + i}.{i}g", at=T0 + 3600000 * k + i * 60001 + litter, by=BY)
        done = call(sock, lines, "weigh", animal=NASTY[0], mass="0.7lb", at=T0 + 9, by="x")["reading"]
        call(sock, lines, "reopen", ask=done)
        call(sock, lines, "aside", ask=done, why='a "hand",\non it')
        done = call(sock, lines, "weigh", animal=NASTY[1], mass="10.7oz", at=T0 + 10, by="x")["reading"]
        call(sock, lines, "reopen", ask=done)
        done = call(sock, lines, "weigh", animal=NASTY[2], mass="1g", at=T0 + 11, by="x")["reading"]
        call(sock, lines, "correct", reading=done, animal=NASTY[3])
        call(sock, lines, "litter.close", name="he, \"dge\"")
    sock.close()
    child.terminate()
    assert child.wait() == 0


def weigh_by_radio(path):
    """What a scale has sent, as bismard would have written it."""
    db = sqlite3.connect(path, isolation_level=None)
    animals = [r[0] for r in db.execute("SELECT id FROM animal")]
    scale = str(uuid.uuid4())
    db.execute("INSERT INTO scale (id, at_ms, offset_min, peer, address, name) VALUES (?, 1, 0, 'x', '02:00:00:00:0A:01', ?)",
               (scale, 'kit"chen, 1'))
    for k, (step, state, fed) in enumerate([(5000, "settled", None), (0, "restless", "before"), (4536, "settled", "after")]):
        for animal in animals:
            ids, mg = (str(uuid.uuid4()), str(uuid.uuid4())), 304001 + 1357 * k
            db.execute("INSERT INTO weighing (id, at_ms, offset_min, peer, scale, weighed_ms, origin, state, gross_mg, tare_mg,"
                       " net_mg, u_mg, step_mg) VALUES (?, ?, 60, 'x', ?, ?, ?, ?, ?, 210000, ?, 1443, ?)",
                       (ids[0], T0, scale, T0 + k, "stored" if k else "radio", state, mg + 210000, mg, step))
            db.execute("INSERT INTO answer (id, at_ms, offset_min, peer, weighing, kind, animal, fed, weighed_ms)"
                       " VALUES (?, ?, 60, 'x', ?, 'answer', ?, ?, ?)", (ids[1], T0 + 5000, ids[0], animal, fed, T0 + k))
    db.close()


def export(folder, *words):
    return subprocess.run([bismar, "--database", folder + "/state/bismar.db", *words], stdout=subprocess.PIPE, check=True).stdout


def jq(text, *words):
    return subprocess.run(["jq", *words], input=text, stdout=subprocess.PIPE, check=True).stdout.decode()


def check_csv(text, names, rows):
    table = list(csv.reader(io.StringIO(text.decode("utf-8"), newline=""), strict=True))
    check(table[0] == names, "csv: the header")
    check(len(table) == len(rows) + 1, f"csv: {len(table) - 1} rows for {len(rows)}")
    for cells, row in zip(table[1:], rows):
        for name, cell, value in zip(names, cells, row):
            same = cell == "" if value is None else float(cell) == value if isinstance(value, float) else cell == str(value)
            check(same and len(cells) == len(names), f"csv: {name} {cell!r} for {value!r}")


def check_jsonl(text, names, rows):
    objects = [json.loads(line) for line in jq(text, "-c", ".").split("\n")[:-1]]
    check(text.count(b"\n") == len(rows), "jsonl: an object a line")
    check(objects == [dict(zip(names, row)) for row in rows], "jsonl: its values")


def instant(text):
    return round(datetime.datetime.fromisoformat(text.replace("Z", "+00:00")).timestamp() * 1000)


def check_event(event, row, source):
    typed = row["origin"] == "typed"
    weight = event["weight"]
    for what, got, want in [
        ("id", event["id"], row["reading_id"]), ("sourceId", event["meta"]["sourceId"], row["reading_id"]),
        ("source", event["meta"]["source"], source), ("modified", instant(event["meta"]["modified"]), row["answered_at_ms"]),
        ("isDeleted", event["meta"]["isDeleted"], False), ("time", instant(event["eventDateTime"]), row["at_ms"]),
        ("animal", event["animal"], {"scheme": source + ".animal", "id": row["animal_id"]}),
        ("group", event["contemporaryGroup"], row["litter"] + " " + row["litter_id"]),
        ("mass", weight["measurement"], row["net_g"]), ("units", weight["units"], "GRM"),
        ("method", weight.get("method"), None if typed else "LoadCell"),
        ("resolution", weight.get("resolution"), None if typed else row["step_g"]),
        ("responsible", event.get("responsible"), row["answered_by"] if typed else None),
        ("device", event.get("device"), None if typed else {"identifier": {"scheme": source + ".scale", "id": row["scale"]}}),
        ("name in the remark", row["animal"] in event["remark"], True),
        ("typed in the remark", "typed by hand" in event["remark"], typed),
    ]:
        check(got == want, f"icar: {what} {got!r} for {want!r}")


def taken_back(db):
    """By the log, in Python: weighings that had an animal and have none, with the last one's."""
    newest, animal = {}, {}
    for row in db.execute("SELECT * FROM answer_log ORDER BY seq"):
        newest[row["weighing_id"]] = row
        if row["animal_id"]:
            animal[row["weighing_id"]] = row["animal_id"]
    return {w: (r, animal[w]) for w, r in newest.items() if not r["animal_id"] and w in animal}


def check_icar(text, lines, db, rows, source, validator):
    for error in validator.iter_errors(json.loads(text)):
        check(False, f"icar: {error.message} at {list(error.absolute_path)}")
    events = json.loads(jq(text, "-c", "."))
    check([json.loads(line) for line in lines.split(b"\n")[:-1]] == events, "icar: lines and array differ")
    alive = [e for e in events if not e["meta"]["isDeleted"]]
    check(len(alive) == len(rows), f"icar: {len(alive)} events for {len(rows)} readings")
    for event, row in zip(alive, rows):
        check_event(event, row, source)
    gone = taken_back(db)
    dead = {e["id"]: e for e in events if e["meta"]["isDeleted"]}
    check(set(dead) == set(gone) and len(gone) == 4, f"icar: {len(dead)} deleted for {len(gone)}")
    for key, (row, animal) in gone.items():
        event = dead.get(key, {"animal": {}, "meta": {}, "eventDateTime": "1970-01-01T00:00:00Z"})
        check(event["animal"].get("id") == animal and "weight" not in event, f"icar: deleted {event}")
        check(instant(event["meta"].get("modified", "1970-01-01T00:00:00Z")) == row["at_ms"], "icar: when it was deleted")
        check(instant(event["eventDateTime"]) == row["weighed_at_ms"], "icar: when that was weighed")
    return events


def check_schema_refuses(events, validator):
    """So that a schema that takes everything is seen."""
    for change in (lambda e: e.pop("animal"), lambda e: e.pop("resourceType"), lambda e: e["meta"].pop("source"),
                   lambda e: e["meta"].pop("modified"), lambda e: e["weight"].update(units="g"),
                   lambda e: e["weight"].update(measurement=-1), lambda e: e["weight"].update(method="Scale"),
                   lambda e: e.update(eventDateTime="2026-01-01T06:30:00+01:00"), lambda e: e["animal"].pop("scheme"),
                   lambda e: e["meta"].update(isDeleted="no")):
        event = copy.deepcopy(events[0])
        change(event)
        check(not validator.is_valid([event]), "the schema takes what the standard doesn't")


with tempfile.TemporaryDirectory() as folder:
    make(folder)
    weigh_by_radio(folder + "/state/bismar.db")
    db = sqlite3.connect(f"file:{folder}/state/bismar.db?mode=ro", uri=True)
    db.row_factory = sqlite3.Row
    rows = list(db.execute("SELECT * FROM reading ORDER BY at_ms, reading_id"))
    names = rows[0].keys()
    check(len(rows) == 2 * 8 * (4 + 3) + 2, f"{len(rows)} readings")
    check(any("\n" in r["answered_by"] for r in rows), "no newline to be written")
    check_csv(export(folder, "export", "csv"), names, [tuple(r) for r in rows])
    check_jsonl(export(folder, "export", "jsonl"), names, [tuple(r) for r in rows])
    with open(schema_path, encoding="utf-8") as file:
        schema = json.load(file)
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)
    for words, source in ([], "local.bismar"), (["--source", "org.example.litters"], "org.example.litters"):
        events = check_icar(export(folder, "export", "icar", *words), export(folder, "--json", "export", "icar", *words), db, rows,
                            source, validator)
    check_schema_refuses(events, validator)
    # a part of it, to a file; and a file that is there already
    for form in "csv", "jsonl", "icar":
        words = ["export", form, "--litter", rows[0]["litter_id"], "--since", "2026-01-01T07:00:00Z"]
        for _ in range(2):
            export(folder, *words, "-o", folder + "/out")
        with open(folder + "/out", "rb") as file:
            check(file.read() == export(folder, *words), f"{form}: a file and standard output differ")
    part = [r for r in rows if r["litter_id"] == rows[0]["litter_id"] and r["at_ms"] >= T0 + 1800000]
    check_csv(export(folder, "export", "csv", *words[2:]), names, [tuple(r) for r in part])
    check(0 < len(part) < len(rows), "no part")
    check(len(json.loads(export(folder, *words))) == len(part), "icar: a part")
    check(os.listdir(folder).count("out") == 1 and len(os.listdir(folder)) <= 3, f"left behind: {os.listdir(folder)}")
    db.close()

print(f"{checked} checked, {failed} wrong")
sys.exit(failed != 0)
