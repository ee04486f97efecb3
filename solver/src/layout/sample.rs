//! The matrix at a few frequencies about the middle of the network's rates: what the elimination order is chosen by.

use num_complex::Complex64;

use crate::float;
use crate::order::SAMPLES;
use crate::stamp::Law;
use crate::values::Numbers;

/// Geometric mean of the positive finite numbers of a list.
fn geometric_mean(list: &[f64]) -> Option<f64> {
    let logs: Vec<f64> = list.iter().filter(|x| x.is_finite() && **x > 0.0).map(|&x| float::ln(x)).collect();
    (!logs.is_empty()).then(|| float::exp(logs.iter().sum::<f64>() / logs.len() as f64))
}

/// A rate in the middle of those of the network, rad/s.
pub(super) fn middle_rate(numbers: &Numbers) -> f64 {
    let r = geometric_mean(&numbers.resistance).unwrap_or(1.0);
    let l = geometric_mean(&numbers.inductance);
    let c = geometric_mean(&numbers.capacitance);
    let rate = match (l, c) {
        (Some(l), Some(c)) => 1.0 / (l.sqrt() * c.sqrt()),
        (Some(l), None) => r / l,
        (None, Some(c)) => 1.0 / (r * c),
        (None, None) => 1.0,
    };
    rate.clamp(1e-100, 1e100)
}

/// The matrix at a few frequencies about the middle, in units that make volts and amperes alike: what the elimination order is chosen by.
pub(super) fn sample(
    stamps: &[(u32, f64, Law)],
    places: &[(u32, u32)],
    numbers: &Numbers,
    dc: bool,
    middle: f64,
    voltages: usize,
) -> Vec<[Complex64; SAMPLES]> {
    const SPREAD: [f64; SAMPLES] = [1.0 / 30.0, 1.0, 30.0];
    let impedance = float::binade(geometric_mean(&numbers.resistance).unwrap_or(1.0));
    let mut samples = vec![[Complex64::ZERO; SAMPLES]; places.len()];
    for &(place, sign, law) in stamps {
        let (row, col) = places[place as usize];
        let row_scale = if (row as usize) < voltages { impedance } else { 1.0 };
        let col_scale = if (col as usize) < voltages { 1.0 } else { 1.0 / impedance };
        let coefficient = sign * law.coefficient(numbers) * row_scale * col_scale;
        for (value, spread) in samples[place as usize].iter_mut().zip(SPREAD) {
            if law.is_reactive() {
                value.im += if dc { 0.0 } else { coefficient * middle * spread };
            } else {
                value.re += coefficient;
            }
        }
    }
    samples
}
