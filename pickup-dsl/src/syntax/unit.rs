//! What stands after the digits: multiplier letters and unit symbols, and what each place makes of them.

use crate::syntax::literal::Fit;
use crate::syntax::region;
use crate::syntax::tree::Dimension;

/// Multiplier letters and their power of ten. IEC 60062 uses the same letters in place of the decimal point.
/// `k` and `K` are both kilo, `m` is always milli, `M` always mega.
const MULTIPLIERS: &[(char, i32)] = &[
    ('G', 9),
    ('M', 6),
    ('k', 3),
    ('K', 3),
    ('m', -3),
    ('u', -6),
    ('\u{b5}', -6),
    ('\u{3bc}', -6),
    ('n', -9),
    ('p', -12),
    ('f', -15),
];

/// How one dimension is written.
struct Writing {
    /// Unit symbols, longest first.
    units: &'static [&'static str],
    /// Multipliers that may stand before the unit.
    with_unit: &'static str,
    /// Multipliers that may stand alone.
    alone: &'static str,
    /// Whether digits alone are enough.
    bare: bool,
    /// What the place wants, for messages.
    wanted: &'static str,
    /// How to write one, for messages.
    example: &'static str,
}

const OHM: &[&str] = &["ohms", "Ohms", "OHMS", "ohm", "Ohm", "OHM", "\u{3a9}", "\u{2126}", "R"];

impl Dimension {
    fn writing(self) -> Writing {
        let (units, with_unit, alone, bare, wanted, example): (&'static [&'static str], _, _, _, _, _) =
            match self {
                Dimension::Ohms => (OHM, "mkKMG", "mkKMG", true, "a resistance", "4k7"),
                Dimension::Farads => {
                    (&["F", "f"], "munp\u{b5}\u{3bc}", "munp\u{b5}\u{3bc}", false, "a capacitance", "22nF")
                }
                Dimension::Henries => {
                    (&["H", "h"], "mun\u{b5}\u{3bc}", "mu\u{b5}\u{3bc}", false, "an inductance", "2.2H")
                }
                Dimension::Hertz => (&["Hz", "hz", "HZ"], "mkKM", "kK", false, "a frequency", "60Hz"),
                Dimension::Metres => (&["cm", "mm", "m"], "k", "", false, "a length", "30cm"),
                Dimension::Volts => (&["V", "v"], "kKmun\u{b5}\u{3bc}", "", false, "a voltage", "1V"),
                Dimension::VoltDensity => {
                    (&["V/\u{221a}Hz", "V", "v"], "munp\u{b5}\u{3bc}", "", false, "a voltage density", "5nV")
                }
                Dimension::AmpereDensity => (
                    &["A/\u{221a}Hz", "A", "a"],
                    "munpf\u{b5}\u{3bc}",
                    "",
                    false,
                    "a current density",
                    "0.5pA",
                ),
                Dimension::FaradsPerMetre => {
                    (&["F/m", "f/m"], "unp\u{b5}\u{3bc}", "", false, "a capacitance per metre", "100pF/m")
                }
                Dimension::OhmsPerHenry => (
                    &[
                        "ohms/H",
                        "ohm/H",
                        "\u{3a9}/H",
                        "\u{2126}/H",
                        "ohms/h",
                        "ohm/h",
                        "\u{3a9}/h",
                        "\u{2126}/h",
                        "/H",
                        "/h",
                    ],
                    "kKM",
                    "",
                    false,
                    "a resistance per henry",
                    "300k/H",
                ),
                Dimension::Share => (&["%"], "", "", true, "a share", "60%"),
                Dimension::Count => (&[], "", "", true, "a plain number", "42"),
                Dimension::Knob => (&[], "", "", true, "a knob's setting from 0 to 10", "10"),
                Dimension::Gain => (&["dB", "db", "DB"], "", "", true, "a ratio or decibels", "6dB"),
                Dimension::Decibels => (&["dB", "db", "DB"], "", "", false, "a value in decibels", "6dB"),
                Dimension::Celsius => (&["degC", "\u{b0}C"], "", "", false, "a temperature", "28degC"),
                Dimension::Wire => (&["AWG", "mm"], "", "", true, "a wire gauge or diameter", "42 AWG"),
            };
        Writing { units, with_unit, alone, bare, wanted, example }
    }

    /// What the place wants, with its article: `a resistance`.
    #[must_use]
    pub fn wanted(self) -> &'static str {
        self.writing().wanted
    }

    /// One value as it is written: `4k7`.
    #[must_use]
    pub fn example(self) -> &'static str {
        self.writing().example
    }
}

