//! Dense LU with complete pivoting: decides rank, and answers what a deficient matrix still determines. Slow and careful; the tape calls it
//! when a pivot or a residual looks wrong.

use num_complex::Complex64;

use crate::float::{binade, reciprocal, taxicab};
use crate::layout::Pattern;

/// An entry of the remaining matrix below this fraction of the terms that made it is what rounding left of an exact zero, and set to
/// zero; if it was not, refinement against the full matrix makes up for it.
const ROUNDING: f64 = 64.0 * f64::EPSILON;

/// A component of a null vector below this fraction of its terms is zero.
const CANCELLED: f64 = 1e-12;

/// A sum below this fraction of its terms counts as zero when a right-hand side is tested against a null vector.
const ORTHOGONAL: f64 = 1e-9;

/// PAQ = LU of the equilibrated matrix, with null vectors of the original one.
#[derive(Debug, Clone)]
pub(crate) struct Dense {
    n: usize,
    rank: usize,
    /// Row-major, in pivot order; L has a unit diagonal.
    lu: Vec<Complex64>,
    row_order: Vec<usize>,
    col_order: Vec<usize>,
    row_scale: Vec<f64>,
    col_scale: Vec<f64>,
    inverse: Vec<Complex64>,
    /// Vectors w with wᵀA = 0.
    left_null: Vec<Vec<Complex64>>,
    /// Vectors v with Av = 0.
    right_null: Vec<Vec<Complex64>>,
}

impl Dense {
    /// Factors a matrix of finite numbers.
    pub(crate) fn new(pattern: &Pattern, matrix: &[Complex64]) -> Dense {
        let n = pattern.n;
        let mut lu = vec![Complex64::ZERO; n * n];
        for row in 0..n {
            for place in pattern.row_start[row] as usize..pattern.row_start[row + 1] as usize {
                lu[row * n + pattern.col[place] as usize] = matrix[place];
            }
        }
        let (row_scale, col_scale) = equilibrate(n, &mut lu);
        let mut dense = Dense {
            n,
            rank: n,
            lu,
            row_order: (0..n).collect(),
            col_order: (0..n).collect(),
            row_scale,
            col_scale,
            inverse: vec![Complex64::ZERO; n],
            left_null: Vec::new(),
            right_null: Vec::new(),
        };
        dense.eliminate();
        dense.find_null_vectors();
        dense
    }

    fn eliminate(&mut self) {
        let n = self.n;
        let mut size: Vec<f64> = self.lu.iter().map(|&z| taxicab(z)).collect();
        for k in 0..n {
            let (mut row, mut col, mut largest) = (k, k, 0.0);
            for i in k..n {
                for j in k..n {
                    let magnitude = taxicab(self.lu[i * n + j]);
                    if magnitude > largest {
                        (row, col, largest) = (i, j, magnitude);
                    }
                }
            }
            if largest == 0.0 {
                self.rank = k;
                return;
            }
            if row != k {
                self.row_order.swap(k, row);
                for j in 0..n {
                    self.lu.swap(k * n + j, row * n + j);
                    size.swap(k * n + j, row * n + j);
                }
            }
            if col != k {
                self.col_order.swap(k, col);
                for i in 0..n {
                    self.lu.swap(i * n + k, i * n + col);
                    size.swap(i * n + k, i * n + col);
                }
            }
            let inverse = reciprocal(self.lu[k * n + k]);
            self.inverse[k] = inverse;
            for i in k + 1..n {
                let factor = self.lu[i * n + k] * inverse;
                self.lu[i * n + k] = factor;
                if factor == Complex64::ZERO {
                    continue;
                }
                for j in k + 1..n {
                    let product = factor * self.lu[k * n + j];
                    self.lu[i * n + j] -= product;
                    size[i * n + j] += taxicab(product);
                    if taxicab(self.lu[i * n + j]) <= ROUNDING * size[i * n + j] {
                        self.lu[i * n + j] = Complex64::ZERO;
                    }
                }
            }
        }
    }

