//! Eigenvalues of a real matrix with both eigenvectors of each, by its real Schur form and substitution.
//!
//! Source: G. H. Golub, C. F. Van Loan, Matrix Computations, 4th ed. (2013), §7.6.

use nalgebra::{DMatrix, Schur};
use num_complex::Complex64;

use crate::float::{reciprocal, taxicab};

/// Iterations of the Schur decomposition per row.
const STEPS: usize = 300;

/// One eigenvalue, its imaginary part not below 0: a pair is listed once.
#[derive(Debug, Clone)]
pub(super) struct Eigen {
    pub(super) value: Complex64,
    /// K·right = value·right.
    pub(super) right: Vec<Complex64>,
    /// left·K = value·left, and left·right = 1.
    pub(super) left: Vec<Complex64>,
}

/// `None` if the iteration does not converge, or a vector is none.
pub(super) fn eigen(k: DMatrix<f64>) -> Option<Vec<Eigen>> {
    let n = k.nrows();
    if n == 0 {
        return Some(Vec::new());
    }
    let (q, t) = Schur::try_new(k, f64::EPSILON, STEPS * n)?.unpack();
    let flipped = DMatrix::from_fn(n, n, |i, j| t[(n - 1 - j, n - 1 - i)]);
    let rights = vectors(&t)?;
    let mut lefts = vectors(&flipped)?;
    lefts.reverse();
    let turned = |x: &[Complex64]| -> Vec<Complex64> {
        (0..n).map(|i| x.iter().enumerate().map(|(j, &x)| x * q[(i, j)]).sum()).collect()
    };
    let all = rights.into_iter().zip(lefts).map(|((value, right), (_, mut left))| {
        left.reverse();
        let product: Complex64 = left.iter().zip(&right).map(|(l, r)| l * r).sum();
        let scale = reciprocal(product);
        left.iter_mut().for_each(|l| *l *= scale);
        let good = scale.re.is_finite() && scale.im.is_finite();
        good.then(|| Eigen { value, right: turned(&right), left: turned(&left) })
    });
    all.collect()
}

/// Eigenvalues of an upper quasi-triangular matrix, by their place on its diagonal, with right eigenvectors.
fn vectors(t: &DMatrix<f64>) -> Option<Vec<(Complex64, Vec<Complex64>)>> {
    let n = t.nrows();
    // An eigenvalue that meets another within this is moved by as much.
    let floor = f64::EPSILON * t.iter().fold(0.0_f64, |m, x| m.max(x.abs()));
    let mut found = Vec::new();
    let mut first = 0;
    while first < n {
        let mut x = vec![Complex64::ZERO; n];
        let block = if first + 1 < n && t[(first + 1, first)] != 0.0 { 2 } else { 1 };
        let value = if block == 1 {
            x[first] = Complex64::ONE;
            Complex64::new(t[(first, first)], 0.0)
        } else {
            let (a, b) = (t[(first, first)], t[(first, first + 1)]);
            let (c, d) = (t[(first + 1, first)], t[(first + 1, first + 1)]);
            let half = 0.5 * (a - d);
            let square = half * half + b * c;
            if square >= 0.0 {
                return None;
            }
            let value = Complex64::new(0.5 * (a + d), (-square).sqrt());
            x[first] = Complex64::new(b, 0.0);
            x[first + 1] = value - a;
            value
        };
        substitute(t, value, first, floor, &mut x);
        found.push((value, x));
        first += block;
    }
    Some(found)
}

/// Rows above `row` of (T − value)·x = 0.
fn substitute(t: &DMatrix<f64>, value: Complex64, mut row: usize, floor: f64, x: &mut [Complex64]) {
    let apart = |z: Complex64, floor: f64| if taxicab(z) < floor { Complex64::new(floor, 0.0) } else { z };
    while row > 0 {
        let left =
            |x: &[Complex64], i: usize| -> Complex64 { (row..x.len()).map(|k| x[k] * -t[(i, k)]).sum() };
        if row < 2 || t[(row - 1, row - 2)] == 0.0 {
            let i = row - 1;
            x[i] = left(x, i) * reciprocal(apart(t[(i, i)] - value, floor));
            row -= 1;
        } else {
            let (i, j) = (row - 2, row - 1);
            let (a, d) = (t[(i, i)] - value, t[(j, j)] - value);
            let (b, c) = (t[(i, j)], t[(j, i)]);
            let inverse = reciprocal(apart(a * d - b * c, floor * floor));
            let (u, v) = (left(x, i), left(x, j));
            x[i] = (d * u - v * b) * inverse;
            x[j] = (a * v - u * c) * inverse;
            row -= 2;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn vectors_give_the_matrix_again() {
        let k = DMatrix::from_fn(7, 7, |i, j| libm::sin((3 * i + 5 * j * j + i * j + 1) as f64));
        let all = eigen(k.clone()).unwrap();
        let again = DMatrix::from_fn(7, 7, |i, j| {
            let share = |e: &Eigen| {
                let part = e.value * e.right[i] * e.left[j];
                if e.value.im == 0.0 { part.re } else { 2.0 * part.re }
            };
            all.iter().map(share).sum::<f64>()
        });
        assert!(all.iter().any(|e| e.value.im > 0.0) && all.iter().any(|e| e.value.im == 0.0));
        assert!((again - k).amax() < 1e-13);
    }
}
