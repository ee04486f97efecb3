"""Modified nodal analysis of an assembled position, dense: (S + jωT)·x = b.

Unknowns: node voltages (V) and branch currents times Z0 (so that the numbers are of one size); node equations are
multiplied by Z0 likewise. Branches with their own current: coils' EMF and resistance, inductors, amplifiers, and
resistances under 10 Ω. Each island without ground gets one node as its own reference.
"""
import mpmath
import numpy as np
import scipy.linalg

from assembly import Circuit, Nodes

Z0 = 1e5
SMALL = 10.0
BOLTZMANN, KELVIN = 1.380649e-23, 293.15


class Network:
    def __init__(self, circuit, extra_nodes=()):
        self.circuit = c = circuit
        find = c.nodes.find
        ends = [(e.a, e.b) for e in (*c.resistors, *c.capacitors, *c.branches, *c.inductors)]
        ends += [(a.out, a.ground) for a in c.amplifiers]
        islands = Nodes()
        wanted = [find(c.ground), *[find(n) for n in c.outputs.values()], *[find(n) for n in extra_nodes]]
        for a in c.amplifiers:
            wanted += [find(a.inp), find(a.ground), find(a.minus or a.ground)]
        for a, b in ends:
            islands.join(find(a), find(b))
            wanted += [find(a), find(b)]
        self.islands = islands
        ground = find(c.ground)
        references = {}
        references[islands.find(ground)] = ground
        for n in sorted(set(wanted)):
            references.setdefault(islands.find(n), n)
        fixed = set(references.values())
        names = [n for n in sorted(set(wanted)) if n not in fixed]
        self.index = {n: i for i, n in enumerate(names)}
        self.n = len(names)
        small = [r for r in c.resistors if r.ohms < SMALL and find(r.a) != find(r.b)]
        size = self.n + len(c.branches) + len(c.inductors) + len(small) + len(c.amplifiers)
        self.size = size
        S, T = np.zeros((size, size)), np.zeros((size, size))
        self.S, self.T = S, T

        def admittance(m, a, b, y):
            i, j = self.at(a), self.at(b)
            for p, q, s in ((i, i, 1), (j, j, 1), (i, j, -1), (j, i, -1)):
                if p is not None and q is not None:
                    m[p, q] += s * y

        def current(row, a, b):
            """The branch in `row` carries current from a to b; its equation begins v_a − v_b."""
            for node, s in ((self.at(a), 1), (self.at(b), -1)):
                if node is not None:
                    S[node, row] += s
                    S[row, node] += s

        for r in c.resistors:
            if r.ohms >= SMALL:
                admittance(S, r.a, r.b, Z0 / r.ohms)
        for k in c.capacitors:
            admittance(T, k.a, k.b, Z0 * k.farads)
        row = self.n
        self.branch_row = {}
        for b in c.branches:
            current(row, b.a, b.b)
            S[row, row] -= b.ohms / Z0
            self.branch_row[b.section] = row
            row += 1
        first = row
        for l in c.inductors:
            current(row, l.a, l.b)
            row += 1
        for i, p in enumerate(c.inductors):
            for j, q in enumerate(c.inductors):
                if isinstance(p.index, tuple):
                    value = p.index[0] if i == j else 0.0
                else:
                    value = 0.0 if isinstance(q.index, tuple) else c.matrix[p.index, q.index]
                T[first + i, first + j] -= value / Z0
        self.small_row = {}
        for r in small:
            current(row, r.a, r.b)
            S[row, row] -= r.ohms / Z0
            self.small_row[id(r)] = row
            row += 1
        self.amplifier_row = {}
        for a in c.amplifiers:
            current(row, a.out, a.ground)
            for node, g in ((self.at(a.inp), -a.gain), (self.at(a.minus or a.ground), a.gain)):
                if node is not None:
                    S[row, node] += g
            self.amplifier_row[id(a)] = row
            row += 1

    def at(self, node):
        return self.index.get(self.circuit.nodes.find(node))

    def same_island(self, a, b):
        find = self.circuit.nodes.find
        return self.islands.find(find(a)) == self.islands.find(find(b))

    # -- numeric

    def matrices(self, f):
        w = 2 * np.pi * np.atleast_1d(np.asarray(f, float))
        return self.S + 1j * w[:, None, None] * self.T

    def adjoint(self, f, node):
        """y of shape (frequencies, size): the voltage of `node` for a unit on the right side of each equation."""
        at = self.at(node)
        f = np.atleast_1d(f)
        if at is None or self.size == 0:
            return np.zeros((len(f), self.size), complex)
        e = np.zeros(self.size)
        e[at] = 1
        return np.linalg.solve(self.matrices(f).transpose(0, 2, 1), np.broadcast_to(e[:, None], (len(f), self.size, 1)))[..., 0]

    def forward(self, f, b):
        f = np.atleast_1d(f)
        if self.size == 0:
            return np.zeros((len(f), 0), complex)
        return np.linalg.solve(self.matrices(f), np.broadcast_to(np.asarray(b, complex)[:, None], (len(f), self.size, 1)))[..., 0]

    def adjoint_mp(self, f, node, digits=50):
        """The same equations in mpmath."""
        with mpmath.workdps(digits):
            w = 2 * mpmath.pi * mpmath.mpf(f)
            m = mpmath.matrix(self.size, self.size)
            for i in range(self.size):
                for j in range(self.size):
                    m[j, i] = mpmath.mpc(float(self.S[i, j]), w * float(self.T[i, j]))
            e = mpmath.matrix(self.size, 1)
            e[self.at(node)] = 1
            return [complex(v) for v in mpmath.lu_solve(m, e)]

    def emf(self, what):
        """Right side with the EMFs of all sections on: 'signal' or 'hum'."""
        b = np.zeros(self.size)
        for section, row in self.branch_row.items():
            b[row] = getattr(self.circuit.sections[section], what)
        return b

    def contributions(self, y, what):
        """(frequencies, sections): what each section's EMF makes at the node of `y`."""
        out = np.zeros((y.shape[0], len(self.circuit.sections)), complex)
        for section, row in self.branch_row.items():
            out[:, section] = y[:, row] * getattr(self.circuit.sections[section], what)
        return out

    def noise_density(self, y):
        """V²/Hz at the node of `y`: every resistance that is a source, by its own transfer; a buffer's stated noise."""
        total = np.zeros(y.shape[0])
        kt4 = 4 * BOLTZMANN * KELVIN
        column = lambda node: 0 if self.at(node) is None else y[:, self.at(node)]
        for b in self.circuit.branches:
            total += kt4 * b.ohms * np.abs(y[:, self.branch_row[b.section]]) ** 2
        for r in self.circuit.resistors:
            if not r.noisy:
                continue
            if id(r) in self.small_row:
                total += kt4 * r.ohms * np.abs(y[:, self.small_row[id(r)]]) ** 2
            elif r.ohms >= SMALL:
                total += kt4 / r.ohms * np.abs(Z0 * (column(r.a) - column(r.b))) ** 2
        for a in self.circuit.amplifiers:
            total += np.abs(y[:, self.amplifier_row[id(a)]] * a.gain * a.noise_volts) ** 2
            for node in (a.inp, a.minus) if a.minus else (a.inp,):
                total += np.abs(Z0 * (column(node) - column(a.ground)) * a.noise_amperes) ** 2
        return total

    def impedance(self, f, a, b):
        """Z(f) between two nodes of one island, and its derivative by ω."""
        e = np.zeros(self.size)
        for node, s in ((a, 1), (b, -1)):
            if self.at(node) is not None:
                e[self.at(node)] = s
        f = np.atleast_1d(f)
        if self.size == 0 or not e.any():
            return np.zeros(len(f), complex), np.zeros(len(f), complex)
        A = self.matrices(f)
        rhs = np.broadcast_to(e[:, None], (len(f), self.size, 1))
        x = np.linalg.solve(A, rhs)[..., 0] * Z0
        y = np.linalg.solve(A.transpose(0, 2, 1), rhs)[..., 0]
        return x @ e, -1j * ((y @ self.T) * x).sum(1)

    def natural(self, b=None, e=None):
        """Natural frequencies in rad/s: poles, or with b and e the zeros of e·x."""
        S, T, w0 = self.S, self.T, 1e4
        if b is not None:
            n = self.size
            S, T = np.block([[S, b[:, None]], [e[None, :], np.zeros((1, 1))]]), np.block(
                [[T, np.zeros((n, 1))], [np.zeros((1, n + 1))]])
        if not len(S):
            return np.zeros(0, complex)
        with np.errstate(all="ignore"):
            alpha, beta = scipy.linalg.eig(-S, T * w0, right=False, homogeneous_eigvals=True)
            keep = np.abs(beta) > 1e-12 * np.abs(alpha)
            s = alpha[keep] / beta[keep] * w0
        return s[np.isfinite(s) & (np.abs(s) > 1e-3) & (np.abs(s) < 1e9)]


