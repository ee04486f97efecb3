"""Closed forms and tables for unit tests: golden/published.json and golden/published.csv.

Closed forms are evaluated in mpmath at 50 digits and written as doubles; filter responses also go through scipy.signal and
must agree. `--check` recomputes and compares to 1e-12.
"""
import csv
import io
import json
import math
import sys
from pathlib import Path

import mpmath as mp
import numpy as np
import scipy
from scipy import signal

from layout import laid_out

GOLDEN = Path(__file__).resolve().parent / "golden"
mp.mp.dps = 50
TABLES = {}
W = ["0.1", "0.2", "0.5", "0.8", "0.95", "1", "1.05", "1.25", "2", "3", "5", "10"]  # rad/s, for ladders of 1 Ω


def table(name, source, columns, rows, tolerance):
    TABLES[name] = {"source": source, "columns": columns, "tolerance": tolerance,
                    "rows": [[v if isinstance(v, (str, int)) or v is None else float(v) for v in r] for r in rows]}


db = lambda x: 20 * mp.log10(x)


def loaded_pickup():
    L, R, C = mp.mpf("2.5"), mp.mpf(6000), mp.mpf("500e-12")
    rows, curve = [], []
    for rp in ("62.5e3", "125e3", "250e3", "500e3", "1e6", None):
        g = 1 / mp.mpf(rp) if rp else mp.mpf(0)
        k = 1 + R * g
        w0, q = mp.sqrt(k / (L * C)), mp.sqrt(L * C * k) / (L * g + R * C)
        rows.append([rp and float(rp), w0 / (2 * mp.pi), q, w0 * mp.sqrt(1 - 1 / (2 * q * q)) / (2 * mp.pi),
                     db(q / mp.sqrt(1 - 1 / (4 * q * q)) / k)])
        for f in (100, 1000, 3000, 4500, 10000):
            w = 2 * mp.pi * f
            h = 1 / mp.mpc(k - w * w * L * C, w * (L * g + R * C))
            curve.append([rp and float(rp), f, h.real, h.imag])
    note = "L = 2.5 H, R = 6 kΩ in series, C = 500 pF and Rp across the output; H = 1/[(1+R/Rp) − ω²LC + jω(L/Rp+RC)]"
    table("loaded_pickup", note + "; algebra of a second-order low-pass", ["rp_ohm", "f0_hz", "q", "peak_hz", "peak_db"], rows, "1e-9 relative")
    table("loaded_pickup_response", note, ["rp_ohm", "f_hz", "re", "im"], curve, "1e-9 relative")


def ladder(g, source, load, shunt_first, w):
    """Output voltage per volt of the source, by the ABCD chain."""
    a = mp.matrix([[1, mp.mpf(source)], [0, 1]])
    for i, value in enumerate(g):
        s = mp.mpc(0, w) * value
        a = a * (mp.matrix([[1, 0], [s, 1]]) if (i % 2 == 0) == shunt_first else mp.matrix([[1, s], [0, 1]]))
    if load is None:
        return 1 / a[0, 0]
    return 1 / (a[0, 0] + a[0, 1] / load)


def hold(name, a, b, limit):
    if abs(a - b) > limit:
        raise SystemExit(f"{name}: {a} against {b}")


