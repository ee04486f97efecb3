//! One sample after the other.

use num_complex::Complex64;

use crate::batch::along::{Sweep, SweepResult, Tile, evaluate};
use crate::batch::kernel::{GroupResult, solve};
use crate::batch::plan::{Batch, Lanes};
use crate::batch::rational::Form;
use crate::batch::{BatchResult, Method, Parameter, Status};
use crate::error::{SolveError, SolveErrorKind};
use crate::lanes::{LANES, Lane, LaneTape, Real, Still};
use crate::layout::Layout;
use crate::point::Outcome;
use crate::values::{Domain, Values};
use crate::workspace::{REFUSE, Workspace};

/// A held-out solve may differ by this share of the largest response.
const HELD_OUT: f64 = 1e-11;

/// What rounding is multiplied by besides the condition: the terms of a sum, the solves at the supports.
const ROUNDING: f64 = 8.0 * f64::EPSILON;

/// Storage of one thread for a [`Batch`].
#[derive(Debug, Clone)]
pub struct BatchWorkspace {
    values: Values,
    /// Made when a frequency is to be solved alone.
    pointwise: Option<Box<Workspace>>,
    lanes: Option<LaneStorage>,
    row: Vec<Complex64>,
}

#[derive(Debug, Clone)]
struct LaneStorage {
    coefficients: Vec<f64>,
    still: Still,
    tape: LaneTape,
    group: GroupResult,
    /// Support frequencies: determinant, then transfers, by group of lanes.
    supports: Vec<Lane>,
    parts: Vec<[f64; 2]>,
    sweep: SweepResult,
    suspects: Vec<u32>,
}

impl BatchWorkspace {
    pub(super) fn new(batch: &Batch) -> BatchWorkspace {
        let transfers = batch.transfers.len();
        let storage = |lanes: &Lanes| {
            let (groups, supports) =
                lanes.rational.as_ref().map_or((0, 0), |form| (form.omega.len(), form.supports));
            LaneStorage {
                coefficients: vec![0.0; lanes.fill.laws()],
                still: lanes.program.still.storage(),
                tape: LaneTape::new(&lanes.program, lanes.length()),
                group: GroupResult::new(transfers),
                supports: vec![Lane::ZERO; groups * (1 + transfers)],
                parts: vec![[0.0; 2]; supports * (1 + transfers)],
                sweep: SweepResult {
                    largest: vec![Real::ZERO; transfers],
                    sizes: vec![[0.0; LANES]; lanes.omega.len().div_ceil(LANES)],
                    tiles: vec![Tile::ZERO; transfers],
                    condition: Real::ZERO,
                },
                suspects: Vec::with_capacity(batch.frequencies.len()),
            }
        };
        BatchWorkspace {
            values: batch.nominal.clone(),
            pointwise: None,
            lanes: batch.lanes.as_ref().map(storage),
            row: Vec::with_capacity(batch.assembly.topology.sources.len()),
        }
    }
}

impl Batch {
    /// Solves samples `0..count`. `values` is `[parameter][sample]`, in the order of [`crate::batch::Request::parameters`].
    ///
    /// A sample that fails does so alone, with its [`Status`]. Nothing is allocated, except for `result` to grow, for a sample outside the
    /// structural class of the layout, and for one that needs the pivoted fallback.
    ///
    /// # Errors
    /// [`SolveErrorKind::Shape`] if the length of `values` is not parameters × count.
    pub fn run(
        &self,
        work: &mut BatchWorkspace,
        values: &[f64],
        count: usize,
        result: &mut BatchResult,
    ) -> Result<(), SolveError> {
        self.prepare(values, count, result)?;
        for sample in 0..count {
            let (out, bounds) = parts(result, sample);
            let status = self.sample(work, values, count, sample, out, bounds);
            result.statuses[sample] = status;
        }
        Ok(())
    }

