//! Responses at given frequencies.

use num_complex::Complex64;
use pickup_dsl::evaluate::OutletCurves;
use serde::ser::SerializeStruct;
use serde::{Serialize, Serializer};

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
