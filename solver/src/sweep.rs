//! One response of one network along any list of frequencies, eight frequencies at once: with its slope, the transfers of the sources
//! that are excited, and the noise at its output.
//!
//! A [`SweepPlan`] is made once for a layout and serves every set of values of its structural class; threads share it. A
//! [`SweepWorkspace`] is the storage of one thread. Each frequency is checked: pivots, growth or the componentwise backward error of
//! Aᵀ·y = c, and cᵀx of the forward solve against yᵀb of the adjoint one. One that fails a check is solved alone, as [`crate::Point::sweep_point`]
//! does, and so are all where the structure leaves something to decide (islands, loops of sources). The answers at a frequency depend on
//! nothing but the values and that frequency, to the last bit.

mod form;
mod kernel;

pub use form::{SweepForm, SweepNodes};

use std::sync::Arc;

use num_complex::Complex64;

use crate::error::{SolveError, SolveErrorKind};
use crate::handle::{Branch, Capacitor, Node, Source};
use crate::lanes::{
    Entries, Fill, LANES, Lane, LaneProgram, LaneTape, Many, Real, Registers, Residual, Still, Substitution,
    Width, difference, driven, observed,
};
use crate::layout::{Assembly, Current, Form, Layout};
use crate::noise::Noise;
use crate::point::{Outcome, Output, Point, SweepPoint};
use crate::quantity::Hertz;
use crate::sensitivity::Response;
use crate::stamp::Law;
use crate::sweep::form::Fitted;
use crate::sweep::kernel::{Curve, Group, GroupAnswers, Scratch};
use crate::values::Values;
use crate::workspace::Workspace;

/// cᵀx and yᵀb may differ by this share of the terms of yᵀb.
const AGREE: f64 = 1e-11;

/// What is the same for all values of a structural class.
#[derive(Debug, Clone)]
pub struct SweepPlan(Arc<Inner>);

#[derive(Debug)]
struct Inner {
    assembly: Arc<Assembly>,
    wanted: Wanted,
    noise: Option<Noise>,
    registers: Registers,
    lanes: Option<Lanes>,
}

/// A response that owns its excitation.
#[derive(Debug)]
enum Wanted {
    Transfer(Vec<(Source, Complex64)>, Output),
    Impedance(Node, Node),
}

/// What the lanes do, where they can.
#[derive(Debug)]
struct Lanes {
    program: Arc<LaneProgram>,
    fill: Fill,
    /// c, by column. These and all below by pivot.
    entries: Entries,
    adjoint: Substitution,
    forward: Substitution,
    residual: Residual,
    /// For each source, or for the port: rows of y with their weights, and the amplitude.
    reads: Vec<(Entries, f64)>,
    hiss: Vec<Hiss>,
    swings: Vec<Swing>,
}

/// One term of yᵀCx: coefficient · (rows of y) · (columns of x).
#[derive(Debug)]
struct Swing {
    rows: Entries,
    columns: Entries,
    law: Law,
}

/// One source of noise.
#[derive(Debug)]
struct Hiss {
    /// Rows of y with their weights.
    rows: Entries,
    density: Density,
}

/// V²/Hz or A²/Hz.
#[derive(Debug, Clone, Copy)]
enum Density {
    /// 4kT (W/Hz) over the resistance of that index.
    Over(f64, usize),
    /// 4kT times it.
    Times(f64, usize),
    Stated(f64),
}

/// Storage of one thread for a [`SweepPlan`].
#[derive(Debug, Clone)]
pub struct SweepWorkspace {
    plan: SweepPlan,
    values: Option<Values>,
    lanes: Option<Storage>,
    /// Made when a frequency is to be solved alone.
    pointwise: Option<Box<Workspace>>,
    row: Vec<Complex64>,
    fitted: Fitted,
    curve: Curve,
}

#[derive(Debug, Clone)]
struct Storage {
    coefficients: Vec<f64>,
    still: Still,
    /// Whether the first stage of the elimination served the values.
    served: bool,
    /// For each source of noise, its density.
    densities: Vec<f64>,
    /// For each term of yᵀCx, its coefficient.
    swings: Vec<f64>,
    tape: LaneTape,
    /// b by row, then x by column.
    x: Many,
    group: GroupAnswers,
}

/// Answers along a sweep. Reused, it allocates only to grow.
#[derive(Debug, Clone, Default)]
pub struct SweepAnswers {
    points: Vec<SweepPoint>,
    transfers: Vec<Complex64>,
    sources: usize,
    alone: u32,
}

impl SweepAnswers {
    /// How many frequencies failed a check in the lanes, and were solved alone.
    pub fn alone(&self) -> u32 {
        self.alone
    }

    /// Response, slope and noise density (0 if none was asked for) at each frequency.
    pub fn points(&self) -> &[SweepPoint] {
        &self.points
    }

