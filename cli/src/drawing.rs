//! The wiring as a picture: each part as it is seen from the side that is soldered, each wire from lug to lug.
//!
//! harness → [`columns`] → pieces ([`piece`], [`forms`]) → [`placement`] → [`routing`] on a [`field`] of lanes → [`svg`]

mod columns;
mod field;
mod forms;
mod piece;
mod placement;
mod routing;
mod squeeze;
pub(crate) mod svg;
#[cfg(test)]
mod tests;

use std::collections::BTreeMap;

use pickup_dsl::harness::{Harness, JointKind, LugId};
use pickup_dsl::network::{Knobs, Loads, Network, Setting, Signal, signal, soldered};
use pickup_dsl::positions::Position;

use columns::Columns;
use field::{Field, Way};
use piece::{Piece, Side};
use placement::{Room, place};
use routing::{Wanted, route};
pub(crate) use svg::Shown;

/// So many wires are drawn at most: more can't be read, nor laid in seconds.
pub(crate) const MOST_WIRES: usize = 250;

/// Attempts with more and more room.
const ATTEMPTS: i32 = 3;

/// More wires than are drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("{count} wires are more than a picture holds: {MOST_WIRES} at most")]
pub(crate) struct TooManyWires {
    pub(crate) count: usize,
}

/// A wiring on paper, in lanes of wire.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Drawing<'h> {
    harness: &'h Harness,
    pieces: Vec<Piece>,
    wires: Vec<Wire>,
    /// By lug: the number of its joint from 1; 0 is ground, None a joint that no wire reaches.
    joints: Vec<Option<usize>>,
    size: (i32, i32),
}

/// A wire of the harness.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Wire {
    lugs: (LugId, LugId),
    /// Its ends and bends, lanes.
    path: Vec<(i32, i32)>,
    /// No way around the pieces was found: a straight line.
    straight: bool,
}

/// One position: what is closed in it, and what carries the signal.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct State {
    /// By its name or key.
    pub(crate) name: String,
    pub(crate) key: String,
    /// The throw of each switch, in order of the file.
    pub(crate) throws: Vec<usize>,
    pub(crate) signal: Signal,
}

impl State {
    /// The state of a position, knobs where they are said to be.
    pub(crate) fn of(network: &Network, harness: &Harness, position: &Position, knobs: &Knobs) -> State {
        let setting = Setting::new(&position.throws, knobs, Loads::Plugged);
        State {
            name: crate::job::shown_name(position),
            key: position.key.clone(),
            throws: position.throws.clone(),
            signal: signal(network, harness, &setting),
        }
    }

    /// The lugs that carry the signal: with the throws, all that a page needs to show this position in a picture.
    #[must_use]
    pub(crate) fn carrying(&self) -> Vec<u32> {
        (0..).zip(&self.signal.carries).filter(|(_, carries)| **carries).map(|(lug, _)| lug).collect()
    }
}

impl Drawing<'_> {
    /// Lays out a harness.
    ///
    /// # Errors
    /// [`TooManyWires`].
    pub(crate) fn of(harness: &Harness) -> Result<Drawing<'_>, TooManyWires> {
        let soldered = soldered(harness);
        let columns = Columns::of(harness, &soldered);
        if columns.wires.len() > MOST_WIRES {
            return Err(TooManyWires { count: columns.wires.len() });
        }
        // More room at each attempt, until every wire has a lane of its own.
        let room =
            |attempt| Room { between: 4 + 3 * attempt, channel: 5 + 5 * attempt, margin: 10 + 6 * attempt };
        let mut drawing = laid(harness, &columns, &soldered, room(0));
        for attempt in 1..ATTEMPTS {
            if drawing.straight() == 0 {
                break;
            }
            let next = laid(harness, &columns, &soldered, room(attempt));
            if next.straight() < drawing.straight() {
                drawing = next;
            }
        }
        squeeze::squeeze(&mut drawing);
        Ok(drawing)
    }

    /// Wires for which no way around the parts was found: straight lines in the picture.
    #[must_use]
    pub(crate) fn straight(&self) -> usize {
        self.wires.iter().filter(|wire| wire.straight).count()
    }
}

fn laid<'h>(harness: &'h Harness, columns: &Columns<'_>, soldered: &[usize], room: Room) -> Drawing<'h> {
    let mut pieces = forms::pieces(columns);
    let size = place(&mut pieces, columns, room);
    let mut field = Field::of(&pieces, size);
    let mut ports: BTreeMap<LugId, Vec<(u32, usize, Way)>> = BTreeMap::new();
    let mut number = 0;
    for piece in &pieces {
        for pad in &piece.pads {
            let way = if pad.side == Side::Left { Way::Left } else { Way::Right };
            for lug in &pad.lugs {
                let here = (0..pad.ports).filter_map(|port| field.index(piece.port(pad, port)));
                ports.entry(*lug).or_default().extend(here.map(|at| (number, at, way)));
            }
            number += 1;
        }
    }
    // A wire on what is not drawn can't be drawn either.
    let drawn: Vec<(LugId, LugId)> = columns
        .wires
        .iter()
        .copied()
        .filter(|(a, b)| ports.contains_key(a) && ports.contains_key(b))
        .collect();
    let ends = |lug: &LugId| -> Vec<(usize, Way)> { ports[lug].iter().map(|p| (p.1, p.2)).collect() };
    let wanted: Vec<Wanted> = drawn
        .iter()
        .map(|(a, b)| Wanted {
            from: ends(a),
            to: ends(b),
            pads: ports[a].iter().chain(&ports[b]).map(|p| p.0).collect(),
        })
        .collect();
    let paths = route(&mut field, &wanted);
    let wires = drawn
        .into_iter()
        .zip(paths)
        .map(|(lugs, path)| match path {
            Some(path) => {
                let places: Vec<(i32, i32)> = path.into_iter().map(|at| field.place(at)).collect();
                Wire { lugs, path: bends(&places), straight: false }
            }
            None => {
                let first = |lug: LugId| field.place(ports[&lug][0].1);
                Wire { lugs, path: vec![first(lugs.0), first(lugs.1)], straight: true }
            }
        })
        .collect();
    Drawing { harness, pieces, wires, joints: numbers(harness, soldered), size }
}

/// Ends and bends of a way.
fn bends(path: &[(i32, i32)]) -> Vec<(i32, i32)> {
    let mut kept = Vec::new();
    for (i, &place) in path.iter().enumerate() {
        let turns = i == 0
            || i + 1 == path.len()
            || Way::between(path[i - 1], place) != Way::between(place, path[i + 1]);
        if turns {
            kept.push(place);
        }
    }
    kept
}

/// Numbers of the joints that wires reach, in order of their first lug; ground is 0.
fn numbers(harness: &Harness, soldered: &[usize]) -> Vec<Option<usize>> {
    let mut wired = vec![false; soldered.len()];
    for joint in harness.joints.iter().filter(|joint| joint.kind == JointKind::Wire) {
        wired[soldered[joint.a.0 as usize]] = true;
    }
    let ground = soldered[harness.ground.0 as usize];
    let mut known: BTreeMap<usize, usize> = [(ground, 0)].into();
    soldered
        .iter()
        .map(|joint| {
            let next = known.len();
            wired[*joint].then(|| *known.entry(*joint).or_insert(next))
        })
        .collect()
}
