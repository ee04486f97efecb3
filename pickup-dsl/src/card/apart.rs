//! Which test tells one position from another.

use super::{Band, Entry};

/// The tests of a card.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Test {
    /// The meter at rest: bands that do not meet.
    Meter,
    /// Tapping coils.
    Tap,
    /// Steel pulled off the poles.
    Swing,
    /// Hum that falls, or does not.
    Hum,
}

/// The tests that tell two positions apart; none: by ear alone, or not at all.
#[must_use]
pub fn tells(a: &Entry, b: &Entry) -> Vec<Test> {
    let mut tests = Vec::new();
    let meter = a.readings.iter().zip(&b.readings).any(|(a, b)| apart(&a.at_rest, &b.at_rest));
    let outlets = || a.outlets.iter().zip(&b.outlets);
    let coils = || outlets().flat_map(|(a, b)| a.coils.iter().zip(&b.coils));
    let found = [
        (meter, Test::Meter),
        (coils().any(|(a, b)| a.tap != b.tap), Test::Tap),
        (coils().any(|(a, b)| a.swing != b.swing), Test::Swing),
        (outlets().any(|(a, b)| a.hum != b.hum), Test::Hum),
    ];
    tests.extend(found.into_iter().filter(|(tells, _)| *tells).map(|(_, test)| test));
    tests
}

/// No reading belongs to both.
fn apart(a: &Band, b: &Band) -> bool {
    match ((a.low, a.high), (b.low, b.high)) {
        ((Ok(low_a), Ok(high_a)), (Ok(low_b), Ok(high_b))) => high_a < low_b || high_b < low_a,
        _ => a.nominal.is_ok() != b.nominal.is_ok(),
    }
}
