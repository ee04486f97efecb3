"""What readings of a lone coil make of its values: golden/readings.csv.

Forward model in mpmath at 50 digits: Y = 1/(R + P·jωL/(P + jωL)) + jωC. Each inverse problem is solved by root search on that
model with numerical derivatives (mp.findroot, mp.diff); no formula of the Rust crates is used. Readings are rounded as a bench
gives them. `--check` recomputes and compares to 1e-12.
"""
import csv
import io
import sys
from pathlib import Path

import mpmath as mp

GOLDEN = Path(__file__).resolve().parent / "golden" / "readings.csv"
mp.mp.dps = 50


def branch(w, r, l, p):
    """R and the inductance with its loss: None, ohms, or a chain of (share, ohms)."""
    part = lambda x, p: x if p is None else x * p / (x + p)
    x = mp.mpc(0, w) * l
    return r + (sum(part(x * s, ohms) for s, ohms in p) if isinstance(p, list) else part(x, p))


def admittance(w, r, l, p, c):
    return 1 / branch(w, r, l, p) + mp.mpc(0, w) * c


def shown(w, r, l, p, c, mode):
    y = admittance(w, r, l, p, c)
    return mp.im(1 / y) / w if mode == "series" else -1 / (w * mp.im(y))


def quality(w, r, l, p, c):
    z = 1 / admittance(w, r, l, p, c)
    return mp.im(z) / mp.re(z)


def magnitude(w, of, r, l, p, c, load_c, load_r):
    """ln|Z| or ln|H| with the load."""
    z = branch(w, r, l, p)
    hung = mp.mpc(0, w) * (c + load_c) + (0 if load_r is None else 1 / load_r)
    return mp.log(abs(1 / (1 / z + hung) if of == "impedance" else 1 / (1 + z * hung)))


def peak_slope(w, *rest):
    return mp.diff(lambda u: magnitude(u, *rest), w) * w


def capacitance(f, of, r, l, p, load_c, load_r):
    """Winding capacitance with the peak at f, searched from that of a loss-free coil."""
    w = 2 * mp.pi * f
    start = 1 / (w * w * l) - load_c
    c = mp.findroot(lambda c: peak_slope(w, of, r, l, p, c, load_c, load_r), (start, start * mp.mpf("0.98")))
    assert magnitude(w, of, r, l, p, c, load_c, load_r) > magnitude(w * 1.01, of, r, l, p, c, load_c, load_r)
    assert magnitude(w, of, r, l, p, c, load_c, load_r) > magnitude(w / 1.01, of, r, l, p, c, load_c, load_r)
    return c


def settle(r, inductance, loss, c):
    """L, loss and C of a coil of which each is a value or a tuple of what was read.

    inductance: henries or (shown, f, mode); loss: l → what branch() takes, or (q, f); c: farads or (f, of, load_c, load_r).
    """
    m = lambda v: None if v is None else mp.mpf(v)

    def with_loss(c, p_of):
        if not isinstance(inductance, tuple):
            l = m(inductance)
            return l, p_of(l)
        shown_l, f, mode = inductance
        w = 2 * mp.pi * m(f)
        off = lambda l: shown(w, m(r), l, p_of(l), c, mode) - m(shown_l)
        # In parallel mode X and about R²/X read alike: the start is on the side where coils are.
        start = m(shown_l) if mode == "series" else mp.mpf("0.45e-3") * m(r)
        l = mp.findroot(off, (start, start * mp.mpf("1.01")))
        return l, p_of(l)

    def inductive(c):
        if callable(loss):
            return with_loss(c, loss)
        q, f = loss
        w = 2 * mp.pi * m(f)
        def off(u):
            l, p = with_loss(c, lambda l: mp.exp(u))
            return quality(w, m(r), l, p, c) - m(q)
        u = mp.findroot(off, (mp.log(400e3), mp.log(450e3)))
        return with_loss(c, lambda l: mp.exp(u))

    if not isinstance(c, tuple):
        return (*inductive(m(c)), m(c))
    f, of, load_c, load_r = c
    w = 2 * mp.pi * m(f)
    def off(v):
        l, p = inductive(mp.exp(v))
        return peak_slope(w, of, m(r), l, p, mp.exp(v), m(load_c), m(load_r))
    l, _ = inductive(m("100e-12"))
    start = mp.log(1 / (w * w * l) - m(load_c))
    v = mp.findroot(off, (start, start - mp.mpf("0.01")))
    return (*inductive(mp.exp(v)), mp.exp(v))


