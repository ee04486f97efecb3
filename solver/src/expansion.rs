//! Partial fractions: residues at the poles and the direct part, and what they say of time.
//!
//! H(s) = Σ_p Σ_k a_pk/(s − p)^k + q₀ + q₁s + … . The a_pk of a pole (or of a cluster that is one within rounding) are contour integrals
//! of H around it by the trapezoidal rule, which on a circle converges geometrically and does not mind how the pole is made up inside
//! (L. N. Trefethen, J. A. C. Weideman, "The exponentially convergent trapezoidal rule", SIAM Review 56 (2014) 385–458); the q_k are those
//! around all poles. How many q there are is known: as many as there are more zeros than poles, and one.

use num_complex::Complex64;

use crate::error::{SolveError, SolveErrorKind};
use crate::float::{exp, modulus, reciprocal, sincos};
use crate::sensitivity::Response;
use crate::values::Values;
use crate::workspace::Workspace;

/// Points on a circle whose radius is half of the way to the next pole: 2⁻⁶⁴ of what is beyond comes in.
const POINTS: usize = 64;
/// Poles within this share of their distance from the axis, or of their size, are one with a multiplicity.
const ALIKE: (f64, f64) = (1e-6, 1e-9);
/// Largest error at the held-out frequencies that is an answer.
const REFUSE: f64 = 1e-6;
/// Held-out frequencies, in units of each pole's size.
const HELD_OUT: [f64; 3] = [0.371, 1.193, 6.07];
/// Growth beyond e to this is clipped.
const MOST: f64 = 600.0;
const LONGEST: f64 = 1e200;

/// The terms of one pole.
#[derive(Debug, Clone, PartialEq)]
pub struct Term {
    /// The pole, rad/s.
    pub pole: Complex64,
    /// `coefficients[k]` belongs to 1/(s − pole)^(k+1): the first is the residue, and there are as many as the pole counts. In the unit of
    /// the function times (rad/s)^(k+1).
    pub coefficients: Vec<Complex64>,
}

/// A network function in partial fractions.
#[derive(Debug, Clone, PartialEq)]
pub struct Expansion {
    /// One term a pole, ascending in |s|, the positive imaginary part of a pair first.
    pub terms: Vec<Term>,
    /// The direct part q₀ + q₁s + …, `direct[k]` in the unit of the function over (rad/s)^k; empty where the function vanishes at infinity.
    pub direct: Vec<f64>,
    /// Largest deviation from the network at held-out frequencies about each pole, as a share of the largest value there.
    pub error: f64,
}

impl Expansion {
    /// The function at a complex frequency, rad/s. At a pole it is infinite or not a number.
    pub fn at(&self, s: Complex64) -> Complex64 {
        let direct = self.direct.iter().rev().fold(Complex64::ZERO, |sum, &q| sum * s + q);
        let term = |term: &Term| {
            let inverse = reciprocal(s - term.pole);
            term.coefficients.iter().rev().fold(Complex64::ZERO, |sum, &a| (sum + a) * inverse)
        };
        self.terms.iter().map(term).sum::<Complex64>() + direct
    }

    /// Response at t (s) to an impulse of area 1 at t = 0, in the unit of the function per second, without the impulses at 0 themselves
    /// that a direct part makes. 0 before t = 0, and at 0 what it starts from. What grows is clipped at e⁶⁰⁰.
    pub fn impulse(&self, t: f64) -> f64 {
        self.sum(t, |p, k, t| fading(power(t, k), growth(p, t)))
    }

    /// Response at t (s) to a step from 0 to 1 at t = 0, in the unit of the function, without the impulses at 0 that a direct part above
    /// q₀ makes. 0 before t = 0, and at 0 what it starts from: q₀. What grows is clipped at e⁶⁰⁰.
    pub fn step(&self, t: f64) -> f64 {
        let direct = if t >= 0.0 { self.direct.first().copied().unwrap_or(0.0) } else { 0.0 };
        self.sum(t, integral) + direct
    }

