//! The kinds and their properties.
//!
//! Usual ranges and defaults are trade judgement, no source, unless a line says otherwise.

use super::{ABOVE_ZERO, Key, Kind, Property, Shape};
use crate::syntax::tree::Dimension;

const NO_LUGS: &[&str] = &[];
const TWO_ENDS: &[&str] = &["1", "2"];

/// Winding capacitances, F.
const STRAY: (f64, f64) = (0.0, 1e-6);
const OHMS: (f64, f64) = (0.0, 1e12);
const SOME_OHMS: (f64, f64) = (ABOVE_ZERO, 1e12);
const INPUT_USUAL: &[(f64, f64)] = &[(5e3, 10e6)];
const INPUT_CAPACITANCE: (f64, f64) = (0.0, 1e-6);
const INPUT_CAPACITANCE_USUAL: &[(f64, f64)] = &[(1e-12, 1e-9)];

/// A coil of its own may have covers, leads and links, as a pickup may.
const COIL_PROPERTIES: &[Property] = &[
    Property::value("dcr", Dimension::Ohms, (ABOVE_ZERO, 10e6), &[(1e3, 20e3)]).positional().reading(),
    Property::value("inductance", Dimension::Henries, (ABOVE_ZERO, 1e3), &[(0.3, 10.0)])
        .positional()
        .reading(),
    Property::value("capacitance", Dimension::Farads, STRAY, &[(20e-12, 300e-12)]).positional(),
    Property::own("loss"),
    Property::value("quality", Dimension::Share, (ABOVE_ZERO, 1e3), &[(0.2, 20.0)]).reading(),
    Property::value("resonance", Dimension::Hertz, (1.0, 1e6), &[(1e3, 60e3)]).reading(),
    Property::own("construction"),
    Property::value("turns", Dimension::Count, (1.0, 1e6), &[(500.0, 20e3)]),
    // Gauges 56 to 20, usual ones 48 to 38.
    Property::value("gauge", Dimension::Wire, (0.0124e-3, 0.82e-3), &[(0.0315e-3, 0.101e-3)]).positional(),
    Property::value("turn-length", Dimension::Metres, (1e-3, 10.0), &[(0.03, 0.3)]).or(0.143),
    Property::own("wound").keyed(Key::Group("wound")),
    Property::own("swing").keyed(Key::Group("wound")),
    Property::own("pole"),
    Property::value("strength", Dimension::Share, (0.0, 1e3), &[(0.1, 10.0)])
        .or(1.0)
        .keyed(Key::Group("strength")),
    Property::flag("dummy").keyed(Key::Group("strength")),
    Property::value("hum-area", Dimension::Share, (0.0, 1e3), &[(0.1, 10.0)]).or(1.0),
    Property::shaped("tap", Shape::OwnThen(&["dcr", "inductance"])).keyed(Key::Named),
    Property::value("tap-coupling", Dimension::Share, (0.0, 1.0), &[(0.8, 1.0)]).or(0.97),
    Property::own("hears"),
];

const LINKS: &[Property] = &[
    Property::own("lead").keyed(Key::Named),
    Property::shaped("wire", Shape::OwnList).keyed(Key::Lugs),
    Property::own("bond").keyed(Key::Lugs),
    Property::shaped("jumper", Shape::OwnThen(&["cut"])).keyed(Key::Lugs),
    Property::own("cover"),
    Property::own("plate"),
];

const PICKUP_PROPERTIES: &[Property] = &[
    Property::shaped("coil", Shape::Coil).keyed(Key::Named),
    Property::own("construction"),
    Property::value("strength", Dimension::Share, (0.0, 1e3), &[(0.1, 10.0)]).or(1.0),
    Property::value("hum-area", Dimension::Share, (0.0, 1e3), &[(0.1, 10.0)]).or(1.0),
    Property::own("coupling").keyed(Key::Group("coupling")),
    Property::value("series-inductance", Dimension::Henries, (ABOVE_ZERO, 1e4), &[(0.5, 30.0)])
        .keyed(Key::Group("coupling")),
    Property::flag("stacked"),
];

