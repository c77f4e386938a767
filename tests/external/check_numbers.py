# SPDX-License-Identifier: MIT
"""
Numbers described by a 0x2904, SFLOAT and FLOAT, against Python's decimal (decimal arithmetic as in
IEEE 754-2008, made exact here by its precision).

References: GATT descriptor gatt.characteristic_presentation_format (layout, format codes); IEEE
11073-20601 as told by the project's fact sheet, section 4 (special patterns, with exponent 0 only);
0x2702 kilogram, 0x27B8 pound.
"""
import decimal
import random
import struct
from decimal import Decimal

from told import Checks

decimal.setcontext(decimal.Context(prec=500, rounding=decimal.ROUND_HALF_UP))

UNITS = {0x2702: ('kg', Decimal(1000000)), 0x27B8: ('lb', Decimal('453592.37'))}
OTHER_UNITS = (0x2700, 0x2701, 0x2768, 0x272F, 0x27A2, 0x27C1, 0)
UNSIGNED = {0x04: 1, 0x06: 2, 0x07: 3, 0x08: 4, 0x09: 6, 0x0A: 8}
SIGNED = {0x0C: 1, 0x0E: 2, 0x0F: 3, 0x10: 4, 0x11: 6, 0x12: 8}
SFLOAT, FLOAT = 0x16, 0x17
SFLOAT_SPECIAL = {0x07FF, 0x0800, 0x07FE, 0x0802, 0x0801}
FLOAT_SPECIAL = {0x007FFFFF, 0x00800000, 0x007FFFFE, 0x00800002, 0x00800001}
MAX_MG = 1000 * 1000 * 1000
OUT_OF_RANGE = 'refused out of range'
SPECIAL = 'refused a special number instead of a mass'

chance = random.Random(20261125)
checks = Checks()


def whole(x):
    return int(x.to_integral_value())


def mass(number, exponent, unit):
    name, unit_mg = UNITS[unit]
    mg = whole(number * unit_mg)
    step = min(MAX_MG, max(1, whole(Decimal(1).scaleb(exponent) * unit_mg)))
    return f'{mg} {step} {name}' if abs(mg) <= MAX_MG else OUT_OF_RANGE


def signed(raw, bits):
    return raw - (1 << bits) if raw >> (bits - 1) else raw


def check_medfloat(raw, exponent_bits, mantissa_bits, code, special, request):
    octets = (exponent_bits + mantissa_bits) // 8
    value = raw.to_bytes(octets, 'little').hex()
    mantissa = signed(raw & ((1 << mantissa_bits) - 1), mantissa_bits)
    exponent = signed(raw >> mantissa_bits, exponent_bits)
    known = raw not in special
    checks.add(f'{request} {raw:x}', f'{mantissa} {exponent}' if known else 'special')
    for unit in UNITS:
        # the description's own exponent doesn't apply to these formats
        description = struct.pack('<BbHBH', code, chance.randrange(-128, 128), unit, 1, 0).hex()
        answer = mass(Decimal(mantissa).scaleb(exponent), exponent, unit) if known else SPECIAL
        checks.add(f'described {description} {value}', answer)


def check_medfloats():
    for raw in range(0x10000):
        check_medfloat(raw, 4, 12, SFLOAT, SFLOAT_SPECIAL, 'sfloat')
    edges = [0, 1, 0x7FFFFD, 0x7FFFFE, 0x7FFFFF, 0x800000, 0x800001, 0x800002, 0x800003, 0xFFFFFF]
    raws = [exponent << 24 | mantissa for exponent in range(0x100) for mantissa in edges]
    for raw in raws + [chance.randrange(2**32) for _ in range(20000)]:
        check_medfloat(raw, 8, 24, FLOAT, FLOAT_SPECIAL, 'float')
    for raw in [
        chance.randrange(-16, 1) % 256 << 24 | chance.randrange(2**24) for _ in range(20000)
    ]:
        check_medfloat(raw, 8, 24, FLOAT, FLOAT_SPECIAL, 'float')


def check_integer(code, octets, is_signed, raw, exponent, unit):
    description = struct.pack('<BbHBH', code, exponent, unit, 1, 0).hex()
    number = signed(raw, 8 * octets) if is_signed else raw
    answers = [mass(Decimal(number).scaleb(exponent), exponent, unit)]
    if number >= 2**63:
        answers.append(OUT_OF_RANGE)  # needs a step under a billionth of a milligram to be a mass
    value = raw.to_bytes(octets, 'little').hex()
    checks.add(f'described {description} {value}', *answers)
    checks.add(f'described {description} {value[:-2]}', 'refused truncated')


def check_integers():
    formats = [(c, n, False) for c, n in UNSIGNED.items()] + [
        (c, n, True) for c, n in SIGNED.items()
    ]
    for code, octets, is_signed in formats:
        top = 1 << (8 * octets)
        edges = {0, 1, top // 2 - 1, top // 2, top // 2 + 1, top - 2, top - 1}
        for unit in UNITS:
            for exponent in range(-128, 128):
                for raw in edges:
                    check_integer(code, octets, is_signed, raw, exponent, unit)
            for _ in range(1000):
                raw = chance.randrange(1 << chance.randrange(1, 8 * octets + 1))
                check_integer(code, octets, is_signed, raw, chance.randrange(-20, 5), unit)


def check_descriptions():
    """Every format code and some units; any octets; any length."""
    number = {SFLOAT, FLOAT, *UNSIGNED, *SIGNED}
    for code in range(0x100):
        for unit in (*UNITS, *OTHER_UNITS):
            value = struct.pack('<BbHBH', code, -3, unit, 1, 0)
            is_mass = code in number and unit in UNITS
            checks.add(
                f'presentation {value.hex()}',
                f'{code} -3 {unit} 1 0 {"mass" if is_mass else "other"}',
            )
            if not is_mass:
                checks.add(
                    f'described {value.hex()} {"01" * 16}', 'refused unit or format not supported'
                )
    for _ in range(5000):
        value = chance.randbytes(7)
        code, exponent, unit, space, description = struct.unpack('<BbHBH', value)
        is_mass = code in number and unit in UNITS
        checks.add(
            f'presentation {value.hex()}',
            f'{code} {exponent} {unit} {space} {description} {"mass" if is_mass else "other"}',
        )
    for n in (*range(7), *range(8, 20)):
        checks.add(f'presentation {chance.randbytes(n).hex()}', 'refused')


check_medfloats()
check_integers()
check_descriptions()
checks.finish()