def direct(circuit, resistors_only=False):
    """The circuit at 0 Hz: inductors are joints, capacitors are gone. With `resistors_only`, coils are gone too."""
    c = Circuit(sections=circuit.sections, matrix=np.zeros((0, 0)), ground=circuit.ground, outputs=dict(circuit.outputs))
    for n in list(circuit.nodes.parent):
        c.nodes.join(n, circuit.nodes.find(n))
    if not resistors_only:
        for l in circuit.inductors:
            c.nodes.join(l.a, l.b)
        c.amplifiers = circuit.amplifiers
    for r in circuit.resistors:
        if c.nodes.find(r.a) != c.nodes.find(r.b):
            c.resistors.append(r)
    if not resistors_only:
        for b in circuit.branches:
            c.resistor(b.a, b.b, b.ohms, "coil")
        c.resistors = [r for r in c.resistors if c.nodes.find(r.a) != c.nodes.find(r.b)]
    return c


def resistance(circuit, a, b, **kind):
    """Resistance between two nodes at 0 Hz; None when no path joins them."""
    c = direct(circuit, **kind)
    if c.nodes.find(a) == c.nodes.find(b):
        return 0.0
    net = Network(c, (a, b))
    if not net.same_island(a, b):
        return None
    e = np.zeros(net.size)
    for node, s in ((a, 1), (b, -1)):
        if net.at(node) is not None:
            e[net.at(node)] = s
    return float(np.linalg.solve(net.S, e) @ e * Z0)
