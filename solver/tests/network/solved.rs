//! What many targets ask of a circuit.

use num_complex::Complex64;
use solver::{Circuit, Layout, Source, Values, VoltageSource, Workspace};

/// One source at 1 V.
pub(crate) fn one(source: VoltageSource) -> [(Source, Complex64); 1] {
    [(Source::Voltage(source), Complex64::ONE)]
}

/// Its values, and a workspace for frequencies above 0.
pub(crate) fn ac(c: &Circuit) -> (Values, Workspace) {
    (c.values(), Layout::ac(c, &c.values(), &[]).unwrap().workspace())
}

/// The same for 0 Hz.
pub(crate) fn dc(c: &Circuit) -> (Values, Workspace) {
    (c.values(), Layout::dc(c, &c.values(), &[]).unwrap().workspace())
}

/// Close, as a share of what is wanted.
pub(crate) fn close(found: Complex64, wanted: Complex64, tolerance: f64) {
    assert!((found - wanted).norm() <= tolerance * wanted.norm(), "{found} against {wanted}");
}