const POT_PROPERTIES: &[Property] = &[
    Property::value("track", Dimension::Ohms, (ABOVE_ZERO, 1e9), &[(10e3, 100e3), (200e3, 1.2e6)])
        .positional(),
    Property::shaped("taper", Shape::Taper).positional(),
    Property::own("role"),
    Property::flag("no-load"),
    Property::value("rest", Dimension::Knob, (0.0, 10.0), &[]).or(10.0),
    Property::own("gang").keyed(Key::Named),
    Property::flag("blend").positional(),
];

const CAPACITOR_PROPERTIES: &[Property] = &[
    // Bleeds from 100 pF, tone capacitors to 220 nF, coupling capacitors of active stages to 1 µF.
    Property::value("capacitance", Dimension::Farads, (0.0, 0.999_999e-3), &[(100e-12, 1e-6)]).positional(),
    Property::value("loss", Dimension::Share, (0.0, 10.0), &[(1e-5, 0.2)]),
];

const CABLE_PROPERTIES: &[Property] = &[
    Property::value("length", Dimension::Metres, (0.0, 1e3), &[(0.3, 30.0)]).positional().or(5.0),
    Property::value("per-metre", Dimension::FaradsPerMetre, (0.0, 1e-6), &[(50e-12, 300e-12)])
        .positional()
        .or(100e-12),
    Property::value("capacitance", Dimension::Farads, (0.0, 1e-6), &[(30e-12, 5e-9)]).positional(),
    Property::value("resistance", Dimension::Ohms, (0.0, 1e6), &[(1e-3, 20.0)]),
];

const LEAD_PROPERTIES: &[Property] = &[
    Property::value("length", Dimension::Metres, (0.0, 1e3), &[(0.02, 3.0)]).positional(),
    Property::value("per-metre", Dimension::FaradsPerMetre, (0.0, 1e-6), &[(50e-12, 500e-12)]).positional(),
    Property::value("capacitance", Dimension::Farads, (0.0, 1e-6), &[(1e-12, 500e-12)]).positional(),
    Property::value("resistance", Dimension::Ohms, (0.0, 1e6), &[(1e-3, 20.0)]),
];

const AMP_PROPERTIES: &[Property] = &[
    Property::value("resistance", Dimension::Ohms, SOME_OHMS, INPUT_USUAL).positional().or(1e6),
    Property::value("capacitance", Dimension::Farads, INPUT_CAPACITANCE, INPUT_CAPACITANCE_USUAL)
        .positional(),
];

const BUFFER_PROPERTIES: &[Property] = &[
    Property::value("input", Dimension::Ohms, SOME_OHMS, INPUT_USUAL).positional(),
    Property::value("input-capacitance", Dimension::Farads, INPUT_CAPACITANCE, INPUT_CAPACITANCE_USUAL),
    Property::value("gain", Dimension::Gain, (-1e6, 1e6), &[]).or(1.0),
    Property::value("output", Dimension::Ohms, OHMS, &[(1.0, 100e3)]),
    Property::value("noise", Dimension::VoltDensity, (0.0, 1.0), &[(0.1e-9, 1e-6)]),
    Property::value("current-noise", Dimension::AmpereDensity, (0.0, 1.0), &[(1e-16, 1e-10)]),
];

const SWITCH_PROPERTIES: &[Property] = &[
    Property::own("lugs").keyed(Key::Group("lugs")),
    Property::own("poles").keyed(Key::Group("lugs")),
    Property::own("throw").keyed(Key::Named),
    Property::own("rest"),
    Property::flag("break-first").keyed(Key::Group("moves")),
    Property::flag("make-first").keyed(Key::Group("moves")),
    Property::flag("momentary"),
    Property::value("contact", Dimension::Ohms, (0.0, 1e3), &[(1e-3, 1.0)]),
];

const PIEZO_PROPERTIES: &[Property] = &[
    Property::value("capacitance", Dimension::Farads, (1e-15, 1e-6), &[(100e-12, 20e-9)]).positional(),
    Property::value("volts", Dimension::Volts, (0.0, 1e3), &[(0.01, 100.0)]).or(1.0),
];

