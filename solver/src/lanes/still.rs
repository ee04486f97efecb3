//! What of an elimination is the same at every frequency: done once for a set of values, in real numbers.
//!
//! An entry of the matrix is g + jω·c. As long as a pivot and either its row or its column have no c, what elimination makes of the others
//! is of the same form, and g and c go their own ways.

use crate::lanes::bank::{Bank, Numbered, Reals};
use crate::tape::CANCELLED;

/// A real number that a compiled elimination speaks of.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Number {
    /// The same for all values.
    Constant(f64),
    /// In the register file of a set of values.
    Register(u32),
}

impl Number {
    pub(crate) const ZERO: Number = Number::Constant(0.0);

    pub(crate) fn is_zero(self) -> bool {
        self == Number::ZERO
    }
}

#[derive(Debug, Clone, Copy)]
enum Op {
    Reciprocal {
        target: u32,
        of: u32,
    },
    Multiply {
        target: u32,
        a: u32,
        b: u32,
    },
    /// target = from − a·b.
    Subtract {
        target: u32,
        from: u32,
        a: u32,
        b: u32,
    },
}

/// The sizes of an entry's terms may exceed what it was by this much. Beyond, elimination has swallowed of it what no later check can see;
/// up to it, no more than the sum of two conductances at a node does. What was zero only fills up, right to rounding of its own size.
const GROWTH: f64 = 1e8;

/// Operations on registers. The first ones are the matrix entries without their jω by place, then those with it.
#[derive(Debug, Clone, Default)]
pub(crate) struct Program {
    places: usize,
    registers: u32,
    constants: Vec<(u32, f64)>,
    ops: Vec<Op>,
    pivots: Vec<u32>,
    /// First and last register of each entry that is changed.
    changed: Vec<(u32, u32)>,
}

/// Numbers of one set of values.
#[derive(Debug, Clone)]
pub(crate) struct Still {
    pub(crate) registers: Reals,
    /// Sum of the sizes of the terms.
    sizes: Reals,
}

impl Program {
    pub(crate) fn storage(&self) -> Still {
        let length = self.registers as usize;
        let mut registers = Reals::new(length, 0.0);
        self.constants.iter().for_each(|&(register, value)| registers.all_mut()[register as usize] = value);
        Still { sizes: Reals::new(length, 0.0), registers }
    }
}

impl Still {
    /// Matrix entries by place, without their jω and with it: what is to be filled before a run.
    pub(crate) fn entries(&mut self, program: &Program) -> (&mut [f64], &mut [f64]) {
        self.registers.all_mut()[..2 * program.places].split_at_mut(program.places)
    }

    /// `false` if a pivot is zero, not finite, or what cancellation left, or if entries grew.
    pub(crate) fn run(&mut self, program: &Program) -> bool {
        match (&mut self.registers, &mut self.sizes) {
            (Numbered::Small(registers), Numbered::Small(sizes)) => {
                program.run(&mut **registers, &mut **sizes)
            }
            (registers, sizes) => program.run(registers.all_mut(), sizes.all_mut()),
        }
    }
}

impl Program {
    fn run(&self, registers: &mut (impl Bank<f64> + ?Sized), sizes: &mut (impl Bank<f64> + ?Sized)) -> bool {
        for op in &self.ops {
            match *op {
                Op::Reciprocal { target, of } => *registers.at_mut(target) = 1.0 / *registers.at(of),
                Op::Multiply { target, a, b } => {
                    *registers.at_mut(target) = *registers.at(a) * *registers.at(b);
                }
                Op::Subtract { target, from, a, b } => {
                    let product = *registers.at(a) * *registers.at(b);
                    let before = *registers.at(from);
                    *registers.at_mut(target) = before - product;
                    *sizes.at_mut(target) = sizes.at(from).max(before.abs()) + product.abs();
                }
            }
        }
        let at = |register: u32| registers.at(register).abs();
        let sound = |&register: &u32| {
            let least = (CANCELLED * *sizes.at(register)).max(0.0);
            at(register) > least && at(register) < f64::INFINITY
        };
        let kept = |&(first, last): &(u32, u32)| {
            let own = at(first);
            own == 0.0 || *sizes.at(last) <= GROWTH * own
        };
        self.pivots.iter().all(sound) && self.changed.iter().all(kept)
    }
}

/// A program in the making.
#[derive(Debug)]
pub(super) struct Builder {
    program: Program,
    /// For each register after those of the matrix, if it is a changed entry: where that came from, and whether it was changed again.
    origins: Vec<Option<Origin>>,
}

#[derive(Debug, Clone, Copy)]
struct Origin {
    first: u32,
    superseded: bool,
}

impl Builder {
    pub(super) fn new(places: usize) -> Builder {
        let program = Program { places, registers: 2 * places as u32, ..Program::default() };
        Builder { program, origins: Vec::new() }
    }

