//! What the tape falls back on: LU that chooses its pivots by the numbers at hand, decides rank, and answers what a deficient matrix still
//! determines. Dense in a small network, sparse in a large one.

use num_complex::Complex64;

use crate::dense::Dense;
use crate::float::{binade, taxicab};
use crate::layout::Pattern;
use crate::sparse::Sparse;

/// Up to this many unknowns the solver is dense with complete pivoting; above, sparse with threshold pivoting.
const DENSE_LIMIT: usize = 400;

/// An entry of the remaining matrix below this fraction of the terms that made it is what rounding left of an exact zero, and set to
/// zero; if it was not, refinement against the full matrix makes up for it.
pub(crate) const ROUNDING: f64 = 64.0 * f64::EPSILON;

/// A component of a null vector below this fraction of its terms is zero.
const CANCELLED: f64 = 1e-12;

/// A sum below this fraction of its terms counts as zero when a right-hand side is tested against a null vector.
const ORTHOGONAL: f64 = 1e-9;

/// Scales by row and column, and the null vectors of the matrix that was scaled.
#[derive(Debug, Clone)]
pub(crate) struct Scaled {
    row_scale: Vec<f64>,
    col_scale: Vec<f64>,
    /// Vectors w with wᵀA = 0.
    left_null: Vec<Vec<Complex64>>,
    /// Vectors v with Av = 0.
    right_null: Vec<Vec<Complex64>>,
}

impl Scaled {
    pub(crate) fn new(row_scale: Vec<f64>, col_scale: Vec<f64>) -> Scaled {
        Scaled { row_scale, col_scale, left_null: Vec::new(), right_null: Vec::new() }
    }

    pub(crate) fn rows(&self) -> &[f64] {
        &self.row_scale
    }

    pub(crate) fn cols(&self) -> &[f64] {
        &self.col_scale
    }

    /// Takes a null vector of the scaled matrix, by its rows.
    pub(crate) fn add_left(&mut self, mut w: Vec<Complex64>) {
        w.iter_mut().zip(&self.row_scale).for_each(|(w, scale)| *w *= scale);
        self.left_null.push(w);
    }

    /// Takes a null vector of the scaled matrix, by its columns.
    pub(crate) fn add_right(&mut self, mut v: Vec<Complex64>) {
        v.iter_mut().zip(&self.col_scale).for_each(|(v, scale)| *v *= scale);
        self.right_null.push(v);
    }
}

/// A pivoted factorisation.
#[derive(Debug, Clone)]
pub(crate) enum Pivoted {
    Dense(Dense),
    Sparse(Sparse),
}

impl Pivoted {
    /// Factors a matrix of finite numbers; `None` if that is beyond measure.
    pub(crate) fn new(pattern: &Pattern, matrix: &[Complex64]) -> Option<Pivoted> {
        if pattern.n <= DENSE_LIMIT {
            Some(Pivoted::Dense(Dense::new(pattern, matrix)))
        } else {
            Sparse::new(pattern, matrix).map(Pivoted::Sparse)
        }
    }

    fn scaled(&self) -> &Scaled {
        match self {
            Pivoted::Dense(dense) => &dense.scaled,
            Pivoted::Sparse(sparse) => &sparse.scaled,
        }
    }

    /// Powers of two that make the equations alike: of the rows, or of the columns (the equations of the transposed system).
    pub(crate) fn scales(&self, of_rows: bool) -> &[f64] {
        if of_rows { &self.scaled().row_scale } else { &self.scaled().col_scale }
    }

    pub(crate) fn is_regular(&self) -> bool {
        self.scaled().right_null.is_empty()
    }

    /// Whether A·x = b has a solution.
    pub(crate) fn allows(&self, b: &[Complex64]) -> bool {
        self.left_null().iter().all(|w| orthogonal(w, b))
    }

    /// Whether c·x is the same for all solutions x (so that Aᵀ·y = c has one).
    pub(crate) fn determines(&self, c: &[Complex64]) -> bool {
        self.right_null().iter().all(|v| orthogonal(v, c))
    }

    /// Vectors w with wᵀA = 0.
    pub(crate) fn left_null(&self) -> &[Vec<Complex64>] {
        &self.scaled().left_null
    }

    /// Vectors v with Av = 0.
    pub(crate) fn right_null(&self) -> &[Vec<Complex64>] {
        &self.scaled().right_null
    }

