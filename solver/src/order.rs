//! The elimination order: Markowitz cost with threshold pivoting on sample matrices (I. S. Duff, A. M. Erisman, J. K. Reid, "Direct
//! Methods for Sparse Matrices", ch. 7, quoted from memory), compiled to a flat program.
//!
//! A pivot is taken only where it is not small against its column at every sample frequency, so that one static order serves a whole
//! sweep; what it fails to serve is noticed while factoring. First come pivots that are the same at every frequency (`still`), for lanes to
//! eliminate them once; then, in a symmetric matrix, pivots on the diagonal, for lanes to compute one half. The pointwise program follows
//! the same order.

mod buckets;
mod compile;
mod slots;
mod still;

use std::cell::Cell;

use num_complex::Complex64;

use crate::float::taxicab;
use crate::layout::Pattern;

use buckets::Buckets;

pub(crate) use compile::compile;
pub(crate) use slots::Slots;

/// Number of sample frequencies.
pub(crate) const SAMPLES: usize = 3;

/// A pivot must be at least this fraction of the largest entry of its column.
const THRESHOLD: f64 = 0.02;

/// The same where the pivot has one neighbour.
const LEAF_THRESHOLD: f64 = 1e-9;

/// Rows and columns looked at once a pivot is in hand.
const SEARCH: usize = 6;

type Sample = [Complex64; SAMPLES];

/// The order of elimination.
#[derive(Debug, Clone)]
pub(crate) struct Order {
    pub(crate) steps: Vec<Step>,
    /// The first so many pivots are the same at every frequency, and so is what they make of the rest: no more than g + jω·c.
    pub(crate) still: usize,
    /// The matrix after them is symmetric, and all its pivots are on the diagonal.
    pub(crate) symmetric: bool,
}

/// What is to be ordered.
#[derive(Debug)]
pub(crate) struct Matrix<'a> {
    pub(crate) pattern: &'a Pattern,
    /// By place: numbers at a few frequencies, and whether they depend on the frequency.
    pub(crate) samples: &'a [Sample],
    pub(crate) reactive: &'a [bool],
    pub(crate) symmetric: bool,
}

struct Active {
    rows: Vec<Vec<(u32, Sample)>>,
    cols: Vec<Vec<u32>>,
    rows_by_count: Buckets,
    cols_by_count: Buckets,
    /// Largest size in each column, as far as it is known.
    largest: Vec<Cell<Option<[f64; SAMPLES]>>>,
}

