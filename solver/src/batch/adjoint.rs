//! The adjoint solve of one output, Aᵀ·y = c, written out for the unknowns that it touches.
//!
//! c has one or two entries and few rows of y are asked for, so most of a substitution is structural zero. Which part is left is found once.

use crate::batch::lane::Lane;
use crate::tape::Program;

/// One operation on the vectors: c by column at 0…n, y by row at n…2n.
#[derive(Debug, Clone, Copy)]
enum Step {
    /// vector[target] = vector[source] · inverse[pivot].
    Divide { target: u32, source: u32, pivot: u32 },
    /// The same with a constant pivot.
    Scale { target: u32, source: u32, factor: f64 },
    /// vector[target] −= slot · vector[source].
    Subtract { target: u32, slot: u32, source: u32 },
    /// vector[target] += factor · vector[source].
    Add { target: u32, source: u32, factor: f64 },
}

#[derive(Debug, Clone)]
pub(super) struct Adjoint {
    /// Where the vectors start from: zeros, and the entries of c.
    start: Vec<(u32, f64)>,
    steps: Vec<Step>,
}

impl Adjoint {
    /// `entries` are those of c, by column; `wanted` the rows of y that will be read, `None` for all.
    pub(super) fn new(program: &Program, entries: &[(u32, f64)], wanted: Option<&[u32]>) -> Adjoint {
        let n = program.n;
        let factors = |slots: std::ops::Range<usize>, others: &[u32]| {
            slots
                .zip(others.to_vec())
                .filter(|&(slot, _)| program.constants[slot] != Some(0.0))
                .collect::<Vec<_>>()
        };
        let right = |at: usize| {
            let pivot = program.pivots[at];
            factors(pivot.right_slots(), &program.right[pivot.right.0 as usize..pivot.right.1 as usize])
        };
        let below = |at: usize| {
            let pivot = program.pivots[at];
            factors(pivot.below_slots(), &program.below[pivot.below.0 as usize..pivot.below.1 as usize])
        };
        let mut needed = vec![wanted.is_none(); n];
        wanted.unwrap_or_default().iter().for_each(|&row| needed[row as usize] = true);
        for at in 0..n {
            if needed[program.pivots[at].row as usize] {
                below(at).into_iter().for_each(|(_, row)| needed[row as usize] = true);
            }
        }
        let mut reached = vec![false; 2 * n];
        let mut steps = Vec::new();
        for &(col, _) in entries {
            reached[col as usize] = true;
        }
        let term = |target: u32, slot: usize, source: u32| match program.constants[slot] {
            Some(factor) => Step::Add { target, source, factor: -factor },
            None => Step::Subtract { target, slot: slot as u32, source },
        };
        let mut divided = vec![false; n];
        for (at, pivot) in program.pivots.iter().enumerate() {
            if !reached[pivot.col as usize] {
                continue;
            }
            let target = n as u32 + pivot.row;
            reached[target as usize] = true;
            divided[pivot.row as usize] = true;
            steps.push(match program.constants[pivot.slot as usize] {
                Some(value) if value != 0.0 => {
                    Step::Scale { target, source: pivot.col, factor: value.recip() }
                }
                _ => Step::Divide { target, source: pivot.col, pivot: at as u32 },
            });
            for (slot, col) in right(at) {
                reached[col as usize] = true;
                steps.push(term(col, slot, target));
            }
        }
        for (at, pivot) in program.pivots.iter().enumerate().rev().filter(|(_, p)| needed[p.row as usize]) {
            let target = n as u32 + pivot.row;
            for (slot, row) in below(at) {
                let source = n as u32 + row;
                if reached[source as usize] {
                    reached[target as usize] = true;
                    steps.push(term(target, slot, source));
                }
            }
        }
        // Columns that take part; rows that are added to, or read, without having been set.
        let columns = (0..n as u32).filter(|&col| reached[col as usize]);
        let rows = (0..n as u32).filter(|&row| needed[row as usize] && !divided[row as usize]);
        let entry = |col: u32| entries.iter().filter(|entry| entry.0 == col).map(|entry| entry.1).sum();
        let start =
            columns.map(|col| (col, entry(col))).chain(rows.map(|row| (n as u32 + row, 0.0))).collect();
        Adjoint { start, steps }
    }

    #[inline(always)]
    pub(super) fn run(&self, values: &[Lane], inverse: &[Lane], vector: &mut [Lane]) {
        for &(place, value) in &self.start {
            vector[place as usize] = Lane::real(value);
        }
        for step in &self.steps {
            match *step {
                Step::Divide { target, source, pivot } => {
                    vector[target as usize] = vector[source as usize] * inverse[pivot as usize];
                }
                Step::Scale { target, source, factor } => {
                    vector[target as usize] = vector[source as usize].scaled(factor);
                }
                Step::Subtract { target, slot, source } => {
                    let product = values[slot as usize] * vector[source as usize];
                    vector[target as usize] = vector[target as usize] - product;
                }
                Step::Add { target, source, factor } => {
                    vector[target as usize] =
                        vector[target as usize] + vector[source as usize].scaled(factor);
                }
            }
        }
    }
}
