//! The figures of a position as JSON: a mirror of `pickup_dsl::figures`, unit in each member's name.

use pickup_dsl::evaluate::Curves;
use pickup_dsl::figures::words::words;
use pickup_dsl::figures::{
    Across, Cancelling, CoilInPlay, Connection, Figure, Hum, Lcr, Level, OutletFigures, OutputImpedance,
    PositionFigures, Reading, Resonance, Share, SignalOverHum, ThermalNoise, Why,
};
use pickup_dsl::harness::Harness;
use pickup_dsl::positions::Position;
use serde::Serialize;

use super::curves::ResponsesJson;

/// A figure: `{"value": 4310.5}`, or `{"value": null, "why": "silent"}`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub(crate) struct Value {
    value: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    why: Option<&'static str>,
}

impl From<Figure> for Value {
    fn from(figure: Figure) -> Self {
        match figure {
            Ok(value) => Value { value: Some(value), why: None },
            Err(why) => Value {
                value: None,
                why: Some(match why {
                    Why::Silent => "silent",
                    Why::Open => "open",
                    Why::None => "none",
                    Why::NotReadable => "not readable",
                    Why::ReferenceSilent => "reference_silent",
                }),
            },
        }
    }
}

/// Two lugs of the jack.
pub(super) fn across(across: Across) -> &'static str {
    match across {
        Across::TipSleeve => "tip-sleeve",
        Across::RingSleeve => "ring-sleeve",
        Across::TipRing => "tip-ring",
    }
}

/// Whether hum cancels.
pub(super) fn cancelling(verdict: Cancelling) -> &'static str {
    match verdict {
        Cancelling::Cancels => "cancels",
        Cancelling::Partly => "partly",
        Cancelling::No => "no",
    }
}

#[derive(Serialize)]
pub(super) struct PositionJson<'a> {
    key: &'a str,
    name: Option<&'a str>,
    throws: Vec<ThrowJson<'a>>,
    meter: Vec<MeterJson>,
    outlets: Vec<OutletJson<'a>>,
}

#[derive(Serialize)]
struct ThrowJson<'a> {
    switch: &'a str,
    throw: &'a str,
}

impl<'a> PositionJson<'a> {
    pub(super) fn new(
        harness: &'a Harness,
        position: &Position,
        figures: &'a PositionFigures,
        curves: Option<&'a Curves>,
    ) -> Self {
        PositionJson {
            key: &figures.key,
            name: figures.name.as_deref(),
            throws: harness
                .switches()
                .zip(&position.throws)
                .map(|((id, switch), &throw)| ThrowJson {
                    switch: &harness.part(id).name,
                    throw: &switch.throws[throw].name,
                })
                .collect(),
            meter: figures
                .meter
                .iter()
                .map(|m| MeterJson {
                    across: across(m.across),
                    at_rest: m.at_rest.into(),
                    volumes_at_zero: m.volumes_at_zero.into(),
                })
                .collect(),
            outlets: figures
                .outlets
                .iter()
                .enumerate()
                .map(|(i, o)| {
                    let mut json = OutletJson::from(o);
                    json.lug = harness
                        .outlets
                        .get(i)
                        .map_or_else(String::new, |outlet| harness.lug_name(outlet.hot));
                    json.responses = curves
                        .and_then(|c| c.outlets.get(i))
                        .map(|c| ResponsesJson::new(c, o.coils.iter().map(|c| c.name.as_str())));
                    json
                })
                .collect(),
        }
    }
}

#[derive(Serialize)]
struct MeterJson {
    across: &'static str,
    at_rest: ReadingJson,
    volumes_at_zero: ReadingJson,
}

#[derive(Serialize)]
struct ReadingJson {
    resistance_ohm: Value,
    coil_readable: bool,
}

impl From<Reading> for ReadingJson {
    fn from(r: Reading) -> Self {
        ReadingJson { resistance_ohm: r.ohms.into(), coil_readable: r.coil_readable }
    }
}

