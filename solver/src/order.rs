//! The elimination order: Markowitz cost with threshold pivoting on sample matrices (I. S. Duff, A. M. Erisman, J. K. Reid, "Direct
//! Methods for Sparse Matrices", ch. 7, quoted from memory), compiled to a flat program.
//!
//! A pivot is taken only where it is not small against its column at every sample frequency, so that one static order serves a whole
//! sweep; what it fails to serve is noticed while factoring.

use std::collections::BTreeSet;

use num_complex::Complex64;

use crate::float::taxicab;
use crate::layout::Pattern;
use crate::tape::{Program, Update};

/// Number of sample frequencies.
pub(crate) const SAMPLES: usize = 3;

/// A pivot must be at least this fraction of the largest entry of its column.
const THRESHOLD: f64 = 0.02;

/// Rows and columns looked at once a pivot is in hand.
const SEARCH: usize = 6;

type Sample = [Complex64; SAMPLES];

struct Active {
    rows: Vec<Vec<(u32, Sample)>>,
    cols: Vec<Vec<u32>>,
    rows_by_count: BTreeSet<(u32, u32)>,
    cols_by_count: BTreeSet<(u32, u32)>,
}

/// A pivot and what it acts on.
struct Step {
    row: u32,
    col: u32,
    /// Other columns of the pivot row.
    right: Vec<u32>,
    /// Other rows of the pivot column.
    below: Vec<u32>,
}

#[derive(Clone, Copy)]
struct Candidate {
    cost: u64,
    ratio: f64,
    row: u32,
    col: u32,
}

impl Candidate {
    fn better_than(&self, other: Option<Candidate>) -> bool {
        other.is_none_or(|other| {
            self.cost < other.cost || (self.cost == other.cost && self.ratio > other.ratio)
        })
    }
}

impl Active {
    fn new(pattern: &Pattern, samples: &[Sample]) -> Active {
        let mut rows = Vec::with_capacity(pattern.n);
        let mut cols = vec![Vec::new(); pattern.n];
        for row in 0..pattern.n {
            let range = pattern.row_start[row] as usize..pattern.row_start[row + 1] as usize;
            rows.push(range.clone().map(|place| (pattern.col[place], samples[place])).collect::<Vec<_>>());
            range.for_each(|place| cols[pattern.col[place] as usize].push(row as u32));
        }
        let rows_by_count = rows.iter().enumerate().map(|(i, row)| (row.len() as u32, i as u32)).collect();
        let cols_by_count = cols.iter().enumerate().map(|(j, col)| (col.len() as u32, j as u32)).collect();
        Active { rows, cols, rows_by_count, cols_by_count }
    }

    fn at(&self, row: u32, col: u32) -> Sample {
        self.rows[row as usize]
            .iter()
            .find(|(c, _)| *c == col)
            .map_or([Complex64::ZERO; SAMPLES], |(_, sample)| *sample)
    }

    fn largest_in_column(&self, col: u32) -> [f64; SAMPLES] {
        let mut largest = [0.0_f64; SAMPLES];
        for &row in &self.cols[col as usize] {
            for (largest, value) in largest.iter_mut().zip(self.at(row, col)) {
                *largest = largest.max(taxicab(value));
            }
        }
        largest
    }

    fn candidate(&self, row: u32, col: u32, sample: &Sample, largest: &[f64; SAMPLES]) -> Candidate {
        let ratio =
            sample.iter().zip(largest).map(|(value, largest)| taxicab(*value) / largest).fold(1.0, f64::min);
        let cost = (self.rows[row as usize].len() as u64 - 1) * (self.cols[col as usize].len() as u64 - 1);
        Candidate { cost, ratio, row, col }
    }

    fn pick(&self) -> Option<Candidate> {
        let mut best: Option<Candidate> = None;
        let mut last_resort: Option<Candidate> = None;
        let mut looked_at = 0;
        let mut consider = |candidate: Candidate| {
            if candidate.ratio >= THRESHOLD {
                if candidate.better_than(best) {
                    best = Some(candidate);
                }
            } else if last_resort.is_none_or(|other| candidate.ratio > other.ratio || other.ratio.is_nan()) {
                last_resort = Some(candidate);
            }
            best
        };
        let mut rows = self.rows_by_count.iter().peekable();
        let mut cols = self.cols_by_count.iter().peekable();
        loop {
            let row_count = rows.peek().map_or(u32::MAX, |(count, _)| *count);
            let col_count = cols.peek().map_or(u32::MAX, |(count, _)| *count);
            let count = row_count.min(col_count);
            if count == u32::MAX {
                break;
            }
            let mut found = None;
            if col_count <= row_count {
                let Some(&(_, col)) = cols.next() else { break };
                let largest = self.largest_in_column(col);
                for &row in &self.cols[col as usize] {
                    found = consider(self.candidate(row, col, &self.at(row, col), &largest));
                }
            } else {
                let Some(&(_, row)) = rows.next() else { break };
                for (col, sample) in &self.rows[row as usize] {
                    found = consider(self.candidate(row, *col, sample, &self.largest_in_column(*col)));
                }
            }
            looked_at += 1;
            if let Some(best) = found
                && (looked_at >= SEARCH || best.cost <= u64::from(count.saturating_sub(1)).pow(2))
            {
                break;
            }
        }
        best.or(last_resort)
    }

