//! Expectations judged: figures of positions against the limits that the file sets.
//!
//! ```text
//! let mut judge = Judge::new(&evaluator, &positions, &|position, knobs| evaluator.figures(position, knobs));
//! for index in 0..harness.expectations.len() {
//!     let verdicts = judge.verdicts(index)?;          // one a position and outlet that it is about
//! }
//! ```
//!
//! An expectation is about the positions given that one of its places covers; about those that it names even where they are not given.
//! A figure without a value is below every limit where nothing sounds or hums (−∞ dB), and above every limit where the meter reads open or
//! nothing hums under the sound; any other figure without a value fails whatever the limit.

use std::collections::BTreeMap;

use crate::evaluate::{Evaluator, FigureError};
use crate::figures::{Across, CANCELS, Figure, OutletFigures, PositionFigures, Why};
use crate::harness::{Base, Claim, Expectation, Harness, Limits, PartId, Place, Quantity};
use crate::network::Knobs;
use crate::positions::{Position, next_throw, position_of};

mod coils;
mod response;
#[cfg(test)]
mod tests;
mod words;

pub use words::{amount, diagnose, distance, place, said};

/// One expectation in one position, at one outlet.
#[derive(Debug, Clone, PartialEq)]
pub struct Verdict {
    /// Where.
    pub position: Position,
    /// The position that a step goes to.
    pub to: Option<Position>,
    /// Index in `Harness::outlets`.
    pub outlet: usize,
    /// What was found.
    pub found: Found,
    /// Whether it holds.
    pub holds: bool,
}

/// What was found.
#[derive(Debug, Clone, PartialEq)]
pub enum Found {
    /// A number to be held to limits, in the unit of the quantity, or a share of what it is held against.
    Number {
        /// ±∞ where a figure without a value is below or above every limit.
        value: Figure,
        /// Where over a band it is worst, Hz.
        at: Option<f64>,
        /// Distance to the nearer limit, negative outside; None without a finite value.
        margin: Option<f64>,
    },
    /// Coils in play, or what is heard, in words.
    Words(String),
}

/// What solves a position with its knobs somewhere.
pub type Solve<'s> = dyn Fn(&Position, &Knobs) -> Result<PositionFigures, FigureError> + 's;

/// Throws, and knobs away from rest with the bits of their settings.
type State = (Vec<usize>, Vec<(PartId, u64)>);

/// Judges the expectations of one guitar; what is solved once is kept.
pub struct Judge<'j, 'a> {
    evaluator: &'j Evaluator<'a>,
    positions: &'j [Position],
    solve: &'j Solve<'j>,
    seen: BTreeMap<State, PositionFigures>,
}

impl std::fmt::Debug for Judge<'_, '_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Judge").field("seen", &self.seen.len()).finish_non_exhaustive()
    }
}

impl<'j, 'a> Judge<'j, 'a> {
    /// Of the guitar of an evaluator, on these positions.
    #[must_use]
    pub fn new(evaluator: &'j Evaluator<'a>, positions: &'j [Position], solve: &'j Solve<'j>) -> Self {
        Judge { evaluator, positions, solve, seen: BTreeMap::new() }
    }

    /// Takes figures of the positions with knobs at rest that are there already, in order of the positions.
    #[must_use]
    pub fn knowing(mut self, figures: &[PositionFigures]) -> Self {
        for (position, figures) in self.positions.iter().zip(figures) {
            self.seen.insert((position.throws.clone(), Vec::new()), figures.clone());
        }
        self
    }

