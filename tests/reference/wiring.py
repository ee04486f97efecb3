"""A harness file as a model: parts with their properties, wires, positions with keys.

Written from pickup-dsl/LANGUAGE.md alone. Choices where it leaves room are listed in README.md, 'Readings'.
Errors are ValueError: this program serves files that are known to be good.
"""
import itertools
import math
from pathlib import Path

import given
import short
from bodies import BODIES, rotary, selector
from grammar import Text, parse
from values import is_number, take

WIRE_OHMS = lambda mm: (1 / 58) / (math.pi / 4 * mm ** 2)  # Ω/m, IACS
GAUGE_42 = 0.127 * 92 ** ((36 - 42) / 39)  # mm, ASTM B258
CONSTRUCTION = {  # loss per henry (Ω/H), winding capacitance (F): see LANGUAGE.md, constructions
    "single-rod": (300e3, 120e-12),
    "single-steel": (110e3, 120e-12),
    "double-open": (140e3, 90e-12),
    "double-nickel": (90e3, 90e-12),
    "double-brass": (35e3, 90e-12),
}
NAMELESS = {"jack", "cable", "amp", "strings", "shield"}


class Part:
    def __init__(self, kind, name):
        self.kind, self.name, self.p = kind, name, {}


def sign(word, positive, negative):
    if word not in (positive, negative):
        raise ValueError(f"{word!r}: {positive} or {negative}")
    return 1 if word == positive else -1


def one(items, *dims):
    d, value, end = take(items, 0, *dims)
    if end != len(items):
        raise ValueError(f"left over: {items[end:]}")
    return value


# ---- coils ---------------------------------------------------------------------------------------------------------

def coil_property(p, items):
    key, rest = items[0], items[1:]
    if key in ("dcr", "inductance"):
        if reading(p, rest, 0, "ohm" if key == "dcr" else "henry") != len(rest):
            raise ValueError(f"left over: {rest}")
    elif key == "quality":
        _, q, i = take(rest, 0, "number")
        p["quality"] = (q, one(rest[i + 1:], "hertz"))
    elif key == "resonance":
        _, f, i = take(rest, 0, "hertz")
        load = {"farad": 0.0, "ohm": None}
        of, i = rest[i + 1], i + 3
        while i < len(rest):
            d, v, i = take(rest, i, "farad", "ohm")
            load[d] = v
        p["resonance"] = (f, of, load["farad"], load["ohm"])
    elif key == "gauge":
        p["gauge"] = wire_size(rest)
    elif key == "capacitance":
        p["capacitance"] = one(rest, "farad")
    elif key == "loss":
        if rest[0] == "chain":
            p["loss"] = ("chain", [(take(g, 0, "share")[1], take(g, 1, "ohm")[1] if len(g) > 1 else None) for g in rest[1:]])
        else:
            d, v, _ = take(rest, 0, "ohm/H", "ohm")
            p["loss"] = (d, v)
    elif key == "construction":
        p["construction"] = rest[0]
        CONSTRUCTION[rest[0]]
    elif key in ("turns", "strength", "hum-area"):
        p[key] = one(rest, "number")
    elif key == "turn-length":
        p[key] = one(rest, "metre")
    elif key == "tap-coupling":
        p[key] = one(rest, "number")
    elif key == "wound":
        p["wound"] = sign(rest[0], "forward", "reverse")
        p.pop("swing", None)
    elif key == "pole":
        p["pole"] = sign(rest[0], "north", "south")
    elif key == "swing":
        p["swing"] = sign(rest[0], "up", "down")
        p.pop("wound", None)
    elif key == "dummy":
        p["strength"] = 0.0
    elif key == "hears":
        p["hears"] = frozenset(int(s) for s in rest[0])
    elif key == "tap":
        tap(p, rest)
    else:
        return False
    return True


def wire_size(items):
    d, v, i = take(items, 0, "mm", "awg", "number")
    if i != len(items):
        raise ValueError(f"left over: {items}")
    return v if d == "mm" else 0.127 * 92 ** ((36 - v) / 39)


def reading(p, items, i, *dims):
    """A resistance or an inductance at items[i], with the temperature or the frequency and mode at which it was read."""
    d, v, i = take(items, i, *dims)
    p[{"henry": "inductance", "farad": "capacitance", "ohm": "dcr"}[d]] = v
    p.pop(f"{d} at", None)
    if i < len(items) and items[i] == "at":
        _, at, i = take(items, i + 1, "celsius" if d == "ohm" else "hertz")
        mode = "series"
        if i < len(items) and items[i] in ("series", "parallel"):
            mode, i = items[i], i + 1
        p[f"{d} at"] = (at, mode)
    return i


