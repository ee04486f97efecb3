//! A response as a curve in decibels.

use pickup_dsl::evaluate::OutletCurves;

use crate::float;

/// |H| at a frequency in dB re 1 V, and its phase in degrees; None where it is silent or has no path.
#[must_use]
pub(crate) fn point(curves: &OutletCurves, index: usize) -> Option<(f64, f64)> {
    let h = curves.response.get(index).copied().flatten()?;
    let total: f64 = curves
        .sections
        .iter()
        .filter_map(|s| s.get(index).copied().flatten())
        .map(|c| float::hypot(c.re, c.im))
        .sum();
    let size = float::hypot(h.re, h.im);
    if size <= 1e-12 || size <= 1e-9 * total {
        return None;
    }
    Some((20.0 * float::log10(size), float::degrees(h.im, h.re)))
}
