//! The count that a list of roots has to pass.

use num_complex::Complex64;

use crate::error::SolveError;
use crate::float::{modulus, reciprocal};
use crate::poles::Wanted;
use crate::poles::pencil::Pencil;
use crate::workspace::Workspace;

/// Shifts of the count: beyond the largest root, and before the smallest, in units of each; and in units of the shift of the search.
const BEYOND: [f64; 2] = [7.13, 1.19e4];
const BEFORE: f64 = 0.137;
const BETWEEN: f64 = 1.271;

impl Workspace {
    /// The most by which σ·tr K(σ) − Σ σ/(σ − s) is not zero: the share of a root that is missing, or of one too many. A root shows
    /// fully at a shift beyond it and hardly at one before it. Shifts at which the network can't be solved are left out.
    pub(super) fn census(
        &mut self,
        pencil: &Pencil,
        wanted: Wanted<'_>,
        roots: &[Complex64],
        sigma: f64,
    ) -> Result<f64, SolveError> {
        let sizes = || roots.iter().map(|&s| modulus(s)).filter(|&size| size > 0.0);
        let largest = sizes().fold(sigma, f64::max);
        let smallest = sizes().fold(sigma, f64::min);
        let shifts = [BEYOND[0] * largest, BEYOND[1] * largest, BETWEEN * sigma, BEFORE * smallest];
        let mut margin = 0.0_f64;
        for shift in shifts.into_iter().filter(|shift| shift.is_normal()) {
            let border = match wanted.map(|function| self.border(shift, function)) {
                None => None,
                Some(Ok(Some(border))) => Some(border),
                Some(_) => continue,
            };
            let Ok(Some((trace, size))) = self.trace(pencil, shift, border.as_ref()) else {
                continue;
            };
            let listed: f64 =
                roots.iter().map(|&s| (shift * reciprocal(Complex64::new(shift, 0.0) - s)).re).sum();
            // What cancellation in the trace itself may leave is no root.
            margin = margin.max((trace - listed).abs() / (1.0 + 1e-6 * size));
        }
        Ok(margin)
    }
}
