# SPDX-License-Identifier: MIT
"""The curves of the table, a panel a measure with bismard and what it is measured against in it, drawn by gnuplot."""
import shutil
import subprocess

WIDE, HIGH, ACROSS = 380, 260, 3  # a panel, and how many beside each other
LINES = {"bismard": "lw 2.5 lc rgb '#0b5394' pt 7", "floor": "lw 1.5 dt 2 lc rgb '#7f7f7f' pt 9", "script": "lw 1.5 dt 4 lc rgb '#b45f06' pt 5"}


def panels(curves):
    """Of each measure the values by program."""
    ret = {}
    for what, values in curves.items():
        program, measure = what.split(": ", 1)
        ret.setdefault(measure, {})[program] = values
    return ret


def draw(table, path):
    if not shutil.which("gnuplot"):
        print("no plot: gnuplot isn't there (package gnuplot-nox)")
        return
    measures = panels(table.curves)
    down = -(-len(measures) // ACROSS)
    lines = ["set terminal %s size %d,%d" % ("png" if path.endswith(".png") else "svg", ACROSS * WIDE, down * HIGH),
             'set output "%s"' % path, "set logscale x", "set format x '10^%T'", "set yrange [0:*]", "set key below horizontal samplen 2",
             "set grid ytics lc rgb '#dddddd'", "set multiplot layout %d,%d title 'by readings on record'" % (down, ACROSS)]
    for i, (measure, programs) in enumerate(measures.items()):
        lines.append("$of%d << EOD" % i)
        lines += [" ".join("%g" % value for value in row) for row in zip(table.sizes, *programs.values())]
        lines += ["EOD", 'set title "%s"' % measure]
        lines.append("plot " + ", ".join('$of%d using 1:%d with linespoints %s title "%s"' % (i, column + 2, LINES[program], program)
                                         for column, program in enumerate(programs)))
    lines.append("unset multiplot")
    subprocess.run(["gnuplot"], input="\n".join(lines) + "\n", text=True, check=True)
    print("plot: " + path)
