//! The one door to functions whose result could differ between platforms: all go to `libm`, so that bits are equal everywhere.
//! (`sqrt` and the four operations are exact by IEEE 754 and need no door.)

use num_complex::Complex64;

/// Natural logarithm.
pub(crate) fn ln(x: f64) -> f64 {
    libm::log(x)
}

/// e^x.
pub(crate) fn exp(x: f64) -> f64 {
    libm::exp(x)
}

/// |z|.
pub(crate) fn modulus(z: Complex64) -> f64 {
    libm::hypot(z.re, z.im)
}

/// 20 lg x: an amplitude in decibels.
pub(crate) fn amplitude_db(x: f64) -> f64 {
    20.0 * libm::log10(x)
}

/// 10 lg x: a power in decibels.
pub(crate) fn power_db(x: f64) -> f64 {
    10.0 * libm::log10(x)
}
