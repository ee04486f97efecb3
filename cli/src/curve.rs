//! A response as points of a curve.

use pickup_dsl::evaluate::OutletCurves;

use crate::float;

/// |H| at a frequency in dB re 1 V, and its phase in degrees; None where it is silent or has no path.
#[must_use]
pub(crate) fn point(curves: &OutletCurves, index: usize) -> Option<(f64, f64)> {
    let db = curves.magnitude(index).ok()?;
    let h = curves.response.get(index).copied().flatten()?;
    Some((db, float::degrees(h.im, h.re)))
}
