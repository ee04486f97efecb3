//! Magnetic hum: all hum EMFs on.

use num_complex::Complex64;

use super::groups::{self, silent};
use super::{Cancelling, Figure, Hum, SignalOverHum, Why};
use crate::float::{amplitude_db, modulus, power_db};

/// Harmonics count up to here, Hz; cancelling is also judged here.
const UP_TO: f64 = 1000.0;
/// At or below this the coils cancel, dB.
pub(crate) const CANCELS: f64 = -20.0;
/// At or below this they partly do, dB.
const PARTLY: f64 = -6.0;

/// Where hum is looked at, Hz: harmonics of the mains, then its fundamental, then the upper end.
pub(crate) fn places(mains: f64) -> Vec<f64> {
    let harmonics = (UP_TO / mains).floor().max(0.0) as u32;
    (1..=harmonics).map(|n| mains * f64::from(n)).chain([mains, UP_TO]).collect()
}

/// `contributions` are those of each coil at each of [`places`], V.
pub(crate) fn hum(contributions: &[Vec<Complex64>]) -> Hum {
    let [harmonics @ .., low, high] = contributions else { return nowhere() };
    let mut power = 0.0;
    let mut buzzing = false;
    for h in harmonics {
        if let Some(square) = heard(h) {
            power += square;
            buzzing = true;
        }
    }
    let buzz = match (harmonics.len(), buzzing) {
        (0, _) => Err(Why::None),
        (_, false) => Err(Why::Silent),
        (_, true) => Ok(power_db(power)),
    };
    let (cancelling, verdict) = cancelling(&[low.as_slice(), high.as_slice()]);
    Hum {
        fundamental: heard(low).map(power_db).ok_or(Why::Silent),
        fundamental_re: Err(Why::ReferenceSilent),
        buzz,
        buzz_re: Err(Why::ReferenceSilent),
        cancelling,
        verdict,
    }
}

/// No path to the amp input.
pub(crate) fn nowhere() -> Hum {
    Hum {
        fundamental: Err(Why::Open),
        fundamental_re: Err(Why::Open),
        buzz: Err(Why::Open),
        buzz_re: Err(Why::Open),
        cancelling: Err(Why::Open),
        verdict: None,
    }
}

/// |Σh|², unless silent.
fn heard(h: &[Complex64]) -> Option<f64> {
    let sum: Complex64 = h.iter().sum();
    (!silent(sum, total(h))).then(|| sum.norm_sqr())
}

fn total(h: &[Complex64]) -> f64 {
    h.iter().map(|&h| modulus(h)).sum()
}

/// The worse |Σh|/Σ|h| of the places where there is hum at all.
fn cancelling(places: &[&[Complex64]]) -> (Figure, Option<Cancelling>) {
    let mut worst: Option<f64> = None;
    for h in places {
        let total = total(h);
        if total <= groups::NOTHING {
            continue;
        }
        let sum: Complex64 = h.iter().sum();
        let share = if silent(sum, total) { 0.0 } else { modulus(sum) / total };
        worst = Some(worst.unwrap_or(0.0).max(share));
    }
    match worst {
        None => (Err(Why::Silent), None),
        Some(0.0) => (Err(Why::Silent), Some(Cancelling::Cancels)),
        Some(share) => {
            let db = amplitude_db(share);
            let verdict = if db <= CANCELS {
                Cancelling::Cancels
            } else if db <= PARTLY {
                Cancelling::Partly
            } else {
                Cancelling::No
            };
            (Ok(db), Some(verdict))
        }
    }
}

/// (string level as shown − hum) minus the same of the reference.
pub(crate) fn signal_over_hum(own: (Figure, Figure), reference: Option<(Figure, Figure)>) -> SignalOverHum {
    let difference = |(signal, hum): (Figure, Figure)| -> Figure { Ok(signal? - hum?) };
    let plain = reference.is_none_or(|r| difference(r).is_err());
    let value = match (difference(own), reference.map(difference)) {
        (Ok(own), Some(Ok(reference))) => Ok(own - reference),
        (own, _) => own,
    };
    SignalOverHum { value, plain, no_hum: own.0.is_ok() && own.1 == Err(Why::Silent) }
}

#[cfg(test)]
mod tests {
    use num_complex::Complex64;

    use super::{cancelling, hum, places};
    use crate::figures::{Cancelling, Hum, Why};

    fn everywhere(mains: f64, h: &[Complex64]) -> Hum {
        hum(&places(mains).iter().map(|_| h.to_vec()).collect::<Vec<_>>())
    }

    fn pair(second: f64) -> Vec<Complex64> {
        vec![Complex64::from(1.0), Complex64::from(second)]
    }

    /// Two opposed coils with a relative mismatch ε leave ε of one coil: algebra; re their sum that is ε/(2 − ε).
    #[test]
    fn mismatch() {
        for (mismatch, db) in [(0.05, -26.0206), (0.02, -33.9794), (0.01, -40.0), (0.001, -60.0)] {
            let h = pair(mismatch - 1.0);
            let found = everywhere(50.0, &h);
            assert!((found.fundamental.unwrap() - db).abs() < 1e-4);
            let expected = 20.0 * libm::log10(mismatch / (2.0 - mismatch));
            assert!((found.cancelling.unwrap() - expected).abs() < 1e-9);
            assert_eq!(found.verdict, Some(Cancelling::Cancels));
        }
    }

    #[test]
    fn twenty_equal_harmonics_are_thirteen_decibels_more() {
        let h = vec![Complex64::from(1.0)];
        assert!((everywhere(50.0, &h).buzz.unwrap() - 10.0 * libm::log10(20.0)).abs() < 1e-12);
        assert!((everywhere(60.0, &h).buzz.unwrap() - 10.0 * libm::log10(16.0)).abs() < 1e-12);
    }

    #[test]
    fn words_for_null_partial_and_none() {
        let null = pair(-1.0);
        assert_eq!(cancelling(&[&null, &null]), (Err(Why::Silent), Some(Cancelling::Cancels)));
        let half = pair(-0.5);
        assert_eq!(cancelling(&[&null, &half]).1, Some(Cancelling::Partly));
        let alone = pair(0.0);
        assert_eq!(cancelling(&[&half, &alone]).1, Some(Cancelling::No));
        let none = pair(0.0).iter().map(|h| h * 0.0).collect::<Vec<_>>();
        assert_eq!(cancelling(&[&none]), (Err(Why::Silent), None));
    }
}
