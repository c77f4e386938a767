# SPDX-License-Identifier: MIT
"""
The pound and the ounce against GNU Units, which keeps its own table (Debian package units; second
argument: the program). Its definitions must be the exact ones; its arithmetic is double precision,
so products may differ by that.
"""
import os
import random
import subprocess
import sys

from told import Checks, ask


def units(have, want):
    run = subprocess.run(
        [sys.argv[2], '-o', '%.17g', '-t', have, want],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, 'LC_ALL': 'C', 'UNITS_SYSTEM': 'si'},
    )
    return float(run.stdout)


def main():
    if len(sys.argv) < 3:
        print('GNU Units is not installed')
        sys.exit(77)  # meson: skipped
    if units('1 lb', 'g') != 453.59237 or units('1 oz', 'g') != 28.349523125:
        sys.exit('GNU Units has another pound or ounce')
    chance = random.Random(20261125)
    asked = []
    for name in ('kg', 'g', 'lb', 'oz'):
        for exponent in (0, -1, -2, -3):
            asked += [
                (chance.randrange(1, 10 ** chance.randrange(1, 6)), exponent, name)
                for _ in range(4)
            ]
    asked = [
        (m, e, u)
        for m, e, u in asked
        if not (u == 'kg' and m * 10.0**e > 1000) and not m * 10.0**e > 2000
    ]
    wrong = 0
    for (mantissa, exponent, name), told in zip(
        asked, ask([f'decimal {m} {e} {u}' for m, e, u in asked])
    ):
        reference = units(f'{mantissa}e{exponent} {name}', 'mg')
        if abs(int(told) - reference) > 0.5 + reference * 1e-14:
            wrong += 1
            print(f'{mantissa}e{exponent} {name}: units says {reference!r} mg, told {told}')
    print(f'{len(asked)} products checked, {wrong} differ')
    if wrong:
        sys.exit(1)
    checks = Checks()
    checks.add('mass 1lb', f'ok {units("1 lb", "mg"):.0f} {units("1 lb", "mg"):.0f}')
    checks.add('mass 1oz', f'ok {units("1 oz", "mg"):.0f} {units("1 oz", "mg"):.0f}')
    checks.add('2a9d 01e803', f'{units("10 lb", "mg"):.0f} {units("0.01 lb", "mg"):.0f} lb')
    checks.finish()


main()
