# SPDX-License-Identifier: MIT
"""
Masses against exact rational numbers (Python's fractions).

References: 1 lb = 0.45359237 kg exactly, 1 oz = 1/16 lb (NIST SP 811, appendix B); the layouts of
the GATT characteristics weight_measurement, body_composition_measurement and weight (0.005 kg or
0.01 lb a count). What people may write, and how masses are shown, is the project's own contract
(daemon/weigh/quantity.h).
"""
import random
import re
from fractions import Fraction

from told import Checks

POUND_MG = Fraction(45359237, 100)
UNIT_MG = {'kg': Fraction(1000000), 'g': Fraction(1000), 'lb': POUND_MG, 'oz': POUND_MG / 16}
MAX_MG = 1000 * 1000 * 1000

chance = random.Random(20261125)
checks = Checks()


def rounded(x):
    """To the nearest integer, halves away from zero."""
    magnitude = (2 * abs(x) + 1) // 2
    return magnitude if x >= 0 else -magnitude


def wire(raw, pounds):
    step = POUND_MG / 100 if pounds else Fraction(5000)
    return f'{rounded(raw * step)} {rounded(step)} {"lb" if pounds else "kg"}'


def octets(value, n):
    return value.to_bytes(n, 'little').hex()


def some_octets(n):
    return chance.randbytes(n).hex()


def check_every_count():
    """All 65536 counts, in both units."""
    for raw in range(0x10000):
        for pounds in (0, 1):
            expected = 'refused measurement unsuccessful' if raw == 0xFFFF else wire(raw, pounds)
            checks.add(f'2a9d {pounds:02x}{octets(raw, 2)}', expected)
        checks.add(f'2a98 {octets(raw, 2)}', wire(raw, False))


def check_every_flag():
    """The weight's place behind every combination of fields, with noise in them."""
    for flags in range(0x100):
        raw = chance.randrange(0xFFFF)
        rest = 7 * (flags >> 1 & 1) + (flags >> 2 & 1) + 4 * (flags >> 3 & 1)
        value = octets(flags, 1) + octets(raw, 2) + some_octets(rest)
        checks.add(f'2a9d {value}', wire(raw, flags & 1))
        checks.add(f'2a9d {value[:-2]}', 'refused truncated')
    for flags in range(0x10000):
        raw = chance.randrange(0x10000)
        before = 7 * (flags >> 1 & 1) + (flags >> 2 & 1) + 2 * (flags & 0x3F8).bit_count()
        has_weight = flags >> 10 & 1
        value = octets(flags, 2) + octets(chance.randrange(0xFFFF), 2) + some_octets(before)
        value += octets(raw, 2) * has_weight + some_octets(2 * (flags >> 11 & 1))
        checks.add(f'2a9c {value}', wire(raw, flags & 1) if has_weight else 'refused no mass in it')
        checks.add(f'2a9c {value[:-2]}', 'refused truncated')


def check_decimal(mantissa, exponent, unit):
    mg = rounded(mantissa * Fraction(10) ** exponent * UNIT_MG[unit])
    checks.add(
        f'decimal {mantissa} {exponent} {unit}', str(mg) if abs(mg) <= MAX_MG else 'out-of-range'
    )


def check_decimals():
    for unit in UNIT_MG:
        for exponent in range(-45, 46):
            for mantissa in (0, 1, 5, 49, 50, 51, 800, 2**63 - 1):
                check_decimal(mantissa, exponent, unit)
                check_decimal(-mantissa, exponent, unit)
            check_decimal(-(2**63), exponent, unit)
        for exponent in (
            -(2**31),
            -1000,
            1000,
            2**31 - 1,
        ):  # as exact numbers these would take long
            checks.add(f'decimal 0 {exponent} {unit}', '0')
            checks.add(f'decimal 7 {exponent} {unit}', '0' if exponent < 0 else 'out-of-range')
        for _ in range(5000):
            mantissa = chance.randrange(2 ** chance.randrange(1, 64)) * chance.choice((1, -1))
            check_decimal(mantissa, chance.randrange(-24, 6), unit)
        # Halves of a milligram: odd multiples of 50 lb, of 800 oz, of 0.5 mg in grams and
        # kilograms.
        mantissa, exponent = {'kg': (5, -7), 'g': (5, -4), 'lb': (50, 0), 'oz': (800, 0)}[unit]
        for _ in range(1000):
            check_decimal(mantissa * chance.randrange(-39, 40, 2), exponent, unit)
        # Both sides of the largest mass.
        for decimals in range(10):
            edge = int(MAX_MG * 10**decimals / UNIT_MG[unit])
            for mantissa in range(edge - 3, edge + 4):
                check_decimal(mantissa, -decimals, unit)


PART = r'(-?)([0-9]+)(?:([.,])([0-9]+))?[ \t]*(kg|g|lb|oz)[ \t]*'
TEXT = re.compile(rf'[ \t]*{PART}(?:{PART})?', re.IGNORECASE)