/// A pivot and what it acts on.
#[derive(Debug, Clone)]
pub(crate) struct Step {
    pub(crate) row: u32,
    pub(crate) col: u32,
    /// Other columns of the pivot row.
    pub(crate) right: Vec<u32>,
    /// Other rows of the pivot column.
    pub(crate) below: Vec<u32>,
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
        let counts = pattern.col_start.windows(2).map(|range| (range[1] - range[0]) as usize);
        let mut cols: Vec<Vec<u32>> = counts.map(|count| Vec::with_capacity(2 * count)).collect();
        for row in 0..pattern.n {
            let range = pattern.row_start[row] as usize..pattern.row_start[row + 1] as usize;
            let mut own = Vec::with_capacity(2 * range.len());
            own.extend(range.clone().map(|place| (pattern.col[place], samples[place])));
            rows.push(own);
            range.for_each(|place| cols[pattern.col[place] as usize].push(row as u32));
        }
        let rows_by_count = Buckets::new(rows.iter().map(Vec::len));
        let cols_by_count = Buckets::new(cols.iter().map(Vec::len));
        let largest = vec![Cell::new(None); pattern.n];
        Active { rows, cols, rows_by_count, cols_by_count, largest }
    }

    fn at(&self, row: u32, col: u32) -> Sample {
        self.rows[row as usize]
            .iter()
            .find(|(c, _)| *c == col)
            .map_or([Complex64::ZERO; SAMPLES], |(_, sample)| *sample)
    }

    fn largest_in_column(&self, col: u32) -> [f64; SAMPLES] {
        if let Some(known) = self.largest[col as usize].get() {
            return known;
        }
        let mut largest = [0.0_f64; SAMPLES];
        for &row in &self.cols[col as usize] {
            for (largest, value) in largest.iter_mut().zip(self.at(row, col)) {
                *largest = largest.max(taxicab(value));
            }
        }
        self.largest[col as usize].set(Some(largest));
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
            let row_count = rows.peek().map_or(u32::MAX, |&(count, _)| count);
            let col_count = cols.peek().map_or(u32::MAX, |&(count, _)| count);
            let count = row_count.min(col_count);
            if count == u32::MAX {
                break;
            }
            let mut found = None;
            if col_count <= row_count {
                let Some((_, col)) = cols.next() else { break };
                let largest = self.largest_in_column(col);
                for &row in &self.cols[col as usize] {
                    found = consider(self.candidate(row, col, &self.at(row, col), &largest));
                }
            } else {
                let Some((_, row)) = rows.next() else { break };
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

    /// The diagonal entry of least degree that is not small against its column. With one neighbour it may be: it adds to one number, and
    /// nothing is subtracted from that again.
    fn pick_diagonal(&self) -> Option<Candidate> {
        let mut best: Option<Candidate> = None;
        let mut looked_at = 0;
        for (count, row) in self.rows_by_count.iter() {
            if best.is_some_and(|best| looked_at >= SEARCH || u64::from(count - 1).pow(2) > best.cost) {
                break;
            }
            let sample = self.at(row, row);
            if sample.iter().any(|&value| taxicab(value) == 0.0) {
                continue;
            }
            let candidate = self.candidate(row, row, &sample, &self.largest_in_column(row));
            let threshold = if count <= 2 { LEAF_THRESHOLD } else { THRESHOLD };
            if candidate.ratio >= threshold && candidate.better_than(best) {
                best = Some(candidate);
            }
            looked_at += usize::from(best.is_some());
        }
        best
    }

    fn eliminate(&mut self, row: u32, col: u32) -> Step {
        let pivot_row = std::mem::take(&mut self.rows[row as usize]);
        let below: Vec<u32> =
            std::mem::take(&mut self.cols[col as usize]).into_iter().filter(|&r| r != row).collect();
        self.rows_by_count.remove(row);
        self.cols_by_count.remove(col);
        let pivot = pivot_row
            .iter()
            .find(|(c, _)| *c == col)
            .map_or([Complex64::ONE; SAMPLES], |(_, sample)| *sample);
        let right: Vec<u32> = pivot_row.iter().map(|(c, _)| *c).filter(|&c| c != col).collect();
        for &c in &right {
            self.cols[c as usize].retain(|&r| r != row);
            self.largest[c as usize].set(None);
        }
        for &r in &below {
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
                        self.cols[*c as usize].push(r);
                        self.rows[r as usize].len() - 1
                    }
                };
                let target = &mut self.rows[r as usize][target].1;
                for k in 0..SAMPLES {
                    target[k] -= factor[k] * value[k];
                }
            }
            self.rows_by_count.set(r, self.rows[r as usize].len());
        }
        right.iter().for_each(|&c| self.cols_by_count.set(c, self.cols[c as usize].len()));
        Step { row, col, right, below }
    }
}

/// Chooses the order; `None` if the matrix is structurally singular.
pub(crate) fn analyse(matrix: &Matrix<'_>) -> Option<Order> {
    let n = matrix.pattern.n;
    let mut active = Active::new(matrix.pattern, matrix.samples);
    let mut steps = Vec::with_capacity(n);
    let paired = still::eliminate(&mut active, matrix, &mut steps);
    let still = steps.len();
    let mut symmetric = matrix.symmetric && paired;
    while steps.len() < n {
        let diagonal = if symmetric { active.pick_diagonal() } else { None };
        symmetric &= diagonal.is_some();
        let pivot = match diagonal {
            Some(pivot) => pivot,
            None => active.pick()?,
        };
        steps.push(active.eliminate(pivot.row, pivot.col));
    }
    Some(Order { steps, still, symmetric })
}