    fn sum(&self, t: f64, basis: impl Fn(Complex64, usize, f64) -> Complex64) -> f64 {
        if t.is_nan() || t < 0.0 {
            return 0.0;
        }
        let t = t.min(LONGEST);
        let term = |term: &Term| -> f64 {
            term.coefficients.iter().enumerate().map(|(k, a)| (a * basis(term.pole, k, t)).re).sum()
        };
        self.terms.iter().map(term).sum()
    }
}

/// tᵏ/k!.
fn power(t: f64, k: usize) -> f64 {
    (1..=k).map(|i| t / i as f64).product()
}

/// A power times what has died away.
fn fading(power: f64, growth: Complex64) -> Complex64 {
    if growth == Complex64::ZERO { growth } else { power * growth }
}

/// e^(pt).
fn growth(p: Complex64, t: f64) -> Complex64 {
    let size = exp((p.re * t).min(MOST));
    if size == 0.0 || p.im == 0.0 {
        return Complex64::new(size, 0.0);
    }
    let (sin, cos) = sincos(p.im * t);
    Complex64::new(size * cos, size * sin)
}

/// ∫₀ᵗ τᵏ/k!·e^(pτ) dτ: by its series near 0, elsewhere by parts, I_k = (tᵏ/k!·e^(pt) − I_(k−1))/p.
fn integral(p: Complex64, k: usize, t: f64) -> Complex64 {
    let x = p * t;
    if modulus(x) > 1.0 {
        let inverse = reciprocal(p);
        let e = growth(p, t);
        let first = (e - 1.0) * inverse;
        return (1..=k).fold(first, |below, i| (fading(power(t, i), e) - below) * inverse);
    }
    // Σ_j x^j/j!/(k + 1 + j), times t^(k+1)/k!.
    let (mut sum, mut factor) = (Complex64::ZERO, Complex64::ONE);
    for j in 0..30 {
        sum += factor / (k + 1 + j) as f64;
        factor = factor * x / (j + 1) as f64;
    }
    sum * power(t, k) * t
}

impl Workspace {
    /// Partial fractions of a response or of a port's impedance, the layout being an AC one. The excitation's amplitudes have to be real.
    ///
    /// Multiple poles have a coefficient for each power. Poles so close to each other that their residues cancel cost accuracy; the error
    /// is measured at frequencies that took no part, and above 1e-6 there is no answer.
    ///
    /// # Errors
    /// As [`crate::zeros`]; [`SolveErrorKind::Amplitude`] for an amplitude that is not real, [`SolveErrorKind::IllConditioned`].
    pub fn expand(&mut self, values: &Values, function: Response<'_>) -> Result<Expansion, SolveError> {
        self.load(values)?;
        self.amplitudes_are_real(function)?;
        let zeros = self.zeros_of(values, function)?.len();
        let poles = self.poles(values)?;
        let excess = (zeros + 1).saturating_sub(poles.len());
        let clusters = clusters(&poles);
        let middle = self.assembly.middle;
        let mut terms = Vec::with_capacity(clusters.len());
        for (i, &(centre, count)) in clusters.iter().enumerate() {
            if centre.im < 0.0 {
                continue;
            }
            let size = modulus(centre);
            let others = clusters.iter().enumerate().filter(|&(j, _)| j != i);
            let next = others.map(|(_, other)| modulus(other.0 - centre)).fold(f64::INFINITY, f64::min);
            let radius = (0.5 * next).min(if size > 0.0 { size } else { middle });
            let mut coefficients = vec![Complex64::ZERO; count];
            self.around(function, centre, radius, |offset, value| {
                let mut weight = offset / POINTS as f64;
                for a in &mut coefficients {
                    *a += value * weight;
                    weight *= offset;
                }
            })?;
            if centre.im == 0.0 {
                coefficients.iter_mut().for_each(|a| a.im = 0.0);
            }
            terms.push(Term { pole: centre, coefficients: coefficients.clone() });
            if centre.im > 0.0 {
                coefficients.iter_mut().for_each(|a| a.im = -a.im);
                terms.push(Term { pole: centre.conj(), coefficients });
            }
        }
        let mut direct = vec![0.0; excess];
        if excess > 0 {
            let largest = clusters.iter().map(|&(p, _)| modulus(p)).fold(0.0, f64::max);
            let radius = if largest > 0.0 { 2.0 * largest } else { middle };
            self.around(function, Complex64::ZERO, radius, |offset, value| {
                let inverse = reciprocal(offset);
                let mut weight = Complex64::new(1.0 / POINTS as f64, 0.0);
                for q in &mut direct {
                    *q += (value * weight).re;
                    weight *= inverse;
                }
            })?;
        }
        let mut expansion = Expansion { terms, direct, error: 0.0 };
        expansion.error = self.held_out(function, &expansion)?;
        if expansion.error <= REFUSE {
            Ok(expansion)
        } else {
            Err(SolveErrorKind::IllConditioned { error: expansion.error }.into())
        }
    }

