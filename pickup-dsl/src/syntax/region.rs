//! Units of other regions. They are not read, since one file has one set of units; the message says what to write instead.

use crate::syntax::tree::Dimension;

/// A unit of another region, and how its numbers become those of the place.
struct Foreign {
    written: &'static [&'static str],
    want: Dimension,
    /// What numbers with it are: `feet`.
    name: &'static str,
    /// The number is taken less this, times the factor.
    less: f64,
    factor: f64,
    unit: &'static str,
    /// Digits after the point that a part or a bench tells apart.
    digits: usize,
    /// Why.
    since: &'static str,
}

/// Lengths are exact by definition (international yard of 1959).
const FOREIGN: &[Foreign] = &[
    Foreign {
        written: &["ft", "feet", "foot"],
        want: Dimension::Metres,
        name: "feet",
        less: 0.0,
        factor: 0.3048,
        unit: "m",
        digits: 2,
        since: "a foot is 0.3048 m",
    },
    Foreign {
        written: &["in", "inch", "inches"],
        want: Dimension::Metres,
        name: "inches",
        less: 0.0,
        factor: 25.4,
        unit: "mm",
        digits: 2,
        since: "an inch is 25.4 mm",
    },
    Foreign {
        written: &["in", "inch", "inches"],
        want: Dimension::Wire,
        name: "inches",
        less: 0.0,
        factor: 25.4,
        unit: "mm",
        digits: 4,
        since: "an inch is 25.4 mm",
    },
    Foreign {
        written: &["mil", "mils", "thou"],
        want: Dimension::Wire,
        name: "thousandths of an inch",
        less: 0.0,
        factor: 0.0254,
        unit: "mm",
        digits: 4,
        since: "one is 0.0254 mm",
    },
    Foreign {
        written: &["pF/ft", "pf/ft"],
        want: Dimension::FaradsPerMetre,
        name: "picofarads per foot",
        less: 0.0,
        factor: 1.0 / 0.3048,
        unit: "pF/m",
        digits: 1,
        since: "a foot is 0.3048 m",
    },
    Foreign {
        written: &["degF", "\u{b0}F", "F"],
        want: Dimension::Celsius,
        name: "degrees Fahrenheit",
        less: 32.0,
        factor: 1.0 / 1.8,
        unit: "degC",
        digits: 1,
        since: "less 32, divided by 1.8",
    },
    Foreign {
        written: &["K"],
        want: Dimension::Celsius,
        name: "kelvins",
        less: 273.15,
        factor: 1.0,
        unit: "degC",
        digits: 1,
        since: "less 273.15",
    },
];

/// What a number in a unit of another region should be.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Converted {
    /// What it is in: `feet`.
    pub(crate) name: &'static str,
    /// What to write: `6.1m`.
    pub(crate) text: String,
    /// Why: `a foot is 0.3048 m`.
    pub(crate) since: &'static str,
}

/// A number whose suffix is a unit of another region, in the unit that `want` takes.
pub(crate) fn converted(decimal: &str, suffix: &str, want: Dimension) -> Option<Converted> {
    let foreign = FOREIGN.iter().find(|f| f.want == want && f.written.contains(&suffix))?;
    let number: f64 = decimal.parse().ok()?;
    let rounded = format!("{:.*}", foreign.digits, (number - foreign.less) * foreign.factor);
    let short = rounded.trim_end_matches('0').trim_end_matches('.');
    let short = if short == "-0" { "0" } else { short };
    Some(Converted { name: foreign.name, text: format!("{short}{}", foreign.unit), since: foreign.since })
}

/// A unit of another region that may stand apart from its number: no part would be named so.
pub(crate) fn is_apart(word: &str) -> bool {
    matches!(word, "ft" | "feet" | "foot" | "inch" | "inches" | "degF" | "\u{b0}F")
}

#[cfg(test)]
mod tests {
    use super::converted;
    use crate::syntax::tree::Dimension;

    #[test]
    fn numbers_of_another_region_get_the_unit_of_the_place() {
        for (decimal, suffix, want, text) in [
            ("20", "ft", Dimension::Metres, "6.1m"),
            ("25.5", "in", Dimension::Metres, "647.7mm"),
            ("2.5", "mils", Dimension::Wire, "0.0635mm"),
            ("30", "pF/ft", Dimension::FaradsPerMetre, "98.4pF/m"),
            ("82", "F", Dimension::Celsius, "27.8degC"),
            ("32", "degF", Dimension::Celsius, "0degC"),
            ("301.15", "K", Dimension::Celsius, "28degC"),
        ] {
            assert_eq!(
                converted(decimal, suffix, want).map(|c| c.text).as_deref(),
                Some(text),
                "{decimal}{suffix}"
            );
        }
        // A capacitance where a capacitance is wanted.
        assert_eq!(converted("82", "F", Dimension::Farads), None);
        assert_eq!(converted("20", "ft", Dimension::Ohms), None);
    }
}
