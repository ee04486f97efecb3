//! A factored network at one frequency, and what can be asked of it.

mod ask;
mod excite;

use num_complex::Complex64;

use crate::error::{SolveError, SolveErrorKind};
use crate::float::reciprocal;
use crate::handle::{Branch, Node, Source};
use crate::noise::Noise;
use crate::sensitivity::Response;
use crate::workspace::{Side, Workspace};

/// A sum (of amplitudes, or of what a controlled source adds) below this fraction of its terms counts as zero.
pub(crate) const AGREES: f64 = 1e-12;

/// What is observed: a node-pair voltage (first minus second) or a branch current.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Output {
    /// Voltage of the first node against the second, V.
    Voltage(Node, Node),
    /// Branch current, A.
    Current(Branch),
}

/// Amplitudes of the sources in force (others are zero); a source named twice has the sum.
pub type Excitation = [(Source, Complex64)];

/// A quantity that may have no value for lack of a path between islands (or of an equation that fixes it).
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Outcome<T> {
    /// The value.
    Known(T),
    /// Nothing fixes it.
    Undetermined,
}

impl<T> Outcome<T> {
    /// The value, if there is one.
    pub fn known(self) -> Option<T> {
        match self {
            Outcome::Known(value) => Some(value),
            Outcome::Undetermined => None,
        }
    }

    fn try_map<U>(self, f: impl FnOnce(T) -> Result<U, SolveError>) -> Result<Outcome<U>, SolveError> {
        match self {
            Outcome::Known(value) => f(value).map(Outcome::Known),
            Outcome::Undetermined => Ok(Outcome::Undetermined),
        }
    }
}

/// A port's impedance: no path at all is an answer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Impedance<T> {
    /// The value.
    Known(T),
    /// No current can flow through the port.
    Open,
}

impl<T> Impedance<T> {
    /// The value, if the port is not open.
    pub fn known(self) -> Option<T> {
        match self {
            Impedance::Known(value) => Some(value),
            Impedance::Open => None,
        }
    }
}

/// What a sweep of one output gives at one frequency.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SweepPoint {
    /// Response to the excitation, V or A.
    pub response: Complex64,
    /// d response / d ln f.
    pub slope: Complex64,
    /// Noise density at the output, V²/Hz or A²/Hz.
    pub noise: f64,
}

/// A factored network at one frequency. Answers are peak or rms as the amplitudes given were (the network is linear).
///
/// Every method fails with [`SolveErrorKind::ForeignNode`] or [`SolveErrorKind::ForeignElement`] for handles of another circuit, and with
/// [`SolveErrorKind::NotProbed`] for a branch current the layout does not keep. Every method that solves fails with
/// [`SolveErrorKind::Range`] where a solution or an answer leaves the range of numbers (an answer is never NaN nor infinite), and with
/// [`SolveErrorKind::Inaccurate`] where no solution with a small residual was found.
#[derive(Debug)]
pub struct Point<'w> {
    pub(crate) w: &'w mut Workspace,
}

