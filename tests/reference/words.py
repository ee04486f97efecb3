"""The state of each coil in one position, as words."""
from assembly import Nodes, assemble
from network import Network, resistance

LEFT_OUT = {"winding", "cover", "plate"}


def _reach(edges, start, without=None):
    seen, todo = {start}, [start]
    while todo:
        at = todo.pop()
        for n in edges.get(at, ()):
            if n not in seen and n != without:
                seen.add(n)
                todo.append(n)
    return seen


def _graph(c, find, through_amplifiers):
    edges = {}
    pairs = [(e.a, e.b) for e in (*c.resistors, *c.branches, *c.inductors)]
    pairs += [(k.a, k.b) for k in c.capacitors if k.kind not in LEFT_OUT]
    pairs += [(a.out, a.ground) for a in c.amplifiers]
    if through_amplifiers:
        pairs += [(n, a.out) for a in c.amplifiers for n in (a.inp, a.minus) if n]
    for a, b in pairs:
        a, b = find(a), find(b)
        edges.setdefault(a, set()).add(b)
        edges.setdefault(b, set()).add(a)
    return edges


def state(harness, coils, throws, knobs, i, output, jack):
    """('shorted' | 'open' | 'hanging from hot' | 'hanging from ground' | 'bled through' | 'in circuit', ohms across or None)"""
    c = assemble(harness, throws, knobs, lifted=(i,), coils=coils)
    s = coils.sections[i]
    joints = Nodes()  # a contact's milliohms are a joint here, as they are for 'shorted'
    for r in c.resistors:
        if r.ohms <= 1:
            joints.join(c.nodes.find(r.a), c.nodes.find(r.b))
    find = lambda n: joints.find(c.nodes.find(n))
    a, b, ground, hot = find(s.start), find(s.finish), find(c.ground), find(f"{jack}.{output}")
    across = resistance(c, s.start, s.finish, resistors_only=True)
    if across is not None and across <= 1:
        return "shorted", across
    edges = _graph(c, find, False)
    if b not in _reach(edges, a):
        main = _reach(edges, ground) | _reach(edges, hot)
        ends = [n for n in (a, b) if n in main]
        if not ends:
            return "open", None
        if ends[0] != ground and hot != ground and hot in _reach(_graph(c, find, True), ends[0], without=ground):
            return "hanging from hot", None
        return "hanging from ground", None
    if across is not None and across <= 20e3:
        return "bled through", across
    return "in circuit", None


def roles(harness, coils, throws, knobs, output, jack, c100):
    """Per section a dict of words; `c100`: contributions at 100 Hz."""
    n = len(coils.sections)
    out = []
    size = abs(c100)
    largest = size.max() if n else 0.0
    for i in range(n):
        word, across = state(harness, coils, throws, knobs, i, output, jack)
        out.append({"state": word, "bled_ohm": across if word == "bled through" else None,
                    "contributes": bool(largest > 1e-12 and size[i] > 1e-3 * largest), "in_series_with": [], "parallel_with": []})
    live = [i for i in range(n) if out[i]["state"] in ("in circuit", "bled through")]
    series = set()
    for j in live:
        c = assemble(harness, throws, knobs, lifted=(j,), coils=coils)
        net = Network(c)
        lifted = abs(net.contributions(net.adjoint([100.0], c.outputs[output]), "signal")[0])
        for i in live:
            if i != j and out[i]["contributes"] and lifted[i] < 1e-2 * size[i]:
                series.add((i, j))
    for i in live:
        for j in live:
            if i == j:
                continue
            if (i, j) in series:
                out[i]["in_series_with"].append(coils.sections[j].name)
            elif out[i]["contributes"] and out[j]["contributes"] and (j, i) not in series:
                out[i]["parallel_with"].append(coils.sections[j].name)
    return out
