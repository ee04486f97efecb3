//! One solve with the factors, A·x = b or Aᵀ·y = c, written out for the unknowns that it touches.
//!
//! A right-hand side has a few entries and few unknowns are asked for, so most of a substitution is structural zero. Which part is left is
//! found once.

use crate::lanes::Lane;
use crate::tape::{Pivot, Program};

/// One operation on the vectors: the right-hand side at 0…n, the solution at n…2n. A right-hand side c goes by column and its solution y by
/// row, a right-hand side b by row and its solution x by column.
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
pub(crate) struct Substitution {
    /// Where the vectors start from: zeros, and the entries of the right-hand side.
    start: Vec<(u32, f64)>,
    steps: Vec<Step>,
}

/// What both directions are made from.
struct Factors<'p> {
    program: &'p Program,
}

/// (slot, its other row or column), without those that are always 0.
type Line = Vec<(usize, u32)>;

impl Factors<'_> {
    fn present(&self, slots: std::ops::Range<usize>, others: &[u32]) -> Line {
        let line = slots.zip(others.iter().copied());
        line.filter(|&(slot, _)| self.program.constants[slot] != Some(0.0)).collect()
    }

    fn right(&self, pivot: &Pivot) -> Line {
        self.present(pivot.right_slots(), &self.program.right[pivot.right.0 as usize..pivot.right.1 as usize])
    }

    fn below(&self, pivot: &Pivot) -> Line {
        self.present(pivot.below_slots(), &self.program.below[pivot.below.0 as usize..pivot.below.1 as usize])
    }

    fn term(&self, target: u32, slot: usize, source: u32) -> Step {
        match self.program.constants[slot] {
            Some(factor) => Step::Add { target, source, factor: -factor },
            None => Step::Subtract { target, slot: slot as u32, source },
        }
    }

    fn divide(&self, at: usize, target: u32, source: u32) -> Step {
        match self.program.constants[self.program.pivots[at].slot as usize] {
            Some(value) if value != 0.0 => Step::Scale { target, source, factor: value.recip() },
            _ => Step::Divide { target, source, pivot: at as u32 },
        }
    }
}

impl Substitution {
    /// Aᵀ·y = c. `entries` are those of c, by column; `wanted` the rows of y that will be read, `None` for all.
    pub(crate) fn adjoint(program: &Program, entries: &[(u32, f64)], wanted: Option<&[u32]>) -> Substitution {
        let n = program.n;
        let factors = Factors { program };
        let mut needed = vec![wanted.is_none(); n];
        wanted.unwrap_or_default().iter().for_each(|&row| needed[row as usize] = true);
        for pivot in &program.pivots {
            if needed[pivot.row as usize] {
                factors.below(pivot).into_iter().for_each(|(_, row)| needed[row as usize] = true);
            }
        }
        let mut reached = vec![false; 2 * n];
        let mut steps = Vec::new();
        for &(col, _) in entries {
            reached[col as usize] = true;
        }
        let mut divided = vec![false; n];
        for (at, pivot) in program.pivots.iter().enumerate() {
            if !reached[pivot.col as usize] {
                continue;
            }
            let target = n as u32 + pivot.row;
            reached[target as usize] = true;
            divided[pivot.row as usize] = true;
            steps.push(factors.divide(at, target, pivot.col));
            for (slot, col) in factors.right(pivot) {
                reached[col as usize] = true;
                steps.push(factors.term(col, slot, target));
            }
        }
        for pivot in program.pivots.iter().rev().filter(|p| needed[p.row as usize]) {
            let target = n as u32 + pivot.row;
            for (slot, row) in factors.below(pivot) {
                let source = n as u32 + row;
                if reached[source as usize] {
                    reached[target as usize] = true;
                    steps.push(factors.term(target, slot, source));
                }
            }
        }
        // Columns that take part; rows that are added to, or read, without having been set.
        let columns = (0..n as u32).filter(|&col| reached[col as usize]);
        let rows = (0..n as u32).filter(|&row| needed[row as usize] && !divided[row as usize]);
        let start = start(entries, columns, rows.map(|row| n as u32 + row));
        Substitution { start, steps }
    }

    /// A·x = b. `entries` are those of b, by row; `wanted` the columns of x that will be read.
    pub(crate) fn forward(program: &Program, entries: &[(u32, f64)], wanted: &[u32]) -> Substitution {
        let n = program.n;
        let factors = Factors { program };
        let mut needed = vec![false; n];
        wanted.iter().for_each(|&col| needed[col as usize] = true);
        for pivot in &program.pivots {
            if needed[pivot.col as usize] {
                factors.right(pivot).into_iter().for_each(|(_, col)| needed[col as usize] = true);
            }
        }
        let mut reached = vec![false; 2 * n];
        let mut steps = Vec::new();
        for &(row, _) in entries {
            reached[row as usize] = true;
        }
        for pivot in program.pivots.iter() {
            if !reached[pivot.row as usize] {
                continue;
            }
            for (slot, row) in factors.below(pivot) {
                reached[row as usize] = true;
                steps.push(factors.term(row, slot, pivot.row));
            }
        }
        for (at, pivot) in program.pivots.iter().enumerate().rev().filter(|(_, p)| needed[p.col as usize]) {
            for (slot, col) in factors.right(pivot) {
                let source = n as u32 + col;
                if reached[source as usize] {
                    reached[pivot.row as usize] = true;
                    steps.push(factors.term(pivot.row, slot, source));
                }
            }
            if reached[pivot.row as usize] {
                let target = n as u32 + pivot.col;
                reached[target as usize] = true;
                steps.push(factors.divide(at, target, pivot.row));
            }
        }
        // Rows that take part; columns that are read without having been set.
        let rows = (0..n as u32).filter(|&row| reached[row as usize]);
        let columns = (0..n).filter(|&col| needed[col] && !reached[n + col]).map(|col| (n + col) as u32);
        let start = start(entries, rows, columns);
        Substitution { start, steps }
    }

    #[inline(always)]
    pub(crate) fn run(&self, values: &[Lane], inverse: &[Lane], vector: &mut [Lane]) {
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

/// The right-hand side where it takes part, and zeros.
fn start(
    entries: &[(u32, f64)],
    sides: impl Iterator<Item = u32>,
    zeros: impl Iterator<Item = u32>,
) -> Vec<(u32, f64)> {
    let entry = |place: u32| entries.iter().filter(|entry| entry.0 == place).map(|entry| entry.1).sum();
    sides.map(|place| (place, entry(place))).chain(zeros.map(|place| (place, 0.0))).collect()
}