const OP_AMP_PROPERTIES: &[Property] = &[
    Property::value("open-loop", Dimension::Gain, (1.0, 1e9), &[(1e3, 1e8)]).or(1e6),
    Property::value("bandwidth", Dimension::Hertz, (1.0, 1e12), &[(10e3, 1e9)]),
    Property::value("noise", Dimension::VoltDensity, (0.0, 1.0), &[(0.1e-9, 1e-6)]),
    Property::value("current-noise", Dimension::AmpereDensity, (0.0, 1.0), &[(1e-16, 1e-10)]),
];

const BATTERY_PROPERTIES: &[Property] = &[
    Property::value("volts", Dimension::Volts, (ABOVE_ZERO, 1e3), &[(1.0, 30.0)]).positional(),
    Property::value("resistance", Dimension::Ohms, (1e-3, 1e6), &[(0.01, 100.0)]).or(1.0),
];

/// Two property lists in one. `N` is the sum of their lengths.
const fn joined<const N: usize>(a: &[Property], b: &[Property]) -> [Property; N] {
    let mut all = [a[0]; N];
    let mut i = 0;
    while i < N {
        all[i] = if i < a.len() { a[i] } else { b[i - a.len()] };
        i += 1;
    }
    all
}

const LONE_COIL: [Property; COIL_PROPERTIES.len() + LINKS.len()] = joined(COIL_PROPERTIES, LINKS);
const WHOLE_PICKUP: [Property; PICKUP_PROPERTIES.len() + LINKS.len()] = joined(PICKUP_PROPERTIES, LINKS);

const fn kind_of(
    word: &'static str,
    noun: &'static str,
    lugs: &'static [&'static str],
    properties: &'static [Property],
) -> Kind {
    Kind { word, noun, name_optional: false, lugs, properties }
}

const fn nameless(kind: Kind) -> Kind {
    Kind { name_optional: true, ..kind }
}

/// A coil inside a pickup.
pub(crate) static COIL: Kind = kind_of("coil", "a coil", NO_LUGS, COIL_PROPERTIES);

/// All kinds of parts.
pub(crate) static KINDS: [Kind; 18] = [
    kind_of("coil", "a coil", NO_LUGS, &LONE_COIL),
    kind_of("pickup", "a pickup", NO_LUGS, &WHOLE_PICKUP),
    kind_of("pot", "a pot", NO_LUGS, POT_PROPERTIES),
    kind_of(
        "resistor",
        "a resistor",
        TWO_ENDS,
        &[Property::value("resistance", Dimension::Ohms, OHMS, &[(100.0, 10e6)]).positional()],
    ),
    kind_of("capacitor", "a capacitor", TWO_ENDS, CAPACITOR_PROPERTIES),
    kind_of(
        "inductor",
        "an inductor",
        TWO_ENDS,
        &[
            Property::value("inductance", Dimension::Henries, (0.0, 1e3), &[(1e-3, 20.0)]).positional(),
            Property::value("dcr", Dimension::Ohms, (0.0, 1e6), &[(1.0, 10e3)]).positional(),
        ],
    ),
    kind_of("lead", "a lead", &["in", "out", "screen"], LEAD_PROPERTIES),
    kind_of("splice", "a splice", &[""], &[]),
    nameless(kind_of("strings", "the strings", &[""], &[])),
    nameless(kind_of("shield", "a shield", &[""], &[])),
    kind_of("switch", "a switch", NO_LUGS, SWITCH_PROPERTIES),
    nameless(kind_of(
        "jack",
        "a jack",
        NO_LUGS,
        &[Property::flag("stereo").positional(), Property::flag("switched").positional()],
    )),
    nameless(kind_of("cable", "a cable", &["in", "out", "screen"], CABLE_PROPERTIES)),
    nameless(kind_of("amp", "an amp", &["input", "ground"], AMP_PROPERTIES)),
    kind_of("buffer", "a buffer", &["in", "out", "ground", "supply"], BUFFER_PROPERTIES),
    kind_of("opamp", "an op-amp", &["plus", "minus", "out", "ground", "supply"], OP_AMP_PROPERTIES),
    kind_of("piezo", "a piezo element", &["plus", "minus"], PIEZO_PROPERTIES),
    kind_of("battery", "a battery", &["plus", "minus"], BATTERY_PROPERTIES),
];

/// The kind of that word.
pub(crate) fn kind(word: &str) -> Option<&'static Kind> {
    KINDS.iter().find(|k| k.word == word)
}
