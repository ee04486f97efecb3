//! How digits, multiplier letter and unit are put together, before anyone asks what they mean.

use crate::diagnostic::{Code, Diagnostic, escape};
use crate::source::Span;
use crate::syntax::lexer::NUMBER_LIMIT;
use crate::syntax::tree::Tolerance;
use crate::syntax::unit;

/// The parts of a written number.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Shape {
    /// As written, mended where the slip was plain.
    pub(crate) text: String,
    /// Plain decimal digits, perhaps with a sign: `4.7` for `4k7`.
    pub(crate) decimal: String,
    /// What follows or interleaves the digits.
    pub(crate) suffix: String,
}

/// A number's parts and what was wrong with the way it is written; no parts if the meaning can't be told.
pub(crate) type Shaped = (Option<Shape>, Option<Diagnostic>);

/// Takes a number token apart.
pub(crate) fn shape(text: &str, span: Span) -> Shaped {
    if text.chars().count() > NUMBER_LIMIT {
        let report = Diagnostic::error(
            Code::TooLarge,
            span,
            format!("a number longer than {NUMBER_LIMIT} characters"),
        );
        return (None, Some(report.help("write it shorter, with a multiplier such as `k` or `n`")));
    }
    if text.contains(',') {
        return decimal_comma(text, span);
    }
    let (sign, unsigned) = match text.strip_prefix(['+', '-']) {
        Some(rest) => (if text.starts_with('-') { "-" } else { "" }, rest),
        None => ("", text),
    };
    let (whole, rest) = split(unsigned, |c| c.is_ascii_digit() || c == '.');
    if let Some(shaped) = exponent(text, whole, rest, span) {
        return shaped;
    }
    let (letters, rest) = split(rest, |c| !c.is_ascii_digit() && c != '.');
    let (fraction, unit) = split(rest, |c| c.is_ascii_digit());
    if let Some(mended) = stray_point(whole, text) {
        let report = unreadable(text, span);
        return match mended {
            Some(mended) => {
                (shape(&mended, span).0, Some(report.help(format!("write `{mended}`")).fix(span, mended)))
            }
            None => (None, Some(report.label("more than one decimal point"))),
        };
    }
    if unit.contains(|c: char| c.is_ascii_digit() || c == '.') || letters.contains('_') {
        return (None, Some(unreadable(text, span).help("write a number such as `4.7k`, `4k7` or `22nF`")));
    }
    let decimal = |fraction: &str| {
        if fraction.is_empty() { format!("{sign}{whole}") } else { format!("{sign}{whole}.{fraction}") }
    };
    let done = |decimal: String, suffix: String| Some(Shape { text: text.to_owned(), decimal, suffix });
    if fraction.is_empty() {
        return (done(decimal(""), letters.to_owned()), None);
    }
    if whole.contains('.') {
        return (None, Some(unreadable(text, span).label("a decimal point and a letter in place of one")));
    }
    let mut chars = letters.chars();
    match (chars.next(), chars.next()) {
        (Some(letter), None) if unit::is_infix(letter) => {
            (done(decimal(fraction), format!("{letter}{unit}")), None)
        }
        (Some('E' | 'e'), None) => letter_e(text, (whole, fraction, unit), span),
        _ => unit_inside(text, (sign, whole, letters, fraction, unit), span),
    }
}

fn split(text: &str, accept: impl Fn(char) -> bool) -> (&str, &str) {
    text.split_at(text.find(|c| !accept(c)).unwrap_or(text.len()))
}

fn unreadable(text: &str, span: Span) -> Diagnostic {
    Diagnostic::error(Code::BadNumber, span, format!("`{}` can't be read as a number", escape(text)))
}

/// `5.` and `1.2.3`: the mended text where there is one.
fn stray_point(whole: &str, text: &str) -> Option<Option<String>> {
    if whole.matches('.').count() > 1 {
        return Some(None);
    }
    whole.ends_with('.').then(|| Some(text.replacen('.', "", 1)))
}

/// `4,7k` is 4.7k. Three digits after the comma and nothing else could be thousands.
fn decimal_comma(text: &str, span: Span) -> Shaped {
    let report = Diagnostic::error(Code::DecimalComma, span, "a comma in a number");
    let after = text.rsplit(',').next().unwrap_or("");
    let commas = text.matches(',').count();
    let point = text.replace(',', ".");
    let plain = text.replace(',', "");
    if commas == 1 && !(after.len() == 3 && after.bytes().all(|b| b.is_ascii_digit())) {
        let report = report
            .label("the decimal sign is a point")
            .help(format!("write `{point}`, or put a blank after the comma if these are two values"))
            .fix(span, point.clone());
        return (shape(&point, span).0, Some(report));
    }
    let report = if commas == 1 {
        report.help(format!("write `{point}` or `{plain}`, whichever is meant"))
    } else {
        report.help(format!("write `{plain}`"))
    };
    (shape(&plain, span).0, Some(report))
}

