//! The way of each wire along the lanes: around all pieces, no two wires on one lane, few crossings and bends.
//!
//! The cheapest way for each wire (A*, Hart, Nilsson and Raphael 1968); where two want one lane, both are laid again, and places at which
//! that happens become dearer until nobody meets there (negotiated congestion, McMurchie and Ebeling 1995).

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use super::field::{Field, STEP, Way};

/// What one wire needs.
#[derive(Debug, Clone)]
pub(super) struct Wanted {
    /// Ports that it may start and end at, with the way out of each.
    pub(super) from: Vec<(usize, Way)>,
    pub(super) to: Vec<(usize, Way)>,
    /// The pads of these ports.
    pub(super) pads: Vec<u32>,
}

/// Rounds of laying again what is in another's way.
const ROUNDS: u32 = 40;
/// Rounds of laying everything once more, now that all others lie; of more wires than [`MANY`], one.
const POLISH: usize = 2;
const MANY: usize = 100;
/// Steps looked at, all wires of an attempt together: a second or two.
const EFFORT: u64 = 12_000_000;

/// A way for each wire, port to port, every lane of it; None where there is none that is its own.
pub(super) fn route(field: &mut Field, wanted: &[Wanted]) -> Vec<Option<Vec<usize>>> {
    let mut search = Search::new(field);
    let mut laid: Vec<Option<Vec<usize>>> = vec![None; wanted.len()];
    // Short ones first: they have least choice.
    let mut order: Vec<usize> = (0..wanted.len()).collect();
    order.sort_by_key(|&wire| (distance(field, &wanted[wire]), wire));
    let mut quarrel = 25;
    for &wire in &order {
        if search.effort > EFFORT {
            break;
        }
        laid[wire] = search.find(field, &wanted[wire], quarrel, HASTE);
        if let Some(path) = &laid[wire] {
            field.lay(path, true);
        }
    }
    for _ in 0..ROUNDS {
        let contested: Vec<usize> = order.iter().copied().filter(|w| quarrels(field, &laid[*w])).collect();
        if contested.is_empty() || search.effort > EFFORT {
            break;
        }
        for wire in contested {
            if search.effort > EFFORT {
                break;
            }
            if let Some(path) = laid[wire].take() {
                for &at in &path {
                    if field.is_contested(at) {
                        field.remember(at, 12);
                    }
                }
                field.lay(&path, false);
            }
            laid[wire] = search.find(field, &wanted[wire], quarrel, HASTE);
            if let Some(path) = &laid[wire] {
                field.lay(path, true);
            }
        }
        quarrel = (quarrel + quarrel / 2).min(2000);
    }
    // What still lies on another's lane is taken up, the later one first.
    for &wire in order.iter().rev() {
        if quarrels(field, &laid[wire])
            && let Some(path) = laid[wire].take()
        {
            field.lay(&path, false);
        }
    }
    for _ in 0..if wanted.len() > MANY { 1 } else { POLISH } {
        for &wire in &order {
            if search.effort > EFFORT {
                return laid;
            }
            let old = laid[wire].take();
            if let Some(path) = &old {
                field.lay(path, false);
            }
            let new = search.find(field, &wanted[wire], FORBIDDEN, STEP);
            laid[wire] = new.filter(|path| is_clean(field, path)).or(old);
            if let Some(path) = &laid[wire] {
                field.lay(path, true);
            }
        }
    }
    laid
}

/// Pull towards the other end while wires still make room for each other.
const HASTE: u32 = STEP + 1;
/// Dearer than any way around.
const FORBIDDEN: u32 = 100_000;

fn quarrels(field: &Field, path: &Option<Vec<usize>>) -> bool {
    path.as_ref().is_some_and(|path| path.iter().any(|&at| field.is_contested(at)))
}

fn is_clean(field: &mut Field, path: &[usize]) -> bool {
    field.lay(path, true);
    let clean = !path.iter().any(|&at| field.is_contested(at));
    field.lay(path, false);
    clean
}

fn distance(field: &Field, wanted: &Wanted) -> i32 {
    let (Some((a, _)), Some((b, _))) = (wanted.from.first(), wanted.to.first()) else {
        return 0;
    };
    let ((ax, ay), (bx, by)) = (field.place(*a), field.place(*b));
    (ax - bx).abs() + (ay - by).abs()
}

