//! What many samples have in common, in whole numbers: exact whatever the order.

use std::collections::BTreeMap;

use super::Sample;
use crate::harness::{Measure, Quantity};

/// Steps of a deviation.
const DEVIATION: f64 = 1e6;
/// Steps of a figure in one bin of its histogram.
const BIN: i64 = 1000;

/// How a figure becomes a whole number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Step {
    /// Steps of that size in the figure's unit.
    Linear(f64),
    /// Steps of that size in its natural logarithm.
    Log(f64),
}

impl Step {
    /// Decibels in 10⁻⁵, so that a bin is 0.01 dB; henries in 10⁻⁷, a bin 0.1 mH, since a reading may be negative; all else in 2·10⁻⁷ of
    /// the logarithm, a bin 0.02 %.
    #[must_use]
    pub fn of(quantity: Quantity) -> Step {
        match quantity.measure() {
            Measure::Decibels => Step::Linear(1e-5),
            Measure::Henries => Step::Linear(1e-7),
            Measure::Hertz | Measure::Ohms | Measure::Volts | Measure::Ratio => Step::Log(2e-7),
        }
    }

    /// Largest error of a quantile: half a bin, in the unit of a linear figure, as a share of a logarithmic one.
    #[must_use]
    pub fn error(self) -> f64 {
        let (Step::Linear(step) | Step::Log(step)) = self;
        0.5 * BIN as f64 * step
    }

    fn whole(self, value: f64) -> Option<i64> {
        let steps = match self {
            Step::Linear(step) => value / step,
            Step::Log(step) => libm::log(value) / step,
        };
        // What is no number of this kind (a zero on a log scale, an infinity) counts as without a value.
        (steps.abs() < 1e15).then(|| libm::round(steps) as i64)
    }

    fn value(self, steps: f64) -> f64 {
        match self {
            Step::Linear(step) => steps * step,
            Step::Log(step) => libm::exp(steps * step),
        }
    }
}

/// Sums of one deviation against a figure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Sums {
    /// Of the deviation, in steps.
    pub x: i128,
    /// Of its square.
    pub xx: i128,
    /// Of its product with the figure.
    pub xy: i128,
}

/// The smallest and largest of something, with the lowest sample that has it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Ends {
    /// (steps, sample).
    pub low: (i64, u64),
    /// (steps, sample).
    pub high: (i64, u64),
}

/// One figure over all samples.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Seen {
    /// Samples without a value.
    pub without: u64,
    /// Samples by bin.
    pub bins: BTreeMap<i64, u64>,
    /// Of the figure, in steps.
    pub sum: i128,
    /// Of its square.
    pub square: i128,
    /// For each parameter.
    pub against: Vec<Sums>,
    /// None without a value.
    pub ends: Option<Ends>,
}

/// One expectation over all samples.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Yield {
    /// Samples in which it holds.
    pub holds: u64,
    /// The smallest margin as an ordered whole number (see [`Yield::margin`]), and the lowest sample that has it.
    pub worst: Option<(i64, u64)>,
    /// The lowest sample in which it does not hold.
    pub fails: Option<u64>,
}

impl Yield {
    /// The smallest margin.
    #[must_use]
    pub fn margin(&self) -> Option<f64> {
        self.worst.map(|(ordered, _)| unordered(ordered))
    }
}

/// A double as a whole number of the same order.
fn ordered(value: f64) -> i64 {
    let bits = value.to_bits() as i64;
    if bits < 0 { i64::MIN.wrapping_sub(bits).wrapping_sub(1) } else { bits }
}

fn unordered(ordered: i64) -> f64 {
    let bits = if ordered < 0 { i64::MIN.wrapping_sub(ordered).wrapping_sub(1) } else { ordered };
    f64::from_bits(bits as u64)
}

/// All samples so far.
#[derive(Debug, Clone, PartialEq)]
pub struct Tally {
    steps: Vec<Step>,
    /// Numbers that are in, as ranges [from, to), rising and apart.
    pub ranges: Vec<(u64, u64)>,
    /// In order of the columns.
    pub figures: Vec<Seen>,
    /// In order of the expectations.
    pub yields: Vec<Yield>,
}

