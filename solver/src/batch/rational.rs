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
    /// 1/ω² of the highest support: every difference of squares is taken in this unit, which keeps products in range.
    unit: f64,
    /// 1/Π(ωₖ² − ωᵢ²).
    weights: Vec<f64>,
}

impl Lagrange {
    pub(crate) fn new(supports: &[f64]) -> Lagrange {
        let highest = supports.iter().fold(0.0_f64, |most, &omega| most.max(omega));
        let unit = 1.0 / (highest * highest);
        let weight = |k: usize| {
            let others = supports.iter().enumerate().filter(|&(i, _)| i != k).map(|(_, &other)| other);
            1.0 / others.map(|other| (supports[k] - other) * (supports[k] + other) * unit).product::<f64>()
        };
        Lagrange { supports: supports.to_vec(), unit, weights: (0..supports.len()).map(weight).collect() }
    }

    /// ω² − ωᵢ² at a group of frequencies, one for each support.
    pub(crate) fn differences(&self, omega: Real, out: &mut Vec<Real>) {
        let unit = Real::splat(self.unit);
        out.clear();
        out.extend(self.supports.iter().map(|&support| {
            let support = Real::splat(support);
            (omega - support) * (omega + support) * unit
        }));
    }

    /// ℓₖ, one for each support, from the differences.
    pub(crate) fn cardinals(&self, differences: &[Real], out: &mut Vec<Real>) {
        others(differences, Real::splat(1.0), |a, b| a * b, out);
        for (cardinal, &weight) in out.iter_mut().zip(&self.weights) {
            *cardinal = *cardinal * Real::splat(weight);
        }
    }

    /// d ln ℓₖ/d ln ω, one for each support, from the differences, which are used up. Not a number at a support.
    pub(crate) fn slopes(&self, omega: Real, differences: &mut [Real], out: &mut Vec<Real>) {
        let twice = (omega + omega) * omega * Real::splat(self.unit);
        differences.iter_mut().for_each(|difference| *difference = twice / *difference);
        others(differences, Real::ZERO, |a, b| a + b, out);
    }
}

/// For each item what all others make together: what stands before it, joined with what stands behind it. Nothing is taken back.
fn others(items: &[Real], none: Real, join: impl Fn(Real, Real) -> Real, out: &mut Vec<Real>) {
    out.clear();
    let mut before = none;
    for &item in items {
        out.push(before);
        before = join(before, item);
    }
    let mut behind = none;
    for (&item, out) in items.iter().zip(out.iter_mut()).rev() {
        *out = join(*out, behind);
        behind = join(behind, item);
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
        let (mut differences, mut row) = (Vec::new(), Vec::new());
        let mut at = |omega: Real| {
            lagrange.differences(omega, &mut differences);
            lagrange.cardinals(&differences, &mut row);
            row.clone()
        };
        sweep.iter().for_each(|&omega| along.extend(at(omega)));
        let cardinals: Vec<f64> =
            held.iter().flat_map(|&omega| at(Real::splat(omega))).map(|cardinal| cardinal.0[0]).collect();
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
            held: cardinals,
            held_omega: held.to_vec(),
            scale,
        }
    }
}
