#!/usr/bin/env python3
"""What a build of a study takes: processor time a position, beside that of a report, and memory by number of builds.

    cargo build --release -p coilwright
    python3 cli/benches/study.py target/release/coilwright

Two studies of different length, one thread each, so that starting up does not count; the best of five.
"""

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
GUITAR = ROOT / "examples" / "10-two-humbuckers.harness"
POSITIONS = 20
FEW, MANY, TIMES = 64, 576, 5


def run(*arguments: str) -> tuple[float, int]:
    """Processor seconds, and the largest memory in kB, of one run."""
    environment = {**os.environ, "RAYON_NUM_THREADS": "1"}
    process = subprocess.Popen(arguments, stdout=subprocess.DEVNULL, env=environment)
    _, status, usage = os.wait4(process.pid, 0)
    if status != 0:
        sys.exit(f"{' '.join(arguments)} ended with {status}")
    return usage.ru_utime + usage.ru_stime, usage.ru_maxrss


def main() -> None:
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    program = sys.argv[1]
    study = lambda builds: run(program, "study", str(GUITAR), "--samples", str(builds))
    few, many = (min(study(builds)[0] for _ in range(TIMES)) for builds in (FEW, MANY))
    # One guitar more than the positions: the reference.
    position = (many - few) / (MANY - FEW) / (POSITIONS + 1)
    report = min(run(program, "report", str(GUITAR), "--json")[0] for _ in range(4 * TIMES))
    print(f"a position of a build: {position * 1e6:.0f} µs; of a report, the whole process counted: {report / POSITIONS * 1e6:.0f} µs")
    print(f"10,000 builds of 16 positions: {position * 160_000:.0f} s of one processor")
    for builds in (100, 1600):
        print(f"{builds} builds: at most {study(builds)[1] / 1024:.0f} MB")


if __name__ == "__main__":
    main()
