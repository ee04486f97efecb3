"""Compares figures of another program with golden values: 1e-5 dB, 1e-6 relative.

    python compare.py golden/NAME.json OTHER.json      exit 1 when something differs
    python compare.py --program PATH [NAME …]          golden files against `PATH report FILE --json`

OTHER has the structure of a golden file, or is {position key: {flat name: value}}. Only figures that both have are compared;
`compare` is for use from other scripts. `flat` reads the report of the command line.
"""
import json
import math
import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent

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
                if not stem.endswith("_ohm"):
                    scale = max(scale, 1e-6)  # 1e-12 V is silence
            elif name.startswith("lcr") and isinstance(a[name], float):
                f, size = (120.0, "impedance_100_ohm") if "120" in name else (1000.0, "impedance_1k_ohm")
                scale = 1e-3 * a[size] / (2 * math.pi * f)
            elif "noise" in name and isinstance(a[name], float):
                scale = 1e-12  # 1e-18 V is rounding
            word = differs(name, a[name], b[name], scale)
            if word:
                out.append((key, name, a[name], b[name], word))
    return out


def flat(report):
    """The report of the command line as {key: {flat name: value}}."""
    spots, out = report.get("frequencies_hz", []), {}
    for p in report["positions"]:
        for outlet in p["outlets"]:
            figures = {}
            _outlet(figures, outlet, spots)
            _meter(figures, p["meter"])
            key = p["key"]
            if len(p["outlets"]) > 1:
                own = f"output={outlet['lug'].rsplit('.', 1)[1]}"
                if own not in key.split():
                    key = own if key == "rest" else f"{key} {own}"
            out[" ".join(sorted(key.replace(",", " ").split()))] = figures
    return out


def _put(figures, name, entry):
    figures[name] = entry["value"]
    if entry["value"] is None:
        figures[name + ".why"] = entry["why"]


def _meter(figures, meters):
    for m in meters:
        stem = {"tip-sleeve": "meter", "ring-sleeve": "meter_ring", "tip-ring": "meter_tip_ring"}[m["across"]]
        for suffix, at in (("", "at_rest"), ("_volume_down", "volumes_at_zero")):
            _put(figures, f"{stem}{suffix}_ohm", m[at]["resistance_ohm"])
            if m[at]["resistance_ohm"]["value"] is not None:
                figures[f"{stem}{suffix}_coil_readable"] = m[at]["coil_readable"]


