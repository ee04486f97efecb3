"""The common switch bodies, written out from the table in LANGUAGE.md section 3, 'Switches'."""


def selector(poles, throws):
    """Plain selector: lugs, and per throw the joint of each pole's common with its throw of that name."""
    lugs = [f"{p}.{x}" for p in poles for x in ["common", *throws]]
    return lugs, {t: [[f"{p}.common", f"{p}.{t}"] for p in poles] for t in throws}


def _body(lugs, throws, between=(), momentary=False):
    return {"lugs": lugs, "throws": throws, "between": set(between), "rest": next(iter(throws)), "momentary": momentary}


def _on_on(names):
    return _body(*selector("AB", names))


def _with_middle(middle, name):
    lugs, ends = selector("AB", ["1", "2"])
    return _body(lugs, {"1": ends["1"], name: middle, "2": ends["2"]})


def _lever(between):
    lugs, single = selector("AB", ["1", "2", "3"])
    pair = {f"{a}-{b}": [[f"{p}.common", f"{p}.{a}", f"{p}.{b}"] for p in "AB"] for a, b in ("12", "23")}
    order = ["1", "1-2", "2", "2-3", "3"]
    return _body(lugs, {t: {**single, **pair}[t] for t in order}, between)


def _rotary():
    lugs = ["common", *"123456"]
    return _body(lugs, {t: [["common", t]] for t in "123456"})


def rotary(decks, ways):
    return _body(*selector(decks, [str(n) for n in range(1, ways + 1)]))


BODIES = {
    "on-on": _on_on(["1", "2"]),
    "push-pull": _on_on(["down", "up"]),
    "on-off-on": _with_middle([], "off"),
    "on-on-on-A": _with_middle([["A.common", "A.2"], ["B.common", "B.1"]], "mid"),
    "on-on-on-B": _with_middle([["A.common", "A.1"], ["B.common", "B.2"]], "mid"),
    "toggle-3": _body(["common", "up", "down"],
                      {"up": [["common", "up"]], "mid": [["common", "up", "down"]], "down": [["common", "down"]]}),
    "lever-3": _lever(["1-2", "2-3"]),
    "lever-5": _lever([]),
    "lever-5-super": _body(*selector("ABCD", list("12345"))),
    "rotary-6": _rotary(),
    "rotary-6-shorting": _rotary(),
    "rotary-5-four-pole": _body(*selector("ABCD", list("12345"))),
    "push-button": _body(*selector("A", ["out", "in"]), momentary=True),
}
