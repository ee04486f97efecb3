//! d ln|H|/d ln ω as a function of the poles and zeros of H.

use num_complex::Complex64;

use crate::float::{self, modulus, reciprocal};

/// A root within this fraction of its size from the frequency axis is on it: roots are known to about 1e-9.
const ON_AXIS: f64 = 1e-9;
/// A pole and a zero within this fraction of their size are one, and cancel.
const SAME: f64 = 4e-9;

/// A root of H at r, other than 0. It weighs +1 (a zero) or −1 (a pole).
#[derive(Debug, Clone, Copy)]
pub(super) struct Root {
    /// In the left half-plane or on the axis: what is mirrored at the axis has the same |s − r| on it.
    s: Complex64,
    pub(super) weight: f64,
    /// ln|r|.
    pub(super) log: f64,
    /// Angle from the upper half of the frequency axis, rad.
    angle: f64,
}

impl Root {
    pub(super) fn on_axis(&self) -> bool {
        self.s.im > 0.0 && self.s.re == 0.0
    }

    /// Nearer than that to ln ω = u, in the plane of ln s, where s/(s − r) is singular at ln r alone (and a turn away).
    pub(super) fn is_within(&self, distance: f64, u: f64) -> bool {
        let along = self.log - u;
        along * along + self.angle * self.angle < distance * distance
    }
}

/// Logarithmic slope of |H|.
#[derive(Debug, Clone)]
pub(crate) struct Rational {
    pub(super) roots: Vec<Root>,
    /// Zeros less poles at 0.
    constant: f64,
}

/// Slope, and the size of its terms.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Slope {
    pub(crate) value: f64,
    pub(crate) size: f64,
}

impl Rational {
    pub(crate) fn new(poles: &[Complex64], zeros: &[Complex64]) -> Rational {
        let mirrored =
            |list: &[Complex64]| -> Vec<Complex64> {
                let on_axis = |s: &Complex64| s.re.abs() <= ON_AXIS * modulus(*s);
                list.iter()
                    .map(|s| {
                        if on_axis(s) { Complex64::new(0.0, s.im) } else { Complex64::new(-s.re.abs(), s.im) }
                    })
                    .collect()
            };
        let (mut poles, mut left) = (mirrored(poles), Vec::new());
        for zero in mirrored(zeros) {
            let twin = poles.iter().position(|pole| modulus(pole - zero) <= SAME * modulus(zero));
            match twin {
                Some(i) => {
                    poles.swap_remove(i);
                }
                None => left.push(zero),
            }
        }
        let all = left.into_iter().map(|s| (s, 1.0)).chain(poles.into_iter().map(|s| (s, -1.0)));
        let (mut roots, mut constant) = (Vec::new(), 0.0);
        for (s, weight) in all {
            if s == Complex64::ZERO {
                constant += weight;
            } else {
                let angle = float::atan2(-s.re, s.im);
                roots.push(Root { s, weight, log: float::ln(modulus(s)), angle });
            }
        }
        Rational { roots, constant }
    }

    /// At ln ω = u: s/(s − r) = ω(ω − im r)/|s − r|² + j….
    pub(crate) fn at(&self, u: f64) -> Slope {
        let omega = float::exp(u);
        let mut slope = Slope { value: self.constant, size: self.constant.abs() };
        for root in &self.roots {
            let (a, b) = (root.s.re, omega - root.s.im);
            let term = omega * b / (a * a + b * b);
            slope.value += root.weight * term;
            slope.size += term.abs();
        }
        slope
    }

    /// Derivative of the slope by ln ω at ln ω = u: each term's is −s·r/(s − r)².
    pub(crate) fn curvature(&self, u: f64) -> f64 {
        let s = Complex64::new(0.0, float::exp(u));
        let mut sum = 0.0;
        for root in &self.roots {
            let inverse = reciprocal(s - root.s);
            sum -= root.weight * (inverse * s * inverse * root.s).re;
        }
        sum
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// H = s(s + 3)/((s + 1)² + 4) against ln|H| by central differences.
    #[test]
    fn slope_is_that_of_the_magnitude() {
        let i = Complex64::I;
        let (zeros, poles) = ([Complex64::ZERO, Complex64::from(-3.0)], [-1.0 + 2.0 * i, -1.0 - 2.0 * i]);
        let rational = Rational::new(&poles, &zeros);
        let log = |u: f64| {
            let s = Complex64::new(0.0, libm::exp(u));
            libm::log(modulus(s * (s + 3.0) / ((s + 1.0) * (s + 1.0) + 4.0)))
        };
        for k in -20..20 {
            let (u, h) = (0.2 * f64::from(k), 1e-4);
            let slope = rational.at(u);
            assert!(((log(u + h) - log(u - h)) / (2.0 * h) - slope.value).abs() < 1e-7);
            let second = (log(u + h) - 2.0 * log(u) + log(u - h)) / (h * h);
            assert!((second - rational.curvature(u)).abs() < 1e-6, "{second} {}", rational.curvature(u));
        }
    }

    #[test]
    fn an_all_pass_is_level() {
        let p = Complex64::new(-1.0, 2.0);
        let rational = Rational::new(&[p, p.conj()], &[-p, -p.conj()]);
        assert!(rational.roots.is_empty() && rational.at(0.3).value == 0.0);
    }
}
