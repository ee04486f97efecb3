//! Numbers as they are printed on parts, read against what the place wants.

use crate::diagnostic::{Code, Diagnostic, escape};
use crate::harness::wire;
use crate::syntax::region;
use crate::syntax::tree::{Dimension, Number, Tolerance};
use crate::syntax::unit::{self, Reading, read_suffix};

impl Number {
    /// The value in SI units, read against what the place wants.
    ///
    /// # Errors
    /// A diagnostic with the place, both readings where there are two, and the fix.
    pub fn read(&self, want: Dimension) -> Result<f64, Diagnostic> {
        let value = match read_suffix(&self.suffix, want) {
            Reading::Scale(exponent, _) => self.scaled(exponent),
            Reading::Decibels => libm::pow(10.0, self.digits / 20.0),
            Reading::Gauge(_) => wire::diameter(self.digits),
            Reading::Bare => return Err(self.bare(want)),
            Reading::No => return Err(self.wrong_unit(want)),
        };
        // Couplings, ratios and decibels go both ways; a negative part doesn't exist.
        if self.digits < 0.0
            && !matches!(want, Dimension::Share | Dimension::Gain | Dimension::Decibels | Dimension::Celsius)
        {
            return Err(self
                .report(Code::OutOfRange, format!("`{}` is negative", escape(&self.text)))
                .label(format!("{} is at least 0", want.wanted())));
        }
        if want == Dimension::Knob && value > 10.0 {
            return Err(self
                .report(Code::OutOfRange, format!("a knob does not go to `{}`", escape(&self.text)))
                .help("a knob's setting goes from 0 to 10"));
        }
        if !value.is_finite() {
            return Err(self.report(Code::OutOfRange, format!("`{}` is too large", escape(&self.text))));
        }
        Ok(value)
    }

    /// The printed three-digit code (`104`, `223J`) in farads.
    ///
    /// # Errors
    /// A diagnostic if it is no such code.
    pub fn read_capacitor_code(&self) -> Result<f64, Diagnostic> {
        self.capacitor_code().map(|(farads, _)| farads)
    }

    /// The printed three-digit code in farads, and the tolerance that its letter or what follows it says.
    ///
    /// Two digits and a power of ten, in picofarads; 8 and 9 in third place divide by 100 and 10 (common practice, no source).
    ///
    /// # Errors
    /// A diagnostic if it is no such code.
    pub fn capacitor_code(&self) -> Result<(f64, Option<Tolerance>), Diagnostic> {
        let bad = || {
            self.report(Code::BadNumber, format!("`{}` is no printed capacitor code", escape(&self.text)))
                .help("a code is two digits, the number of zeros and perhaps a tolerance letter: `104`, `223J`; a value is written without `code`")
        };
        let bytes = self.decimal.as_bytes();
        let &[tens @ b'1'..=b'9', ones @ b'0'..=b'9', zeros @ b'0'..=b'9'] = bytes else { return Err(bad()) };
        let exponent = match zeros - b'0' {
            8 => -2,
            9 => -1,
            zeros => i32::from(zeros),
        };
        let letter = match (self.suffix.as_str(), unit::tolerance_letter(&self.suffix)) {
            ("", _) => None,
            (_, Some((up, down))) if self.text.ends_with(&self.suffix) => Some(Tolerance { up, down }),
            _ => return Err(bad()),
        };
        let farads = decimal(&format!("{}{}", char::from(tens), char::from(ones)), exponent - 12);
        Ok((farads, letter.or(self.tolerance)))
    }

    /// Whether the number, as written, can stand where `want` is wanted: used to find which property a value without a word means.
    /// `certain` is true when the written unit says so by itself.
    #[must_use]
    pub fn fits(&self, want: Dimension) -> Fit {
        read_suffix(&self.suffix, want).fit()
    }

    /// The number in the unit of the place, if it is in one of another region: `6.1m` for `20ft`.
    pub(crate) fn converted(&self, want: Dimension) -> Option<region::Converted> {
        region::converted(&self.decimal, &self.suffix, want)
    }

    fn scaled(&self, exponent: i32) -> f64 {
        decimal(&self.decimal, exponent)
    }

    fn report(&self, code: Code, message: String) -> Diagnostic {
        Diagnostic::error(code, self.span, message)
    }

