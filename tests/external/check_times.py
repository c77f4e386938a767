# SPDX-License-Identifier: MIT
"""
RFC 3339 against its own grammar (section 5.6), its examples (5.8), and Python's
datetime.fromisoformat.

datetime knows no leap seconds; those come from tzdata's copy of the IERS list (second argument, may
be absent). The years 2000 to 2199 are the project's own limit (daemon/weigh/quantity.h).
"""
import random
import re
import sys
from datetime import datetime, timedelta, timezone

from told import Checks

EPOCH = datetime(1970, 1, 1, tzinfo=timezone.utc)
MS = timedelta(milliseconds=1)
EARLIEST_MS = (datetime(2000, 1, 1, tzinfo=timezone.utc) - EPOCH) // MS
TOO_LATE_MS = (datetime(2200, 1, 1, tzinfo=timezone.utc) - EPOCH) // MS
NTP_TO_UNIX_S = 2208988800  # 1900-01-01 to 1970-01-01 (RFC 5905, section 6)
GRAMMAR = re.compile(
    r'([0-9]{4})(-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2})(\.[0-9]+)?'
    r'(Z|[+-](?:[01][0-9]|2[0-3]):[0-5][0-9])'
)

chance = random.Random(20261125)
checks = Checks()


def offset_minutes(at):
    return at.utcoffset() // timedelta(minutes=1)


def answer_to(text):
    match = GRAMMAR.fullmatch(text.upper())
    if not match:
        return 'malformed 0 0'
    year, middle, fraction, zone = match.groups()
    try:
        # datetime has no year 0; year 2000 has the same calendar
        at = datetime.fromisoformat(
            ('2000' if year == '0000' else year) + middle + (fraction or '')[:7] + zone
        )
    except ValueError:
        return 'malformed 0 0'
    ms = (at - EPOCH) // MS
    if year == '0000' or not EARLIEST_MS <= ms < TOO_LATE_MS:
        return 'out-of-range 0 0'
    return f'ok {ms} {offset_minutes(at)}'


def some_zone():
    if chance.random() < 0.3:
        return chance.choice('Zz')
    return f'{chance.choice("+-")}{chance.randrange(24):02}:{chance.randrange(60):02}'


def some_fraction():
    if chance.random() < 0.5:
        return ''
    return '.' + ''.join(chance.choices('0123456789', k=chance.randrange(1, 13)))


def some_text(years, slack):
    """Each part may lie slack past its range, so that some are no times."""
    y = chance.randrange(*years)
    parts = (
        y,
        chance.randrange(1 - slack, 13 + slack),
        chance.randrange(1 - slack, 29 + 3 * slack),
    )
    clock = (chance.randrange(24 + slack), chance.randrange(60 + slack), chance.randrange(60))
    return (
        ('%04d-%02d-%02d' % parts)
        + chance.choice('Tt')
        + ('%02d:%02d:%02d' % clock)
        + some_fraction()
        + some_zone()
    )


def damaged(text):
    at = chance.randrange(len(text) + 1)
    return (
        text[:at] + chance.choice(('', *'0123456789-+:.TZtz ')) + text[at + chance.randrange(2) :]
    )


def check_texts():
    for _ in range(20000):
        for text in (
            some_text((2000, 2200), 0),
            some_text((1998, 2202), 1),
            some_text((0, 10000), 1),
        ):
            checks.add(f'rfc3339 {text}', answer_to(text))
        text = damaged(text)
        if not re.search(r':60(\.|Z|\+|-)', text.upper()):
            checks.add(f'rfc3339 {text}', answer_to(text))
    for second in (EARLIEST_MS // 1000, TOO_LATE_MS // 1000):
        for near in (-1, 0, 1):
            for minutes in (-1439, -60, 0, 60, 1439):
                zone = timezone(timedelta(minutes=minutes))
                text = (EPOCH + timedelta(seconds=second + near)).astimezone(zone).isoformat()
                checks.add(f'rfc3339 {text}', answer_to(text))


def check_published():
    """RFC 3339, section 5.8: all of them times, and all of them before the year 2000."""
    for text in (
        '1985-04-12T23:20:50.52Z',
        '1996-12-19T16:39:57-08:00',
        '1990-12-31T23:59:60Z',
        '1990-12-31T15:59:60-08:00',
        '1937-01-01T12:00:27.87+00:20',
    ):
        checks.add(f'rfc3339 {text}', 'out-of-range 0 0')
    # An unknown local offset (section 4.3).
    checks.add('rfc3339 2026-11-25T13:45:30-00:00', answer_to('2026-11-25T13:45:30+00:00'))


def leap_seconds():
    """The instants that follow a leap second, from 2000 on."""
    if len(sys.argv) < 3:
        print('no list of leap seconds here')
        return []
    with open(sys.argv[2], encoding='ascii', errors='replace') as lines:
        stamps = [int(line.split()[0]) - NTP_TO_UNIX_S for line in lines if line[0].isdigit()]
    return [EPOCH + timedelta(seconds=s) for s in stamps if s * 1000 > EARLIEST_MS]


def check_leap_seconds():
    after = leap_seconds()
    for next_day in after:
        last = next_day - timedelta(seconds=1)
        for minutes in (-480, -1, 0, 60, 345, 840):
            local = last.astimezone(timezone(timedelta(minutes=minutes)))
            text = local.isoformat()
            checks.add(
                f'rfc3339 {text.replace(":59" + text[19:], ":60" + text[19:])}',
                f'ok {(last - EPOCH) // MS} {minutes}',
            )
    if len(sys.argv) >= 3 and len(after) < 5:
        sys.exit('fewer than the five leap seconds of 2005 to 2016 in the list')
    for text in (
        '2026-11-25T13:45:60Z',
        '2026-11-30T12:59:60Z',
        '2026-11-29T23:59:60Z',
        '2026-12-31T23:59:60+01:00',
        '2026-12-31T23:59:61Z',
    ):
        checks.add(f'rfc3339 {text}', 'malformed 0 0')


def check_shown():
    first = (datetime(1582, 1, 1, tzinfo=timezone.utc) - EPOCH) // MS
    last = (datetime(9999, 12, 31, 23, 59, 59, 999000, tzinfo=timezone.utc) - EPOCH) // MS
    for ms in [
        first,
        last,
        -1,
        0,
        1,
        999,
        1000,
        *(chance.randrange(first, last) for _ in range(20000)),
    ]:
        text = (EPOCH + ms * MS).isoformat(timespec='milliseconds').replace('+00:00', 'Z')
        checks.add(f'utc {ms}', text)
        if EARLIEST_MS <= ms < TOO_LATE_MS:
            checks.add(f'rfc3339 {text}', f'ok {ms} 0')
    for ms in (first - 1, last + 1, -(2**63), 2**63 - 1):
        checks.add(f'utc {ms}', '')


check_texts()
check_published()
check_leap_seconds()
check_shown()
checks.finish()
