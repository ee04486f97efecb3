//! Maxima and minima of |H| over a band, all of them, and where |H| passes a level between them.
//!
//! With the poles p and the zeros z of H, d ln|H|/d ln ω = Σ Re s/(s − z) − Σ Re s/(s − p) at s = jω: a rational function of ω, known
//! everywhere once its roots are. Its sign changes are isolated by intervals that no root comes near, so that none is missed however close
//! two notches lie, and none is read off a grid; each is then polished on the network itself, on the exact slope of the adjoint solve.
//! Between two neighbours |H| is monotone, so that a level is passed at most once there.

mod isolate;
mod polish;
mod rational;

use num_complex::Complex64;

use crate::error::{SolveError, SolveErrorKind};
use crate::extremes::isolate::{Span, isolate};
use crate::extremes::polish::Course;
use crate::float::{self, modulus};
use crate::point::Outcome;
use crate::quantity::Hertz;
use crate::sensitivity::Response;
use crate::values::Values;
use crate::workspace::Workspace;

pub(crate) use crate::extremes::rational::Rational;

/// An extreme whose ln|H| curves less than this (by ln f, twice) is flat: a resonance of quality Q curves by 4Q².
const FLAT: f64 = 1e-8;
/// Maxima whose heights agree to this fraction are tied.
const TIED: f64 = 1e-9;

/// What kind of extreme.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ExtremeKind {
    /// Higher than what is next to it.
    Maximum,
    /// Lower than what is next to it.
    Minimum,
    /// A zero on the frequency axis, within 1e-9 of its size: |H| is 0 but for rounding.
    Null,
    /// A pole on the frequency axis, within 1e-9 of its size: |H| is infinite.
    Infinite,
}

/// A place where |H| turns.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Extreme {
    /// Where.
    pub frequency: Hertz,
    /// |H| there, V, A or Ω; ∞ for [`ExtremeKind::Infinite`].
    pub magnitude: f64,
    /// What.
    pub kind: ExtremeKind,
    /// d² ln|H| / d(ln f)² there, from the poles and zeros; infinite where |H| is 0 or ∞.
    pub curvature: f64,
    /// |H| hardly curves there (by less than 1e-8): its place is as uncertain as that is small.
    pub flat: bool,
    /// A maximum than which none is higher by more than 1e-9, where there are several such.
    pub tied: bool,
}

/// The extremes of |H| over a band.
#[derive(Debug, Clone, PartialEq)]
pub struct Extremes {
    list: Vec<Extreme>,
    ends: [(Hertz, f64); 2],
    poles: Vec<Complex64>,
}

impl Extremes {
    /// The poles that were found on the way, as [`Workspace::poles`] lists them.
    pub fn poles(&self) -> &[Complex64] {
        &self.poles
    }

    /// By rising frequency, those at the ends of the band left out.
    pub fn list(&self) -> &[Extreme] {
        &self.list
    }

    /// Frequency and |H| at both ends of the band.
    pub fn ends(&self) -> [(Hertz, f64); 2] {
        self.ends
    }

    /// The highest maximum (an infinite one before any other), of tied ones that of the lowest frequency; `None` if |H| has none inside.
    pub fn highest(&self) -> Option<&Extreme> {
        let maxima = self.list.iter().filter(|extreme| extreme.is_high());
        let top = maxima.clone().map(|extreme| extreme.magnitude).fold(0.0, f64::max);
        maxima.into_iter().find(|extreme| extreme.magnitude >= top * (1.0 - TIED))
    }

    /// (f, |H|) at the ends and the extremes, by rising frequency.
    fn knots(&self) -> Vec<(f64, f64)> {
        let extremes = self.list.iter().map(|extreme| (extreme.frequency.0, extreme.magnitude));
        let [first, last] = self.ends.map(|(f, magnitude)| (f.0, magnitude));
        std::iter::once(first).chain(extremes).chain(std::iter::once(last)).collect()
    }
}

impl Extreme {
    fn is_high(&self) -> bool {
        matches!(self.kind, ExtremeKind::Maximum | ExtremeKind::Infinite)
    }
}

/// A place where |H| passes a level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Crossing {
    /// Where.
    pub frequency: Hertz,
    /// Whether |H| rises there with frequency.
    pub rising: bool,
}

/// Where |H| has fallen to 1/√2 of a maximum, on each side of it; `None` where it does not, inside the band and before it is higher than the
/// maximum.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HalfPower {
    /// Below the maximum.
    pub below: Option<Hertz>,
    /// Above the maximum.
    pub above: Option<Hertz>,
}

