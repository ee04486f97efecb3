//! Where each piece stands: columns from left to right, in each an order that keeps wires short, and room for lanes between.

use std::collections::BTreeMap;

use pickup_dsl::harness::LugId;

use super::columns::Columns;
use super::piece::{Piece, Side};

/// Room that is left for wires.
#[derive(Debug, Clone, Copy)]
pub(super) struct Room {
    /// Lanes between two pieces of a column.
    pub(super) between: i32,
    /// Lanes more between two columns than wires end there.
    pub(super) channel: i32,
    /// Lanes around everything.
    pub(super) margin: i32,
}

/// A column is broken in two above this height, if the paper is not that high anyway.
const TALL: i32 = 110;
/// Rounds of exchanging pieces at most.
const ROUNDS: usize = 6;
/// A ground wire counts so much less.
const GROUND: i64 = 1;
const OTHER: i64 = 4;

/// Places all pieces; the size of the paper in lanes comes back.
pub(super) fn place(pieces: &mut [Piece], columns: &Columns<'_>, room: Room) -> (i32, i32) {
    let mut stacks = stacks(pieces, columns);
    let ends = ends(pieces, columns);
    order(pieces, &mut stacks, &ends, room);
    let height = stacks.iter().map(|stack| height(pieces, stack, room.between)).max().unwrap_or(0);
    for stack in &stacks {
        set_rows(pieces, stack, room.between, (height - self::height(pieces, stack, room.between)) / 2);
    }
    for _ in 0..4 {
        for stack in &stacks {
            lean(pieces, stack, &ends, room.between, height);
        }
    }
    pieces.iter_mut().for_each(|piece| piece.at.1 += room.margin);
    let width = set_columns(pieces, &stacks, room);
    (width, height + 2 * room.margin)
}

/// Pieces by column in order of the file; a tall column in several.
fn stacks(pieces: &[Piece], columns: &Columns<'_>) -> Vec<Vec<usize>> {
    let mut by_column: BTreeMap<i32, Vec<usize>> = BTreeMap::new();
    for (index, piece) in pieces.iter().enumerate() {
        by_column.entry(columns.column(piece.part).unwrap_or(0)).or_default().push(index);
    }
    // What is not high side by side need not be broken.
    let area: f64 = pieces.iter().map(|p| f64::from((p.height + 6) * (p.width + 14))).sum();
    let tall = TALL.max((area * 0.8).sqrt() as i32);
    let mut all = Vec::new();
    for stack in by_column.into_values() {
        let whole = height(pieces, &stack, 4);
        let parts = (whole / tall + 1).min(stack.len() as i32).max(1);
        let (mut piled, mut part) = (0, Vec::new());
        for index in stack {
            piled += pieces[index].height + 4;
            part.push(index);
            if piled * parts >= whole {
                all.push(std::mem::take(&mut part));
                piled = 0;
            }
        }
        if !part.is_empty() {
            all.push(part);
        }
    }
    all
}

fn height(pieces: &[Piece], stack: &[usize], between: i32) -> i32 {
    stack.iter().map(|index| pieces[*index].height + between).sum::<i32>() - between
}

fn set_rows(pieces: &mut [Piece], stack: &[usize], between: i32, top: i32) {
    let mut y = top;
    for &index in stack {
        pieces[index].at.1 = y;
        y += pieces[index].height + between;
    }
}

/// A wire between two pieces: each with the row of its pad in it.
#[derive(Debug, Clone, Copy)]
struct End {
    a: (usize, i32),
    b: (usize, i32),
    weight: i64,
}

fn ends(pieces: &[Piece], columns: &Columns<'_>) -> Vec<End> {
    let mut rows: BTreeMap<LugId, (usize, i32)> = BTreeMap::new();
    for (index, piece) in pieces.iter().enumerate() {
        for pad in &piece.pads {
            for lug in &pad.lugs {
                rows.entry(*lug).or_insert((index, pad.row + pad.ports / 2));
            }
        }
    }
    let wires = columns.wires.iter().filter_map(|(a, b)| {
        let weight = if columns.ground[a.0 as usize] { GROUND } else { OTHER };
        Some(End { a: *rows.get(a)?, b: *rows.get(b)?, weight })
    });
    wires.filter(|end| end.a.0 != end.b.0).collect()
}

