//! How far an answer may be from that of the network as its numbers describe it.
//!
//! A transfer is read off the transposed solution ŷ as ŷᵀb, so that its error is (y − ŷ)ᵀb = ρᵀx with the residual ρ = c − Aᵀŷ; an
//! impedance is read off x̂ as cᵀx̂, with the error yᵀr and r = b − Ax̂. The residual that is computed is itself uncertain by the rounding
//! of its terms and of the entries of A, which are sums of rounded values: γ·(|A||x̂| + |b|), |A| summed from the sizes of what the elements
//! add (N. J. Higham, "Accuracy and Stability of Numerical Algorithms", 2nd ed. 2002, ch. 7, from memory).

use num_complex::Complex64;

use crate::error::SolveError;
use crate::float::taxicab;
use crate::point::{Outcome, Point};
use crate::sensitivity::Response;
use crate::workspace::{Side, Workspace};

/// The bound is of first order in the errors of both solutions; this stands for the second.
const HEADROOM: f64 = 2.0;

/// An answer with a bound on its error.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bounded {
    /// The answer, V, A or Ω.
    pub value: Complex64,
    /// |error| is at most this, in the unit of the answer: rounding of the entries of the equations, of both solutions and of the answer.
    /// It grows with the condition of this very answer. The values are taken as exact.
    pub error: f64,
}

impl Point<'_> {
    /// A response with a bound on its error, from one forward and one transposed solve. An open port is [`Outcome::Undetermined`].
    ///
    /// The bound is of first order: it holds as long as it is small against the answers' own sizes, with a factor of 2 in hand.
    ///
    /// # Errors
    /// As [`Point::response`] and [`Point::impedance`].
    pub fn bounded(&mut self, of: Response<'_>) -> Result<Outcome<Bounded>, SolveError> {
        let Outcome::Known(value) = self.both_sides(of)? else {
            return Ok(Outcome::Undetermined);
        };
        let error = match of {
            Response::Transfer(excitation, output) => {
                let sum: f64 = excitation
                    .iter()
                    .map(|&(source, amplitude)| taxicab(self.transfer(source)) * taxicab(amplitude))
                    .sum();
                // The right-hand side of the transposed system once more, for its residual.
                self.observe(output)?;
                self.w.error_of(Side::Adjoint) + (excitation.len() + 2) as f64 * f64::EPSILON * sum
            }
            Response::Impedance(..) => {
                let sum: f64 = self.w.rhs.iter().zip(&self.w.x).map(|(&b, &x)| taxicab(b) * taxicab(x)).sum();
                self.w.error_of(Side::Forward) + 2.0 * f64::EPSILON * sum
            }
        };
        Ok(Outcome::Known(Bounded { value, error: self.in_range(error)? }))
    }
}

impl Workspace {
    /// Error of what one side's solution says of the other side's right-hand side; `rhs` is that side's own.
    fn error_of(&self, side: Side) -> f64 {
        let pattern = &self.assembly.pattern;
        let sizes = self.entry_sizes();
        let (solution, other) = match side {
            Side::Forward => (&self.x, &self.y),
            Side::Adjoint => (&self.y, &self.x),
        };
        let mut residual = self.rhs.clone();
        let mut size: Vec<f64> = self.rhs.iter().map(|&z| taxicab(z)).collect();
        let mut terms = vec![12_u32; pattern.n];
        for row in 0..pattern.n {
            let range = pattern.row_start[row] as usize..pattern.row_start[row + 1] as usize;
            let entries =
                self.matrix[range.clone()].iter().zip(&sizes[range.clone()]).zip(&pattern.col[range]);
            for ((value, entry_size), &col) in entries {
                let col = col as usize;
                let (equation, unknown) = if side == Side::Forward { (row, col) } else { (col, row) };
                residual[equation] -= value * solution[unknown];
                size[equation] += entry_size * taxicab(solution[unknown]);
                terms[equation] += 1;
            }
        }
        let rows = residual.iter().zip(&size).zip(&terms).zip(other);
        let sum: f64 = rows
            .map(|(((&residual, &size), &terms), &other)| {
                let doubt = taxicab(residual) + f64::from(terms) * f64::EPSILON * size;
                if other == Complex64::ZERO { 0.0 } else { doubt * taxicab(other) }
            })
            .sum();
        HEADROOM * sum
    }

    /// Σ |what each element adds| by place of the matrix.
    fn entry_sizes(&self) -> Vec<f64> {
        let mut sizes = vec![0.0; self.assembly.pattern.col.len()];
        let rate = taxicab(self.s);
        for &(place, _, law) in &self.assembly.stamps {
            let coefficient = law.coefficient(self.numbers()).abs();
            sizes[place as usize] += if law.is_reactive() { rate * coefficient } else { coefficient };
        }
        sizes
    }
}
