//! Sparse elimination in the field: any pivot will do, so the one that makes least fill is taken (H. M. Markowitz, Management Science 3
//! (1957) 255–269, from memory).

use std::collections::BTreeSet;

use num_complex::Complex64;

use crate::identity::equations::{Drive, Equations, Look, gathered};
use crate::identity::exact::Exact;
use crate::identity::field::{Field, Z};
use crate::identity::{Found, Trial};

/// [A b; c 0] is eliminated by pivots in A. What is left in a row of A shows an excitation that is contradicted, what is left of c in the
/// columns of A an output that is undetermined, and the corner is −cᵀA⁻¹b.
pub(super) fn eliminate(
    equations: Equations<'_>,
    drives: &[Vec<(Drive, Complex64)>],
    looks: &[Look],
    field: Field,
) -> Trial {
    let n = equations.rows.len();
    let mut rows = equations.rows.clone();
    for (number, drive) in drives.iter().enumerate() {
        for &(one, amplitude) in drive {
            let amplitude = field
                .join(Exact::new(amplitude.re).in_field(field), Exact::new(amplitude.im).in_field(field));
            for (row, factor) in equations.drive(one) {
                rows[row].push(((n + number) as u32, field.mul(amplitude, factor)));
            }
        }
    }
    rows.extend(looks.iter().map(|&look| equations.look(look)));
    let rows = rows.into_iter().map(|row| gathered(row, field)).collect();
    let mut active = Active::new(rows, n, field);
    let rank = active.run();
    let contradicted: BTreeSet<u32> =
        active.rows[..n].iter().flatten().map(|&(col, _)| col).filter(|&col| col as usize >= n).collect();
    let found = active.rows[n..].iter().map(|row| {
        let undetermined = row.iter().any(|&(col, _)| (col as usize) < n);
        let corner = |number: usize| {
            let col = (n + number) as u32;
            if contradicted.contains(&col) {
                return Found::Contradicted;
            } else if undetermined {
                return Found::Undetermined;
            }
            let entry = row.iter().find(|(c, _)| *c == col).map_or(Z::ZERO, |(_, value)| *value);
            Found::Value(field.neg(entry))
        };
        (0..drives.len()).map(corner).collect()
    });
    Trial { rank, found: found.collect() }
}

struct Active {
    field: Field,
    /// Equations are the first `n` rows, and the matrix the first `n` columns.
    n: usize,
    rows: Vec<Vec<(u32, Z)>>,
    /// Rows with an entry in a column of the matrix, outputs among them.
    cols: Vec<BTreeSet<u32>>,
    /// Equations by their number of entries in the matrix.
    by_count: BTreeSet<(u32, u32)>,
}

impl Active {
    fn new(rows: Vec<Vec<(u32, Z)>>, n: usize, field: Field) -> Active {
        let mut active = Active { field, n, rows, cols: vec![BTreeSet::new(); n], by_count: BTreeSet::new() };
        for (row, entries) in active.rows.iter().enumerate() {
            for &(col, _) in entries.iter().filter(|(col, _)| (*col as usize) < n) {
                active.cols[col as usize].insert(row as u32);
            }
        }
        active.by_count = (0..n).map(|row| (active.count(row as u32), row as u32)).collect();
        active
    }

    fn count(&self, row: u32) -> u32 {
        self.rows[row as usize].iter().filter(|(col, _)| (*col as usize) < self.n).count() as u32
    }

    fn run(&mut self) -> usize {
        let mut rank = 0;
        while let Some((count, row)) = self.by_count.pop_first() {
            if count == 0 {
                // Nothing of the matrix is left in it; what is left of the excitations stays to be read.
                continue;
            }
            self.eliminate(row);
            rank += 1;
        }
        rank
    }

    fn eliminate(&mut self, row: u32) {
        let pivot_row = std::mem::take(&mut self.rows[row as usize]);
        let in_matrix = |entry: &&(u32, Z)| (entry.0 as usize) < self.n;
        let Some(&(col, pivot)) =
            pivot_row.iter().filter(in_matrix).min_by_key(|(col, _)| self.cols[*col as usize].len())
        else {
            return;
        };
        for &(c, _) in pivot_row.iter().filter(|(c, _)| (*c as usize) < self.n) {
            self.cols[c as usize].remove(&row);
        }
        let inverse = self.field.inverse(pivot);
        for other in std::mem::take(&mut self.cols[col as usize]) {
            self.reduce(other, &pivot_row, col, inverse);
        }
    }

    /// Row `other` less the multiple of the pivot row that takes out its entry in the pivot's column.
    fn reduce(&mut self, other: u32, pivot_row: &[(u32, Z)], pivot_col: u32, inverse: Z) {
        let field = self.field;
        let before = std::mem::take(&mut self.rows[other as usize]);
        let old_count = before.iter().filter(|(col, _)| (*col as usize) < self.n).count() as u32;
        let entry = before.iter().find(|(col, _)| *col == pivot_col).map_or(Z::ZERO, |(_, value)| *value);
        let factor = field.mul(entry, inverse);
        let mut after = Vec::with_capacity(before.len() + pivot_row.len());
        let (mut left, mut right) = (before.into_iter().peekable(), pivot_row.iter().peekable());
        loop {
            let (l, r) = (left.peek().map(|e| e.0), right.peek().map(|e| e.0));
            let (col, value, was) = match (l, r) {
                (None, None) => break,
                (Some(l), r) if r.is_none_or(|r| l < r) => (l, left.next().map_or(Z::ZERO, |e| e.1), true),
                (l, Some(r)) => {
                    let there = if l == Some(r) { left.next().map_or(Z::ZERO, |e| e.1) } else { Z::ZERO };
                    let here = right.next().map_or(Z::ZERO, |e| e.1);
                    (r, field.sub(there, field.mul(factor, here)), l == Some(r))
                }
                (Some(_), None) => break,
            };
            let is = value != Z::ZERO && col != pivot_col;
            if is {
                after.push((col, value));
            }
            if (col as usize) < self.n && col != pivot_col && is != was {
                if is {
                    self.cols[col as usize].insert(other);
                } else {
                    self.cols[col as usize].remove(&other);
                }
            }
        }
        self.rows[other as usize] = after;
        if (other as usize) < self.n && self.by_count.remove(&(old_count, other)) {
            self.by_count.insert((self.count(other), other));
        }
    }
}
