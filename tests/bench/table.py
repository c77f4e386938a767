# SPDX-License-Identifier: MIT
"""The one table of tests/bench/run: bismard, the floor and the script beside each other, with what is expected of the ratios."""
import math
import statistics


def slope(points):
    """Of the straight line through the logarithms (least squares): 0 is flat, 1 grows as its cause does."""
    xs, ys = [math.log(x) for x, _ in points], [math.log(y) for _, y in points]
    x0, y0 = statistics.mean(xs), statistics.mean(ys)
    return sum((x - x0) * (y - y0) for x, y in zip(xs, ys)) / sum((x - x0) ** 2 for x in xs)


def percentile_99(values):
    return statistics.quantiles(values, n=100, method="inclusive")[98]


def figure(value):
    if value is None:
        return "-"
    return "%.2f" % value if value < 1000 else "%.0f" % value


def ratio(ours, other, expect):
    """As text, marked when it is more than it should be."""
    if ours is None or not other:
        return "-", True
    met = expect is None or ours / other <= expect
    return "%.2f%s" % (ours / other, "" if met else " over"), met


class Table:
    def __init__(self, sizes):
        self.sizes, self.missed, self.curves = sizes, [], {}

    def head(self, title):
        print("\n%-50s %10s %10s %10s %-5s %11s %11s  %s" %
              (title, "bismard", "floor", "script", "", "to floor", "to script", "expected"), flush=True)

    def row(self, what, ours, floor=None, script=None, unit="", floor_most=None, script_most=None):
        """ours may be at most so many times the floor's, and the script's."""
        to_floor, floor_met = ratio(ours, floor, floor_most)
        to_script, script_met = ratio(ours, script, script_most)
        wish = ["at most %.3g of the %s" % (most, name) for most, name in ((floor_most, "floor"), (script_most, "script")) if most]
        if not floor_met or not script_met:
            self.missed.append(what)
        print("%-50s %10s %10s %10s %-5s %11s %11s  %s" % (what, figure(ours), figure(floor), figure(script), unit, to_floor,
                                                           to_script, ", ".join(wish)), flush=True)

    def sizes_head(self):
        print("\n%-50s" % "with so many readings on record" + "".join(" %9d" % n for n in self.sizes) + " %7s  expected" % "slope", flush=True)

    def sizes_row(self, what, values, unit, most=None):
        """How it grows with the readings; most: of the slope."""
        s = slope(list(zip(self.sizes, values)))
        over = most is not None and s > most
        if over:
            self.missed.append(what)
        self.curves["%s, %s" % (what, unit)] = values
        print("%-50s" % ("%s, %s" % (what, unit)) + "".join(" %9s" % figure(v) for v in values) +
              " %7.3f%s" % (s, " over" if over else "") + ("  slope at most %g" % most if most is not None else ""), flush=True)

    def foot(self):
        print("\nexpectations missed: " + ("; ".join(self.missed) if self.missed else "none"))