/// Working memory of the search, kept from wire to wire.
struct Search {
    cost: Vec<u32>,
    came: Vec<u8>,
    /// In which search a state was last touched.
    touched: Vec<u32>,
    round: u32,
    effort: u64,
}

impl Search {
    fn new(field: &Field) -> Search {
        let states = (field.width * field.height) as usize * 4;
        Search { cost: vec![0; states], came: vec![0; states], touched: vec![0; states], round: 0, effort: 0 }
    }

    /// A way from any port of the one end to any of the other: the cheapest with a `pull` of a step for each lane that is left, a good one,
    /// sooner, with more.
    fn find(&mut self, field: &Field, wanted: &Wanted, quarrel: u32, pull: u32) -> Option<Vec<usize>> {
        self.round += 1;
        let (mut low, mut high) = ((i32::MAX, i32::MAX), (i32::MIN, i32::MIN));
        for &(port, _) in &wanted.to {
            let (x, y) = field.place(port);
            low = (low.0.min(x), low.1.min(y));
            high = (high.0.max(x), high.1.max(y));
        }
        let left = |at: usize| {
            let (x, y) = field.place(at);
            let beyond = |value: i32, low: i32, high: i32| (low - value).max(value - high).max(0);
            (beyond(x, low.0, high.0) + beyond(y, low.1, high.1)) as u32 * pull
        };
        // States are numbered place · 4 + way; a state is "came here that way". Ports are their own states.
        let mut open = BinaryHeap::new();
        for &(port, out) in &wanted.from {
            let Some(front) = field.step(port, out) else { continue };
            if field.is_open(front, &wanted.pads) {
                let cost = field.end_cost(port, quarrel) + STEP;
                self.reach(&mut open, front * 4 + out as usize, cost, left(front), START);
            }
        }
        while let Some(next) = open.pop() {
            let (cost, state) = unpacked(next);
            let (at, came) = (state / 4, Way::ALL[state % 4]);
            if self.cost[state] != cost {
                continue;
            }
            self.effort += 1;
            if field.port(at).is_some() {
                return Some(self.path(field, wanted, state));
            }
            for leaves in Way::ALL {
                let (Some(next), Some(step)) =
                    (field.step(at, leaves), field.cost(at, came, leaves, quarrel))
                else {
                    continue;
                };
                let arrives = field.port(next).is_some() && wanted.to.contains(&(next, leaves.back()));
                if !arrives && !field.is_open(next, &wanted.pads) {
                    continue;
                }
                let end = if arrives { field.end_cost(next, quarrel) } else { 0 };
                self.reach(&mut open, next * 4 + leaves as usize, cost + step + end, left(next), came as u8);
            }
        }
        None
    }

    fn reach(&mut self, open: &mut BinaryHeap<Reverse<u128>>, state: usize, cost: u32, left: u32, came: u8) {
        if self.touched[state] != self.round || cost < self.cost[state] {
            (self.touched[state], self.cost[state], self.came[state]) = (self.round, cost, came);
            open.push(packed(cost + left, cost, state));
        }
    }

    /// The way back from a port, turned round.
    fn path(&self, field: &Field, wanted: &Wanted, mut state: usize) -> Vec<usize> {
        let mut path = vec![state / 4];
        loop {
            let (at, way) = (state / 4, Way::ALL[state % 4]);
            let Some(before) = field.step(at, way.back()) else { break };
            path.push(before);
            if self.came[state] == START {
                debug_assert!(wanted.from.contains(&(before, way)), "a way starts at a port");
                break;
            }
            state = before * 4 + self.came[state] as usize;
        }
        path.reverse();
        path
    }
}

/// What orders the states that are open, in one number: the least in all first, then the least so far, then the first.
fn packed(all: u32, cost: u32, state: usize) -> Reverse<u128> {
    Reverse(u128::from(all) << 64 | u128::from(cost) << 32 | u128::from(state as u32))
}

/// Cost and state of it.
fn unpacked(Reverse(number): Reverse<u128>) -> (u32, usize) {
    ((number >> 32) as u32, (number as u32) as usize)
}

/// Came out of a port.
const START: u8 = 4;
