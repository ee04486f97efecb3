"""Holds the lines of the bench `accuracy` against mpmath at 50 digits. See accuracy.rs.

Source: mpmath (https://mpmath.org), LU of the 22 equations of the voice, written out here from the table alone.
"""

import re
import struct
import sys
from pathlib import Path

from mpmath import mp, mpc, mpf, matrix, lu_solve, pi, sqrt

mp.dps = 50
HERE = Path(__file__).parent
TEXT = (HERE / "workload.rs").read_text(encoding="utf-8")


def table(name):
    body = re.search(r"const " + name + r": \[.*?=\s*\[(.*?)\];", TEXT, re.S).group(1)
    return re.findall(r'\("(\w+)", "(\w+)"', body)


RESISTORS, CAPACITORS, INDUCTORS = (table(name) for name in ("RESISTORS", "CAPACITORS", "INDUCTORS"))
COUPLINGS = [(0, 1), (2, 3)]
NAMES = sorted({n for pair in RESISTORS + CAPACITORS + INDUCTORS for n in pair} - {"0"})
AT = {name: i for i, name in enumerate(NAMES)}
BRANCHES = INDUCTORS + [("w1", "bus"), ("w2", "bus")]


def number(text):
    return struct.unpack(">d", bytes.fromhex(text))[0]


def transfers(values, f):
    """From the four sources, each in series with its inductor, to the jack."""
    values = iter(values)
    short = [(a, b) for a, b in RESISTORS]
    size = len(NAMES) + len(BRANCHES) + len(RESISTORS)
    m = matrix(size, size)
    jw = mpc(0, 2 * pi * mpf(f))
    extra = len(NAMES) + len(BRANCHES)

    def across(row, a, b):
        for node, sign in ((a, 1), (b, -1)):
            if node != "0":
                m[AT[node], row] += sign
                m[row, AT[node]] += sign

    for i, (a, b) in enumerate(short):  # with a current each, so that 0 ohms are as good as any
        across(extra + i, a, b)
        m[extra + i, extra + i] -= mpf(next(values))
    for a, b in CAPACITORS:
        y = jw * mpf(next(values))
        for x in (a, b):
            if x != "0":
                m[AT[x], AT[x]] += y
        if "0" not in (a, b):
            m[AT[a], AT[b]] -= y
            m[AT[b], AT[a]] -= y
    for i, (a, b) in enumerate(BRANCHES):
        across(len(NAMES) + i, a, b)
    inductances = [mpf(next(values)) for _ in INDUCTORS]
    for i, l in enumerate(inductances):
        m[len(NAMES) + i, len(NAMES) + i] -= jw * l
    for a, b in COUPLINGS:
        mutual = jw * mpf(next(values)) * sqrt(inductances[a] * inductances[b])
        m[len(NAMES) + a, len(NAMES) + b] -= mutual
        m[len(NAMES) + b, len(NAMES) + a] -= mutual
    right = matrix(size, 1)
    right[AT["jack"]] = 1
    solution = lu_solve_complex(m, right)
    return [solution[len(NAMES) + i] for i in range(4)]


def lu_solve_complex(m, right):
    """Gaussian elimination with partial pivoting on rows of non-zeros: the matrix is sparse."""
    n = m.rows
    rows = [{j: m[i, j] for j in range(n) if m[i, j] != 0} for i in range(n)]
    b = [right[i] for i in range(n)]
    order = []
    left = set(range(n))
    for col in range(n):
        candidates = [r for r in left if rows[r].get(col, 0) != 0]
        largest = max(abs(rows[r][col]) for r in candidates)
        pivot = min((r for r in candidates if abs(rows[r][col]) > largest / 1000), key=lambda r: len(rows[r]))
        left.remove(pivot)
        order.append(pivot)
        for r in left:
            if col in rows[r]:
                factor = rows[r].pop(col) / rows[pivot][col]
                for j, v in rows[pivot].items():
                    if j != col:
                        rows[r][j] = rows[r].get(j, mpf(0)) - factor * v
                b[r] -= factor * b[pivot]
    x = [mpf(0)] * n
    for col in reversed(range(n)):
        r = order[col]
        x[col] = (b[r] - sum(v * x[j] for j, v in rows[r].items() if j > col)) / rows[r][col]
    return x


def main():
    worst = {}
    relative = {}
    broken_bounds = 0
    copies = 0
    for line in sys.stdin:
        words = line.split()
        if not words or words[0] not in ("Rational", "Tape", "Pointwise"):
            continue
        copies += 1
        method, numbers = words[0], [number(word) for word in words[1:]]
        bounds, largest = numbers[:4], numbers[4:8]
        count = len(RESISTORS) + len(CAPACITORS) + len(INDUCTORS) + len(COUPLINGS)
        values, rest = numbers[8 : 8 + count], numbers[8 + count :]
        for at in range(0, len(rest), 9):
            f, parts = rest[at], rest[at + 1 : at + 9]
            for j, exact in enumerate(transfers(values, f)):
                found = mpc(parts[2 * j], parts[2 * j + 1])
                error = float(abs(found - exact))
                if largest[j] == 0:
                    assert error == 0, "an exact zero"
                    continue
                worst[method] = max(worst.get(method, 0), error / largest[j])
                if abs(exact) > 1e-6 * largest[j]:
                    relative[method] = max(relative.get(method, 0), error / float(abs(exact)))
                if method == "Rational" and error > bounds[j] * largest[j]:
                    broken_bounds += 1
    print(f"{copies} copies against mpmath at {mp.dps} digits")
    for method in sorted(worst):
        print(f"{method}: {worst[method]:.1e} of the largest response; {relative[method]:.1e} relative, where above 1e-6 of it")
    print(f"rational bounds exceeded: {broken_bounds}")
    if max(worst.values()) > 1e-10 or max(relative.values()) > 1e-7 or broken_bounds:
        sys.exit(1)


main()