impl Point<'_> {
    /// Transfer of each independent source (order of [`crate::Circuit::sources`]) to the output, by one adjoint solve; into `out`.
    ///
    /// Transposed-system ("adjoint network") method: S. W. Director, R. A. Rohrer, "The generalized adjoint network and network
    /// sensitivities", IEEE Trans. Circuit Theory 16 (1969) 318–323.
    ///
    /// # Errors
    /// A source that could not have an amplitude of its own: [`SolveErrorKind::ShortedSource`], [`SolveErrorKind::VoltageLoop`],
    /// [`SolveErrorKind::CurrentCutSet`], [`SolveErrorKind::Contradiction`].
    pub fn transfers(&mut self, output: Output, out: &mut Vec<Complex64>) -> Result<Outcome<()>, SolveError> {
        self.every_source_is_free()?;
        let adjoint = self.adjoint(output)?;
        out.clear();
        if adjoint == Outcome::Known(()) {
            self.collect_transfers(out)?;
        }
        Ok(adjoint)
    }

    /// Response to an excitation, V or A.
    ///
    /// # Errors
    /// [`SolveErrorKind::Amplitude`], and the contradictions listed at [`Point::transfers`] where the amplitudes do not agree.
    pub fn response(
        &mut self,
        excitation: &Excitation,
        output: Output,
    ) -> Result<Outcome<Complex64>, SolveError> {
        self.excitation_holds(excitation)?;
        self.adjoint(output)?.try_map(|()| self.weigh(excitation))
    }

    /// Response and its derivative d/d ln f: −yᵀ(dA/d ln f)x with y of the adjoint and x of the forward solve.
    ///
    /// # Errors
    /// As [`Point::response`].
    pub fn response_and_slope(
        &mut self,
        excitation: &Excitation,
        output: Output,
    ) -> Result<Outcome<(Complex64, Complex64)>, SolveError> {
        self.excitation_holds(excitation)?;
        if self.adjoint(output)? == Outcome::Undetermined {
            return Ok(Outcome::Undetermined);
        }
        let response = self.weigh(excitation)?;
        self.forward(excitation)?;
        Ok(Outcome::Known((response, self.slope()?)))
    }

    /// Value and derivative d/d ln f of a response or of a port's impedance; `None` where nothing fixes it or no current can flow.
    ///
    /// # Errors
    /// As [`Point::response`] and [`Point::impedance`].
    pub fn value_and_slope(
        &mut self,
        of: Response<'_>,
    ) -> Result<Option<(Complex64, Complex64)>, SolveError> {
        match of {
            Response::Transfer(excitation, output) => {
                self.response_and_slope(excitation, output).map(Outcome::known)
            }
            Response::Impedance(a, b) => self.impedance_and_slope(a, b).map(Impedance::known),
        }
    }

    /// Group delay −dφ/dω of a response, s: exact, from the slope that the adjoint gives. [`Outcome::Undetermined`] also where the response
    /// is 0 and has no phase, and at exactly 0 Hz.
    ///
    /// # Errors
    /// As [`Point::response`].
    pub fn group_delay(
        &mut self,
        excitation: &Excitation,
        output: Output,
    ) -> Result<Outcome<f64>, SolveError> {
        let Outcome::Known((response, slope)) = self.response_and_slope(excitation, output)? else {
            return Ok(Outcome::Undetermined);
        };
        if response == Complex64::ZERO || self.w.s.im == 0.0 {
            return Ok(Outcome::Undetermined);
        }
        // d ln H/d ln ω = d ln|H|/d ln ω + j·dφ/d ln ω.
        let phase = (slope * reciprocal(response)).im;
        self.in_range(-phase / self.w.s.im).map(Outcome::Known)
    }

    /// Driving-point impedance between two nodes, sources dead, Ω.
    ///
    /// # Errors
    /// [`SolveErrorKind::Singular`] where current can flow but nothing fixes the voltage.
    pub fn impedance(&mut self, a: Node, b: Node) -> Result<Impedance<Complex64>, SolveError> {
        let found = self.port(a, b, false)?;
        Ok(match found {
            Impedance::Known((z, _)) => Impedance::Known(z),
            Impedance::Open => Impedance::Open,
        })
    }

    /// Impedance and its derivative d/d ln f.
    ///
    /// # Errors
    /// As [`Point::impedance`].
    pub fn impedance_and_slope(
        &mut self,
        a: Node,
        b: Node,
    ) -> Result<Impedance<(Complex64, Complex64)>, SolveError> {
        self.port(a, b, true)
    }

    /// Thermal noise density at the output: V²/Hz (or A²/Hz), one-sided: Σ 4kT/R·|ya − yb|² over resistors plus the stated densities.
    ///
    /// # Errors
    /// [`SolveErrorKind::Temperature`] for a temperature below 0 or not finite, [`SolveErrorKind::Amplitude`] for such a density, and the contradictions listed at [`Point::transfers`].
    pub fn noise_density(&mut self, noise: &Noise, output: Output) -> Result<Outcome<f64>, SolveError> {
        self.noise_holds(noise)?;
        self.adjoint(output)?.try_map(|()| self.weigh_noise(noise))
    }

    /// Everything a sweep of one output needs, from one forward and one adjoint solve: response and slope to `excitation`, transfers of
    /// every source (into `out`), noise density.
    ///
    /// # Errors
    /// As [`Point::transfers`], [`Point::response`] and [`Point::noise_density`].
    pub fn sweep_point(
        &mut self,
        excitation: &Excitation,
        output: Output,
        noise: &Noise,
        out: &mut Vec<Complex64>,
    ) -> Result<Outcome<SweepPoint>, SolveError> {
        self.swept(excitation, output, Some(noise), out)
    }

    /// As [`Point::sweep_point`]; without noise that of the answer is 0.
    pub(crate) fn swept(
        &mut self,
        excitation: &Excitation,
        output: Output,
        noise: Option<&Noise>,
        out: &mut Vec<Complex64>,
    ) -> Result<Outcome<SweepPoint>, SolveError> {
        self.every_source_is_free()?;
        self.excitation_holds(excitation)?;
        if let Some(noise) = noise {
            self.noise_holds(noise)?;
        }
        if self.adjoint(output)? == Outcome::Undetermined {
            out.clear();
            return Ok(Outcome::Undetermined);
        }
        self.collect_transfers(out)?;
        let response = self.weigh(excitation)?;
        let density = noise.map_or(Ok(0.0), |noise| self.weigh_noise(noise))?;
        self.forward(excitation)?;
        Ok(Outcome::Known(SweepPoint { response, slope: self.slope()?, noise: density }))
    }

    /// Backward error of the last solve: max over equations of |A·x − b| / (|A||x| + |b|). It is stricter than
    /// ‖A·x − b‖ / (‖A‖‖x‖ + ‖b‖), which it bounds from above. Where unknowns are zero but for rounding they count by the largest of their
    /// kind, and if that is no measure either, the largest residual counts against the largest equation. It is never above 1e-11, and 0 where
    /// there was no solution to check; after an error it says nothing.
    pub fn residual(&self) -> f64 {
        self.w.backward_error
    }

    /// Puts the excitation into the right-hand side.
    pub(crate) fn drive(&mut self, excitation: &Excitation) -> Result<(), SolveError> {
        self.w.rhs.fill(Complex64::ZERO);
        for &(source, amplitude) in excitation {
            self.own_element(source.into())?;
            self.inject(source, amplitude);
        }
        Ok(())
    }

    pub(crate) fn forward(&mut self, excitation: &Excitation) -> Result<(), SolveError> {
        self.drive(excitation)?;
        if self.w.solve(Side::Forward)? { Ok(()) } else { Err(self.contradiction()) }
    }

    /// Fills `y` with the adjoint solution of an output.
    pub(crate) fn adjoint(&mut self, output: Output) -> Result<Outcome<()>, SolveError> {
        if !self.observe(output)? {
            return Ok(Outcome::Undetermined);
        }
        if !self.w.solve(Side::Adjoint)? {
            return Ok(Outcome::Undetermined);
        }
        Ok(if self.senses_between_islands() { Outcome::Undetermined } else { Outcome::Known(()) })
    }

    /// Puts 1 A into a port (or the voltage across it) into the right-hand side.
    pub(crate) fn at_port(&mut self, a: Node, b: Node) {
        self.w.rhs.fill(Complex64::ZERO);
        for (node, sign) in [(a, 1.0), (b, -1.0)] {
            if let Some(row) = self.w.assembly.row(node.index) {
                self.w.rhs[row as usize] += sign;
            }
        }
    }

    fn port(
        &mut self,
        a: Node,
        b: Node,
        with_slope: bool,
    ) -> Result<Impedance<(Complex64, Complex64)>, SolveError> {
        let known = |z| Ok(Impedance::Known(z));
        self.own_node(a)?;
        self.own_node(b)?;
        if self.w.assembly.merged(a, b) {
            self.w.x.fill(Complex64::ZERO);
            self.w.y.fill(Complex64::ZERO);
            return known((Complex64::ZERO, Complex64::ZERO));
        }
        if !self.w.assembly.same_island(a, b) {
            return Ok(Impedance::Open);
        }
        let rows = [a, b].map(|node| self.w.assembly.row(node.index));
        self.at_port(a, b);
        if !self.w.solve(Side::Forward)? {
            return Ok(Impedance::Open);
        }
        let at = |x: &[Complex64], row: Option<u32>| row.map_or(Complex64::ZERO, |row| x[row as usize]);
        let z = self.in_range(at(&self.w.x, rows[0]) - at(&self.w.x, rows[1]))?;
        let deficient = self.w.pivoted.as_ref().is_some_and(|pivoted| !pivoted.is_regular());
        if with_slope || deficient || !self.w.assembly.spanning.is_empty() {
            if !self.w.solve(Side::Adjoint)? {
                return Err(self.singular());
            }
            if self.senses_between_islands() {
                let unknowns = vec![self.w.assembly.topology.voltage_of(a.index)];
                return Err(SolveErrorKind::Singular { unknowns }.into());
            }
        }
        known((z, if with_slope { self.slope()? } else { Complex64::ZERO }))
    }
}
