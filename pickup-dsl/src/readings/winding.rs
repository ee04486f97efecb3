//! A lone coil as a bench sees it, with what hangs on it.

use num_complex::Complex64;

/// Core loss across the inductive branch alone.
#[derive(Debug, Clone, PartialEq)]
pub enum LossModel {
    /// None.
    None,
    /// Ω across the whole inductance.
    Ohms(f64),
    /// Ω per henry across the whole inductance.
    PerHenry(f64),
    /// Shares of the inductance (sum 1) in series, each with its own Ω across it, if any.
    Chain(Vec<(f64, Option<f64>)>),
}

/// What hangs on the coil while it is read: a probe, a cable, the resistor through which it is driven.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Load {
    /// F.
    pub farads: f64,
    /// S: 0 where no resistance is connected.
    pub siemens: f64,
}

impl Load {
    /// Nothing hangs on it.
    pub const NONE: Load = Load { farads: 0.0, siemens: 0.0 };
}

/// The values of a lone coil.
#[derive(Debug, Clone, PartialEq)]
pub struct Winding {
    /// Ω, at the temperature of the bench.
    pub ohms: f64,
    /// H.
    pub henries: f64,
    /// Across the inductance.
    pub loss: LossModel,
    /// F, across the whole.
    pub farads: f64,
}

impl Winding {
    /// R in series with the inductance and its loss, Ω, and its derivative by ω, Ω·s; the winding capacitance left out.
    #[must_use]
    pub fn branch(&self, omega: f64) -> (Complex64, Complex64) {
        let mut z = Complex64::from(self.ohms);
        let mut slope = Complex64::ZERO;
        let mut add = |henries: f64, loss: Option<f64>| {
            let inductive = Complex64::new(0.0, omega * henries);
            match loss {
                None => {
                    z += inductive;
                    slope += Complex64::new(0.0, henries);
                }
                Some(loss) => {
                    // jωL·P/(P + jωL), and its derivative jL·P²/(P + jωL)².
                    let part = loss / (loss + inductive);
                    z += inductive * part;
                    slope += Complex64::new(0.0, henries) * part * part;
                }
            }
        };
        match &self.loss {
            LossModel::None => add(self.henries, None),
            LossModel::Ohms(ohms) => add(self.henries, Some(*ohms)),
            LossModel::PerHenry(ohms) => add(self.henries, Some(ohms * self.henries)),
            LossModel::Chain(chain) => {
                for (share, ohms) in chain {
                    add(self.henries * share, *ohms);
                }
            }
        }
        (z, slope)
    }

    /// Admittance at its ends with the load, S.
    #[must_use]
    pub fn admittance(&self, omega: f64, load: Load) -> Complex64 {
        let (branch, _) = self.branch(omega);
        branch.inv() + Complex64::new(load.siemens, omega * (self.farads + load.farads))
    }

    /// Voltage at its ends with the load, per volt of EMF.
    #[must_use]
    pub fn response(&self, omega: f64, load: Load) -> Complex64 {
        let (branch, _) = self.branch(omega);
        let hung = Complex64::new(load.siemens, omega * (self.farads + load.farads));
        (1.0 + branch * hung).inv()
    }
}