def butterworth():
    elements, response = [], []
    for n in range(2, 8):
        g = [2 * mp.sin((2 * k - 1) * mp.pi / (2 * n)) for k in range(1, n + 1)]
        a = [mp.sin((2 * i - 1) * mp.pi / (2 * n)) for i in range(1, n + 1)]
        c = [mp.cos(i * mp.pi / (2 * n)) ** 2 for i in range(1, n + 1)]
        one = [a[0]]
        for i in range(1, n):
            one.append(a[i] * a[i - 1] / (c[i - 1] * one[-1]))
        one.reverse()  # ideal source, series inductor first, the load 1 Ω at the end
        elements += [[n, i + 1, g[i], one[i]] for i in range(n)]
        poles = signal.buttap(n)
        for w in map(mp.mpf, W):
            want = -10 * mp.log10(1 + w ** (2 * n))
            hold("butterworth", db(2 * abs(ladder(g, 1, 1, True, w))), want, 1e-9)
            hold("butterworth", db(2 * abs(ladder(g, 1, 1, False, w))), want, 1e-9)
            hold("one resistor", db(abs(ladder(one, 0, 1, False, w))), want, 1e-9)
            h = signal.freqs_zpk(*poles, [float(w)])[1][0]
            hold("scipy butter", 20 * math.log10(abs(h)), float(want), 1e-9)
            response.append([n, w, want])
    table("butterworth_elements", "g_k = 2 sin((2k−1)π/2n) between two 1 Ω resistors; one resistor: a_i, c_i recursion, ideal source, series inductor first, 1 Ω load "
          "(textbook prototypes; checked here by the ABCD chain)", ["n", "k", "g_two_resistors", "g_one_resistor"], elements, "1e-12 relative")
    table("butterworth_response", "|2V/E|² (two resistors) or |V/E|² (one) = 1/(1+ω^2n); agrees with scipy.signal.buttap", ["n", "w_rad_s", "db"], response, "1e-9 dB")


def chebyshev():
    elements, response = [], []
    for ripple in ("0.1", "0.5"):
        r = mp.mpf(ripple)
        eps2 = 10 ** (r / 10) - 1
        beta = mp.log(mp.coth(r * mp.log(10) / 40))
        for n in range(2, 8):
            gamma = mp.sinh(beta / (2 * n))
            a = [mp.sin((2 * k - 1) * mp.pi / (2 * n)) for k in range(1, n + 1)]
            b = [gamma**2 + mp.sin(k * mp.pi / n) ** 2 for k in range(1, n + 1)]
            g = [2 * a[0] / gamma]
            for k in range(1, n):
                g.append(4 * a[k - 1] * a[k] / (b[k - 1] * g[-1]))
            last = mp.coth(beta / 4) ** 2 if n % 2 == 0 else mp.mpf(1)
            load = 1 / last  # shunt first: an even ladder ends in a series element, so that g_{n+1} is a conductance
            elements += [[float(r), n, k + 1, g[k], load] for k in range(n)]
            zpk = signal.cheb1ap(n, float(r))
            for w in map(mp.mpf, W):
                t = mp.chebyt(n, w)
                want = -10 * mp.log10(1 + eps2 * t * t)
                h = ladder(g, 1, load, True, w)
                gain = 4 * abs(h) ** 2 / load
                hold(f"chebyshev {ripple} {n}", 10 * mp.log10(gain), want, 1e-9)
                shape = 20 * math.log10(abs(signal.freqs_zpk(*zpk, [float(w)])[1][0]))
                hold("scipy cheb1", shape, float(want), 1e-8)
                response.append([float(r), n, w, want, db(abs(h))])
    table("chebyshev_elements", "equal-ripple prototypes: β = ln coth(Lr·ln10/40), γ = sinh(β/2n), a_k, b_k; shunt capacitor first, source 1 Ω, load as listed "
          "(checked here by the ABCD chain; textbook)", ["ripple_db", "n", "k", "g", "load_ohm"], elements, "1e-12 relative")
    table("chebyshev_response", "transducer gain 4|V/E|²/load = 1/(1+ε²T_n²(ω)); agrees with scipy.signal.cheb1ap", ["ripple_db", "n", "w_rad_s", "gain_db", "v_over_e_db"], response, "1e-9 dB")


BESSEL = {  # elements between two 1 Ω resistors, −3.01 dB at 1 rad/s
    2: "0.5755 2.1478", 3: "0.3374 0.9705 2.2034", 4: "0.2334 0.6725 1.0815 2.2404", 5: "0.1743 0.5072 0.8040 1.1110 2.2582",
    6: "0.1365 0.4002 0.6392 0.8538 1.1126 2.2645", 7: "0.1106 0.3259 0.5249 0.7020 0.8690 1.1052 2.2659"}