def tap(p, items):
    name = items[0]
    if items[1] != "at":
        raise ValueError("tap NAME at …")
    d, at, i = take(items, 2, "share")
    in_turns = i < len(items) and items[i] == "turns"
    t = {"turns" if in_turns else "share": at}
    i += in_turns
    while i < len(items):
        key = items[i]
        _, v, i = take(items, i + 1, {"dcr": "ohm", "inductance": "henry"}[key])
        t[key] = v
    p.setdefault("taps", {})[name] = t


def coil_line(p, items, open_tap):
    """One clause of a coil. Right after a tap on the same line, `dcr` and `inductance` are what was measured at it."""
    if open_tap and items[0] in ("dcr", "inductance"):
        p["taps"][open_tap][items[0]] = one(items[1:], {"dcr": "ohm", "inductance": "henry"}[items[0]])
        return open_tap
    if not coil_property(p, items):
        coil_values(p, items)
    return items[1] if items[0] == "tap" else None


def coil_values(p, items):
    i = 0
    while i < len(items):
        if is_number(items[i]) or items[i] == "code":
            after = items[i + 1] if i + 1 < len(items) else None
            if after == "turns":
                p["turns"], i = float(items[i]), i + 2
            elif after == "AWG" or items[i].endswith(("AWG", "mm")):
                j = i + (2 if after == "AWG" else 1)
                p["gauge"], i = wire_size(items[i:j]), j
            else:
                i = reading(p, items, i, "henry!", "farad", "ohm")
        else:  # be kind: the rest of the clause as one property
            if not coil_property(p, items[i:]):
                raise ValueError(f"coil: {items[i:]}")
            return


def pickup_property(p, clauses, block, scope):
    """One line of a pickup. A coil, wire or jumper takes the clauses that follow it on its line."""
    items = clauses[0]
    key, rest = items[0], items[1:]
    if key == "coil":
        raw = p.setdefault("coils", {}).setdefault(rest[0], {})
        fill(raw, "coil", rest[1:], clauses[1:], block, scope)
        return
    if key == "wire":
        p.setdefault("joints", []).extend(wire_pairs(rest, clauses[1:]))
        return
    if key == "jumper":
        cut = any(c == ["cut"] for c in clauses[1:]) or rest[-1] == "cut"
        p.setdefault("jumpers", {})[(rest[0], rest[2])] = not cut
        return
    if key in ("construction", "strength", "hum-area"):
        coil_property(p, items)
    elif key == "coupling":
        for k in ("coupling", "coupling-signed", "series-inductance"):
            p.pop(k, None)
        if rest[0] == "start-to-start":
            p["coupling-signed"] = one(rest[1:], "number")
        else:
            p["coupling"] = one(rest, "number")
    elif key == "series-inductance":
        for k in ("coupling", "coupling-signed"):
            p.pop(k, None)
        p[key] = one(rest, "henry")
    elif key == "stacked":
        p["stacked"] = True
    elif key == "lead":
        p.setdefault("leads", {})[rest[0]] = rest[1]
    elif key == "bond":
        p.setdefault("bonds", []).append(rest[0])
    elif key in ("cover", "plate"):
        _, v, i = take(rest, 0, "farad")
        p[key] = (v, rest[i + 1] if i < len(rest) else None)
    else:
        raise ValueError(f"pickup: {items}")
    for more in clauses[1:]:
        pickup_property(p, [more], None, scope)


# ---- the other parts -----------------------------------------------------------------------------------------------

def taper(items, i):
    """A taper at items[i], or None. Returns ((law, share), next index)."""
    word = items[i]
    if word == "code":
        code = {"asian": {"A": ("audio", .15), "B": ("linear", 0), "C": ("reverse-audio", .15)},
                "european": {"A": ("linear", 0), "B": ("audio", .15), "C": ("audio", .15), "F": ("reverse-audio", .15)}}
        return code[items[i + 2]][items[i + 1]], i + 3
    if word == "linear":
        return ("linear", 0), i + 1
    if word in ("audio", "reverse-audio"):
        if i + 1 < len(items) and is_number(items[i + 1]):
            _, share, i = take(items, i + 1, "share")
            return (word, share), i
        return (word, .15), i + 1
    return None, i


