//! What the poles and zeros of a response need of it.

use num_complex::Complex64;

use crate::error::{SolveError, SolveErrorKind};
use crate::handle::Branch;
use crate::point::{Output, Point};
use crate::sensitivity::Response;
use crate::workspace::Workspace;

impl Response<'_> {
    /// The branch whose current a layout has to keep for it.
    pub(crate) fn probe(&self) -> Option<Branch> {
        match self {
            Response::Transfer(_, Output::Current(branch)) => Some(*branch),
            _ => None,
        }
    }

    /// Its excitation, into the right-hand side.
    pub(crate) fn drive(&self, point: &mut Point<'_>) -> Result<(), SolveError> {
        match *self {
            Response::Transfer(excitation, _) => point.drive(excitation),
            Response::Impedance(a, b) => {
                point.own_node(a)?;
                point.own_node(b)?;
                point.at_port(a, b);
                Ok(())
            }
        }
    }

    /// Its output's row vector, into the right-hand side.
    pub(crate) fn observe(&self, point: &mut Point<'_>) -> Result<(), SolveError> {
        match *self {
            Response::Transfer(_, output) => point.observe(output).map(|_| ()),
            Response::Impedance(..) => self.drive(point),
        }
    }
}

impl Workspace {
    /// Time and partial fractions are of real functions.
    pub(crate) fn amplitudes_are_real(&mut self, function: Response<'_>) -> Result<(), SolveError> {
        if let Response::Transfer(excitation, _) = function {
            let point = Point { w: self };
            for &(source, amplitude) in excitation {
                point.own_element(source.into())?;
                if amplitude.im != 0.0 {
                    return Err(point.amplitude_error(source, amplitude.im));
                }
            }
        }
        Ok(())
    }

    /// A function at a complex frequency, values loaded.
    pub(crate) fn value_at(&mut self, function: Response<'_>, s: Complex64) -> Result<Complex64, SolveError> {
        self.factor_at(s)?;
        let mut point = Point { w: self };
        let value = match function {
            Response::Transfer(excitation, output) => point.response(excitation, output)?.known(),
            Response::Impedance(a, b) => point.impedance(a, b)?.known(),
        };
        value.ok_or_else(|| SolveErrorKind::ZeroTransfer.into())
    }
}