    /// The function at the points of a circle: (s − centre, value).
    fn around(
        &mut self,
        function: Response<'_>,
        centre: Complex64,
        radius: f64,
        mut take: impl FnMut(Complex64, Complex64),
    ) -> Result<(), SolveError> {
        for i in 0..POINTS {
            let (sin, cos) = sincos((2 * i + 1) as f64 * std::f64::consts::PI / POINTS as f64);
            let offset = Complex64::new(radius * cos, radius * sin);
            let value = self.value_at(function, centre + offset)?;
            take(offset, value);
        }
        Ok(())
    }

    fn held_out(&mut self, function: Response<'_>, expansion: &Expansion) -> Result<f64, SolveError> {
        let middle = self.assembly.middle;
        let sizes: Vec<f64> = expansion.terms.iter().map(|term| modulus(term.pole)).collect();
        let (mut worst, mut largest) = (0.0_f64, 0.0_f64);
        for size in sizes.into_iter().chain([middle]).map(|size| if size > 0.0 { size } else { middle }) {
            for factor in HELD_OUT {
                let s = Complex64::new(0.0, factor * size);
                let value = self.value_at(function, s)?;
                worst = worst.max(modulus(value - expansion.at(s)));
                largest = largest.max(modulus(value));
            }
        }
        Ok(if worst == 0.0 { 0.0 } else { worst / largest })
    }
}

/// Distinct poles with their multiplicity: the mean of those that are one within rounding.
fn clusters(poles: &[Complex64]) -> Vec<(Complex64, usize)> {
    let mut found: Vec<(Complex64, usize)> = Vec::new();
    for &pole in poles {
        let near = |centre: Complex64| {
            modulus(pole - centre) <= (ALIKE.0 * pole.re.abs()).max(ALIKE.1 * modulus(pole))
        };
        match found.iter_mut().find(|cluster| near(cluster.0)) {
            Some((centre, count)) => {
                *centre += (pole - *centre) / (*count + 1) as f64;
                *count += 1;
            }
            None => found.push((pole, 1)),
        }
    }
    // A pair that met on the real axis is one real pole.
    for (centre, _) in &mut found {
        if centre.im.abs() <= ALIKE.1 * centre.re.abs() {
            centre.im = 0.0;
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ∫τᵏ/k!·e^(pτ) in closed form for k = 2: e^x(x² − 2x + 2)/2 − 1, over p³.
    #[test]
    fn the_integral_by_series_and_by_parts_agree_with_its_closed_form() {
        for x in [-0.999, -1.001, -5.0, -40.0, 0.9, 3.0] {
            let wanted = (libm::exp(x) * (x * x - 2.0 * x + 2.0) / 2.0 - 1.0) / 8.0;
            let found = integral(Complex64::new(2.0, 0.0), 2, x / 2.0).re;
            assert!((found - wanted).abs() < 1e-14 * (1.0 + wanted.abs()), "{x}: {found} {wanted}");
        }
    }

    #[test]
    fn long_times_are_numbers() {
        let expansion = Expansion {
            terms: vec![Term { pole: Complex64::new(-2.0, 1e5), coefficients: vec![Complex64::I; 3] }],
            direct: vec![1.0],
            error: 0.0,
        };
        for t in [0.0, 1e3, 1e300, f64::INFINITY, f64::NAN, -1.0] {
            assert!(expansion.step(t).is_finite() && expansion.impulse(t).is_finite(), "{t}");
        }
    }
}
