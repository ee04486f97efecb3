//! How a peak moves: the implicit function theorem on d ln|H| / d ln f = 0.
//!
//! With u = ln f and A_u = sC: H_u = −yᵀA_u x; x_u = −A⁻¹A_u x and y_u = −A⁻ᵀA_uᵀ y by one more solve of each side;
//! H_uu = H_u − 2·yᵀA_u x_u; H_p = −yᵀA_p x; H_pu = −y_uᵀA_p x − yᵀA_p x_u − yᵀA_pu x, where A_pu is A_p for what s multiplies and 0
//! for the rest. With g = ln|H| the peak is where g_u = 0, so that du/dp = −g_pu/g_uu; its height changes by g_p alone.

use num_complex::Complex64;

use crate::error::{SolveError, SolveErrorKind};
use crate::float::{self, modulus, reciprocal};
use crate::handle::Element;
use crate::point::{Outcome, Point};
use crate::quantity::Hertz;
use crate::sensitivity::Response;
use crate::values::Values;
use crate::workspace::{Side, Workspace};

/// Steps of Newton's method, the largest of them and the one that ends it, in ln f.
const STEPS: usize = 60;
const LONGEST: f64 = 0.05;
const ARRIVED: f64 = 1e-13;
/// A peak whose ln|H| curves less than this is flat (a resonance of quality Q curves by 4Q²).
const FLAT: f64 = 1e-8;
/// Peaks whose heights agree to this fraction are tied, and places in ln f that agree to this are one.
const TIED: f64 = 1e-9;

/// Why a peak has no derivative.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum NotSmooth {
    /// Another of the peaks is as high (within 1e-9): which of them is the highest changes with the values.
    Tied {
        /// The other peak.
        other: Hertz,
    },
    /// |H| does not curve there (|d² ln|H| / d(ln f)²| < 1e-8), as at a maximally flat response.
    Flat,
    /// No maximum is near.
    Absent,
}

impl std::fmt::Display for NotSmooth {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            NotSmooth::Tied { other } => write!(f, "one at {:e} Hz is as high", other.0),
            NotSmooth::Flat => f.write_str("it is flat"),
            NotSmooth::Absent => f.write_str("there is no maximum"),
        }
    }
}

/// How a peak moves with one element value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PeakSensitivity {
    /// The element whose value is meant.
    pub element: Element,
    /// The value, in its own unit.
    pub value: f64,
    /// d f / d value, Hz per unit of the value. `None`, like the others, where [`Point::sensitivities`] has none.
    pub frequency: Option<f64>,
    /// d|H| / d value, unit of H per unit of the value.
    pub height: Option<f64>,
    /// d ln f / d ln value.
    pub relative_frequency: Option<f64>,
    /// d ln|H| / d ln value.
    pub relative_height: Option<f64>,
}

/// A peak of |H| and how it moves.
#[derive(Debug, Clone, PartialEq)]
pub struct PeakSensitivities {
    /// Where it is, to about 1e-13 of itself times the peak's own conditioning.
    pub frequency: Hertz,
    /// |H| there, V, A or Ω.
    pub height: f64,
    /// d² ln|H| / d(ln f)² there, below 0.
    pub curvature: f64,
    /// In the order of [`crate::Sensitivities::list`].
    pub list: Vec<PeakSensitivity>,
}

/// Derivatives of ln|H| by ln f.
struct Bend {
    slope: f64,
    curvature: f64,
}

/// A peak that Newton's method arrived at.
#[derive(Clone, Copy)]
struct Peak {
    log_frequency: f64,
    height: f64,
}

