"""Every figure for every position of a harness, as flat dicts.

`positions(harness)` → [{'key', 'name', 'figures': {flat name: value}}]; a figure without a value is None and its reason
stands under the same name with '.why'. Units are in the names.
"""
import numpy as np

from assembly import assemble
from coils import Coils
from curves import Curve, a_weight, panels
from network import Network, resistance
from words import roles

SPOT = (100.0, 1000.0, 5000.0, 10000.0)  # where complex responses are kept
db = lambda p: float(10 * np.log10(p))


def clean(value, scale):
    """What is rounding against `scale` is zero, so that a rerun elsewhere writes the same."""
    return 0.0 if abs(value) <= 1e-11 * scale else float(value)


def silent(c):
    """Per frequency: contributions c of shape (frequencies, sections) that cancel or are nothing."""
    if c.shape[1] == 0:
        return np.ones(c.shape[0], bool)
    total = np.abs(c).sum(1)
    return (np.abs(c.sum(1)) <= 1e-9 * total) | (total <= 1e-12)


class Figures(dict):
    def put(self, name, value, why=None):
        self[name] = value
        if value is None:
            self[name + ".why"] = why


class Voice:
    """One output of one position."""

    def __init__(self, harness, coils, throws, knobs, output="tip"):
        self.harness, self.coils, self.throws, self.knobs, self.output = harness, coils, throws, knobs, output
        self.jack = harness.of("jack")[0].name
        self.circuit = assemble(harness, throws, knobs, coils=coils)
        self.net = Network(self.circuit)
        self.node = self.circuit.outputs[output]
        self.dead = self.net.at(self.node) is None
        self.poles = [] if self.dead else self.net.natural()

    def contributions(self, f, what="signal"):
        return self.net.contributions(self.net.adjoint(f, self.node), what)

    def power(self, f):
        """|H|² and its derivative by ln f."""
        y = self.net.adjoint(f, self.node)
        b = self.net.emf("signal")
        x = self.net.forward(f, b)
        h = y @ b
        dh = -1j * ((y @ self.net.T) * x).sum(1)
        return np.abs(h) ** 2, 2 * np.real(np.conj(h) * dh) * 2 * np.pi * np.asarray(f)

    def zeros(self):
        b, e = self.net.emf("signal"), np.zeros(self.net.size)
        e[self.net.at(self.node)] = 1
        return self.net.natural(b, e)

    # -- the figures

    def figures(self):
        out = Figures()
        c = self.contributions([100.0, 1000.0])
        self.response(out, c)
        self.averages(out, c)
        self.hum(out)
        self.meter(out)
        self.impedance(out)
        self.circuit_words(out, c)
        self.spots(out)
        return out

    def response(self, out, c):
        names = ("plateau_db", "resonance_hz", "resonance_height_db", "resonance_q", "corner_hz", "last_corner_hz")
        if silent(c)[0]:
            for n in names:
                out.put(n, None, "silent")
            out["resonances_hz"] = []
            return
        p100, slope = self.power(np.array([100.0]))
        p0 = float(p100[0])
        per_octave = float(slope[0] / p0) * 10 / np.log(10) * np.log(2)
        out["plateau_db"], out["slope_at_100_db_per_octave"], out["sloped"] = db(p0), per_octave, abs(per_octave) > 0.5
        natural = [*self.poles, *self.zeros()]
        curve = Curve(self.power, 20.0, 20e3, natural)
        found = []
        for i in curve.maxima():
            q = curve.prominence(i)
            if q is None or db(q) >= 0.1:
                found.append((i, curve.points[i][0], curve.points[i][1], None if q is None else db(q)))
        out["resonances_hz"] = [r[1] for r in found]
        out["resonances_db"] = [db(r[2]) for r in found]
        out["resonances_prominence_db"] = [r[3] for r in found]
        out["resonances_q"] = [self.q(curve, r) for r in found]
        tall = [r for r in found if db(r[2] / p0) >= -20]
        best = min(tall, key=lambda r: (-r[2], r[1])) if tall else None
        out.put("resonance_hz", best and best[1], "none")
        out.put("resonance_height_db", best and db(best[2] / p0), "none")
        out.put("resonance_q", best and self.q(curve, best), "none")
        falls = curve.falls(p0 / 2, 100.0)
        out.put("corner_hz", falls[0] if falls else None, "none")
        out.put("last_corner_hz", falls[-1] if falls else None, "none")

    @staticmethod
    def q(curve, r):
        below, above = curve.around(r[0], r[2] / 2)
        return None if below is None or above is None else r[1] / (above - below)

    def by_groups(self, c):
        """Σ over strings of their share of Σ over pickups of |what senses the string|², and where nothing is heard."""
        strings = self.harness.strings
        power, groups = np.zeros(c.shape[0]), []
        for s in range(1, strings + 1):
            pickups = {}
            for i, section in enumerate(self.coils.sections):
                coil = self.coils.coils[section.coil]
                if s in coil.hears:
                    pickups.setdefault(coil.pickup, []).append(i)
            for members in pickups.values():
                quiet = silent(c[:, members])
                power += np.where(quiet, 0, np.abs(c[:, members].sum(1)) ** 2) / strings
        return power, power == 0

    def averages(self, out, c):
        f, w = panels(20.0, 20e3, (80.0, 800.0, 2000.0, 6000.0), [s for s in self.poles])
        y = self.net.adjoint(f, self.node)
        ci = self.net.contributions(y, "signal")
        coherent, quiet = np.abs(ci.sum(1)) ** 2, silent(ci)
        powers, nothing = self.by_groups(ci)

        def mean(p, lo, hi, weight=1.0):
            band = np.where((f > lo) & (f < hi), w, 0) * weight
            return float((p * band).sum() / band.sum())

        inside = (f > 80) & (f < 6000)
        for suffix, p, none in (("", coherent, quiet), ("_powers", powers, nothing)):
            if none[inside].all():
                for n in ("level", "string_level", "brightness"):
                    out.put(f"{n}{suffix}_db", None, "silent")
                continue
            out[f"level{suffix}_db"] = db(mean(p, 80, 6000))
            out[f"string_level{suffix}_db"] = db(mean(p, 80, 6000, 1 / f))
            low, high = (f > 80) & (f < 800), (f > 2000) & (f < 6000)
            if none[low].all() or none[high].all():
                out.put(f"brightness{suffix}_db", None, "silent")
            else:
                out[f"brightness{suffix}_db"] = db(mean(p, 2000, 6000) / mean(p, 80, 800))
        groups = self.coils.groups()
        several = False
        for row in c:
            sizes = [abs(row[m].sum()) for m in groups.values()]
            top = max(sizes, default=0.0)
            several |= top > 1e-12 and sum(s > 1e-2 * top for s in sizes) >= 2
        out["several_sound"] = bool(several)
        density = self.net.noise_density(y)
        out["noise_density_1k_v"] = float(np.sqrt(self.net.noise_density(self.net.adjoint([1000.0], self.node))[0]))
        out["noise_total_v"] = float(np.sqrt((density * f * w).sum()))
        out["noise_total_a_v"] = float(np.sqrt((density * a_weight(f) ** 2 * f * w).sum()))

    def hum(self, out):
        mains = self.harness.mains
        n = int(np.floor(1000 / mains))
        f = np.array([mains * k for k in range(1, n + 1)] + [1000.0])
        h = self.contributions(f, "hum")
        quiet, total, size = silent(h), np.abs(h).sum(1), np.abs(h.sum(1))
        out.put("hum_db", None if quiet[0] else db(size[0] ** 2), "silent")
        out.put("buzz_db", None if quiet[:n].all() else db((np.where(quiet, 0, size)[:n] ** 2).sum()), "silent")
        if total[0] <= 1e-12 and total[-1] <= 1e-12:
            out.put("hum_cancelling_db", None, "silent")
            out["hum_cancelling"] = "no hum"
            return
        ratio = [0.0 if quiet[i] or total[i] <= 1e-12 else size[i] / total[i] for i in (0, -1)]
        worst = max(ratio)
        value = db(worst**2) if worst > 0 else None
        out.put("hum_cancelling_db", value, "silent")
        out["hum_cancelling"] = "cancels" if value is None or value <= -20 else "partly" if value <= -6 else "no"

    def meter(self, out):
        quiet = dict(self.knobs)
        for part in self.harness.of("pot"):
            if part.p.get("role") == "volume":
                quiet[part.name] = 0.0
        stereo = len(self.circuit.outputs) > 1
        tip, ring, sleeve = (f"{self.jack}.{x}" for x in ("tip", "ring", "sleeve"))
        ports = [("meter", tip, sleeve)] + ([("meter_ring", ring, sleeve), ("meter_tip_ring", tip, ring)] if stereo else [])
        for name, a, b in ports:
            for suffix, knobs in (("", self.knobs), ("_volume_down", quiet)):
                value = self.ohms(knobs, a, b)
                out.put(f"{name}{suffix}_ohm", value, "open")
                if value is not None:
                    out[f"{name}{suffix}_coil_readable"] = any(
                        self.moves(knobs, a, b, value, i) for i in range(len(self.coils.sections)))

    def ohms(self, knobs, a, b, scale=None):
        return resistance(assemble(self.harness, self.throws, knobs, plugged=False, coils=self.coils, scale=scale), a, b)

    def moves(self, knobs, a, b, value, i):
        up, down = (self.ohms(knobs, a, b, {i: k}) for k in (1.01, 0.99))
        return value > 0 and abs(up - down) / 0.02 > 1e-6 * value

    def impedance(self, out):
        c = assemble(self.harness, self.throws, self.knobs, plugged=False, coils=self.coils)
        net = Network(c)
        node, sleeve = c.outputs[self.output], c.ground
        names = ("impedance_100_ohm", "impedance_1k_ohm", "impedance_max_ohm", "impedance_max_hz", "lcr_120_henry", "lcr_1k_henry")
        self.port = None
        if not net.same_island(node, sleeve):
            for n in names:
                out.put(n, None, "open")
            return
        self.port = lambda f: net.impedance(f, node, sleeve)[0]
        z = self.port(np.array([100.0, 1000.0, 120.0]))
        out["impedance_100_ohm"], out["impedance_1k_ohm"] = float(abs(z[0])), float(abs(z[1]))
        out["lcr_120_henry"] = clean(z[2].imag, abs(z[2])) / (2 * np.pi * 120)
        out["lcr_1k_henry"] = clean(z[1].imag, abs(z[1])) / (2 * np.pi * 1000)
        if not abs(z).any():
            out["impedance_max_ohm"], out["impedance_max_hz"], out["impedance_max_at_edge"] = 0.0, 20.0, True
            return

        def square(f):
            z, dz = net.impedance(f, node, sleeve)
            return np.abs(z) ** 2, 2 * np.real(np.conj(z) * dz) * 2 * np.pi * np.asarray(f)

        curve = Curve(square, 20.0, 20e3, net.natural())
        top = max(q[1] for q in curve.points)
        f, p, kind = next(q for q in curve.points if q[1] >= top * (1 - 1e-9))  # flat: the lowest frequency
        out["impedance_max_ohm"], out["impedance_max_hz"], out["impedance_max_at_edge"] = float(np.sqrt(p)), f, kind == "edge"

    def circuit_words(self, out, c):
        words = roles(self.harness, self.coils, self.throws, self.knobs, self.output, self.jack, c[0])
        names = [s.name for s in self.coils.sections]
        size = np.abs(c[0])
        nothing = size.sum() <= 1e-12
        m = None
        if len(names) and not nothing:
            m = min((i for i in range(len(names)) if size[i] >= size.max() * (1 - 1e-6)), key=lambda i: names[i])
        out["largest_coil"] = None if m is None else names[m]
        for i, n in enumerate(names):
            for k, v in words[i].items():
                if k != "bled_ohm" or v is not None:
                    out[f"coil.{n}.{k}"] = v
            for row, at in ((c[0], "100"), (c[1], "1k")):
                ok = m is not None and min(abs(row[i]), abs(row[m])) > 1e-12
                out[f"coil.{n}.share_{at}_db"] = clean(db(abs(row[i] / row[m]) ** 2), 0.1) if ok else None
                out[f"coil.{n}.sign_{at}"] = (1 if (row[i] * np.conj(row[m])).real >= 0 else -1) if ok else None
            out[f"coil.{n}.out_of_phase"] = bool(
                m is not None and words[i]["state"] in ("in circuit", "bled through")
                and (c[0][i] * np.conj(c[0][m])).real < 0 and size[i] > 1e-2 * size[m])
        strings = [set(self.coils.coils[s.coil].hears) for i, s in enumerate(self.coils.sections) if words[i]["contributes"]]
        out["no_string_drives_this"] = bool(strings and not set.intersection(*strings))

    def spots(self, out):
        f = np.array(SPOT)
        y = self.net.adjoint(f, self.node)
        signal, hum = self.net.contributions(y, "signal"), self.net.contributions(y, "hum")
        noise = np.sqrt(self.net.noise_density(y))
        z = self.port(f) if self.port else None
        for k, at in enumerate(f):
            tag = f"at.{at:g}"
            scale = np.abs(signal[k]).sum()
            nothing = 1e-2  # times clean's 1e-11: 1e-13 V
            parts = {"response": (signal[k].sum(), scale), "hum": (hum[k].sum(), np.abs(hum[k]).sum())}
            parts |= {f"coil.{s.name}": (signal[k, i], abs(signal[k, i])) for i, s in enumerate(self.coils.sections)}
            if z is not None:
                parts["impedance_ohm"] = (z[k], abs(z[k]))
            for n, (v, scale) in parts.items():
                scale = scale if n == "impedance_ohm" else max(scale, nothing)
                out[f"{tag}.{n}.re"], out[f"{tag}.{n}.im"] = clean(np.real(v), scale), clean(np.imag(v), scale)
            out[f"{tag}.noise_v"] = float(noise[k])


