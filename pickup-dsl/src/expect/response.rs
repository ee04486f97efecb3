//! The response over a band against another, or against a curve of the file.

use num_complex::Complex64;

use super::{Found, held};
use crate::evaluate::{Detail, Evaluator, FigureError};
use crate::figures::Why;
use crate::float;
use crate::harness::{Base, Held, Limits};
use crate::network::Knobs;
use crate::positions::{Position, position_of};

/// Frequencies in each octave of a band; its ends and the points of a curve are looked at besides.
const PER_OCTAVE: f64 = 48.0;

/// The worst of the response over what it is held against, dB.
pub(super) fn find(
    evaluator: &Evaluator<'_>,
    position: &Position,
    outlet: usize,
    knobs: &Knobs,
    (limits, against, band): (Limits, &Held, (f64, f64)),
) -> Result<(Found, bool), FigureError> {
    let frequencies = frequencies(band, against);
    let response = |position: &Position, knobs: &Knobs| -> Result<Vec<f64>, FigureError> {
        let curves = evaluator.curves(position, knobs, &frequencies, Detail::Response)?;
        Ok(decibels(&curves.outlets[outlet].response))
    };
    let own = response(position, knobs)?;
    let reference = || {
        let outlets = &evaluator.reference().outlets;
        outlets.get(outlet).map_or(Err(Why::ReferenceSilent), |its| its.plateau)
    };
    let rest = Knobs::default();
    let base: Result<Vec<f64>, Why> = match against {
        Held::Response(Base::Nothing) => reference().map(|plateau| vec![plateau; frequencies.len()]),
        Held::Response(Base::Reference) => {
            let curves = evaluator.reference_curves(&frequencies, Detail::Response)?;
            curves.outlets.get(outlet).map(|its| decibels(&its.response)).ok_or(Why::ReferenceSilent)
        }
        Held::Response(Base::Position(choice)) => {
            Ok(response(&position_of(evaluator.harness(), choice), &rest)?)
        }
        Held::Response(Base::Itself) => Ok(response(position, &rest)?),
        Held::Curve(points) => {
            reference().map(|plateau| frequencies.iter().map(|&f| plateau + at(points, f)).collect())
        }
    };
    let base = match base {
        Ok(base) if base.iter().all(|b| b.is_finite()) => base,
        Ok(_) => return Ok(held(Err(Why::ReferenceSilent), limits, None)),
        Err(why) => return Ok(held(Err(why), limits, None)),
    };
    let worst = own
        .iter()
        .zip(&base)
        .zip(&frequencies)
        .map(|((own, base), &f)| (own - base, f))
        .min_by(|a, b| limits.margin(a.0).total_cmp(&limits.margin(b.0)));
    Ok(match worst {
        Some((value, f)) => held(Ok(value), limits, Some(f)),
        None => held(Err(Why::None), limits, None),
    })
}

fn frequencies((low, high): (f64, f64), against: &Held) -> Vec<f64> {
    let octaves = float::ln(high / low) / std::f64::consts::LN_2;
    let steps = libm::ceil(octaves * PER_OCTAVE).max(1.0);
    let grid = (0..steps as usize).map(|i| low * float::exp(float::ln(high / low) * i as f64 / steps));
    let mut all: Vec<f64> = grid.chain([high]).collect();
    if let Held::Curve(points) = against {
        all.extend(points.iter().map(|(f, _)| *f).filter(|f| (low..=high).contains(f)));
        all.sort_by(f64::total_cmp);
        all.dedup();
    }
    all
}

/// dB re 1 V; −∞ where there is no path.
fn decibels(response: &[Option<Complex64>]) -> Vec<f64> {
    let of = |h: &Option<Complex64>| h.map_or(f64::NEG_INFINITY, |h| float::power_db(h.norm_sqr()));
    response.iter().map(of).collect()
}

/// A curve between its points: straight in dB over log frequency.
fn at(points: &[(f64, f64)], frequency: f64) -> f64 {
    let next = points.partition_point(|(f, _)| *f < frequency).clamp(1, points.len() - 1);
    let ((f0, y0), (f1, y1)) = (points[next - 1], points[next]);
    y0 + (y1 - y0) * float::ln(frequency / f0) / float::ln(f1 / f0)
}
