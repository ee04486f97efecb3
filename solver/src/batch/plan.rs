//! What is the same for every sample.

use std::sync::Arc;

use crate::batch::kernel::{Asked, Group, GroupResult, solve};
use crate::batch::rational::{Form as RationalForm, MOST_SUPPORTS, candidates, choose};
use crate::batch::run::BatchWorkspace;
use crate::batch::{Parameter, Request, Route, Transfer};
use crate::error::{SolveError, SolveErrorKind};
use crate::handle::{Element, Source};
use crate::lanes::{
    Entries, Fill, LANES, LaneProgram, LaneTape, Real, Registers, Still, driven, observed, reactive_elements,
};
use crate::layout::{Assembly, Layout};
use crate::point::Output;
use crate::quantity::Hertz;
use crate::values::{Numbers, Values};

/// A sweep takes the rational form from this many frequencies a support.
const WORTHWHILE: usize = 3;

/// The lanes of one layout, where it has an elimination program and every source is free.
#[derive(Debug, Clone)]
pub(super) struct Lanes {
    pub(super) program: Arc<LaneProgram>,
    pub(super) fill: Fill,
    pub(super) asked: Vec<Asked>,
    /// The sweep in groups of lanes, rad/s; the last group repeats its first frequency.
    pub(super) omega: Vec<Real>,
    pub(super) rational: Option<RationalForm>,
}

/// Many sets of values of one network over one list of frequencies: what is the same for all of them.
#[derive(Debug, Clone)]
pub struct Batch {
    pub(super) assembly: Arc<Assembly>,
    pub(super) nominal: Values,
    pub(super) transfers: Vec<Transfer>,
    pub(super) frequencies: Vec<Hertz>,
    pub(super) parameters: Vec<Parameter>,
    pub(super) registers: Registers,
    pub(super) lanes: Option<Lanes>,
}

impl Layout {
    /// Prepares many sets of values over one list of frequencies; see the [module](crate::batch).
    ///
    /// # Errors
    /// [`SolveErrorKind::ForeignValues`], [`SolveErrorKind::OtherClass`], [`SolveErrorKind::Coupling`] for the nominal values;
    /// [`SolveErrorKind::ForeignElement`] and [`SolveErrorKind::ForeignNode`] for what is asked; [`SolveErrorKind::NotProbed`];
    /// [`SolveErrorKind::Frequency`], also for any frequency of a DC layout; [`SolveErrorKind::Width`] if this processor has no such
    /// registers.
    pub fn batch(&self, nominal: &Values, request: &Request<'_>) -> Result<Batch, SolveError> {
        Batch::new(Arc::clone(&self.assembly), nominal, request)
    }
}

impl Batch {
    fn new(assembly: Arc<Assembly>, nominal: &Values, request: &Request<'_>) -> Result<Batch, SolveError> {
        assembly.check_values(nominal)?;
        let bad = request.frequencies.iter().find(|f| !(f.0 > 0.0 && f.0.is_finite() && !assembly.dc));
        if let Some(frequency) = bad {
            return Err(SolveErrorKind::Frequency(frequency.0).into());
        }
        for &parameter in request.parameters {
            let element = element_of(parameter);
            if !assembly.topology.owns(element) {
                return Err(SolveErrorKind::ForeignElement { element }.into());
            }
        }
        for transfer in request.transfers {
            let element = match transfer.source {
                Source::Voltage(e) => Element::from(e),
                Source::Current(e) => Element::from(e),
            };
            if !assembly.topology.owns(element) {
                return Err(SolveErrorKind::ForeignElement { element }.into());
            }
        }
        let registers = request.width.registers().ok_or(SolveErrorKind::Width)?;
        let lanes = match request.route {
            Route::Pointwise => None,
            route => Lanes::new(&assembly, &nominal.numbers, request, route, registers)?,
        };
        Ok(Batch {
            assembly,
            nominal: nominal.clone(),
            transfers: request.transfers.to_vec(),
            frequencies: request.frequencies.to_vec(),
            parameters: request.parameters.to_vec(),
            registers,
            lanes,
        })
    }

    /// Storage for one thread.
    pub fn workspace(&self) -> BatchWorkspace {
        BatchWorkspace::new(self)
    }

    /// How many frequencies fix the rational form, if that is the route taken first.
    pub fn supports(&self) -> Option<usize> {
        self.lanes.as_ref().and_then(|lanes| lanes.rational.as_ref()).map(|form| form.supports)
    }
}

fn element_of(parameter: Parameter) -> Element {
    match parameter {
        Parameter::Resistance(e) => e.into(),
        Parameter::Capacitance(e) => e.into(),
        Parameter::Inductance(e) => e.into(),
        Parameter::Coupling(e) => e.into(),
        Parameter::Gain(e) => e.into(),
    }
}

