//! The worst guitar that the tolerances allow, for one expectation.

use super::{Holds, Parameter, Study, built, drawn, of_one, together};
use crate::evaluate::FigureError;
use crate::expect::Verdict;
use crate::harness::Harness;
use crate::network::Network;
use crate::positions::Position;

/// Random corners from which the search also starts.
const STARTS: u64 = 8;
/// Rounds over all parts of one descent.
const ROUNDS: usize = 6;
/// Seed of the random corners: any will do, the same for everybody.
const SEED: u64 = 0x0057_0a57;

/// The worst that was found.
#[derive(Debug, Clone, PartialEq)]
pub struct Worst {
    /// What it makes of the expectation.
    pub holds: Holds,
    /// The same position by position.
    pub verdicts: Vec<Verdict>,
    /// Parts that are off there: the parameter and its deviation, −1 at the lower limit and 1 at the upper. Those that make no difference
    /// stand at 0.
    pub parts: Vec<(Parameter, f64)>,
    /// Guitars that were solved.
    pub solved: usize,
}

/// Seeks the combination of parts within their tolerances that holds an expectation least.
///
/// Each part alone is tried at both limits, which tells a corner; from there, and from random corners, parts go one by one to the limit or
/// to their nominal value if that is worse, until none is. That finds the worst corner where each part acts one way whatever the
/// others do (or nearly so, which is usual here); it is a search, not a proof.
///
/// # Errors
/// If a guitar can't be solved.
///
/// # Panics
/// If there is no expectation of that index.
pub fn worst(
    harness: &Harness,
    network: &Network,
    index: usize,
    positions: &[Position],
) -> Result<Worst, FigureError> {
    let mut search = Search { study: of_one(harness, network, index, positions)?, solved: 0 };
    let parameters = search.study.parameters().to_vec();
    let none = vec![0.0; parameters.len()];
    let nominal = search.depth(&none)?;
    let mut corner = none.clone();
    for i in 0..parameters.len() {
        let mut ends = [(nominal, 0.0); 2];
        for (end, at) in ends.iter_mut().zip([-1.0, 1.0]) {
            let mut trial = none.clone();
            trial[i] = at;
            *end = (search.depth(&trial)?, at);
        }
        let [low, high] = ends;
        let (depth, at) = if low.0 < high.0 { low } else { high };
        // A part that makes it no worse alone may do so beside the others: the rounds below see.
        corner[i] = if depth < nominal { at } else { 0.0 };
    }
    let mut best = search.descend(corner)?;
    if nominal < best.0 {
        best = (nominal, none);
    }
    for start in 0..STARTS {
        let corner = drawn(&parameters, SEED, start).iter().map(|d| d.signum()).collect();
        let found = search.descend(corner)?;
        if found.0 < best.0 {
            best = found;
        }
    }
    // What makes no difference is not worth a word.
    let (depth, mut deviations) = best;
    for i in 0..deviations.len() {
        let kept = std::mem::replace(&mut deviations[i], 0.0);
        if kept != 0.0 && search.depth(&deviations)? > depth {
            deviations[i] = kept;
        }
    }
    let verdicts = search.verdicts(&deviations)?;
    let parts = parameters.into_iter().zip(deviations).filter(|(_, deviation)| *deviation != 0.0);
    Ok(Worst { holds: together(&verdicts), verdicts, parts: parts.collect(), solved: search.solved })
}

struct Search {
    /// Of the one expectation.
    study: Study,
    solved: usize,
}

impl Search {
    fn verdicts(&mut self, deviations: &[f64]) -> Result<Vec<Verdict>, FigureError> {
        self.solved += 1;
        let guitar = built(&self.study.lean, deviations);
        let (_, mut verdicts) = self.study.solved(&[guitar])?.swap_remove(0);
        Ok(verdicts.swap_remove(0))
    }

    /// How well it holds: the margin; without one, whether.
    fn depth(&mut self, deviations: &[f64]) -> Result<f64, FigureError> {
        let found = together(&self.verdicts(deviations)?);
        Ok(match found.margin {
            Some(margin) if found.holds || margin < 0.0 => margin,
            _ if found.holds => f64::INFINITY,
            _ => f64::NEG_INFINITY,
        })
    }

    fn descend(&mut self, mut at: Vec<f64>) -> Result<(f64, Vec<f64>), FigureError> {
        let mut depth = self.depth(&at)?;
        for _ in 0..ROUNDS {
            let before = depth;
            for i in 0..at.len() {
                for end in [-1.0, 0.0, 1.0] {
                    let kept = at[i];
                    if kept == end {
                        continue;
                    }
                    at[i] = end;
                    let found = self.depth(&at)?;
                    if found < depth {
                        depth = found;
                    } else {
                        at[i] = kept;
                    }
                }
            }
            if depth >= before {
                break;
            }
        }
        Ok((depth, at))
    }
}