def bessel():
    elements, response = [], []
    for n, text in BESSEL.items():
        g = [mp.mpf(x) for x in text.split()]
        elements += [[n, k + 1, v] for k, v in enumerate(g)]
        b, a = signal.bessel(n, 1, analog=True, norm="mag")
        for w in [x for x in W if float(x) <= 3]:
            want = 20 * math.log10(abs(signal.freqs(b, a, [float(w)])[1][0]))
            hold("bessel", float(db(2 * abs(ladder(g, 1, 1, True, mp.mpf(w))))), want, 1.5e-3)
            response.append([n, float(w), want])
    table("bessel_elements", "S. Winder, Analog and Digital Filter Design, table 2.3, four digits", ["n", "k", "g"], elements, "as printed")
    table("bessel_response", "scipy.signal.bessel(n, 1, analog=True, norm='mag'); |2V/E| of the four-digit ladder", ["n", "w_rad_s", "db"], response, "1.5e-3 dB")


def classics():
    rows = []
    for x in ["0.01", "0.1", mp.sqrt(5) - 2, "0.5", "0.9", "0.999", "1.001", "1.5", mp.sqrt(5) + 2, "10", "100"]:
        x = mp.mpf(x)
        h = (1 - x * x) / mp.mpc(1 - x * x, 4 * x)
        rows.append([x, h.real, h.imag])
    table("twin_t", "symmetric twin-T (R, R, R/2; C, C, 2C), ideal source, no load: H = (1−x²)/(1−x²+4jx), x = 2πfRC; null at x = 1; −3.01 dB at √5∓2",
          ["x", "re", "im"], rows, "1e-9 absolute")
    rows = []
    for x in ["0.01", "0.3", "1", "2", "30"]:
        x = mp.mpf(x)
        h = 1 / (3 + mp.mpc(0, 1) * (x - 1 / x))
        rows.append([x, h.real, h.imag])
    table("wien", "series RC over parallel RC, equal values: H = 1/(3 + j(x − 1/x)), x = 2πfRC", ["x", "re", "im"], rows, "1e-12 relative")
    rows = [[r1, r2, 10e-9, 1 / (2 * mp.pi * mp.mpf("10e-9") * mp.sqrt(mp.mpf(r1) * r2)), mp.mpf(2 * r1) / (2 * r1 + r2)] for r1, r2 in ((1000, 100000), (2200, 47000))]
    table("bridged_t", "C, C in series, R1 from their joint to ground, R2 across both: at f0 = 1/(2πC√(R1R2)) H = 2R1/(2R1+R2), real",
          ["r1_ohm", "r2_ohm", "c_farad", "f0_hz", "h"], rows, "1e-9 relative")
    rows = []
    for k in ("0.02", "0.1", "0.3", "0.6", "0.95"):
        k = mp.mpf(k)
        rows.append([k, 1 / mp.sqrt(1 + k), 1 / mp.sqrt(1 - k)])
    table("coupled_loops", "two equal loss-free LC loops coupled by k resonate at f0/√(1±k)", ["k", "lower", "upper"], rows, "1e-12 relative")
    rows = []
    for l1, l2, k in ((2, 3, "0.2"), (2, 3, "-0.2"), (2, 2, "0.5"), ("2.3", "4.1", "0.97"), (1, 4, "0")):
        l1, l2, k = mp.mpf(l1), mp.mpf(l2), mp.mpf(k)
        m = k * mp.sqrt(l1 * l2)
        rows.append([l1, l2, k, m, l1 + l2 + 2 * m, l1 + l2 - 2 * m, (l1 * l2 - m * m) / (l1 + l2 - 2 * m), (l1 * l2 - m * m) / (l1 + l2 + 2 * m),
                     l1 - m * m / l2])
    table("coupled_coils", "series L1+L2±2M; parallel (L1L2−M²)/(L1+L2∓2M); with the other coil shorted L1−M²/L2 (textbook; dots as named)",
          ["l1_henry", "l2_henry", "k", "m_henry", "series_aiding", "series_opposing", "parallel_aiding", "parallel_opposing", "l1_other_shorted"], rows, "1e-12 relative")
    rows = []
    for x in ("0.1", "1", "3"):
        h = (1 - mp.mpc(0, 1) * mp.mpf(x)) / (1 + mp.mpc(0, 1) * mp.mpf(x))
        rows.append([mp.mpf(x), h.real, h.imag])
    table("lattice_all_pass", "LC lattice ended in R = √(L/C), x = ω√(LC): H = (1−jx)/(1+jx)", ["x", "re", "im"], rows, "1e-12 relative")