    fn find_null_vectors(&mut self) {
        let (n, rank) = (self.n, self.rank);
        for tail in rank..n {
            // wᵀL = e_tailᵀ over the first `rank` rows; Uv = 0 with the tail's unknown at 1.
            let mut w = vec![Complex64::ZERO; n];
            w[tail] = Complex64::ONE;
            for k in (0..rank).rev() {
                let terms = (k + 1..rank).map(|i| w[i] * self.lu[i * n + k]).chain([self.lu[tail * n + k]]);
                w[k] = -cancelling_sum(terms);
            }
            let mut left = vec![Complex64::ZERO; n];
            (0..n).for_each(|i| left[self.row_order[i]] = w[i] * self.row_scale[self.row_order[i]]);
            let mut v = vec![Complex64::ZERO; n];
            v[tail] = Complex64::ONE;
            for k in (0..rank).rev() {
                let sum = cancelling_sum((k + 1..n).map(|j| self.lu[k * n + j] * v[j]));
                v[k] = -sum * self.inverse[k];
            }
            let mut right = vec![Complex64::ZERO; n];
            (0..n).for_each(|j| right[self.col_order[j]] = v[j] * self.col_scale[self.col_order[j]]);
            self.left_null.push(left);
            self.right_null.push(right);
        }
    }

    /// Powers of two that make the equations alike: of the rows, or of the columns (the equations of the transposed system).
    pub(crate) fn scales(&self, of_rows: bool) -> &[f64] {
        if of_rows { &self.row_scale } else { &self.col_scale }
    }

    pub(crate) fn is_regular(&self) -> bool {
        self.rank == self.n
    }

    /// Whether A·x = b has a solution.
    pub(crate) fn allows(&self, b: &[Complex64]) -> bool {
        self.left_null.iter().all(|w| orthogonal(w, b))
    }

    /// Whether c·x is the same for all solutions x (so that Aᵀ·y = c has one).
    pub(crate) fn determines(&self, c: &[Complex64]) -> bool {
        self.right_null.iter().all(|v| orthogonal(v, c))
    }

    /// Vectors w with wᵀA = 0.
    pub(crate) fn left_null(&self) -> &[Vec<Complex64>] {
        &self.left_null
    }

    /// Vectors v with Av = 0.
    pub(crate) fn right_null(&self) -> &[Vec<Complex64>] {
        &self.right_null
    }

    /// Unknowns that are free.
    pub(crate) fn free(&self) -> Vec<usize> {
        support(&self.right_null, &self.col_scale)
    }

    /// Rows that depend on each other.
    pub(crate) fn dependent(&self) -> Vec<usize> {
        support(&self.left_null, &self.row_scale)
    }

    /// One solution of A·x = b. Rows beyond the rank are left unchecked.
    pub(crate) fn solve(&self, b: &[Complex64], x: &mut [Complex64]) {
        let (n, rank) = (self.n, self.rank);
        let mut z: Vec<Complex64> = self.row_order.iter().map(|&row| b[row] * self.row_scale[row]).collect();
        for k in 0..rank {
            for i in k + 1..rank {
                let product = self.lu[i * n + k] * z[k];
                z[i] -= product;
            }
        }
        z[rank..].fill(Complex64::ZERO);
        for k in (0..rank).rev() {
            let sum: Complex64 = (k + 1..rank).map(|j| self.lu[k * n + j] * z[j]).sum();
            z[k] = (z[k] - sum) * self.inverse[k];
        }
        (0..n).for_each(|k| x[self.col_order[k]] = z[k] * self.col_scale[self.col_order[k]]);
    }

    /// One solution of Aᵀ·y = c. Columns beyond the rank are left unchecked.
    pub(crate) fn solve_transposed(&self, c: &[Complex64], y: &mut [Complex64]) {
        let (n, rank) = (self.n, self.rank);
        let mut z: Vec<Complex64> = self.col_order.iter().map(|&col| c[col] * self.col_scale[col]).collect();
        for k in 0..rank {
            let sum: Complex64 = (0..k).map(|i| self.lu[i * n + k] * z[i]).sum();
            z[k] = (z[k] - sum) * self.inverse[k];
        }
        z[rank..].fill(Complex64::ZERO);
        for k in (0..rank).rev() {
            let sum: Complex64 = (k + 1..rank).map(|i| self.lu[i * n + k] * z[i]).sum();
            z[k] -= sum;
        }
        (0..n).for_each(|k| y[self.row_order[k]] = z[k] * self.row_scale[self.row_order[k]]);
    }
}

/// Scales rows and columns by powers of two until their largest entries are near 1.
fn equilibrate(n: usize, a: &mut [Complex64]) -> (Vec<f64>, Vec<f64>) {
    let (mut row_scale, mut col_scale) = (vec![1.0; n], vec![1.0; n]);
    for _ in 0..3 {
        for i in 0..n {
            let scale = 1.0
                / binade(
                    a[i * n..(i + 1) * n].iter().map(|&z| z.re.abs().max(z.im.abs())).fold(0.0, f64::max),
                );
            row_scale[i] *= scale;
            a[i * n..(i + 1) * n].iter_mut().for_each(|z| *z *= scale);
        }
        for j in 0..n {
            let scale = 1.0
                / binade(
                    (0..n).map(|i| a[i * n + j].re.abs().max(a[i * n + j].im.abs())).fold(0.0, f64::max),
                );
            col_scale[j] *= scale;
            (0..n).for_each(|i| a[i * n + j] *= scale);
        }
    }
    (row_scale, col_scale)
}

