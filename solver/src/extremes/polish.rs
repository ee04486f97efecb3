//! Extremes and crossings, found on the network itself.

use num_complex::Complex64;

use crate::error::SolveError;
use crate::extremes::rational::Rational;
use crate::extremes::{Crossing, Extreme, ExtremeKind, FLAT};
use crate::float::{self, modulus, reciprocal};
use crate::quantity::Hertz;

/// Steps at most, and the step in ln f that ends it.
const STEPS: usize = 80;
const ARRIVED: f64 = 4e-16;
/// A step that stays this small is rounding.
const STALLED: f64 = 1e-7;
/// How much an extreme may leave the interval where poles and zeros place it, in widths of it and in ln f.
const LEEWAY: f64 = 1.0;
const LEAST_LEEWAY: f64 = 1e-6;

/// |H| and d ln|H|/d ln f.
struct Here {
    magnitude: f64,
    slope: f64,
}

/// A response by frequency: its value and d/d ln f.
pub(super) struct Course<F>(pub(super) F);

impl<F: FnMut(Hertz) -> Result<Option<(Complex64, Complex64)>, SolveError>> Course<F> {
    /// At ln f = u.
    fn here(&mut self, u: f64) -> Result<Here, SolveError> {
        // A path at one frequency is a path at all.
        let found = self.0(Hertz(float::exp(u)))?;
        Ok(found.map_or(Here { magnitude: 0.0, slope: 0.0 }, |(h, slope)| Here {
            magnitude: modulus(h),
            slope: (slope * reciprocal(h)).re,
        }))
    }

    /// The extreme in an interval of ln f. `None` where the network itself does not turn there.
    pub(super) fn polish_extreme(
        &mut self,
        rational: &Rational,
        (from, to): (f64, f64),
        rising: bool,
    ) -> Result<Option<Extreme>, SolveError> {
        let per_turn = float::ln(std::f64::consts::TAU);
        // Where the poles and zeros place it.
        let (mut low, mut high) = (from, to);
        while high - low > ARRIVED * high.abs().max(1.0) {
            let middle = 0.5 * (low + high);
            if middle <= low || middle >= high {
                break;
            }
            if (rational.at(middle + per_turn).value > 0.0) == rising { low = middle } else { high = middle }
        }
        let start = 0.5 * (low + high);
        let curvature = rational.curvature(start + per_turn);
        let kind = if rising { ExtremeKind::Maximum } else { ExtremeKind::Minimum };
        let extreme = |u: f64, magnitude: f64, curvature: f64| Extreme {
            frequency: Hertz(float::exp(u)),
            magnitude,
            kind,
            curvature,
            flat: curvature.abs() <= FLAT,
            tied: false,
        };
        if curvature.abs() <= FLAT || (curvature < 0.0) != rising {
            let here = self.here(start)?;
            // Flat, or turned by rounding: of the sign that its kind has, and no more than flat.
            let size = curvature.abs().min(FLAT);
            return Ok(Some(extreme(start, here.magnitude, if rising { -size } else { size })));
        }
        // Newton on the exact slope with the derivative of the rational one.
        let leeway = (LEEWAY * (to - from)).max(LEAST_LEEWAY);
        let (mut u, mut least) = (start, f64::INFINITY);
        for _ in 0..STEPS {
            let here = self.here(u)?;
            let derivative = rational.curvature(u + per_turn);
            let step = -here.slope / derivative;
            if !step.is_finite() || (derivative < 0.0) != rising {
                break;
            }
            // No nearer: rounding is all that is left.
            if step.abs() <= ARRIVED * u.abs().max(1.0) || (step.abs() >= least && least <= STALLED) {
                return Ok(Some(extreme(u, here.magnitude, derivative)));
            }
            least = step.abs();
            u += step;
            if u < from - leeway || u > to + leeway {
                break;
            }
        }
        // It ran away: halve on the exact slope.
        let (mut low, mut high) = (from, to);
        let ends = [self.here(low)?.slope, self.here(high)?.slope];
        if (ends[0] > 0.0) != rising || (ends[1] > 0.0) == rising {
            return Ok(None);
        }
        for _ in 0..STEPS {
            let middle = 0.5 * (low + high);
            if (self.here(middle)?.slope > 0.0) == rising { low = middle } else { high = middle }
        }
        let here = self.here(low)?;
        Ok(Some(extreme(low, here.magnitude, rational.curvature(low + per_turn))))
    }

    /// What stands at a root on the axis, at ln f = u.
    pub(super) fn on_axis(&mut self, u: f64, zero: bool) -> Result<Extreme, SolveError> {
        let magnitude = if zero { self.here(u)?.magnitude } else { f64::INFINITY };
        let kind = if zero { ExtremeKind::Null } else { ExtremeKind::Infinite };
        let curvature = if zero { f64::INFINITY } else { f64::NEG_INFINITY };
        Ok(Extreme { frequency: Hertz(float::exp(u)), magnitude, kind, curvature, flat: false, tied: false })
    }

    /// Where |H| passes a level between two places (f, |H|) with no extreme between; `None` if it does not.
    pub(super) fn crossing(
        &mut self,
        (a, b): ((f64, f64), (f64, f64)),
        level: f64,
    ) -> Result<Option<Crossing>, SolveError> {
        let rising = a.1 < level;
        if a.1 == level || (b.1 > level) != rising || !(level > 0.0 && level.is_finite()) {
            return Ok(None);
        }
        let (mut low, mut high) = (float::ln(a.0), float::ln(b.0));
        let wanted = float::ln(level);
        let mut u = 0.5 * (low + high);
        for _ in 0..STEPS {
            let here = self.here(u)?;
            let left = float::ln(here.magnitude) - wanted;
            if (left < 0.0) == rising {
                low = u
            } else {
                high = u
            }
            let newton = u - left / here.slope;
            let next = if newton >= low && newton <= high { newton } else { 0.5 * (low + high) };
            let arrived = (next - u).abs() <= ARRIVED * u.abs().max(1.0);
            u = next;
            if arrived {
                break;
            }
        }
        Ok(Some(Crossing { frequency: Hertz(float::exp(u)), rising }))
    }
}