    /// Digits alone where a unit is needed.
    fn bare(&self, want: Dimension) -> Diagnostic {
        let text = escape(&self.text);
        if want != Dimension::Farads {
            let unit = want.example().trim_start_matches(|c: char| c.is_ascii_digit() || c == '.');
            // No cable is that long, and no pickup that far away.
            let unit = if want == Dimension::Metres && self.digits >= 100.0 { "mm" } else { unit };
            return self
                .report(Code::WrongUnit, format!("`{text}` has no unit"))
                .label(format!("{} is wanted here", want.wanted()))
                .help(format!("{} is written like `{}`", want.wanted(), want.example()))
                .fix(self.span, format!("{text}{unit}"));
        }
        let report =
            self.report(Code::BareCapacitance, format!("`{text}` has two readings as a capacitance"));
        if let Ok(farads) = self.read_capacitor_code() {
            let value = crate::syntax::number::with_multiplier(farads);
            let report = report
                .note(format!("as a printed code it is {value}F, as a value in picofarads {text} pF"))
                .help(format!("write `code {text}` for {value}F, or `{text}pF`"));
            // With zeros to count the code is what a part of that print carries.
            return if text.ends_with('0') { report } else { report.fix(self.span, format!("code {text}")) };
        }
        let report = report.label("picofarads, nanofarads or microfarads");
        if self.digits < 1.0 && self.digits > 0.0 {
            return report
                .help(format!("write `{text}uF` if microfarads are meant"))
                .fix(self.span, format!("{text}uF"));
        }
        report.help(format!("write `{text}pF`, `{text}nF` or `{text}uF`"))
    }

    /// A unit that is another's, or none at all.
    fn wrong_unit(&self, want: Dimension) -> Diagnostic {
        let text = escape(&self.text);
        let instead = format!("{} is written like `{}`", want.wanted(), want.example());
        if let (Dimension::Farads, Ok(farads)) = (want, self.read_capacitor_code()) {
            let value = crate::syntax::number::with_multiplier(farads);
            return self
                .report(Code::BadNumber, format!("`{text}` is a printed code, not a value"))
                .note(format!("it stands for {value}F"))
                .help(format!("say that it is the print: `code {text}`, or write `{value}F`"))
                .fix(self.span, format!("code {text}"));
        }
        if let Some(region::Converted { name, text: written, since }) = self.converted(want) {
            return self
                .report(Code::WrongUnit, format!("`{text}` is in {name}"))
                .label(format!("{} is wanted here, like `{}`", want.wanted(), want.example()))
                .help(format!("write `{written}`: {since}"))
                .fix(self.span, written);
        }
        if let Some((suffix, _)) =
            unit::corrected(&self.suffix).filter(|(s, _)| read_suffix(s, want).fit() == Fit::Certain)
        {
            let written = format!("{}{suffix}", self.decimal);
            return self
                .report(Code::WrongUnit, format!("`{}` is no unit", escape(&self.suffix)))
                .help(format!("write `{written}`"))
                .fix(self.span, written);
        }
        match unit::plain_meaning(&self.suffix) {
            Some(other) if unit::is_multiplier(&self.suffix) && other != want => self
                .report(Code::WrongUnit, format!("`{text}` can't stand for {}", want.wanted()))
                .help(instead),
            Some(other) => self
                .report(Code::WrongUnit, format!("`{text}` is {}", other.wanted()))
                .label(format!("{} is wanted here", want.wanted()))
                .help(instead),
            None => self
                .report(
                    Code::BadNumber,
                    format!("`{text}` can't be read: `{}` is no unit", escape(&self.suffix)),
                )
                .label(format!("{} is wanted here", want.wanted()))
                .help(instead),
        }
    }
}

/// Decimal digits times a power of ten, rounded once: the same bits as the literal `22e-9`.
fn decimal(digits: &str, exponent: i32) -> f64 {
    format!("{digits}e{exponent}").parse().unwrap_or(f64::NAN)
}

/// The value that a word was probably meant to be: `R47` → `0R47`, `k5` → `0k5`. Names and values are told apart by their
/// first character, so the letter can't come first.
#[must_use]
pub fn looks_like_value(word: &str) -> Option<String> {
    let letter = word.chars().next().filter(|c| unit::is_infix(*c))?;
    let rest = &word[letter.len_utf8()..];
    let unit = rest.trim_start_matches(|c: char| c.is_ascii_digit());
    let digits = rest.len() > unit.len();
    let suffix = format!("{letter}{unit}");
    (digits && unit::plain_meaning(&suffix).is_some()).then(|| format!("0{word}"))
}

/// How well a number fits a place.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Fit {
    /// The unit is another's.
    No,
    /// No unit is written (or only a multiplier), so it may.
    Possible,
    /// The unit says so.
    Certain,
}
