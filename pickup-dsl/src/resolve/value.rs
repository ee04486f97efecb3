//! Numbers of the tree → values of the harness, with ranges and likely slips.

use crate::diagnostic::{Code, Diagnostic};
use crate::harness::{Origin, Valued};
use crate::resolve::cursor::{Items, missing};
use crate::resolve::report::Report;
use crate::resolve::schema::Range;
use crate::resolve::show::show;
use crate::source::Span;
use crate::syntax::literal::looks_like_value;
use crate::syntax::tree::{Dimension, Item, Number};

/// Reads one value: a number (or `code 104` for a capacitor), then perhaps `measured` or `assumed`.
pub(crate) fn value<'t>(
    items: &mut Items<'t>,
    want: Dimension,
    range: Range,
    report: &mut Report<'t>,
) -> Option<Valued> {
    if want == Dimension::Farads && items.peek_word().is_some_and(|w| w.text == "code") {
        return printed_code(items, range, report);
    }
    let number = match items.peek() {
        Some(Item::Number(number)) => number,
        Some(Item::Error(_)) => return None,
        Some(Item::Word(word)) if looks_like_value(&word.text).is_some() => {
            let mended = looks_like_value(&word.text).unwrap_or_default();
            report.push(letter_first(&word.text, word.span, &mended));
            items.next();
            return None;
        }
        other => {
            report.push(missing(items.here(), want.wanted(), other.is_some()).help(format!(
                "{} is written like `{}`",
                want.wanted(),
                want.example()
            )));
            return None;
        }
    };
    items.next();
    let read = number.read(want);
    let (origin, normal) = marked(items);
    let value = match read {
        Ok(value) => value,
        Err(diagnostic) => {
            report.push(diagnostic);
            return None;
        }
    };
    if !in_range(value, number, want, range, report) {
        return None;
    }
    Some(Valued {
        value,
        tolerance: number.tolerance.map(|t| (t.up, t.down)),
        normal,
        origin,
        span: number.span,
    })
}

/// `R47` where a value belongs.
pub(crate) fn letter_first(word: &str, span: Span, mended: &str) -> Diagnostic {
    Diagnostic::error(Code::LetterFirst, span, format!("`{word}` starts with its letter"))
        .label("read as a name")
        .help(format!("write `{mended}`: a value starts with a digit"))
        .fix(span, mended)
}

fn printed_code<'t>(items: &mut Items<'t>, range: Range, report: &mut Report<'t>) -> Option<Valued> {
    items.next();
    let Some(Item::Number(number)) = items.peek() else {
        report.push(
            missing(items.here(), "the printed code", items.peek().is_some())
                .help("the code is the three digits on the part: `code 104`"),
        );
        return None;
    };
    items.next();
    let (origin, normal) = marked(items);
    match number.capacitor_code() {
        Ok((value, tolerance)) => {
            in_range(value, number, Dimension::Farads, range, report).then_some(Valued {
                value,
                tolerance: tolerance.map(|t| (t.up, t.down)),
                normal,
                origin,
                span: number.span,
            })
        }
        Err(diagnostic) => {
            report.push(diagnostic);
            None
        }
    }
}

/// Words that may stand after a value and its tolerance.
pub(crate) const MARKS: &[&str] = &["measured", "assumed", "normal"];

/// `measured` or `assumed` after a value, and whether it spreads as a normal distribution.
fn marked(items: &mut Items<'_>) -> (Origin, bool) {
    let (mut origin, mut normal) = (Origin::Stated, false);
    while let Some(word) = items.peek_word().filter(|w| MARKS.contains(&w.text.as_str())) {
        match word.text.as_str() {
            "measured" if origin == Origin::Stated => origin = Origin::Measured,
            "assumed" if origin == Origin::Stated => origin = Origin::Guessed,
            "normal" if !normal => normal = true,
            _ => break,
        }
        items.next();
    }
    (origin, normal)
}

/// A value that the file does not say.
pub(crate) fn default(value: f64, span: Span) -> Valued {
    Valued { value, tolerance: None, normal: false, origin: Origin::Default, span }
}

