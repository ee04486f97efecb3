"""How good the reference itself is: its double-precision networks against the same equations at 50 digits, and its
integrals against scipy.integrate.quad. Prints the worst of each; exit 1 beyond the stated bounds.

    python accuracy.py [construct names]
"""
import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import sys

import numpy as np
from scipy.integrate import quad

from coils import Coils
from curves import a_weight
from figures import Voice
from golden import sources
from wiring import Harness

SAMPLE = ("tap-two-of-them", "loss-chain", "contact-resistance", "buffer-inside", "hanging", "loss-free", "bass-cut")


def worst(name, path):
    harness = Harness(path)
    coils, knobs = Coils(harness), harness.knobs()
    solve = integral = 0.0
    for _, _, throws in harness.positions()[:2]:
        v = Voice(harness, coils, throws, knobs)
        if v.dead:
            continue
        for f in (20.0, 1234.5, 20e3):
            exact, double = np.array(v.net.adjoint_mp(f, v.node)), v.net.adjoint([f], v.node)
            a, b = v.net.contributions(exact[None], "signal").sum(), v.net.contributions(double, "signal").sum()
            if abs(a) > 1e-9:
                solve = max(solve, abs(a - b) / abs(a))
            na, nb = v.net.noise_density(exact[None])[0], v.net.noise_density(double)[0]
            solve = max(solve, abs(na - nb) / na)
        got = v.figures()
        if got["level_db"] is None:
            continue
        at = lambda f: v.contributions([f])[0].sum()
        cuts = sorted(x for x in (np.log(abs(s) / (2 * np.pi)) for s in v.poles if abs(s.imag) > 0) if np.log(20) < x < np.log(20e3))
        whole = lambda g, lo, hi: quad(g, np.log(lo), np.log(hi), epsabs=0, epsrel=1e-11, limit=2000,
                                       points=[c for c in cuts if np.log(lo) < c < np.log(hi)] or None)[0]
        power = lambda x: abs(at(np.exp(x))) ** 2
        level = 10 * np.log10(whole(power, 80, 6000) / np.log(6000 / 80))
        density = lambda x: v.net.noise_density(v.net.adjoint([np.exp(x)], v.node))[0] * np.exp(x)
        flat, weighted = whole(density, 20, 20e3), whole(lambda x: density(x) * a_weight(np.exp(x)) ** 2, 20, 20e3)
        integral = max(integral, abs(level - got["level_db"]), abs(flat / got["noise_total_v"] ** 2 - 1),
                       abs(weighted / got["noise_total_a_v"] ** 2 - 1))
    return solve, integral


def main(names):
    bad = False
    for name in names or SAMPLE:
        solve, integral = worst(name, sources()[name])
        bad |= solve > 1e-10 or integral > 1e-9
        print(f"{name:28} solve {solve:.1e} relative   integrals {integral:.1e} (dB, relative)")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
