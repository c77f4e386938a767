# SPDX-License-Identifier: MIT
"""
Assignments of least cost against SciPy's linear_sum_assignment (a modified Jonker-Volgenant
algorithm; Crouse 2016, IEEE Trans Aerosp Electron Syst 52:1679), square and wide, up to a litter
of 24; with ties too.
"""
import random
import sys

from told import Checks

try:
    from scipy.optimize import linear_sum_assignment
except ImportError:
    print('no SciPy here')
    sys.exit(77)

LARGEST = 24
chance = random.Random(20261125)
checks = Checks()


def check(n, m, draw):
    costs = [[draw() for _ in range(m)] for _ in range(n)]
    rows, columns = linear_sum_assignment(costs)
    least = sum(costs[i][j] for i, j in zip(rows, columns))
    checks.add(f'assign {n} {m} {",".join(str(c) for row in costs for c in row)}', str(least))


for turn in range(3000):
    n = chance.randint(1, LARGEST)
    m = n if turn % 2 else chance.randint(n, LARGEST)
    check(n, m, lambda: chance.randint(-99999, 99999))
    check(n, m, lambda: chance.randint(-3, 3))
    check(n, m, lambda: int(1000 * chance.expovariate(0.2)))
checks.finish()