/// A sum, exactly zero where rounding alone could have made it.
fn cancelling_sum(terms: impl Iterator<Item = Complex64>) -> Complex64 {
    let (mut sum, mut size) = (Complex64::ZERO, 0.0);
    for term in terms {
        sum += term;
        size += taxicab(term);
    }
    if taxicab(sum) <= CANCELLED * size { Complex64::ZERO } else { sum }
}

fn orthogonal(a: &[Complex64], b: &[Complex64]) -> bool {
    let (mut sum, mut size) = (Complex64::ZERO, 0.0);
    for (a, b) in a.iter().zip(b) {
        sum += a * b;
        size += taxicab(*a) * taxicab(*b);
    }
    taxicab(sum) <= ORTHOGONAL * size
}

fn support(vectors: &[Vec<Complex64>], scale: &[f64]) -> Vec<usize> {
    let mut found: Vec<usize> = Vec::new();
    for vector in vectors {
        let largest = vector.iter().zip(scale).map(|(z, s)| taxicab(*z) / s).fold(0.0, f64::max);
        found.extend((0..vector.len()).filter(|&i| taxicab(vector[i]) / scale[i] > 1e-6 * largest));
    }
    found.sort_unstable();
    found.dedup();
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A dense pattern and a matrix of small pseudo-random integers times powers of two, of a given rank.
    fn matrix(n: usize, rank: usize) -> (Pattern, Vec<Complex64>) {
        let places: Vec<(u32, u32)> =
            (0..n as u32).flat_map(|row| (0..n as u32).map(move |col| (row, col))).collect();
        let number = |i: usize, j: usize| {
            let mixed = (i * 31 + j * 17 + 7) * (i + 3) * (2 * j + 5);
            Complex64::new((mixed % 19) as f64 - 9.0, (mixed % 7) as f64 - 3.0)
        };
        let entry = |row: usize, col: usize| {
            let sum: Complex64 = (0..rank).map(|k| number(row, k) * number(k + 11, col)).sum();
            // Wide scales by row and column, as volts and amperes have.
            sum * 2f64.powi(row as i32 * 7 - 20) * 2f64.powi(15 - col as i32 * 9)
        };
        let values = places.iter().map(|&(row, col)| entry(row as usize, col as usize)).collect();
        (Pattern::new(n, &places), values)
    }

    #[test]
    fn a_regular_matrix_is_solved_from_both_sides() {
        let n = 6;
        let (pattern, a) = matrix(n, n);
        let dense = Dense::new(&pattern, &a);
        assert!(dense.is_regular());
        let b: Vec<Complex64> = (0..n).map(|i| Complex64::new(i as f64 - 2.0, 1.0)).collect();
        let (mut x, mut y) = (vec![Complex64::ZERO; n], vec![Complex64::ZERO; n]);
        dense.solve(&b, &mut x);
        dense.solve_transposed(&b, &mut y);
        for i in 0..n {
            let row: Complex64 = (0..n).map(|j| a[i * n + j] * x[j]).sum();
            let size: f64 = (0..n).map(|j| taxicab(a[i * n + j] * x[j])).sum();
            assert!(taxicab(row - b[i]) < 1e-13 * size, "row {i}");
            let col: Complex64 = (0..n).map(|j| a[j * n + i] * y[j]).sum();
            let size: f64 = (0..n).map(|j| taxicab(a[j * n + i] * y[j])).sum();
            assert!(taxicab(col - b[i]) < 1e-13 * size, "column {i}");
        }
    }

    #[test]
    fn a_deficient_matrix_has_its_rank_and_null_vectors() {
        let n = 6;
        for rank in 1..n {
            let (pattern, a) = matrix(n, rank);
            let dense = Dense::new(&pattern, &a);
            assert_eq!(dense.rank, rank);
            assert_eq!(dense.right_null.len(), n - rank);
            // A column of the matrix is a right-hand side with a solution, a null vector's conjugate is not.
            let column: Vec<Complex64> = (0..n).map(|i| a[i * n + 2]).collect();
            assert!(dense.allows(&column));
            let away: Vec<Complex64> = dense.left_null[0].iter().map(|z| z.conj()).collect();
            assert!(!dense.allows(&away));
            let row: Vec<Complex64> = a[2 * n..3 * n].to_vec();
            assert!(dense.determines(&row));
        }
    }
}
