//! Responses at given frequencies: computed on all threads, and as points of a curve.

use pickup_dsl::evaluate::{Curves, Detail, Evaluator, OutletCurves};
use pickup_dsl::figures::{PositionFigures, Why};
use pickup_dsl::positions::Position;
use rayon::prelude::{IndexedParallelIterator, IntoParallelRefIterator, ParallelIterator};

use crate::exit::Failure;
use crate::float;
use crate::job::{Job, shown_name};
use crate::unit;

/// Points (a position at a frequency) that are held at once: bounds the memory of many frequencies at many positions.
pub(crate) const POINTS_AT_ONCE: usize = 1 << 16;
/// Frequencies of one piece of work: enough to be worth a layout, few enough to give every thread some.
const PIECE: usize = 1 << 12;

/// The curves of some positions, in order: the same for any number of threads.
///
/// # Errors
/// The first position that has no solution.
pub(crate) fn curves(
    job: &Job,
    evaluator: &Evaluator<'_>,
    positions: &[Position],
    frequencies: &[f64],
    detail: Detail,
) -> Result<Vec<Curves>, Failure> {
    let work: Vec<(&Position, &[f64])> =
        positions.iter().flat_map(|p| frequencies.chunks(PIECE).map(move |f| (p, f))).collect();
    let mut done = Vec::new();
    work.par_iter().map(|(p, f)| evaluator.curves(p, &job.knobs, f, detail)).collect_into_vec(&mut done);
    let mut all: Vec<Curves> = Vec::with_capacity(positions.len());
    let mut done = done.into_iter();
    for position in positions {
        let mut whole: Option<Curves> = None;
        for piece in done.by_ref().take(frequencies.len().div_ceil(PIECE)) {
            let piece = piece.map_err(|e| job.no_solution(&shown_name(position), &e))?;
            match &mut whole {
                None => whole = Some(piece),
                Some(whole) => append(whole, piece),
            }
        }
        all.extend(whole);
    }
    Ok(all)
}

fn append(whole: &mut Curves, piece: Curves) {
    whole.frequencies.extend(piece.frequencies);
    for (w, p) in whole.outlets.iter_mut().zip(piece.outlets) {
        w.response.extend(p.response);
        w.hum.extend(p.hum);
        w.impedance.extend(p.impedance);
        w.noise.extend(p.noise);
        for (a, b) in w.sections.iter_mut().zip(p.sections) {
            a.extend(b);
        }
    }
}

/// |H| at a frequency in dB re 1 V, and its phase in degrees; None where it is silent or has no path.
#[must_use]
pub(crate) fn point(curves: &OutletCurves, index: usize) -> Option<(f64, f64)> {
    let db = curves.magnitude(index).ok()?;
    let h = curves.response.get(index).copied().flatten()?;
    Some((db, float::degrees(h.im, h.re)))
}

/// dB re 1 V at each frequency; None where it is silent.
#[must_use]
pub(crate) fn decibels(outlet: &OutletCurves) -> Vec<Option<f64>> {
    (0..outlet.response.len()).map(|i| point(outlet, i).map(|(db, _)| db)).collect()
}

/// `peak 4.31 kHz, +5.3 dB`; and where it lies, Hz and dB re 1 V.
#[must_use]
pub(crate) fn peak(figures: &PositionFigures, outlet: usize) -> (String, Option<(f64, f64)>) {
    let Some(o) = figures.outlets.get(outlet) else {
        return (String::new(), None);
    };
    match (o.the_resonance(), o.height) {
        (Ok(peak), Ok(h)) => {
            let f = unit::significant(peak.frequency, "Hz", 3);
            (format!("peak {f}, {} dB", unit::signed(h, 1)), Some((peak.frequency, peak.magnitude)))
        }
        (Err(Why::Silent), _) => ("silent".to_owned(), None),
        _ => ("no peak".to_owned(), None),
    }
}
