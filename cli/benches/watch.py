#!/usr/bin/env python3
"""Milliseconds from a save to its picture, as `coilwright watch` draws it.

    cargo build --release -p coilwright --features watch
    python3 cli/benches/watch.py target/release/coilwright [SAVES]

A copy of examples/10-two-humbuckers.harness (20 positions) is saved again and again with another value of a resistor; the clock runs from
before the file is written until another picture stands in the old one's place. Beside it stands what the processors did for one save,
which tells of the program on a busy machine too. It is a measurement for people: no test looks at it.
"""

import os
import re
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

EXAMPLE = Path(__file__).resolve().parents[2] / "examples" / "10-two-humbuckers.harness"
# Between two saves, s: the program waits again by then.
PAUSE = 0.15
PATIENCE = 20.0


def place(picture):
    """What tells one file at a place from the next."""
    try:
        found = os.stat(picture)
    except FileNotFoundError:
        return None
    return found.st_ino, found.st_mtime_ns


def until_other(picture, before):
    start = time.perf_counter()
    while place(picture) in (None, before):
        if time.perf_counter() - start > PATIENCE:
            sys.exit("no picture came")
        time.sleep(0.0002)


def processors():
    """What ended children have used, s."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def measure(program, saves, more):
    """Times of so many saves, and the processors' time for one, ms."""
    text = EXAMPLE.read_text(encoding="utf-8")
    value = re.search(r"^resistor \w+ (\S+)", text, re.MULTILINE)
    with tempfile.TemporaryDirectory() as folder:
        harness, picture = Path(folder, "guitar.harness"), Path(folder, "guitar.svg")
        harness.write_text(text, encoding="utf-8")
        command = [program, "watch", str(harness), "--output", str(picture), *more]
        worked = processors()
        with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as running:
            try:
                until_other(picture, None)
                times = []
                for save in range(saves):
                    time.sleep(PAUSE)
                    changed = f"{text[: value.start(1)]}{400 + save}{text[value.end(1) :]}"
                    before = place(picture)
                    start = time.perf_counter()
                    harness.write_text(changed, encoding="utf-8")
                    until_other(picture, before)
                    times.append(1e3 * (time.perf_counter() - start))
            finally:
                running.kill()
    # The first picture is one more.
    return times, 1e3 * (processors() - worked) / (saves + 1)


def main():
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    program = str(Path(sys.argv[1]).resolve())
    saves = int(sys.argv[2]) if len(sys.argv) > 2 else 30
    for name, more in [
        ("five curves", []),
        ("a difference", ["--difference"]),
        ("twenty small charts", ["--multiples"]),
    ]:
        times, work = measure(program, saves, more)
        times.sort()
        print(
            f"{name:20} {saves} saves: median {statistics.median(times):5.1f} ms, "
            f"nine in ten under {times[int(0.9 * (len(times) - 1))]:5.1f} ms, worst {times[-1]:5.1f} ms; processors {work:5.1f} ms"
        )


if __name__ == "__main__":
    main()
