//! The figures of one position: what the numbers mean.
//!
//! Everything is in SI units; levels are in decibels re 1 V, where 1 V is the open voltage of 5,000 turns at strength 1 (for hum: at
//! loop-area factor 1). A figure without a value says why. *Re reference* means: minus the same figure of the reference position at its
//! own rest knobs and at the same outlet.

use crate::harness::PartId;

pub mod words;

mod coils;
mod groups;
mod hum;
mod impedance;
mod level;
mod meter;
mod noise;
mod outlet;
mod panel;
mod pool;
mod profile;
mod relation;
mod resonance;
mod root;
mod sampler;
mod spectrum;
mod sweep;
mod track;
mod weighting;

pub(crate) use coils::{Frames, Lifted, connections, lift_each, takes_part};
pub(crate) use groups::silent;
pub(crate) use hum::CANCELS;
pub(crate) use meter::{Ohmmeter, meter, meter_of, ohmmeters, tip_to_sleeve};
pub(crate) use outlet::{Setup, Standing};
pub(crate) use relation::relate;
pub(crate) use sweep::{Frame, Many, Sweep, Wiring, driven};
pub(crate) use track::{Lost, Trace, Track};

/// Why a figure has no value.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Why {
    /// Nothing sounds at any frequency that it uses.
    Silent,
    /// No path.
    Open,
    /// There is none (no peak, no corner).
    None,
    /// A meter can't read it.
    NotReadable,
    /// The reference is silent there.
    ReferenceSilent,
}

/// A number, or why there is none.
pub type Figure = Result<f64, Why>;

/// All figures of one position.
#[derive(Debug, Clone, PartialEq)]
pub struct PositionFigures {
    /// The key of the position.
    pub key: String,
    /// Its name, if the file gives one.
    pub name: Option<String>,
    /// In order of `Harness::outlets`.
    pub outlets: Vec<OutletFigures>,
    /// Tip–sleeve; with two outlets also ring–sleeve and tip–ring.
    pub meter: Vec<MeterReading>,
}

/// What is heard, and measured with instruments, at one outlet.
#[derive(Debug, Clone, PartialEq)]
pub struct OutletFigures {
    /// |H(100 Hz)|, dB re 1 V.
    pub plateau: Figure,
    /// Slope of |H| at 100 Hz, dB per octave.
    pub slope: Figure,
    /// The slope there exceeds 0.5 dB per octave: `height` and `corner` carry the flag.
    pub sloped: bool,
    /// All resonances, by rising frequency.
    pub resonances: Vec<Resonance>,
    /// *The* resonance, as an index into `resonances`; None says why.
    pub resonance: Result<usize, Why>,
    /// |H| at the resonance over the plateau, dB.
    pub height: Figure,
    /// |H| at the resonance over the reference's plateau, dB.
    pub height_re: Figure,
    /// Lowest frequency in (100 Hz, 20 kHz] where |H| falls through plateau/√2, Hz.
    pub corner: Figure,
    /// Highest such frequency, Hz.
    pub last_corner: Figure,
    /// Mean of |H|² over ln f, 80 Hz–6 kHz, dB re 1 V.
    pub level: Level,
    /// The same weighted by 1/f: harmonics of amplitude 1/n, dB re 1 V.
    pub string_level: Level,
    /// Mean of |H|² over ln f at 2–6 kHz over the same at 80–800 Hz, dB.
    pub brightness: Level,
    /// Several sensing groups sound: `Level::shown` is the one as powers.
    pub several_sound: bool,
    /// No string is sensed by all coils that contribute: figures other than those as powers belong to no string.
    pub no_string_drives: bool,
    /// Magnetic hum.
    pub hum: Hum,
    /// (string level as shown − hum) minus the same of the reference, dB.
    pub signal_over_hum: SignalOverHum,
    /// |Z| at the jack, nothing plugged in.
    pub impedance: OutputImpedance,
    /// What a bench meter in series mode shows at the jack.
    pub lcr: Lcr,
    /// Thermal noise at the amp input.
    pub noise: ThermalNoise,
    /// One for each of `Network::sections`.
    pub coils: Vec<CoilInPlay>,
    /// Index in `coils` of the one that drives most at 100 Hz.
    pub main_coil: Option<usize>,
    /// Values of coils that sound, of cable or of amp are not stated in the file.
    pub assumed: bool,
    /// A coil that sounds has neither winding capacitance nor core loss: the peak is optimistic.
    pub optimistic_peak: bool,
}

impl OutletFigures {
    /// *The* resonance.
    ///
    /// # Errors
    /// Why there is none.
    pub fn the_resonance(&self) -> Result<&Resonance, Why> {
        self.resonance.map(|i| &self.resonances[i])
    }

    /// Frequency of the resonance, Hz.
    pub fn resonance_frequency(&self) -> Figure {
        self.the_resonance().map(|r| r.frequency)
    }

    /// Q of the resonance; none when it is broad.
    pub fn q(&self) -> Figure {
        self.the_resonance().and_then(|r| r.q)
    }
}

/// A maximum of |H| in (20 Hz, 20 kHz) that stands out by at least 0.1 dB.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Resonance {
    /// Hz.
    pub frequency: f64,
    /// |H| there, dB re 1 V.
    pub magnitude: f64,
    /// |H| there over the plateau, dB.
    pub height: Figure,
    /// f0/(f+ − f−) at |H(f0)|/√2; none when one of them is out of band or behind a higher peak.
    pub q: Figure,
    /// Over the higher of the two lowest points towards higher ground or the band edge, dB; none when both are exact nulls.
    pub prominence: Figure,
    /// It has no Q.
    pub broad: bool,
}