def part_of(groups):
    """
    (exact mg, exact step in mg, unit, decimals, negative) of one number with its unit, or None.
    """
    sign, whole, mark, fraction, unit = groups
    fraction, unit = fraction or '', unit.lower()
    if mark == ',' and len(fraction) == 3 and whole[0] != '0' and len(whole) <= 3 and unit != 'kg':
        return None  # may part thousands
    step = Fraction(1, 10 ** len(fraction)) * UNIT_MG[unit]
    return int(whole + fraction) * step, step, unit, len(fraction), bool(sign)


def answers_to(text):
    """What the contract says of a text."""
    match = TEXT.fullmatch(text)
    part = match and part_of(match.groups()[:5])
    if not part:
        return None
    mg, step, unit, decimals, negative = part
    if match[10]:
        more = part_of(match.groups()[5:])
        if (
            not more
            or unit != 'lb'
            or decimals > 0
            or more[2] != 'oz'
            or more[4]
            or more[0] >= POUND_MG
        ):
            return None
        mg, step, decimals = mg + more[0], more[1], max(decimals, more[3])
    mg = rounded(mg)
    no_mass = negative or mg == 0 or mg > MAX_MG
    answer = 'out-of-range 0 0' if no_mass else f'ok {mg} {max(1, rounded(step))}'
    # nobody weighs finer than nine decimals: they may be refused
    return (answer, 'malformed 0 0') if decimals > 9 else (answer,)


def check_text(text):
    answers = answers_to(text)
    checks.add(f'mass {text}', *(answers or ('malformed 0 0', 'no-unit 0 0')))


def some_number():
    whole = str(chance.randrange(10 ** chance.randrange(1, 7)))
    if chance.random() < 0.5:
        return whole
    return (
        whole
        + chance.choice('.,')
        + ''.join(chance.choices('0123456789', k=chance.randrange(1, 10)))
    )


def some_text():
    unit = chance.choice(('g', 'kg', 'oz', 'lb'))
    text = some_number() + chance.choice(('', ' ', '\t ')) + unit
    if unit == 'lb' and chance.random() < 0.5:
        text += chance.choice(('', ' ')) + some_number() + chance.choice(('', ' ')) + 'oz'
    text = chance.choice(('', '', ' ')) + text + chance.choice(('', '', ' '))
    return ''.join(chance.choice((c.lower(), c.upper())) for c in text)


def damaged(text):
    for _ in range(chance.randrange(1, 4)):
        at = chance.randrange(len(text) + 1)
        text = (
            text[:at]
            + chance.choice(('', *'0123456789.,- \tkglbozxe+'))
            + text[at + chance.randrange(2) :]
        )
    return text


def check_texts():
    for text in (
        '304g',
        '0.304kg',
        '10.7oz',
        '0lb10.7oz',
        '0.67lb',
        '0,304kg',
        '1,304kg',
        '1,304g',
        '.5kg',
        '0lb107oz',
        '304',
        '3o4g',
        '-304g',
        '0g',
        '0.0004g',
        '0.0005g',
        '1000kg',
        '1000.000001kg',
        '1lb 15.99oz',
        '1lb 16oz',
        '1.5lb 3oz',
        '2204lb 9.9oz',
        '2205lb 0oz',
        '99999999999999999999g',
        '',
        ' ',
        'g',
        '1e3g',
        '+5g',
        '5 k g',
    ):
        check_text(text)
    for _ in range(20000):
        text = some_text()
        check_text(text)
        check_text(damaged(text))


def grams_text(mg, step):
    places = 1 if step == 0 or step >= 1000 else 3
    shown = rounded(Fraction(abs(mg), 10 ** (3 - places)))
    text = f'{shown // 10**places}.{shown % 10**places:0{places}}'.rstrip('0').rstrip('.')
    return ('-' if mg < 0 and shown else '') + text + ' g'


def ounces_text(mg):
    shown = rounded(abs(mg) * 100 / UNIT_MG['oz'])
    text = f'{shown % 1600 // 100}.{shown % 100:02} oz'
    if shown >= 1600:
        text = f'{shown // 1600} lb {text}'
    return ('-' if mg < 0 and shown else '') + text


def check_shown():
    values = [0, 49, 50, 51, 149, 150, 999, 1000, 304500, 453592, 453593, 453450, 453451, MAX_MG]
    values += [chance.randrange(10 ** chance.randrange(1, 10)) for _ in range(5000)]
    for value in values:
        for mg in (value, -value):
            step = chance.choice((0, 1, 10, 100, 999, 1000, 5000))
            checks.add(f'grams {mg} {step}', grams_text(mg, step))
            checks.add(f'ounces {mg}', ounces_text(mg))


check_every_count()
check_every_flag()
check_decimals()
check_texts()
check_shown()
checks.finish()
