//! The elimination program ("tape") and its numeric run: sparse LU in a fixed order, without allocation or search.
//!
//! A good half of a nodal matrix is ±1. What is constant is folded when the program is compiled, and ±1 costs an addition.

use num_complex::Complex64;

use crate::float::{reciprocal, taxicab};

/// `target -= below * right`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Update {
    pub(crate) target: u32,
    pub(crate) below: u32,
    pub(crate) right: u32,
}

/// `target += factor * source`, factor ±1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Addition {
    pub(crate) target: u32,
    pub(crate) source: u32,
    pub(crate) factor: f64,
}

/// A pivot in the factorisation, where it has anything left to do at run time: constants are folded when the program is compiled.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Elimination {
    /// Number of the pivot.
    pub(crate) number: u32,
    pub(crate) slot: u32,
    /// The pivot is a constant: its inverse stands in the program.
    pub(crate) constant: bool,
    /// Ends of its parts of the lists below.
    pub(crate) scales: u32,
    pub(crate) updates: u32,
    pub(crate) additions: u32,
    pub(crate) watched: u32,
}

/// A pivot in the substitutions. Its slots lie together: pivot, rest of its row, rest of its column.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Pivot {
    pub(crate) row: u32,
    pub(crate) col: u32,
    pub(crate) slot: u32,
    /// Ranges of `Program::right` and `Program::below`.
    pub(crate) right: (u32, u32),
    pub(crate) below: (u32, u32),
}

impl Pivot {
    pub(crate) fn right_slots(self) -> std::ops::Range<usize> {
        let first = self.slot as usize + 1;
        first..first + (self.right.1 - self.right.0) as usize
    }

    pub(crate) fn below_slots(self) -> std::ops::Range<usize> {
        let first = self.right_slots().end;
        first..first + (self.below.1 - self.below.0) as usize
    }
}

/// The compiled order.
#[derive(Debug, Clone, Default)]
pub(crate) struct Program {
    pub(crate) n: usize,
    /// Slots of L and U before the frequency's numbers go in: constants, and zeros where fill grows.
    pub(crate) template: Vec<Complex64>,
    /// Slots whose value is the same at every frequency and in every set of values, as it is when the factorisation is done with it.
    pub(crate) constants: Vec<Option<f64>>,
    /// Inverse pivots, right where they are constant.
    pub(crate) inverse: Vec<Complex64>,
    /// (place of the matrix, slot) of what is not constant.
    pub(crate) inputs: Vec<(u32, u32)>,
    /// (number, slot) of pivots that are not constant.
    pub(crate) sizes: Vec<(u32, u32)>,
    pub(crate) eliminations: Vec<Elimination>,
    /// (target, source): target = source times the inverse pivot. In the symmetric part the source is right of the pivot.
    pub(crate) scales: Vec<(u32, u32)>,
    pub(crate) updates: Vec<Update>,
    pub(crate) additions: Vec<Addition>,
    /// Updates of slots that are pivots later, with the number of that pivot: these are watched for cancellation.
    pub(crate) watched: Vec<(Update, u32)>,
    pub(crate) pivots: Vec<Pivot>,
    /// Columns right of the pivots, all pivots in one list.
    pub(crate) right: Vec<u32>,
    /// Rows below the pivots, likewise.
    pub(crate) below: Vec<u32>,
}

impl Program {
    pub(crate) fn operations(&self) -> usize {
        self.updates.len() + self.watched.len() + self.scales.len()
    }
}

/// A pivot that lost this much of its terms' size may be the remains of an exact zero: the pivoted fallback shall decide.
pub(crate) const CANCELLED: f64 = 1e-11;

/// Numeric storage of one factorisation.
#[derive(Debug, Clone, Default)]
pub(crate) struct Tape {
    values: Vec<Complex64>,
    inverse: Vec<Complex64>,
    /// Sum of the sizes of the terms of each pivot.
    size: Vec<f64>,
}