#[derive(Serialize)]
struct OutletJson<'a> {
    lug: String,
    coils_in_play: String,
    plateau_db: Value,
    slope_db_per_octave: Value,
    sloped: bool,
    resonance_hz: Value,
    height_db: Value,
    height_re_reference_db: Value,
    sharpness_q: Value,
    resonances: Vec<ResonanceJson>,
    corner_hz: Value,
    last_corner_hz: Value,
    level: LevelJson,
    string_level: LevelJson,
    brightness: LevelJson,
    several_sound: bool,
    no_string_drives_this: bool,
    hum: HumJson,
    signal_over_hum: SignalOverHumJson,
    output_impedance: OutputImpedanceJson,
    lcr_reading: LcrJson,
    thermal_noise: ThermalNoiseJson,
    coils: Vec<CoilJson<'a>>,
    main_coil: Option<&'a str>,
    assumed: bool,
    optimistic_peak: bool,
    #[serde(skip_serializing_if = "Option::is_none")]
    responses: Option<ResponsesJson<'a>>,
}

impl<'a> From<&'a OutletFigures> for OutletJson<'a> {
    fn from(o: &'a OutletFigures) -> Self {
        OutletJson {
            lug: String::new(),
            coils_in_play: words(o),
            plateau_db: o.plateau.into(),
            slope_db_per_octave: o.slope.into(),
            sloped: o.sloped,
            resonance_hz: o.resonance_frequency().into(),
            height_db: o.height.into(),
            height_re_reference_db: o.height_re.into(),
            sharpness_q: o.q().into(),
            resonances: o.resonances.iter().map(ResonanceJson::from).collect(),
            corner_hz: o.corner.into(),
            last_corner_hz: o.last_corner.into(),
            level: o.level.into(),
            string_level: o.string_level.into(),
            brightness: o.brightness.into(),
            several_sound: o.several_sound,
            no_string_drives_this: o.no_string_drives,
            hum: o.hum.into(),
            signal_over_hum: o.signal_over_hum.into(),
            output_impedance: o.impedance.into(),
            lcr_reading: o.lcr.into(),
            thermal_noise: o.noise.into(),
            coils: o.coils.iter().map(|c| CoilJson::new(c, &o.coils)).collect(),
            main_coil: o.main_coil.map(|i| o.coils[i].name.as_str()),
            assumed: o.assumed,
            optimistic_peak: o.optimistic_peak,
            responses: None,
        }
    }
}

#[derive(Serialize)]
struct ResonanceJson {
    frequency_hz: f64,
    magnitude_db: f64,
    height_db: Value,
    sharpness_q: Value,
    prominence_db: Value,
    broad: bool,
}

impl From<&Resonance> for ResonanceJson {
    fn from(r: &Resonance) -> Self {
        ResonanceJson {
            frequency_hz: r.frequency,
            magnitude_db: r.magnitude,
            height_db: r.height.into(),
            sharpness_q: r.q.into(),
            prominence_db: r.prominence.into(),
            broad: r.broad,
        }
    }
}

#[derive(Serialize)]
struct LevelJson {
    shown_db: Value,
    shown_re_reference_db: Value,
    coherent_db: Value,
    coherent_re_reference_db: Value,
    as_powers_db: Value,
    as_powers_re_reference_db: Value,
}

impl From<Level> for LevelJson {
    fn from(l: Level) -> Self {
        LevelJson {
            shown_db: l.shown.into(),
            shown_re_reference_db: l.shown_re.into(),
            coherent_db: l.coherent.into(),
            coherent_re_reference_db: l.coherent_re.into(),
            as_powers_db: l.powers.into(),
            as_powers_re_reference_db: l.powers_re.into(),
        }
    }
}

#[derive(Serialize)]
struct HumJson {
    fundamental_db: Value,
    fundamental_re_reference_db: Value,
    buzz_db: Value,
    buzz_re_reference_db: Value,
    cancelling_db: Value,
    verdict: &'static str,
}

impl From<Hum> for HumJson {
    fn from(h: Hum) -> Self {
        HumJson {
            fundamental_db: h.fundamental.into(),
            fundamental_re_reference_db: h.fundamental_re.into(),
            buzz_db: h.buzz.into(),
            buzz_re_reference_db: h.buzz_re.into(),
            cancelling_db: h.cancelling.into(),
            verdict: h.verdict.map_or("no hum", cancelling),
        }
    }
}

