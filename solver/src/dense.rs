//! Dense LU with complete pivoting: decides rank, and answers what a deficient matrix still determines. Slow and careful; the tape calls it
//! when a pivot or a residual looks wrong.

use num_complex::Complex64;

use crate::float::{reciprocal, taxicab};
use crate::layout::Pattern;
use crate::pivoted::{ROUNDING, Scaled, cancelling_sum, scale_from};

/// PAQ = LU of the equilibrated matrix.
#[derive(Debug, Clone)]
pub(crate) struct Dense {
    n: usize,
    rank: usize,
    /// Row-major, in pivot order; L has a unit diagonal.
    lu: Vec<Complex64>,
    row_order: Vec<usize>,
    col_order: Vec<usize>,
    inverse: Vec<Complex64>,
    pub(crate) scaled: Scaled,
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
            inverse: vec![Complex64::ZERO; n],
            scaled: Scaled::new(row_scale, col_scale),
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
            (0..n).for_each(|i| left[self.row_order[i]] = w[i]);
            let mut v = vec![Complex64::ZERO; n];
            v[tail] = Complex64::ONE;
            for k in (0..rank).rev() {
                let sum = cancelling_sum((k + 1..n).map(|j| self.lu[k * n + j] * v[j]));
                v[k] = -sum * self.inverse[k];
            }
            let mut right = vec![Complex64::ZERO; n];
            (0..n).for_each(|j| right[self.col_order[j]] = v[j]);
            self.scaled.add_left(left);
            self.scaled.add_right(right);
        }
    }

    /// One solution of A·x = b. Rows beyond the rank are left unchecked.
    pub(crate) fn solve(&self, b: &[Complex64], x: &mut [Complex64]) {
        let (n, rank) = (self.n, self.rank);
        let mut z: Vec<Complex64> =
            self.row_order.iter().map(|&row| b[row] * self.scaled.rows()[row]).collect();
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
        (0..n).for_each(|k| x[self.col_order[k]] = z[k] * self.scaled.cols()[self.col_order[k]]);
    }

    /// One solution of Aᵀ·y = c. Columns beyond the rank are left unchecked.
    pub(crate) fn solve_transposed(&self, c: &[Complex64], y: &mut [Complex64]) {
        let (n, rank) = (self.n, self.rank);
        let mut z: Vec<Complex64> =
            self.col_order.iter().map(|&col| c[col] * self.scaled.cols()[col]).collect();
        for k in 0..rank {
            let sum: Complex64 = (0..k).map(|i| self.lu[i * n + k] * z[i]).sum();
            z[k] = (z[k] - sum) * self.inverse[k];
        }
        z[rank..].fill(Complex64::ZERO);
        for k in (0..rank).rev() {
            let sum: Complex64 = (k + 1..rank).map(|i| self.lu[i * n + k] * z[i]).sum();
            z[k] -= sum;
        }
        (0..n).for_each(|k| y[self.row_order[k]] = z[k] * self.scaled.rows()[self.row_order[k]]);
    }
}

/// Scales rows and columns by powers of two until their largest entries are near 1.
fn equilibrate(n: usize, a: &mut [Complex64]) -> (Vec<f64>, Vec<f64>) {
    let (mut row_scale, mut col_scale) = (vec![1.0; n], vec![1.0; n]);
    for _ in 0..3 {
        for i in 0..n {
            let scale = scale_from(a[i * n..(i + 1) * n].iter().map(|z| z.re.abs().max(z.im.abs())));
            row_scale[i] *= scale;
            a[i * n..(i + 1) * n].iter_mut().for_each(|z| *z *= scale);
        }
        for j in 0..n {
            let scale = scale_from((0..n).map(|i| a[i * n + j].re.abs().max(a[i * n + j].im.abs())));
            col_scale[j] *= scale;
            (0..n).for_each(|i| a[i * n + j] *= scale);
        }
    }
    (row_scale, col_scale)
}
