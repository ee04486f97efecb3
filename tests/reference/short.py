"""Short forms as wires (LANGUAGE.md section 4)."""


def written_out(harness, items, clauses):
    ends = {c[0]: c[1:] for c in clauses}
    if items[0] == "coils":
        at = items.index("in")
        return coils(harness, items[1:at], items[at + 1], ends)
    if items[0] == "tone-control":
        pot, capacitor = items[1:3]
        hot = {"before": f"{items[4]}.3", "after": f"{items[4]}.2", "at": items[4]}[items[3]]
        first, second = ("2", "1") if ends.get("capacitor") == ["on", "lug"] else ("1", "2")
        return [(hot, f"{pot}.{first}"), (f"{pot}.{second}", f"{capacitor}.1"), (f"{capacitor}.2", ends["ground"][0])]
    at = items.index("across")
    top, wiper = f"{items[at + 1]}.3", f"{items[at + 1]}.2"
    how = items[at - 1]
    if how == "series":
        c, r = items[1:3]
        return [(top, f"{c}.1"), (f"{c}.2", f"{r}.1"), (f"{r}.2", wiper)]
    if how == "parallel":
        return [pair for part in items[1:3] for pair in ((top, f"{part}.1"), (f"{part}.2", wiper))]
    if how == "mixed":
        c, r, s = items[1:4]
        return [(top, f"{c}.1"), (top, f"{r}.1"), (f"{c}.2", f"{r}.2"), (f"{c}.2", f"{s}.1"), (f"{s}.2", wiper)]
    return [(top, f"{items[1]}.1"), (f"{items[1]}.2", wiper)]


def coils(harness, names, order, ends):
    from coils import Coils

    all_coils = Coils(harness)
    of = {c.name: [s for s in all_coils.sections if all_coils.coils[s.coil] is c] for c in all_coils.coils}
    signal = {n: sum(s.signal for s in of[n]) for n in names}
    hum = {n: sum(s.hum for s in of[n]) for n in names}
    turned = {n: signal[n] < 0 for n in names if signal[n]}
    total = sum(-hum[n] if t else hum[n] for n, t in turned.items())
    for n in names:
        if n not in turned:  # no magnet: its hum against the others'
            turned[n] = total * hum[n] > 0
            total += -hum[n] if turned[n] else hum[n]
    pair = lambda n: (f"{n}.finish", f"{n}.start") if turned[n] else (f"{n}.start", f"{n}.finish")
    hot, ground = ends["hot"][0], ends["ground"][0]
    if order == "parallel":
        return [w for n in names for w in ((hot, pair(n)[0]), (pair(n)[1], ground))]
    wires = [(hot, pair(names[0])[0]), (pair(names[-1])[1], ground)]
    for i, (a, b) in enumerate(zip(names, names[1:])):
        wires.append((pair(a)[1], pair(b)[0]))
        if "link" in ends:
            wires.append((pair(a)[1], ends["link"][i]))
    return wires
