//! What each element adds to the equations.
//!
//! The unknowns are the node voltages against the island's reference, then the branch currents. Row k of a node is Kirchhoff's current
//! law there (currents that leave = currents injected), row k of a branch is its own equation. With s = jω (or a complex frequency) the
//! matrix is A = G + s·C, G and C real (Ho, Ruehli, Brennan, "The modified nodal approach to network analysis", IEEE Trans. Circuits and
//! Systems 22 (1975) 504–509).
//!
//! | element | own row | current law |
//! | --- | --- | --- |
//! | R, admittance | – | 1/R between its nodes |
//! | C, admittance | – | sC between its nodes |
//! | R, branch | va − vb − R·i = 0 | +i at a, −i at b |
//! | C, branch | i − sC·(va − vb) = 0 | +i, −i |
//! | L | va − vb − sL·i − Σ sM·i′ = 0 | +i, −i |
//! | voltage source | va − vb = E | +i, −i |
//! | current source | – | I injected at `to`, −I at `from` |
//! | VCVS | va − vb − μ(vc − vd) = 0 | +i, −i |
//! | VCCS | – | gm(vc − vd) leaves `from`, enters `to` |
//! | CCVS | va − vb − r·i′ = 0 | +i, −i |
//! | CCCS | – | β·i′ leaves `from`, enters `to` |
//! | op amp | v₊ − v₋ = 0 | +i at out, −i at reference |
//! | transformer | v1 − n·v2 = 0 | +i, −i; −n·i, +n·i |

use crate::values::Numbers;

/// Where a coefficient comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Law {
    /// ±1.
    One,
    /// 1/R.
    Conductance(u32),
    /// R.
    Resistance(u32),
    /// sC.
    Capacitance(u32),
    /// sL.
    Inductance(u32),
    /// s·k·√(La·Lb).
    Mutual { coupling: u32, a: u32, b: u32 },
    /// Gain of a VCVS.
    Vcvs(u32),
    /// Transconductance.
    Vccs(u32),
    /// Transresistance.
    Ccvs(u32),
    /// Current gain.
    Cccs(u32),
    /// Transformer ratio.
    Ratio(u32),
}

impl Law {
    /// Whether the coefficient is multiplied by s.
    pub(crate) fn is_reactive(self) -> bool {
        matches!(self, Law::Capacitance(_) | Law::Inductance(_) | Law::Mutual { .. })
    }

    /// The coefficient without its s.
    pub(crate) fn coefficient(self, numbers: &Numbers) -> f64 {
        match self {
            Law::One => 1.0,
            Law::Conductance(i) => 1.0 / numbers.resistance[i as usize],
            Law::Resistance(i) => numbers.resistance[i as usize],
            Law::Capacitance(i) => numbers.capacitance[i as usize],
            Law::Inductance(i) => numbers.inductance[i as usize],
            // Two roots: the product of two inductances may leave the range.
            Law::Mutual { coupling, a, b } => {
                numbers.coupling[coupling as usize]
                    * (numbers.inductance[a as usize].sqrt() * numbers.inductance[b as usize].sqrt())
            }
            Law::Vcvs(i) => numbers.vcvs[i as usize],
            Law::Vccs(i) => numbers.vccs[i as usize],
            Law::Ccvs(i) => numbers.ccvs[i as usize],
            Law::Cccs(i) => numbers.cccs[i as usize],
            Law::Ratio(i) => numbers.ratio[i as usize],
        }
    }
}

/// One contribution to one place of the matrix.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Stamp {
    pub(crate) row: u32,
    pub(crate) col: u32,
    pub(crate) sign: f64,
    pub(crate) law: Law,
}

/// Collects stamps; a place in a reference row or column (`None`) is left out.
#[derive(Debug, Default)]
pub(crate) struct Stamps {
    pub(crate) list: Vec<Stamp>,
}

impl Stamps {
    pub(crate) fn add(&mut self, row: Option<u32>, col: Option<u32>, sign: f64, law: Law) {
        if let (Some(row), Some(col)) = (row, col) {
            self.list.push(Stamp { row, col, sign, law });
        }
    }

    /// An admittance between nodes `a` and `b`.
    pub(crate) fn admittance(&mut self, [a, b]: [Option<u32>; 2], law: Law) {
        if a == b {
            return;
        }
        self.add(a, a, 1.0, law);
        self.add(b, b, 1.0, law);
        self.add(a, b, -1.0, law);
        self.add(b, a, -1.0, law);
    }

    /// The voltage va − vb times a coefficient, into `row`.
    pub(crate) fn difference(&mut self, row: Option<u32>, [a, b]: [Option<u32>; 2], sign: f64, law: Law) {
        if a == b {
            return;
        }
        self.add(row, a, sign, law);
        self.add(row, b, -sign, law);
    }

    /// The current of unknown `col` times a coefficient, leaving `a` and entering `b`.
    pub(crate) fn flow(&mut self, [a, b]: [Option<u32>; 2], col: Option<u32>, sign: f64, law: Law) {
        if a == b {
            return;
        }
        self.add(a, col, sign, law);
        self.add(b, col, -sign, law);
    }

    /// A branch with current `i`: its current into the current law, its voltage into its own row.
    pub(crate) fn branch(&mut self, nodes: [Option<u32>; 2], i: Option<u32>) {
        self.flow(nodes, i, 1.0, Law::One);
        self.difference(i, nodes, 1.0, Law::One);
    }
}
