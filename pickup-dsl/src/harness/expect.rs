//! What a file expects of its positions, and of how many builds.

use super::{Choice, LugId, PartId, Place, Subject};
use crate::source::Span;

/// One `expect`: something that is to hold in some positions.
#[derive(Debug, Clone, PartialEq)]
pub struct Expectation {
    /// What is to hold.
    pub claim: Claim,
    /// In any of these; empty: in every position.
    pub places: Vec<Place>,
    /// Knobs away from rest.
    pub knobs: Vec<(PartId, f64)>,
    /// Only at this lug of the jack; None: at every outlet.
    pub hot: Option<LugId>,
    /// Of which builds.
    pub builds: Builds,
    /// Why it matters, in the file's words.
    pub because: Option<String>,
    /// The claim as written.
    pub text: String,
    /// Where the claim stands.
    pub span: Span,
}

/// Which guitars built from the file an expectation is about.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Builds {
    /// That with the values of the file.
    Nominal,
    /// At least this share of those whose parts are off within their tolerances, above 0 and below 1.
    Share(f64),
    /// Every one: at the worst combination of parts within their tolerances.
    Every,
}

/// What is to hold.
#[derive(Debug, Clone, PartialEq)]
pub enum Claim {
    /// A figure lies within limits.
    Figure {
        /// Which.
        quantity: Quantity,
        /// Within which.
        limits: Limits,
        /// Against what.
        base: Base,
        /// Limits are of figure / base, not of figure − base.
        ratio: bool,
    },
    /// A figure has no value: no resonance, an open meter.
    Without(Quantity),
    /// Something sounds.
    Sound,
    /// Nothing sounds.
    Silence,
    /// Hum cancels by 20 dB or more, or there is none.
    HumCancels,
    /// Just these coils contribute.
    Coils {
        /// A pickup is all of its coils.
        of: Vec<Subject>,
        /// How they are linked.
        linked: Option<Linked>,
        /// Whether all drive the same way.
        in_phase: Option<bool>,
    },
    /// The size of the step in string level, dB, from one throw of a switch to the next.
    Step {
        /// Of this switch; None: of every one.
        of: Option<PartId>,
        /// Of the size.
        limits: Limits,
    },
    /// The response lies within limits at each frequency of a band.
    Response {
        /// dB, of the response over what it is held against.
        limits: Limits,
        /// What it is held against.
        against: Held,
        /// Ends of the band, Hz.
        band: (f64, f64),
    },
}

impl Claim {
    /// What is found of it is said in words: which coils sound, and how.
    #[must_use]
    pub fn is_of_words(&self) -> bool {
        matches!(self, Claim::Coils { .. } | Claim::Sound | Claim::Silence)
    }
}

/// How coils are linked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Linked {
    /// Each with each other in series.
    Series,
    /// None in series with another.
    Parallel,
}

/// Limits; one may be open. Both belong to the range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// Lower.
    pub low: Option<f64>,
    /// Upper.
    pub high: Option<f64>,
}

/// What a figure is held against.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Base {
    /// Nothing: the figure itself.
    Nothing,
    /// The reference's figure, at its own rest knobs.
    Reference,
    /// That of a position, knobs at rest.
    Position(Choice),
    /// That of the position itself, knobs at rest.
    Itself,
}

/// What a response is held against.
#[derive(Debug, Clone, PartialEq)]
pub enum Held {
    /// The response of another state, at each frequency; against [`Base::Nothing`] the reference's at 100 Hz.
    Response(Base),
    /// A curve of the file: (Hz, dB over the reference at 100 Hz), rising.
    Curve(Vec<(f64, f64)>),
}

/// What a quantity is measured in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Measure {
    /// dB.
    Decibels,
    /// Hz.
    Hertz,
    /// Ω.
    Ohms,
    /// H.
    Henries,
    /// V.
    Volts,
    /// A plain number.
    Ratio,
}

macro_rules! quantities {
    ($($(#[$doc:meta])* $name:ident = $word:literal, $measure:ident;)*) => {
        /// A figure that can be held to limits.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Quantity { $($(#[$doc])* $name,)* }
        impl Quantity {
            /// All, in order of the report.
            pub const ALL: &[Quantity] = &[$(Quantity::$name,)*];
            /// Its word in the language.
            #[must_use]
            pub fn word(self) -> &'static str { match self { $(Quantity::$name => $word,)* } }
            /// What it is measured in.
            #[must_use]
            pub fn measure(self) -> Measure { match self { $(Quantity::$name => Measure::$measure,)* } }
        }
    };
}

quantities! {
    /// Frequency of the resonance.
    Resonance = "resonance", Hertz;
    /// Of the resonance over the response at 100 Hz.
    Height = "height", Decibels;
    /// Q of the resonance.
    Sharpness = "sharpness", Ratio;
    /// Where the response is first 3 dB below that at 100 Hz.
    Corner = "corner", Hertz;
    /// Where it last is.
    LastCorner = "last-corner", Hertz;
    /// Response at 100 Hz, re 1 V.
    Plateau = "plateau", Decibels;
    /// Loudness, 80 Hz to 6 kHz.
    Level = "level", Decibels;
    /// The same for picked strings.
    StringLevel = "string-level", Decibels;
    /// 2 to 6 kHz against 80 to 800 Hz.
    Brightness = "brightness", Decibels;
    /// Magnetic hum at the mains fundamental.
    Hum = "hum", Decibels;
    /// The same with its harmonics up to 1 kHz.
    Buzz = "buzz", Decibels;
    /// The coils' hum together against what each has, negative where it cancels.
    HumCancelling = "hum-cancelling", Decibels;
    /// String level over hum.
    SignalOverHum = "signal-over-hum", Decibels;
    /// DC resistance at the jack.
    Meter = "meter", Ohms;
    /// The same with volumes at 0.
    MeterVolumesDown = "meter-volumes-down", Ohms;
    /// Output impedance at 1 kHz.
    Impedance = "impedance", Ohms;
    /// Its largest size.
    ImpedancePeak = "impedance-peak", Ohms;
    /// As a bench meter reads it in series mode at 1 kHz.
    Inductance = "inductance", Henries;
    /// Thermal, A-weighted.
    Noise = "noise", Volts;
    /// Thermal, 20 Hz to 20 kHz.
    NoiseFlat = "noise-flat", Volts;
}

impl Quantity {
    /// The quantity of that word.
    #[must_use]
    pub fn of_word(word: &str) -> Option<Quantity> {
        Quantity::ALL.iter().copied().find(|q| q.word() == word)
    }

    /// It is read by a meter at the jack, not heard behind it.
    #[must_use]
    pub fn is_metered(self) -> bool {
        matches!(self, Quantity::Meter | Quantity::MeterVolumesDown)
    }

    /// The report shows it against the reference: so does an expectation that says nothing else.
    #[must_use]
    pub fn is_relative(self) -> bool {
        matches!(self, Quantity::Level | Quantity::StringLevel | Quantity::Hum | Quantity::Buzz)
    }
}

impl Limits {
    /// Whether the value lies within.
    #[must_use]
    pub fn hold(&self, value: f64) -> bool {
        self.margin(value) >= 0.0
    }

    /// Distance to the nearer limit, negative outside.
    #[must_use]
    pub fn margin(&self, value: f64) -> f64 {
        let low = self.low.map_or(f64::INFINITY, |low| value - low);
        let high = self.high.map_or(f64::INFINITY, |high| high - value);
        low.min(high)
    }
}
