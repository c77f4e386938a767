# SPDX-License-Identifier: MIT
"""The curves of the table, each relative to its own value with the fewest readings, drawn by gnuplot."""
import shutil
import subprocess


def draw(table, path):
    if not shutil.which("gnuplot"):
        print("no plot: gnuplot isn't there (package gnuplot-nox)")
        return
    terminal = "png size 1000,700" if path.endswith(".png") else "svg size 1000,700"
    lines = ["set terminal " + terminal, 'set output "%s"' % path, "set logscale xy", 'set xlabel "readings on record"',
             'set ylabel "times what it is with %d"' % table.sizes[0], "set key outside", "$curves << EOD"]
    for i, n in enumerate(table.sizes):
        lines.append(" ".join([str(n)] + ["%g" % (values[i] / values[0]) for values in table.curves.values()]))
    lines.append("EOD")
    lines.append("plot " + ", ".join('$curves using 1:%d with linespoints title "%s"' % (i + 2, what)
                                     for i, what in enumerate(table.curves)))
    subprocess.run(["gnuplot"], input="\n".join(lines) + "\n", text=True, check=True)
    print("plot: " + path)