impl Workspace {
    /// How the highest of some peaks of |H| moves with every element value. `near` are places of the peaks that count (all of them, if
    /// the highest is to be told from its rivals), close enough for Newton's method; it polishes each.
    ///
    /// # Errors
    /// As [`Point::sensitivities`]; [`SolveErrorKind::NotSmooth`] where the peak is tied or flat, or where none is near.
    pub fn peak_sensitivities(
        &mut self,
        values: &Values,
        of: Response<'_>,
        near: &[Hertz],
    ) -> Result<Outcome<PeakSensitivities>, SolveError> {
        let mut peaks: Vec<Peak> = Vec::new();
        let mut refused = None;
        for &start in near {
            match self.find_peak(values, of, start)? {
                Outcome::Undetermined => return Ok(Outcome::Undetermined),
                Outcome::Known(Ok(peak)) => peaks.push(peak),
                Outcome::Known(Err(reason)) => refused = refused.or(Some((reason, start))),
            }
        }
        peaks.sort_by(|a, b| b.height.total_cmp(&a.height));
        let not_smooth =
            |reason, at: Hertz| Err(SolveErrorKind::NotSmooth { reason, frequency: at.0 }.into());
        let Some(&highest) = peaks.first() else {
            let (reason, at) = refused.unwrap_or((NotSmooth::Absent, Hertz(f64::NAN)));
            return not_smooth(reason, at);
        };
        let frequency = Hertz(float::exp(highest.log_frequency));
        let rival = peaks.iter().find(|peak| {
            (peak.log_frequency - highest.log_frequency).abs() > TIED
                && peak.height >= highest.height * (1.0 - TIED)
        });
        if let Some(rival) = rival {
            return not_smooth(NotSmooth::Tied { other: Hertz(float::exp(rival.log_frequency)) }, frequency);
        }
        self.factor(values, frequency)?.move_peak(of, frequency)
    }

    fn find_peak(
        &mut self,
        values: &Values,
        of: Response<'_>,
        start: Hertz,
    ) -> Result<Outcome<Result<Peak, NotSmooth>>, SolveError> {
        let mut u = float::ln(start.0);
        for _ in 0..STEPS {
            let mut point = self.factor(values, Hertz(float::exp(u)))?;
            let Outcome::Known(response) = point.both_sides(of)? else { return Ok(Outcome::Undetermined) };
            let Some((bend, _)) = point.bend(response)? else { return Ok(Outcome::Undetermined) };
            if !(bend.slope.is_finite() && bend.curvature.is_finite()) {
                return Ok(Outcome::Known(Err(NotSmooth::Absent)));
            }
            if bend.curvature.abs() <= FLAT && bend.slope.abs() <= FLAT {
                return Ok(Outcome::Known(Err(NotSmooth::Flat)));
            }
            // Uphill while the curve is hollow.
            let step = if bend.curvature < 0.0 {
                (-bend.slope / bend.curvature).clamp(-LONGEST, LONGEST)
            } else {
                LONGEST.copysign(bend.slope)
            };
            u += step;
            if step.abs() <= ARRIVED * u.abs().max(1.0) {
                return Ok(Outcome::Known(Ok(Peak { log_frequency: u, height: modulus(response) })));
            }
        }
        Ok(Outcome::Known(Err(NotSmooth::Absent)))
    }
}

/// First-order vectors of both sides.
struct Sides {
    x: Vec<Complex64>,
    y: Vec<Complex64>,
    x_u: Vec<Complex64>,
    y_u: Vec<Complex64>,
    h_u: Complex64,
}

