//! Parts other than pickups and switches.

use std::ops::Range;

use super::{Pickup, Switch, Valued};
use crate::source::Span;

/// One part of the guitar or of what is plugged into it.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// Its name in the file.
    pub name: String,
    /// What it is.
    pub kind: PartKind,
    /// Its lugs: a range of indices into `Harness::lugs`.
    pub lugs: Range<u32>,
    /// Where it is declared.
    pub span: Span,
}

/// What a part is. Lug names in brackets.
#[derive(Debug, Clone, PartialEq)]
pub enum PartKind {
    /// Coils that share a magnetic circuit (`coil.start`, `coil.finish`, `coil.TAP`, colours, `cover`, `plate`, `braid`; a lone coil: `start`, `finish`, `TAP`).
    Pickup(Pickup),
    /// (`1` `2` `3` `case`; with gangs `GANG.1` …, one `case`).
    Pot(Pot),
    /// (as its body says, and `frame`).
    Switch(Switch),
    /// (`1` `2`) ohms; may be 0.
    Resistor(Valued),
    /// (`1` `2`) farads, dissipation factor at 1 kHz.
    Capacitor(Valued, Option<Valued>),
    /// (`1` `2`) henries, ohms.
    Inductor(Valued, Option<Valued>),
    /// (`tip` `sleeve`, stereo `ring`; switched `tip-contact` `ring-contact`).
    Jack(Jack),
    /// (one lug) strings and bridge.
    Strings,
    /// (one lug) cavity shield.
    Shield,
    /// (one lug) a joint in the air.
    Splice,
    /// Inside wire or outside cable (`in` `out` `screen`).
    Lead(Lead),
    /// (`input`; its other side is ground through the plug: `ground`).
    Amp(Amp),
    /// (`in` `out` `ground` `supply`).
    Buffer(Buffer),
    /// (`plus` `minus` `out` `ground` `supply`).
    OpAmp(OpAmp),
    /// (`plus` `minus`).
    Piezo(Piezo),
    /// (`plus` `minus`) its inner resistance in ohms: all that it is to a signal.
    Battery(Valued),
}

/// A pot: one knob, one or more gangs.
#[derive(Debug, Clone, PartialEq)]
pub struct Pot {
    /// At least one; the only one of a plain pot has an empty name.
    pub gangs: Vec<Gang>,
    /// `volume`, `tone`, …
    pub role: Option<String>,
    /// Where figures are taken, 0–10.
    pub rest: f64,
    /// At 10 exactly, the wiper touches nothing.
    pub no_load: bool,
}

/// One resistance track with its wiper.
#[derive(Debug, Clone, PartialEq)]
pub struct Gang {
    /// Lug prefix; empty for a plain pot.
    pub name: String,
    /// Ω from end to end.
    pub track: Valued,
    /// Share of the track between 1 and 2 as the knob turns.
    pub taper: Taper,
}

/// Track share between lugs 1 and 2 at rotation r = knob/10.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Taper {
    /// r.
    Linear,
    /// Two straight segments through this share at half rotation.
    Audio(f64),
    /// 1 − audio(1 − r).
    ReverseAudio(f64),
    /// Gang of a blend.
    Blend(Blend),
}

/// Which gang of a blend.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Blend {
    /// min(1, 2r).
    First,
    /// min(1, 2(1 − r)).
    Second,
}

/// An operational amplifier: v(out − ground) = A · v(plus − minus), nothing flows into plus and minus.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OpAmp {
    /// Voltage ratio A at low frequencies.
    pub open_loop: f64,
    /// Gain-bandwidth product, Hz: A falls with one pole. None: A is the same at all frequencies.
    pub bandwidth: Option<Valued>,
    /// V/√Hz in series with plus.
    pub noise: Option<Valued>,
    /// A/√Hz from ground into each of plus and minus.
    pub current_noise: Option<Valued>,
}

/// A piezo element: EMF in series with its capacitance; a sensing group of its own, without hum.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Piezo {
    /// F.
    pub capacitance: Valued,
    /// V on the 5,000-turn scale; drives plus positive.
    pub volts: f64,
}

/// The output socket.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Jack {
    /// It has a ring.
    pub stereo: bool,
    /// It has contacts that touch tip (and ring) while no plug is in: `tip-contact`, `ring-contact`.
    pub switched: bool,
}

/// Shielded wire: series resistance first, then its capacitance to the screen at the far end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lead {
    /// F, whole.
    pub capacitance: Valued,
    /// Ω, whole.
    pub resistance: Option<Valued>,
    /// It stands after the jack.
    pub outside: bool,
}

/// An amplifier or pedal input.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Amp {
    /// Ω to ground.
    pub resistance: Valued,
    /// F to ground.
    pub capacitance: Option<Valued>,
}

/// A buffer or gain stage: v(out) = gain · v(in − ground), behind its output resistance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Buffer {
    /// Ω from in to ground lug; None: none.
    pub input: Option<Valued>,
    /// F from in to ground lug.
    pub input_capacitance: Option<Valued>,
    /// Voltage ratio.
    pub gain: f64,
    /// Ω.
    pub output: Option<Valued>,
    /// V/√Hz in series with the input.
    pub noise: Option<Valued>,
    /// A/√Hz across the input.
    pub current_noise: Option<Valued>,
}
