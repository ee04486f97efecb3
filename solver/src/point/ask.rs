//! What is read off the forward and adjoint solutions.

use num_complex::Complex64;

use crate::error::{SolveError, SolveErrorKind};
use crate::float::taxicab;
use crate::handle::{Element, Resistor};
use crate::layout::{Current, Form};
use crate::noise::Noise;
use crate::point::{AGREES, Excitation, Output, Point};

/// A number that can leave the range of `f64`.
pub(crate) trait Finite {
    fn is_finite(&self) -> bool;
}

impl Finite for f64 {
    fn is_finite(&self) -> bool {
        f64::is_finite(*self)
    }
}

impl Finite for Complex64 {
    fn is_finite(&self) -> bool {
        self.re.is_finite() && self.im.is_finite()
    }
}

impl Point<'_> {
    /// Puts the output's row vector into the right-hand side; `false` if nothing can fix it.
    pub(crate) fn observe(&mut self, output: Output) -> Result<bool, SolveError> {
        self.w.rhs.fill(Complex64::ZERO);
        match output {
            Output::Voltage(a, b) => {
                self.own_node(a)?;
                self.own_node(b)?;
                if !self.w.assembly.same_island(a, b) {
                    return Ok(false);
                }
                for (node, sign) in [(a, 1.0), (b, -1.0)] {
                    if let Some(row) = self.w.assembly.row(node.index) {
                        self.w.rhs[row as usize] += sign;
                    }
                }
            }
            Output::Current(branch) => {
                self.own_element(branch.into())?;
                match self.w.assembly.currents.of(branch) {
                    Current::Zero => {}
                    Current::Unknown(i) => self.w.rhs[i as usize] = Complex64::ONE,
                    Current::Free => return Ok(false),
                    Current::Unprobed => {
                        return Err(SolveErrorKind::NotProbed {
                            branch: self.w.assembly.topology.named(branch),
                        }
                        .into());
                    }
                }
            }
        }
        Ok(true)
    }

    /// Whether the output of the last adjoint solve depends on a voltage between two islands.
    pub(super) fn senses_between_islands(&self) -> bool {
        let at = |row: Option<u32>| row.map_or(Complex64::ZERO, |row| self.w.y[row as usize]);
        self.w.assembly.spanning.iter().any(|spanning| {
            let [a, b] = spanning.rows.map(at);
            taxicab(a - b) > AGREES * (taxicab(a) + taxicab(b)) && self.w.acts(spanning.gain)
        })
    }

    /// An answer, unless what made it left the range of numbers.
    pub(crate) fn in_range<T: Finite>(&self, answer: T) -> Result<T, SolveError> {
        if answer.is_finite() { Ok(answer) } else { Err(self.w.out_of_range()) }
    }

    pub(super) fn collect_transfers(&self, out: &mut Vec<Complex64>) -> Result<(), SolveError> {
        out.clear();
        for &source in &self.w.assembly.topology.sources {
            out.push(self.in_range(self.transfer(source))?);
        }
        Ok(())
    }

    pub(crate) fn weigh(&self, excitation: &Excitation) -> Result<Complex64, SolveError> {
        self.in_range(excitation.iter().map(|&(source, amplitude)| self.transfer(source) * amplitude).sum())
    }

    /// d(cᵀx)/d ln f = −yᵀ·(sC)·x, s = jω.
    pub(super) fn slope(&self) -> Result<Complex64, SolveError> {
        let mut sum = Complex64::ZERO;
        for &(place, row, col) in &self.w.assembly.reactive {
            sum += self.w.y[row as usize] * self.w.x[col as usize] * self.w.reactive[place as usize];
        }
        self.in_range(-self.w.s * sum)
    }

    pub(super) fn weigh_noise(&self, noise: &Noise) -> Result<f64, SolveError> {
        let mut density = 0.0;
        self.each_noise(noise, |_, part| density += part);
        self.in_range(density)
    }

    /// Density at the output of the last adjoint solve by element: resistors in order of creation, then the stated densities.
    pub(crate) fn each_noise(&self, noise: &Noise, mut take: impl FnMut(Element, f64)) {
        self.each_noise_amplitude(noise, |element, density, amplitude| {
            take(element, if density == 0.0 { 0.0 } else { density * amplitude.norm_sqr() });
        });
    }

    /// The same as a density and what a unit amplitude of it gives at the output.
    pub(crate) fn each_noise_amplitude(&self, noise: &Noise, mut take: impl FnMut(Element, f64, Complex64)) {
        let assembly = &self.w.assembly;
        let circuit = assembly.topology.id;
        let y = &self.w.y;
        let at = |node: u32| assembly.row(node).map_or(Complex64::ZERO, |row| y[row as usize]);
        for (i, e) in assembly.topology.resistors.iter().enumerate() {
            let (density, amplitude) = match (assembly.resistor_form(i), assembly.resistor_current(i)) {
                (Form::Admittance, _) => (noise.power(i as u32) / self.w.resistance(i), at(e.a) - at(e.b)),
                (Form::Series, Current::Unknown(row)) => {
                    (noise.power(i as u32) * self.w.resistance(i), y[row as usize])
                }
                _ => (0.0, Complex64::ZERO),
            };
            take(Resistor { circuit, index: i as u32 }.into(), density, amplitude);
        }
        for &(source, stated) in noise.densities() {
            take(source.into(), stated, self.transfer(source));
        }
    }
}
