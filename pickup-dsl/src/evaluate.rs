//! Positions → figures and curves.

use std::borrow::Cow;

use num_complex::Complex64;
use solver::{SolveError, Twin, Values};

use crate::figures::{
    Connection, Frame, Frames, Lifted, Lost, Many, OutletFigures, PositionFigures, Setup, Standing, Sweep,
    Trace, Wiring, connections, driven, lift_each, meter_of, relate, takes_part,
};
use crate::harness::{Harness, Reference};
use crate::network::{Knobs, Loads, Network, NetworkError, Setting};
use crate::positions::{Position, position_of};
use crate::source::Span;

mod explain;
mod loudness;
mod origin;
mod plan;

pub(crate) use explain::explain;
use origin::Origins;

pub use plan::{Extent, Plan, all_of};

/// Evaluates positions of one harness against its reference. `Send + Sync`: positions may be evaluated in parallel.
#[derive(Debug)]
pub struct Evaluator<'a> {
    subject: Subject<'a>,
    /// The subject of a reference in another file.
    elsewhere: Option<Subject<'a>>,
    reference: Against<'a>,
}

/// What positions are compared with, at its own rest knobs.
#[derive(Debug)]
pub struct Against<'a> {
    /// The harness that it is a position of.
    pub harness: &'a Harness,
    /// It is the harness of another file.
    pub another_file: bool,
    /// Which position.
    pub position: Position,
    /// Its figures in order of its own outlets, those re the reference left out.
    pub outlets: Vec<OutletFigures>,
}

/// What curves are wanted for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Detail {
    /// The response and what each section gives to it; the other lists of [`OutletCurves`] stay empty.
    Response,
    /// Everything.
    All,
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
#[derive(Debug, Clone, Default, PartialEq)]
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
    /// If the reference can't be solved; the message leaves it to the caller to say so.
    pub fn new(harness: &'a Harness, network: &'a Network) -> Result<Self, FigureError> {
        let subject = Subject::new(harness, Cow::Borrowed(network));
        let (elsewhere, position) = compared(harness)?;
        let its = elsewhere.as_ref().unwrap_or(&subject);
        let reference = Against {
            harness: its.harness,
            another_file: elsewhere.is_some(),
            outlets: its.outlets(&position.throws, &Knobs::default(), None)?,
            position,
        };
        Ok(Evaluator { subject, elsewhere, reference })
    }

    /// The harness whose positions are evaluated.
    #[must_use]
    pub fn harness(&self) -> &'a Harness {
        self.subject.harness
    }

    /// Its network.
    #[must_use]
    pub fn network(&self) -> &Network {
        &self.subject.network
    }

    /// What positions are compared with.
    #[must_use]
    pub fn reference(&self) -> &Against<'a> {
        &self.reference
    }

    /// Curves of the reference at the given frequencies (Hz, above 0).
    ///
    /// # Errors
    /// If a frequency is not above 0.
    pub fn reference_curves(&self, frequencies: &[f64], detail: Detail) -> Result<Curves, FigureError> {
        let its = self.elsewhere.as_ref().unwrap_or(&self.subject);
        its.curves(&self.reference.position.throws, &Knobs::default(), frequencies, detail)
    }

    /// All figures of one position.
    ///
    /// # Errors
    /// If the position can't be solved.
    pub fn figures(&self, position: &Position, knobs: &Knobs) -> Result<PositionFigures, FigureError> {
        self.figures_on(position, knobs, None)
    }

    fn figures_on(
        &self,
        position: &Position,
        knobs: &Knobs,
        known: Option<Known<'_>>,
    ) -> Result<PositionFigures, FigureError> {
        let subject = &self.subject;
        let Subject { harness, ref network, .. } = *subject;
        let mut outlets = subject.outlets(&position.throws, knobs, known)?;
        for (i, outlet) in outlets.iter_mut().enumerate() {
            relate(outlet, self.reference.outlets.get(i));
        }
        let bare = |knobs: &Knobs| subject.values(&Setting::new(&position.throws, knobs, Loads::Bare));
        let layouts = known.map(|known| &known.frames.meter);
        let readable = known.is_none_or(|known| known.extent == Extent::All);
        let meter =
            meter_of(harness, network, knobs, &bare, layouts, readable).map_err(|e| explain(network, e))?;
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
        detail: Detail,
    ) -> Result<Curves, FigureError> {
        self.subject.curves(&position.throws, knobs, frequencies, detail)
    }
}

