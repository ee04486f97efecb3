//! What stands on the paper: each part as a piece with pads at its left and right edge, measured in lanes of wire.

use pickup_dsl::harness::{Harness, LugId, PartId};
use unicode_width::UnicodeWidthChar;

use crate::picture::shortened;

/// Pixels from one lane of wire to the next; all places on the paper are whole lanes.
pub(super) const LANE: i32 = 10;
/// Size of a lug's name.
pub(super) const SMALL: f64 = 11.0;
/// Size of a part's name.
pub(super) const NAME: f64 = 12.5;
/// Size of a part's name as room is reckoned: its letters are bold.
pub(super) const BOLD: f64 = NAME * 1.12;
/// Lanes from the top of a piece to its body: room for the name.
pub(super) const HEAD: i32 = 2;
/// Characters of a part's name, and of a lug's.
const NAME_LENGTH: usize = 24;
const LABEL_LENGTH: usize = 22;
/// From the edge of a piece to the name of a lug, px.
pub(super) const LABEL: f64 = 12.0;

/// At which edge of a piece a pad sits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Side {
    Left,
    Right,
}

/// Where wires end: a lug, or part of a lug that takes them from both sides.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Pad {
    /// One, or a coil's end with the colours that it has.
    pub(super) lugs: Vec<LugId>,
    pub(super) label: String,
    pub(super) side: Side,
    /// Lanes from the top of the piece to its first wire.
    pub(super) row: i32,
    /// Wires that it has room for, a lane each; at least 1.
    pub(super) ports: i32,
}

/// How a piece is drawn.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Form {
    Pickup(Vec<Bobbin>),
    /// Rows of the first and last lug of each gang.
    Pot(Vec<(i32, i32)>),
    Switch,
    Resistor,
    Capacitor,
    Inductor,
    Jack,
    Strings,
    Splice,
    Stage,
    /// A battery, a shield, a screened wire, a piezo element, and whatever else has a wire on it.
    Case,
}

/// One coil in a pickup.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Bobbin {
    pub(super) name: String,
    pub(super) value: String,
    /// Rows of its ends.
    pub(super) rows: (i32, i32),
    /// Of its ends and taps.
    pub(super) ends: Vec<i32>,
}

/// A part on the paper.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Piece {
    pub(super) part: PartId,
    pub(super) form: Form,
    pub(super) title: String,
    /// Its value, beside the name.
    pub(super) note: String,
    pub(super) pads: Vec<Pad>,
    /// Lanes; the right edge is at x + width.
    pub(super) width: i32,
    pub(super) height: i32,
    /// Top left corner, lanes.
    pub(super) at: (i32, i32),
}

impl Piece {
    /// The middle of a pad's port, lanes.
    pub(super) fn port(&self, pad: &Pad, port: i32) -> (i32, i32) {
        let x = match pad.side {
            Side::Left => self.at.0,
            Side::Right => self.at.0 + self.width,
        };
        (x, self.at.1 + pad.row + port)
    }

    /// Width that the names of lugs at one side need, px.
    pub(super) fn labels(&self, side: Side) -> f64 {
        self.pads
            .iter()
            .filter(|pad| pad.side == side)
            .map(|pad| text_width(&pad.label, SMALL))
            .fold(0.0, f64::max)
    }

    /// Whether the middle of a lane lies on the piece.
    #[cfg(test)]
    pub(super) fn covers(&self, (x, y): (i32, i32)) -> bool {
        (self.at.0..=self.at.0 + self.width).contains(&x)
            && (self.at.1..=self.at.1 + self.height).contains(&y)
    }
}

/// What a lug is called in its part, as far as there is room.
pub(super) fn label(harness: &Harness, lugs: &[LugId]) -> String {
    let names: Vec<&str> = lugs.iter().map(|lug| harness.lugs[lug.0 as usize].name.as_str()).collect();
    shortened(&names.join(" = "), LABEL_LENGTH)
}

/// What a part is called, as far as there is room.
pub(super) fn title(harness: &Harness, part: PartId) -> String {
    shortened(&harness.part(part).name, NAME_LENGTH)
}

/// Room that a line of text is given, px: that of the widest common faces, since every reader has another.
pub(super) fn text_width(words: &str, size: f64) -> f64 {
    words.chars().map(|c| letter(c) * size).sum()
}

/// The line as far as there is room for it.
pub(super) fn fitted(words: &str, size: f64, room: f64) -> String {
    let mut most = words.chars().count();
    let mut fitting = words.to_owned();
    while most > 1 && text_width(&fitting, size) > room {
        most -= 1;
        fitting = shortened(words, most);
    }
    fitting
}

/// Width of a letter as a share of its size.
fn letter(c: char) -> f64 {
    match c {
        'i' | 'j' | 'l' | '\'' | '.' | ',' | ':' | '·' | ' ' => 0.36,
        'f' | 't' | 'r' | '-' | '(' | ')' => 0.44,
        'm' | 'w' | 'M' | 'W' | '…' | '%' => 1.0,
        'A'..='Z' | 'Ω' | '=' | '+' => 0.8,
        c if c.is_ascii() => 0.66,
        c => 0.8 * c.width().unwrap_or(0) as f64,
    }
}

/// Whole lanes that hold so many px.
pub(super) fn lanes(px: f64) -> i32 {
    (px / f64::from(LANE)).ceil() as i32
}

/// Pads one under the other at one side from a row on. The row after them comes back.
pub(super) fn stacked(pads: &mut [Pad], mut row: i32) -> i32 {
    for pad in pads {
        pad.row = row;
        row += pad.ports + 1;
    }
    row
}