def pot_values(p, items):
    i = 0
    while i < len(items):
        law, j = taper(items, i)
        if law:
            p["taper"], i = law, j
        elif is_number(items[i]):
            _, p["track"], i = take(items, i, "ohm")
        else:
            pot_property(p, items[i:])
            return


def pot_property(p, items):
    key, rest = items[0], items[1:]
    if key == "track":
        p["track"] = one(rest, "ohm")
    elif key == "taper":
        p["taper"], _ = taper(rest, 0)
    elif key == "role":
        p["role"] = rest[0]
    elif key in ("no-load", "blend"):
        p[key] = True
    elif key == "rest":
        p["rest"] = one(rest, "number")
    elif key == "gang":
        gang = p.setdefault("gangs", {}).setdefault(rest[0], {})
        pot_values(gang, rest[1:])
    else:
        law, j = taper(items, 0)
        if not law:
            raise ValueError(f"pot: {items}")
        p["taper"] = law


VALUES = {  # kind: what may follow the name at once, in the order in which a bare value is tried
    "resistor": {"ohm": "value"},
    "capacitor": {"farad": "value"},
    "inductor": {"henry!": "value", "ohm": "dcr"},
    "lead": {"farad/m": "per-metre", "metre": "length", "farad": "capacitance"},
    "cable": {"farad/m": "per-metre", "metre": "length", "farad": "capacitance"},
    "amp": {"farad": "capacitance", "ohm": "input"},
    "piezo": {"farad": "capacitance"},
    "battery": {"volt": "volts"},
    "buffer": {"farad": "input-capacitance", "ohm": "input"},
}
PROPERTY = {
    "resistor": {"value": "ohm"},
    "capacitor": {"value": "farad", "loss": "share"},
    "inductor": {"inductance": "henry", "dcr": "ohm"},
    "lead": {"resistance": "ohm", "capacitance": "farad", "length": "metre"},
    "cable": {"resistance": "ohm", "capacitance": "farad", "length": "metre"},
    "amp": {"input": "ohm", "capacitance": "farad"},
    "piezo": {"capacitance": "farad", "volts": "volt"},
    "battery": {"volts": "volt", "resistance": "ohm"},
    "opamp": {"open-loop": "gain", "bandwidth": "hertz", "noise": "volt", "current-noise": "ampere"},
    "buffer": {"input": "ohm", "input-capacitance": "farad", "gain": "gain", "output": "ohm", "noise": "volt",
               "current-noise": "ampere"},
}


def simple_values(p, kind, items):
    i = 0
    while i < len(items):
        if items[i] in ("stereo", "none", "switched"):
            p[items[i]] = True
            i += 1
        elif kind in VALUES and (is_number(items[i]) or items[i] == "code"):
            d, v, i = take(items, i, *VALUES[kind])
            p[{k.rstrip("!"): n for k, n in VALUES[kind].items()}[d]] = v
        else:
            simple_property(p, kind, items[i:])
            return


def simple_property(p, kind, items):
    if items[0] in ("stereo", "none", "switched"):
        p[items[0]] = True
        return
    if kind == "inductor" and items[0] == "inductance":
        p["value"] = one(items[1:], "henry")
        return
    p[items[0]] = one(items[1:], PROPERTY[kind][items[0]])


def switch_property(p, items):
    items = given.ranged(items)
    key, rest = items[0], items[1:]
    if key == "lugs":
        p["lugs"] = rest[0]
    elif key == "poles":
        p["lugs"], p["throws"] = selector(rest[0], rest[2])
    elif key == "throw":
        if rest[1:2] == ["between"]:
            p.setdefault("between", set()).add(rest[0])
            rest = [rest[0], *rest[2:]]
        p.setdefault("throws", {})[rest[0]] = rest[2:] if len(rest) > 1 else []
    elif key == "rest":
        p["rest"] = rest[0]
    elif key == "contact":
        p["contact"] = one(rest, "ohm")
    elif key in ("break-first", "make-first", "momentary"):
        p[key] = True
    else:
        raise ValueError(f"switch: {items}")


