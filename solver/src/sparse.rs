//! Sparse LU with threshold pivoting by the numbers at hand: what stands in for the dense solver in a large network.
//!
//! Columns are taken by fewest entries, and in them the row of fewest entries among those not small against the column (Markowitz, and
//! the threshold of I. S. Duff, A. M. Erisman, J. K. Reid, "Direct Methods for Sparse Matrices", ch. 5 and 7, quoted from memory). Like the
//! dense solver it sets to zero what rounding left of an exact zero, and so decides rank; a threshold promises less than complete pivoting
//! does, so that each solution is checked against the matrix as well.

use std::collections::{BTreeMap, BTreeSet};

use num_complex::Complex64;

use crate::float::{reciprocal, taxicab};
use crate::layout::Pattern;
use crate::pivoted::{ROUNDING, Scaled, cancelling_sum, scale_from};

/// A pivot is at least this fraction of the largest entry of its column.
const THRESHOLD: f64 = 0.1;
/// Columns looked at for a pivot.
const SEARCH: usize = 4;
/// More entries than this (about 1 GB) are not made.
const MOST_ENTRIES: usize = 20_000_000;
/// More free unknowns than this are not described.
const MOST_NULL_VECTORS: usize = 64;

/// An entry of the remaining matrix and the size of the terms that made it.
#[derive(Debug, Clone, Copy)]
struct Entry {
    value: Complex64,
    size: f64,
}

/// One pivot: its column below it (multipliers) and its row to the right.
#[derive(Debug, Clone)]
struct Step {
    row: u32,
    col: u32,
    inverse: Complex64,
    below: Vec<(u32, Complex64)>,
    right: Vec<(u32, Complex64)>,
}

/// LU of the equilibrated matrix, pivot by pivot.
#[derive(Debug, Clone)]
pub(crate) struct Sparse {
    pub(crate) scaled: Scaled,
    steps: Vec<Step>,
}

struct Active {
    rows: Vec<BTreeMap<u32, Entry>>,
    cols: Vec<BTreeSet<u32>>,
    by_count: BTreeSet<(u32, u32)>,
    entries: usize,
}

impl Sparse {
    /// Factors a matrix of finite numbers; `None` if fill or the number of free unknowns goes beyond measure.
    pub(crate) fn new(pattern: &Pattern, matrix: &[Complex64]) -> Option<Sparse> {
        let n = pattern.n;
        let (row_scale, col_scale) = equilibrate(pattern, matrix);
        let mut active = Active::new(pattern, matrix, &row_scale, &col_scale);
        let mut steps = Vec::with_capacity(n);
        while let Some((row, col)) = active.pick() {
            steps.push(active.eliminate(row, col));
            if active.entries > MOST_ENTRIES {
                return None;
            }
        }
        let mut sparse = Sparse { scaled: Scaled::new(row_scale, col_scale), steps };
        sparse.find_null_vectors(n)?;
        Some(sparse)
    }

    fn find_null_vectors(&mut self, n: usize) -> Option<()> {
        let left_over = |taken: &mut dyn Iterator<Item = u32>| {
            let mut free = vec![true; n];
            taken.for_each(|index| free[index as usize] = false);
            (0..n).filter(move |&index| free[index]).collect::<Vec<_>>()
        };
        let rows = left_over(&mut self.steps.iter().map(|step| step.row));
        let cols = left_over(&mut self.steps.iter().map(|step| step.col));
        if cols.len() > MOST_NULL_VECTORS {
            return None;
        }
        for tail in rows {
            // The row that came out as zero, as the sum of the rows that made it so.
            let mut w = vec![Complex64::ZERO; n];
            w[tail] = Complex64::ONE;
            for step in self.steps.iter().rev() {
                let terms = step.below.iter().map(|&(row, factor)| factor * w[row as usize]);
                w[step.row as usize] = -cancelling_sum(terms);
            }
            self.scaled.add_left(w);
        }
        for tail in cols {
            let mut v = vec![Complex64::ZERO; n];
            v[tail] = Complex64::ONE;
            for step in self.steps.iter().rev() {
                let terms = step.right.iter().map(|&(col, value)| value * v[col as usize]);
                v[step.col as usize] = -cancelling_sum(terms) * step.inverse;
            }
            self.scaled.add_right(v);
        }
        Some(())
    }

