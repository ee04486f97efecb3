"""Poles of SciPy's analogue prototypes, and the ladders that have them: writes filters.csv.

SciPy 1.17.1: scipy.signal.butter(n, 1, analog=True, output="zpk"), cheby1(n, 0.5, 1, ...), bessel(n, 1, ..., norm="phase"), n = 2 ... 7.
The elements are the continued fraction of the even and odd parts of the denominator, in 40 digits: an LC ladder between an ideal voltage
source and 1 ohm (Darlington; any textbook of synthesis), the element next to the source first, which is an inductor in series.

Columns: family, order, elements (H, F, H ...), poles as re:im (rad/s).
"""

import csv
import pathlib

import mpmath
import scipy.signal

assert scipy.__version__ == "1.17.1", scipy.__version__
mpmath.mp.dps = 40

FAMILIES = {
    "butterworth": lambda n: scipy.signal.butter(n, 1, analog=True, output="zpk"),
    "chebyshev 0.5 dB": lambda n: scipy.signal.cheby1(n, 0.5, 1, analog=True, output="zpk"),
    "bessel": lambda n: scipy.signal.bessel(n, 1, analog=True, output="zpk", norm="phase"),
}


def polynomial(poles):
    """Coefficients, highest power first."""
    p = [mpmath.mpc(1)]
    for pole in poles:
        shifted = [c * -mpmath.mpc(pole.real, pole.imag) for c in p]
        p = [a + b for a, b in zip(p + [0], [0] + shifted)]
    return [c.real for c in p]


def elements(p):
    n = len(p) - 1
    top = [c if k % 2 == 0 else mpmath.mpf(0) for k, c in enumerate(p)]
    low = [c if k % 2 == 1 else mpmath.mpf(0) for k, c in enumerate(p)][1:]
    found = []
    while len(found) < n:
        g = top[0] / low[0]
        found.append(float(g))
        rest = [a - g * b for a, b in zip(top, low + [mpmath.mpf(0)])][2:]
        top, low = low, rest
    return found[::-1]


with open(pathlib.Path(__file__).with_name("filters.csv"), "w", newline="") as file:
    out = csv.writer(file, lineterminator="\n")
    for family, design in FAMILIES.items():
        for n in range(2, 8):
            poles = design(n)[1]
            ladder = " ".join(repr(g) for g in elements(polynomial(poles)))
            out.writerow([family, n, ladder, " ".join(f"{float(p.real)!r}:{float(p.imag)!r}" for p in poles)])
