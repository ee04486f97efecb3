"""What general libraries need for the workloads of `ratios`, to be run beside it on the same machine.

`python3 solver/benches/beside/beside.py` (needs NumPy; where SuiteSparse's klu.h and a C compiler are there, KLU too).

One solve = one frequency: the matrix filled, and Aᵀ·y = e(output), which holds the transfers from all sources. The equations are those of
dense.rs: nodes, inductor currents, closed contacts. Best of several runs, one thread.
"""

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import re
import shutil
import subprocess
import tempfile
import time
from pathlib import Path

import numpy as np

HERE = Path(__file__).parent
TEXT = (HERE.parent / "workload.rs").read_text(encoding="utf-8")


def table(name):
    """Rows of a table of workload.rs."""
    body = re.search(r"const " + name + r": \[.*?=\s*\[(.*?)\];", TEXT, re.S).group(1)
    return [(a, b, float(value)) for a, b, value in re.findall(r'\("?(\w+)"?, "?(\w+)"?, ([\d.e-]+)\)', body)]


class System:
    """G + jω·C by entries, and the row of the output."""

    def __init__(self):
        self.names = {}
        self.g, self.c = {}, {}

    def at(self, name):
        return self.names.setdefault(name, len(self.names))

    def add(self, part, row, col, value):
        part[row, col] = part.get((row, col), 0.0) + value

    def stamp(self, part, a, b, value):
        ends = [(self.at(name), sign) for name, sign in ((a, 1.0), (b, -1.0)) if name != "0"]
        for row, sign in ends:
            for col, other in ends:
                self.add(part, row, col, sign * other * value)

    def branch(self, name, a, b, henries=None):
        row = self.at(name)
        for node, sign in ((a, 1.0), (b, -1.0)):
            if node != "0":
                self.add(self.g, self.at(node), row, sign)
                self.add(self.g, row, self.at(node), sign)
        if henries is not None:
            self.add(self.c, row, row, -henries)
        return row

    def columns(self):
        """Starts of the columns, rows, and values without jω and with it."""
        places = sorted(set(self.g) | set(self.c), key=lambda place: (place[1], place[0]))
        starts = np.zeros(len(self.names) + 1, dtype=np.int32)
        for _, col in places:
            starts[col + 1] += 1
        rows = np.array([row for row, _ in places], dtype=np.int32)
        return np.cumsum(starts, dtype=np.int32), rows, *(np.array([part.get(p, 0.0) for p in places]) for part in (self.g, self.c))

    def dense(self):
        n = len(self.names)
        g, c = np.zeros((n, n)), np.zeros((n, n))
        for part, matrix in ((self.g, g), (self.c, c)):
            for place, value in part.items():
                matrix[place] = value
        return g, c


def voice():
    system = System()
    resistors, capacitors, inductors = (table(name) for name in ("RESISTORS", "CAPACITORS", "INDUCTORS"))
    couplings = [(int(a), int(b), k) for a, b, k in table("COUPLINGS")]
    for a, b, ohms in resistors:
        system.stamp(system.g, a, b, 1.0 / ohms)
    for a, b, farads in capacitors:
        system.stamp(system.c, a, b, farads)
    rows = [system.branch(f"coil {i}", a, b, henries) for i, (a, b, henries) in enumerate(inductors)]
    for hot in ("w1", "w2"):
        system.branch(f"contact {hot}", hot, "bus")
    for a, b, k in couplings:
        mutual = k * (inductors[a][2] * inductors[b][2]) ** 0.5
        system.add(system.c, rows[a], rows[b], -mutual)
        system.add(system.c, rows[b], rows[a], -mutual)
    assert len(system.names) == 22 and len(resistors) == 20 and len(couplings) == 2
    return system, system.at("jack")


def ladder(sections):
    """As `ladder` of workload.rs; the source's node is known, so it is left out."""
    system = System()
    last = "0"
    for n in range(sections):
        ohms, henries = 0.1 * (1 + 0.01 * (n % 7)), 1e-3 * (1 + 0.02 * (n % 5))
        farads = 1e-9 * (1 + 0.03 * (n % 3))
        system.stamp(system.g, last, f"m{n}", 1.0 / ohms)
        system.branch(f"l{n}", f"m{n}", f"n{n}", henries)
        system.stamp(system.c, f"n{n}", "0", farads)
        system.stamp(system.g, f"n{n}", "0", 1e-8)
        last = f"n{n}"
    system.stamp(system.g, last, "0", 1e-3)
    return system, system.at(last)


def numpy_dense(system, output, omega):
    g, c = system.dense()
    side = np.zeros((len(omega), len(g), 1), dtype=complex)
    side[:, output] = 1.0
    best = np.inf
    for _ in range(30):
        start = time.perf_counter()
        np.linalg.solve(g + 1j * omega[:, None, None] * c, side)
        best = min(best, time.perf_counter() - start)
    return best / len(omega)


def klu(folder, program, system, output, omega, runs):
    """`None` where it can't be had."""
    starts, rows, g, c = system.columns()
    path = folder / "system"
    with path.open("wb") as file:
        for part in (np.array([len(starts) - 1, len(rows), output, len(omega), runs], dtype=np.int32), starts, rows):
            file.write(part.tobytes())
        for part in (g, c, omega):
            file.write(part.astype(np.float64).tobytes())
    return float(subprocess.run([program, path], check=True, capture_output=True, text=True).stdout)


def compiled(folder):
    compiler = shutil.which("cc")
    if compiler is None:
        return None
    program = folder / "klu"
    command = [compiler, "-O2", HERE / "klu.c", "-o", program, "-lklu", "-lm"]
    for include in ("/usr/include/suitesparse", "/usr/include"):
        if subprocess.run([*command, f"-I{include}"], capture_output=True, check=False).returncode == 0:
            return program
    return None


def main():
    print("| contender | ns/solve |\n| --- | ---: |")
    omega = 2 * np.pi * 20 * 1000 ** (np.arange(400) / 399)
    one = voice()
    print(f"| NumPy {np.__version__}, batched dense solve, voice | {numpy_dense(*one, omega) * 1e9:.0f} |")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        program = compiled(folder)
        if program is None:
            print("KLU: no klu.h, or no C compiler")
            return
        print(f"| KLU, refactor and solve, voice | {klu(folder, program, *one, omega, 200) * 1e9:.0f} |")
        few = omega[:: 399 // 47][:48]
        for sections in (100, 1000, 10_000):
            seconds = klu(folder, program, *ladder(sections), few, 5)
            print(f"| KLU, refactor and solve, ladder of {sections} sections | {seconds * 1e9:.0f} |")


main()
