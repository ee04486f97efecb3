"""Sensitivities of one network that holds every kind of element, by finite differences at 50 digits.

    python sensitivities.py > sensitivities.csv        needs mpmath (written with 1.4.1)

Dense modified nodal analysis in which every element is a branch with its own current; central differences with a relative step of 1e-15, so
that their own error is of the order of 1e-30. Peaks are found by mpmath.findroot on d ln|H| / d ln f (itself a central difference at
50 digits), and moved by solving again with the changed value.
"""

import mpmath as mp

mp.mp.dps = 50
D = mp.mpf(10) ** -15

# (kind, name, nodes or pair, value); node 0 is ground. The order of kinds is that of the program's list.
NETWORK = [
    ("V", "generator", (1, 0), None),
    ("R", "r1", (1, 2), "1000"),
    ("R", "r2", (3, 4), "2200"),
    ("R", "small", (4, 5), "3"),
    ("R", "r3", (7, 6), "5600"),
    ("R", "r4", (8, 6), "10000"),
    ("R", "load", (9, 0), "1000"),
    ("C", "c1", (3, 0), "1e-7"),
    ("C", "c2", (5, 0), "4.7e-8"),
    ("C", "c3", (6, 0), "3.3e-9"),
    ("L", "l1", (2, 3), "0.1"),
    ("L", "l2", (4, 0), "0.2"),
    ("K", "k", ("l1", "l2"), "0.6"),
    ("VCVS", "e", (7, 0, 5, 0), "1.7"),
    ("VCCS", "g", (6, 0, 3, 0), "1e-4"),
    ("CCVS", "h", (8, 0, "l2"), "300"),
    ("CCCS", "f", (6, 0, "small"), "0.4"),
    ("T", "t", (6, 0, 9, 0), "2.5"),
]
NODES = 9


def f64(text):
    """The value as a program has it: the double nearest to the text."""
    return mp.mpf(float(text))


def solve(values, frequency, drive):
    """Node voltages with a volt at the generator, or an ampere into node 3."""
    s = mp.mpc(0, 2 * mp.pi * frequency)
    branches = [e for e in NETWORK if e[0] != "K"]
    own = {e[1]: NODES + i for i, e in enumerate(branches)}
    n = NODES + len(branches)
    a, b = mp.zeros(n, n), mp.zeros(n, 1)

    def add(row, col, x):
        if row is not None and col is not None:
            a[row, col] += x

    def v(node):
        return node - 1 if node else None

    def across(row, p, m, x):
        add(row, v(p), x)
        add(row, v(m), -x)

    def flow(p, m, col, x):
        add(v(p), col, x)
        add(v(m), col, -x)

    for kind, name, nodes, _ in branches:
        i, x = own[name], values.get(name)
        p, m = nodes[0], nodes[1]
        flow(p, m, i, 1)
        if kind == "V":
            across(i, p, m, 1)
            b[i] = 1 if drive == "volt" else 0
        elif kind == "R":
            across(i, p, m, 1)
            add(i, i, -x)
        elif kind == "C":
            across(i, p, m, s * x)
            add(i, i, -1)
        elif kind == "L":
            across(i, p, m, 1)
            add(i, i, -s * x)
        elif kind == "VCVS":
            across(i, p, m, 1)
            across(i, nodes[2], nodes[3], -x)
        elif kind == "VCCS":
            across(i, nodes[2], nodes[3], -x)
            add(i, i, 1)
        elif kind == "CCVS":
            across(i, p, m, 1)
            add(i, own[nodes[2]], -x)
        elif kind == "CCCS":
            add(i, i, 1)
            add(i, own[nodes[2]], -x)
        elif kind == "T":
            across(i, p, m, 1)
            across(i, nodes[2], nodes[3], -x)
            flow(nodes[2], nodes[3], i, -x)
    for kind, name, pair, _ in NETWORK:
        if kind == "K":
            mutual = s * values[name] * mp.sqrt(values[pair[0]] * values[pair[1]])
            add(own[pair[0]], own[pair[1]], -mutual)
            add(own[pair[1]], own[pair[0]], -mutual)
    if drive == "ampere":
        b[v(3)] = 1
    return mp.lu_solve(a, b)


def transfer(values, frequency):
    return solve(values, frequency, "volt")[5]


def impedance(values, frequency):
    return solve(values, frequency, "ampere")[2]


def peak(h, values, near):
    """ln f and |H| of the maximum near a frequency."""
    log = lambda u: mp.log(abs(h(values, mp.exp(u))))
    step = mp.mpf(10) ** -12
    slope = lambda u: (log(u + step) - log(u - step)) / (2 * step)
    u = mp.findroot(slope, (mp.log(near), mp.log(near) + mp.mpf("1e-4")), solver="secant", tol=mp.mpf(10) ** -60, verify=False)
    return u, abs(h(values, mp.exp(u)))


def moved(values, name, factor):
    return {**values, name: values[name] * factor}


def main():
    values = {e[1]: f64(e[3]) for e in NETWORK if e[3] is not None}
    out = lambda x: mp.nstr(x, 20)
    frequency = mp.mpf("1234.5")
    print("what,element,re_or_frequency,im_or_height")
    for title, h in (("transfer", transfer), ("impedance", impedance)):
        z = h(values, frequency)
        print(f"{title},,{out(z.real)},{out(z.imag)}")
        for name in values:
            d = (h(moved(values, name, 1 + D), frequency) - h(moved(values, name, 1 - D), frequency)) / (2 * D * values[name])
            print(f"{title},{name},{out(d.real)},{out(d.imag)}")
    near = max((abs(transfer(values, f)), f) for f in (mp.mpf(k) * 20 for k in range(10, 200)))[1]
    u, height = peak(transfer, values, near)
    print(f"peak,,{out(mp.exp(u))},{out(height)}")
    # A wider step: the place of a maximum is known to half of the digits of its difference quotient.
    d = mp.mpf(10) ** -8
    for name in values:
        (up, high), (down, low) = (peak(transfer, moved(values, name, 1 + x), near) for x in (d, -d))
        print(f"peak,{name},{out((up - down) / (2 * d))},{out((mp.log(high) - mp.log(low)) / (2 * d))}")


main()