def compare_with(out, ref):
    """The figures that stand against the reference."""
    def difference(name, own, other):
        if own is None:
            out.put(name, None, "silent")
        elif other is None:
            out.put(name, None, "reference_silent")
        else:
            out[name] = own - other

    for n in ("level", "string_level", "level_powers", "string_level_powers", "hum", "buzz"):
        difference(f"{n}_re_reference_db", out[f"{n}_db"], ref[f"{n}_db"])
    shown = lambda r: r["string_level_powers_db"] if r["several_sound"] else r["string_level_db"]
    if out["plateau_db"] is None or out["resonance_hz"] is None:
        out.put("resonance_height_re_reference_db", None, "silent" if out["plateau_db"] is None else "none")
    else:
        difference("resonance_height_re_reference_db", out["plateau_db"] + out["resonance_height_db"], ref["plateau_db"])
    if shown(out) is None or out["hum_db"] is None:
        out.put("signal_over_hum_db", None, "silent")
        return
    own = shown(out) - out["hum_db"]
    against = shown(ref) is not None and ref["hum_db"] is not None
    out["signal_over_hum_db"] = own - (shown(ref) - ref["hum_db"]) if against else own
    out["signal_over_hum_plain"] = not against


def positions(harness, keys=None):
    coils, knobs = Coils(harness), harness.knobs()
    stereo = len(assemble(harness, harness.reference(), knobs, coils=coils).outputs) > 1
    out = []
    for output in ("tip", "ring") if stereo else ("tip",):
        its = harness.base or harness  # a variant's reference is the guitar's
        ref_throws = its.reference()
        ref = Voice(its, Coils(its), ref_throws, its.knobs(), output).figures()
        for key, name, throws in harness.positions():
            if keys and key not in keys:
                continue
            figures = Figures(ref) if throws == ref_throws and its is harness else Voice(harness, coils, throws, knobs, output).figures()
            compare_with(figures, ref)
            full = key if not stereo else f"output={output}" if key == "rest" else " ".join(sorted([*key.split(" "), f"output={output}"]))
            out.append({"key": full, "name": name, "throws": throws, "figures": dict(figures)})
    return out
