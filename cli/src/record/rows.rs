//! The figures of a record: their names in the trade's words, units, and how much of a change is none.

use pickup_dsl::figures::{Figure, OutletFigures};

/// What sort of number a figure is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    /// A level.
    Decibels,
    /// A frequency.
    Hertz,
    /// A resistance or an impedance.
    Ohms,
    /// An inductance; may be negative.
    Henries,
    /// A density of noise.
    VoltsPerRootHertz,
    /// Noise in a band.
    Volts,
    /// A number.
    Plain,
}

/// What the curves are.
pub(super) const CURVE: Kind = Kind::Decibels;

impl Kind {
    /// As it is written; the same for every value.
    pub(crate) fn unit(self) -> &'static str {
        match self {
            Kind::Decibels => "dB",
            Kind::Hertz => "Hz",
            Kind::Ohms => "Ω",
            Kind::Henries => "H",
            Kind::VoltsPerRootHertz => "V/√Hz",
            Kind::Volts => "V",
            Kind::Plain => "",
        }
    }

    /// The kind of a written unit.
    pub(super) fn of(unit: &str) -> Option<Kind> {
        let all = [
            Kind::Decibels,
            Kind::Hertz,
            Kind::Ohms,
            Kind::Henries,
            Kind::VoltsPerRootHertz,
            Kind::Volts,
            Kind::Plain,
        ];
        all.into_iter().find(|kind| kind.unit() == unit)
    }

    /// Whether two values are one, but for what no ear and no meter tells: 0.05 dB, half a percent of the rest (our choice).
    pub(super) fn is_same(self, a: f64, b: f64, loosened: f64) -> bool {
        let apart = (a - b).abs();
        match self {
            Kind::Decibels => apart <= 0.05 * loosened,
            _ => apart <= 0.005 * loosened * a.abs().max(b.abs()),
        }
    }
}

/// A figure of an outlet.
pub(super) struct Row {
    pub(super) name: &'static str,
    pub(super) kind: Kind,
    pub(super) of: fn(&OutletFigures) -> Figure,
}

const fn row(name: &'static str, kind: Kind, of: fn(&OutletFigures) -> Figure) -> Row {
    Row { name, kind, of }
}

/// All of them.
pub(super) const AT_OUTLETS: &[Row] = &[
    row("plateau", Kind::Decibels, |o| o.plateau),
    row("resonance", Kind::Hertz, OutletFigures::resonance_frequency),
    row("resonance, height", Kind::Decibels, |o| o.height),
    row("resonance, sharpness", Kind::Plain, OutletFigures::q),
    row("corner", Kind::Hertz, |o| o.corner),
    row("corner, the last", Kind::Hertz, |o| o.last_corner),
    row("level", Kind::Decibels, |o| o.level.shown),
    row("level over the reference", Kind::Decibels, |o| o.level.shown_re),
    row("string level", Kind::Decibels, |o| o.string_level.shown),
    row("string level over the reference", Kind::Decibels, |o| o.string_level.shown_re),
    row("brightness", Kind::Decibels, |o| o.brightness.shown),
    row("hum", Kind::Decibels, |o| o.hum.fundamental),
    row("hum, buzz", Kind::Decibels, |o| o.hum.buzz),
    row("hum, what is left of it", Kind::Decibels, |o| o.hum.cancelling),
    row("signal over hum", Kind::Decibels, |o| o.signal_over_hum.value),
    row("output impedance at 100 Hz", Kind::Ohms, |o| o.impedance.at_100),
    row("output impedance at 1 kHz", Kind::Ohms, |o| o.impedance.at_1k),
    row("output impedance at most", Kind::Ohms, |o| o.impedance.max),
    row("output impedance at most, where", Kind::Hertz, |o| o.impedance.max_at),
    row("inductance at 120 Hz", Kind::Henries, |o| o.lcr.at_120),
    row("inductance at 1 kHz", Kind::Henries, |o| o.lcr.at_1k),
    row("noise at 1 kHz", Kind::VoltsPerRootHertz, |o| o.noise.density_1k),
    row("noise, flat", Kind::Volts, |o| o.noise.flat),
    row("noise, A-weighted", Kind::Volts, |o| o.noise.a_weighted),
];