/// Two tallies that can't be one.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Apart {
    /// They are of different figures, parts or expectations.
    #[error("they are of different studies")]
    Other,
    /// A sample is in both.
    #[error("sample {0} is in both")]
    Twice(u64),
}

/// What a figure does over all samples.
#[derive(Debug, Clone, PartialEq)]
pub struct Spread {
    /// Samples with a value.
    pub count: u64,
    /// Smallest, with its sample.
    pub low: (f64, u64),
    /// Largest, with its sample.
    pub high: (f64, u64),
    /// Mean; of a logarithmic figure the geometric one.
    pub mean: f64,
    /// Standard deviation, in the figure's unit, or as a share of a logarithmic one.
    pub deviation: f64,
    /// Share of the variance that each parameter explains by itself, first order.
    pub shares: Vec<f64>,
}

impl Tally {
    /// Nothing yet, of figures of these quantities.
    #[must_use]
    pub fn empty(quantities: &[Quantity], parameters: usize, expectations: usize) -> Tally {
        let steps: Vec<Step> = quantities.iter().map(|quantity| Step::of(*quantity)).collect();
        let seen = Seen { against: vec![Sums::default(); parameters], ..Seen::default() };
        Tally {
            ranges: Vec::new(),
            figures: vec![seen; steps.len()],
            yields: vec![Yield::default(); expectations],
            steps,
        }
    }

    /// How many samples are in.
    #[must_use]
    pub fn count(&self) -> u64 {
        self.ranges.iter().map(|(from, to)| to - from).sum()
    }

    /// Whether that sample is in.
    #[must_use]
    pub fn has(&self, number: u64) -> bool {
        self.ranges.iter().any(|(from, to)| (*from..*to).contains(&number))
    }

    /// Takes a sample in, unless it is in already.
    pub fn add(&mut self, sample: &Sample) {
        if self.has(sample.number) {
            return;
        }
        self.ranges = joined(&self.ranges, &[(sample.number, sample.number + 1)]);
        let deviations: Vec<i64> =
            sample.deviations.iter().map(|d| libm::round(d * DEVIATION) as i64).collect();
        for ((seen, figure), step) in self.figures.iter_mut().zip(&sample.figures).zip(&self.steps) {
            match figure.ok().and_then(|value| step.whole(value)) {
                None => seen.without += 1,
                Some(y) => seen.add(y, &deviations, sample.number),
            }
        }
        for (counted, found) in self.yields.iter_mut().zip(&sample.expectations) {
            if found.holds {
                counted.holds += 1;
            } else {
                counted.fails = Some(counted.fails.map_or(sample.number, |n| n.min(sample.number)));
            }
            let worst = found.margin.map(|margin| (ordered(margin), sample.number));
            counted.worst = [counted.worst, worst].into_iter().flatten().min();
        }
    }

    /// Takes the samples of another tally in.
    ///
    /// # Errors
    /// If it is of another study, or one sample is in both.
    pub fn merge(&mut self, other: &Tally) -> Result<(), Apart> {
        let alike = self.steps == other.steps
            && self.yields.len() == other.yields.len()
            && self.figures.iter().zip(&other.figures).all(|(a, b)| a.against.len() == b.against.len());
        if !alike {
            return Err(Apart::Other);
        }
        for &(from, to) in &self.ranges {
            for &(other_from, other_to) in &other.ranges {
                if from < other_to && other_from < to {
                    return Err(Apart::Twice(from.max(other_from)));
                }
            }
        }
        self.ranges = joined(&self.ranges, &other.ranges);
        for (own, other) in self.figures.iter_mut().zip(&other.figures) {
            own.merge(other);
        }
        for (own, other) in self.yields.iter_mut().zip(&other.yields) {
            own.holds += other.holds;
            own.worst = [own.worst, other.worst].into_iter().flatten().min();
            own.fails = [own.fails, other.fails].into_iter().flatten().min();
        }
        Ok(())
    }

