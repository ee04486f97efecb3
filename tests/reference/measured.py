"""The measured guitar of measured/two-single-coils.csv against its harness: prints each point, exit 1 outside a tolerance.

Parts of a complex value are compared against its magnitude.
"""
import csv
import sys
from pathlib import Path

import numpy as np
from scipy.optimize import minimize_scalar

from assembly import assemble
from network import Network
from wiring import Harness

FOLDER = Path(__file__).resolve().parent / "measured"


def rows():
    with open(FOLDER / "two-single-coils.csv", encoding="utf-8") as f:
        return list(csv.DictReader(line for line in f if not line.startswith("#")))


def main():
    harness, bad, data = Harness(FOLDER / "two-single-coils.harness"), 0, rows()
    for name, throws in harness.names.items():
        c = assemble(harness, harness.full(throws), harness.knobs(), plugged=False)
        net = Network(c)
        z = lambda f: net.impedance([f], c.outputs["tip"], c.ground)[0][0]
        peaks = {}
        for what, part in (("re", np.real), ("abs", np.abs)):
            r = minimize_scalar(lambda x: -part(z(np.exp(x))), bounds=(np.log(2e3), np.log(12e3)), method="bounded",
                                options={"xatol": 1e-10})
            peaks[f"peak_{what}"], peaks[f"peak_{what}_at"] = float(-r.fun), float(np.exp(r.x))
        for row in (r for r in data if r["position"] == name):
            what, measured = row["what"], float(row["value"])
            if what in peaks:
                ours, size = peaks[what], measured
            else:
                f = float(row["frequency_hz"])
                pair = {r["what"]: float(r["value"]) for r in data if (r["position"], r["frequency_hz"]) == (name, row["frequency_hz"])}
                ours, size = getattr(z(f), {"re": "real", "im": "imag"}[what]), np.hypot(pair["re"], pair.get("im", 0.0))
            off = abs(ours - measured) / abs(size)
            bad += off > float(row["tolerance"])
            print(f"{name:7} {what:12} {row['frequency_hz']:>6} measured {measured:9.0f}  computed {ours:9.0f}  {100 * off:5.2f} % of {100 * float(row['tolerance']):.0f}")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