/// Exchanges pieces of a column as long as that makes wires shorter.
fn order(pieces: &mut [Piece], stacks: &mut [Vec<usize>], ends: &[End], room: Room) {
    let most = stacks.iter().map(|stack| height(pieces, stack, room.between)).max().unwrap_or(0);
    let settle = |pieces: &mut [Piece], stack: &[usize]| {
        let top = (most - height(pieces, stack, room.between)) / 2;
        set_rows(pieces, stack, room.between, top);
    };
    for stack in stacks.iter() {
        settle(pieces, stack);
    }
    let cost = |pieces: &[Piece]| -> i64 {
        ends.iter()
            .map(|end| {
                let y = |(piece, row): (usize, i32)| pieces[piece].at.1 + row;
                end.weight * i64::from((y(end.a) - y(end.b)).abs())
            })
            .sum()
    };
    let mut best = cost(pieces);
    for _ in 0..ROUNDS {
        let before = best;
        for stack in stacks.iter_mut() {
            for i in 0..stack.len() {
                for j in i + 1..stack.len() {
                    stack.swap(i, j);
                    settle(pieces, stack);
                    let now = cost(pieces);
                    if now < best {
                        best = now;
                    } else {
                        stack.swap(i, j);
                        settle(pieces, stack);
                    }
                }
            }
        }
        if best == before {
            return;
        }
    }
}

/// Moves the pieces of a column, in their order, towards what they are wired to.
fn lean(pieces: &mut [Piece], stack: &[usize], ends: &[End], between: i32, height: i32) {
    let wanted: Vec<i32> = stack
        .iter()
        .map(|&index| {
            let (mut sum, mut weight) = (0_i64, 0_i64);
            for end in ends {
                let (own, other) = match (end.a.0 == index, end.b.0 == index) {
                    (true, false) => (end.a, end.b),
                    (false, true) => (end.b, end.a),
                    _ => continue,
                };
                // Square: ground has many ends, and may not pull a component away from its own.
                let pull = end.weight * end.weight;
                sum += pull * i64::from(pieces[other.0].at.1 + other.1 - own.1);
                weight += pull;
            }
            if weight == 0 { pieces[index].at.1 } else { (sum / weight) as i32 }
        })
        .collect();
    let mut least = 0;
    let mut places = Vec::with_capacity(stack.len());
    for (&index, want) in stack.iter().zip(wanted) {
        let y = want.max(least);
        places.push(y);
        least = y + pieces[index].height + between;
    }
    let mut most = height;
    for (&index, place) in stack.iter().zip(places).rev() {
        pieces[index].at.1 = place.min(most - pieces[index].height);
        most = pieces[index].at.1 - between;
    }
}

/// Columns side by side, with a lane for every wire that ends between them and some more.
fn set_columns(pieces: &mut [Piece], stacks: &[Vec<usize>], room: Room) -> i32 {
    let ports = |pieces: &[Piece], stack: &[usize], side: Side| -> i32 {
        let pads = stack.iter().flat_map(|index| &pieces[*index].pads);
        pads.filter(|pad| pad.side == side).map(|pad| pad.ports).sum()
    };
    let mut x = room.margin;
    for (index, stack) in stacks.iter().enumerate() {
        if index > 0 {
            let facing = ports(pieces, &stacks[index - 1], Side::Right) + ports(pieces, stack, Side::Left);
            x += room.channel + facing.min(60);
        }
        let wide = stack.iter().map(|index| pieces[*index].width).max().unwrap_or(0);
        let last_turned_left = index + 1 == stacks.len();
        for &piece in stack {
            // A narrow piece stands in the middle of its column, the last column at its left edge, where all wires are.
            let shift = if last_turned_left { 0 } else { (wide - pieces[piece].width) / 2 };
            pieces[piece].at.0 = x + shift;
        }
        x += wide;
    }
    x + room.margin
}