    /// As [`Batch::run`], over the threads of the current `rayon` pool; the same bits.
    ///
    /// # Errors
    /// As [`Batch::run`].
    #[cfg(feature = "parallel")]
    pub fn run_parallel(
        &self,
        values: &[f64],
        count: usize,
        result: &mut BatchResult,
    ) -> Result<(), SolveError> {
        use rayon::prelude::{
            IndexedParallelIterator, IntoParallelRefMutIterator, ParallelIterator, ParallelSliceMut,
        };
        self.prepare(values, count, result)?;
        let BatchResult { responses, bounds, statuses, transfers, frequencies, .. } = result;
        // A request for nothing has rows of no length, which can't be chunked.
        let (row, bound) = ((*transfers * *frequencies).max(1), (*transfers).max(1));
        responses.resize(responses.len().max(row * count), Complex64::ZERO);
        bounds.resize(bounds.len().max(bound * count), 0.0);
        responses
            .par_chunks_mut(row)
            .zip(bounds.par_chunks_mut(bound))
            .zip(statuses.par_iter_mut())
            .enumerate()
            .with_min_len(8)
            .for_each_init(
                || self.workspace(),
                |work, (sample, ((out, bounds), status))| {
                    let out = &mut out[..*transfers * *frequencies];
                    *status = self.sample(work, values, count, sample, out, &mut bounds[..*transfers]);
                },
            );
        responses.truncate(*transfers * *frequencies * count);
        bounds.truncate(*transfers * count);
        Ok(())
    }

    fn prepare(&self, values: &[f64], count: usize, result: &mut BatchResult) -> Result<(), SolveError> {
        if self.parameters.len().checked_mul(count) != Some(values.len()) {
            let (parameters, length) = (self.parameters.len(), values.len());
            return Err(SolveErrorKind::Shape { parameters, samples: count, length }.into());
        }
        result.reshape(count, self.transfers.len(), self.frequencies.len());
        Ok(())
    }

    fn sample(
        &self,
        work: &mut BatchWorkspace,
        values: &[f64],
        count: usize,
        sample: usize,
        out: &mut [Complex64],
        bounds: &mut [f64],
    ) -> Status {
        for (number, &parameter) in self.parameters.iter().enumerate() {
            let value = values[number * count + sample];
            if let Err(error) = set(&mut work.values, parameter, value) {
                return self.failed(error, out, bounds);
            }
        }
        let status = match self.assembly.check_values(&work.values) {
            Ok(()) => self.in_class(work, out, bounds),
            Err(error) if matches!(error.kind(), SolveErrorKind::OtherClass { .. }) => {
                self.out_of_class(work, out, bounds)
            }
            Err(error) => Err(error),
        };
        match status {
            Ok(Status::Solved { method, alone }) => Status::Solved { method, alone },
            Ok(status) => {
                out.fill(Complex64::ZERO);
                bounds.fill(0.0);
                status
            }
            Err(error) => self.failed(error, out, bounds),
        }
    }

    fn failed(&self, error: SolveError, out: &mut [Complex64], bounds: &mut [f64]) -> Status {
        out.fill(Complex64::ZERO);
        bounds.fill(0.0);
        Status::Failed(error)
    }

    fn in_class(
        &self,
        work: &mut BatchWorkspace,
        out: &mut [Complex64],
        bounds: &mut [f64],
    ) -> Result<Status, SolveError> {
        let served = self.lanes.as_ref().zip(work.lanes.as_mut()).and_then(|(lanes, storage)| {
            let (g, c) = storage.still.entries(&lanes.program.still);
            lanes.fill.run(&work.values.numbers, &mut storage.coefficients, g, c);
            storage.still.run(&lanes.program.still).then_some((lanes, storage))
        });
        let Some((lanes, storage)) = served else {
            return self.pointwise(self.alone(&mut work.pointwise), &work.values, &mut work.row, out, bounds);
        };
        if let Some(form) = &lanes.rational
            && self.rational(lanes, form, storage, out, bounds)
        {
            return Ok(Status::Solved { method: Method::Rational, alone: 0 });
        }
        let worst = self.tape(lanes, storage, out);
        bounds.fill(worst);
        let mut count = 0;
        for &index in &storage.suspects {
            let frequency = self.frequencies[index as usize];
            let alone = self.alone(&mut work.pointwise);
            let outcome = self.one(alone, &work.values, frequency, &mut work.row, |transfer, value| {
                out[transfer * self.frequencies.len() + index as usize] = value;
            })?;
            let Some(residual) = outcome else { return Ok(Status::Undetermined) };
            bounds.iter_mut().for_each(|bound| *bound = bound.max(residual));
            count += 1;
        }
        Ok(Status::Solved { method: Method::Tape, alone: count })
    }

