//! yᵀ(∂A/∂p)x of each element.

use num_complex::Complex64;

use crate::float::taxicab;
use crate::handle::{Branch, Element};
use crate::layout::{Current, Form};
use crate::point::AGREES;
use crate::workspace::Workspace;

/// A bilinear form below this fraction of its terms is zero where a singular network is tested for having a derivative.
const ORTHOGONAL: f64 = 1e-9;

/// A sum and the size of its terms.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sized {
    pub(super) value: Complex64,
    size: f64,
}

impl Sized {
    const ZERO: Sized = Sized { value: Complex64::ZERO, size: 0.0 };

    fn vanishes(self) -> bool {
        taxicab(self.value) <= ORTHOGONAL * self.size
    }

    fn times(self, factor: Complex64) -> Sized {
        Sized { value: self.value * factor, size: self.size * taxicab(factor) }
    }

    fn product(a: Sized, b: Sized) -> Sized {
        Sized { value: a.value * b.value, size: a.size * b.size }
    }

    fn plus(self, other: Sized) -> Sized {
        Sized { value: self.value + other.value, size: self.size + other.size }
    }
}

impl Workspace {
    /// yᵀ(∂A/∂p)x with the solutions at hand; `None` where the response has no derivative by this value.
    pub(super) fn slope_of_form(&self, element: Element) -> Option<Complex64> {
        let slope = self.form(element, &self.y, &self.x)?;
        // A singular network goes on having solutions, and the response the same value for all of them, to first order.
        if let Some(pivoted) = &self.pivoted {
            let keeps = pivoted
                .left_null()
                .iter()
                .all(|w| self.form(element, w, &self.x).is_some_and(Sized::vanishes))
                && pivoted
                    .right_null()
                    .iter()
                    .all(|v| self.form(element, &self.y, v).is_some_and(Sized::vanishes));
            if !keeps {
                return None;
            }
        }
        Some(slope.value)
    }

