"""One position of a harness as a list of elements between joined nodes: parts, switch joints, pots at their knobs,
what is plugged in. A joint of exactly zero ohms merges its ends; nothing else does."""
import math
from dataclasses import dataclass, field

from coils import Coils


class Nodes:
    def __init__(self):
        self.parent = {}

    def find(self, a):
        self.parent.setdefault(a, a)
        while self.parent[a] != a:
            self.parent[a] = self.parent[self.parent[a]]
            a = self.parent[a]
        return a

    def join(self, a, b):
        self.parent[self.find(a)] = self.find(b)


@dataclass
class Resistor:
    a: str
    b: str
    ohms: float
    kind: str
    noisy: bool = True


@dataclass
class Capacitor:
    a: str
    b: str
    farads: float
    kind: str


@dataclass
class Branch:
    """EMF and resistance in series, from a to b: v_a − v_b = EMF + R·i."""
    a: str
    b: str
    ohms: float
    section: int


@dataclass
class Inductor:
    a: str
    b: str
    index: int


@dataclass
class Amplifier:
    """v_out − v_ground = gain·(v_in − v_ground + noise)."""
    inp: str
    out: str
    ground: str
    gain: float
    noise_volts: float
    noise_amperes: float
    minus: str = None  # else the ground


@dataclass
class Circuit:
    nodes: Nodes = field(default_factory=Nodes)
    resistors: list = field(default_factory=list)
    capacitors: list = field(default_factory=list)
    branches: list = field(default_factory=list)
    inductors: list = field(default_factory=list)
    amplifiers: list = field(default_factory=list)
    matrix: object = None
    sections: list = None
    ground: str = None
    outputs: dict = field(default_factory=dict)  # 'tip' → node of the amp input (or of the jack, unplugged)

    def resistor(self, a, b, ohms, kind, noisy=True):
        if ohms == 0:
            self.nodes.join(a, b)
        elif ohms != float("inf"):
            self.resistors.append(Resistor(a, b, ohms, kind, noisy))

    def capacitor(self, a, b, farads, kind):
        if farads:
            self.capacitors.append(Capacitor(a, b, farads, kind))


def taper_fraction(law, r):
    word, share = law
    if word == "linear":
        return r
    if word == "reverse-audio":
        return 1 - taper_fraction(("audio", share), 1 - r)
    return 2 * share * r if r <= 0.5 else share + (1 - share) * (2 * r - 1)


def pot(c, part, r):
    p = part.p
    gangs = p.get("gangs", {})
    if p.get("blend"):
        gangs = {"a": gangs.get("a", {}), "b": gangs.get("b", {})}
    for name, own in (gangs or {None: p}).items():
        lug = f"{part.name}." if name is None else f"{part.name}.{name}."
        track = own.get("track", p.get("track"))
        if p.get("blend"):
            x = min(1.0, 2 * r) if name == "a" else min(1.0, 2 * (1 - r))
        else:
            x = taper_fraction(own.get("taper", p.get("taper", ("audio", .15))), r)
        if (p.get("no-load") or own.get("no-load")) and r == 1:
            c.resistor(lug + "1", lug + "3", track, "pot")
        else:
            c.resistor(lug + "1", lug + "2", track * x, "pot")
            c.resistor(lug + "2", lug + "3", track * (1 - x), "pot")


def switch(c, part, throw):
    contact = part.p.get("contact", 0.0)
    for joint in part.p["throws"][throw]:
        for lug in joint[1:]:
            c.resistor(f"{part.name}.{joint[0]}", f"{part.name}.{lug}", contact, "contact")


def run_capacitance(p):
    return p["capacitance"] if "capacitance" in p else p.get("length", 0.0) * p.get("per-metre", 0.0)


def run(c, inp, out, screen, p, kind):
    """Shielded wire: its resistance first, then its capacitance at the far end."""
    c.resistor(inp, out, p.get("resistance", 0.0), kind)
    c.capacitor(out, screen, run_capacitance(p), kind)


