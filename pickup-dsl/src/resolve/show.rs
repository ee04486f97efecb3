//! Values as a person writes them, for messages.

use crate::harness::wire;
use crate::syntax::tree::Dimension;

const PREFIXES: &[(&str, f64)] = &[
    ("G", 1e9),
    ("M", 1e6),
    ("k", 1e3),
    ("", 1.0),
    ("m", 1e-3),
    ("µ", 1e-6),
    ("n", 1e-9),
    ("p", 1e-12),
    ("f", 1e-15),
];

/// The unit's symbol.
fn unit(dimension: Dimension) -> &'static str {
    match dimension {
        Dimension::Ohms => "Ω",
        Dimension::Farads => "F",
        Dimension::Henries => "H",
        Dimension::Hertz => "Hz",
        Dimension::Metres => "m",
        Dimension::Volts => "V",
        Dimension::VoltDensity => "V/√Hz",
        Dimension::AmpereDensity => "A/√Hz",
        Dimension::FaradsPerMetre => "F/m",
        Dimension::OhmsPerHenry => "Ω/H",
        Dimension::Decibels => "dB",
        Dimension::Celsius => "°C",
        Dimension::Wire => "m",
        Dimension::Share | Dimension::Count | Dimension::Knob | Dimension::Gain => "",
    }
}

/// `22 nF`, `4.7 kΩ`, `60 %`, `42`.
pub(crate) fn show(value: f64, dimension: Dimension) -> String {
    match dimension {
        Dimension::Share => return format!("{} %", digits(value * 100.0)),
        Dimension::Count | Dimension::Knob | Dimension::Gain => return digits(value),
        Dimension::Decibels => return format!("{} dB", digits(value)),
        Dimension::Celsius => return format!("{} °C", digits(value)),
        Dimension::Wire => {
            let gauge = wire::gauge(value);
            let whole = (gauge - libm::round(gauge)).abs() < 1e-6;
            return if whole {
                format!("gauge {}", digits(libm::round(gauge)))
            } else {
                format!("wire of {} mm", digits(value * 1e3))
            };
        }
        _ => {}
    }
    let size = value.abs();
    if size == 0.0 || !size.is_finite() {
        return format!("{value} {}", unit(dimension));
    }
    // A hair under each step, so that 999.99999 rounds up into the next prefix.
    let (prefix, scale) =
        PREFIXES.iter().copied().find(|(_, scale)| size >= scale * 0.999_95).unwrap_or(("f", 1e-15));
    format!("{} {prefix}{}", digits(value / scale), unit(dimension))
}

/// Four significant digits without trailing zeros.
pub(crate) fn digits(value: f64) -> String {
    if value == 0.0 || !value.is_finite() {
        return format!("{value}");
    }
    let before = libm::floor(libm::log10(value.abs())) as i32 + 1;
    let decimals = (4 - before).clamp(0, 12) as usize;
    let text = format!("{value:.decimals$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

#[cfg(test)]
mod tests {
    use super::{digits, show};
    use crate::syntax::tree::Dimension;

    #[test]
    fn values_read_as_on_parts() {
        assert_eq!(show(22e-9, Dimension::Farads), "22 nF");
        assert_eq!(show(4700.0, Dimension::Ohms), "4.7 kΩ");
        assert_eq!(show(0.6, Dimension::Share), "60 %");
        assert_eq!(show(1e-3, Dimension::Farads), "1 mF");
        assert_eq!(show(0.0, Dimension::Ohms), "0 Ω");
        assert_eq!(digits(8123.4), "8123");
    }
}