    /// yᵀ(∂A/∂p)x by any two vectors.
    pub(super) fn form(&self, element: Element, y: &[Complex64], x: &[Complex64]) -> Option<Sized> {
        let assembly = &*self.assembly;
        let (topology, numbers, s) = (&assembly.topology, self.numbers(), self.s);
        let island = |a: u32, b: u32| assembly.together(a, b);
        let across = |v: &[Complex64], a: u32, b: u32| {
            let [a, b] = [a, b].map(|node| assembly.row(node).map_or(Complex64::ZERO, |row| v[row as usize]));
            Sized { value: a - b, size: taxicab(a) + taxicab(b) }
        };
        let at = |v: &[Complex64], row: u32| Sized { value: v[row as usize], size: taxicab(v[row as usize]) };
        let current = |branch: Branch| match assembly.currents.of(branch) {
            Current::Zero => Some(Sized::ZERO),
            Current::Unknown(row) => Some(at(x, row)),
            Current::Free | Current::Unprobed => None,
        };
        let real = |value: f64| Complex64::new(value, 0.0);
        let i = element.index();
        match element {
            Element::Resistor(handle) => {
                let (e, r) = (&topology.resistors[i], numbers.resistance[i]);
                match (assembly.resistor_form(i), assembly.currents.of(Branch::Resistor(handle))) {
                    // By steps: the square may leave the range.
                    (Form::Admittance, _) => {
                        let g = real(1.0 / r);
                        Some(Sized::product(across(y, e.a, e.b).times(g), across(x, e.a, e.b).times(-g)))
                    }
                    (Form::Series | Form::Short, Current::Unknown(row)) => {
                        Some(Sized::product(at(y, row), at(x, row)).times(real(-1.0)))
                    }
                    (Form::Open, _) => island(e.a, e.b).then_some(Sized::ZERO),
                    _ => None,
                }
            }
            Element::Capacitor(handle) => {
                let e = &topology.capacitors[i];
                let voltage = across(x, e.a, e.b).times(s);
                match (assembly.capacitor_form(i), assembly.currents.of(Branch::Capacitor(handle))) {
                    _ if assembly.dc => Some(Sized::ZERO),
                    (Form::Admittance, _) => Some(Sized::product(across(y, e.a, e.b), voltage)),
                    (Form::Series, Current::Unknown(row)) => {
                        Some(Sized::product(at(y, row), voltage).times(real(-1.0)))
                    }
                    (Form::Open, _) => island(e.a, e.b).then(|| Sized::product(across(y, e.a, e.b), voltage)),
                    _ => None,
                }
            }
            Element::Inductor(handle) => {
                let l = numbers.inductance[i];
                let coupled = topology
                    .couplings
                    .iter()
                    .enumerate()
                    .filter(|(_, pair)| pair.a as usize == i || pair.b as usize == i);
                match assembly.currents.of(Branch::Inductor(handle)) {
                    _ if assembly.dc => Some(Sized::ZERO),
                    Current::Unknown(row) => {
                        let mut sum = Sized::product(at(y, row), at(x, row)).times(-s);
                        for (coupling, pair) in coupled {
                            let other = if pair.a as usize == i { pair.b } else { pair.a };
                            let k = numbers.coupling[coupling];
                            let other_l = numbers.inductance[other as usize];
                            if k == 0.0 || other_l == 0.0 {
                                continue;
                            }
                            // dM/dL = k/2·√(L′/L), which an inductance of 0 does not have.
                            let (Current::Unknown(other_row), true) =
                                (assembly.inductor_current(other as usize), l > 0.0)
                            else {
                                return None;
                            };
                            let slope = -s * (0.5 * k * (other_l.sqrt() / l.sqrt()));
                            sum = sum.plus(Sized::product(at(y, row), at(x, other_row)).times(slope));
                            sum = sum.plus(Sized::product(at(y, other_row), at(x, row)).times(slope));
                        }
                        Some(sum)
                    }
                    _ => None,
                }
            }
            Element::Coupling(_) => {
                let pair = &topology.couplings[i];
                let [la, lb] = [pair.a, pair.b].map(|inductor| numbers.inductance[inductor as usize]);
                if assembly.dc || la == 0.0 || lb == 0.0 {
                    return Some(Sized::ZERO);
                }
                match [pair.a, pair.b].map(|inductor| assembly.inductor_current(inductor as usize)) {
                    [Current::Unknown(a), Current::Unknown(b)] => {
                        let slope = -s * (la.sqrt() * lb.sqrt());
                        let there = Sized::product(at(y, a), at(x, b));
                        Some(there.plus(Sized::product(at(y, b), at(x, a))).times(slope))
                    }
                    _ => None,
                }
            }
            Element::Vcvs(handle) => {
                let e = &topology.vcvs[i];
                let Current::Unknown(row) = assembly.currents.of(Branch::Vcvs(handle)) else { return None };
                let left = at(y, row);
                if island(e.c, e.d) {
                    return Some(Sized::product(left, across(x, e.c, e.d)).times(real(-1.0)));
                }
                // What is determined does not depend on a gain that senses a free voltage.
                (numbers.vcvs[i] != 0.0 || left.value == Complex64::ZERO).then_some(Sized::ZERO)
            }
            Element::Vccs(_) => {
                let e = &topology.vccs[i];
                let left = across(y, e.a, e.b);
                if !island(e.a, e.b) {
                    None
                } else if island(e.c, e.d) {
                    Some(Sized::product(left, across(x, e.c, e.d)))
                } else {
                    let unheard = taxicab(left.value) <= AGREES * left.size;
                    (numbers.vccs[i] != 0.0 || unheard).then_some(Sized::ZERO)
                }
            }
            Element::Ccvs(handle) => {
                let Current::Unknown(row) = assembly.currents.of(Branch::Ccvs(handle)) else { return None };
                Some(Sized::product(at(y, row), current(topology.ccvs[i].control)?).times(real(-1.0)))
            }
            Element::Cccs(_) => {
                let e = &topology.cccs[i];
                if !island(e.a, e.b) {
                    return None;
                }
                Some(Sized::product(across(y, e.a, e.b), current(e.control)?))
            }
            Element::Transformer(_) => {
                let e = &topology.transformers[i];
                if !island(e.c, e.d) {
                    return None;
                }
                let row = assembly.transformer_row(i);
                let current = Sized::product(across(y, e.c, e.d), at(x, row));
                let voltage = Sized::product(at(y, row), across(x, e.c, e.d));
                Some(current.plus(voltage).times(real(-1.0)))
            }
            Element::Contact(_)
            | Element::VoltageSource(_)
            | Element::CurrentSource(_)
            | Element::OpAmp(_) => None,
        }
    }
}