/// `4e-9`, `1e3k`: printed on no part. `None` if the text has no exponent.
fn exponent(text: &str, whole: &str, rest: &str, span: Span) -> Option<Shaped> {
    let power = rest.strip_prefix(['e', 'E'])?;
    let (sign, digits) = split(power, |c| c == '+' || c == '-');
    let (digits, unit) = split(digits, |c| c.is_ascii_digit());
    if sign.is_empty() && rest.starts_with('E') && !whole.contains('.') {
        return None; // `4E7` has two readings
    }
    if digits.is_empty() {
        return None;
    }
    let report = Diagnostic::error(
        Code::BadNumber,
        span,
        format!("`{}` is written with a power of ten", escape(text)),
    );
    let value =
        format!("{}{whole}e{sign}{digits}", if text.starts_with('-') { "-" } else { "" }).parse::<f64>();
    let written = match value {
        Ok(value) if value.is_finite() && (value == 0.0 || (1e-15..1e12).contains(&value.abs())) => {
            with_multiplier(value) + unit
        }
        _ => return Some((None, Some(report.label("out of any range")))),
    };
    let help = format!("write `{written}`");
    Some((shape(&written, span).0, Some(report.help(help).fix(span, written))))
}

/// `4E7`: some print `E` for the decimal point of ohms, others mean a power of ten.
fn letter_e(text: &str, (whole, fraction, unit): (&str, &str, &str), span: Span) -> Shaped {
    let report = Diagnostic::error(Code::BadNumber, span, format!("`{}` has two readings", escape(text)));
    let as_point = format!("{whole}R{fraction}");
    let power = format!("{whole}e{fraction}").parse::<f64>().ok().filter(|v| *v < 1e12);
    let report = match power {
        Some(value) => report
            .note(format!(
                "with `E` for the decimal point it is `{as_point}`, as a power of ten `{}`",
                with_multiplier(value)
            ))
            .help(format!("write `{as_point}{unit}` or `{}{unit}`", with_multiplier(value))),
        None => report.help(format!("write `{as_point}{unit}`")).fix(span, format!("{as_point}{unit}")),
    };
    (None, Some(report))
}

/// `4F7`, `2H2`: a unit where only a multiplier may stand.
fn unit_inside(
    text: &str,
    (sign, whole, letters, fraction, unit): (&str, &str, &str, &str, &str),
    span: Span,
) -> Shaped {
    let report = unreadable(text, span);
    if !unit.is_empty() || unit::plain_meaning(letters).is_none() {
        return (None, Some(report.help("write a number such as `4.7k`, `4k7` or `22nF`")));
    }
    let letters = match letters {
        "\u{3a9}" | "\u{2126}" => "R",
        other => other,
    };
    let written = if letters == "R" {
        format!("{sign}{whole}R{fraction}")
    } else {
        format!("{sign}{whole}.{fraction}{letters}")
    };
    let report = report.label(format!("`{}` stands in the middle", escape(letters)));
    let report = if matches!(letters, "F" | "f") {
        report.help(format!(
            "write `{written}` for farads, or `{whole}u{fraction}`, `{whole}n{fraction}` or `{whole}p{fraction}`"
        ))
    } else {
        report.help(format!("write `{written}`"))
    };
    (shape(&written, span).0, Some(report.fix(span, written)))
}

/// A value with the multiplier that leaves one to three digits before the point.
pub(crate) fn with_multiplier(value: f64) -> String {
    const STEPS: &[(f64, f64, &str)] = &[
        (1e9, 1e9, "G"),
        (1e6, 1e6, "M"),
        (1e3, 1e3, "k"),
        (1.0, 1.0, ""),
        (1e-3, 1e-3, "m"),
        (1e-6, 1e-6, "u"),
        (1e-9, 1e-9, "n"),
        (0.0, 1e-12, "p"),
    ];
    if value == 0.0 {
        return "0".into();
    }
    // A hair below the step, for values such as 1e-9 whose quotient rounds down.
    let step =
        STEPS.iter().find(|(from, _, _)| value.abs() >= from * (1.0 - 1e-12)).unwrap_or(&(1.0, 1.0, ""));
    let digits = format!("{:.9}", value / step.1);
    format!("{}{}", digits.trim_end_matches('0').trim_end_matches('.'), step.2)
}

