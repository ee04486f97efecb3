"""Harmonics of strings: golden/harmonics.csv, for files with a `geometry` statement.

Written from LANGUAGE.md ("Where the pickups sit"): places by its words, the aperture as an average of sin(nπx/L) over the coil's
length by Gauss–Legendre quadrature (not by a sinc), the circuit by the reference's own network. `--check` recomputes and compares
to 1e-9.
"""
import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import csv
import io
import math
import sys
from pathlib import Path

import numpy as np

from coils import Coils
from figures import Voice
from values import take
from wiring import Harness

HERE = Path(__file__).resolve().parent
GOLDEN = HERE / "golden" / "harmonics.csv"
EXAMPLES = HERE.parent.parent / "examples"
CASES = [  # file, strings and frets, harmonics
    (EXAMPLES / "20-wound-coils-and-strings.harness", [(6, 0), (6, 3), (1, 12), (3, 5)], 30),
    (HERE / "constructs" / "geometry.harness", [(4, 0), (1, 7), (2, 24)], 24),
]
KEYS = dict(zip("C D E F G A B".split(), (0, 2, 4, 5, 7, 9, 11)))
X, W = np.polynomial.legendre.leggauss(80)


def metres(items, i=0):
    _, v, i = take(items, i, "metre")
    return v, i


def hertz(note):
    if note[0].isdigit():
        return take([note], 0, "hertz")[1]
    step, octave = KEYS[note[0]] + {"b": -1, "#": 1}.get(note[1], 0), int(note[-1])
    return 440 * 2 ** ((12 * (octave + 1) + step - 69) / 12)


def read(harness):
    """scale, open notes, and for each coil: (distance under string 1, under the last, aperture)."""
    scale, notes, places = None, ["E4", "B3", "G3", "D3", "A2", "E2"], []
    for c in harness.geometry:
        if c[0] == "scale":
            scale, _ = metres(c[1:])
        elif c[0] == "notes":
            notes = c[1]
        elif c[0] == "place":
            first, i = metres(c, 2)
            last = metres(c, i + 1)[0] if i < len(c) else first
            places.append({"name": c[1], "at": (first, last), "spacing": None, "aperture": 0.0, "order": None})
        elif c[0] == "order":
            places[-1]["order"] = c[1]
        else:
            places[-1][c[0]] = metres(c[1:])[0]
    seats = {}
    for p in places:
        part = harness.parts.get(p["name"])
        if part is None or part.kind == "coil":
            seats[p["name"]] = (*p["at"], p["aperture"])
            continue
        order = p["order"] or list(part.p["coils"])
        spacing = p["spacing"] if p["spacing"] is not None else 0.0 if part.p.get("stacked") else 0.018
        for i, name in enumerate(order):
            off = (i - (len(order) - 1) / 2) * spacing
            seats[f"{p['name']}.{name}"] = (p["at"][0] + off, p["at"][1] + off, p["aperture"])
    return scale, [hertz(str(n)) for n in notes], seats


def weight(n, d, w, length):
    return float((W * np.sin(n * math.pi * (d + w / 2 * X) / length)).sum() / 2)


def rows():
    for path, wanted, count in CASES:
        harness = Harness(path)
        scale, notes, seats = read(harness)
        coils, knobs = Coils(harness), harness.knobs()
        for key, _, throws in harness.positions():
            voice = Voice(harness, coils, throws, knobs)
            for string, fret in wanted:
                f1, length = notes[string - 1] * 2 ** (fret / 12), scale * 2 ** (-fret / 12)
                n = np.array([k for k in range(1, count + 1) if k * f1 <= 20e3])
                c = voice.contributions(n * f1)
                weights = np.zeros((len(n), len(coils.sections)))
                for i, s in enumerate(coils.sections):
                    coil = coils.coils[s.coil]
                    if coil.name not in seats or string not in coil.hears:
                        continue
                    first, last, aperture = seats[coil.name]
                    d = first + (last - first) * (string - 1) / (harness.strings - 1)
                    if d < length:
                        weights[:, i] = [weight(int(k), d, aperture, length) for k in n]
                v = (c * weights).sum(1) / n
                for k, f, x in zip(n, n * f1, v):
                    yield [path.stem, key.replace(" ", ", "), string, fret, int(k), f"{f:.12g}", f"{x.real:.12g}", f"{x.imag:.12g}"]


def made():
    out = io.StringIO(newline="")
    out.write("# Harmonics at the amp input, V, amplitudes 1/n: made by harmonics.py (NumPy). Tolerance 1e-9 of the largest of each string.\n")
    write = csv.writer(out, lineterminator="\n").writerow
    write("file,position,string,fret,number,f_hz,re_v,im_v".split(","))
    for row in rows():
        write(row)
    return out.getvalue()


def main():
    text = made()
    if "--check" not in sys.argv[1:]:
        GOLDEN.write_text(text, encoding="utf-8")
        return 0
    old = GOLDEN.read_text(encoding="utf-8")
    for a, b in zip(csv.reader(old.splitlines()[2:]), csv.reader(text.splitlines()[2:]), strict=True):
        same = a[:5] == b[:5] and all(abs(float(x) - float(y)) <= 1e-9 * max(1, abs(float(y))) for x, y in zip(a[5:], b[5:]))
        if not same:
            print("differs:", a, b)
            return 1
    print("harmonics agree")
    return 0


if __name__ == "__main__":
    sys.exit(main())