/// A level in its two forms.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Level {
    /// All coils added as voltages, dB.
    pub coherent: Figure,
    /// Pickups added as powers, string by string, dB.
    pub powers: Figure,
    /// The one that the table shows: as powers where several sensing groups sound.
    pub shown: Figure,
    /// `coherent` re reference, dB.
    pub coherent_re: Figure,
    /// `powers` re reference, dB.
    pub powers_re: Figure,
    /// `shown` re the reference's `shown`, dB.
    pub shown_re: Figure,
}

/// Magnetic hum: uniform field, all hum EMFs on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hum {
    /// At the mains fundamental, dB re 1 V.
    pub fundamental: Figure,
    /// The same re reference, dB.
    pub fundamental_re: Figure,
    /// Power sum over the harmonics up to 1 kHz, dB re 1 V.
    pub buzz: Figure,
    /// The same re reference, dB.
    pub buzz_re: Figure,
    /// |Σh|/Σ|h|, the worse of the mains fundamental and 1 kHz, dB; silent for an exact null, or if there is no hum at all.
    pub cancelling: Figure,
    /// In a word; None if there is no hum at all.
    pub verdict: Option<Cancelling>,
}

/// How well the coils cancel hum.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Cancelling {
    /// By 20 dB or more.
    Cancels,
    /// By 6 to 20 dB.
    Partly,
    /// By less.
    No,
}

/// Signal over hum.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SignalOverHum {
    /// dB re reference; the plain difference if `plain`.
    pub value: Figure,
    /// The reference is silent, in signal or in hum: `value` is the plain difference.
    pub plain: bool,
    /// It sounds, and there is no hum: `value` is `Err(Silent)`.
    pub no_hum: bool,
}

/// Output impedance at the jack.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OutputImpedance {
    /// |Z| at 100 Hz, Ω.
    pub at_100: Figure,
    /// |Z| at 1 kHz, Ω.
    pub at_1k: Figure,
    /// Largest |Z| over 20 Hz–20 kHz, ends included, Ω.
    pub max: Figure,
    /// Where that is, Hz.
    pub max_at: Figure,
    /// It is at 20 Hz or 20 kHz.
    pub at_band_edge: bool,
}

/// Series inductance as read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lcr {
    /// Im Z/2πf at 120 Hz, H; may be negative.
    pub at_120: Figure,
    /// Im Z/2πf at 1 kHz, H; may be negative.
    pub at_1k: Figure,
    /// The reading at 120 Hz is negative.
    pub capacitive_at_120: bool,
    /// The reading at 1 kHz is negative.
    pub capacitive_at_1k: bool,
}

/// Thermal noise at 293.15 K; exactly 0 at an input that is at ground.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ThermalNoise {
    /// At 1 kHz, V/√Hz.
    pub density_1k: Figure,
    /// 20 Hz–20 kHz, V.
    pub flat: Figure,
    /// 20 Hz–20 kHz, A-weighted, V.
    pub a_weighted: Figure,
}

/// One coil, or one section of a tapped coil, in one position.
#[derive(Debug, Clone, PartialEq)]
pub struct CoilInPlay {
    /// As in `Section::name`.
    pub name: String,
    /// Its pickup.
    pub pickup: PartId,
    /// How it is connected.
    pub connection: Connection,
    /// Its share is over a thousandth of the largest at 100 Hz.
    pub contributes: bool,
    /// Its share at 100 Hz.
    pub share_100: Share,
    /// Its share at 1 kHz, of the coil that is largest at 100 Hz.
    pub share_1k: Share,
    /// Coils (indices) whose lifted lead silences this one.
    pub in_series_with: Vec<usize>,
    /// Coils (indices) that contribute too and are not in series with it.
    pub parallel_with: Vec<usize>,
    /// It works against the main coil at 100 Hz.
    pub out_of_phase: bool,
    /// Its winding capacitance, core loss or turns are not stated in the file.
    pub assumed: bool,
}

/// |c|/|c| of the main coil, with its sign.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Share {
    /// dB; silent if it gives nothing.
    pub db: Figure,
    /// Works against the main coil.
    pub negative: bool,
}

/// How a coil is connected, strays left out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Connection {
    /// At most 1 Ω between its ends.
    Shorted,
    /// Joined to neither hot nor ground, or by neither of its ends.
    Open,
    /// One end on hot, the other nowhere.
    HangingFromHot,
    /// One end on ground, the other nowhere.
    HangingFromGround,
    /// Resistances alone put so many ohms (1 Ω–20 kΩ) across it.
    BledThrough(f64),
    /// None of these.
    InCircuit,
}

/// DC resistance between two lugs of the jack.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeterReading {
    /// Where the leads of the meter are.
    pub across: Across,
    /// Knobs as given: at rest unless said.
    pub at_rest: Reading,
    /// The same with the pots of role `volume` at 0.
    pub volumes_at_zero: Reading,
}

/// One reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// Ω.
    pub ohms: Figure,
    /// Some coil's resistance moves it by more than a millionth.
    pub coil_readable: bool,
}

/// Two lugs of the jack.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Across {
    /// Tip and sleeve.
    TipSleeve,
    /// Ring and sleeve.
    RingSleeve,
    /// Tip and ring.
    TipRing,
}

impl Across {
    /// As it is said at the bench.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Across::TipSleeve => "tip to sleeve",
            Across::RingSleeve => "ring to sleeve",
            Across::TipRing => "tip to ring",
        }
    }
}
