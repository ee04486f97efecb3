"""Coils of a harness as sections with R, L, loss, EMFs, and the inductance matrix over all of them."""
import math
from dataclasses import dataclass

import numpy as np

from readings import settle
from wiring import CONSTRUCTION, GAUGE_42, WIRE_OHMS


@dataclass
class Inductance:
    """One inductive element: L, the resistance across it (None: none), its coil, its part of the coil's coupling."""
    coil: int
    henries: float
    loss: float
    share: float


@dataclass
class Section:
    """What counts as a coil in the figures: between two lugs, EMFs at 1 V per 5,000 turns."""
    name: str
    coil: int
    start: str
    finish: str
    ohms: float
    signal: float
    hum: float
    inductances: list  # indices into Coils.inductances
    farads: float = 0.0  # a piezo element: in series


@dataclass
class Coil:
    name: str
    pickup: str
    lug: str
    dcr: float
    henries: float
    capacitance: float
    w: int
    turns: float
    hears: frozenset


class Coils:
    def __init__(self, harness):
        self.coils, self.sections, self.inductances, self._within = [], [], [], {}
        pairs = {}  # (coil, coil): M with dots at the starts
        for part in harness.parts.values():
            if part.kind == "coil":
                self._add(part.name, part.name, part.name, part.p, {}, harness)
            elif part.kind == "pickup":
                first = len(self.coils)
                for name, raw in part.p.get("coils", {}).items():
                    self._add(f"{part.name}.{name}", part.name, f"{part.name}.{name}", raw, part.p, harness)
                for i in range(first, len(self.coils)):
                    for j in range(i + 1, len(self.coils)):
                        pairs[i, j] = self._mutual(part.p, self.coils[i], self.coils[j])
            elif part.kind == "piezo":
                strings = frozenset(range(1, harness.strings + 1))
                self.coils.append(Coil(part.name, part.name, part.name, 0.0, 1.0, 0.0, 1, 0.0, strings))
                self.sections.append(Section(part.name, len(self.coils) - 1, f"{part.name}.plus", f"{part.name}.minus", 0.0,
                                             part.p.get("volts", 1.0), 0.0, []))
                self.sections[-1].farads = part.p["capacitance"]
        index = {c.name: i for i, c in enumerate(self.coils)}
        for a, b, k in harness.couplings:
            i, j = sorted((index[a], index[b]))
            pairs[i, j] = k * math.sqrt(self.coils[i].henries * self.coils[j].henries)
        n = len(self.inductances)
        self.matrix = np.zeros((n, n))
        for a, p in enumerate(self.inductances):
            for b, q in enumerate(self.inductances):
                if a == b:
                    self.matrix[a, b] = p.henries
                elif p.coil == q.coil:
                    self.matrix[a, b] = self._within.get((a, b), 0.0)
                else:
                    m = pairs.get((min(p.coil, q.coil), max(p.coil, q.coil)), 0.0)
                    self.matrix[a, b] = m * p.share * q.share
        if n:
            d = np.sqrt(np.diag(self.matrix))
            if np.linalg.eigvalsh(self.matrix / np.outer(d, d)).min() < -1e-12:
                raise ValueError("coupling matrix is not positive semidefinite")

    @staticmethod
    def _mutual(p, a, b):
        root = math.sqrt(a.henries * b.henries)
        if "coupling-signed" in p:
            return p["coupling-signed"] * root
        if "series-inductance" in p:  # L1 + L2 − 2·w1·w2·M in the link in which hum cancels
            return -a.w * b.w * (p["series-inductance"] - a.henries - b.henries) / 2
        k = p.get("coupling", 0.5 if p.get("stacked") else 0.15)
        return (1 if p.get("stacked") else -1) * a.w * b.w * k * root

    def _add(self, name, pickup, lug, raw, shared, harness):
        get = lambda key, default=None: raw.get(key, shared.get(key, default))
        wire = WIRE_OHMS(raw.get("gauge", GAUGE_42)) * raw.get("turn-length", 0.143)
        bench = raw["dcr"] if "dcr" in raw else raw["turns"] * wire
        warmer = 1 + 0.00393 * (raw["ohm at"][0] - 20) if "ohm at" in raw else 1.0
        dcr, henries = bench / warmer, raw["inductance"]
        construction = get("construction")
        per_henry, capacitance = CONSTRUCTION[construction] if construction else (None, 0.0)
        capacitance = raw.get("capacitance", capacitance)
        loss = raw.get("loss", ("ohm/H", per_henry) if per_henry else None)
        if "henry at" in raw or "quality" in raw or "resonance" in raw:
            read_l = (henries, *raw["henry at"]) if "henry at" in raw else henries
            per, ohms = loss if loss else (None, None)
            known = {None: lambda l: None, "ohm": lambda l: ohms, "ohm/H": lambda l: ohms * l, "chain": lambda l: ohms}[per]
            read_loss = raw["quality"] if "quality" in raw and "loss" not in raw else known
            read_c = raw["resonance"] if "resonance" in raw and "capacitance" not in raw else capacitance
            henries, found, capacitance = settle(bench, read_l, read_loss, read_c)
            henries, capacitance = float(henries), float(capacitance)
            if read_loss is not known:
                loss = ("ohm", float(found))
        pole = raw.get("pole", 1)
        w = raw["swing"] * pole if "swing" in raw else raw.get("wound", 1)
        turns = raw.get("turns") or dcr / wire
        hears = raw.get("hears", frozenset(range(1, harness.strings + 1)))
        at = len(self.coils)
        self.coils.append(Coil(name, pickup, lug, dcr, henries, capacitance, w, turns, hears))

        taps = sorted(((t["share"] if "share" in t else t["turns"] / turns), n, t) for n, t in raw.get("taps", {}).items())
        edges = [0.0, *[t[0] for t in taps], 1.0]
        shares = [b - a for a, b in zip(edges, edges[1:])]
        lugs = [f"{lug}.start", *[f"{lug}.{t[1]}" for t in taps], f"{lug}.finish"]
        kappa = raw.get("tap-coupling", 0.97)
        ohms = [dcr * s for s in shares]
        norm = sum((1 if i == j else kappa) * a * b for i, a in enumerate(shares) for j, b in enumerate(shares))
        each = [henries * s * s / norm for s in shares]
        if len(taps) == 1:
            measured = taps[0][2]
            if "dcr" in measured:
                first = measured["dcr"] / warmer
                ohms = [first, dcr - first]
            if "inductance" in measured:
                l1 = measured["inductance"]
                root = -kappa * math.sqrt(l1) + math.sqrt(kappa * kappa * l1 + henries - l1)
                each = [l1, root * root]
        elif any("dcr" in t[2] or "inductance" in t[2] for t in taps):
            raise ValueError("measured taps on more than two segments")
        whole_loss = None if loss is None or loss[0] == "chain" else loss[1] * (henries if loss[0] == "ohm/H" else 1)
        if loss and loss[0] == "chain" and taps:
            raise ValueError("a tap together with a loss chain")
        ends = ["start", *[t[1] for t in taps], "finish"]
        for n, s in enumerate(shares):
            first = len(self.inductances)
            if loss and loss[0] == "chain":
                for share, shunt in loss[1]:
                    self.inductances.append(Inductance(at, henries * share, shunt, share))
            else:
                self.inductances.append(Inductance(at, each[n], None if whole_loss is None else whole_loss * s, s))
            own = list(range(first, len(self.inductances)))
            scale = turns * s * w / 5000
            self.sections.append(Section(
                name if len(shares) == 1 else f"{name}.{ends[n]}..{ends[n + 1]}", at, lugs[n], lugs[n + 1], ohms[n],
                scale * pole * get("strength", 1.0), scale * get("hum-area", 1.0), own))
        if taps:
            own = [s.inductances[0] for s in self.sections if s.coil == at]
            for a in own:
                for b in own:
                    if a != b:
                        self._within[a, b] = kappa * math.sqrt(self.inductances[a].henries * self.inductances[b].henries)

    def groups(self):
        """Sensing groups: (pickup, strings heard) → indices of sections."""
        out = {}
        for i, s in enumerate(self.sections):
            c = self.coils[s.coil]
            out.setdefault((c.pickup, tuple(sorted(c.hears))), []).append(i)
        return out
