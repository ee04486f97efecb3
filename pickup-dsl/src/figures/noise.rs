//! Thermal noise at the amp input.

use super::spectrum::{BAND, Spectrum};
use super::{Figure, ThermalNoise};

/// `density_1k` in V²/Hz; `spectrum` holds the same over the band.
pub(crate) fn thermal_noise(spectrum: &Spectrum, density_1k: f64) -> ThermalNoise {
    let root = |power: Figure| power.map(f64::sqrt);
    ThermalNoise {
        density_1k: Ok(density_1k.sqrt()),
        flat: root(spectrum.integral(BAND, |_| true, |s| s.noise * s.f)),
        a_weighted: root(spectrum.integral(BAND, |_| true, |s| s.noise * s.f * s.a_weight)),
    }
}