    /// Unknowns that are free.
    pub(crate) fn free(&self) -> Vec<usize> {
        support(self.right_null(), &self.scaled().col_scale)
    }

    /// Rows that depend on each other.
    pub(crate) fn dependent(&self) -> Vec<usize> {
        support(self.left_null(), &self.scaled().row_scale)
    }

    /// One solution of A·x = b. Rows beyond the rank are left unchecked.
    pub(crate) fn solve(&self, b: &[Complex64], x: &mut [Complex64]) {
        match self {
            Pivoted::Dense(dense) => dense.solve(b, x),
            Pivoted::Sparse(sparse) => sparse.solve(b, x),
        }
    }

    /// One solution of Aᵀ·y = c. Columns beyond the rank are left unchecked.
    pub(crate) fn solve_transposed(&self, c: &[Complex64], y: &mut [Complex64]) {
        match self {
            Pivoted::Dense(dense) => dense.solve_transposed(c, y),
            Pivoted::Sparse(sparse) => sparse.solve_transposed(c, y),
        }
    }
}

/// The power of two that brings the largest of some sizes near 1.
pub(crate) fn scale_from(sizes: impl Iterator<Item = f64>) -> f64 {
    1.0 / binade(sizes.fold(0.0, f64::max))
}

/// A sum, exactly zero where rounding alone could have made it.
pub(crate) fn cancelling_sum(terms: impl Iterator<Item = Complex64>) -> Complex64 {
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

    type Maker = fn(&Pattern, &[Complex64]) -> Pivoted;
    const MAKERS: [Maker; 2] = [
        |pattern, matrix| Pivoted::Dense(Dense::new(pattern, matrix)),
        |pattern, matrix| Pivoted::Sparse(Sparse::new(pattern, matrix).unwrap()),
    ];

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
        for make in MAKERS {
            let pivoted = make(&pattern, &a);
            assert!(pivoted.is_regular());
            let b: Vec<Complex64> = (0..n).map(|i| Complex64::new(i as f64 - 2.0, 1.0)).collect();
            let (mut x, mut y) = (vec![Complex64::ZERO; n], vec![Complex64::ZERO; n]);
            pivoted.solve(&b, &mut x);
            pivoted.solve_transposed(&b, &mut y);
            for i in 0..n {
                let row: Complex64 = (0..n).map(|j| a[i * n + j] * x[j]).sum();
                let size: f64 = (0..n).map(|j| taxicab(a[i * n + j] * x[j])).sum();
                assert!(taxicab(row - b[i]) < 1e-13 * size, "row {i}");
                let col: Complex64 = (0..n).map(|j| a[j * n + i] * y[j]).sum();
                let size: f64 = (0..n).map(|j| taxicab(a[j * n + i] * y[j])).sum();
                assert!(taxicab(col - b[i]) < 1e-13 * size, "column {i}");
            }
        }
    }

    #[test]
    fn a_deficient_matrix_has_its_rank_and_null_vectors() {
        let n = 6;
        for (rank, make) in (1..n).flat_map(|rank| MAKERS.map(|make| (rank, make))) {
            let (pattern, a) = matrix(n, rank);
            let pivoted = make(&pattern, &a);
            assert_eq!(pivoted.right_null().len(), n - rank);
            assert_eq!(pivoted.left_null().len(), n - rank);
            // A column of the matrix is a right-hand side with a solution, a null vector's conjugate is not.
            let column: Vec<Complex64> = (0..n).map(|i| a[i * n + 2]).collect();
            assert!(pivoted.allows(&column));
            let away: Vec<Complex64> = pivoted.left_null()[0].iter().map(|z| z.conj()).collect();
            assert!(!pivoted.allows(&away));
            let row: Vec<Complex64> = a[2 * n..3 * n].to_vec();
            assert!(pivoted.determines(&row));
            let away: Vec<Complex64> = pivoted.right_null()[0].iter().map(|z| z.conj()).collect();
            assert!(!pivoted.determines(&away));
            // What has a solution is solved.
            let mut x = vec![Complex64::ZERO; n];
            pivoted.solve(&column, &mut x);
            for i in 0..n {
                let left: Complex64 = (0..n).map(|j| a[i * n + j] * x[j]).sum();
                let size: f64 = (0..n).map(|j| taxicab(a[i * n + j] * x[j])).sum();
                assert!(taxicab(left - column[i]) < 1e-12 * size, "rank {rank}, row {i}");
            }
        }
    }
}
