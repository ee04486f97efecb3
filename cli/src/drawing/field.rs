//! The lanes of the paper, what lies on them, and what a step on them costs.

use super::piece::{Piece, Side};

/// A direction along the lanes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Way {
    Right,
    Down,
    Left,
    Up,
}

impl Way {
    pub(super) const ALL: [Way; 4] = [Way::Right, Way::Down, Way::Left, Way::Up];

    pub(super) fn back(self) -> Way {
        Way::ALL[(self as usize + 2) % 4]
    }

    fn is_level(self) -> bool {
        matches!(self, Way::Right | Way::Left)
    }

    /// The direction from one place to the next on the same lane.
    pub(super) fn between(from: (i32, i32), to: (i32, i32)) -> Way {
        match (to.0 - from.0, to.1 - from.1) {
            (1.., _) => Way::Right,
            (_, 1..) => Way::Down,
            (..=-1, _) => Way::Left,
            _ => Way::Up,
        }
    }
}

/// Cost of a lane.
pub(super) const STEP: u32 = 2;
/// Cost of a bend.
const BEND: u32 = 9;
/// Cost of a crossing.
const CROSSING: u32 = 11;
/// Cost of a bend in front of a lug.
const EARLY: u32 = 14;
/// Cost of a lane beside a piece.
const BESIDE: u32 = 4;

const FREE: u32 = u32::MAX;

/// What stands on each crossing of lanes.
#[derive(Debug)]
pub(super) struct Field {
    pub(super) width: i32,
    pub(super) height: i32,
    /// Column and row of each crossing: looked up, as a search asks for them at every step.
    places: Vec<(i32, i32)>,
    solid: Vec<bool>,
    /// The pad whose port it is, or in front of whose port it lies.
    port: Vec<u32>,
    front: Vec<u32>,
    beside: Vec<bool>,
    level: Vec<u16>,
    upright: Vec<u16>,
    bent: Vec<u16>,
    /// How often wires have met here in vain.
    quarrels: Vec<u32>,
}

impl Field {
    /// Pads are numbered through all pieces, in order.
    pub(super) fn of(pieces: &[Piece], (width, height): (i32, i32)) -> Field {
        let count = (width * height) as usize;
        let mut field = Field {
            width,
            height,
            places: (0..height).flat_map(|y| (0..width).map(move |x| (x, y))).collect(),
            solid: vec![false; count],
            port: vec![FREE; count],
            front: vec![FREE; count],
            beside: vec![false; count],
            level: vec![0; count],
            upright: vec![0; count],
            bent: vec![0; count],
            quarrels: vec![0; count],
        };
        for piece in pieces {
            let (x, y) = piece.at;
            for row in y - 1..=y + piece.height + 1 {
                for column in x - 1..=x + piece.width + 1 {
                    let inside =
                        (y..=y + piece.height).contains(&row) && (x..=x + piece.width).contains(&column);
                    if let Some(at) = field.index((column, row)) {
                        field.solid[at] |= inside;
                        field.beside[at] |= !inside;
                    }
                }
            }
        }
        let mut number = 0;
        for piece in pieces {
            for pad in &piece.pads {
                let out = if pad.side == Side::Left { -1 } else { 1 };
                for port in 0..pad.ports {
                    let (x, y) = piece.port(pad, port);
                    if let (Some(at), Some(front)) = (field.index((x, y)), field.index((x + out, y))) {
                        field.port[at] = number;
                        field.front[front] = number;
                    }
                }
                number += 1;
            }
        }
        field
    }

    pub(super) fn index(&self, (x, y): (i32, i32)) -> Option<usize> {
        let inside = (0..self.width).contains(&x) && (0..self.height).contains(&y);
        inside.then(|| (y * self.width + x) as usize)
    }

    pub(super) fn place(&self, at: usize) -> (i32, i32) {
        self.places[at]
    }

    pub(super) fn step(&self, at: usize, way: Way) -> Option<usize> {
        let ((x, y), row) = (self.place(at), self.width as usize);
        match way {
            Way::Right => (x + 1 < self.width).then(|| at + 1),
            Way::Down => (y + 1 < self.height).then(|| at + row),
            Way::Left => (x > 0).then(|| at - 1),
            Way::Up => (y > 0).then(|| at - row),
        }
    }

    /// Whether a wire to the pads may come here; ports are ends, not ways.
    pub(super) fn is_open(&self, at: usize, pads: &[u32]) -> bool {
        !self.solid[at] && (self.front[at] == FREE || pads.contains(&self.front[at]))
    }

    /// The pad whose port stands here.
    pub(super) fn port(&self, at: usize) -> Option<u32> {
        (self.port[at] != FREE).then(|| self.port[at])
    }

    /// Cost of coming one way and leaving another, with `quarrel` for each wire whose lane that takes. None: a turn on the spot.
    pub(super) fn cost(&self, at: usize, came: Way, leaves: Way, quarrel: u32) -> Option<u32> {
        if came.back() == leaves {
            return None;
        }
        let bend = came != leaves;
        let (others, crossed) = match (bend, came.is_level()) {
            (true, _) => (self.level[at] + self.upright[at] + self.bent[at], 0),
            (false, true) => (self.level[at] + self.bent[at], self.upright[at]),
            (false, false) => (self.upright[at] + self.bent[at], self.level[at]),
        };
        let mut cost = STEP + u32::from(others) * quarrel + u32::from(crossed) * CROSSING + self.quarrels[at];
        if bend {
            cost += BEND;
            if self.front[at] != FREE {
                cost += EARLY;
            }
        }
        // Straight out of a lug is no lane beside its piece.
        if self.beside[at] && (bend || self.front[at] == FREE) {
            cost += BESIDE;
        }
        Some(cost)
    }

    /// Cost of ending at a port.
    pub(super) fn end_cost(&self, at: usize, quarrel: u32) -> u32 {
        u32::from(self.bent[at]) * quarrel + self.quarrels[at]
    }

    /// Lays a wire, or takes it up.
    pub(super) fn lay(&mut self, path: &[usize], down: bool) {
        for i in 0..path.len() {
            let came = (i > 0).then(|| self.way(path[i - 1], path[i]));
            let leaves = path.get(i + 1).map(|next| self.way(path[i], *next));
            let count = match (came, leaves) {
                (Some(came), Some(leaves)) if came == leaves && came.is_level() => &mut self.level[path[i]],
                (Some(came), Some(leaves)) if came == leaves => &mut self.upright[path[i]],
                _ => &mut self.bent[path[i]],
            };
            if down {
                *count += 1;
            } else {
                *count -= 1;
            }
        }
    }

    fn way(&self, from: usize, to: usize) -> Way {
        Way::between(self.place(from), self.place(to))
    }

    /// Whether more than a clean crossing happens here.
    pub(super) fn is_contested(&self, at: usize) -> bool {
        let (level, upright, bent) = (self.level[at], self.upright[at], self.bent[at]);
        level > 1 || upright > 1 || bent > 1 || (bent == 1 && level + upright > 0)
    }

    /// Makes a place dearer that wires have met at.
    pub(super) fn remember(&mut self, at: usize, cost: u32) {
        self.quarrels[at] += cost;
    }
}
