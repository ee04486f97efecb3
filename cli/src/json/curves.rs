//! Responses at given frequencies: computed a few positions at a time, in pieces that fill all threads.

use num_complex::Complex64;
use pickup_dsl::evaluate::{Curves, Evaluator, OutletCurves};
use pickup_dsl::positions::Position;
use rayon::prelude::{IndexedParallelIterator, IntoParallelRefIterator, ParallelIterator};
use serde::ser::SerializeStruct;
use serde::{Serialize, Serializer};

use crate::exit::Failure;
use crate::job::{Job, shown_name};

/// Points held at once: bounds the memory of a million frequencies at many positions.
const POINTS_AT_ONCE: usize = 1 << 16;
/// Frequencies of one piece of work.
const PIECE: usize = 1 << 12;

/// What is to be computed.
pub(super) struct Responses<'a> {
    job: &'a Job,
    evaluator: &'a Evaluator<'a>,
    frequencies: &'a [f64],
}

impl<'a> Responses<'a> {
    pub(super) fn new(job: &'a Job, evaluator: &'a Evaluator<'a>, frequencies: &'a [f64]) -> Self {
        Responses { job, evaluator, frequencies }
    }

    pub(super) fn positions_at_once(&self) -> usize {
        POINTS_AT_ONCE.div_ceil(self.frequencies.len().max(1))
    }

    /// The responses of some positions, in order.
    pub(super) fn of(&self, positions: &[Position]) -> Result<Vec<Curves>, Failure> {
        let work: Vec<(&Position, &[f64])> =
            positions.iter().flat_map(|p| self.frequencies.chunks(PIECE).map(move |f| (p, f))).collect();
        let mut done: Vec<_> = Vec::new();
        work.par_iter()
            .map(|(p, f)| self.evaluator.curves(p, &self.job.knobs, f))
            .collect_into_vec(&mut done);
        let mut all = Vec::with_capacity(positions.len());
        let mut done = done.into_iter();
        for position in positions {
            let mut whole: Option<Curves> = None;
            for _ in self.frequencies.chunks(PIECE) {
                let Some(piece) = done.next() else { continue };
                let piece = piece.map_err(|e| self.job.no_solution(&shown_name(position), &e))?;
                match &mut whole {
                    None => whole = Some(piece),
                    Some(whole) => append(whole, piece),
                }
            }
            all.extend(whole);
        }
        Ok(all)
    }
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

/// One outlet's responses. Each list is as long as `frequencies_hz`; null where there is no path.
#[derive(Serialize)]
pub(super) struct ResponsesJson<'a> {
    response_v: Complexes<'a>,
    coils: Vec<CoilResponse<'a>>,
    hum_v: Complexes<'a>,
    impedance_ohm: Complexes<'a>,
    noise_v_per_sqrt_hz: &'a [Option<f64>],
}

#[derive(Serialize)]
struct CoilResponse<'a> {
    coil: &'a str,
    response_v: Complexes<'a>,
}

impl<'a> ResponsesJson<'a> {
    /// The responses of an outlet; `names` are the coils'.
    pub(super) fn new(curves: &'a OutletCurves, names: impl Iterator<Item = &'a str>) -> Self {
        ResponsesJson {
            response_v: Complexes(&curves.response),
            coils: names
                .zip(&curves.sections)
                .map(|(coil, c)| CoilResponse { coil, response_v: Complexes(c) })
                .collect(),
            hum_v: Complexes(&curves.hum),
            impedance_ohm: Complexes(&curves.impedance),
            noise_v_per_sqrt_hz: &curves.noise,
        }
    }
}

/// `{"re": […], "im": […]}`
struct Complexes<'a>(&'a [Option<Complex64>]);

impl Serialize for Complexes<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut s = serializer.serialize_struct("Complexes", 2)?;
        s.serialize_field("re", &Part(self.0, |c| c.re))?;
        s.serialize_field("im", &Part(self.0, |c| c.im))?;
        s.end()
    }
}

struct Part<'a>(&'a [Option<Complex64>], fn(&Complex64) -> f64);

impl Serialize for Part<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_seq(self.0.iter().map(|c| c.as_ref().map(self.1)))
    }
}
