"""Values as they are printed on parts (LANGUAGE.md section 2). SI floats out, errors as ValueError."""
import re

EXPONENT = {"": 0, "p": -12, "n": -9, "u": -6, "µ": -6, "μ": -6, "m": -3, "c": -2, "k": 3, "K": 3, "M": 6}
# dimension: (prefixes allowed, unit spellings, unit or prefix must be seen)
DIMENSION = {
    "ohm": ("kKMm", r"(?:Ω|Ω|ohms?|R)?", False),
    "farad": ("pnuµμm", r"[Ff]?", True),
    "henry": ("muµμ", r"[Hh]?", False),
    "henry!": ("muµμ", r"[Hh]", True),
    "hertz": ("kM", r"(?:Hz|hz)?", False),
    "metre": ("cm", r"m", True),
    "volt": ("nuµμmp", r"V?", False),
    "ampere": ("nuµμmp", r"A?", False),
    "number": ("", r"", False),
    "celsius": ("", r"(?:degC|°C)", True),
    "awg": ("", r"AWG", True),
    "mm": ("", r"mm", True),
}
NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)"
UNIT_ALONE = re.compile(r"^[kKMmpnuµμc]?(?:Ω|Ω|ohms?|F|H|Hz|V|A)(?:/m|/H)?$|^(?:degC|AWG|mm)$")
TOLERANCE = re.compile(r"^(?:\d+(?:\.\d+)?%|\+\d+(?:\.\d+)?/-\d+(?:\.\d+)?%|[BCDFGJKMZ]|measured|assumed)$")


def _plain(text, dimension):
    prefixes, unit, must = DIMENSION[dimension]
    m = re.match(rf"^({NUMBER})([{prefixes}]?)({unit})$" if prefixes else rf"^({NUMBER})()({unit})$", text)
    if m and (not must or m.group(2) or m.group(3)):
        if dimension == "metre" and not m.group(3):
            return None
        return float(f"{m.group(1)}e{EXPONENT[m.group(2)]}")
    # the letter code of IEC 60062: the multiplier stands for the decimal point
    letters = {"ohm": "RkKMm", "farad": "pnuµμ"}.get(dimension, "")
    if letters:
        m = re.match(rf"^(\d+)([{letters}])(\d+){unit}$", text)
        if m:
            return float(f"{m.group(1)}.{m.group(3)}e{EXPONENT['' if m.group(2) == 'R' else m.group(2)]}")
    return None


def read(text, *dimensions):
    """The first of `dimensions` that `text` can be, as (dimension, value)."""
    for d in dimensions:
        value = None
        if d == "farad/m":
            value = _plain(text[:-2], "farad") if text.endswith("/m") else None
        elif d == "ohm/m":
            value = _plain(text[:-2], "ohm") if text.endswith("/m") else None
        elif d == "ohm/H":
            value = _plain(text[:-2], "ohm") if text.endswith("/H") else None
        elif d == "share":
            m = re.match(rf"^({NUMBER})(%?)$", text)
            value = float(f"{m.group(1)}e-2") if m and m.group(2) else float(m.group(1)) if m else None
        elif d == "gain":
            m = re.match(rf"^({NUMBER})(dB)?$", text)
            value = (10 ** (float(m.group(1)) / 20) if m.group(2) else float(m.group(1))) if m else None
        else:
            value = _plain(text, d)
        if value is not None:
            return d, value
    raise ValueError(f"{text!r} is not one of {dimensions}")


def take(items, i, *dimensions):
    """Reads a value at items[i], its unit in the next item if it stands alone, and what may follow it
    (tolerance, 'measured'). Returns (dimension, value, next index)."""
    if items[i] == "code" and "farad" in dimensions:
        m = re.match(r"^(\d\d)(\d)([A-Z]?)$", items[i + 1])
        if not m:
            raise ValueError(f"not a capacitor code: {items[i + 1]!r}")
        d, value, i = "farad", float(f"{m.group(1)}e{int(m.group(2)) - 12}"), i + 2
    else:
        text = items[i]
        if not isinstance(text, str):
            raise ValueError("a value was expected")
        i += 1
        if i < len(items) and isinstance(items[i], str) and UNIT_ALONE.match(items[i]):
            text, i = text + items[i], i + 1
        d, value = read(text, *dimensions)
    while i < len(items) and isinstance(items[i], str) and TOLERANCE.match(items[i]):
        i += 1
    return d.rstrip("!"), value, i


def is_number(item):
    return isinstance(item, str) and re.match(r"^-?\.?\d", item) is not None
