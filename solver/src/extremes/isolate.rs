//! The sign changes of d ln|H|/d ln ω, each alone in an interval.
//!
//! The band is cut in ln ω until no root lies nearer (in the plane of ln s) to the middle of a piece than three times its half width. The
//! slope is analytic there, and its interpolation at 17 Chebyshev points is good to about 1e-12 (L. N. Trefethen, Approximation Theory
//! and Approximation Practice, theorem 8.2: the error falls by ρ⁻¹⁶ with ρ ≥ 3 + √8). Written in Bernstein's basis, a polynomial has no
//! root where its coefficients have one sign, and exactly one where they change it once; elsewhere the piece is halved (Descartes' rule in
//! Bernstein's basis: J. M. Lane, R. F. Riesenfeld, BIT 21 (1981) 112–117).

use std::sync::OnceLock;

use nalgebra::DMatrix;

use crate::extremes::rational::Rational;
use crate::float;

const DEGREE: usize = 16;
const POINTS: usize = DEGREE + 1;
/// No root is nearer to the middle of a piece than this many half widths.
const CLEAR: f64 = 3.0;
/// Widest piece, in ln ω.
const WIDEST: f64 = 2.0;
/// Narrowest piece, and half of what is left out around a root on the axis.
const NARROWEST: f64 = 1e-10;
/// A coefficient below this fraction of the terms of the slope has no sign.
const SIGNLESS: f64 = 4e-11;
/// A piece of the polynomial is halved this often at most.
const HALVINGS: u32 = 40;

/// Where |H| turns.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Span {
    /// Once in an interval of ln f; `rising` before it.
    Turn { from: f64, to: f64, rising: bool },
    /// At a root on the axis, at ln f.
    OnAxis { u: f64, zero: bool },
}

type Coefficients = [f64; POINTS];

/// Chebyshev points in [0, 1], and the matrix that takes values there to coefficients in Bernstein's basis.
struct Basis {
    points: [f64; POINTS],
    matrix: DMatrix<f64>,
}

fn basis() -> &'static Basis {
    static BASIS: OnceLock<Basis> = OnceLock::new();
    BASIS.get_or_init(|| {
        let mut points = [0.0; POINTS];
        for (j, point) in points.iter_mut().enumerate() {
            *point = 0.5 - 0.5 * float::sincos(std::f64::consts::PI * j as f64 / DEGREE as f64).1;
        }
        let bernstein = DMatrix::from_fn(POINTS, POINTS, |j, k| {
            let mut value = 1.0;
            for i in 0..k {
                value *= (DEGREE - i) as f64 / (i + 1) as f64;
            }
            let power = |x: f64, n: usize| (0..n).fold(1.0, |product, _| product * x);
            value * power(points[j], k) * power(1.0 - points[j], DEGREE - k)
        });
        let matrix = bernstein.try_inverse().unwrap_or_else(|| DMatrix::zeros(POINTS, POINTS));
        Basis { points, matrix }
    })
}

/// All turns between two places of ln f.
pub(super) fn isolate(rational: &Rational, low: f64, high: f64) -> Vec<Span> {
    let per_turn = float::ln(std::f64::consts::TAU);
    let mut axis: Vec<(f64, bool)> = rational
        .roots
        .iter()
        .filter(|root| root.on_axis())
        .map(|root| (root.log - per_turn, root.weight > 0.0))
        .filter(|&(u, _)| u > low && u < high)
        .collect();
    axis.sort_by(|a, b| a.0.total_cmp(&b.0));
    axis.dedup_by(|b, a| b.0 - a.0 <= NARROWEST && a.1 == b.1);
    let mut spans = Vec::new();
    let mut from = low;
    for (u, zero) in axis {
        between(rational, (from, u - NARROWEST), per_turn, &mut spans);
        spans.push(Span::OnAxis { u, zero });
        from = u + NARROWEST;
    }
    between(rational, (from, high), per_turn, &mut spans);
    spans
}

/// The last place where the slope had a sign, and which.
struct Trail {
    last: Option<(f64, bool)>,
}

fn between(rational: &Rational, (low, high): (f64, f64), per_turn: f64, spans: &mut Vec<Span>) {
    if high <= low {
        return;
    }
    let mut trail = Trail { last: None };
    let parts = ((high - low) / WIDEST).ceil().max(1.0) as usize;
    let cut = |k: usize| low + (high - low) * k as f64 / parts as f64;
    // The next piece on top.
    let mut pieces: Vec<(f64, f64)> = (0..parts).rev().map(|k| (cut(k), cut(k + 1))).collect();
    while let Some((from, to)) = pieces.pop() {
        let (middle, half) = (0.5 * (from + to), 0.5 * (to - from));
        let near = rational.roots.iter().any(|root| root.is_within(CLEAR * half, middle + per_turn));
        if near && half > NARROWEST {
            pieces.push((middle, to));
            pieces.push((from, middle));
            continue;
        }
        let (mut values, mut size) = ([0.0; POINTS], 0.0_f64);
        for (value, point) in values.iter_mut().zip(basis().points) {
            let slope = rational.at(from + (to - from) * point + per_turn);
            *value = slope.value;
            size = size.max(slope.size);
        }
        let mut coefficients = [0.0; POINTS];
        // The matrix is stored by columns.
        for (column, value) in basis().matrix.as_slice().chunks_exact(POINTS).zip(values) {
            coefficients.iter_mut().zip(column).for_each(|(coefficient, m)| *coefficient += m * value);
        }
        trail.descend(&coefficients, (from, to), SIGNLESS * size, HALVINGS, spans);
    }
}

