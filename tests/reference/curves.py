"""What is done with a curve over frequency: all stationary points, crossings, integrals over ln f."""
import numpy as np
from scipy.optimize import brentq

POINTS = 200  # per octave, before the natural frequencies are added
ORDER = 20  # Gauss–Legendre nodes per panel
NODES, WEIGHTS = np.polynomial.legendre.leggauss(ORDER)


def grid(lo, hi, natural):
    n = int(np.ceil(np.log2(hi / lo) * POINTS)) + 1
    points = [np.geomspace(lo, hi, n)]
    for s in natural:
        f0, half = abs(s.imag) / (2 * np.pi), abs(s.real) / (2 * np.pi)
        points.append([abs(s) / (2 * np.pi), f0, f0 - half, f0 + half])
    f = np.unique(np.concatenate(points))
    f = f[(f > lo) & (f < hi)]
    return np.concatenate([[lo], f, [hi]])


class Curve:
    """A positive curve p(f) on [lo, hi] with its stationary points. `evaluate(f)` gives p and dp/d ln f."""

    def __init__(self, evaluate, lo, hi, natural):
        self.evaluate, self.lo, self.hi = evaluate, lo, hi
        f = grid(lo, hi, natural)
        p, slope = evaluate(f)
        self.peak = p.max()
        sign = np.where(np.abs(slope) <= 1e-11 * p, 0, np.sign(slope)).astype(int)
        for i in range(1, len(sign)):  # flat to rounding: keeps the direction that it had
            if sign[i] == 0:
                sign[i] = sign[i - 1]
        one = lambda x: float(evaluate(np.array([np.exp(x)]))[1][0])
        self.points = [(lo, float(p[0]), "edge")]
        for i in np.nonzero((sign[1:] * sign[:-1]) < 0)[0]:
            a, b = np.log(f[i]), np.log(f[i + 1])
            if one(a) * one(b) >= 0:  # flat to rounding at one end
                x = a if abs(slope[i]) < abs(slope[i + 1]) else b
            else:
                x = brentq(one, a, b, xtol=1e-15, rtol=1e-15, maxiter=200)
            value = float(evaluate(np.array([np.exp(x)]))[0][0])
            self.points.append((float(np.exp(x)), value, "max" if sign[i] > 0 else "min"))
        self.points.append((hi, float(p[-1]), "edge"))

    def crossing(self, a, b, target):
        """The frequency between a and b, where the curve is monotone, at which it is `target`."""
        one = lambda x: float(self.evaluate(np.array([np.exp(x)]))[0][0]) / target - 1
        if one(np.log(a)) * one(np.log(b)) > 0:  # an end that is the target but for rounding
            return min((a, b), key=lambda f: abs(one(np.log(f))))
        return float(np.exp(brentq(one, np.log(a), np.log(b), xtol=1e-15, rtol=1e-15, maxiter=200)))

    def maxima(self):
        return [i for i, q in enumerate(self.points) if q[2] == "max"]

    def prominence(self, i):
        """Ratio of the maximum to the higher of the two lowest points towards higher ground; None: both are nulls."""
        top, lows = self.points[i][1], []
        for side in (range(i - 1, -1, -1), range(i + 1, len(self.points))):
            low = np.inf
            for j in side:
                if self.points[j][1] > top:
                    break
                low = min(low, self.points[j][1])
            lows.append(low)
        base = max(lows)
        return None if base <= 1e-18 * self.peak else top / base

    def around(self, i, target):
        """Nearest crossings of `target` below and above maximum i, or None where a band edge or a higher peak is first."""
        out = []
        for side in (range(i - 1, -1, -1), range(i + 1, len(self.points))):
            found, last = None, i
            for j in side:
                if self.points[j][1] > self.points[i][1]:
                    break
                if self.points[j][1] <= target:
                    a, b = sorted((self.points[last][0], self.points[j][0]))
                    found = self.crossing(a, b, target)
                    break
                last = j
            out.append(found)
        return out

    def falls(self, target, above):
        """Frequencies above `above` at which the curve falls through `target`, rising."""
        out = []
        for (fa, pa, _), (fb, pb, _) in zip(self.points, self.points[1:]):
            if pa > target >= pb and fb > above:
                out.append(self.crossing(fa, fb, target))
        return [f for f in out if f > above]


def panels(lo, hi, cuts, natural):
    """Nodes and weights for integrals over ln f on [lo, hi], with panel edges at the cuts and graded at resonances."""
    edges = set(np.log([lo, hi, *cuts])) | set(np.linspace(np.log(lo), np.log(hi), 21))
    for s in natural:
        f0 = abs(s) / (2 * np.pi)
        if s.imag > 0 and f0 > 0:
            width = max(abs(s.real) / abs(s), 1e-5)
            step = width
            edges.add(np.log(f0))
            while step < 1:
                edges |= {np.log(f0) - step, np.log(f0) + step}
                step *= 3
    e = np.array(sorted(x for x in edges if np.log(lo) <= x <= np.log(hi)))
    keep = [e[0]]
    fixed = set(np.log([lo, hi, *cuts]))
    for x in e[1:]:
        if x - keep[-1] < 1e-7:
            if x in fixed:
                keep[-1] = x
            continue
        keep.append(x)
    e = np.array(keep)
    mid, half = (e[1:] + e[:-1]) / 2, (e[1:] - e[:-1]) / 2
    x = mid[:, None] + half[:, None] * NODES
    return np.exp(x).ravel(), (half[:, None] * WEIGHTS).ravel()


def a_weight(f):
    """IEC 61672-1, gain exactly 1 at 1 kHz."""
    f1, f2, f3, f4 = 20.598997, 107.65265, 737.86223, 12194.217
    r = lambda x: x**4 / ((x**2 + f1**2) * np.sqrt((x**2 + f2**2) * (x**2 + f3**2)) * (x**2 + f4**2))
    return r(np.asarray(f, float)) / r(1000.0)