/// What a suffix means in a place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Reading {
    /// The power of ten; the second says whether the unit itself is written.
    Scale(i32, bool),
    /// Decibels (20 lg).
    Decibels,
    /// A wire gauge; the flag says whether the unit itself is written.
    Gauge(bool),
    /// Nothing is written and the place needs a unit.
    Bare,
    /// It is another's.
    No,
}

impl Reading {
    pub(crate) fn fit(self) -> Fit {
        match self {
            Reading::Scale(_, true) | Reading::Gauge(true) | Reading::Decibels => Fit::Certain,
            Reading::Scale(_, false) | Reading::Gauge(false) | Reading::Bare => Fit::Possible,
            Reading::No => Fit::No,
        }
    }
}

/// Reads a suffix where `want` is wanted.
pub(crate) fn read_suffix(suffix: &str, want: Dimension) -> Reading {
    let writing = want.writing();
    if want == Dimension::Wire && matches!(suffix, "" | "AWG") {
        return Reading::Gauge(!suffix.is_empty());
    }
    if suffix.is_empty() {
        return if writing.bare { Reading::Scale(0, false) } else { Reading::Bare };
    }
    for unit in writing.units {
        let Some(prefix) = suffix.strip_suffix(unit) else { continue };
        if *unit == "R" && !prefix.is_empty() {
            continue;
        }
        let own = match *unit {
            "%" | "cm" => -2,
            "mm" => -3,
            _ => 0,
        };
        if own != 0 && !prefix.is_empty() {
            continue;
        }
        if let Some(exponent) = multiplier(prefix, writing.with_unit) {
            return if want == Dimension::Gain {
                Reading::Decibels
            } else {
                Reading::Scale(exponent + own, true)
            };
        }
    }
    match multiplier(suffix, writing.alone) {
        Some(exponent) => Reading::Scale(exponent, false),
        None => Reading::No,
    }
}

fn multiplier(prefix: &str, allowed: &str) -> Option<i32> {
    let mut chars = prefix.chars();
    let (Some(letter), None) = (chars.next(), chars.next()) else { return prefix.is_empty().then_some(0) };
    if !allowed.contains(letter) {
        return None;
    }
    MULTIPLIERS.iter().find(|(l, _)| *l == letter).map(|(_, exponent)| *exponent)
}

/// All dimensions, in the order in which a unit's meaning is looked up.
const ALL: &[Dimension] = &[
    Dimension::Ohms,
    Dimension::Farads,
    Dimension::Henries,
    Dimension::Hertz,
    Dimension::Metres,
    Dimension::Volts,
    Dimension::VoltDensity,
    Dimension::AmpereDensity,
    Dimension::FaradsPerMetre,
    Dimension::OhmsPerHenry,
    Dimension::Share,
    Dimension::Gain,
    Dimension::Celsius,
    Dimension::Wire,
];

/// What a suffix most plainly is: the dimension whose unit is written, else the one that takes the multiplier alone.
pub(crate) fn plain_meaning(suffix: &str) -> Option<Dimension> {
    let fits = |wanted: Fit| {
        ALL.iter().copied().find(|d| !suffix.is_empty() && read_suffix(suffix, *d).fit() == wanted)
    };
    fits(Fit::Certain).or_else(|| fits(Fit::Possible))
}

/// Only a multiplier, no unit: `k`, `n`, `µ`.
pub(crate) fn is_multiplier(suffix: &str) -> bool {
    let mut chars = suffix.chars();
    matches!((chars.next(), chars.next()), (Some(c), None) if MULTIPLIERS.iter().any(|(l, _)| *l == c))
}

/// A letter that IEC 60062 puts in place of the decimal point of a resistance or capacitance (`R` is ohms).
pub(crate) fn is_infix(letter: char) -> bool {
    letter == 'R' || MULTIPLIERS.iter().any(|(l, _)| *l == letter && *l != 'f')
}