    /// One solution of A·x = b. Rows without a pivot are left unchecked.
    pub(crate) fn solve(&self, b: &[Complex64], x: &mut [Complex64]) {
        let mut z: Vec<Complex64> = b.iter().zip(self.scaled.rows()).map(|(b, scale)| b * scale).collect();
        for step in &self.steps {
            let value = z[step.row as usize];
            if value != Complex64::ZERO {
                step.below.iter().for_each(|&(row, factor)| z[row as usize] -= factor * value);
            }
        }
        x.fill(Complex64::ZERO);
        for step in self.steps.iter().rev() {
            let sum: Complex64 = step.right.iter().map(|&(col, value)| value * x[col as usize]).sum();
            x[step.col as usize] = (z[step.row as usize] - sum) * step.inverse;
        }
        x.iter_mut().zip(self.scaled.cols()).for_each(|(x, scale)| *x *= scale);
    }

    /// One solution of Aᵀ·y = c. Columns without a pivot are left unchecked.
    pub(crate) fn solve_transposed(&self, c: &[Complex64], y: &mut [Complex64]) {
        let mut z: Vec<Complex64> = c.iter().zip(self.scaled.cols()).map(|(c, scale)| c * scale).collect();
        y.fill(Complex64::ZERO);
        for step in &self.steps {
            let value = z[step.col as usize] * step.inverse;
            y[step.row as usize] = value;
            if value != Complex64::ZERO {
                step.right.iter().for_each(|&(col, entry)| z[col as usize] -= entry * value);
            }
        }
        for step in self.steps.iter().rev() {
            let sum: Complex64 = step.below.iter().map(|&(row, factor)| factor * y[row as usize]).sum();
            y[step.row as usize] -= sum;
        }
        y.iter_mut().zip(self.scaled.rows()).for_each(|(y, scale)| *y *= scale);
    }
}

impl Active {
    fn new(pattern: &Pattern, matrix: &[Complex64], row_scale: &[f64], col_scale: &[f64]) -> Active {
        let mut rows = vec![BTreeMap::new(); pattern.n];
        let mut cols = vec![BTreeSet::new(); pattern.n];
        let mut entries = 0;
        for row in 0..pattern.n {
            let places = pattern.row_start[row] as usize..pattern.row_start[row + 1] as usize;
            for (&entry, &col) in matrix[places.clone()].iter().zip(&pattern.col[places]) {
                let col = col as usize;
                let value = entry * row_scale[row] * col_scale[col];
                if value != Complex64::ZERO {
                    rows[row].insert(col as u32, Entry { value, size: taxicab(value) });
                    cols[col].insert(row as u32);
                    entries += 1;
                }
            }
        }
        let by_count = (0..pattern.n as u32)
            .filter(|&col| !cols[col as usize].is_empty())
            .map(|col| (cols[col as usize].len() as u32, col))
            .collect();
        Active { rows, cols, by_count, entries }
    }

    fn at(&self, row: u32, col: u32) -> f64 {
        self.rows[row as usize].get(&col).map_or(0.0, |entry| taxicab(entry.value))
    }

