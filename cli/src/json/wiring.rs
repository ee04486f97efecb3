//! The network of one position as JSON.

use pickup_dsl::network::{Knobs, LiveElement, LiveKind, LiveNetwork};
use pickup_dsl::positions::Position;
use serde::Serialize;

use super::{Head, PlaceJson, PositionName, write};
use crate::exit::Failure;
use crate::job::File;
use crate::output::Sink;

#[derive(Serialize)]
struct Wiring<'a> {
    #[serde(flatten)]
    head: Head<'a>,
    position: PositionName<'a>,
    knobs: Vec<super::Knob<'a>>,
    nets: Vec<NetJson>,
    elements: Vec<ElementJson<'a>>,
    couplings: Vec<CouplingJson<'a>>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    short_forms: Vec<ShortFormJson<'a>>,
}

#[derive(Serialize)]
struct ShortFormJson<'a> {
    wires: Vec<[String; 2]>,
    chosen: &'a str,
    #[serde(flatten)]
    place: PlaceJson<'a>,
}

#[derive(Serialize)]
struct NetJson {
    name: String,
    lugs: Vec<String>,
    ground: bool,
    hot: Option<usize>,
    floating: bool,
}

#[derive(Serialize)]
struct ElementJson<'a> {
    name: &'a str,
    #[serde(flatten)]
    kind: KindJson,
    from: usize,
    to: usize,
    #[serde(flatten)]
    place: PlaceJson<'a>,
}

#[derive(Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
enum KindJson {
    Resistance { ohm: f64 },
    Capacitance { farad: f64 },
    Inductance { henry: f64 },
    Emf { coil: usize },
    Gain { ratio: f64, plus: usize, minus: usize },
    NoiseVoltage,
    NoiseCurrent,
}

#[derive(Serialize)]
struct CouplingJson<'a> {
    between: [usize; 2],
    start_to_start: f64,
    #[serde(flatten)]
    place: PlaceJson<'a>,
}

impl From<&LiveElement> for KindJson {
    fn from(e: &LiveElement) -> Self {
        match e.kind {
            LiveKind::Resistance(ohm) => KindJson::Resistance { ohm },
            LiveKind::Capacitance(farad) => KindJson::Capacitance { farad },
            LiveKind::Inductance(henry) => KindJson::Inductance { henry },
            LiveKind::Emf(coil) => KindJson::Emf { coil },
            LiveKind::Gain { ratio, plus, minus } => KindJson::Gain { ratio, plus, minus },
            LiveKind::NoiseVoltage => KindJson::NoiseVoltage,
            LiveKind::NoiseCurrent => KindJson::NoiseCurrent,
        }
    }
}

/// Writes it.
///
/// # Errors
/// If it can't be written.
pub(crate) fn wiring(
    sink: &mut Sink,
    file: &File,
    position: &Position,
    knobs: &Knobs,
    live: &LiveNetwork,
) -> Result<(), Failure> {
    let harness = &file.harness;
    let document = Wiring {
        head: Head::new("coilwright wiring", file),
        position: position.into(),
        knobs: super::knobs(harness, knobs),
        nets: live
            .nets
            .iter()
            .map(|n| NetJson {
                name: n.name.clone(),
                lugs: n.lugs.iter().map(|l| harness.lug_name(*l)).collect(),
                ground: n.ground,
                hot: n.hot,
                floating: n.floating,
            })
            .collect(),
        elements: live
            .elements
            .iter()
            .map(|e| ElementJson {
                name: &e.name,
                kind: e.into(),
                from: e.from,
                to: e.to,
                place: PlaceJson::of(file, e.span),
            })
            .collect(),
        couplings: live
            .couplings
            .iter()
            .map(|c| CouplingJson {
                between: [c.between.0, c.between.1],
                start_to_start: c.k,
                place: PlaceJson::of(file, c.span),
            })
            .collect(),
        short_forms: harness
            .short_forms
            .iter()
            .map(|s| ShortFormJson {
                wires: s.wires.iter().map(|(a, b)| [harness.lug_name(*a), harness.lug_name(*b)]).collect(),
                chosen: &s.chosen,
                place: PlaceJson::of(file, s.span),
            })
            .collect(),
    };
    write(sink, &document, true)
}