impl Tape {
    pub(crate) fn new(program: &Program) -> Tape {
        Tape {
            values: program.template.clone(),
            inverse: program.inverse.clone(),
            size: vec![0.0; program.n],
        }
    }

    /// Factors; `false` if a pivot is zero, not finite, or what cancellation left.
    pub(crate) fn factor(&mut self, program: &Program, matrix: &[Complex64]) -> bool {
        let values = &mut self.values[..];
        values.copy_from_slice(&program.template);
        for &(place, slot) in &program.inputs {
            values[slot as usize] = matrix[place as usize];
        }
        for &(number, slot) in &program.sizes {
            self.size[number as usize] = taxicab(values[slot as usize]);
        }
        let (mut scale, mut update, mut addition, mut watch) = (0, 0, 0, 0);
        for step in &program.eliminations {
            if !step.constant {
                let pivot = values[step.slot as usize];
                let sound = taxicab(pivot) > CANCELLED * self.size[step.number as usize]; // not so for NaN
                if !sound {
                    return false;
                }
                self.inverse[step.number as usize] = reciprocal(pivot);
            }
            let inverse = self.inverse[step.number as usize];
            for &(target, source) in &program.scales[scale..step.scales as usize] {
                values[target as usize] = values[source as usize] * inverse;
            }
            for u in &program.updates[update..step.updates as usize] {
                let product = values[u.below as usize] * values[u.right as usize];
                values[u.target as usize] -= product;
            }
            for a in &program.additions[addition..step.additions as usize] {
                let term = values[a.source as usize] * a.factor;
                values[a.target as usize] += term;
            }
            for (u, number) in &program.watched[watch..step.watched as usize] {
                let product = values[u.below as usize] * values[u.right as usize];
                values[u.target as usize] -= product;
                self.size[*number as usize] += taxicab(product);
            }
            scale = step.scales as usize;
            update = step.updates as usize;
            addition = step.additions as usize;
            watch = step.watched as usize;
        }
        true
    }

    /// A·x = b; `b` is used up.
    pub(crate) fn solve(&self, program: &Program, b: &mut [Complex64], x: &mut [Complex64]) {
        for pivot in &program.pivots {
            let value = b[pivot.row as usize];
            // Right-hand sides are sparse.
            if value == Complex64::ZERO {
                continue;
            }
            let rows = &program.below[pivot.below.0 as usize..pivot.below.1 as usize];
            for (factor, &row) in self.values[pivot.below_slots()].iter().zip(rows) {
                b[row as usize] -= factor * value;
            }
        }
        for (pivot, inverse) in program.pivots.iter().zip(&self.inverse).rev() {
            let mut value = b[pivot.row as usize];
            let cols = &program.right[pivot.right.0 as usize..pivot.right.1 as usize];
            for (factor, &col) in self.values[pivot.right_slots()].iter().zip(cols) {
                value -= factor * x[col as usize];
            }
            x[pivot.col as usize] = value * inverse;
        }
    }

    /// Aᵀ·y = c; `c` is used up.
    pub(crate) fn solve_transposed(&self, program: &Program, c: &mut [Complex64], y: &mut [Complex64]) {
        for (pivot, inverse) in program.pivots.iter().zip(&self.inverse) {
            let value = c[pivot.col as usize];
            if value == Complex64::ZERO {
                y[pivot.row as usize] = value;
                continue;
            }
            let value = value * inverse;
            let cols = &program.right[pivot.right.0 as usize..pivot.right.1 as usize];
            for (factor, &col) in self.values[pivot.right_slots()].iter().zip(cols) {
                c[col as usize] -= factor * value;
            }
            y[pivot.row as usize] = value;
        }
        for pivot in program.pivots.iter().rev() {
            let mut value = y[pivot.row as usize];
            let rows = &program.below[pivot.below.0 as usize..pivot.below.1 as usize];
            for (factor, &row) in self.values[pivot.below_slots()].iter().zip(rows) {
                value -= factor * y[row as usize];
            }
            y[pivot.row as usize] = value;
        }
    }
}
