# SPDX-License-Identifier: MIT
"""
Dates of a scale (Date Time, 0x2A08; Current Time, 0x2A2B) against Python's datetime and calendar:
both use the Gregorian rule for all years. The octets of Current Time: GATT characteristic
current_time.
"""
import calendar
import random
import struct
from datetime import datetime, timedelta

from told import Checks

EPOCH = datetime(1970, 1, 1)
EXTERNAL_REFERENCE = 2  # Adjust Reason, bit 1

chance = random.Random(20261125)
checks = Checks()


def check_both_ways(at):
    text = f'{at.year} {at.month} {at.day} {at.hour} {at.minute} {at.second}'
    seconds = calendar.timegm(at.timetuple())
    checks.add(f'seconds {text}', str(seconds))
    checks.add(f'date {seconds}', text)


def check_current_time(at):
    value = struct.pack(
        '<H8B',
        at.year,
        at.month,
        at.day,
        at.hour,
        at.minute,
        at.second,
        at.isoweekday(),
        0,
        EXTERNAL_REFERENCE,
    )
    checks.add(
        f'current-time {at.year} {at.month} {at.day} {at.hour} {at.minute} {at.second}', value.hex()
    )


def check_months():
    """The first and the last day of each month that the characteristic can tell."""
    for year in range(1582, 10000):
        for month in range(1, 13):
            check_both_ways(datetime(year, month, 1))
            check_both_ways(datetime(year, month, calendar.monthrange(year, month)[1], 23, 59, 59))


def check_days():
    for day in range((datetime(2200, 1, 1) - datetime(2000, 1, 1)).days):
        at = datetime(2000, 1, 1) + timedelta(days=day, seconds=chance.randrange(86400))
        check_both_ways(at)
        check_current_time(at)


def check_any():
    span = int((datetime(9999, 12, 31, 23, 59, 59) - datetime(1582, 1, 1)).total_seconds())
    for _ in range(20000):
        at = datetime(1582, 1, 1) + timedelta(seconds=chance.randrange(span + 1))
        check_both_ways(at)
        check_current_time(at)


def check_no_dates():
    """Whatever datetime refuses; years 0 to 1581 are outside the characteristic's range."""
    for year in (0, 1, 1581, 1582, 1600, 1700, 1900, 2000, 2024, 2026, 2100, 9999, 10000, 65535):
        for month in (*range(15), 255):
            for day in (*range(34), 255):
                check_maybe(year, month, day, 12, 0, 0)
    for hour in (0, 23, 24, 255):
        for minute in (0, 59, 60, 255):
            for second in (0, 59, 60, 255):
                check_maybe(2026, 11, 25, hour, minute, second)


def check_maybe(*parts):
    try:
        at = datetime(*parts)
    except ValueError:
        at = None
    valid = at is not None and at.year >= 1582
    checks.add(
        'seconds ' + ' '.join(map(str, parts)),
        str(calendar.timegm(at.timetuple())) if valid else 'invalid',
    )


def check_outside():
    first = calendar.timegm((1582, 1, 1, 0, 0, 0))
    last = calendar.timegm((9999, 12, 31, 23, 59, 59))
    for seconds in (first - 1, last + 1, -(2**63), 2**63 - 1):
        checks.add(f'date {seconds}', 'outside')


check_months()
check_days()
check_any()
check_no_dates()
check_outside()
checks.finish()
