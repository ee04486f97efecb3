//! Many guitars of one wiring: what depends on the wiring alone is made once.
//!
//! A study of tolerances makes one harness and one [`Network`] a sample, with other values in the same file:
//!
//! ```text
//! let nominal = Evaluator::new(&harness, &network)?;
//! let plan = nominal.plan(&positions, &knobs, Extent::All)?;
//! for each sample:                                 // on any number of threads: the plan is shared
//!     let other = Network::of(&sample)?;           // the harness with other values
//!     let figures = Evaluator::planned(&sample, &other, &plan)?.all(&plan)?;
//! ```
//!
//! A figure of a sample depends on the plan and on its own values, never on other samples. What the file's values show of a position (where
//! the response turns, how finely it has to be sampled) is looked for again in each sample, and checked; a sample that is not as expected,
//! or whose values change the structure (a resistance that becomes 0), is looked at as if it were alone. Its figures are the same either
//! way, to about 1e-9.

use std::borrow::Cow;

use solver::SolveError;

use super::{Against, Evaluator, FigureError, Known, Subject, explain, lifts};
use crate::figures::{Frame, Frames, OutletFigures, PositionFigures, Track, Wiring, connections, ohmmeters};
use crate::harness::Harness;
use crate::network::{Knobs, Loads, Network, Setting};
use crate::positions::Position;

/// Which figures a plan is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Extent {
    /// All of them.
    All,
    /// Those that are numbers: the list of coils stays empty, and no coil is said to be readable by the meter.
    Numbers,
}

/// Positions with what is the same for all values of one wiring.
#[derive(Debug, Clone)]
pub struct Plan {
    knobs: Knobs,
    extent: Extent,
    network: Network,
    wiring: Wiring,
    pub(super) positions: Vec<(Position, Frames)>,
    reference: Compared,
}

/// What positions are compared with.
#[derive(Debug, Clone)]
enum Compared {
    /// A position of the guitar itself.
    Here(Box<Frames>),
    /// One of another file: no sample changes it.
    Elsewhere(Vec<OutletFigures>),
}

impl<'a> Evaluator<'a> {
    /// What figures of these positions need besides values.
    ///
    /// # Errors
    /// The first position that can't be solved.
    pub fn plan(&self, positions: &[Position], knobs: &Knobs, extent: Extent) -> Result<Plan, FigureError> {
        let of = |position: &Position, knobs: &Knobs| self.subject.frames(&position.throws, knobs, extent);
        let positions = positions.iter().map(|p| Ok((p.clone(), of(p, knobs)?)));
        let reference = match self.elsewhere {
            Some(_) => Compared::Elsewhere(self.reference.outlets.clone()),
            None => Compared::Here(Box::new(of(&self.reference.position, &Knobs::default())?)),
        };
        Ok(Plan {
            knobs: knobs.clone(),
            extent,
            network: self.subject.network.clone().into_owned(),
            wiring: self.subject.wiring.clone().into_owned(),
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
        plan: &'a Plan,
    ) -> Result<Evaluator<'a>, FigureError> {
        let Some(twin) = plan.network.circuit.twin(&network.circuit) else {
            return Evaluator::new(harness, network);
        };
        let subject = Subject {
            harness,
            origins: super::Origins::of(harness, network),
            network: Cow::Borrowed(&plan.network),
            own: Some((network, twin)),
            wiring: Cow::Borrowed(&plan.wiring),
        };
        let (elsewhere, position) = super::compared(harness)?;
        let outlets = match &plan.reference {
            Compared::Elsewhere(outlets) => outlets.clone(),
            Compared::Here(frames) => {
                let known = Known { frames, extent: plan.extent };
                subject.outlets(&position.throws, &Knobs::default(), Some(known))?
            }
        };
        let another_file = elsewhere.is_some();
        let its = elsewhere.as_ref().map_or(harness, |elsewhere| elsewhere.harness);
        let reference = Against { harness: its, another_file, outlets, position };
        Ok(Evaluator { subject, elsewhere, reference })
    }

    /// All figures of the plan's positions, in its order and with its knobs.
    ///
    /// # Errors
    /// The first position that can't be solved.
    pub fn all(&self, plan: &Plan) -> Result<Vec<PositionFigures>, FigureError> {
        Ok(all_of(std::slice::from_ref(self), plan)?.swap_remove(0))
    }

    fn figures_of(
        &self,
        plan: &Plan,
        (position, frames): &(Position, Frames),
    ) -> Result<PositionFigures, FigureError> {
        // Frames are of the plan's network.
        let serves = self.subject.own.is_some();
        let known = Known { frames, extent: plan.extent };
        self.figures_on(position, &plan.knobs, serves.then_some(known))
    }
}

/// The same of several guitars: for each, its positions. Position by position, so that what the plan knows of one stays at hand.
///
/// # Errors
/// The first position that can't be solved.
pub fn all_of(evaluators: &[Evaluator<'_>], plan: &Plan) -> Result<Vec<Vec<PositionFigures>>, FigureError> {
    let mut all = vec![Vec::with_capacity(plan.positions.len()); evaluators.len()];
    for position in &plan.positions {
        for (evaluator, all) in evaluators.iter().zip(&mut all) {
            all.push(evaluator.figures_of(plan, position)?);
        }
    }
    Ok(all)
}

impl Subject<'_> {
    fn frames(&self, throws: &[usize], knobs: &Knobs, extent: Extent) -> Result<Frames, FigureError> {
        let Subject { harness, ref network, .. } = *self;
        let explained = |e| explain(network, e);
        let setting = Setting::new(throws, knobs, Loads::Plugged);
        let frame = |setting: &Setting<'_>| Frame::of(network, &self.values(setting)).map_err(explained);
        let outlets = 0..network.outlets.len();
        let lifted = match extent {
            Extent::Numbers => Vec::new(),
            Extent::All => lifts(
                &outlets.map(|outlet| connections(harness, network, &setting, outlet)).collect::<Vec<_>>(),
            ),
        };
        let lifted = lifted
            .iter()
            .enumerate()
            .map(|(j, wanted)| wanted.then(|| frame(&Setting { lifted: Some(j), ..setting })).transpose());
        let values = (self.values(&setting), self.values(&Setting::new(throws, knobs, Loads::Bare)));
        let framed = |values| Frame::of(network, values).map_err(explained);
        let (plugged, bare) = (framed(&values.0)?, framed(&values.1)?);
        let traced = self.solve(&setting, None).map_err(explained)?;
        let tracks = traced.into_iter().enumerate().map(|(outlet, (_, trace))| {
            let frames = (&plugged, &bare);
            let track =
                |trace| Track::new(network, frames, (&values.0, &values.1), (outlet, harness.mains), trace);
            trace.map(track).transpose()
        });
        Ok(Frames {
            tracks: tracks.collect::<Result<_, SolveError>>().map_err(explained)?,
            plugged,
            bare,
            lifted: lifted.collect::<Result<_, FigureError>>()?,
            meter: ohmmeters(harness, network, throws, knobs).map_err(explained)?,
        })
    }
}