def fill(p, kind, values, clauses, block, scope):
    """Properties of a part in their order: a pattern first, then what follows."""
    if values[:1] == ["is"]:
        clauses, block = pattern(p, kind, values[1], scope, clauses, block)
        values = values[2:]
    if kind == "pickup":
        if values:
            pickup_property(p, [values], None, scope)
        if clauses:
            pickup_property(p, clauses, None, scope)
        for s in block or []:
            pickup_property(p, s.clauses, s.block, scope)
        return
    if kind == "coil":
        coil_values(p, values)
        for line in (clauses, *[s.clauses for s in block or []]):
            open_tap = None
            for items in line:
                open_tap = coil_line(p, items, open_tap)
        return
    first, each = {
        "pot": (pot_values, pot_property),
        "switch": (lambda p, i: i and switch_property(p, i), switch_property),
    }.get(kind, (lambda p, i: simple_values(p, kind, i), lambda p, i: simple_property(p, kind, i)))
    first(p, values)
    for items in itertools.chain(clauses, *[s.clauses for s in block or []]):
        each(p, items)


def pattern(p, kind, name, scope, clauses, block):
    """Fills in a pattern; gives back the clauses and the block without what they gave to it."""
    found = scope.get((kind, name))
    if found is None and kind == "switch" and name == "rotary":
        values, clauses, block = given.arguments({"ways": ["6"], "decks": [["A"]]}, clauses, block)
        fill_body(p, rotary(given.ranged(values["decks"][0]), int(values["ways"][0])))
        return clauses, block
    if found is None and kind == "switch" and name in BODIES:
        fill_body(p, BODIES[name])
        return clauses, block
    if found is None:
        raise ValueError(f"no {kind} pattern {name!r}")
    statement, inner = found
    statement, givens = given.split(statement)
    if givens:
        values, clauses, block = given.arguments(givens, clauses, block)
        statement = given.filled(statement, values, 5 if statement.head[3:4] == ["is"] else 3)
    fill(p, kind, statement.head[3:], statement.clauses[1:], statement.block, inner)
    return clauses, block


def fill_body(p, body):
    p.update({k: v for k, v in body.items() if k != "momentary"})
    if body["momentary"]:
        p["momentary"] = True


# ---- wires ---------------------------------------------------------------------------------------------------------

def wire_pairs(items, more):
    """`A to B to C` is a chain; what follows a comma is joined to A; brackets are several ends."""
    steps, pairs = [list(g) for k, g in itertools.groupby(items, lambda x: x == "to") if not k], []
    ends = [s[0] if isinstance(s[0], list) else s for s in steps]
    for a, b in zip(ends, ends[1:]):
        pairs += [(x, y) for x in a for y in b]
    for clause in more:
        pairs += [(ends[0][0], y) for y in clause if y != "to"]
    return pairs


# ---- the file ------------------------------------------------------------------------------------------------------