/// Whether a value can be; warns when it is unusual.
fn in_range(value: f64, number: &Number, want: Dimension, range: Range, report: &mut Report<'_>) -> bool {
    let (low, high) = range.hard;
    if !(low..=high).contains(&value) {
        report.push(out_of_range(value, number, want, range));
        return false;
    }
    let usual = range.usual;
    let is_usual = |value: f64| usual.iter().any(|(low, high)| (*low..=*high).contains(&value));
    if value == 0.0 || usual.is_empty() || is_usual(value) {
        return true;
    }
    let first = usual.iter().map(|u| u.0).fold(f64::INFINITY, f64::min);
    let last = usual.iter().map(|u| u.1).fold(0.0, f64::max);
    let side = match value {
        v if v < first => "less than",
        v if v > last => "more than",
        _ => "not among",
    };
    let ranges: Vec<_> = usual.iter().map(|(low, high)| span_of_values(*low, *high, want)).collect();
    let diagnostic = Diagnostic::warning(
        Code::UnusualValue,
        number.span,
        format!("{} is {side} what is usual here", show(value, want)),
    )
    .label(format!("usual: {}", ranges.join(" or ")));
    report.push(with_slip(diagnostic, value, number, want, range));
    true
}

fn out_of_range(value: f64, number: &Number, want: Dimension, range: Range) -> Diagnostic {
    let (low, high) = range.hard;
    let counted = matches!(want, Dimension::Share | Dimension::Count | Dimension::Knob | Dimension::Gain);
    let message = match value {
        0.0 => format!("{} can't be zero here", want.wanted()),
        _ if counted => format!("{} is out of range", show(value, want)),
        v if v > high => format!("{} is impossibly large", show(value, want)),
        _ => format!("{} is impossibly small", show(value, want)),
    };
    let limits = match (low, high) {
        (low, high) if (0.0..=f64::MIN_POSITIVE).contains(&low) => format!("at most {}", show(high, want)),
        (low, high) => span_of_values(low, high, want),
    };
    let diagnostic = Diagnostic::error(Code::OutOfRange, number.span, message).label(limits);
    with_slip(diagnostic, value, number, want, range)
}

fn span_of_values(low: f64, high: f64, want: Dimension) -> String {
    if low == high { show(low, want) } else { format!("{} to {}", show(low, want), show(high, want)) }
}

/// Names the slip where another multiplier would give a usual value.
fn with_slip(
    diagnostic: Diagnostic,
    value: f64,
    number: &Number,
    want: Dimension,
    range: Range,
) -> Diagnostic {
    let Some(mended) = mended(value, number, want, range) else { return diagnostic };
    let help = format!("if `{}` is a slip for `{mended}`, write that", number.text);
    // A tolerance is part of the number's span: replacing all of it would lose the tolerance.
    if number.tolerance.is_some() {
        return diagnostic.help(help);
    }
    diagnostic.help(help).fix(number.span, mended)
}

/// The number with the multiplier that makes it usual, if it is off by a power of a thousand.
fn mended(value: f64, number: &Number, want: Dimension, range: Range) -> Option<String> {
    const LETTERS: &[(&str, i32)] =
        &[("p", -12), ("n", -9), ("u", -6), ("m", -3), ("", 0), ("k", 3), ("M", 6)];
    let fitting = |letters: &[(&'static str, i32)]| {
        // From the nearest power outwards.
        let mut found: Vec<_> = letters
            .iter()
            .filter_map(|(letter, power)| {
                let digits: f64 = number.decimal.parse().ok()?;
                let other = digits * libm::pow(10.0, f64::from(*power));
                let inside = range.usual.iter().any(|(low, high)| (*low..=*high).contains(&other));
                let steps = libm::log10(other / value) / 3.0;
                let whole = (steps - libm::round(steps)).abs() < 1e-6 && steps.abs() > 0.5;
                (inside && whole).then_some((*letter, steps.abs()))
            })
            .collect();
        found.sort_by(|a, b| a.1.total_cmp(&b.1));
        found.first().map(|(letter, _)| *letter)
    };
    let (letters, unit): (&[(&'static str, i32)], &str) = match want {
        Dimension::Farads => (&LETTERS[..3], "F"),
        Dimension::Ohms => (&LETTERS[3..], ""),
        Dimension::Henries => (&LETTERS[2..5], "H"),
        Dimension::FaradsPerMetre => (&LETTERS[..3], "F/m"),
        Dimension::OhmsPerHenry => (&LETTERS[4..], "/H"),
        _ => return None,
    };
    let letter = fitting(letters)?;
    // `22m` for `22n`: the unit is repeated only if it was written.
    let written = number.suffix.len() > 1 || want != Dimension::Farads;
    Some(format!("{}{letter}{}", number.decimal, if written { unit } else { "" }))
}
