//! All responses of a network from its modes: one set of poles, and a handful of real numbers for each response.
//!
//! With C = U·Vᵀ over the reactive elements and a real shift σ, A(s) = G + sC is A(σ) + (s − σ)U·Vᵀ, so that by Woodbury's identity
//! cᵀA(s)⁻¹b = cᵀA(σ)⁻¹b − δ·p(1 + δK)⁻¹q, with δ = s − σ, K = VᵀA(σ)⁻¹U, p = cᵀA(σ)⁻¹U and q = VᵀA(σ)⁻¹b. Everything but δ is real,
//! and K is as large as the number of capacitors and inductors. In its eigenvectors a frequency costs a few multiplications a mode.
//! The slope is −s·p(1 + δK)⁻²q. A noise density is a sum of |A|² over such functions, each A(s)A(−s) with the same poles and their mirror
//! images: it is a sum of partial fractions in s², too.
//!
//! It is exact but for rounding where the eigenvectors are far from dependent. What is not is found out: each form is held against the
//! network at frequencies that took no part, and each answer against the size of the terms that make it. Where either fails there is no
//! answer, and the network has to be asked.

mod eigen;
mod form;

use nalgebra::DMatrix;
use num_complex::Complex64;

use crate::error::SolveError;
use crate::float::reciprocal;
use crate::layout::Factor;
use crate::modes::eigen::{Eigen, eigen};
use crate::poles::{by_size, finite};
use crate::values::Values;
use crate::workspace::{Side, Workspace};

pub use form::ModalForm;

/// More reactive elements than this have no modes: the work grows with the cube.
const MOST: usize = 120;

/// The modes of a network with one set of values.
#[derive(Debug, Clone)]
pub struct Modes {
    sigma: f64,
    factors: Vec<Factor>,
    /// VᵀA(σ)⁻¹, by rows.
    rows: Vec<Vec<f64>>,
    k: DMatrix<f64>,
    eigen: Vec<Eigen>,
    poles: Vec<Complex64>,
}

impl Modes {
    /// Natural frequencies, rad/s, ascending in |s|; not polished, and not counted: those far out of the network's middle are rough.
    pub fn poles(&self) -> &[Complex64] {
        &self.poles
    }
}

impl Workspace {
    /// The modes of an AC layout; `None` where the network is too large or its modes depend on each other.
    ///
    /// # Errors
    /// As [`Workspace::factor`].
    pub fn modes(&mut self, values: &Values) -> Result<Option<Modes>, SolveError> {
        self.load(values)?;
        let factors = self.assembly.reactive_factors(self.numbers());
        let size = factors.len();
        if size > MOST {
            return Ok(None);
        }
        let sigma = self.assembly.middle;
        self.factor_at(Complex64::new(sigma, 0.0))?;
        let mut rows = Vec::with_capacity(size);
        for factor in &factors {
            self.rhs.fill(Complex64::ZERO);
            factor.right.iter().for_each(|&(i, weight)| self.rhs[i as usize] += weight);
            if !self.solve(Side::Adjoint)? {
                return Ok(None);
            }
            rows.push(self.y.iter().map(|y| y.re).collect::<Vec<f64>>());
        }
        let k = DMatrix::from_fn(size, size, |q, p| dot(&factors[p].left, &rows[q]));
        if !k.iter().all(|entry| entry.is_finite()) {
            return Ok(None);
        }
        let Some(eigen) = eigen(k.clone()) else { return Ok(None) };
        let values: Vec<Complex64> = eigen.iter().map(|e| e.value).collect();
        let mut poles = finite(&both(&values), sigma);
        poles.sort_by(by_size);
        Ok(Some(Modes { sigma, factors, rows, k, eigen, poles }))
    }
}

/// A list with the other half of each pair.
fn both(upper: &[Complex64]) -> Vec<Complex64> {
    let other = |z: &Complex64| (z.im != 0.0).then_some(z.conj());
    upper.iter().flat_map(|z| std::iter::once(*z).chain(other(z))).collect()
}

fn dot(sparse: &[(u32, f64)], dense: &[f64]) -> f64 {
    sparse.iter().map(|&(i, weight)| weight * dense[i as usize]).sum()
}

/// 1/(1 + δμ).
fn share(delta: Complex64, mu: Complex64) -> Complex64 {
    reciprocal(delta * mu + 1.0)
}
