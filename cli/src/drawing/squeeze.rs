//! Takes out lanes on which nothing happens: no piece, no bend, no wire along them. Nothing else moves, so no wire comes to lie on another.

use super::Drawing;

/// Lanes that stay free around everything.
const EDGE: i32 = 1;

/// Takes idle lanes out of a drawing.
pub(super) fn squeeze(drawing: &mut Drawing<'_>) {
    let (width, height) = drawing.size;
    let mut columns = vec![false; width as usize];
    let mut rows = vec![false; height as usize];
    let keep = |lanes: &mut Vec<bool>, from: i32, to: i32| {
        for lane in from.min(to)..=from.max(to) {
            if let Some(lane) = usize::try_from(lane).ok().and_then(|lane| lanes.get_mut(lane)) {
                *lane = true;
            }
        }
    };
    for piece in &drawing.pieces {
        let (x, y) = piece.at;
        // With the lane in front of its lugs, and one above and below.
        keep(&mut columns, x - 1, x + piece.width + 1);
        keep(&mut rows, y - 1, y + piece.height + 1);
    }
    for wire in &drawing.wires {
        for pair in wire.path.windows(2) {
            let ((ax, ay), (bx, by)) = (pair[0], pair[1]);
            if ax == bx || wire.straight {
                keep(&mut columns, ax, ax);
                keep(&mut columns, bx, bx);
            }
            if ay == by || wire.straight {
                keep(&mut rows, ay, ay);
                keep(&mut rows, by, by);
            }
        }
    }
    let places = |kept: &[bool]| -> Vec<i32> {
        kept.iter()
            .scan(EDGE, |next, kept| {
                let place = *next;
                *next += i32::from(*kept);
                Some(place)
            })
            .collect()
    };
    let (x, y) = (places(&columns), places(&rows));
    let moved = |(column, row): (i32, i32)| (x[column as usize], y[row as usize]);
    for piece in &mut drawing.pieces {
        piece.at = moved(piece.at);
    }
    for wire in &mut drawing.wires {
        wire.path.iter_mut().for_each(|place| *place = moved(*place));
    }
    let after = |kept: &[bool]| kept.iter().filter(|kept| **kept).count() as i32 + 2 * EDGE;
    drawing.size = (after(&columns), after(&rows));
}
