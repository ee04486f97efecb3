//! Figures as cells: numbers in the column's unit, or the word for why there is none; and the marks that stand beside them.

use pickup_dsl::figures::{Cancelling, Figure, Hum, MeterReading, OutletFigures, PositionFigures, Why};

use crate::table::GLUE;
use crate::unit::{fixed, in_column, signed};

/// A resonance without a Q.
const BROAD: &str = "broad";

/// The word for a missing figure.
#[must_use]
pub(crate) fn word(why: Why) -> &'static str {
    match why {
        Why::Silent => "silent",
        Why::Open => "open",
        Why::None => "—",
        Why::NotReadable => "not readable",
        Why::ReferenceSilent => "ref. silent",
    }
}

fn cell(figure: Figure, number: impl Fn(f64) -> String) -> String {
    figure.map_or_else(|why| word(why).to_owned(), number)
}

/// Hz in a kHz column.
pub(crate) fn kilohertz(f: Figure) -> String {
    cell(f, |v| in_column(v, 1e3, 3))
}

/// Ω in a kΩ column.
pub(crate) fn kilohms(f: Figure) -> String {
    cell(f, |v| in_column(v, 1e3, 3))
}

/// V in a µV column.
pub(crate) fn microvolts(f: Figure) -> String {
    cell(f, |v| in_column(v, 1e-6, 3))
}

/// Decibels with their sign.
pub(crate) fn relative(f: Figure) -> String {
    cell(f, |v| signed(v, 1))
}

/// Sharpness, `broad` where the resonance has none.
pub(crate) fn q(o: &OutletFigures) -> String {
    match (o.the_resonance(), o.q()) {
        (Ok(r), Err(_)) if r.broad => BROAD.into(),
        (_, q) => cell(q, |v| fixed(v, 1)),
    }
}

/// Hum cancelling in a word.
pub(crate) fn cancelling(o: &OutletFigures) -> String {
    match o.hum.verdict {
        Some(Cancelling::Cancels) => "cancels",
        Some(Cancelling::Partly) => "partly",
        Some(Cancelling::No) => "no",
        None => "no hum",
    }
    .into()
}

/// Coils that are alike to a per cent leave a hundredth of the hum, −40 dB (common practice, no source); some more, dB, is for the circuit.
const ALIKE: f64 = 60.0;

/// Which marks stand in the tables: the legend explains those and no others.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) struct Marks {
    /// A position without a name, and not the one at rest.
    pub(crate) unnamed: bool,
    /// `broad`
    pub(crate) broad: bool,
    /// `—`
    pub(crate) none: bool,
    /// `≈`
    pub(crate) assumed: bool,
    /// A coil has neither winding capacitance nor loss.
    pub(crate) optimistic: bool,
    /// `*`
    pub(crate) sloped: bool,
    /// `+p`
    pub(crate) powers: bool,
    /// `!`
    pub(crate) no_string: bool,
    /// `§`
    pub(crate) absolute: bool,
    /// `†`
    pub(crate) too_alike: bool,
    /// `‡`
    pub(crate) unreadable: bool,
    /// `—‡`
    pub(crate) in_the_way: bool,
    /// `edge`
    pub(crate) edge: bool,
}

impl Marks {
    /// `≈` before a position whose figures rest on values that the file leaves out: all but the meter's do, so one mark serves all.
    pub(crate) fn position(&mut self, position: &PositionFigures, o: &OutletFigures, name: &str) -> String {
        self.unnamed |= position.name.is_none() && position.key != "rest";
        if o.assumed {
            self.assumed = true;
            return format!("≈{GLUE}{name}");
        }
        name.to_owned()
    }

    /// Words of a row that the legend explains; a name may be such a word.
    pub(crate) fn words(&mut self, cells: &[String]) {
        self.broad |= cells.iter().any(|c| c == BROAD);
        self.none |= cells.iter().any(|c| c == word(Why::None));
    }

    /// `!` after a number that no string's sound has.
    pub(crate) fn peak(&mut self, o: &OutletFigures, text: String) -> String {
        if !is_number(&text) {
            return text;
        }
        self.optimistic |= o.optimistic_peak;
        if o.no_string_drives {
            self.no_string = true;
            return format!("{text}!");
        }
        text
    }

    /// `*` after a figure taken from a plateau that is none.
    pub(crate) fn sloped(&mut self, o: &OutletFigures, text: String) -> String {
        if o.sloped && is_number(&text) {
            self.sloped = true;
            return format!("{text}*");
        }
        text
    }

    /// `p` after a level with pickups added as powers.
    pub(crate) fn powers(&mut self, o: &OutletFigures, text: String) -> String {
        if o.several_sound && is_number(&text) {
            self.powers = true;
            return format!("{text} p");
        }
        text
    }

    /// Where the impedance is largest.
    pub(crate) fn edge(&mut self, o: &OutletFigures) -> String {
        if o.impedance.at_band_edge && o.impedance.max_at.is_ok() {
            self.edge = true;
            return "edge".into();
        }
        kilohertz(o.impedance.max_at)
    }

    /// Hum re reference; absolute where the reference is silent.
    pub(crate) fn hum(&mut self, hum: &Hum) -> String {
        match (hum.fundamental_re, hum.fundamental) {
            (Err(Why::ReferenceSilent), Ok(absolute)) => {
                self.absolute = true;
                format!("{}§", signed(absolute, 1))
            }
            (Err(_), Err(Why::Silent)) => "no hum".into(),
            (re, _) => self.against_hum(re),
        }
    }

    /// Hum against hum; `†` where only numbers are so far apart.
    fn against_hum(&mut self, re: Result<f64, Why>) -> String {
        let text = relative(re);
        if re.is_ok_and(|decibels| decibels.abs() > ALIKE) {
            self.too_alike = true;
            return format!("{text}†");
        }
        text
    }

    /// Signal over hum; the plain difference where the reference is silent.
    pub(crate) fn signal_over_hum(&mut self, o: &OutletFigures) -> String {
        let s = &o.signal_over_hum;
        match s.value {
            Err(_) if s.no_hum => "no hum".into(),
            Ok(v) if s.plain => {
                self.absolute = true;
                format!("{}§", signed(v, 1))
            }
            v => self.against_hum(v),
        }
    }

    /// The meter's reading for the outlet of that index; none where an `active` guitar shows no coil.
    pub(crate) fn meter(&mut self, position: &PositionFigures, index: usize, active: bool) -> String {
        let Some(MeterReading { at_rest, .. }) = position.meter.get(index) else {
            return word(Why::None).into();
        };
        if active && !at_rest.coil_readable {
            self.in_the_way = true;
            return format!("{}‡", word(Why::None));
        }
        let text = kilohms(at_rest.ohms);
        if at_rest.ohms.is_ok() && !at_rest.coil_readable {
            self.unreadable = true;
            return format!("{text}‡");
        }
        text
    }
}

fn is_number(text: &str) -> bool {
    text.bytes().any(|b| b.is_ascii_digit())
}
