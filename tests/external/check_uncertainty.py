# SPDX-License-Identifier: MIT
"""
The uncertainty of a reading against JCGM 100:2008: a rectangular distribution of half-width a has u
= a / sqrt(3) (4.3.7), so a step d with a = d/2 has d / sqrt(12), about 0.29 d (F.2.2.1, from memory);
independent parts add in squares (5.1.2). And against the same without the formula: Python's
statistics over the errors that rounding really makes.

The project rounds up, so that no uncertainty is stated too small: by less than a milligram for each
part.
"""
import math
import random
import statistics
import sys
from fractions import Fraction

from told import Checks, ask

chance = random.Random(20261125)
POINTS = 4000


def root_up(x):
    """The smallest integer whose square is at least x."""
    root = math.isqrt(math.ceil(x))
    return root if root * root >= x else root + 1


def rounding_errors(step, points):
    """Of evenly spread true masses over one step: shown minus true."""
    for i in range(points):
        true = step * (2 * i + 1) / (2 * points)
        yield (step if true >= step / 2 else 0) - true


def check_formula():
    checks = Checks()
    for d in [
        *range(1, 2001),
        4536,
        5000,
        10000,
        45359,
        *(chance.randrange(1, 10**9) for _ in range(5000)),
    ]:
        a = Fraction(d, 2)
        checks.add(f'step-u {d}', str(root_up(a * a / 3)))
    wrong = checks.differences()
    for request, expected, told in wrong[:10]:
        print(f'{request}: expected {expected[0]}, told {told}')
    return len(wrong)


def between(name, told, low):
    """told is the reference, rounded up: once, or three times where parts are put together."""
    if low <= told <= low + 2.5:
        return 0
    print(f'{name}: the reference is {low:.2f}, told {told}')
    return 1


def check_simulated():
    steps = (1000, 4536, 5000, 10000, 50000, 100000)
    wrong = 0
    for step, told in zip(steps, ask([f'step-u {s}' for s in steps])):
        # over POINTS places the spread is short of the whole by 1 / (2 * POINTS^2) of it
        wrong += between(
            f'rounding to {step}', int(told), statistics.pstdev(rounding_errors(step, POINTS))
        )
    return wrong


def check_net_simulated():
    """
    Gross and tare are rounded independently: every error of one meets every error of the other.
    """
    steps = (1000, 4536, 5000, 10000)
    wrong = 0
    for step in steps:
        errors = list(rounding_errors(step, 200))
        spread = statistics.pstdev(gross - tare for gross in errors for tare in errors)
        tare_u = int(ask([f'step-u {step}'])[0])
        net, u = ask([f'net {700 * step} {step} {400 * step} {tare_u}'])[0].split()
        wrong += int(net) != 300 * step
        # over 200 places the spread is short of the whole by 1 / 80000 of it, 0.05 mg of 10 g's
        wrong += between(f'net with steps of {step}', int(u), spread)
    return wrong


def check_net_formula():
    cases = [(chance.randrange(1, 100000), chance.randrange(100000)) for _ in range(5000)]
    told = ask([f'net 700000 {step} 400000 {u}' for step, u in cases])
    return sum(
        between(
            f'net, step {step}, tare u {u}', int(t.split()[1]), math.sqrt(step * step / 12 + u * u)
        )
        for (step, u), t in zip(cases, told)
    )


differ = check_formula() + check_simulated() + check_net_simulated() + check_net_formula()
print(f'{differ} differ')
sys.exit(1 if differ else 0)
