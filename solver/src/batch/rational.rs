//! The exact rational form of a network along a sweep.
//!
//! By Cramer's rule every transfer is N(s)/D(s), D the determinant and N a minor of G + s·C, which has one rank of C for each capacitor and
//! inductor: no degree exceeds r, their number. (Degenerate networks have a lower degree; the bound serves them too.) On s = jω a real
//! polynomial is E(ω²) + jω·O(ω²), so the values at m = ⌊r/2⌋ + 1 frequencies, the *supports*, fix it: E by its real parts, O by its
//! imaginary parts over ω. Between them both are interpolated by the same Lagrange polynomials in ω², which do not depend on values.
//!
//! What this costs in accuracy is Σ|ℓₖ(ω²)|·|D(jωₖ)| over |D(jω)|. Supports that keep it small are Leja points under the weight 1/|D|
//! (L. Reichel, BIT 30 (1990) 332–346, quoted from memory), out of band too; they are chosen once for the nominal values.

use crate::float::{exp, ln};
use crate::lanes::{LANES, Real};

/// Candidates for supports.
pub(crate) const CANDIDATES: usize = 16 * LANES;

/// How far above the sweep supports may lie.
const ABOVE: f64 = 10.0;

/// More supports than this are not tried: the Lagrange polynomials would leave the range of numbers.
pub(crate) const MOST_SUPPORTS: usize = 32;

/// Frequencies from the lowest of a sweep to some way above the highest, in geometric progression, rad/s.
pub(crate) fn candidates(lowest: f64, highest: f64) -> Vec<f64> {
    let step = exp(ln(highest * ABOVE / lowest) / (CANDIDATES - 1) as f64);
    std::iter::successors(Some(lowest), |omega| Some(omega * step)).take(CANDIDATES).collect()
}

/// Picks supports among candidates by the size of their determinants (`None` where it could not be had), then those that would come next,
/// which are held out.
pub(crate) fn choose(
    candidates: &[f64],
    size: &[Option<f64>],
    supports: usize,
    held: usize,
) -> Option<Vec<f64>> {
    let unit = candidates.iter().fold(0.0_f64, |most, &omega| most.max(omega * omega));
    let mut merit: Vec<f64> = size.iter().map(|size| size.map_or(0.0, f64::recip)).collect();
    let mut chosen = Vec::with_capacity(supports + held);
    for _ in 0..supports + held {
        let (best, &value) = merit.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1))?;
        if !(value > 0.0 && value.is_finite()) {
            return None;
        }
        chosen.push(candidates[best]);
        let x = candidates[best] * candidates[best];
        for (merit, &omega) in merit.iter_mut().zip(candidates) {
            *merit *= (omega * omega - x).abs() / unit;
        }
    }
    Some(chosen)
}

/// The Lagrange polynomials in ω² of a set of supports.
#[derive(Debug)]
pub(crate) struct Lagrange {
    supports: Vec<f64>,
    /// 1/Π(ωₖ² − ωᵢ²), each factor over the k-th support's square: in range where the product itself would not be.
    weights: Vec<f64>,
}

impl Lagrange {
    pub(crate) fn new(supports: &[f64]) -> Lagrange {
        let weight = |k: usize| {
            let others = supports.iter().enumerate().filter(|&(i, _)| i != k).map(|(_, &other)| other);
            1.0 / others
                .map(|other| (supports[k] - other) * (supports[k] + other) / (supports[k] * supports[k]))
                .product::<f64>()
        };
        Lagrange { supports: supports.to_vec(), weights: (0..supports.len()).map(weight).collect() }
    }

    /// At a group of frequencies, one row for each support.
    pub(crate) fn at(&self, omega: Real) -> impl Iterator<Item = Real> + '_ {
        (0..self.supports.len()).map(move |k| {
            let unit = Real::splat(1.0 / (self.supports[k] * self.supports[k]));
            let mut product = Real::splat(self.weights[k]);
            for (_, &other) in self.supports.iter().enumerate().filter(|&(i, _)| i != k) {
                let other = Real::splat(other);
                product = product * ((omega - other) * (omega + other) * unit);
            }
            product
        })
    }

    /// d ln ℓₖ/d ln ω at a group of frequencies, one row for each support. Not a number at a support.
    pub(crate) fn slopes(&self, omega: Real) -> impl Iterator<Item = Real> {
        let square = omega * omega;
        let terms: Vec<Real> = self
            .supports
            .iter()
            .map(|&support| {
                let support = Real::splat(support);
                (square + square).over((omega - support) * (omega + support))
            })
            .collect();
        // Sums without the own term, of what stands before it and behind it: nothing is subtracted.
        let mut behind = vec![Real::ZERO; terms.len()];
        for k in (1..terms.len()).rev() {
            behind[k - 1] = behind[k] + terms[k];
        }
        let before = terms.iter().scan(Real::ZERO, |sum, &term| {
            let before = *sum;
            *sum = *sum + term;
            Some(before)
        });
        before.collect::<Vec<_>>().into_iter().zip(behind).map(|(before, behind)| before + behind)
    }
}

/// Supports, and the Lagrange polynomials along the sweep.
#[derive(Debug, Clone)]
pub(super) struct Form {
    pub(super) supports: usize,
    /// Supports, then held-out frequencies, rad/s; a whole number of lane groups.
    pub(super) omega: Vec<Real>,
    /// 1/ω of the supports.
    pub(super) inverse: Vec<f64>,
    /// For each group of lanes of the sweep, one row for each support.
    pub(super) along: Vec<Real>,
    /// The largest |ℓ| of each group of lanes, eight groups together, one row for each support; and the highest ω.
    pub(super) bounds: Vec<Real>,
    pub(super) highest: Vec<Real>,
    /// For each held-out frequency, one number for each support.
    pub(super) held: Vec<f64>,
    pub(super) held_omega: Vec<f64>,
    /// Powers of two that keep the product of the pivots in range.
    pub(super) scale: Vec<f64>,
}

impl Form {
    pub(super) fn new(chosen: &[f64], supports: usize, sweep: &[Real], scale: Vec<f64>) -> Form {
        let (support, held) = chosen.split_at(supports);
        let mut along = Vec::with_capacity(sweep.len() * supports);
        let lagrange = Lagrange::new(support);
        sweep.iter().for_each(|&omega| along.extend(lagrange.at(omega)));
        let largest = |list: &Real| list.0.iter().fold(0.0_f64, |most, x| most.max(x.abs()));
        let (mut bounds, mut highest) = (Vec::new(), Vec::new());
        for (rows, omega) in along.chunks(supports * LANES).zip(sweep.chunks(LANES)) {
            let row = |i: usize, k: usize| rows.get(i * supports + k).map_or(0.0, largest);
            bounds.extend((0..supports).map(|k| Real(std::array::from_fn(|i| row(i, k)))));
            highest.push(Real(std::array::from_fn(|i| omega.get(i).map_or(0.0, largest))));
        }
        Form {
            supports,
            bounds,
            highest,
            omega: chosen.chunks(LANES).map(Real::of).collect(),
            inverse: support.iter().map(|omega| 1.0 / omega).collect(),
            along,
            held: held
                .iter()
                .flat_map(|&omega| lagrange.at(Real::splat(omega)))
                .map(|row| row.0[0])
                .collect(),
            held_omega: held.to_vec(),
            scale,
        }
    }
}
