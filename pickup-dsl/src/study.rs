//! Guitars built from one file: parts drawn within their tolerances, all figures of each guitar, and what they have in common.
//!
//! ```text
//! let study = Study::new(&harness, &network, &positions, seed)?;      // shared by threads
//! let mut tally = study.tally();
//! for number in 0..1000 {
//!     tally.add(&study.sample(number)?);                              // in any order, on any machine
//! }
//! tally.merge(&other)?;                                               // of other numbers: as if they had been added here
//! ```
//!
//! A sample depends on the seed, its number and the file, on nothing else: the draws of sample n are those of stream n of a ChaCha8
//! generator, one after the other in order of the parts. A tally holds whole numbers only (counts, and sums of figures in fixed small
//! steps), so that adding is exact: any split into parts merges to the same tally, to the last digit. It does not grow with
//! the number of samples.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

use crate::evaluate::{Evaluator, Extent, FigureError, Plan, all_of};
use crate::expect::{Found, Judge, Verdict, shown};
use crate::figures::{Figure, PositionFigures};
use crate::harness::tolerance::{Sort, each, limits};
use crate::harness::{Harness, Quantity, Valued};
use crate::network::{Knobs, Network};
use crate::positions::Position;
use crate::source::Span;

mod builds;
mod tally;
#[cfg(test)]
mod tests;
mod worst;

pub use builds::{SAMPLES, SEED, diagnose_share, diagnose_worst, of_one};
pub use tally::{Apart, Ends, Seen, Spread, Step, Sums, Tally, Yield};
pub use worst::{Worst, worst};

/// Samples that are well solved together, by [`Study::samples`]: more gain nothing.
pub const TOGETHER: usize = 16;

/// One value that differs from guitar to guitar.
#[derive(Debug, Clone, PartialEq)]
pub struct Parameter {
    /// What it is of: `volume track`, `C1`.
    pub name: String,
    /// Symbol of its SI unit; empty for a plain number.
    pub unit: &'static str,
    /// The file's value, in that unit.
    pub nominal: f64,
    /// How far it may be above that, as a share.
    pub up: f64,
    /// How far below.
    pub down: f64,
    /// Drawn from a normal distribution with a third of the limit as its standard deviation, cut at the limits; else evenly between them.
    pub normal: bool,
    /// Where the value is said.
    pub span: Span,
}

impl Parameter {
    /// The value at a deviation from −1, the lower limit, to 1, the upper.
    #[must_use]
    pub fn at(&self, deviation: f64) -> f64 {
        self.nominal * self.factor(deviation)
    }

    fn factor(&self, deviation: f64) -> f64 {
        factor((self.up, self.down), deviation)
    }
}

fn factor((up, down): (f64, f64), deviation: f64) -> f64 {
    1.0 + deviation * if deviation > 0.0 { up } else { down }
}

/// The limits of values that are off together, if they are off at all.
fn off(sort: Sort, values: &[&mut Valued]) -> Option<(f64, f64)> {
    let first = values.first()?;
    let (up, down) = limits(first, sort.usual());
    (first.value != 0.0 && (up > 0.0 || down > 0.0)).then_some((up, down))
}

/// The values of a harness that may be off, in order of its parts.
#[must_use]
pub fn parameters(harness: &Harness) -> Vec<Parameter> {
    let mut all = Vec::new();
    each(&mut harness.clone(), |sort, of, values| {
        let Some((up, down)) = off(sort, values) else { return };
        let Valued { value: nominal, normal, span, .. } = *values[0];
        all.push(Parameter { name: of.to_string(), unit: of.unit, nominal, up, down, normal, span });
    });
    all
}

/// The guitar with its parts at these deviations, one for each of [`parameters`].
#[must_use]
pub fn built(harness: &Harness, deviations: &[f64]) -> Harness {
    let mut built = harness.clone();
    let mut deviations = deviations.iter();
    each(&mut built, |sort, _, values| {
        let Some(limits) = off(sort, values) else { return };
        let factor = deviations.next().map_or(1.0, |&deviation| factor(limits, deviation));
        values.iter_mut().for_each(|value| value.value *= factor);
    });
    built
}

