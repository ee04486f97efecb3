//! The one door to functions whose result could differ between platforms: all go to `libm`, so that bits are equal everywhere.

use num_complex::Complex64;

pub(crate) fn ln(x: f64) -> f64 {
    libm::log(x)
}

pub(crate) fn exp(x: f64) -> f64 {
    libm::exp(x)
}

pub(crate) fn sincos(x: f64) -> (f64, f64) {
    libm::sincos(x)
}

pub(crate) fn atan2(y: f64, x: f64) -> f64 {
    libm::atan2(y, x)
}

/// |z| without overflow.
pub(crate) fn modulus(z: Complex64) -> f64 {
    libm::hypot(z.re, z.im)
}

/// |re| + |im|: between |z| and √2·|z|, and cheap.
#[inline(always)]
pub(crate) fn taxicab(z: Complex64) -> f64 {
    z.re.abs() + z.im.abs()
}

/// The power of two next below |x| (1 for 0 or not finite), so that scaling by it is exact.
pub(crate) fn binade(x: f64) -> f64 {
    if x == 0.0 || !x.is_finite() {
        return 1.0;
    }
    let (_, exponent) = libm::frexp(x);
    libm::ldexp(1.0, (exponent - 1).clamp(-1000, 1000))
}

/// 1/z, scaled where the squares would leave the range of `f64`; exact in form (no rounding of the other part) for real or imaginary z.
#[inline(always)]
pub(crate) fn reciprocal(z: Complex64) -> Complex64 {
    if z.im == 0.0 {
        return Complex64::new(1.0 / z.re, 0.0);
    }
    let norm = z.re * z.re + z.im * z.im;
    if norm > 1e-290 && norm < 1e290 {
        let inverse = 1.0 / norm;
        return Complex64::new(z.re * inverse, -z.im * inverse);
    }
    reciprocal_scaled(z)
}

#[cold]
fn reciprocal_scaled(z: Complex64) -> Complex64 {
    let scale = 1.0 / binade(z.re.abs().max(z.im.abs()));
    let (re, im) = (z.re * scale, z.im * scale);
    let inverse = 1.0 / (re * re + im * im);
    Complex64::new(re * inverse * scale, -im * inverse * scale)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reciprocal_survives_the_ends_of_the_range() {
        for m in [1e-300, 1e-160, 1.0, 1e160, 1e300] {
            let z = Complex64::new(3.0 * m, 4.0 * m);
            let r = reciprocal(z);
            assert!((r.re * m - 0.12).abs() < 1e-15 && (r.im * m + 0.16).abs() < 1e-15, "{m}: {r}");
        }
    }

    #[test]
    fn reciprocal_of_a_real_number_is_real_and_correctly_rounded() {
        assert_eq!(reciprocal(Complex64::new(3.0, 0.0)), Complex64::new(1.0 / 3.0, 0.0));
    }
}
