//! Taper letters and words that need a second look.

use crate::diagnostic::{Code, Diagnostic, escape};
use crate::resolve::report::Report;
use crate::resolve::schema::{Kind, Shape};
use crate::source::Span;
use crate::syntax::literal::Fit;
use crate::syntax::tree::{Dimension, Number};

/// A taper that is said with a bare letter, or with the letter stuck to the value.
pub(super) fn taper_slip(kind: &Kind, word: &str, span: Span, report: &Report<'_>) -> Option<Diagnostic> {
    kind.property("taper").filter(|p| p.shape == Shape::Taper)?;
    if let Some(slip) = crate::resolve::pot::taper_slip(word, span, report) {
        return Some(slip);
    }
    let letter =
        word.chars().next().filter(|c| matches!(c, 'A' | 'B' | 'C' | 'F' | 'a' | 'b' | 'c' | 'f'))?;
    let value = &word[1..];
    let upper = letter.to_ascii_uppercase();
    if value.is_empty() {
        return Some(bare_letter(upper, span));
    }
    let digits = value.trim_end_matches(['k', 'K', 'M']);
    let is_value =
        value.len() - digits.len() <= 1 && !digits.is_empty() && digits.bytes().all(|b| b.is_ascii_digit());
    is_value.then(|| {
        Diagnostic::error(Code::LetterFirst, span, format!("`{}` holds a taper letter and a value", escape(word)))
            .note(readings(upper))
            .help(format!("write the value first, then the taper in words or `code {upper} asian`: `{value} code {upper} asian`"))
    })
}

/// A taper letter without its convention.
pub(crate) fn bare_letter(letter: char, span: Span) -> Diagnostic {
    Diagnostic::error(Code::BadProperty, span, format!("the taper letter `{letter}` has two readings"))
        .label("letters differ by region")
        .note(readings(letter))
        .help(format!("write the taper in words, or `code {letter} asian` or `code {letter} european`"))
}

fn readings(letter: char) -> String {
    let said = |convention| crate::resolve::pot::code_taper(letter, convention).unwrap_or("nothing");
    format!(
        "`{letter}` is {} in Asia and America, {} on older European pots",
        said("asian"),
        said("european")
    )
}

/// `15%` or `0.15` after a taper: no track is under an ohm.
pub(crate) fn is_taper_share(number: &Number) -> bool {
    match number.fits(Dimension::Share) {
        Fit::Certain => true,
        Fit::Possible => number.digits < 1.0,
        Fit::No => false,
    }
}
