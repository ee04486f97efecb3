//! Harmonics of strings as JSON. The structure is described by `cli/schema/harmonics.schema.json`.

use num_complex::Complex64;
use pickup_dsl::harmonics::{Amplitudes, Harmonic, Harmonics, Heard};
use pickup_dsl::positions::Position;
use serde::Serialize;

use super::figures::Value;
use super::{Head, PositionName, write};
use crate::exit::Failure;
use crate::job::Job;
use crate::output::Sink;

#[derive(Serialize)]
struct Document<'a> {
    #[serde(flatten)]
    head: Head<'a>,
    position: PositionName<'a>,
    knobs: Vec<super::Knob<'a>>,
    scale_m: f64,
    amplitudes: &'static str,
    strings: Vec<StringJson<'a>>,
}

#[derive(Serialize)]
struct StringJson<'a> {
    string: u32,
    fret: u32,
    sounding_length_m: f64,
    fundamental_hz: f64,
    coils: Vec<CoilJson<'a>>,
    harmonics: Vec<HarmonicJson<'a>>,
}

#[derive(Serialize)]
struct CoilJson<'a> {
    coil: &'a str,
    distance_m: Option<f64>,
    hears: bool,
}

#[derive(Serialize)]
struct HarmonicJson<'a> {
    number: u32,
    frequency_hz: f64,
    amplitude: f64,
    weights: &'a [f64],
    outlets: Vec<OutletJson>,
}

#[derive(Serialize)]
struct OutletJson {
    lug: String,
    voltage_v: Option<Volt>,
    level_db_re_1v: Value,
    coils_v: Vec<Volt>,
}

#[derive(Serialize)]
struct Volt {
    re: f64,
    im: f64,
}

impl From<Complex64> for Volt {
    fn from(c: Complex64) -> Self {
        Volt { re: c.re, im: c.im }
    }
}

/// Writes them.
///
/// # Errors
/// If they can't be written.
pub(crate) fn harmonics(
    sink: &mut Sink,
    job: &Job,
    position: &Position,
    amplitudes: Amplitudes,
    all: &[Harmonics],
) -> Result<(), Failure> {
    let harness = &job.file.harness;
    let outlet = |(i, heard): (usize, &Heard)| OutletJson {
        lug: harness.outlets.get(i).map_or_else(String::new, |outlet| harness.lug_name(outlet.hot)),
        voltage_v: heard.voltage.map(Volt::from),
        level_db_re_1v: heard.level.into(),
        coils_v: heard.coils.iter().copied().map(Volt::from).collect(),
    };
    let harmonic =
        |h: &'_ Harmonic| -> Vec<OutletJson> { h.outlets.iter().enumerate().map(outlet).collect() };
    let document = Document {
        head: Head::new("coilwright harmonics", &job.file),
        position: position.into(),
        knobs: super::knobs(harness, &job.knobs),
        scale_m: harness.geometry.as_ref().map_or(0.0, |g| g.scale),
        amplitudes: match amplitudes {
            Amplitudes::Falling => "falling",
            Amplitudes::Even => "even",
        },
        strings: all
            .iter()
            .map(|one| StringJson {
                string: one.string,
                fret: one.fret,
                sounding_length_m: one.length,
                fundamental_hz: one.fundamental,
                coils: one
                    .coils
                    .iter()
                    .map(|c| CoilJson { coil: &c.name, distance_m: c.distance, hears: c.hears })
                    .collect(),
                harmonics: one
                    .harmonics
                    .iter()
                    .map(|h| HarmonicJson {
                        number: h.number,
                        frequency_hz: h.frequency,
                        amplitude: h.amplitude,
                        weights: &h.weights,
                        outlets: harmonic(h),
                    })
                    .collect(),
            })
            .collect(),
    };
    write(sink, &document, true)
}