/// What positions are compared with: a position of the harness itself, or of another.
fn compared(harness: &Harness) -> Result<(Option<Subject<'_>>, Position), FigureError> {
    Ok(match &harness.reference {
        Reference::Rest => (None, position_of(harness, &Vec::new())),
        Reference::Here(choice) => (None, position_of(harness, choice)),
        Reference::Elsewhere(other, choice) => {
            let network = Network::of(other)?;
            (Some(Subject::new(other, Cow::Owned(network))), position_of(other, choice))
        }
    })
}

impl From<NetworkError> for FigureError {
    fn from(e: NetworkError) -> Self {
        FigureError { message: e.message, spans: vec![e.span], source: None }
    }
}

/// What a plan knows of a position.
#[derive(Debug, Clone, Copy)]
struct Known<'p> {
    frames: &'p Frames,
    extent: Extent,
}

/// One harness with what is the same in all its positions.
#[derive(Debug)]
struct Subject<'a> {
    harness: &'a Harness,
    /// Its own; that of a plan, which it is a twin of, where it was planned for.
    network: Cow<'a, Network>,
    /// Its own, and how its values become values of the plan's.
    own: Option<(&'a Network, Twin)>,
    wiring: Cow<'a, Wiring>,
    origins: Origins,
}

/// Figures of each outlet, with what other values may be expected to show again.
type Traced = Vec<(OutletFigures, Option<Trace>)>;

impl<'a> Subject<'a> {
    fn new(harness: &'a Harness, network: Cow<'a, Network>) -> Self {
        Subject {
            harness,
            wiring: Cow::Owned(Wiring::of(&network, harness.string_count)),
            origins: Origins::of(harness, &network),
            network,
            own: None,
        }
    }

    fn values(&self, setting: &Setting<'_>) -> Values {
        match &self.own {
            None => self.network.values(self.harness, setting),
            Some((own, twin)) => {
                // Values of the twin's other side always carry over.
                let values = own.values(self.harness, setting);
                twin.carry(values).unwrap_or_else(|| self.network.values(self.harness, setting))
            }
        }
    }