def buffer(c, inp, out, ground, p, tag):
    c.resistor(inp, ground, p["input"], "buffer", noisy=False)
    c.capacitor(inp, ground, p.get("input-capacitance", 0.0), "buffer")
    source = f"#{tag}/source"
    c.amplifiers.append(Amplifier(inp, source, ground, p.get("gain", 1.0), p.get("noise", 0.0), p.get("current-noise", 0.0)))
    c.resistor(source, out, p.get("output", 0.0), "buffer", noisy=False)


def op_amp(c, lug, p, tag):
    """v(out) = A·(v(plus) − v(minus)), with one pole where a gain-bandwidth product is said."""
    gain, heard, current = p.get("open-loop", 1e6), lug + "plus", p.get("current-noise", 0.0)
    out, ground = lug + "out", lug + "ground"
    fast = f"#{tag}/fast" if "bandwidth" in p else out
    c.amplifiers.append(Amplifier(heard, fast, ground, gain, p.get("noise", 0.0), current, lug + "minus"))
    if "bandwidth" in p:
        c.resistor(fast, f"#{tag}/slow", 1e3, "pole", noisy=False)
        c.capacitor(f"#{tag}/slow", ground, gain / (2 * math.pi * p["bandwidth"] * 1e3), "part")
        c.amplifiers.append(Amplifier(f"#{tag}/slow", out, ground, 1.0, 0.0, 0.0))


def without_supply(harness, c):
    """Active parts whose supply lug is wired, and that no battery reaches through closed contacts and at most 10 kΩ."""
    joined = Nodes()
    for n in list(c.nodes.parent):
        joined.join(n, c.nodes.find(n))
    for r in c.resistors:
        if r.ohms <= 10e3 and r.kind not in ("battery", "pole"):
            joined.join(r.a, r.b)
    same = lambda a, b: joined.find(a) == joined.find(b)
    off = set()
    for part in harness.parts.values():
        supply, ground = f"{part.name}.supply", f"{part.name}.ground"
        if part.kind not in ("buffer", "opamp") or not harness.of("battery") or not any(supply in w for w in harness.wires):
            continue
        if not any(same(f"{b.name}.plus", supply) and same(f"{b.name}.minus", ground) for b in harness.of("battery")):
            off.add(part.name)
    return off


def pickup(c, part, p):
    lug = part.name + "."
    for colour, end in p.get("leads", {}).items():
        c.nodes.join(lug + colour, lug + end)
    for a, b in p.get("joints", []):
        c.nodes.join(lug + a, lug + b)
    for (a, b), whole in p.get("jumpers", {}).items():
        if whole:
            c.nodes.join(lug + a, lug + b)
    for bond in p.get("bonds", []):
        for other in bond[1:]:
            c.nodes.join(lug + bond[0], lug + other)
    first = next(iter(p["coils"]))
    for what, end in (("cover", "finish"), ("plate", "start")):
        if what in p:
            farads, origin = p[what]
            c.capacitor(lug + (origin or f"{first}.{end}"), lug + what, farads, what)


def chain(harness, jack, output):
    """The parts that stand after this output of the jack, in order, as (kind, properties)."""
    starts = (f"{jack.name}.{output}", jack.name)
    plug = next((p for start in starts for p in harness.plugs if p[0] == start), None)
    if plug:
        return [(harness.parts[n].kind, harness.parts[n].p) for n in plug[1:]]
    cables, amps = harness.of("cable"), harness.of("amp")
    if len(cables) > 1 or len(amps) > 1:
        raise ValueError("several cables or amps and no plug")
    out = []
    if not cables:
        out.append(("cable", {"capacitance": 5 * 100e-12}))
    elif not cables[0].p.get("none"):
        out.append(("cable", cables[0].p))
    out.append(("amp", amps[0].p if amps else {"input": 1e6}))
    return out


