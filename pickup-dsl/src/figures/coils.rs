//! The coils in the circuit: how each is connected, what it gives, and with which others.

use num_complex::Complex64;
use solver::{SolveError, Values};

use super::groups::NOTHING;
use super::sweep::{Frame, Sweep, Wiring, driven};
use super::track::Track;
use super::{CoilInPlay, Connection, Ohmmeter, Share, Why};
use crate::float::{amplitude_db, modulus};
use crate::harness::Harness;
use crate::network::{CircuitWord, Network, Section, Setting, in_circuit};

/// A coil contributes above this share of the largest.
const CONTRIBUTES: f64 = 1e-3;
/// A coil works against the main one only above this share of it.
const OPPOSES: f64 = 1e-2;
/// Lifting a lead silences a coil below this share of what it gave: over 40 dB.
const SILENCED: f64 = 1e-2;
/// Coils this close to the largest are equally large.
const TIE: f64 = 1e-6;

/// What the coils of one outlet give at 100 Hz and at 1 kHz, V, in order of the sections.
#[derive(Debug, Clone)]
pub(crate) struct Given {
    pub(crate) at_100: Vec<Complex64>,
    pub(crate) at_1k: Vec<Complex64>,
}

impl Given {
    /// The coil that gives most at 100 Hz; of equally large ones the first by name.
    pub(crate) fn main(&self, sections: &[Section]) -> Option<usize> {
        let most = self.largest();
        (0..sections.len())
            .filter(|&i| modulus(self.at_100[i]) >= most * (1.0 - TIE) && most > NOTHING)
            .min_by(|&i, &j| sections[i].name.cmp(&sections[j].name))
    }

    fn largest(&self) -> f64 {
        self.at_100.iter().fold(0.0, |m, c| modulus(*c).max(m))
    }

    /// Over a thousandth of the largest at 100 Hz.
    pub(crate) fn contributes(&self, i: usize) -> bool {
        let here = modulus(self.at_100[i]);
        here > NOTHING && here > CONTRIBUTES * self.largest()
    }
}

/// Contributions at 100 Hz of every outlet with one section's lead lifted; None for an outlet without a path.
pub(crate) type Lifted = Vec<Option<Vec<Complex64>>>;

/// The frames of one position.
#[derive(Debug, Clone)]
pub(crate) struct Frames {
    pub(crate) plugged: Frame,
    pub(crate) bare: Frame,
    /// With a lead of each section lifted, where that is looked at.
    pub(crate) lifted: Vec<Option<Frame>>,
    /// For the ohmmeter: at rest, and with volumes at 0.
    pub(crate) meter: [Ohmmeter; 2],
    /// For each outlet what the file's values showed, if other values may be expected to show the same.
    pub(crate) tracks: Vec<Option<Track>>,
}

/// Lifts a lead of each section that is in circuit or bled (`wanted`), one after the other. `values` are those of a setting.
pub(crate) fn lift_each(
    network: &Network,
    wiring: &Wiring,
    setting: &Setting<'_>,
    values: &dyn Fn(&Setting<'_>) -> Values,
    wanted: &[bool],
    known: Option<&Frames>,
) -> Result<Vec<Option<Lifted>>, SolveError> {
    wanted
        .iter()
        .enumerate()
        .map(|(j, &wanted)| {
            if !wanted {
                return Ok(None);
            }
            let lifted = Setting { lifted: Some(j), ..*setting };
            let known = known.and_then(|known| known.lifted.get(j)?.as_ref());
            let mut sweep = Sweep::on(known, network, wiring, values(&lifted))?;
            (0..network.outlets.len())
                .map(|outlet| {
                    let transfers = sweep.transfers(outlet, 100.0)?;
                    Ok(transfers.map(|t| driven(&t, &network.sections, |s| s.signal)))
                })
                .collect::<Result<Lifted, SolveError>>()
                .map(Some)
        })
        .collect()
}

/// How each section is connected, as one outlet sees it.
pub(crate) fn connections(
    harness: &Harness,
    network: &Network,
    setting: &Setting<'_>,
    outlet: usize,
) -> Vec<Connection> {
    in_circuit(network, harness, setting, outlet)
        .into_iter()
        .map(|word| match word {
            CircuitWord::Shorted => Connection::Shorted,
            CircuitWord::Open => Connection::Open,
            CircuitWord::HangingFromHot => Connection::HangingFromHot,
            CircuitWord::HangingFromGround => Connection::HangingFromGround,
            CircuitWord::Bled(ohms) => Connection::BledThrough(ohms),
            CircuitWord::InCircuit => Connection::InCircuit,
        })
        .collect()
}

/// In circuit or bled: part of what is in series and parallel.
pub(crate) fn takes_part(connection: Connection) -> bool {
    matches!(connection, Connection::InCircuit | Connection::BledThrough(_))
}

/// The coils of one outlet. `lifted[j]` is what is left at this outlet when a lead of j is lifted, if j takes part.
pub(crate) fn coils(
    sections: &[Section],
    connections: &[Connection],
    given: &Given,
    lifted: &[Option<Option<&[Complex64]>>],
    assumed: &[bool],
) -> Vec<CoilInPlay> {
    let main = given.main(sections);
    let active: Vec<usize> =
        (0..sections.len()).filter(|&i| takes_part(connections[i]) && given.contributes(i)).collect();
    let in_series: Vec<Vec<usize>> = (0..sections.len())
        .map(|i| {
            if !active.contains(&i) {
                return Vec::new();
            }
            let before = modulus(given.at_100[i]);
            (0..sections.len())
                .filter(|&j| j != i)
                .filter(|&j| {
                    lifted[j].is_some_and(|left| left.map_or(0.0, |c| modulus(c[i])) < SILENCED * before)
                })
                .collect()
        })
        .collect();
    sections
        .iter()
        .enumerate()
        .map(|(i, section)| {
            let against = main.is_some_and(|m| {
                let (c, m) = (given.at_100[i], given.at_100[m]);
                (c * m.conj()).re < 0.0 && modulus(c) > OPPOSES * modulus(m)
            });
            let parallel_with = if active.contains(&i) {
                active
                    .iter()
                    .copied()
                    .filter(|&j| j != i && !in_series[i].contains(&j) && !in_series[j].contains(&i))
                    .collect()
            } else {
                Vec::new()
            };
            CoilInPlay {
                name: section.name.clone(),
                pickup: section.pickup,
                connection: connections[i],
                contributes: given.contributes(i),
                share_100: share(&given.at_100, i, main),
                share_1k: share(&given.at_1k, i, main),
                in_series_with: in_series[i].clone(),
                parallel_with,
                out_of_phase: takes_part(connections[i]) && against,
                assumed: assumed[i],
            }
        })
        .collect()
}

fn share(c: &[Complex64], i: usize, main: Option<usize>) -> Share {
    let none = Share { db: Err(Why::Silent), negative: false };
    let Some(m) = main.map(|m| c[m]) else {
        return none;
    };
    if modulus(c[i]) <= NOTHING || modulus(m) <= NOTHING {
        return none;
    }
    Share { db: Ok(amplitude_db(modulus(c[i]) / modulus(m))), negative: (c[i] * m.conj()).re < 0.0 }
}