    fn sweep(
        &self,
        setting: &Setting<'_>,
        many: Many,
        known: Option<&Frame>,
    ) -> Result<Sweep<'_>, SolveError> {
        Sweep::of_many(known, &self.network, &self.wiring, self.values(setting), many)
    }

    /// Figures of every outlet, those re the reference left out.
    fn outlets(
        &self,
        throws: &[usize],
        knobs: &Knobs,
        known: Option<Known<'_>>,
    ) -> Result<Vec<OutletFigures>, FigureError> {
        let setting = Setting::new(throws, knobs, Loads::Plugged);
        if let Some(known) = known
            && let Ok(figures) = self.tracked(&setting, known)
        {
            return Ok(figures);
        }
        let traced = self.solve(&setting, known).map_err(|e| explain(&self.network, e))?;
        Ok(traced.into_iter().map(|(figures, _)| figures).collect())
    }

    /// Without tracks.
    fn solve(&self, setting: &Setting<'_>, known: Option<Known<'_>>) -> Result<Traced, SolveError> {
        let frames = known.map(|known| known.frames);
        let mut plugged = self.sweep(setting, Many::Responses, frames.map(|frames| &frames.plugged))?;
        let bare_setting = Setting { loads: Loads::Bare, ..*setting };
        let mut bare = self.sweep(&bare_setting, Many::Impedances, frames.map(|frames| &frames.bare))?;
        let coils = known.is_none_or(|known| known.extent == Extent::All);
        let standing = coils.then(|| self.standing(setting, frames)).transpose()?;
        (0..self.network.outlets.len())
            .map(|outlet| self.setup(outlet, standing.as_ref()).figures(&mut plugged, &mut bare))
            .collect()
    }

    fn tracked(&self, setting: &Setting<'_>, known: Known<'_>) -> Result<Vec<OutletFigures>, Lost> {
        let tracks: Vec<_> =
            known.frames.tracks.iter().map(Option::as_ref).collect::<Option<_>>().ok_or(Lost)?;
        let plugged = self.values(setting);
        let bare = self.values(&Setting { loads: Loads::Bare, ..*setting });
        let coils = known.extent == Extent::All;
        let standing = coils.then(|| self.standing(setting, Some(known.frames))).transpose()?;
        tracks
            .into_iter()
            .enumerate()
            .map(|(outlet, track)| {
                let (mut plugged, mut bare) = (track.plugged(&plugged)?, track.bare(&bare)?);
                let setup = self.setup(outlet, standing.as_ref());
                let figures = setup.tracked(track, &mut plugged, &mut bare)?;
                plugged.done();
                bare.done();
                Ok(figures)
            })
            .collect()
    }

    /// How coils are connected, by outlet, and what is left when each is lifted.
    fn standing(&self, setting: &Setting<'_>, known: Option<&Frames>) -> Result<Stood, SolveError> {
        let own = self.own.as_ref().map_or(&*self.network, |(own, _)| own);
        let connections: Vec<_> = (0..self.network.outlets.len())
            .map(|outlet| connections(self.harness, own, setting, outlet))
            .collect();
        let wanted = lifts(&connections);
        let values = |setting: &Setting<'_>| self.values(setting);
        let lifted = lift_each(&self.network, &self.wiring, setting, &values, &wanted, known)?;
        Ok((connections, lifted))
    }

    fn setup<'s>(&'s self, outlet: usize, standing: Option<&'s Stood>) -> Setup<'s> {
        let of_outlet = |(connections, lifted): &'s Stood| -> Standing<'s> {
            let connections = connections[outlet].clone();
            let left = lifted.iter().zip(&connections).map(|(l, &connection)| {
                l.as_ref().filter(|_| takes_part(connection)).map(|l| l[outlet].as_deref())
            });
            let left = left.collect();
            (connections, left)
        };
        Setup {
            harness: self.harness,
            network: &self.network,
            wiring: &self.wiring,
            outlet,
            standing: standing.map(of_outlet),
            assumed: &self.origins.assumed,
            optimistic: &self.origins.optimistic,
            load_assumed: self.origins.load_assumed[outlet],
        }
    }

    fn curves(
        &self,
        throws: &[usize],
        knobs: &Knobs,
        frequencies: &[f64],
        detail: Detail,
    ) -> Result<Curves, FigureError> {
        let outlets = self.sample(throws, knobs, frequencies, detail);
        let outlets = outlets.map_err(|e| explain(&self.network, e))?;
        Ok(Curves { frequencies: frequencies.to_vec(), outlets })
    }

    fn sample(
        &self,
        throws: &[usize],
        knobs: &Knobs,
        frequencies: &[f64],
        detail: Detail,
    ) -> Result<Vec<OutletCurves>, SolveError> {
        let sections = &self.network.sections;
        let on = |loads: Loads| {
            let values = self.values(&Setting::new(throws, knobs, loads));
            Sweep::new(&self.network, &self.wiring, values)
        };
        let mut plugged = on(Loads::Plugged)?;
        let mut bare = match detail {
            Detail::Response => None,
            Detail::All => Some(on(Loads::Bare)?),
        };
        let sum = |c: Vec<Complex64>| c.iter().sum::<Complex64>();
        let mut one = |outlet: usize| {
            let mut curves =
                OutletCurves { sections: vec![Vec::new(); sections.len()], ..OutletCurves::default() };
            for heard in plugged.heard_along(outlet, frequencies, detail == Detail::All)? {
                let signal = heard.as_ref().map(|h| driven(&h.transfers, sections, |s| s.signal));
                for (i, section) in curves.sections.iter_mut().enumerate() {
                    section.push(signal.as_ref().map(|c| c[i]));
                }
                curves.response.push(signal.map(sum));
                if detail == Detail::All {
                    let hum = heard.as_ref().map(|h| driven(&h.transfers, sections, |s| s.hum));
                    curves.hum.push(hum.map(sum));
                    curves.noise.push(heard.map(|h| h.noise.sqrt()));
                }
            }
            if let Some(bare) = &mut bare {
                curves.impedance = bare.impedance_along(outlet, frequencies)?;
            }
            Ok(curves)
        };
        (0..self.network.outlets.len()).map(&mut one).collect()
    }
}

/// Connections of each outlet, and what is left when a lead of each section is lifted.
type Stood = (Vec<Vec<Connection>>, Vec<Option<Lifted>>);

/// Sections whose leads are lifted: those that take part, if they are not alone; one coil is in series with none.
fn lifts(connections: &[Vec<Connection>]) -> Vec<bool> {
    let count = connections.first().map_or(0, Vec::len);
    let mut wanted: Vec<bool> = (0..count).map(|i| connections.iter().any(|c| takes_part(c[i]))).collect();
    if wanted.iter().filter(|wanted| **wanted).count() < 2 {
        wanted.fill(false);
    }
    wanted
}

#[cfg(test)]
mod tests;