def rows():
    m = mp.mpf
    # A peak → C.
    for of in ("impedance", "response"):
        for r, l, p, f, load_c, load_r in [
            ("6500", "2.8", "840e3", "8700", "0", None),
            ("6500", "2.8", "840e3", "4100", "390e-12", "1e6"),
            ("4000", "2.2", "308e3", "10200", "12e-12", "10e6"),
            ("8200", "4.4", "154e3", "6100", "0", None),
            ("5800", "2.1", None, "9600", "15e-12", None),
            ("7300", "3.1", "930e3", "3300", "560e-12", "250e3"),
        ]:
            p_, lr = p and m(p), load_r and m(load_r)
            c = capacitance(m(f), of, m(r), m(l), p_, m(load_c), lr)
            yield ["peak", of, r, l, p or "", "", f, load_c, load_r or "", "", "", l, p or "", c]
    # Inductance as shown, loss known → L.
    for r, shown_l, mode, f, p, c in [
        ("6500", "2.85", "series", "1000", "840e3", "120e-12"),
        ("6500", "2.8", "series", "120", "840e3", "120e-12"),
        ("6500", "3.2", "parallel", "1000", "840e3", "120e-12"),
        ("6500", "25", "parallel", "120", "840e3", "120e-12"),
        ("4000", "2.1", "series", "1000", "77e3", "90e-12"),
    ]:
        w = 2 * mp.pi * m(f)
        guess = m("2.8") if mode == "parallel" else m(shown_l)
        l = mp.findroot(lambda l: shown(w, m(r), l, m(p), m(c), mode) - m(shown_l), guess)
        yield ["inductance", mode, r, shown_l, p, c, f, "", "", "", "", l, p, c]
    # Inductance as shown and Q → L and loss. L is shown at f, Q at fq.
    for r, shown_l, mode, f, q, fq, c in [
        ("6500", "3.0", "series", "10000", "2.4", "10000", "60e-12"),
        ("6500", "2.85", "series", "1000", "3.1", "10000", "60e-12"),
        ("4000", "2.2", "series", "1000", "1.9", "10000", "40e-12"),
        ("4000", "2.9", "parallel", "10000", "1.4", "10000", "40e-12"),
        ("7800", "4.1", "series", "1000", "2.6", "5000", "110e-12"),
    ]:
        w, wq = 2 * mp.pi * m(f), 2 * mp.pi * m(fq)
        both = lambda l, u: [shown(w, m(r), l, mp.exp(u), m(c), mode) - m(shown_l), quality(wq, m(r), l, mp.exp(u), m(c)) - m(q)]
        l, u = mp.findroot(both, (m(shown_l) * (1 if mode == "series" else m("0.7")), mp.log(m("400e3"))))
        yield ["quality", mode, r, shown_l, "", c, f, "", "", q, fq, l, mp.exp(u), c]
    # All three read: L in series at 1 kHz, Q at 10 kHz, the peak of |Z|.
    for r, shown_l, q, of, f, load_c, load_r in [
        ("6500", "2.85", "3.4", "impedance", "8700", "0", None),
        ("4000", "2.2", "2.6", "response", "4300", "470e-12", "1e6"),
    ]:
        w, wq = 2 * mp.pi * 1000, 2 * mp.pi * 5000
        wf = 2 * mp.pi * m(f)

        def meter(c):
            both = lambda l, u: [shown(w, m(r), l, mp.exp(u), c, "series") - m(shown_l), quality(wq, m(r), l, mp.exp(u), c) - m(q)]
            return mp.findroot(both, (m(shown_l), mp.log(m("500e3"))))

        def off_peak(v):
            l, u = meter(mp.exp(v))
            return peak_slope(wf, of, m(r), l, mp.exp(u), mp.exp(v), m(load_c), load_r and m(load_r))

        v = mp.findroot(off_peak, (mp.log(m("100e-12")), mp.log(m("110e-12"))))
        l, u = meter(mp.exp(v))
        yield ["all", of, r, shown_l, "", "", f, load_c, load_r or "", q, "5000", l, mp.exp(u), mp.exp(v)]


HEAD = """# What readings of a lone coil make of its values: made by readings.py in mpmath at 50 digits, from its own forward model.
# peak: the capacitance (last column) that puts the greatest |Z| or |output| at f with the load; L and loss known.
# inductance: L as shown at f in series or parallel mode, loss and C known; quality: the same and Q at fq, loss unknown; all: L as
# shown at 1 kHz in series mode, Q at fq and the peak at f, nothing else known.
# Tolerance 1e-9 relative.
"""


def made():
    out = io.StringIO(newline="")
    out.write(HEAD)
    write = csv.writer(out, lineterminator="\n").writerow
    write("what,of,r_ohm,l_henry,loss_ohm,c_farad,f_hz,load_c_farad,load_r_ohm,q,fq_hz,settled_l_henry,settled_loss_ohm,settled_c_farad".split(","))
    for row in rows():
        write([v if isinstance(v, str) else mp.nstr(v, 15) for v in row])
    return out.getvalue()


def main():
    text = made()
    if "--check" not in sys.argv[1:]:
        GOLDEN.write_text(text, encoding="utf-8")
        return 0
    old = GOLDEN.read_text(encoding="utf-8").splitlines()
    for a, b in zip(old, text.splitlines(), strict=True):
        for x, y in zip(a.split(","), b.split(","), strict=True):
            if x != y and abs(float(x) / float(y) - 1) > 1e-12:
                print(f"differs: {x} {y} in {b}")
                return 1
    print("readings agree")
    return 0


if __name__ == "__main__":
    sys.exit(main())