def _outlet(figures, o, spots):
    for name, entry in (("plateau_db", o["plateau_db"]), ("resonance_hz", o["resonance_hz"]), ("resonance_height_db", o["height_db"]),
                        ("resonance_height_re_reference_db", o["height_re_reference_db"]), ("resonance_q", o["sharpness_q"]),
                        ("corner_hz", o["corner_hz"]), ("last_corner_hz", o["last_corner_hz"])):
        _put(figures, name, entry)
    for ours, theirs in (("level", "level"), ("string_level", "string_level"), ("brightness", "brightness")):
        _put(figures, f"{ours}_db", o[theirs]["coherent_db"])
        _put(figures, f"{ours}_powers_db", o[theirs]["as_powers_db"])
        if ours != "brightness":
            _put(figures, f"{ours}_re_reference_db", o[theirs]["coherent_re_reference_db"])
            _put(figures, f"{ours}_powers_re_reference_db", o[theirs]["as_powers_re_reference_db"])
    if o["plateau_db"]["value"] is not None:
        figures["sloped"], figures["slope_at_100_db_per_octave"] = o["sloped"], o["slope_db_per_octave"]["value"]
    peaks = o["resonances"] or []
    figures["resonances_hz"] = [r["frequency_hz"] for r in peaks]
    if peaks:
        figures["resonances_db"] = [r["magnitude_db"] for r in peaks]
        figures["resonances_prominence_db"] = [r["prominence_db"]["value"] for r in peaks]
        figures["resonances_q"] = [r["sharpness_q"]["value"] for r in peaks]
    hum = o["hum"]
    for name, entry in (("hum_db", "fundamental_db"), ("hum_re_reference_db", "fundamental_re_reference_db"), ("buzz_db", "buzz_db"),
                        ("buzz_re_reference_db", "buzz_re_reference_db"), ("hum_cancelling_db", "cancelling_db")):
        _put(figures, name, hum[entry])
    figures["hum_cancelling"] = hum["verdict"]
    _put(figures, "signal_over_hum_db", o["signal_over_hum"]["difference_db"])
    if o["signal_over_hum"]["difference_db"]["value"] is not None:
        figures["signal_over_hum_plain"] = not o["signal_over_hum"]["against_reference"]
    z, noise = o["output_impedance"], o["thermal_noise"]
    for name, entry in (("100", "at_100_hz"), ("1k", "at_1_khz"), ("max", "maximum")):
        _put(figures, f"impedance_{name}_ohm", z[f"{entry}_ohm"])
    _put(figures, "impedance_max_hz", z["maximum_at_hz"])
    if z["maximum_at_hz"]["value"] is not None:
        figures["impedance_max_at_edge"] = z["maximum_at_band_edge"]
    _put(figures, "lcr_120_henry", o["lcr_reading"]["at_120_hz_h"])
    _put(figures, "lcr_1k_henry", o["lcr_reading"]["at_1_khz_h"])
    for name, entry in (("density_1k", "density_at_1_khz_v_per_sqrt_hz"), ("total", "total_v"), ("total_a", "total_a_weighted_v")):
        _put(figures, f"noise_{name}_v", noise[entry])
    figures["several_sound"], figures["no_string_drives_this"] = o["several_sound"], o["no_string_drives_this"]
    figures["largest_coil"] = o["main_coil"]
    for c in o["coils"]:
        stem = f"coil.{c['coil']}."
        figures[stem + "state"] = c["connection"]
        if c["bled_through_ohm"] is not None:
            figures[stem + "bled_ohm"] = c["bled_through_ohm"]
        for name in ("contributes", "out_of_phase", "in_series_with", "parallel_with"):
            figures[stem + name] = c[name]
        for tag, at in (("100", "100_hz"), ("1k", "1_khz")):
            share = c[f"share_at_{at}"]
            value = share["share_db"]["value"]
            figures[f"{stem}share_{tag}_db"] = value
            figures[f"{stem}sign_{tag}"] = None if value is None else -1 if share["negative"] else 1
    _responses(figures, o.get("responses"), spots)


def _responses(figures, r, spots):
    if not r:
        return
    curves = {"response": r["response_v"], "hum": r["hum_v"], "impedance_ohm": r["impedance_ohm"]}
    curves |= {f"coil.{c['coil']}": c["response_v"] for c in r["coils"]}
    for i, f in enumerate(spots):
        for name, curve in curves.items():
            if curve is not None:
                figures[f"at.{f:g}.{name}.re"], figures[f"at.{f:g}.{name}.im"] = curve["re"][i], curve["im"][i]
        figures[f"at.{f:g}.noise_v"] = r["noise_v_per_sqrt_hz"][i]


def reported(program, file):
    run = subprocess.run([program, "report", str(file), "--json", "--at", "100Hz,1kHz,5kHz,10kHz"], capture_output=True, text=True)
    if run.returncode:
        raise ValueError(f"exit {run.returncode}: {run.stderr[-2000:]}")
    return flat(json.loads(run.stdout))


def against_program(program, names):
    bad = 0
    for path in sorted((HERE / "golden").glob("*.json")):
        golden = json.loads(path.read_text("utf-8"))
        if "positions" not in golden or names and path.stem not in names:
            continue
        try:
            found = compare(golden, reported(program, HERE.parent.parent / golden["file"]))
        except ValueError as e:
            found = [("", "the program", "", "", str(e))]
        for key, name, a, b, word in found:
            bad += 1
            print(f"{path.stem} [{key}] {name}: golden {a}, program {b} ({word})")
    return 1 if bad else 0


def main(arguments):
    if arguments[0] == "--program":
        return against_program(arguments[1], arguments[2:])
    with open(arguments[0], encoding="utf-8") as f, open(arguments[1], encoding="utf-8") as g:
        found = compare(json.load(f), json.load(g))
    for key, name, a, b, word in found:
        print(f"[{key}] {name}: golden {a}, other {b} ({word})")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