    fn harness(&self) -> &'a Harness {
        self.evaluator.harness()
    }

    /// What is found of one expectation, in order of the positions and outlets. Never empty, but for a step where no position has a
    /// neighbour.
    ///
    /// # Errors
    /// A position that can't be solved.
    ///
    /// # Panics
    /// If there is no expectation of that index.
    pub fn verdicts(&mut self, index: usize) -> Result<Vec<Verdict>, FigureError> {
        let expectation = &self.harness().expectations[index];
        let knobs = knobs_of(expectation);
        if let Claim::Step { of, limits } = expectation.claim {
            return self.steps(expectation, of, limits, &knobs);
        }
        let mut verdicts = Vec::new();
        for position in about(self.harness(), expectation, self.positions) {
            for outlet in self.outlets(expectation) {
                let (found, holds) = self.find(expectation, &position, outlet, &knobs)?;
                verdicts.push(Verdict { position: position.clone(), to: None, outlet, found, holds });
            }
        }
        Ok(verdicts)
    }

    fn outlets(&self, expectation: &Expectation) -> Vec<usize> {
        let outlets = &self.harness().outlets;
        let is_meant = |i: &usize| expectation.hot.is_none_or(|hot| outlets[*i].hot == hot);
        (0..outlets.len()).filter(is_meant).collect()
    }

    fn find(
        &mut self,
        expectation: &Expectation,
        position: &Position,
        outlet: usize,
        knobs: &Knobs,
    ) -> Result<(Found, bool), FigureError> {
        if let Claim::Response { limits, against, band } = &expectation.claim {
            return response::find(self.evaluator, position, outlet, knobs, (*limits, against, *band));
        }
        let own = self.figures(position, knobs)?.clone();
        let heard = &own.outlets[outlet];
        let in_words = |holds| (Found::Words(crate::figures::words::words(heard)), holds);
        Ok(match &expectation.claim {
            Claim::Figure { quantity, limits, base, ratio } => {
                let value = against_every_limit(read(*quantity, &own, outlet), *quantity, heard);
                let base = self.base(*quantity, base, position, outlet)?;
                held(relate(value, base, *ratio), *limits, None)
            }
            Claim::Without(quantity) => {
                let value = read(*quantity, &own, outlet);
                let holds = value.is_err();
                (Found::Number { value, at: None, margin: None }, holds)
            }
            Claim::Sound => in_words(heard.level.shown.is_ok()),
            Claim::Silence => in_words(heard.level.shown == Err(Why::Silent)),
            Claim::HumCancels => {
                let value = against_every_limit(heard.hum.cancelling, Quantity::HumCancelling, heard);
                held(value, HUM, None)
            }
            Claim::Coils { of, linked, in_phase } => {
                in_words(coils::hold(self.evaluator, heard, of, *linked, *in_phase))
            }
            // Told by `find` and `verdicts` before they come here.
            Claim::Response { .. } | Claim::Step { .. } => in_words(false),
        })
    }

    /// The figure that a value is held against; None: nothing.
    fn base(
        &mut self,
        quantity: Quantity,
        base: &Base,
        position: &Position,
        outlet: usize,
    ) -> Result<Option<Figure>, FigureError> {
        let rest = Knobs::default();
        let figures = match base {
            Base::Nothing => return Ok(None),
            // What is heard there is known; its meter is not, and in another file can't be.
            Base::Reference => {
                let reference = self.evaluator.reference();
                if !quantity.is_metered() || reference.another_file {
                    return Ok(Some(of_reference(self.evaluator, quantity, outlet)));
                }
                self.figures(&reference.position, &rest)?
            }
            Base::Position(choice) => {
                let position = position_of(self.harness(), choice);
                self.figures(&position, &rest)?
            }
            Base::Itself => self.figures(position, &rest)?,
        };
        Ok(Some(read(quantity, figures, outlet)))
    }

    fn figures(&mut self, position: &Position, knobs: &Knobs) -> Result<&PositionFigures, FigureError> {
        let turned = knobs.0.iter().map(|(&pot, setting)| (pot, setting.to_bits())).collect();
        let key = (position.throws.clone(), turned);
        if !self.seen.contains_key(&key) {
            let figures = (self.solve)(position, knobs)?;
            self.seen.insert(key.clone(), figures);
        }
        Ok(&self.seen[&key])
    }

    fn steps(
        &mut self,
        expectation: &Expectation,
        of: Option<PartId>,
        limits: Limits,
        knobs: &Knobs,
    ) -> Result<Vec<Verdict>, FigureError> {
        let harness = self.harness();
        let meant = |position: &Position| covers(harness, expectation, position);
        let mut verdicts = Vec::new();
        for (switch, (part, _)) in harness.switches().enumerate() {
            if of.is_some_and(|of| of != part) {
                continue;
            }
            for from in self.positions.iter().filter(|p| meant(p)) {
                let next = next_throw(self.positions, &from.throws, switch).map(|i| &self.positions[i]);
                let Some(to) = next.filter(|to| meant(to)) else { continue };
                for outlet in self.outlets(expectation) {
                    let mut level = |position| -> Result<Figure, FigureError> {
                        Ok(self.figures(position, knobs)?.outlets[outlet].string_level.shown)
                    };
                    let (a, b) = (level(from)?, level(to)?);
                    let step = a.and_then(|a| b.map(|b| (b - a).abs()));
                    let (found, holds) = held(step, limits, None);
                    verdicts.push(Verdict {
                        position: from.clone(),
                        to: Some(to.clone()),
                        outlet,
                        found,
                        holds,
                    });
                }
            }
        }
        Ok(verdicts)
    }
}

/// Hum that cancels.
const HUM: Limits = Limits { low: None, high: Some(CANCELS) };

/// What a claim allows, in the unit of its quantity or as a share; None of what is said in words.
#[must_use]
pub fn limits(claim: &Claim) -> Option<Limits> {
    match claim {
        Claim::Figure { limits, .. } | Claim::Step { limits, .. } | Claim::Response { limits, .. } => {
            Some(*limits)
        }
        Claim::HumCancels => Some(HUM),
        Claim::Without(_) | Claim::Sound | Claim::Silence | Claim::Coils { .. } => None,
    }
}

/// The knobs of an expectation, away from rest.
#[must_use]
pub fn knobs_of(expectation: &Expectation) -> Knobs {
    Knobs(expectation.knobs.iter().copied().collect())
}