/// The deviations of one sample, from −1 to 1.
#[must_use]
pub fn drawn(parameters: &[Parameter], seed: u64, sample: u64) -> Vec<f64> {
    let mut key = [0; 32];
    key[..8].copy_from_slice(&seed.to_le_bytes());
    let mut draws = ChaCha8Rng::from_seed(key);
    draws.set_stream(sample);
    // 53 bits: every value is a double exactly.
    let mut even = || (draws.next_u64() >> 11) as f64 / (1_u64 << 53) as f64;
    parameters
        .iter()
        .map(|parameter| {
            if !parameter.normal {
                return 2.0 * even() - 1.0;
            }
            loop {
                // Box and Muller (1958); what lies beyond three standard deviations is drawn again.
                let (a, b) = (1.0 - even(), even());
                let radius = (-2.0 * libm::log(a)).sqrt();
                let z = radius * libm::cos(std::f64::consts::TAU * b);
                if z.abs() <= 3.0 {
                    return z / 3.0;
                }
            }
        })
        .collect()
}

/// One figure of one position at one outlet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Column {
    /// Index of the position.
    pub position: usize,
    /// Index in `Harness::outlets`.
    pub outlet: usize,
    /// Which figure, as the report shows it.
    pub quantity: Quantity,
    /// With the values of the file.
    pub nominal: Figure,
}

/// Whether an expectation holds in one guitar, and by how much.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Holds {
    /// In every position that it is about.
    pub holds: bool,
    /// The smallest distance to a limit, negative beyond it; None where nothing is measured.
    pub margin: Option<f64>,
}

/// One guitar.
#[derive(Debug, Clone, PartialEq)]
pub struct Sample {
    /// Its number.
    pub number: u64,
    /// How far its parts are off, from −1 to 1.
    pub deviations: Vec<f64>,
    /// In order of [`Study::columns`].
    pub figures: Vec<Figure>,
    /// In order of `Harness::expectations`.
    pub expectations: Vec<Holds>,
}

/// What is the same for all samples of a file.
#[derive(Debug)]
pub struct Study {
    lean: Harness,
    seed: u64,
    positions: Vec<Position>,
    plan: Plan,
    parameters: Vec<Parameter>,
    columns: Vec<Column>,
}

impl Study {
    /// Of these positions, knobs at rest.
    ///
    /// # Errors
    /// If the guitar with the values of the file can't be solved.
    pub fn new(
        harness: &Harness,
        network: &Network,
        positions: &[Position],
        seed: u64,
    ) -> Result<Study, FigureError> {
        let evaluator = Evaluator::new(harness, network)?;
        let words = harness.expectations.iter().any(|expectation| expectation.claim.is_of_words());
        let extent = if words { Extent::All } else { Extent::Numbers };
        let plan = evaluator.plan(positions, &Knobs::default(), extent)?;
        let figures = evaluator.all(&plan)?;
        let columns = columns(harness, &figures).map(|(position, outlet, quantity)| Column {
            position,
            outlet,
            quantity,
            nominal: shown(&evaluator, quantity, &figures[position], outlet),
        });
        let columns = columns.collect();
        // Words that no figure needs are not copied for each sample.
        let mut lean = harness.clone();
        lean.assumptions = Vec::new();
        lean.derived = Vec::new();
        lean.short_forms = Vec::new();
        let parameters = parameters(harness);
        Ok(Study { lean, seed, positions: positions.to_vec(), plan, parameters, columns })
    }

    /// The values that differ, in order of the parts.
    #[must_use]
    pub fn parameters(&self) -> &[Parameter] {
        &self.parameters
    }

    /// The figures that are taken, position by position.
    #[must_use]
    pub fn columns(&self) -> &[Column] {
        &self.columns
    }

    /// The positions, in order.
    #[must_use]
    pub fn positions(&self) -> &[Position] {
        &self.positions
    }

    /// An empty tally.
    #[must_use]
    pub fn tally(&self) -> Tally {
        let quantities: Vec<Quantity> = self.columns.iter().map(|column| column.quantity).collect();
        Tally::empty(&quantities, self.parameters.len(), self.lean.expectations.len())
    }

