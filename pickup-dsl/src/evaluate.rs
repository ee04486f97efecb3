//! Positions → figures and curves.

use num_complex::Complex64;
use solver::SolveError;

use crate::figures::{
    OutletFigures, PositionFigures, Setup, Sweep, Wiring, connections, driven, lift_each, meter, relate,
    takes_part,
};
use crate::harness::{Harness, Reference};
use crate::network::{Knobs, Loads, Network, Setting};
use crate::positions::{Position, position_of};
use crate::source::Span;

mod explain;
mod loudness;
mod origin;

use explain::explain;
use origin::Origins;

/// Evaluates positions of one harness against its reference. `Send + Sync`: positions may be evaluated in parallel.
#[derive(Debug)]
pub struct Evaluator<'a> {
    subject: Subject<'a>,
    /// Figures of the reference, each outlet.
    reference: Vec<OutletFigures>,
}

/// A position that can't be solved.
#[derive(Debug, Clone, thiserror::Error)]
#[error("{message}")]
pub struct FigureError {
    /// What is wrong, with the parts it is about.
    pub message: String,
    /// Where these parts are declared; empty if none is to blame.
    pub spans: Vec<Span>,
    /// What the solver said.
    #[source]
    pub source: Option<SolveError>,
}

/// Curves over frequency of one position.
#[derive(Debug, Clone, PartialEq)]
pub struct Curves {
    /// Hz, as asked for.
    pub frequencies: Vec<f64>,
    /// In order of `Harness::outlets`.
    pub outlets: Vec<OutletCurves>,
}

/// Curves of one outlet; each inner vector is in order of the frequencies, None where there is no path.
#[derive(Debug, Clone, PartialEq)]
pub struct OutletCurves {
    /// H at the amp input, V.
    pub response: Vec<Option<Complex64>>,
    /// Contribution of each of `Network::sections` to H, V.
    pub sections: Vec<Vec<Option<Complex64>>>,
    /// All hum EMFs on, at the amp input, V.
    pub hum: Vec<Option<Complex64>>,
    /// At the jack, nothing plugged in, Ω.
    pub impedance: Vec<Option<Complex64>>,
    /// Thermal noise density at the amp input, V/√Hz.
    pub noise: Vec<Option<f64>>,
}

impl<'a> Evaluator<'a> {
    /// Evaluates the reference at its own rest knobs.
    ///
    /// # Errors
    /// If the reference can't be solved.
    pub fn new(harness: &'a Harness, network: &'a Network) -> Result<Self, FigureError> {
        let subject = Subject::new(harness, network);
        let rest = Knobs::default();
        let reference = match &harness.reference {
            Reference::Rest => subject.outlets(&position_of(harness, &Vec::new()).throws, &rest),
            Reference::Here(choice) => subject.outlets(&position_of(harness, choice).throws, &rest),
            Reference::Elsewhere(other, choice) => {
                let network = Network::of(other).map_err(|e| FigureError {
                    message: format!("the reference: {e}"),
                    spans: vec![e.span],
                    source: None,
                })?;
                let throws = position_of(other, choice).throws;
                Subject::new(other, &network).outlets(&throws, &rest)
            }
        }
        .map_err(|e| FigureError { message: format!("the reference: {}", e.message), ..e })?;
        Ok(Evaluator { subject, reference })
    }

    /// All figures of one position.
    ///
    /// # Errors
    /// If the position can't be solved.
    pub fn figures(&self, position: &Position, knobs: &Knobs) -> Result<PositionFigures, FigureError> {
        let Subject { harness, network, .. } = self.subject;
        let mut outlets = self.subject.outlets(&position.throws, knobs)?;
        for (i, outlet) in outlets.iter_mut().enumerate() {
            relate(outlet, self.reference.get(i));
        }
        let meter = meter(harness, network, &position.throws, knobs).map_err(|e| explain(network, e))?;
        Ok(PositionFigures { key: position.key.clone(), name: position.name.clone(), outlets, meter })
    }

    /// Curves of one position at the given frequencies (Hz, above 0).
    ///
    /// # Errors
    /// If the position can't be solved, or a frequency is not above 0.
    pub fn curves(
        &self,
        position: &Position,
        knobs: &Knobs,
        frequencies: &[f64],
    ) -> Result<Curves, FigureError> {
        let network = self.subject.network;
        self.subject.curves(&position.throws, knobs, frequencies).map_err(|e| explain(network, e))
    }
}