impl Trail {
    fn descend(
        &mut self,
        coefficients: &Coefficients,
        (from, to): (f64, f64),
        signless: f64,
        halvings: u32,
        spans: &mut Vec<Span>,
    ) {
        let signs = coefficients.iter().enumerate().filter(|(_, c)| c.abs() > signless);
        let (mut changes, mut previous) = (0, None);
        for (_, &coefficient) in signs.clone() {
            changes += u32::from(previous.is_some_and(|up: bool| up != (coefficient > 0.0)));
            previous = Some(coefficient > 0.0);
        }
        if changes > 1 && halvings > 0 {
            let (left, right) = halves(coefficients);
            let middle = 0.5 * (from + to);
            self.descend(&left, (from, middle), signless, halvings - 1, spans);
            self.descend(&right, (middle, to), signless, halvings - 1, spans);
            return;
        }
        let place = |k: usize| from + (to - from) * k as f64 / DEGREE as f64;
        let (Some((first, &before)), Some((last, &after))) =
            (signs.clone().next(), signs.clone().next_back())
        else {
            return;
        };
        self.pass(place(first), before > 0.0, spans);
        self.pass(place(last), after > 0.0, spans);
    }

    fn pass(&mut self, u: f64, up: bool, spans: &mut Vec<Span>) {
        if let Some((from, rising)) = self.last
            && rising != up
        {
            spans.push(Span::Turn { from, to: u, rising });
        }
        self.last = Some((u, up));
    }
}

/// Coefficients of both halves (de Casteljau).
fn halves(coefficients: &Coefficients) -> (Coefficients, Coefficients) {
    let mut row = *coefficients;
    let (mut left, mut right) = ([0.0; POINTS], [0.0; POINTS]);
    for k in 0..POINTS {
        left[k] = row[0];
        right[DEGREE - k] = row[DEGREE - k];
        for i in 0..DEGREE - k {
            row[i] = 0.5 * (row[i] + row[i + 1]);
        }
    }
    (left, right)
}

#[cfg(test)]
mod tests {
    use num_complex::Complex64;

    use super::*;

    fn pair(f: f64, q: f64) -> [Complex64; 2] {
        let omega = std::f64::consts::TAU * f;
        let s = Complex64::new(-0.5 * omega / q, omega * libm::sqrt(1.0 - 0.25 / (q * q)));
        [s, s.conj()]
    }

    fn turns(poles: &[Complex64], zeros: &[Complex64]) -> Vec<Span> {
        isolate(&Rational::new(poles, zeros), libm::log(20.0), libm::log(20e3))
    }

    #[test]
    fn two_notches_however_close_have_a_maximum_between() {
        for apart in [1e-2, 1e-3, 1e-4, 1e-6] {
            let q = 10.0 / apart;
            let zeros = [pair(1000.0, q), pair(1000.0 * (1.0 + apart), q)].concat();
            let poles = [pair(700.0, 0.5), pair(1500.0, 0.5)].concat();
            let found = turns(&poles, &zeros);
            assert_eq!(found.len(), 3, "{apart}: {found:?}");
            let rising = |span: &Span| matches!(span, Span::Turn { rising: true, .. });
            assert_eq!(found.iter().map(rising).collect::<Vec<_>>(), [false, true, false]);
        }
    }

    #[test]
    fn a_null_on_the_axis_is_one_place() {
        let omega = std::f64::consts::TAU * 1000.0;
        let found = turns(&pair(1000.0, 0.5), &[Complex64::new(0.0, omega), Complex64::new(0.0, -omega)]);
        assert!(matches!(found[..], [Span::OnAxis { zero: true, .. }]), "{found:?}");
    }

    /// Butterworth: |H|² = 1/(1 + ω²ⁿ) falls everywhere, by less than can be told from level at low frequencies.
    #[test]
    fn a_maximally_flat_response_does_not_turn() {
        for n in 1..=9 {
            let poles: Vec<Complex64> = (0..n)
                .map(|k| {
                    let angle = std::f64::consts::PI * (0.5 + (f64::from(k) + 0.5) / f64::from(n));
                    Complex64::from_polar(std::f64::consts::TAU * 2000.0, angle)
                })
                .collect();
            assert_eq!(turns(&poles, &[]), [], "{n}");
        }
    }

    #[test]
    fn halves_are_the_polynomial_again() {
        let mut coefficients = [0.0; POINTS];
        // x in Bernstein's basis.
        coefficients.iter_mut().enumerate().for_each(|(k, c)| *c = k as f64 / DEGREE as f64);
        let (left, right) = halves(&coefficients);
        for k in 0..POINTS {
            let half = 0.5 * k as f64 / DEGREE as f64;
            assert!((left[k] - half).abs() < 1e-15 && (right[k] - 0.5 - half).abs() < 1e-15);
        }
    }
}
