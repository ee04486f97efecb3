//! Notes by name (scientific pitch notation, A4 = 440 Hz as in ISO 16, equal temperament) or in hertz.

use crate::diagnostic::{Code, Diagnostic, escape};
use crate::resolve::cursor::{Items, missing};
use crate::resolve::report::Report;
use crate::resolve::schema::Range;
use crate::resolve::value::value;
use crate::source::Span;
use crate::syntax::tree::{Dimension, Item};

/// Fundamentals of strings, Hz.
const STRINGS: Range = Range::new((1.0, 20e3), &[(25.0, 1e3)]);

/// Reads one.
pub(super) fn note<'t>(items: &mut Items<'t>, report: &mut Report<'t>) -> Option<f64> {
    let (text, span) = match items.peek()? {
        Item::Number(_) => {
            return Some(value(items, Dimension::Hertz, STRINGS, report)?.value);
        }
        Item::Word(word) => (word.text.as_str(), word.span),
        Item::Text(text) => (text.value.as_str(), text.span),
        Item::Group(group) => {
            report.push(missing(group.span, "a note", true));
            return None;
        }
        Item::Error(_) => return None,
    };
    items.next();
    let found = named(text);
    if found.is_none() {
        report.push(unknown(text, span));
    }
    found
}

fn unknown(text: &str, span: Span) -> Diagnostic {
    let unknown = Diagnostic::error(Code::BadProperty, span, format!("`{}` is no note", escape(text)));
    if let Some(octave) = text.strip_prefix('H') {
        let mended = format!("B{octave}");
        if named(&mended).is_some() {
            return unknown.help(format!("H is B here: write `{mended}`")).fix(span, mended);
        }
    }
    unknown
        .note("C4 is the middle C of a piano; the thinnest string of a guitar is E4, the thickest E2")
        .help("write a letter and the octave, like `E4`, `Bb3` or `F#3`, or hertz, like `82.4Hz`")
}

/// The frequency of a name, Hz: 440·2^((m − 69)/12) for key m of a piano counted so that A4 is 69.
pub(super) fn named(text: &str) -> Option<f64> {
    let mut chars = text.chars();
    let key = match chars.next()? {
        'C' => 0,
        'D' => 2,
        'E' => 4,
        'F' => 5,
        'G' => 7,
        'A' => 9,
        'B' => 11,
        _ => return None,
    };
    let rest = chars.as_str();
    let (shift, octave) = match rest.strip_prefix('b') {
        Some(octave) => (-1, octave),
        None => match rest.strip_prefix('#') {
            Some(octave) => (1, octave),
            None => (0, rest),
        },
    };
    let octave = match octave.as_bytes() {
        [digit @ b'0'..=b'9'] => i32::from(digit - b'0'),
        _ => return None,
    };
    let key = f64::from(12 * (octave + 1) + key + shift);
    Some(440.0 * libm::pow(2.0, (key - 69.0) / 12.0))
}

#[cfg(test)]
mod tests {
    use super::named;

    /// ISO 16 (A4 = 440 Hz) and equal temperament: 440·2^((m − 69)/12), values to seven digits.
    #[test]
    fn the_open_strings_of_a_guitar() {
        for (name, hertz) in [
            ("E2", 82.40689),
            ("A2", 110.0),
            ("D3", 146.8324),
            ("G3", 195.9977),
            ("B3", 246.9417),
            ("E4", 329.6276),
            ("A4", 440.0),
            ("Bb3", 233.0819),
            ("F#3", 184.9972),
            ("Gb3", 184.9972),
            ("B0", 30.86771),
        ] {
            let found = named(name).expect(name);
            assert!((found / hertz - 1.0).abs() < 1e-6, "{name}: {found}");
        }
    }

    #[test]
    fn what_is_no_note() {
        for text in ["", "H4", "E", "e4", "E44", "Eb", "E#b3", "Fs3", "É4"] {
            assert_eq!(named(text), None, "{text}");
        }
    }
}