/// One harness with what is the same in all its positions.
#[derive(Debug)]
struct Subject<'a> {
    harness: &'a Harness,
    network: &'a Network,
    wiring: Wiring,
    origins: Origins,
}

impl<'a> Subject<'a> {
    fn new(harness: &'a Harness, network: &'a Network) -> Self {
        Subject {
            harness,
            network,
            wiring: Wiring::of(network, harness.string_count),
            origins: Origins::of(harness, network),
        }
    }

    fn setting<'s>(throws: &'s [usize], knobs: &'s Knobs, loads: Loads) -> Setting<'s> {
        Setting { throws, knobs, loads, without_stray: false, lifted: None, generic: false }
    }

    fn sweep(&self, setting: &Setting<'_>) -> Result<Sweep<'_>, SolveError> {
        let values = self.network.values(self.harness, setting);
        Sweep::new(self.network, &self.wiring, values)
    }

    /// Figures of every outlet, those re the reference left out.
    fn outlets(&self, throws: &[usize], knobs: &Knobs) -> Result<Vec<OutletFigures>, FigureError> {
        self.solve(throws, knobs).map_err(|e| explain(self.network, e))
    }

    fn solve(&self, throws: &[usize], knobs: &Knobs) -> Result<Vec<OutletFigures>, SolveError> {
        let Subject { harness, network, ref wiring, ref origins } = *self;
        let setting = Self::setting(throws, knobs, Loads::Plugged);
        let mut plugged = self.sweep(&setting)?;
        let mut bare = self.sweep(&Self::setting(throws, knobs, Loads::Bare))?;
        let connections: Vec<_> = (0..network.outlets.len())
            .map(|outlet| connections(harness, network, &setting, outlet))
            .collect();
        let wanted: Vec<bool> =
            (0..network.sections.len()).map(|i| connections.iter().any(|c| takes_part(c[i]))).collect();
        let lifted = lift_each(harness, network, wiring, &setting, &wanted)?;
        connections
            .into_iter()
            .enumerate()
            .map(|(outlet, connections)| {
                let left = lifted
                    .iter()
                    .zip(&connections)
                    .map(|(l, &connection)| {
                        l.as_ref().filter(|_| takes_part(connection)).map(|l| l[outlet].as_deref())
                    })
                    .collect();
                Setup {
                    harness,
                    network,
                    wiring,
                    outlet,
                    connections,
                    lifted: left,
                    assumed: &origins.assumed,
                    optimistic: &origins.optimistic,
                    load_assumed: origins.load_assumed[outlet],
                }
                .figures(&mut plugged, &mut bare)
            })
            .collect()
    }

    fn curves(&self, throws: &[usize], knobs: &Knobs, frequencies: &[f64]) -> Result<Curves, SolveError> {
        let network = self.network;
        let mut plugged = self.sweep(&Self::setting(throws, knobs, Loads::Plugged))?;
        let mut bare = self.sweep(&Self::setting(throws, knobs, Loads::Bare))?;
        let mut outlets = Vec::new();
        for outlet in 0..network.outlets.len() {
            let mut curves = OutletCurves {
                response: Vec::new(),
                sections: vec![Vec::new(); network.sections.len()],
                hum: Vec::new(),
                impedance: Vec::new(),
                noise: Vec::new(),
            };
            for &f in frequencies {
                let transfers = plugged.transfers(outlet, f)?;
                let driven = |emf: fn(&crate::network::Section) -> f64| {
                    transfers.as_ref().map(|t| driven(t, &network.sections, emf))
                };
                let signal = driven(|s| s.signal);
                let sum = |c: &Vec<Complex64>| c.iter().sum::<Complex64>();
                curves.response.push(signal.as_ref().map(sum));
                for (i, section) in curves.sections.iter_mut().enumerate() {
                    section.push(signal.as_ref().map(|c| c[i]));
                }
                curves.hum.push(driven(|s| s.hum).as_ref().map(sum));
                let noise = plugged.noise(outlet, &network.noise, f)?;
                curves.noise.push(noise.map(f64::sqrt));
                curves.impedance.push(bare.impedance(outlet, f)?.map(|(z, _)| z));
            }
            outlets.push(curves);
        }
        Ok(Curves { frequencies: frequencies.to_vec(), outlets })
    }
}

#[cfg(test)]
mod tests;