def assemble(harness, throws, knobs, plugged=True, lifted=(), coils=None, scale=None):
    """`lifted`: sections taken out together with the winding capacitance of their coil. `scale`: factor on a section's R."""
    coils = coils or Coils(harness)
    c = Circuit(sections=coils.sections, matrix=coils.matrix)
    for a, b in harness.wires:
        c.nodes.join(a, b)
    for part in harness.parts.values():
        p, lug = part.p, part.name + "."
        if part.kind == "pickup":
            pickup(c, part, p)
        elif part.kind == "pot":
            pot(c, part, knobs[part.name])
        elif part.kind == "switch":
            switch(c, part, throws[part.name])
        elif part.kind == "resistor":
            c.resistor(lug + "1", lug + "2", p["value"], "resistor")
        elif part.kind == "capacitor":
            loss = p.get("loss", 0.0) / (2 * math.pi * 1000 * p["value"])
            c.resistor(lug + "1", f"#{lug}plate", loss, "capacitor-loss")
            c.capacitor(f"#{lug}plate", lug + "2", p["value"], "part")
        elif part.kind == "inductor":
            c.resistor(lug + "1", f"#{lug}winding", p.get("dcr", 0.0), "inductor")
            c.inductors.append(Inductor(f"#{lug}winding", lug + "2", (p["value"],)))
        elif part.kind == "lead":
            run(c, lug + "in", lug + "out", lug + "screen", p, "lead")
        elif part.kind == "opamp":
            op_amp(c, lug, p, part.name)
        elif part.kind == "battery":
            c.resistor(lug + "plus", lug + "minus", p.get("resistance", 1.0), "battery")
        elif part.kind == "buffer" and not any(part.name in plug for plug in harness.plugs):
            buffer(c, lug + "in", lug + "out", lug + "ground", p, part.name)
    out_lugs = {"strings", "shield", "splice"}
    for part in harness.parts.values():
        if part.kind in out_lugs:
            c.nodes.find(part.name)
    windings(c, coils, lifted, scale or {})
    jack = harness.of("jack")[0]
    c.ground = f"{jack.name}.sleeve"
    two = any(plug[0] == f"{jack.name}.ring" for plug in harness.plugs)
    if jack.p.get("stereo") and not two:  # a mono plug
        c.nodes.join(f"{jack.name}.ring", c.ground)
    for output in ("tip", "ring") if two else ("tip",):
        at = f"{jack.name}.{output}"
        for n, (kind, p) in enumerate(chain(harness, jack, output) if plugged else []):
            after = f"#{output}/{n}"
            if kind == "cable":
                run(c, at, after, c.ground, p, "cable")
            elif kind == "buffer":
                buffer(c, at, after, c.ground, p, after)
            elif kind == "amp":
                c.nodes.join(at, after)
                c.resistor(after, c.ground, p["input"], "amp", noisy=False)
                c.capacitor(after, c.ground, p.get("capacitance", 0.0), "amp")
            at = after
        c.outputs[output] = at
    c.nodes.find(c.ground)
    for name in without_supply(harness, c):
        for a in c.amplifiers:
            if a.out in (f"#{name}/source", f"#{name}/fast", f"{name}.out"):
                a.gain = 0.0
    return c


def windings(c, coils, lifted, scale):
    gone = {coils.sections[i].coil for i in lifted}
    for n, coil in enumerate(coils.coils):
        if n not in gone and coil.capacitance:
            c.capacitor(f"{coil.lug}.start", f"{coil.lug}.finish", coil.capacitance, "winding")
    for i, s in enumerate(coils.sections):
        if i in lifted:
            continue
        at = f"#{s.name}/0"
        c.branches.append(Branch(s.start, at, s.ohms * scale.get(i, 1.0), i))
        if s.farads:
            c.capacitor(at, s.finish, s.farads, "piezo")
        for k, index in enumerate(s.inductances):
            after = s.finish if k == len(s.inductances) - 1 else f"#{s.name}/{k + 1}"
            c.inductors.append(Inductor(at, after, index))
            loss = coils.inductances[index].loss
            if loss is not None:
                c.resistor(at, after, loss, "loss")
            at = after
