//! First-order sensitivities of a response to every element value, from one forward and one transposed solve.
//!
//! With A·x = b, Aᵀ·y = c and H = cᵀx, dH/dp = −yᵀ(∂A/∂p)x for every value p at once (S. W. Director, R. A. Rohrer, "The generalized
//! adjoint network and network sensitivities", IEEE Trans. Circuit Theory 16 (1969) 318–323). ∂A/∂p has rank one or two per element, so
//! that each derivative is a product of a difference of y and a difference of x.

mod form;
mod peak;

use num_complex::Complex64;

use crate::error::SolveError;
#[cfg(doc)]
use crate::error::SolveErrorKind;
use crate::float::reciprocal;
use crate::handle::{
    Capacitor, Cccs, Ccvs, Coupling, Element, Inductor, Node, Resistor, Transformer, Vccs, Vcvs,
};
use crate::point::{Excitation, Impedance, Outcome, Output, Point};
use crate::topology::Topology;
use crate::values::Numbers;
use crate::workspace::Workspace;

pub use peak::{NotSmooth, PeakSensitivities, PeakSensitivity};

/// A complex function of frequency that a network has.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Response<'a> {
    /// What an excitation gives at an output, V or A.
    Transfer(&'a Excitation, Output),
    /// Driving-point impedance between two nodes with the sources dead, Ω.
    Impedance(Node, Node),
}

/// Sensitivity of a response H to one element value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sensitivity {
    /// The element whose value is meant.
    pub element: Element,
    /// The value, in its own unit (Ω, F, H, S or none).
    pub value: f64,
    /// dH/d value, unit of H over unit of the value. `None` where there is none: see [`Point::sensitivities`].
    pub derivative: Option<Complex64>,
    /// d ln H / d ln value = value/H · dH/d value, without unit: its real part is the relative change of |H|, its imaginary part the change of phase in
    /// rad, for a relative change of the value. `None` also where H is 0.
    pub relative: Option<Complex64>,
}

/// A response and its sensitivity to every element value.
#[derive(Debug, Clone, PartialEq)]
pub struct Sensitivities {
    /// The response, V, A or Ω.
    pub response: Complex64,
    list: Vec<Sensitivity>,
}

impl Sensitivities {
    /// One for each element that has a value: resistors, capacitors, inductors, couplings, VCVS, VCCS, CCVS, CCCS, transformers; each kind
    /// in order of creation.
    pub fn list(&self) -> &[Sensitivity] {
        &self.list
    }

    /// That of one element.
    pub fn of(&self, element: impl Into<Element>) -> Option<&Sensitivity> {
        let element = element.into();
        self.list.iter().find(|sensitivity| sensitivity.element == element)
    }
}

/// Every element that has a value, with its value, in the order of [`Sensitivities::list`].
fn parameters(topology: &Topology, numbers: &Numbers) -> Vec<(Element, f64)> {
    let circuit = topology.id;
    let mut list = Vec::new();
    let mut kind = |values: &[f64], element: &dyn Fn(u32) -> Element| {
        list.extend(values.iter().enumerate().map(|(i, &value)| (element(i as u32), value)));
    };
    kind(&numbers.resistance, &|index| Resistor { circuit, index }.into());
    kind(&numbers.capacitance, &|index| Capacitor { circuit, index }.into());
    kind(&numbers.inductance, &|index| Inductor { circuit, index }.into());
    kind(&numbers.coupling, &|index| Coupling { circuit, index }.into());
    kind(&numbers.vcvs, &|index| Vcvs { circuit, index }.into());
    kind(&numbers.vccs, &|index| Vccs { circuit, index }.into());
    kind(&numbers.ccvs, &|index| Ccvs { circuit, index }.into());
    kind(&numbers.cccs, &|index| Cccs { circuit, index }.into());
    kind(&numbers.ratio, &|index| Transformer { circuit, index }.into());
    list
}

impl Workspace {
    fn parameters(&self) -> Vec<(Element, f64)> {
        parameters(&self.assembly.topology, self.numbers())
    }
}

impl Point<'_> {
    /// A response and its derivatives by every element value, from one forward and one transposed solve. An open port is
    /// [`Outcome::Undetermined`].
    ///
    /// A derivative is `None` where an element stands at an exact limit that took it out of the equations (a resistance of 0 that is not
    /// probed, an inductance of 0, a gain of 0 or an infinite resistance across which islands would join, a gain whose control is not kept),
    /// and where a singular network has no derivative. An infinite resistance inside one island has the derivative 0, since
    /// dH/dR = −(dH/dG)/R². A capacitance of 0 inside one island has its derivative. At DC those by capacitances, inductances and coupling
    /// factors are 0.
    ///
    /// # Errors
    /// As [`Point::response`] and [`Point::impedance`]; [`SolveErrorKind::Range`] where a derivative leaves the range of numbers.
    pub fn sensitivities(&mut self, of: Response<'_>) -> Result<Outcome<Sensitivities>, SolveError> {
        let Outcome::Known(response) = self.both_sides(of)? else {
            return Ok(Outcome::Undetermined);
        };
        let inverse = reciprocal(response);
        let mut list = Vec::new();
        for (element, value) in self.w.parameters() {
            let derivative = match self.w.slope_of_form(element) {
                Some(slope) => Some(self.in_range(-slope)?),
                None => None,
            };
            let relative = match derivative {
                // An infinite value has the derivative 0, and its product with it is 0 in the limit.
                Some(Complex64::ZERO) if response != Complex64::ZERO => Some(Complex64::ZERO),
                Some(derivative) if response != Complex64::ZERO => {
                    Some(self.in_range(derivative * value * inverse)?)
                }
                _ => None,
            };
            list.push(Sensitivity { element, value, derivative, relative });
        }
        Ok(Outcome::Known(Sensitivities { response, list }))
    }

    /// Solves both sides, and gives the response.
    pub(crate) fn both_sides(&mut self, of: Response<'_>) -> Result<Outcome<Complex64>, SolveError> {
        match of {
            Response::Transfer(excitation, output) => {
                self.excitation_holds(excitation)?;
                if self.adjoint(output)? == Outcome::Undetermined {
                    return Ok(Outcome::Undetermined);
                }
                let response = self.weigh(excitation)?;
                self.forward(excitation)?;
                Ok(Outcome::Known(response))
            }
            Response::Impedance(a, b) => Ok(match self.impedance_and_slope(a, b)? {
                Impedance::Known((z, _)) => Outcome::Known(z),
                Impedance::Open => Outcome::Undetermined,
            }),
        }
    }
}
