//! Axes: where a value lies between the edges, and where the ticks stand.

use crate::float;

/// A logarithmic frequency axis.
#[derive(Debug, Clone, Copy)]
pub(crate) struct LogFrequency {
    low: f64,
    high: f64,
}

impl LogFrequency {
    /// From `low` to `high`, Hz.
    pub(crate) fn new(low: f64, high: f64) -> Self {
        LogFrequency { low, high: if high > low { high } else { low * 2.0 } }
    }

    /// 0 at the low edge, 1 at the high one.
    pub(crate) fn share(&self, f: f64) -> f64 {
        float::ln(f / self.low) / float::ln(self.high / self.low)
    }

    /// The frequency at a share of the axis.
    pub(crate) fn at(&self, share: f64) -> f64 {
        self.low * float::pow(self.high / self.low, share)
    }

    /// 1, 2 and 5 of each decade within the edges, with their labels.
    pub(crate) fn ticks(&self) -> Vec<(f64, String)> {
        let mut ticks = Vec::new();
        for decade in -3..10 {
            for digit in [1.0, 2.0, 5.0] {
                let f: f64 = digit * float::pow(10.0, f64::from(decade));
                if f >= self.low * (1.0 - 1e-9) && f <= self.high * (1.0 + 1e-9) {
                    ticks.push((f, label(f)));
                }
            }
        }
        ticks
    }
}

fn label(f: f64) -> String {
    if f >= 1e3 { format!("{}k", f / 1e3) } else { format!("{f}") }
}

/// A decibel axis whose edges are ticks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Decibels {
    low: f64,
    high: f64,
    step: f64,
}

/// Curves are cut this far under the highest: what lies lower is not heard beside it.
const RANGE: f64 = 60.0;

impl Decibels {
    /// An axis that shows all values no more than 60 dB under the highest.
    pub(crate) fn covering(values: impl Iterator<Item = f64>) -> Self {
        Decibels::within(RANGE, values)
    }

    /// An axis that shows all values no more than `range` dB under the highest.
    pub(crate) fn within(range: f64, values: impl Iterator<Item = f64>) -> Self {
        let mut low = f64::INFINITY;
        let mut high = f64::NEG_INFINITY;
        for v in values.filter(|v| v.is_finite()) {
            low = low.min(v);
            high = high.max(v);
        }
        if high < low {
            (low, high) = (-30.0, 0.0);
        }
        low = low.max(high - range);
        let step = match high - low {
            d if d <= 12.0 => 2.0,
            d if d <= 24.0 => 3.0,
            d if d <= 48.0 => 6.0,
            _ => 10.0,
        };
        let top = (high / step).ceil() * step;
        let bottom = (low / step).floor() * step;
        Decibels { low: if top > bottom { bottom } else { top - step }, high: top, step }
    }

    /// Its lower and its upper edge.
    pub(crate) fn edges(&self) -> (f64, f64) {
        (self.low, self.high)
    }

    /// 0 at the bottom, 1 at the top; outside it may be less or more.
    pub(crate) fn share(&self, value: f64) -> f64 {
        (value - self.low) / (self.high - self.low)
    }

    /// From the top down.
    pub(crate) fn ticks(&self) -> Vec<f64> {
        let count = ((self.high - self.low) / self.step).round() as usize;
        (0..=count).map(|i| self.high - i as f64 * self.step).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn audio_ticks() {
        let labels: Vec<String> = LogFrequency::new(20.0, 20e3).ticks().into_iter().map(|t| t.1).collect();
        assert_eq!(labels, ["20", "50", "100", "200", "500", "1k", "2k", "5k", "10k", "20k"]);
    }

    #[test]
    fn edges_are_ticks_and_deep_nulls_are_cut() {
        let a = Decibels::covering([-200.0, -3.0, 7.3].into_iter());
        assert_eq!(a.ticks().first(), Some(&10.0));
        assert!(a.ticks().last().is_some_and(|t| *t >= -60.0));
        let flat = Decibels::covering([0.0].into_iter());
        assert!(flat.share(0.0).is_finite());
        let none = Decibels::covering(std::iter::empty());
        assert!(none.share(-10.0).is_finite());
    }
}