#[derive(Serialize)]
struct SignalOverHumJson {
    difference_db: Value,
    against_reference: bool,
    no_hum: bool,
}

impl From<SignalOverHum> for SignalOverHumJson {
    fn from(s: SignalOverHum) -> Self {
        SignalOverHumJson { difference_db: s.value.into(), against_reference: !s.plain, no_hum: s.no_hum }
    }
}

#[derive(Serialize)]
struct OutputImpedanceJson {
    at_100_hz_ohm: Value,
    at_1_khz_ohm: Value,
    maximum_ohm: Value,
    maximum_at_hz: Value,
    maximum_at_band_edge: bool,
}

impl From<OutputImpedance> for OutputImpedanceJson {
    fn from(z: OutputImpedance) -> Self {
        OutputImpedanceJson {
            at_100_hz_ohm: z.at_100.into(),
            at_1_khz_ohm: z.at_1k.into(),
            maximum_ohm: z.max.into(),
            maximum_at_hz: z.max_at.into(),
            maximum_at_band_edge: z.at_band_edge,
        }
    }
}

#[derive(Serialize)]
struct LcrJson {
    at_120_hz_h: Value,
    at_120_hz_capacitive: bool,
    at_1_khz_h: Value,
    at_1_khz_capacitive: bool,
}

impl From<Lcr> for LcrJson {
    fn from(l: Lcr) -> Self {
        LcrJson {
            at_120_hz_h: l.at_120.into(),
            at_120_hz_capacitive: l.capacitive_at_120,
            at_1_khz_h: l.at_1k.into(),
            at_1_khz_capacitive: l.capacitive_at_1k,
        }
    }
}

#[derive(Serialize)]
struct ThermalNoiseJson {
    density_at_1_khz_v_per_sqrt_hz: Value,
    total_v: Value,
    total_a_weighted_v: Value,
}

impl From<ThermalNoise> for ThermalNoiseJson {
    fn from(n: ThermalNoise) -> Self {
        ThermalNoiseJson {
            density_at_1_khz_v_per_sqrt_hz: n.density_1k.into(),
            total_v: n.flat.into(),
            total_a_weighted_v: n.a_weighted.into(),
        }
    }
}

#[derive(Serialize)]
struct CoilJson<'a> {
    coil: &'a str,
    connection: &'static str,
    bled_through_ohm: Option<f64>,
    contributes: bool,
    share_at_100_hz: ShareJson,
    share_at_1_khz: ShareJson,
    in_series_with: Vec<&'a str>,
    parallel_with: Vec<&'a str>,
    out_of_phase: bool,
    assumed: bool,
}

impl<'a> CoilJson<'a> {
    fn new(c: &'a CoilInPlay, all: &'a [CoilInPlay]) -> Self {
        let names = |of: &[usize]| of.iter().map(|&i| all[i].name.as_str()).collect();
        let (connection, bled) = match c.connection {
            Connection::Shorted => ("shorted", None),
            Connection::Open => ("open", None),
            Connection::HangingFromHot => ("hanging from hot", None),
            Connection::HangingFromGround => ("hanging from ground", None),
            Connection::BledThrough(ohms) => ("bled through", Some(ohms)),
            Connection::InCircuit => ("in circuit", None),
        };
        CoilJson {
            coil: &c.name,
            connection,
            bled_through_ohm: bled,
            contributes: c.contributes,
            share_at_100_hz: c.share_100.into(),
            share_at_1_khz: c.share_1k.into(),
            in_series_with: names(&c.in_series_with),
            parallel_with: names(&c.parallel_with),
            out_of_phase: c.out_of_phase,
            assumed: c.assumed,
        }
    }
}

#[derive(Serialize)]
struct ShareJson {
    share_db: Value,
    negative: bool,
}

impl From<Share> for ShareJson {
    fn from(s: Share) -> Self {
        ShareJson { share_db: s.db.into(), negative: s.negative }
    }
}