    fn make(&mut self, origin: Option<Origin>) -> u32 {
        self.origins.push(origin);
        self.program.registers += 1;
        self.program.registers - 1
    }

    /// The register that holds a number.
    pub(super) fn register(&mut self, number: Number) -> u32 {
        match number {
            Number::Register(register) => register,
            Number::Constant(value) => {
                let constants = &self.program.constants;
                let known = constants.iter().find(|(_, known)| known.to_bits() == value.to_bits());
                if let Some(&(register, _)) = known {
                    return register;
                }
                let register = self.make(None);
                self.program.constants.push((register, value));
                register
            }
        }
    }

    pub(super) fn reciprocal(&mut self, of: Number) -> Number {
        match of {
            Number::Constant(value) => Number::Constant(1.0 / value),
            Number::Register(of) => {
                let target = self.make(None);
                self.program.pivots.push(of);
                self.program.ops.push(Op::Reciprocal { target, of });
                Number::Register(target)
            }
        }
    }

    pub(super) fn product(&mut self, a: Number, b: Number) -> Number {
        match (a, b) {
            _ if a.is_zero() || b.is_zero() => Number::ZERO,
            (Number::Constant(a), Number::Constant(b)) => Number::Constant(a * b),
            (Number::Constant(1.0), other) | (other, Number::Constant(1.0)) => other,
            _ => {
                let [a, b] = [a, b].map(|number| self.register(number));
                let target = self.make(None);
                self.program.ops.push(Op::Multiply { target, a, b });
                Number::Register(target)
            }
        }
    }

    /// from − a·b.
    pub(super) fn subtract(&mut self, from: Number, a: Number, b: Number) -> Number {
        match (from, a, b) {
            _ if a.is_zero() || b.is_zero() => from,
            (Number::Constant(from), Number::Constant(a), Number::Constant(b)) => {
                Number::Constant(from - a * b)
            }
            _ => {
                let [from, a, b] = [from, a, b].map(|number| self.register(number));
                let first = self.origin(from).map_or(from, |origin| {
                    origin.superseded = true;
                    origin.first
                });
                let target = self.make(Some(Origin { first, superseded: false }));
                self.program.ops.push(Op::Subtract { target, from, a, b });
                Number::Register(target)
            }
        }
    }

    fn origin(&mut self, register: u32) -> Option<&mut Origin> {
        let index = register.checked_sub(2 * self.program.places as u32)?;
        self.origins[index as usize].as_mut()
    }

    pub(super) fn finish(mut self) -> Program {
        let made = self.origins.iter().zip(2 * self.program.places as u32..);
        let last = made.filter_map(|(origin, register)| Some((origin.filter(|o| !o.superseded)?, register)));
        self.program.changed = last.map(|(origin, register)| (origin.first, register)).collect();
        self.program
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What elimination of the first row leaves of [a b; b d], and whether it may be used.
    fn schur(a: f64, b: f64, d: f64) -> (f64, bool) {
        let mut builder = Builder::new(3);
        let [a_at, b_at, d_at] = [0, 1, 2].map(Number::Register);
        let inverse = builder.reciprocal(a_at);
        let over = builder.product(b_at, inverse);
        let left = builder.subtract(d_at, over, b_at);
        let register = builder.register(left);
        let program = builder.finish();
        let mut still = program.storage();
        still.entries(&program).0.copy_from_slice(&[a, b, d]);
        let sound = still.run(&program);
        (still.registers.all()[register as usize], sound)
    }

    #[test]
    fn what_is_left_is_right_or_refused() {
        assert_eq!(schur(4.0, 2.0, 3.0), (2.0, true));
        // No pivot.
        assert!(!schur(0.0, 2.0, 3.0).1);
        assert!(!schur(f64::NAN, 2.0, 3.0).1);
        // The textbook failure of elimination without interchanges: 1 is swallowed by 1/ε.
        assert!(schur(1e-5, 1.0, 1.0).1);
        assert!(!schur(1e-8, 1.0, 1.0).1);
        // Where nothing was, nothing is swallowed.
        assert_eq!(schur(1e-8, 1.0, 0.0), (-1e8, true));
    }

    #[test]
    fn constants_are_folded() {
        let mut builder = Builder::new(1);
        let two = Number::Constant(2.0);
        let four = builder.product(two, two);
        assert_eq!(four, Number::Constant(4.0));
        assert_eq!(builder.subtract(Number::Constant(5.0), two, two), Number::Constant(1.0));
        assert_eq!(builder.product(Number::Constant(1.0), Number::Register(0)), Number::Register(0));
        assert_eq!(builder.subtract(Number::Register(0), Number::ZERO, two), Number::Register(0));
        assert!(builder.finish().ops.is_empty());
    }
}
