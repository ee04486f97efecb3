"""Writes golden/<name>.json for every construct and example, or with --check recomputes and compares to 1e-9.

    python golden.py                 write all files that changed
    python golden.py --check         compare; exit 1 when something differs
    python golden.py tap-measured    only these names
"""
import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # many small systems: threads only get in the way

import json
import math
import sys
from pathlib import Path

import mpmath
import numpy
import scipy

import figures
from layout import laid_out
from wiring import Harness

HERE = Path(__file__).resolve().parent
EXAMPLES = HERE.parent.parent / "examples"


def rounded(value):
    """12 significant digits: what the pinned versions reproduce on any machine."""
    if isinstance(value, bool) or value is None or isinstance(value, (str, int)):
        return value
    if isinstance(value, (list, tuple)):
        return [rounded(v) for v in value]
    return float(f"{float(value):.12g}")


def sources():
    out = {p.stem: p for p in sorted((HERE / "constructs").glob("*.harness"))}
    for p in sorted(EXAMPLES.glob("*.harness")):
        out["example-" + p.stem] = p
    return out


def compute(path):
    harness = Harness(path)
    found = {}
    for p in figures.positions(harness):
        found[p["key"]] = {"name": p["name"], "figures": {k: rounded(v) for k, v in p["figures"].items()}}
    variants = {}
    for name in harness.variants:
        varied = figures.positions(Harness(path, name))
        variants[name] = {p["key"]: {"name": p["name"], "figures": {k: rounded(v) for k, v in p["figures"].items()}}
                          for p in varied}
    return {
        "file": path.relative_to(HERE.parent.parent).as_posix(),
        "title": None if harness.title is None else str(harness.title),
        "header": {"made by": "tests/reference/golden.py", "structure": "tests/reference/README.md",
                   "python": "3.11", "numpy": numpy.__version__, "scipy": scipy.__version__, "mpmath": mpmath.__version__},
        "positions": found,
        **({"variants": variants} if variants else {}),
    }


def close(a, b, relative=1e-9, absolute=1e-9, decibels=False):
    """Small volts are compared as they are; a small difference of decibels is rounding, another on each processor."""
    if isinstance(a, bool) or isinstance(b, bool) or not isinstance(a, (int, float)) or not isinstance(b, (int, float)):
        if isinstance(a, list) and isinstance(b, list):
            return len(a) == len(b) and all(close(x, y, relative, absolute, decibels) for x, y in zip(a, b))
        return a == b
    return math.isclose(a, b, rel_tol=relative, abs_tol=absolute * (1.0 if decibels or max(abs(a), abs(b)) >= 1e-6 else 1e-12))


def differences(old, new):
    for name in sorted({*old.get("variants", {}), *new.get("variants", {})}):
        some = [{"positions": side.get("variants", {}).get(name, {})} for side in (old, new)]
        for key, *rest in differences(*some):
            yield f"{name}: {key}", *rest
    for key in sorted({*old["positions"], *new["positions"]}):
        a, b = old["positions"].get(key), new["positions"].get(key)
        if a is None or b is None:
            yield key, "position", a is not None, b is not None
            continue
        for name in sorted({*a["figures"], *b["figures"]}):
            x, y = a["figures"].get(name, "absent"), b["figures"].get(name, "absent")
            if not close(x, y, decibels=name.endswith("_db")):
                yield key, name, x, y


def main(arguments):
    check = "--check" in arguments
    wanted = [a for a in arguments if not a.startswith("-")]
    bad = 0
    for name, path in sources().items():
        if wanted and name not in wanted:
            continue
        new, target = compute(path), HERE / "golden" / f"{name}.json"
        if check:
            if not target.exists():
                bad += 1
                print(f"{name}: no golden file")
                continue
            for key, figure, x, y in differences(json.loads(target.read_text("utf-8")), new):
                bad += 1
                print(f"{name} [{key}] {figure}: golden {x}, now {y}")
        else:
            text = laid_out(new) + "\n"
            if not target.exists() or target.read_text("utf-8") != text:
                target.write_text(text, "utf-8")
                print("wrote", target.name)
    if not check and not wanted:
        for stale in sorted((HERE / "golden").glob("*.json")):
            if stale.stem not in sources() and stale.stem != "published":
                print("stale:", stale.name)
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
