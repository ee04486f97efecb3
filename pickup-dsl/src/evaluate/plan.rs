//! Many guitars of one wiring: what depends on the wiring alone is made once.
//!
//! A study of tolerances makes one harness and one [`Network`] a sample, with other values in the same file:
//!
//! ```text
//! let nominal = Evaluator::new(&harness, &network)?;
//! let plan = nominal.plan(&positions, &knobs)?;
//! for each sample:                                 // on any number of threads: the plan is shared
//!     let other = Network::of(&sample)?;           // the harness with other values
//!     let figures = Evaluator::planned(&sample, &other, &plan)?.all(&plan)?;
//! ```
//!
//! A figure of a sample depends on the plan and on its own values, never on other samples. A sample whose values change the structure (a
//! resistance that becomes 0, a capacitance that vanishes) is laid out anew, and its figures are right all the same.

use super::{Evaluator, FigureError, Subject, explain, lifts};
use crate::figures::{Frame, Frames, PositionFigures, connections, meter_layouts};
use crate::harness::Harness;
use crate::network::{Knobs, Loads, Network, Setting};
use crate::positions::Position;

/// Positions with what is the same for all values of one wiring.
#[derive(Debug, Clone)]
pub struct Plan {
    knobs: Knobs,
    positions: Vec<(Position, Frames)>,
    /// None: in another file.
    reference: Option<Frames>,
}

impl<'a> Evaluator<'a> {
    /// What figures of these positions need besides values.
    ///
    /// # Errors
    /// The first position that has no layout.
    pub fn plan(&self, positions: &[Position], knobs: &Knobs) -> Result<Plan, FigureError> {
        let of = |position: &Position, knobs: &Knobs| self.subject.frames(&position.throws, knobs);
        let positions = positions.iter().map(|p| Ok((p.clone(), of(p, knobs)?)));
        let reference = match self.elsewhere {
            Some(_) => None,
            None => Some(of(&self.reference.position, &Knobs::default())?),
        };
        Ok(Plan {
            knobs: knobs.clone(),
            positions: positions.collect::<Result<_, FigureError>>()?,
            reference,
        })
    }

    /// As [`Evaluator::new`], for a harness of the same wiring as that of the plan.
    ///
    /// # Errors
    /// As [`Evaluator::new`].
    pub fn planned(
        harness: &'a Harness,
        network: &'a Network,
        plan: &Plan,
    ) -> Result<Evaluator<'a>, FigureError> {
        Evaluator::made(harness, network, plan.reference.as_ref())
    }

    /// All figures of the plan's positions, in its order and with its knobs.
    ///
    /// # Errors
    /// The first position that can't be solved.
    pub fn all(&self, plan: &Plan) -> Result<Vec<PositionFigures>, FigureError> {
        let figures =
            |(position, frames): &(Position, Frames)| self.figures_on(position, &plan.knobs, Some(frames));
        plan.positions.iter().map(figures).collect()
    }
}

impl Subject<'_> {
    fn frames(&self, throws: &[usize], knobs: &Knobs) -> Result<Frames, FigureError> {
        let Subject { harness, ref network, .. } = *self;
        let setting = Setting::new(throws, knobs, Loads::Plugged);
        let frame = |setting: &Setting<'_>| {
            Frame::of(network, &network.values(harness, setting)).map_err(|e| explain(network, e))
        };
        let outlets = 0..network.outlets.len();
        let wanted =
            lifts(&outlets.map(|outlet| connections(harness, network, &setting, outlet)).collect::<Vec<_>>());
        let lifted = wanted
            .iter()
            .enumerate()
            .map(|(j, wanted)| wanted.then(|| frame(&Setting { lifted: Some(j), ..setting })).transpose());
        Ok(Frames {
            plugged: frame(&setting)?,
            bare: frame(&Setting::new(throws, knobs, Loads::Bare))?,
            lifted: lifted.collect::<Result<_, FigureError>>()?,
            meter: meter_layouts(harness, network, throws, knobs).map_err(|e| explain(network, e))?,
        })
    }
}