impl Lanes {
    /// `None` where only the pointwise route can tell what is determined.
    fn new(
        assembly: &Assembly,
        nominal: &Numbers,
        request: &Request<'_>,
        route: Route,
        registers: Registers,
    ) -> Result<Option<Lanes>, SolveError> {
        let mut outputs: Vec<(Output, Entries, Vec<Entries>)> = Vec::new();
        let mut decidable = true;
        for transfer in request.transfers {
            let entries = observed(assembly, transfer.output)?;
            decidable &= entries.is_some();
            let entries = entries.unwrap_or_default();
            let rows = driven(assembly, transfer.source);
            match outputs.last_mut().filter(|(output, ..)| *output == transfer.output) {
                Some((.., reads)) => reads.push(rows),
                None => outputs.push((transfer.output, entries, vec![rows])),
            }
        }
        let free = assembly.loops.is_empty()
            && assembly.spanning.is_empty()
            && assembly.source_spans.iter().all(Option::is_none);
        let Some(program) = assembly.lane_program().filter(|_| decidable && free) else {
            return Ok(None);
        };
        let asked: Vec<Asked> = outputs
            .into_iter()
            .map(|(_, entries, reads)| {
                let entries = program.columns(&entries);
                let reads: Vec<Entries> = reads.iter().map(|rows| program.rows(rows)).collect();
                Asked::new(program, entries, reads)
            })
            .collect();
        let omega: Vec<f64> = request.frequencies.iter().map(|f| std::f64::consts::TAU * f.0).collect();
        let mut lanes = Lanes {
            program: Arc::clone(program),
            fill: Fill::new(assembly),
            asked,
            omega: omega.chunks(LANES).map(Real::of).collect(),
            rational: None,
        };
        let supports = reactive_elements(assembly) / 2 + 1;
        let worthwhile = route == Route::Rational || omega.len() >= WORTHWHILE * (supports + 1);
        if route != Route::Tape && supports <= MOST_SUPPORTS && worthwhile {
            lanes.rational = lanes.rational(nominal, &omega, supports, registers);
        }
        Ok(Some(lanes))
    }

    /// One group of lanes: for the determinant (with the scales of the pivots) and what is read, or checked for what is read alone.
    pub(super) fn group<'a>(
        &'a self,
        still: &'a Still,
        omega: &'a Real,
        determinant: Option<&'a [f64]>,
    ) -> Group<'a> {
        Group { program: &self.program, still, omega, asked: &self.asked, determinant }
    }

    /// The longest vector that a solve needs, checked or not.
    pub(super) fn length(&self) -> usize {
        self.asked.iter().map(|asked| asked.lean.length).max().unwrap_or_default()
    }

    fn rational(
        &self,
        nominal: &Numbers,
        sweep: &[f64],
        supports: usize,
        registers: Registers,
    ) -> Option<RationalForm> {
        let (lowest, highest) =
            sweep.iter().fold((f64::INFINITY, 0.0_f64), |(low, high), &w| (low.min(w), high.max(w)));
        if !(lowest > 0.0 && highest < f64::MAX / 1e10) {
            return None;
        }
        let mut still = self.program.still.storage();
        let (g, c) = still.entries(&self.program.still);
        self.fill.run(nominal, &mut vec![0.0; self.fill.laws()], g, c);
        if !still.run(&self.program.still) {
            return None;
        }
        let mut tape = LaneTape::new(&self.program, self.length());
        let mut out = GroupResult::new(0);
        let candidates = candidates(lowest, highest);
        let groups: Vec<Real> = candidates.chunks(LANES).map(Real::of).collect();
        let mut run = |omega: &Real, scale: &[f64], tape: &mut LaneTape| {
            let group = Group { asked: &[], ..self.group(&still, omega, Some(scale)) };
            solve(registers, &group, tape, &mut out);
            (out.determinant, out.unsound)
        };
        // The middle of the sweep sets the scale of the pivots.
        run(&groups[groups.len() / 2], &vec![1.0; self.program.moving().len()], &mut tape);
        let scale = tape.scales(&self.program);
        let mut sizes = Vec::with_capacity(candidates.len());
        for omega in &groups {
            let (determinant, unsound) = run(omega, &scale, &mut tape);
            sizes.extend((0..LANES).map(|i| {
                let size =
                    determinant.re.0[i] * determinant.re.0[i] + determinant.im.0[i] * determinant.im.0[i];
                (unsound.0[i] == 0.0 && size > 0.0 && size.is_finite()).then(|| size.sqrt())
            }));
        }
        // What is left of the last group of lanes is held out, at least one frequency.
        let held = LANES - supports % LANES;
        let chosen = choose(&candidates, &sizes, supports, held)?;
        Some(RationalForm::new(&chosen, supports, &self.omega, scale))
    }
}