/// The positions that an expectation is about.
#[must_use]
pub fn about(harness: &Harness, expectation: &Expectation, positions: &[Position]) -> Vec<Position> {
    let found: Vec<Position> =
        positions.iter().filter(|position| covers(harness, expectation, position)).cloned().collect();
    let named = |place: &Place| match place {
        Place::Position(choice) => Some(position_of(harness, choice)),
        // What is in none of the positions is asked of the combination itself.
        Place::Throws(choice) if found.is_empty() => Some(position_of(harness, choice)),
        Place::Throws(_) | Place::Everywhere => None,
    };
    let more = expectation.places.iter().filter_map(named).filter(|p| !found.contains(p));
    let more: Vec<Position> = more.collect();
    found.into_iter().chain(more).collect()
}

fn covers(harness: &Harness, expectation: &Expectation, position: &Position) -> bool {
    let places = &expectation.places;
    places.is_empty() || places.iter().any(|place| place.covers(harness, &position.throws))
}

/// A value held to limits.
fn held(value: Figure, limits: Limits, at: Option<f64>) -> (Found, bool) {
    let margin = value.ok().map(|value| limits.margin(value));
    let holds = margin.is_some_and(|margin| margin >= 0.0);
    let margin = margin.filter(|margin| margin.is_finite());
    (Found::Number { value, at, margin }, holds)
}

/// A value over what it is held against.
fn relate(value: Figure, base: Option<Figure>, ratio: bool) -> Figure {
    let Some(base) = base else { return value };
    let value = value?;
    let base = base.map_err(|_| Why::ReferenceSilent)?;
    Ok(if ratio { value / base } else { value - base })
}

/// Nothing that sounds is below every level, and what nothing joins is above every resistance.
fn against_every_limit(value: Figure, quantity: Quantity, heard: &OutletFigures) -> Figure {
    match (quantity, value) {
        (Quantity::SignalOverHum, Err(_)) if heard.signal_over_hum.no_hum => Ok(f64::INFINITY),
        (
            Quantity::Plateau
            | Quantity::Level
            | Quantity::StringLevel
            | Quantity::Hum
            | Quantity::Buzz
            | Quantity::HumCancelling,
            Err(Why::Silent),
        ) => Ok(f64::NEG_INFINITY),
        (
            Quantity::Meter | Quantity::MeterVolumesDown | Quantity::Impedance | Quantity::ImpedancePeak,
            Err(Why::Open),
        ) => Ok(f64::INFINITY),
        _ => value,
    }
}

/// A quantity of a position at an outlet, as the report gives it, levels and hum re 1 V.
pub fn read(quantity: Quantity, figures: &PositionFigures, outlet: usize) -> Figure {
    let across = if outlet == 0 { Across::TipSleeve } else { Across::RingSleeve };
    let meter = || figures.meter.iter().find(|m| m.across == across).or(figures.meter.first());
    match quantity {
        Quantity::Meter => meter().map_or(Err(Why::NotReadable), |m| m.at_rest.ohms),
        Quantity::MeterVolumesDown => meter().map_or(Err(Why::NotReadable), |m| m.volumes_at_zero.ohms),
        _ => read_outlet(quantity, &figures.outlets[outlet]),
    }
}

/// A quantity as the report shows it: levels and hum against the reference.
pub fn shown(
    evaluator: &Evaluator<'_>,
    quantity: Quantity,
    figures: &PositionFigures,
    outlet: usize,
) -> Figure {
    let own = read(quantity, figures, outlet);
    let base = quantity.is_relative().then(|| of_reference(evaluator, quantity, outlet));
    relate(own, base, false)
}

/// What is heard of the reference at an outlet.
fn of_reference(evaluator: &Evaluator<'_>, quantity: Quantity, outlet: usize) -> Figure {
    evaluator
        .reference()
        .outlets
        .get(outlet)
        .map_or(Err(Why::ReferenceSilent), |its| read_outlet(quantity, its))
}

fn read_outlet(quantity: Quantity, heard: &OutletFigures) -> Figure {
    match quantity {
        Quantity::Resonance => heard.resonance_frequency(),
        Quantity::Height => heard.height,
        Quantity::Sharpness => heard.q(),
        Quantity::Corner => heard.corner,
        Quantity::LastCorner => heard.last_corner,
        Quantity::Plateau => heard.plateau,
        Quantity::Level => heard.level.shown,
        Quantity::StringLevel => heard.string_level.shown,
        Quantity::Brightness => heard.brightness.shown,
        Quantity::Hum => heard.hum.fundamental,
        Quantity::Buzz => heard.hum.buzz,
        Quantity::HumCancelling => heard.hum.cancelling,
        Quantity::SignalOverHum => heard.signal_over_hum.value,
        Quantity::Impedance => heard.impedance.at_1k,
        Quantity::ImpedancePeak => heard.impedance.max,
        Quantity::Inductance => heard.lcr.at_1k,
        Quantity::Noise => heard.noise.a_weighted,
        Quantity::NoiseFlat => heard.noise.flat,
        // A meter's leads are on the jack, not behind it.
        Quantity::Meter | Quantity::MeterVolumesDown => Err(Why::NotReadable),
    }
}