    fn recount_row(&mut self, row: u32, before: usize) {
        self.rows_by_count.remove(&(before as u32, row));
        self.rows_by_count.insert((self.rows[row as usize].len() as u32, row));
    }

    fn recount_col(&mut self, col: u32, before: usize) {
        self.cols_by_count.remove(&(before as u32, col));
        self.cols_by_count.insert((self.cols[col as usize].len() as u32, col));
    }

    fn eliminate(&mut self, row: u32, col: u32) -> Step {
        let pivot_row = std::mem::take(&mut self.rows[row as usize]);
        let below: Vec<u32> =
            std::mem::take(&mut self.cols[col as usize]).into_iter().filter(|&r| r != row).collect();
        self.rows_by_count.remove(&(pivot_row.len() as u32, row));
        self.cols_by_count.remove(&(below.len() as u32 + 1, col));
        let pivot = pivot_row
            .iter()
            .find(|(c, _)| *c == col)
            .map_or([Complex64::ONE; SAMPLES], |(_, sample)| *sample);
        for &(c, _) in pivot_row.iter().filter(|(c, _)| *c != col) {
            let before = self.cols[c as usize].len();
            self.cols[c as usize].retain(|&r| r != row);
            self.recount_col(c, before);
        }
        for &r in &below {
            let before = self.rows[r as usize].len();
            let entry = self.at(r, col);
            self.rows[r as usize].retain(|(c, _)| *c != col);
            let mut factor = [Complex64::ZERO; SAMPLES];
            for k in 0..SAMPLES {
                factor[k] = entry[k] * crate::float::reciprocal(pivot[k]);
            }
            for (c, value) in pivot_row.iter().filter(|(c, _)| *c != col) {
                let target = match self.rows[r as usize].iter().position(|(existing, _)| existing == c) {
                    Some(place) => place,
                    None => {
                        self.rows[r as usize].push((*c, [Complex64::ZERO; SAMPLES]));
                        let before = self.cols[*c as usize].len();
                        self.cols[*c as usize].push(r);
                        self.recount_col(*c, before);
                        self.rows[r as usize].len() - 1
                    }
                };
                let target = &mut self.rows[r as usize][target].1;
                for k in 0..SAMPLES {
                    target[k] -= factor[k] * value[k];
                }
            }
            self.recount_row(r, before);
        }
        let right = pivot_row.iter().map(|(c, _)| *c).filter(|&c| c != col).collect();
        Step { row, col, right, below }
    }
}

/// Chooses the order and compiles it; `None` if the matrix is structurally singular.
pub(crate) fn analyse(pattern: &Pattern, samples: &[Sample]) -> Option<Program> {
    let mut active = Active::new(pattern, samples);
    let mut steps = Vec::with_capacity(pattern.n);
    for _ in 0..pattern.n {
        let pivot = active.pick()?;
        steps.push(active.eliminate(pivot.row, pivot.col));
    }
    Some(compile(pattern, &steps))
}

fn compile(pattern: &Pattern, steps: &[Step]) -> Program {
    let n = pattern.n;
    let mut program = Program { n, ..Program::default() };
    // (column, slot) of every place of L and U, by row.
    let mut slots: Vec<Vec<(u32, u32)>> = vec![Vec::new(); n];
    let mut is_pivot = Vec::new();
    for step in steps {
        let pivot_slot = is_pivot.len() as u32;
        program.pivot_slot.push(pivot_slot);
        program.pivot_row.push(step.row);
        program.pivot_col.push(step.col);
        slots[step.row as usize].push((step.col, pivot_slot));
        is_pivot.push(true);
        for &col in &step.right {
            slots[step.row as usize].push((col, is_pivot.len() as u32));
            is_pivot.push(false);
        }
        for &row in &step.below {
            slots[row as usize].push((step.col, is_pivot.len() as u32));
            is_pivot.push(false);
        }
        program.right.extend(&step.right);
        program.below.extend(&step.below);
        program.right_end.push(program.right.len() as u32);
        program.below_end.push(program.below.len() as u32);
    }
    program.slots = is_pivot.len();
    let mut pivot_number = vec![0_u32; program.slots];
    program.pivot_slot.iter().enumerate().for_each(|(k, &slot)| pivot_number[slot as usize] = k as u32);
    slots.iter_mut().for_each(|row| row.sort_unstable());
    let slot = |row: u32, col: u32| {
        let row = &slots[row as usize];
        row.binary_search_by_key(&col, |(c, _)| *c).map_or(0, |place| row[place].1)
    };
    for (step, &pivot_slot) in steps.iter().zip(&program.pivot_slot) {
        let first_right = pivot_slot + 1;
        let first_below = first_right + step.right.len() as u32;
        for (b, &row) in step.below.iter().enumerate() {
            for (r, &col) in step.right.iter().enumerate() {
                let target = slot(row, col);
                let update = Update { target, below: first_below + b as u32, right: first_right + r as u32 };
                if is_pivot[target as usize] {
                    program.pivot_updates.push((update, pivot_number[target as usize]));
                } else {
                    program.updates.push(update);
                }
            }
        }
        program.update_end.push(program.updates.len() as u32);
        program.pivot_update_end.push(program.pivot_updates.len() as u32);
    }
    for row in 0..n as u32 {
        let range = pattern.row_start[row as usize] as usize..pattern.row_start[row as usize + 1] as usize;
        program.slot_of_place.extend(pattern.col[range].iter().map(|&col| slot(row, col)));
    }
    program
}