    /// Transfers of the sources at one frequency, in the order of the excitation; none of an impedance. Panics if there is no such
    /// frequency.
    pub fn transfers(&self, frequency: usize) -> &[Complex64] {
        &self.transfers[frequency * self.sources..][..self.sources]
    }
}

impl Layout {
    /// Prepares sweeps of one response, with the noise at its output if that is wanted.
    ///
    /// # Errors
    /// Those of [`Point::sweep_point`] or [`Point::impedance`] that do not depend on values; [`SolveErrorKind::Width`] if this
    /// processor has no such registers.
    pub fn sweep(
        &self,
        of: Response<'_>,
        noise: Option<&Noise>,
        width: Width,
    ) -> Result<SweepPlan, SolveError> {
        let assembly = Arc::clone(&self.assembly);
        let registers = width.registers().ok_or(SolveErrorKind::Width)?;
        let mut workspace = Workspace::new(Arc::clone(&assembly));
        let mut point = Point { w: &mut workspace };
        let wanted = match of {
            Response::Transfer(excitation, output) => {
                point.every_source_is_free()?;
                point.excitation_holds(excitation)?;
                Wanted::Transfer(excitation.to_vec(), output)
            }
            Response::Impedance(a, b) => {
                point.own_node(a)?;
                point.own_node(b)?;
                Wanted::Impedance(a, b)
            }
        };
        if let Some(noise) = noise {
            point.noise_holds(noise)?;
        }
        let lanes = Lanes::new(&assembly, of, noise)?;
        let inner = Inner { assembly, wanted, noise: noise.cloned(), registers, lanes };
        Ok(SweepPlan(Arc::new(inner)))
    }
}

impl Lanes {
    /// `None` where each frequency has to be looked at alone.
    fn new(
        assembly: &Assembly,
        of: Response<'_>,
        noise: Option<&Noise>,
    ) -> Result<Option<Lanes>, SolveError> {
        let (entries, reads) = match of {
            Response::Transfer(excitation, output) => {
                let reads: Vec<(Entries, f64)> = excitation
                    .iter()
                    .map(|&(source, amplitude)| (driven(assembly, source), amplitude.re))
                    .collect();
                let real = excitation.iter().all(|(_, amplitude)| amplitude.im == 0.0);
                (observed(assembly, output)?.filter(|_| real), reads)
            }
            Response::Impedance(a, b) => {
                let ends = difference(assembly, a.index, b.index);
                let entries = (assembly.same_island(a, b)).then(|| ends.clone());
                (entries, vec![(ends, 1.0)])
            }
        };
        let decided = assembly.loops.is_empty()
            && assembly.spanning.is_empty()
            && assembly.source_spans.iter().all(Option::is_none);
        let Some((entries, program)) =
            entries.zip(assembly.lane_program()).filter(|_| decided && !assembly.dc)
        else {
            return Ok(None);
        };
        let program = Arc::clone(program);
        let entries = program.columns(&entries);
        let reads: Vec<(Entries, f64)> =
            reads.into_iter().map(|(rows, amplitude)| (program.rows(&rows), amplitude)).collect();
        let driving: Vec<(u32, f64)> = reads
            .iter()
            .flat_map(|(rows, amplitude)| rows.iter().map(move |&(row, weight)| (row, weight * amplitude)))
            .collect();
        let swings: Vec<Swing> = swings(assembly)
            .into_iter()
            .map(|swing| Swing {
                rows: program.rows(&swing.rows),
                columns: program.columns(&swing.columns),
                law: swing.law,
            })
            .collect();
        let hiss = noise.map(|noise| hiss(assembly, noise)).unwrap_or_default();
        let hiss: Vec<Hiss> = hiss
            .into_iter()
            .map(|hiss| Hiss { rows: program.rows(&hiss.rows), density: hiss.density })
            .collect();
        let rows = reads.iter().map(|(rows, _)| rows).chain(swings.iter().map(|swing| &swing.rows));
        let rows: Vec<u32> =
            rows.chain(hiss.iter().map(|hiss| &hiss.rows)).flatten().map(|entry| entry.0).collect();
        let columns = swings.iter().flat_map(|swing| &swing.columns).chain(&entries);
        let columns: Vec<u32> = columns.map(|entry| entry.0).collect();
        let adjoint = Substitution::adjoint(&program, &entries, &rows, true);
        Ok(Some(Lanes {
            fill: Fill::new(assembly),
            residual: Residual::new(&program, &adjoint),
            adjoint,
            forward: Substitution::forward(&program, &driving, &columns),
            hiss,
            swings,
            entries,
            reads,
            program,
        }))
    }
}