    /// The value that a share of the samples with a value do not exceed, right to [`Step::error`]; None without values.
    #[must_use]
    pub fn quantile(&self, column: usize, share: f64) -> Option<f64> {
        let seen = &self.figures[column];
        let count: u64 = seen.bins.values().sum();
        let rank = (libm::ceil(share * count as f64) as u64).clamp(1, count.max(1));
        let mut below = 0;
        let bin = seen.bins.iter().find_map(|(bin, n)| {
            below += n;
            (below >= rank).then_some(*bin)
        })?;
        let middle = bin as f64 * BIN as f64 + 0.5 * (BIN - 1) as f64;
        // Never beyond what was seen.
        let ends = seen.ends?;
        let middle = middle.clamp(ends.low.0 as f64, ends.high.0 as f64);
        Some(self.steps[column].value(middle))
    }

    /// What a figure does; None without values.
    #[must_use]
    pub fn spread(&self, column: usize) -> Option<Spread> {
        let (seen, step) = (&self.figures[column], self.steps[column]);
        let ends = seen.ends?;
        let count: u64 = seen.bins.values().sum();
        let n = i128::from(count);
        let variance = |sum: i128, square: i128| (n * square - sum * sum) as f64;
        let own = variance(seen.sum, seen.square);
        let share = |sums: &Sums| {
            let covariance = (n * sums.xy - sums.x * seen.sum) as f64;
            let both = variance(sums.x, sums.xx) * own;
            if both > 0.0 { covariance * covariance / both } else { 0.0 }
        };
        let (Step::Linear(size) | Step::Log(size)) = step;
        Some(Spread {
            count,
            low: (step.value(ends.low.0 as f64), ends.low.1),
            high: (step.value(ends.high.0 as f64), ends.high.1),
            mean: step.value(seen.sum as f64 / count as f64),
            deviation: own.max(0.0).sqrt() / count as f64 * size,
            shares: seen.against.iter().map(share).collect(),
        })
    }

    /// How a column's figures are counted.
    #[must_use]
    pub fn step(&self, column: usize) -> Step {
        self.steps[column]
    }
}

impl Seen {
    fn add(&mut self, y: i64, deviations: &[i64], number: u64) {
        *self.bins.entry(y.div_euclid(BIN)).or_default() += 1;
        let wide = i128::from(y);
        self.sum += wide;
        self.square += wide * wide;
        for (sums, &x) in self.against.iter_mut().zip(deviations) {
            let x = i128::from(x);
            sums.x += x;
            sums.xx += x * x;
            sums.xy += x * wide;
        }
        self.reach((y, number), (y, number));
    }

    fn merge(&mut self, other: &Seen) {
        self.without += other.without;
        for (bin, n) in &other.bins {
            *self.bins.entry(*bin).or_default() += n;
        }
        self.sum += other.sum;
        self.square += other.square;
        for (own, other) in self.against.iter_mut().zip(&other.against) {
            own.x += other.x;
            own.xx += other.xx;
            own.xy += other.xy;
        }
        if let Some(ends) = other.ends {
            self.reach(ends.low, ends.high);
        }
    }

    /// Of equal ends the lowest sample counts.
    fn reach(&mut self, low: (i64, u64), high: (i64, u64)) {
        let ends = self.ends.unwrap_or(Ends { low, high });
        let higher = |(value, number): (i64, u64)| (value, std::cmp::Reverse(number));
        self.ends = Some(Ends {
            low: ends.low.min(low),
            high: if higher(high) > higher(ends.high) { high } else { ends.high },
        });
    }
}

/// Ranges of both, those that touch made one.
fn joined(a: &[(u64, u64)], b: &[(u64, u64)]) -> Vec<(u64, u64)> {
    let mut all: Vec<(u64, u64)> = a.iter().chain(b).copied().collect();
    all.sort_unstable();
    let mut joined: Vec<(u64, u64)> = Vec::with_capacity(all.len());
    for (from, to) in all {
        match joined.last_mut() {
            Some(last) if last.1 >= from => last.1 = last.1.max(to),
            _ => joined.push((from, to)),
        }
    }
    joined
}