    /// `false` if the checks say that it does not serve.
    fn rational(
        &self,
        lanes: &Lanes,
        form: &Form,
        storage: &mut LaneStorage,
        out: &mut [Complex64],
        bounds: &mut [f64],
    ) -> bool {
        let transfers = self.transfers.len();
        for (number, omega) in form.omega.iter().enumerate() {
            let group = lanes.group(&storage.still, omega, Some(&form.scale));
            solve(self.registers, &group, &mut storage.tape, &mut storage.group);
            if storage.group.unsound.any() {
                return false;
            }
            let place = number * (1 + transfers);
            storage.supports[place] = storage.group.determinant;
            storage.supports[place + 1..place + 1 + transfers].copy_from_slice(&storage.group.transfers);
        }
        let at = |index: usize, polynomial: usize| {
            let lane = &storage.supports[index / LANES * (1 + transfers) + polynomial];
            Complex64::new(lane.re.0[index % LANES], lane.im.0[index % LANES])
        };
        for (polynomial, parts) in storage.parts.chunks_exact_mut(form.supports).enumerate() {
            for (k, part) in parts.iter_mut().enumerate() {
                let denominator = at(k, 0);
                let value = if polynomial == 0 { denominator } else { denominator * at(k, polynomial) };
                *part = [value.re, value.im * form.inverse[k]];
            }
        }
        let sweep = Sweep { form, omega: &lanes.omega, parts: &storage.parts, count: self.frequencies.len() };
        evaluate(self.registers, &sweep, out, &mut storage.sweep);
        let most = |lanes: &Real| lanes.0.iter().copied().fold(0.0, |a: f64, b| if b <= a { a } else { b });
        let condition = most(&storage.sweep.condition).sqrt();
        if !condition.is_finite() {
            return false;
        }
        // Deviations first.
        bounds.fill(0.0);
        for (held, cardinals) in form.held.chunks_exact(form.supports).enumerate() {
            let interpolated = |polynomial: usize| {
                let parts = &storage.parts[polynomial * form.supports..][..form.supports];
                let (mut even, mut odd) = (0.0, 0.0);
                for (&[e, o], &cardinal) in parts.iter().zip(cardinals) {
                    even += e * cardinal;
                    odd += o * cardinal;
                }
                Complex64::new(even, odd * form.held_omega[held])
            };
            let denominator = interpolated(0).inv();
            for (transfer, bound) in bounds.iter_mut().enumerate() {
                let solved = at(form.supports + held, transfer + 1);
                let difference = interpolated(transfer + 1) * denominator - solved;
                let deviation = difference.norm_sqr().sqrt();
                if deviation.is_nan() {
                    return false;
                }
                *bound = bound.max(deviation);
            }
        }
        let swallowed = lanes.fill.swallowed(&storage.coefficients);
        for (transfer, bound) in bounds.iter_mut().enumerate() {
            let largest = most(&storage.sweep.largest[transfer]).sqrt();
            let deviation = *bound;
            if !(deviation <= HELD_OUT * largest && largest.is_finite()) {
                return false;
            }
            let measured = if largest > 0.0 { 4.0 * deviation / largest } else { 0.0 };
            *bound = measured.max(ROUNDING * condition) + swallowed;
        }
        true
    }

    /// All frequencies through the tape; those that fail a check are listed. The largest backward error of the others.
    fn tape(&self, lanes: &Lanes, storage: &mut LaneStorage, out: &mut [Complex64]) -> f64 {
        let count = self.frequencies.len();
        storage.suspects.clear();
        let mut worst = 0.0_f64;
        for (number, omega) in lanes.omega.iter().enumerate() {
            let group = lanes.group(&storage.still, omega, None);
            solve(self.registers, &group, &mut storage.tape, &mut storage.group);
            let first = number * LANES;
            for i in 0..LANES.min(count - first) {
                let residual = storage.group.residual.0[i];
                if storage.group.unsound.0[i] == 0.0 && residual <= REFUSE {
                    worst = worst.max(residual);
                } else {
                    storage.suspects.push((first + i) as u32);
                }
            }
            for (transfer, lane) in storage.group.transfers.iter().enumerate() {
                let out = &mut out[transfer * count + first..][..LANES.min(count - first)];
                for (i, out) in out.iter_mut().enumerate() {
                    *out = Complex64::new(lane.re.0[i], lane.im.0[i]);
                }
            }
        }
        worst
    }