/// C by elements, not by places of the matrix: a capacitance between two nodes is one product of differences, not four.
fn swings(assembly: &Assembly) -> Vec<Swing> {
    let topology = &assembly.topology;
    let coil = |i: u32| match (assembly.inductor_form(i as usize), assembly.inductor_current(i as usize)) {
        (Form::Series, Current::Unknown(row)) => Some(row),
        _ => None,
    };
    let capacitors = topology.capacitors.iter().enumerate().filter_map(|(i, e)| {
        let law = Law::Capacitance(i as u32);
        let columns = difference(assembly, e.a, e.b);
        let branch = Branch::Capacitor(Capacitor { circuit: topology.id, index: i as u32 });
        match (assembly.capacitor_form(i), assembly.currents.of(branch)) {
            (Form::Admittance, _) => Some(Swing { rows: columns.clone(), columns, law }),
            (Form::Series, Current::Unknown(row)) => Some(Swing { rows: vec![(row, -1.0)], columns, law }),
            _ => None,
        }
    });
    let link =
        |from: u32, to: u32, law: Law| Swing { rows: vec![(from, -1.0)], columns: vec![(to, 1.0)], law };
    let inductors = (0..topology.inductors.len() as u32)
        .filter_map(|i| coil(i).map(|row| link(row, row, Law::Inductance(i))));
    let couplings = topology.couplings.iter().enumerate().flat_map(|(i, e)| {
        let law = Law::Mutual { coupling: i as u32, a: e.a, b: e.b };
        let rows = coil(e.a).zip(coil(e.b));
        rows.into_iter().flat_map(move |(a, b)| [link(a, b, law), link(b, a, law)])
    });
    let all = capacitors.chain(inductors).chain(couplings);
    all.filter(|swing| !swing.rows.is_empty() && !swing.columns.is_empty()).collect()
}

/// As `Point::each_noise_amplitude`, without what makes none.
fn hiss(assembly: &Assembly, noise: &Noise) -> Vec<Hiss> {
    let resistors = assembly.topology.resistors.iter().enumerate().filter_map(|(i, e)| {
        let power = noise.power(i as u32);
        let (rows, density) = match (assembly.resistor_form(i), assembly.resistor_current(i)) {
            (Form::Admittance, _) => (difference(assembly, e.a, e.b), Density::Over(power, i)),
            (Form::Series, Current::Unknown(row)) => (vec![(row, 1.0)], Density::Times(power, i)),
            _ => return None,
        };
        (power > 0.0).then_some(Hiss { rows, density })
    });
    let stated = noise.densities().iter().filter(|(_, density)| *density > 0.0);
    let stated = stated
        .map(|&(source, density)| Hiss { rows: driven(assembly, source), density: Density::Stated(density) });
    resistors.chain(stated).filter(|hiss| !hiss.rows.is_empty()).collect()
}

impl SweepPlan {
    /// Storage for one thread. Values have to be loaded before anything is asked.
    pub fn workspace(&self) -> SweepWorkspace {
        let Inner { lanes, .. } = &*self.0;
        let storage = lanes.as_ref().map(|lanes| Storage {
            coefficients: vec![0.0; lanes.fill.laws()],
            still: lanes.program.still.storage(),
            served: false,
            densities: vec![0.0; lanes.hiss.len()],
            swings: vec![0.0; lanes.swings.len()],
            tape: LaneTape::new(&lanes.program, lanes.adjoint.length),
            x: Many::new(lanes.forward.length, Lane::ZERO),
            group: GroupAnswers::new(lanes.reads.len()),
        });
        SweepWorkspace {
            plan: self.clone(),
            values: None,
            lanes: storage,
            pointwise: None,
            row: Vec::new(),
            fitted: Fitted::default(),
            curve: Curve::default(),
        }
    }
}

impl SweepWorkspace {
    /// Takes values over, of the structural class of the layout.
    ///
    /// # Errors
    /// [`SolveErrorKind::ForeignValues`], [`SolveErrorKind::OtherClass`], [`SolveErrorKind::Coupling`].
    pub fn load(&mut self, values: &Values) -> Result<(), SolveError> {
        let Inner { assembly, lanes, .. } = &*self.plan.0;
        assembly.check_values(values)?;
        self.fitted.identity = 0;
        if let (Some(lanes), Some(storage)) = (lanes, &mut self.lanes) {
            let numbers = &values.numbers;
            let (g, c) = storage.still.entries(&lanes.program.still);
            lanes.fill.run(numbers, &mut storage.coefficients, g, c);
            storage.served = storage.still.run(&lanes.program.still);
            for (coefficient, swing) in storage.swings.iter_mut().zip(&lanes.swings) {
                *coefficient = swing.law.coefficient(numbers);
            }
            for (density, hiss) in storage.densities.iter_mut().zip(&lanes.hiss) {
                *density = match hiss.density {
                    Density::Over(power, i) => power / numbers.resistance[i],
                    Density::Times(power, i) => power * numbers.resistance[i],
                    Density::Stated(density) => density,
                };
            }
        }
        match &mut self.values {
            Some(own) => own.numbers.copy_from(&values.numbers),
            none => *none = Some(values.clone()),
        }
        Ok(())
    }

