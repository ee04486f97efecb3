//! The one door to functions whose last bit would differ between platforms.

/// Natural logarithm.
pub(crate) fn ln(x: f64) -> f64 {
    libm::log(x)
}

/// x to the power y.
pub(crate) fn pow(x: f64, y: f64) -> f64 {
    libm::pow(x, y)
}

/// Angle of (x, y), in degrees, (−180, 180].
pub(crate) fn degrees(y: f64, x: f64) -> f64 {
    libm::atan2(y, x).to_degrees()
}