    fn alone<'a>(&self, workspace: &'a mut Option<Box<Workspace>>) -> &'a mut Workspace {
        workspace.get_or_insert_with(|| Box::new(Workspace::new(std::sync::Arc::clone(&self.assembly))))
    }

    /// One frequency by the pointwise workspace: its residual, or `None` if an output is not determined.
    fn one(
        &self,
        workspace: &mut Workspace,
        values: &Values,
        frequency: crate::Hertz,
        row: &mut Vec<Complex64>,
        mut put: impl FnMut(usize, Complex64),
    ) -> Result<Option<f64>, SolveError> {
        let mut point = workspace.factor(values, frequency)?;
        let mut last = None;
        let mut residual = 0.0_f64;
        for (number, transfer) in self.transfers.iter().enumerate() {
            if last != Some(transfer.output) {
                if point.transfers(transfer.output, row)? == Outcome::Undetermined {
                    return Ok(None);
                }
                residual = residual.max(point.residual());
                last = Some(transfer.output);
            }
            put(number, row[self.assembly.topology.place_of_source(transfer.source)]);
        }
        Ok(Some(residual))
    }

    fn pointwise(
        &self,
        workspace: &mut Workspace,
        values: &Values,
        row: &mut Vec<Complex64>,
        out: &mut [Complex64],
        bounds: &mut [f64],
    ) -> Result<Status, SolveError> {
        let count = self.frequencies.len();
        let mut worst = 0.0_f64;
        for (index, &frequency) in self.frequencies.iter().enumerate() {
            let put = |transfer: usize, value| out[transfer * count + index] = value;
            let Some(residual) = self.one(workspace, values, frequency, row, put)? else {
                return Ok(Status::Undetermined);
            };
            worst = worst.max(residual);
        }
        bounds.fill(worst);
        Ok(Status::Solved { method: Method::Pointwise, alone: count as u32 })
    }

    /// With a layout of its own.
    #[cold]
    fn out_of_class(
        &self,
        work: &mut BatchWorkspace,
        out: &mut [Complex64],
        bounds: &mut [f64],
    ) -> Result<Status, SolveError> {
        let layout = Layout::of_class(&self.assembly, &work.values)?;
        self.pointwise(&mut layout.workspace(), &work.values, &mut work.row, out, bounds)
    }
}

fn parts(result: &mut BatchResult, sample: usize) -> (&mut [Complex64], &mut [f64]) {
    let (transfers, row) = (result.transfers, result.transfers * result.frequencies);
    (&mut result.responses[sample * row..][..row], &mut result.bounds[sample * transfers..][..transfers])
}

/// Sets a value of an element that is known to be of the circuit. What is refused goes the usual way, for its error.
fn set(values: &mut Values, parameter: Parameter, value: f64) -> Result<(), SolveError> {
    let numbers = &mut values.numbers;
    let (place, domain) = match parameter {
        Parameter::Resistance(e) => (&mut numbers.resistance[e.index()], Domain::Resistance),
        Parameter::Capacitance(e) => (&mut numbers.capacitance[e.index()], Domain::Capacitance),
        Parameter::Inductance(e) => (&mut numbers.inductance[e.index()], Domain::Inductance),
        Parameter::Coupling(e) => (&mut numbers.coupling[e.index()], Domain::Coupling),
        Parameter::Gain(e) => {
            return values
                .set_gain(e, value)
                .map_err(|error| SolveErrorKind::Value(error.kind().clone()).into());
        }
    };
    if domain.allows(value) {
        // -0.0 would make 1/R negative infinity.
        *place = value + 0.0;
        return Ok(());
    }
    let done = match parameter {
        Parameter::Resistance(e) => values.set_resistance(e, crate::Ohms(value)),
        Parameter::Capacitance(e) => values.set_capacitance(e, crate::Farads(value)),
        Parameter::Inductance(e) => values.set_inductance(e, crate::Henries(value)),
        Parameter::Coupling(e) => values.set_coupling(e, value),
        Parameter::Gain(e) => values.set_gain(e, value),
    };
    done.map_err(|error| SolveErrorKind::Value(error.kind().clone()).into())
}