/// Reads `5%`, `±5%`, `+80/-20%`, `-20/+80%`.
///
/// # Errors
/// [`Code::BadTolerance`] with what to write.
pub(crate) fn tolerance(text: &str, span: Span) -> Result<Tolerance, Diagnostic> {
    let bad = || {
        Diagnostic::error(
            Code::BadTolerance,
            span,
            format!("`{}` can't be read as a tolerance", escape(text)),
        )
        .help("write `5%`, `+80/-20%`, or the code letter after a space")
    };
    let plain: String = text.chars().filter(|c| !matches!(c, ' ' | '\t')).collect();
    let Some(body) = plain.strip_suffix('%') else {
        let report = bad().label("the `%` is missing");
        return Err(if plain.contains(|c: char| c.is_ascii_digit()) {
            report.fix(span, format!("{plain}%"))
        } else {
            report
        });
    };
    let body = body.replace('%', "").replace("+/-", "±").replace("+-", "±");
    let share = |digits: &str| -> Option<f64> {
        let digits_only = !digits.is_empty()
            && digits.len() <= NUMBER_LIMIT
            && digits.bytes().all(|b| b.is_ascii_digit() || b == b'.');
        format!("{digits}e-2").parse::<f64>().ok().filter(|v| digits_only && v.is_finite())
    };
    let found = match body.split_once('/').or_else(|| two_signs(&body)) {
        Some((first, second)) => {
            let up = first.strip_prefix('+').or_else(|| second.strip_prefix('+'));
            let down = first.strip_prefix('-').or_else(|| second.strip_prefix('-'));
            up.zip(down).and_then(|(up, down)| share(up).zip(share(down)))
        }
        None => share(body.strip_prefix('±').unwrap_or(&body)).map(|both| (both, both)),
    };
    match found {
        Some((up, down)) if down < 1.0 && up <= 10.0 => Ok(Tolerance { up, down }),
        Some(_) => Err(bad().label("wider than the value itself")),
        None => Err(bad()),
    }
}

/// `+80-20`: cut before the second sign.
fn two_signs(body: &str) -> Option<(&str, &str)> {
    let second = body.rfind(['+', '-']).filter(|i| *i > 0)?;
    Some(body.split_at(second))
}

#[cfg(test)]
mod tests {
    use super::{shape, tolerance, with_multiplier};
    use crate::source::Span;

    const HERE: Span = Span { file: 0, start: 0, end: 0 };

    fn parts(text: &str) -> (String, String) {
        let (shape, report) = shape(text, HERE);
        assert_eq!(report, None, "{text}");
        shape.map(|s| (s.decimal, s.suffix)).unwrap_or_default()
    }

    #[test]
    fn the_letter_may_stand_for_the_point() {
        for (text, decimal, suffix) in [
            ("4k7", "4.7", "k"),
            ("0R47", "0.47", "R"),
            ("4n7F", "4.7", "nF"),
            ("1µ0", "1.0", "µ"),
            ("4.7kΩ", "4.7", "kΩ"),
            ("-0.1", "-0.1", ""),
            (".5k", ".5", "k"),
            ("100pF/m", "100", "pF/m"),
            ("60%", "60", "%"),
        ] {
            assert_eq!(parts(text), (decimal.into(), suffix.into()), "{text}");
        }
    }

    #[test]
    fn slips_with_one_meaning_are_reported_and_mended() {
        for (text, mended) in [
            ("4,7k", "4.7k"),
            ("4F7", "4.7F"),
            ("2H2", "2.2H"),
            ("4e-9F", "4nF"),
            ("1e3", "1k"),
            ("2.2e4", "22k"),
            ("5.", "5"),
            ("6Ω8", "6R8"),
        ] {
            let (shape, report) = shape(text, HERE);
            let fix = report.and_then(|r| r.fix).map(|f| f.replacement);
            assert_eq!(fix.as_deref(), Some(mended), "{text}");
            assert_eq!(shape.map(|s| s.text).as_deref(), Some(mended), "{text}");
        }
    }

    #[test]
    fn two_readings_are_shown_and_not_chosen() {
        let (shape, report) = shape("4E7", HERE);
        assert_eq!(shape, None);
        let report = report.unwrap_or_else(|| panic!("no report"));
        assert_eq!(report.fix, None);
        assert_eq!(report.help.as_deref(), Some("write `4R7` or `40M`"));
    }

    #[test]
    fn what_has_no_reading_is_refused() {
        for text in ["1.2.3", "4k7k7", "5_000", "1e999", "4.5k7", "4kk7", &"1".repeat(65)] {
            let (shape, report) = shape(text, HERE);
            assert!(shape.is_none() && report.is_some(), "{text}");
        }
    }

    #[test]
    fn tolerances() {
        let read = |text: &str| tolerance(text, HERE).ok().map(|t| (t.up, t.down));
        assert_eq!(read("5%"), Some((0.05, 0.05)));
        assert_eq!(read("±5%"), Some((0.05, 0.05)));
        assert_eq!(read("+/-0.1%"), Some((0.001, 0.001)));
        assert_eq!(read("+80/-20%"), Some((0.8, 0.2)));
        assert_eq!(read("-20%/+80%"), Some((0.8, 0.2)));
        for text in ["±5", "±%", "+80/+20%", "100%", "+5/-%", "±1.2.3%"] {
            assert_eq!(read(text), None, "{text}");
        }
    }

    #[test]
    fn values_get_the_multiplier_that_is_printed() {
        for (value, text) in
            [(4e7, "40M"), (1e-9, "1n"), (4.7e-12, "4.7p"), (1e3, "1k"), (0.47, "470m"), (999.0, "999")]
        {
            assert_eq!(with_multiplier(value), text);
        }
    }
}
