"""Compares figures of another program with golden values: 1e-5 dB, 1e-6 relative.

    python compare.py golden/NAME.json OTHER.json      exit 1 when something differs

OTHER has the structure of a golden file, or is {position key: {flat name: value}}. Only figures that both have are compared;
`compare` is for use from other scripts.
"""
import json
import math
import sys

DB, RELATIVE = 1e-5, 1e-6


def positions(document):
    found = document.get("positions", document)
    return {" ".join(sorted(k.split())): v.get("figures", v) for k, v in found.items() if isinstance(v, dict)}


def differs(name, a, b, scale=0.0):
    """A word on how the values differ, or None. `scale`: size of the complex value that both are a part of."""
    if isinstance(a, list) and isinstance(b, list):
        if len(a) != len(b):
            return f"{len(a)} against {len(b)} entries"
        return next((w for x, y in zip(a, b) if (w := differs(name, x, y))), None)
    if isinstance(a, bool) or isinstance(b, bool) or not (isinstance(a, (int, float)) and isinstance(b, (int, float))):
        return None if a == b else "not the same"
    off = abs(a - b)
    if "_db" in name:
        # a share far below the rest is as good as its size against the rest
        limit = DB if "share" not in name else DB + 20 * math.log10(1 + 1e-10 * 10 ** (-min(a, b) / 20))
        return None if off <= limit else f"{off:.2e} dB"
    size = max(abs(a), abs(b), scale)
    return None if off <= RELATIVE * size or off == 0 else f"{off / size:.2e} relative"


def compare(golden, other):
    """[(position, figure, golden value, other value, how far)]; a position on one side only is listed once."""
    out, golden, other = [], positions(golden), positions(other)
    for key in sorted(golden.keys() | other.keys()):
        if key not in golden or key not in other:
            out.append((key, "position", key in golden, key in other, "on one side only"))
            continue
        a, b = golden[key], other[key]
        for name in sorted(a.keys() & b.keys()):
            scale = 0.0
            if name.endswith((".re", ".im")):
                stem = name[:-3]
                scale = math.hypot(a.get(stem + ".re", 0.0), a.get(stem + ".im", 0.0))
                if stem.endswith((".response", ".hum")):  # where coils cancel, what is left is as good as the coils
                    at = stem.rsplit(".", 1)[0] + ".coil."
                    scale = max(scale, max((1e-6 * abs(v) for n, v in a.items() if n.startswith(at)), default=0.0))
            word = differs(name, a[name], b[name], scale)
            if word:
                out.append((key, name, a[name], b[name], word))
    return out


def main(arguments):
    with open(arguments[0], encoding="utf-8") as f, open(arguments[1], encoding="utf-8") as g:
        found = compare(json.load(f), json.load(g))
    for key, name, a, b, word in found:
        print(f"[{key}] {name}: golden {a}, other {b} ({word})")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
