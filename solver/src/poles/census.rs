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

/// What fails the count by more than this is looked at once more, this share of the shift beside it.
const DOUBT: f64 = 1e-3;
const BESIDE: f64 = 1e-7;
/// Where the two differ by more than this share of the failure, rounding made it.
const SCATTER: f64 = 0.05;

impl Workspace {
    /// The most by which σ·tr K(σ) − Σ σ/(σ − s) is not zero: the share of a root that is missing, or of one too many. A root shows
    /// fully at a shift beyond it and hardly at one before it. Shifts at which the network can't be solved, or only to noise, are left
    /// out; infinite if all are.
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
        let mut margin: Option<f64> = None;
        for shift in shifts.into_iter().filter(|shift| shift.is_normal()) {
            let Some(off) = self.failure(pencil, wanted, roots, shift) else {
                continue;
            };
            if off.abs() > DOUBT {
                let again = self.failure(pencil, wanted, roots, shift * (1.0 + BESIDE));
                if again.is_none_or(|again| (again - off).abs() > SCATTER * off.abs()) {
                    continue;
                }
            }
            margin = Some(margin.unwrap_or(0.0).max(off.abs()));
        }
        Ok(margin.unwrap_or(f64::INFINITY))
    }

    /// σ·tr K(σ) − Σ σ/(σ − s); `None` where it can't be had.
    fn failure(
        &mut self,
        pencil: &Pencil,
        wanted: Wanted<'_>,
        roots: &[Complex64],
        shift: f64,
    ) -> Option<f64> {
        let border = match wanted {
            None => None,
            Some(function) => Some(self.border(shift, function).ok()??),
        };
        let trace = self.trace(pencil, shift, border.as_ref()).ok()??;
        let share = |&s: &Complex64| (shift * reciprocal(Complex64::new(shift, 0.0) - s)).re;
        Some(trace - roots.iter().map(share).sum::<f64>())
    }
}