impl Workspace {
    /// All maxima and minima of |H| inside a band of an AC layout.
    ///
    /// A maximum and a minimum whose |H| differ by less than about 1e-11 of it are not told apart: a stretch that is flat to that degree
    /// counts as one place. Places are good to about 1e-13 of themselves over the curvature.
    ///
    /// # Errors
    /// [`SolveErrorKind::Frequency`] for a band whose ends are not positive, finite and in order; as [`Workspace::zeros_of`], and as
    /// [`crate::Point::response`] or [`crate::Point::impedance`].
    pub fn extremes(
        &mut self,
        values: &Values,
        of: Response<'_>,
        band: (Hertz, Hertz),
    ) -> Result<Outcome<Extremes>, SolveError> {
        let (low, high) = band;
        if !(high.0 > low.0 && high.0.is_finite()) {
            return Err(SolveErrorKind::Frequency(high.0).into());
        }
        if self.factor(values, low)?.value_and_slope(of)?.is_none() {
            return Ok(Outcome::Undetermined);
        }
        let (poles, zeros) = (self.poles(values)?, self.zeros_of(values, of)?);
        let rational = Rational::new(&poles, &zeros);
        extremes_between(&rational, poles, band, |f| self.factor(values, f)?.value_and_slope(of))
    }

    /// Where |H| passes a level (V, A or Ω) inside the band of its extremes, by rising frequency. A level that an extreme just touches is
    /// not passed. Values and response are those of the extremes.
    ///
    /// # Errors
    /// As [`Workspace::factor`].
    pub fn crossings(
        &mut self,
        values: &Values,
        of: Response<'_>,
        extremes: &Extremes,
        level: f64,
    ) -> Result<Vec<Crossing>, SolveError> {
        let mut course = Course(|f| self.factor(values, f)?.value_and_slope(of));
        let mut found = Vec::new();
        for pair in extremes.knots().windows(2) {
            found.extend(course.crossing((pair[0], pair[1]), level)?);
        }
        Ok(found)
    }

    /// Both half-power (−3.01 dB) points of a maximum. Values and response are those of the extremes; `maximum` is one of theirs.
    ///
    /// # Errors
    /// As [`Workspace::factor`].
    pub fn half_power(
        &mut self,
        values: &Values,
        of: Response<'_>,
        extremes: &Extremes,
        maximum: &Extreme,
    ) -> Result<HalfPower, SolveError> {
        let knots = extremes.knots();
        let top = maximum.magnitude;
        let level = top * std::f64::consts::FRAC_1_SQRT_2;
        let here = knots.partition_point(|knot| knot.0 < maximum.frequency.0).min(knots.len() - 1);
        let mut course = Course(|f| self.factor(values, f)?.value_and_slope(of));
        let mut side = |pieces: &mut dyn Iterator<Item = usize>| -> Result<Option<Hertz>, SolveError> {
            for i in pieces {
                if let Some(crossing) = course.crossing((knots[i], knots[i + 1]), level)? {
                    return Ok(Some(crossing.frequency));
                }
                if knots[i].1 > top || knots[i + 1].1 > top {
                    return Ok(None);
                }
            }
            Ok(None)
        };
        let below = side(&mut (0..here).rev())?;
        let above = side(&mut (here..knots.len() - 1))?;
        Ok(HalfPower { below, above })
    }
}

/// The extremes of a response whose logarithmic slope is known.
pub(crate) fn extremes_between(
    rational: &Rational,
    poles: Vec<Complex64>,
    (low, high): (Hertz, Hertz),
    at: impl FnMut(Hertz) -> Result<Option<(Complex64, Complex64)>, SolveError>,
) -> Result<Outcome<Extremes>, SolveError> {
    let mut course = Course(at);
    let (Some((first, _)), Some((last, _))) = ((course.0)(low)?, (course.0)(high)?) else {
        return Ok(Outcome::Undetermined);
    };
    let mut list = Vec::new();
    for span in isolate(rational, float::ln(low.0), float::ln(high.0)) {
        match span {
            Span::Turn { from, to, rising } => {
                list.extend(course.polish_extreme(rational, (from, to), rising)?);
            }
            Span::OnAxis { u, zero } => list.push(course.on_axis(u, zero)?),
        }
    }
    mark_ties(&mut list);
    Ok(Outcome::Known(Extremes { list, ends: [(low, modulus(first)), (high, modulus(last))], poles }))
}

fn mark_ties(list: &mut [Extreme]) {
    let highs = || list.iter().filter(|extreme| extreme.is_high()).map(|extreme| extreme.magnitude);
    let top = highs().fold(0.0, f64::max);
    let tied = |magnitude: f64| magnitude >= top * (1.0 - TIED);
    if highs().filter(|&magnitude| tied(magnitude)).count() > 1 {
        list.iter_mut().filter(|extreme| extreme.is_high()).for_each(|e| e.tied = tied(e.magnitude));
    }
}