def noise():
    k, t = mp.mpf("1.380649e-23"), mp.mpf("293.15")
    rows = [[mp.mpf(r), temp, mp.sqrt(4 * k * mp.mpf(temp) * mp.mpf(r))] for r, temp in
            ((50, "290"), (1000, "290"), (1000, "293.15"), (1000, "300"), (10000, "300"), (250000, "293.15"), (250000, "300"), ("1e6", "300"))]
    table("noise_density", "√(4kTR), k = 1.380649e-23 J/K (SI 2019); Johnson, Phys. Rev. 32, 97 and Nyquist, Phys. Rev. 32, 110 (1928)",
          ["r_ohm", "kelvin", "v_per_root_hz"], [[a, float(b), c] for a, b, c in rows], "1e-12 relative")
    rows = [[mp.mpf(c), temp, mp.sqrt(k * mp.mpf(temp) / mp.mpf(c))] for c, temp in
            (("1e-12", "300"), ("10e-12", "300"), ("100e-12", "300"), ("470e-12", "300"), ("1e-9", "300"), ("500e-12", "293.15"))]
    table("noise_total", "kT/C: noise over all frequencies across C, whatever passive network feeds it", ["c_farad", "kelvin", "v"],
          [[a, float(b), c] for a, b, c in rows], "1e-12 relative")
    L, R, C, Rp = mp.mpf("2.5"), mp.mpf(7000), mp.mpf("500e-12"), mp.mpf("200e3")
    re = lambda f: mp.re(1 / (1 / mp.mpc(R, 2 * mp.pi * f * L) + 1 / Rp + mp.mpc(0, 2 * mp.pi * f * C)))
    bands = []
    for lo, hi in ((20, 20000), (20, 1000), (1000, 20000)):
        v2 = mp.quad(lambda x: 4 * k * t * re(mp.e**x) * mp.e**x, mp.linspace(mp.log(lo), mp.log(hi), 40))
        bands.append([lo, hi, mp.sqrt(v2)])
    whole = mp.quad(lambda x: 4 * k * t * re(mp.e**x) * mp.e**x, mp.linspace(mp.log("1e-6"), mp.log("1e12"), 200))
    hold("kT/C", whole / (k * t / C), 1, 1e-8)
    table("noise_band", "(7 kΩ + 2.5 H) ∥ 500 pF ∥ 200 kΩ at 293.15 K: √∫4kT·Re Z df; over all frequencies kT/C", ["from_hz", "to_hz", "v"], bands, "1e-9 relative")
    table("noise_bandwidth", "noise bandwidth over −3 dB frequency of a Butterworth low-pass: (π/2n)/sin(π/2n)", ["n", "ratio"],
          [[n, mp.pi / (2 * n) / mp.sin(mp.pi / (2 * n))] for n in range(1, 6)], "1e-12 relative")