    /// The guitar of one sample.
    #[must_use]
    pub fn guitar(&self, number: u64) -> (Vec<f64>, Harness) {
        let deviations = drawn(&self.parameters, self.seed, number);
        let guitar = built(&self.lean, &deviations);
        (deviations, guitar)
    }

    /// One sample.
    ///
    /// # Errors
    /// If a position of it can't be solved.
    pub fn sample(&self, number: u64) -> Result<Sample, FigureError> {
        Ok(self.together(&[number])?.swap_remove(0))
    }

    /// Several samples, each as [`Study::sample`] gives it, in less time than one after the other.
    #[must_use]
    pub fn samples(&self, numbers: &[u64]) -> Vec<(u64, Result<Sample, FigureError>)> {
        match self.together(numbers) {
            Ok(samples) => numbers.iter().copied().zip(samples.into_iter().map(Ok)).collect(),
            // Which one it was is told by each alone.
            Err(_) => numbers.iter().map(|&number| (number, self.sample(number))).collect(),
        }
    }

    fn together(&self, numbers: &[u64]) -> Result<Vec<Sample>, FigureError> {
        let (deviations, guitars): (Vec<_>, Vec<_>) =
            numbers.iter().map(|&number| self.guitar(number)).unzip();
        let solved = self.solved(&guitars)?;
        let samples = numbers.iter().zip(deviations).zip(solved);
        let of = |((&number, deviations), (figures, verdicts)): ((&u64, _), Solved)| {
            let expectations = verdicts.iter().map(|verdicts| together(verdicts)).collect();
            Sample { number, deviations, figures, expectations }
        };
        Ok(samples.map(of).collect())
    }

    /// What each guitar is found to be.
    fn solved(&self, guitars: &[Harness]) -> Result<Vec<Solved>, FigureError> {
        let networks = guitars.iter().map(Network::of).collect::<Result<Vec<_>, _>>()?;
        let planned = guitars.iter().zip(&networks);
        let evaluators = planned
            .map(|(guitar, network)| Evaluator::planned(guitar, network, &self.plan))
            .collect::<Result<Vec<_>, _>>()?;
        let all = all_of(&evaluators, &self.plan)?;
        evaluators.iter().zip(all).map(|(evaluator, figures)| self.judged(evaluator, &figures)).collect()
    }

    fn judged(&self, evaluator: &Evaluator<'_>, figures: &[PositionFigures]) -> Result<Solved, FigureError> {
        let value =
            |column: &Column| shown(evaluator, column.quantity, &figures[column.position], column.outlet);
        let taken = self.columns.iter().map(value).collect();
        let expectations = evaluator.harness().expectations.len();
        if expectations == 0 {
            return Ok((taken, Vec::new()));
        }
        let solve = |p: &Position, k: &Knobs| evaluator.figures(p, k);
        let mut judge = Judge::new(evaluator, &self.positions, &solve).knowing(figures);
        let verdicts = (0..expectations).map(|i| judge.verdicts(i)).collect::<Result<_, _>>()?;
        Ok((taken, verdicts))
    }
}

/// Figures in order of the columns, and for each expectation what is found of it.
type Solved = (Vec<Figure>, Vec<Vec<Verdict>>);

/// What one guitar makes of an expectation, all positions together.
fn together(verdicts: &[Verdict]) -> Holds {
    let margin = |found: &Found| match found {
        Found::Number { margin, .. } => *margin,
        Found::Words(_) => None,
    };
    Holds {
        holds: !verdicts.is_empty() && verdicts.iter().all(|v| v.holds),
        margin: verdicts.iter().filter_map(|v| margin(&v.found)).min_by(f64::total_cmp),
    }
}

fn columns(harness: &Harness, figures: &[PositionFigures]) -> impl Iterator<Item = (usize, usize, Quantity)> {
    let outlets = harness.outlets.len();
    (0..figures.len()).flat_map(move |position| {
        (0..outlets)
            .flat_map(move |outlet| Quantity::ALL.iter().map(move |&quantity| (position, outlet, quantity)))
    })
}