impl Point<'_> {
    fn weigh_reactive(&self, y: &[Complex64], x: &[Complex64]) -> Complex64 {
        let terms =
            self.w.assembly.reactive.iter().map(|&(place, row, col)| {
                y[row as usize] * x[col as usize] * self.w.reactive[place as usize]
            });
        terms.sum::<Complex64>() * self.w.s
    }

    /// −A_u·v into the right-hand side, of either system.
    fn load_slope(&mut self, side: Side, v: &[Complex64]) {
        self.w.rhs.fill(Complex64::ZERO);
        for &(place, row, col) in &self.w.assembly.reactive {
            let value = -self.w.s * self.w.reactive[place as usize];
            let (to, from) = if side == Side::Forward { (row, col) } else { (col, row) };
            self.w.rhs[to as usize] += value * v[from as usize];
        }
    }

    /// Slope and curvature of ln|H| from the two solutions at hand; `None` where a singular network has none.
    fn bend(&mut self, response: Complex64) -> Result<Option<(Bend, Sides)>, SolveError> {
        let (x, y) = (self.w.x.clone(), self.w.y.clone());
        let h_u = -self.weigh_reactive(&y, &x);
        self.load_slope(Side::Forward, &x);
        if !self.w.solve(Side::Forward)? {
            return Ok(None);
        }
        let x_u = self.w.x.clone();
        let h_uu = h_u - self.weigh_reactive(&y, &x_u) * 2.0;
        let inverse = reciprocal(response);
        let log_slope = h_u * inverse;
        let bend = Bend { slope: log_slope.re, curvature: (h_uu * inverse - log_slope * log_slope).re };
        Ok(Some((bend, Sides { x, y, x_u, y_u: Vec::new(), h_u })))
    }

    fn move_peak(
        &mut self,
        of: Response<'_>,
        frequency: Hertz,
    ) -> Result<Outcome<PeakSensitivities>, SolveError> {
        let Outcome::Known(response) = self.both_sides(of)? else { return Ok(Outcome::Undetermined) };
        let Some((bend, mut sides)) = self.bend(response)? else { return Ok(Outcome::Undetermined) };
        if bend.curvature >= -FLAT {
            let kind = SolveErrorKind::NotSmooth { reason: NotSmooth::Flat, frequency: frequency.0 };
            return Err(kind.into());
        }
        self.load_slope(Side::Adjoint, &sides.y);
        if !self.w.solve(Side::Adjoint)? {
            return Ok(Outcome::Undetermined);
        }
        sides.y_u.clone_from(&self.w.y);
        let (inverse, height) = (reciprocal(response), modulus(response));
        // Back in place for the test of a singular network.
        self.w.x.clone_from(&sides.x);
        self.w.y.clone_from(&sides.y);
        let mut list = Vec::new();
        for (element, value) in self.w.parameters() {
            let moves = self.w.slope_of_form(element).zip(self.mixed(element, &sides));
            let (mut by_value, mut relative) = ([None; 2], [None; 2]);
            if let Some((first, mixed)) = moves {
                let (h_p, h_pu) = (-first, -mixed);
                let log_p = h_p * inverse;
                let log_pu = (h_pu * inverse - log_p * sides.h_u * inverse).re;
                let log_frequency = -log_pu / bend.curvature;
                by_value = [
                    Some(self.in_range(log_frequency * frequency.0)?),
                    Some(self.in_range(log_p.re * height)?),
                ];
                relative = [log_frequency, log_p.re].map(|x| Some(if x == 0.0 { 0.0 } else { x * value }));
                if let Some(wild) = relative.into_iter().flatten().find(|x| !x.is_finite()) {
                    self.in_range(wild)?;
                }
            }
            list.push(PeakSensitivity {
                element,
                value,
                frequency: by_value[0],
                height: by_value[1],
                relative_frequency: relative[0],
                relative_height: relative[1],
            });
        }
        Ok(Outcome::Known(PeakSensitivities { frequency, height, curvature: bend.curvature, list }))
    }

    /// y_uᵀA_p x + yᵀA_p x_u + yᵀA_pu x.
    fn mixed(&self, element: Element, sides: &Sides) -> Option<Complex64> {
        let mut sum = self.w.form(element, &sides.y_u, &sides.x)?.value
            + self.w.form(element, &sides.y, &sides.x_u)?.value;
        if matches!(element, Element::Capacitor(_) | Element::Inductor(_) | Element::Coupling(_)) {
            sum += self.w.form(element, &sides.y, &sides.x)?.value;
        }
        Some(sum)
    }
}