A_TABLE = ("-70.4 -63.4 -56.7 -50.5 -44.7 -39.4 -34.6 -30.2 -26.2 -22.5 -19.1 -16.1 -13.4 -10.9 -8.6 -6.6 -4.8 -3.2 -1.9 -0.8 0 "
           "0.6 1.0 1.2 1.3 1.2 1.0 0.5 -0.1 -1.1 -2.5 -4.3 -6.6 -9.3")


def a_weighting():
    p = [mp.mpf(x) for x in ("20.598997", "107.65265", "737.86223", "12194.217")]
    r = lambda f: f**4 / ((f**2 + p[0] ** 2) * mp.sqrt((f**2 + p[1] ** 2) * (f**2 + p[2] ** 2)) * (f**2 + p[3] ** 2))
    rows = []
    for n, printed in zip(range(-20, 14), A_TABLE.split()):
        f = 1000 * mp.mpf(10) ** (mp.mpf(n) / 10)
        value = db(r(f) / r(mp.mpf(1000)))
        hold("A weighting", value, mp.mpf(printed), 0.05)
        rows.append([n, f, value, float(printed)])
    table("a_weighting", "IEC 61672-1: closed form with gain exactly 1 at 1 kHz, and its table rounded to 0.1 dB, at 1000·10^(n/10) Hz",
          ["n", "f_hz", "db", "table_db"], rows, "closed form 1e-9 dB; table 0.05 dB")


def wire():
    feet = {30: 103.2, 31: 130.1, 32: 164.1, 33: 206.9, 34: 260.9, 35: 329.0, 36: 414.8, 37: 523.1, 38: 659.6, 39: 831.8, 40: 1049}
    rows = []
    for n in range(30, 47):
        d = mp.mpf("0.127") * mp.mpf(92) ** (mp.mpf(36 - n) / 39)
        ohms = mp.mpf(1) / 58 / (mp.pi / 4 * d * d)
        printed = feet.get(n)
        if printed and n not in (31, 33, 35):
            hold("wire", ohms * mp.mpf("304.8") / printed, 1, 2e-4)
        rows.append([n, d, ohms, printed])
    table("wire", "diameter 0.127 mm·92^((36−n)/39) (ASTM B258), 1/58 Ω·mm²/m (IACS, 20 °C); Ω per 1000 ft as printed in Floyd, Electric Circuit Fundamentals",
          ["gauge", "diameter_mm", "ohm_per_metre", "table_ohm_per_1000_ft"], rows, "formula 1e-12 relative; table 0.02 %")


def build():
    for part in (loaded_pickup, butterworth, chebyshev, bessel, classics, noise, a_weighting, wire):
        part()
    document = {"header": {"made by": "tests/reference/published.py", "mpmath": mp.__version__, "numpy": np.__version__, "scipy": scipy.__version__,
                           "digits": 50}, "tables": TABLES}
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["table", "row", "column", "value"])
    for name in sorted(TABLES):
        for i, row in enumerate(TABLES[name]["rows"]):
            for column, value in zip(TABLES[name]["columns"], row):
                writer.writerow([name, i, column, "" if value is None else repr(value)])
    return document, out.getvalue()


def main(arguments):
    document, lines = build()
    if "--check" not in arguments:
        (GOLDEN / "published.json").write_text(laid_out(document) + "\n", "utf-8")
        (GOLDEN / "published.csv").write_text(lines, "utf-8")
        return 0
    old = json.loads((GOLDEN / "published.json").read_text("utf-8"))["tables"]
    bad = old.keys() ^ TABLES.keys()
    for name in old.keys() & TABLES.keys():
        for a, b in zip(old[name]["rows"], TABLES[name]["rows"], strict=True):
            for x, y in zip(a, b, strict=True):
                if x != y and not (isinstance(x, float) and math.isclose(x, y, rel_tol=1e-12, abs_tol=1e-15)):
                    bad.add(f"{name}: {x} against {y}")
    print("\n".join(sorted(bad)), end="\n" if bad else "")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
