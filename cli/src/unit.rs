//! Numbers as the trade prints them: `4.31 kHz`, `8.2 kΩ`, `−6.2 dB`. The only place where a prefix is chosen.

/// The minus sign of typography; a hyphen reads as a dash in a column of figures.
const MINUS: char = '\u{2212}';

/// Prefixes from 10⁻¹⁵ to 10⁹, in steps of a thousand.
const PREFIXES: [(&str, f64); 9] = [
    ("f", 1e-15),
    ("p", 1e-12),
    ("n", 1e-9),
    ("µ", 1e-6),
    ("m", 1e-3),
    ("", 1.0),
    ("k", 1e3),
    ("M", 1e6),
    ("G", 1e9),
];

/// A value with a prefix and `digits` significant digits, trailing zeros kept, so that columns compare: `4.31 kHz`, `8.20 kΩ`.
#[must_use]
pub(crate) fn significant(value: f64, unit: &str, digits: usize) -> String {
    let (mantissa, prefix) = split(value, unit, digits);
    let whole = integer_digits(mantissa);
    spaced(&fixed(mantissa, digits.saturating_sub(whole)), prefix, unit)
}

/// A value as it is printed on a part: up to six significant digits, none of them idle: `510 kΩ`, `8.2 kΩ`, `22 nF`.
#[must_use]
pub(crate) fn as_printed(value: f64, unit: &str) -> String {
    let (mantissa, prefix) = split(value, unit, 6);
    let text = fixed(mantissa, 6usize.saturating_sub(integer_digits(mantissa)));
    let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    spaced(text, prefix, unit)
}

/// Decibels against something, with their sign: `+5.3`, `−6.2`, `0.0`.
#[must_use]
pub(crate) fn signed(value: f64, decimals: usize) -> String {
    let text = fixed(value, decimals);
    if value > 0.0 && !is_zero(&text) { format!("+{text}") } else { text }
}

/// A fixed number of decimals, a real minus sign, never a negative zero.
#[must_use]
pub(crate) fn fixed(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(rest) if is_zero(rest) => rest.to_owned(),
        Some(rest) => format!("{MINUS}{rest}"),
        None => text,
    }
}

/// `value` in a fixed unit of the column head, with about `digits` significant digits but never more decimals than that:
/// 8.2 kΩ in a kΩ column is `8.20`, 133 kΩ is `133`.
#[must_use]
pub(crate) fn in_column(value: f64, scale: f64, digits: usize) -> String {
    let scaled = value / scale;
    let decimals = digits.saturating_sub(integer_digits(scaled));
    let text = fixed(scaled, decimals);
    // 9.996 rounds to 10.00: one decimal less keeps the digits.
    if integer_digits_of(&text) > integer_digits(scaled) && decimals > 0 {
        fixed(scaled, decimals - 1)
    } else {
        text
    }
}

fn is_zero(text: &str) -> bool {
    !text.bytes().any(|b| b.is_ascii_digit() && b != b'0')
}

fn integer_digits_of(text: &str) -> usize {
    text.bytes().skip_while(|b| !b.is_ascii_digit()).take_while(u8::is_ascii_digit).count()
}

/// Digits before the decimal point, at least one.
fn integer_digits(value: f64) -> usize {
    integer_digits_of(&format!("{:.0}", value.abs().trunc()))
}

/// Mantissa and prefix such that the mantissa, once rounded to `digits`, lies in [1, 1000).
fn split<'p>(value: f64, unit: &str, digits: usize) -> (f64, &'p str) {
    if value == 0.0 || !value.is_finite() {
        return (value, "");
    }
    // A bel has no kilo.
    if unit == "dB" || unit == "%" {
        return (value, "");
    }
    let rounded: f64 =
        format!("{:.*e}", digits.saturating_sub(1), value.abs()).parse().unwrap_or(value.abs());
    let (prefix, scale) = PREFIXES
        .iter()
        .rev()
        // Half a digit of slack: 1e-6 is not exact in binary.
        .find(|(_, scale)| rounded >= scale * (1.0 - 1e-12))
        .copied()
        .unwrap_or(PREFIXES[0]);
    let mantissa =
        format!("{:.*e}", digits.saturating_sub(1), value / scale).parse().unwrap_or(value / scale);
    (mantissa, prefix)
}

fn spaced(number: &str, prefix: &str, unit: &str) -> String {
    if prefix.is_empty() && unit.is_empty() { number.to_owned() } else { format!("{number} {prefix}{unit}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn prefixes_follow_the_rounded_value() {
        assert_eq!(significant(4312.7, "Hz", 3), "4.31 kHz");
        assert_eq!(significant(999.6, "Hz", 3), "1.00 kHz");
        assert_eq!(significant(999.4, "Hz", 3), "999 Hz");
        assert_eq!(significant(8200.0, "Ω", 3), "8.20 kΩ");
        assert_eq!(significant(2.4e-6, "V", 2), "2.4 µV");
        assert_eq!(significant(0.0, "V", 3), "0.00 V");
        assert_eq!(significant(1e-6, "V", 3), "1.00 µV");
        assert_eq!(significant(-2.2, "H", 3), "−2.20 H");
    }

    #[test]
    fn parts_show_no_idle_digits() {
        assert_eq!(as_printed(510e3, "Ω"), "510 kΩ");
        assert_eq!(as_printed(8200.0, "Ω"), "8.2 kΩ");
        assert_eq!(as_printed(22e-9, "F"), "22 nF");
        assert_eq!(as_printed(0.47, "Ω"), "470 mΩ");
        assert_eq!(as_printed(0.0, "Ω"), "0 Ω");
        assert_eq!(as_printed(1e6, "Ω"), "1 MΩ");
        assert_eq!(as_printed(1200.0, ""), "1.2 k");
        assert_eq!(as_printed(4.7e-9, "F"), "4.7 nF");
    }

    #[test]
    fn signs_are_real_and_zero_has_none() {
        assert_eq!(signed(5.26, 1), "+5.3");
        assert_eq!(signed(-6.2, 1), "−6.2");
        assert_eq!(signed(0.04, 1), "0.0");
        assert_eq!(signed(-0.04, 1), "0.0");
        assert_eq!(fixed(-0.0, 2), "0.00");
    }

    #[test]
    fn a_column_keeps_its_digits_through_a_carry() {
        assert_eq!(in_column(8200.0, 1e3, 3), "8.20");
        assert_eq!(in_column(133_400.0, 1e3, 3), "133");
        assert_eq!(in_column(9996.0, 1e3, 3), "10.0");
        assert_eq!(in_column(0.0, 1e3, 3), "0.00");
        assert_eq!(in_column(-2300.0, 1e3, 3), "−2.30");
    }
}