    /// Answers at frequencies above 0, into `out`. [`Outcome::Undetermined`] where nothing fixes the output, or no current can flow
    /// through the port, at one of them.
    ///
    /// # Errors
    /// [`SolveErrorKind::Frequency`]; those of [`Point::sweep_point`] and [`Point::impedance_and_slope`].
    ///
    /// # Panics
    /// If no values were loaded.
    pub fn along(
        &mut self,
        frequencies: &[Hertz],
        out: &mut SweepAnswers,
    ) -> Result<Outcome<()>, SolveError> {
        let plan = Arc::clone(&self.plan.0);
        self.begin(out);
        if let Some(bad) = frequencies.iter().find(|f| !(f.0 > 0.0 && f.0.is_finite())) {
            return Err(SolveErrorKind::Frequency(bad.0).into());
        }
        for chunk in frequencies.chunks(LANES) {
            let sound = match (&plan.lanes, &mut self.lanes) {
                (Some(lanes), Some(storage)) if storage.served => {
                    storage.run(&plan, lanes, &angular(chunk), None);
                    storage.group.sound()
                }
                _ => [false; LANES],
            };
            for (i, &f) in chunk.iter().enumerate() {
                if sound[i]
                    && let Some(storage) = &self.lanes
                {
                    let group = &storage.group;
                    out.points.push(group.point(i));
                    out.transfers.extend(group.transfers[..out.sources].iter().map(|lane| lane.at(i)));
                } else if self.push_alone(f, out)? == Outcome::Undetermined {
                    return Ok(Outcome::Undetermined);
                }
            }
        }
        Ok(Outcome::Known(()))
    }

    fn begin(&self, out: &mut SweepAnswers) {
        out.sources = match &self.plan.0.wanted {
            Wanted::Transfer(excitation, _) => excitation.len(),
            Wanted::Impedance(..) => 0,
        };
        out.points.clear();
        out.transfers.clear();
        out.alone = 0;
    }

    #[cold]
    fn push_alone(&mut self, f: Hertz, out: &mut SweepAnswers) -> Result<Outcome<()>, SolveError> {
        out.alone += 1;
        let Some(point) = self.alone(f)? else { return Ok(Outcome::Undetermined) };
        out.points.push(point);
        self.collect(&mut out.transfers);
        Ok(Outcome::Known(()))
    }

    /// Transfers of the sources as last solved alone, in the order of the excitation.
    fn collect(&self, out: &mut Vec<Complex64>) {
        if let Wanted::Transfer(excitation, _) = &self.plan.0.wanted {
            let topology = &self.plan.0.assembly.topology;
            out.extend(excitation.iter().map(|&(source, _)| self.row[topology.place_of_source(source)]));
        }
    }

    /// One frequency without the lanes, all transfers into `row`; `None` where it is undetermined.
    fn alone(&mut self, f: Hertz) -> Result<Option<SweepPoint>, SolveError> {
        let plan = &*self.plan.0;
        let values = self.values.as_ref().expect("values are loaded before anything is asked");
        let workspace =
            self.pointwise.get_or_insert_with(|| Box::new(Workspace::new(Arc::clone(&plan.assembly))));
        let mut point = workspace.factor(values, f)?;
        match &plan.wanted {
            Wanted::Transfer(excitation, output) => {
                point.swept(excitation, *output, plan.noise.as_ref(), &mut self.row).map(Outcome::known)
            }
            Wanted::Impedance(a, b) => {
                let known = point.impedance_and_slope(*a, *b)?.known();
                Ok(known.map(|(response, slope)| SweepPoint { response, slope, noise: 0.0 }))
            }
        }
    }
}

/// Up to eight frequencies, rad/s.
fn angular(chunk: &[Hertz]) -> Real {
    Real(std::array::from_fn(|i| std::f64::consts::TAU * chunk.get(i).unwrap_or(&chunk[0]).0))
}

impl Storage {
    /// With the scales of the pivots: determinant, transfers and noise, unchecked.
    fn run(&mut self, plan: &Inner, lanes: &Lanes, omega: &Real, scale: Option<&[f64]>) {
        let group = Group {
            lanes,
            still: &self.still,
            densities: &self.densities,
            swings: &self.swings,
            omega,
            determinant: scale,
        };
        let scratch = Scratch { tape: &mut self.tape, x: &mut self.x };
        kernel::solve(plan.registers, &group, scratch, &mut self.group);
    }
}