class Harness:
    def __init__(self, path, variant=None):
        self.path = Path(path)
        self.variants, self.base = {}, None if variant is None else Harness(path)
        self.title, self.mains, self.strings, self.named_only = None, 50.0, 6, False
        self.parts, self.wires, self.couplings, self.names, self.plugs = {}, [], [], {}, []
        self.reference_throws = self.reference_name = None
        self.shorts, self.geometry = [], None
        self.read(parse(self.path.read_text("utf-8")), {}, self.path.parent)
        for items, clauses in self.shorts:
            self.wires += short.written_out(self, items, clauses)
        if variant is not None:
            self.vary(self.variants[variant], self.scope)
        self.switches = [q for q in self.parts.values() if q.kind == "switch"]
        for q in self.switches:
            q.p.setdefault("between", set())
            q.p.setdefault("rest", next(iter(q.p["throws"])))

    def of(self, kind):
        return [q for q in self.parts.values() if q.kind == kind]

    def read(self, statements, scope, folder, patterns_only=False):
        for s in statements:
            items, kind = s.head, s.head[0]
            try:
                if kind == "coilwright":
                    if items[1] != "1":
                        raise ValueError("unknown version")
                elif kind == "pattern":
                    scope[(items[1], items[2])] = (s, scope)
                elif kind == "use":
                    inner = {}
                    self.read(parse((folder / items[1]).read_text("utf-8")), inner, (folder / items[1]).parent, True)
                    scope.update({(k, f"{items[3]}.{n}"): v for (k, n), v in inner.items()})
                elif kind == "variant":
                    self.variants[str(items[1])], self.scope = s.block, scope
                elif patterns_only:
                    raise ValueError("a used file holds patterns only")
                else:
                    self.statement(s, items, kind, scope)
            except (ValueError, KeyError, IndexError) as e:
                raise ValueError(f"{self.path.name}:{s.line}: {type(e).__name__} {e}") from e

    def statement(self, s, items, kind, scope):
        if kind == "guitar":
            self.title = items[1]
        elif kind in ("coils", "tone-control", "treble-bleed"):
            self.shorts.append((items, s.clauses[1:]))
        elif kind == "wire":
            self.wires += wire_pairs(items[1:], s.clauses[1:])
        elif kind == "coupling":
            self.couplings.append((items[1], items[2], one(items[3:], "number")))
        elif kind == "mains":
            self.mains = one(items[1:], "hertz")
        elif kind == "string-count":
            self.strings = int(items[1])
        elif kind == "positions":
            if items[1:] != ["named", "only"]:
                raise ValueError("positions named only")
            self.named_only = True
        elif kind == "position":
            self.names[str(items[1])] = self.throws([items[2:], *s.clauses[1:]])
        elif kind == "reference":
            if isinstance(items[1], Text):
                self.reference_name = str(items[1])
            elif items[1] == "from":
                raise ValueError("a reference from another file is not done here")
            else:
                self.reference_throws = self.throws([items[1:], *s.clauses[1:]])
        elif kind in ("intend", "mute", "expect", "curve"):
            pass  # what is meant changes no figure
        elif kind == "geometry":
            inner = [c for t in (s.block or []) for c in t.clauses]
            self.geometry = [c for c in [items[1:], *s.clauses[1:], *inner] if c]
        elif kind == "plug":
            self.plugs.append([x for x in items[1:] if x != "to"])
        else:
            nameless = kind in NAMELESS and (len(items) == 1 or is_number(items[1]) or items[1] in ("none", "stereo", "switched"))
            name = kind if nameless else items[1]
            if name in self.parts:
                raise ValueError(f"{name} twice")
            part = self.parts[name] = Part(kind, name)
            fill(part.p, kind, items[1 if nameless else 2 :], s.clauses[1:], s.block, scope)

    def vary(self, block, scope):
        plugged = False
        for s in block:
            items, kind = s.head, s.head[0]
            gone = lambda lug, names: lug in names or lug.split(".")[0] in names
            if kind == "remove":
                names = [n for c in s.clauses for n in c if n != "remove"]
                self.parts = {n: p for n, p in self.parts.items() if n not in names}
                self.wires = [w for w in self.wires if not any(gone(lug, names) for lug in w)]
                continue
            if kind == "unsolder":
                pair = {items[1], *items[3:]}
                self.wires = [w for w in self.wires if not (pair <= set(w))]
                continue
            if kind == "plug" and not plugged:
                plugged, self.plugs = True, []
            nameless = kind in NAMELESS and (len(items) == 1 or is_number(items[1]) or items[1] == "none")
            of_kind = self.of(kind)
            name = of_kind[0].name if nameless and len(of_kind) == 1 else kind if nameless else items[1]
            part = self.parts.get(name) if kind not in ("wire", "position") else None
            values = items[1 if nameless else 2 :]
            if part is None or part.kind != kind or values[:1] == ["is"]:
                self.parts.pop(name, None) if part else None
                self.statement(s, items, kind, scope)
                continue
            before = dict(part.p)
            fill(part.p, kind, values, s.clauses[1:], s.block, scope)
            if part.p.get("per-metre") != before.get("per-metre"):
                part.p.pop("capacitance", None)

    @staticmethod
    def throws(clauses):
        return {c[0]: c[1] for c in clauses if c}

    # -- positions

    def full(self, throws):
        return {q.name: throws.get(q.name, q.p["rest"]) for q in self.switches}

    def key(self, throws):
        pairs = sorted(f"{q.name}={throws[q.name]}" for q in self.switches if throws[q.name] != q.p["rest"])
        return " ".join(pairs) or "rest"

    def positions(self):
        """[(key, name or None, {switch: throw})] in report order."""
        named = {self.key(self.full(t)): n for n, t in self.names.items()}
        if self.named_only:
            return [(self.key(self.full(t)), n, self.full(t)) for n, t in self.names.items()]
        axes = [[t for t in q.p["throws"] if t not in q.p["between"]] for q in self.switches]
        names = [q.name for q in self.switches]
        all_throws = [dict(zip(names, combination)) for combination in itertools.product(*axes)]
        return [(self.key(t), named.get(self.key(t)), t) for t in all_throws]

    def reference(self):
        if self.reference_name is not None:
            return self.full(self.names[self.reference_name])
        return self.full(self.reference_throws or {})

    def knobs(self, **override):
        out = {}
        for q in self.of("pot"):
            out[q.name] = q.p.get("rest", 5.0 if q.p.get("blend") or q.p.get("role") == "blend" else 10.0) / 10
        out.update(override)
        return out