/// A unit of two or more letters (or `Ω`) that may stand apart from its number: no part would be named so.
pub(crate) fn is_apart_unit(word: &str) -> bool {
    if corrected(word).is_some_and(|(_, old)| old) || region::is_apart(word) {
        return true;
    }
    let symbol = matches!(word, "\u{3a9}" | "\u{2126}");
    let long = word.chars().count() > 1;
    (symbol || long) && plain_meaning(word).is_some_and(|d| read_suffix(word, d).fit() == Fit::Certain)
}

/// A single letter that is a unit or multiplier after bare digits outside brackets.
pub(crate) fn is_apart_letter(word: &str) -> bool {
    matches!(word, "H" | "V" | "m" | "k" | "n" | "p" | "u" | "\u{b5}" | "\u{3bc}")
}

/// A unit that a stroke may follow: `pF/m`, `k/H`.
pub(crate) fn may_have_stroke(word: &str) -> bool {
    is_multiplier(word)
        || [Dimension::Ohms, Dimension::Farads, Dimension::Volts, Dimension::AmpereDensity]
            .into_iter()
            .any(|d| read_suffix(word, d).fit() == Fit::Certain)
}

/// The length of `/m`, `/ft`, `/H` or `/√Hz` after a unit, if that is what stands there.
pub(crate) fn divisor_length(rest: &str) -> Option<usize> {
    let divisor = ["/\u{221a}Hz", "/ft", "/m", "/H", "/h"].into_iter().find(|d| rest.starts_with(d))?;
    let goes_on = rest[divisor.len()..].starts_with(|c: char| c.is_alphanumeric() || matches!(c, '_' | '-'));
    (!goes_on).then_some(divisor.len())
}

/// A suffix as it should be written, where the meaning is plain; true for the old marks of capacitors.
pub(crate) fn corrected(suffix: &str) -> Option<(String, bool)> {
    match suffix {
        "mfd" | "MFD" | "Mfd" | "mFd" | "ufd" | "uFd" | "UFD" | "\u{b5}fd" | "MF" => {
            Some(("uF".into(), true))
        }
        "mmfd" | "MMFD" | "mmF" | "MMF" | "uuF" | "uuf" | "UUF" | "pfd" | "PFD" | "mmf" => {
            Some(("pF".into(), true))
        }
        "C" | "c" | "celsius" | "Celsius" => Some(("degC".into(), false)),
        "meg" | "Meg" | "MEG" | "megohm" | "megohms" => Some(("MΩ".into(), true)),
        _ => {
            let lower = suffix.to_lowercase();
            let mut tries = vec![lower.clone()];
            if let Some(unit) = lower.chars().last() {
                tries.push(format!("{}{}", &lower[..lower.len() - unit.len_utf8()], unit.to_uppercase()));
            }
            let found = tries.into_iter().rev().find(|s| s != suffix && plain_meaning(s).is_some());
            found.map(|s| (s, false))
        }
    }
}

/// Tolerance letters of IEC 60062 and their shares up and down (F and K seen in transcriptions of the standard, the others and
/// the capacitors' Z from memory).
pub(crate) fn tolerance_letter(letter: &str) -> Option<(f64, f64)> {
    Some(match letter {
        "B" => (0.001, 0.001),
        "C" => (0.0025, 0.0025),
        "D" => (0.005, 0.005),
        "F" => (0.01, 0.01),
        "G" => (0.02, 0.02),
        "J" => (0.05, 0.05),
        "K" => (0.10, 0.10),
        "M" => (0.20, 0.20),
        "Z" => (0.80, 0.20),
        _ => return None,
    })
}

/// Whether a value with this suffix may carry a tolerance letter: resistances, capacitances and inductances do.
pub(crate) fn takes_tolerance(suffix: &str) -> bool {
    matches!(plain_meaning(suffix), Some(Dimension::Ohms | Dimension::Farads | Dimension::Henries))
        && suffix != "m"
}

/// `Ω` or the word for it.
pub(crate) fn is_ohms(word: &str) -> bool {
    word != "R" && OHM.contains(&word)
}
