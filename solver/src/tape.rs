//! The elimination program ("tape") and its numeric run: sparse LU in a fixed order, without allocation or search.

use num_complex::Complex64;

use crate::float::{reciprocal, taxicab};

/// `target -= below * right`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Update {
    pub(crate) target: u32,
    pub(crate) below: u32,
    pub(crate) right: u32,
}

/// The compiled order. Slots hold L and U; those of pivot k lie together: pivot, then the rest of its row, then the rest of its column.
#[derive(Debug, Clone, Default)]
pub(crate) struct Program {
    pub(crate) n: usize,
    pub(crate) slots: usize,
    /// Slot of each place of the matrix.
    pub(crate) slot_of_place: Vec<u32>,
    pub(crate) pivot_slot: Vec<u32>,
    pub(crate) pivot_row: Vec<u32>,
    pub(crate) pivot_col: Vec<u32>,
    /// Columns right of the pivots, all pivots in one list, and where each pivot's end.
    pub(crate) right: Vec<u32>,
    pub(crate) right_end: Vec<u32>,
    /// Rows below the pivots, likewise.
    pub(crate) below: Vec<u32>,
    pub(crate) below_end: Vec<u32>,
    pub(crate) updates: Vec<Update>,
    pub(crate) update_end: Vec<u32>,
    /// Updates of slots that are pivots later, with the number of that pivot: these are watched for cancellation.
    pub(crate) pivot_updates: Vec<(Update, u32)>,
    pub(crate) pivot_update_end: Vec<u32>,
}

impl Program {
    pub(crate) fn operations(&self) -> usize {
        self.updates.len() + self.pivot_updates.len() + self.below.len()
    }
}

/// A pivot that lost this much of its terms' size may be the remains of an exact zero: the dense solver shall decide.
const CANCELLED: f64 = 1e-11;

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
            values: vec![Complex64::ZERO; program.slots],
            inverse: vec![Complex64::ZERO; program.n],
            size: vec![0.0; program.n],
        }
    }

    /// Factors; `false` if a pivot is zero, not finite, or what cancellation left.
    pub(crate) fn factor(&mut self, program: &Program, matrix: &[Complex64]) -> bool {
        let values = &mut self.values[..];
        values.fill(Complex64::ZERO);
        for (value, &slot) in matrix.iter().zip(&program.slot_of_place) {
            values[slot as usize] = *value;
        }
        for (size, &slot) in self.size.iter_mut().zip(&program.pivot_slot) {
            *size = taxicab(values[slot as usize]);
        }
        let (mut right, mut below, mut update, mut pivot_update) = (0, 0, 0, 0);
        for k in 0..program.n {
            let slot = program.pivot_slot[k] as usize;
            let pivot = values[slot];
            let sound = taxicab(pivot) > CANCELLED * self.size[k]; // not so for NaN
            if !sound {
                return false;
            }
            let inverse = reciprocal(pivot);
            self.inverse[k] = inverse;
            let (right_end, below_end) = (program.right_end[k] as usize, program.below_end[k] as usize);
            let first_below = slot + 1 + right_end - right;
            for value in &mut values[first_below..first_below + below_end - below] {
                *value *= inverse;
            }
            let end = program.update_end[k] as usize;
            for u in &program.updates[update..end] {
                let product = values[u.below as usize] * values[u.right as usize];
                values[u.target as usize] -= product;
            }
            update = end;
            let end = program.pivot_update_end[k] as usize;
            for (u, number) in &program.pivot_updates[pivot_update..end] {
                let product = values[u.below as usize] * values[u.right as usize];
                values[u.target as usize] -= product;
                self.size[*number as usize] += taxicab(product);
            }
            pivot_update = end;
            (right, below) = (right_end, below_end);
        }
        true
    }

    /// A·x = b; `b` is used up.
    pub(crate) fn solve(&self, program: &Program, b: &mut [Complex64], x: &mut [Complex64]) {
        let mut below = 0;
        for k in 0..program.n {
            let below_end = program.below_end[k] as usize;
            let value = b[program.pivot_row[k] as usize];
            let first = self.first_below(program, k);
            for (factor, &row) in self.values[first..].iter().zip(&program.below[below..below_end]) {
                b[row as usize] -= factor * value;
            }
            below = below_end;
        }
        for k in (0..program.n).rev() {
            let right = if k == 0 { 0 } else { program.right_end[k - 1] as usize };
            let mut value = b[program.pivot_row[k] as usize];
            let first = program.pivot_slot[k] as usize + 1;
            for (factor, &col) in
                self.values[first..].iter().zip(&program.right[right..program.right_end[k] as usize])
            {
                value -= factor * x[col as usize];
            }
            x[program.pivot_col[k] as usize] = value * self.inverse[k];
        }
    }

    /// Aᵀ·y = c; `c` is used up.
    pub(crate) fn solve_transposed(&self, program: &Program, c: &mut [Complex64], y: &mut [Complex64]) {
        let mut right = 0;
        for k in 0..program.n {
            let right_end = program.right_end[k] as usize;
            let value = c[program.pivot_col[k] as usize] * self.inverse[k];
            let first = program.pivot_slot[k] as usize + 1;
            for (factor, &col) in self.values[first..].iter().zip(&program.right[right..right_end]) {
                c[col as usize] -= factor * value;
            }
            y[program.pivot_row[k] as usize] = value;
            right = right_end;
        }
        for k in (0..program.n).rev() {
            let below = if k == 0 { 0 } else { program.below_end[k - 1] as usize };
            let mut value = y[program.pivot_row[k] as usize];
            let first = self.first_below(program, k);
            for (factor, &row) in
                self.values[first..].iter().zip(&program.below[below..program.below_end[k] as usize])
            {
                value -= factor * y[row as usize];
            }
            y[program.pivot_row[k] as usize] = value;
        }
    }

    fn first_below(&self, program: &Program, k: usize) -> usize {
        let right = if k == 0 { 0 } else { program.right_end[k - 1] };
        (program.pivot_slot[k] + 1 + program.right_end[k] - right) as usize
    }
}
