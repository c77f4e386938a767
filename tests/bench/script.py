#!/usr/bin/python3
# SPDX-License-Identifier: MIT
"""usage: script.py DATABASE ADDRESS
What a user would put together otherwise, and tests/bench/run measures bismard against: bleak connects to the scale, each Weight
Measurement (0x2A9D) is decoded, inserted (WAL, synchronous FULL) and printed; a lost scale is looked for again. No tare, no
question, no client, no catching of what the database can't take."""
import asyncio
import sqlite3
import sys
import time

from bleak import BleakClient, BleakScanner
from bleak.exc import BleakError

WEIGHT = "00002a9d-0000-1000-8000-00805f9b34fb"


def open_database(path):
    db = sqlite3.connect(path, isolation_level=None)
    db.execute("PRAGMA journal_mode = WAL")
    db.execute("PRAGMA synchronous = FULL")
    db.execute("CREATE TABLE IF NOT EXISTS reading(at INTEGER, bytes BLOB, mass_mg INTEGER)")
    return db


def decode_mg(octets):
    """Weight Scale Service 1.0, 3.2.1: flags, then a mass in steps of 5 g, or of 0.01 lb (of 453.59237 g)."""
    raw = int.from_bytes(octets[1:3], "little")
    return round(raw * 4535.9237) if octets[0] & 1 else raw * 5000


async def main(path, address):
    db = open_database(path)

    def keep(_, octets):
        db.execute("INSERT INTO reading VALUES(?, ?, ?)", (int(time.time() * 1000), bytes(octets), decode_mg(octets)))
        print("ask", flush=True)

    print("started", flush=True)
    while True:
        device = await BleakScanner.find_device_by_address(address, timeout=10)
        if not device:
            continue
        lost = asyncio.Event()
        try:
            async with BleakClient(device, lambda _: lost.set()) as client:
                await client.start_notify(WEIGHT, keep)
                print("ready", flush=True)
                await lost.wait()
        except BleakError as problem:
            print(problem, file=sys.stderr)


asyncio.run(main(*sys.argv[1:]))