    /// The cheapest sound pivot of the columns with fewest entries; of equal ones the largest.
    fn pick(&self) -> Option<(u32, u32)> {
        let mut best: Option<(usize, f64, u32, u32)> = None;
        for &(count, col) in self.by_count.iter().take(SEARCH) {
            let rows = &self.cols[col as usize];
            let largest = rows.iter().map(|&row| self.at(row, col)).fold(0.0, f64::max);
            for &row in rows {
                let share = self.at(row, col) / largest;
                let cost = (self.rows[row as usize].len() - 1) * (count as usize - 1);
                let better =
                    best.is_none_or(|(least, most, ..)| cost < least || cost == least && share > most);
                if share >= THRESHOLD && better {
                    best = Some((cost, share, row, col));
                }
            }
        }
        best.map(|(_, _, row, col)| (row, col))
    }

    /// Moves a column to its new count; an empty one can't have a pivot any more.
    fn recount(&mut self, col: u32, before: usize) {
        let now = self.cols[col as usize].len();
        if now != before {
            self.by_count.remove(&(before as u32, col));
            if now > 0 {
                self.by_count.insert((now as u32, col));
            }
        }
    }

    fn eliminate(&mut self, row: u32, col: u32) -> Step {
        let mut pivot_row = std::mem::take(&mut self.rows[row as usize]);
        self.entries -= pivot_row.len();
        let inverse = pivot_row.remove(&col).map_or(Complex64::ZERO, |pivot: Entry| reciprocal(pivot.value));
        let pivot_col = std::mem::take(&mut self.cols[col as usize]);
        self.by_count.remove(&(pivot_col.len() as u32, col));
        for &c in pivot_row.keys() {
            let before = self.cols[c as usize].len();
            self.cols[c as usize].remove(&row);
            self.recount(c, before);
        }
        let mut below = Vec::with_capacity(pivot_col.len() - 1);
        for &r in pivot_col.iter().filter(|&&r| r != row) {
            let Some(entry) = self.rows[r as usize].remove(&col) else { continue };
            self.entries -= 1;
            let factor = entry.value * inverse;
            below.push((r, factor));
            for (&c, right) in &pivot_row {
                self.subtract(r, c, factor * right.value);
            }
        }
        let right = pivot_row.into_iter().map(|(c, entry)| (c, entry.value)).collect();
        Step { row, col, inverse, below, right }
    }

    fn subtract(&mut self, row: u32, col: u32, product: Complex64) {
        let before = self.cols[col as usize].len();
        match self.rows[row as usize].get_mut(&col) {
            Some(entry) => {
                entry.value -= product;
                entry.size += taxicab(product);
                if taxicab(entry.value) <= ROUNDING * entry.size {
                    self.rows[row as usize].remove(&col);
                    self.cols[col as usize].remove(&row);
                    self.entries -= 1;
                }
            }
            None if product == Complex64::ZERO => return,
            None => {
                let entry = Entry { value: -product, size: taxicab(product) };
                self.rows[row as usize].insert(col, entry);
                self.cols[col as usize].insert(row);
                self.entries += 1;
            }
        }
        self.recount(col, before);
    }
}

/// Powers of two by row and column that bring the largest entries near 1.
fn equilibrate(pattern: &Pattern, matrix: &[Complex64]) -> (Vec<f64>, Vec<f64>) {
    let (mut row_scale, mut col_scale) = (vec![1.0; pattern.n], vec![1.0; pattern.n]);
    let size = |place: usize| matrix[place].re.abs().max(matrix[place].im.abs());
    for _ in 0..3 {
        for (scale, window) in row_scale.iter_mut().zip(pattern.row_start.windows(2)) {
            let places = window[0] as usize..window[1] as usize;
            let sizes = places.map(|place| size(place) * *scale * col_scale[pattern.col[place] as usize]);
            *scale *= scale_from(sizes);
        }
        for (scale, window) in col_scale.iter_mut().zip(pattern.col_start.windows(2)) {
            let places = &pattern.by_col[window[0] as usize..window[1] as usize];
            let sizes =
                places.iter().map(|&(row, place)| size(place as usize) * row_scale[row as usize] * *scale);
            *scale *= scale_from(sizes);
        }
    }
    (row_scale, col_scale)
}
