//! A drawing as SVG.
//!
//! Nothing hangs on colour: each joint has its number at every lug and a stripe of its own on its wires; ground has a sign and the
//! thinnest line. Everything that belongs to a lug says so in `data-lugs`, each contact its switch and throw, so that a page can show
//! another position without drawing again: elements with `data-lugs` lose the class `faded` if one of these lugs carries the signal, those
//! with `data-throw` have the class `closed` if their switch stands there. The same drawing gives the same bytes.

mod parts;
pub(crate) mod style;

use pickup_dsl::harness::LugId;

use super::piece::{LANE, SMALL, fitted, text_width};
use super::{Drawing, State, Wire};
use crate::picture::{Theme, opened};
use crate::xml::escaped;

/// Around everything, px.
const MARGIN: f64 = 16.0;
/// Size of the name of the guitar as room is reckoned, bold.
const HEADING: f64 = 18.0;
/// For the name of the guitar and what is shown, px.
const TOP: f64 = 54.0;
/// One line of the list of joints, px.
const LINE: f64 = 19.0;
/// One column of it, px.
const COLUMN: f64 = 390.0;
/// Radius of a bend, px.
const BEND: f64 = 4.0;

/// What is shown of a drawing.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Shown<'a> {
    /// Whose wiring it is.
    pub(crate) title: &'a str,
    /// A position stands out; else all contacts stand open.
    pub(crate) state: Option<&'a State>,
    /// Colours; None where the document has [`style::style`] already.
    pub(crate) theme: Option<Theme>,
    /// What the ids begin with: a page may hold several pictures.
    pub(crate) id: &'a str,
}

impl Drawing<'_> {
    /// The picture.
    pub(crate) fn svg(&self, shown: Shown<'_>) -> String {
        let lists = self.listed();
        let drawn = (f64::from(self.size.0 * LANE), f64::from(self.size.1 * LANE));
        let width = 2.0 * MARGIN + drawn.0.max(COLUMN * 2.0);
        let columns = ((width - 2.0 * MARGIN) / COLUMN).floor().max(1.0) as usize;
        let lines = lists.len().div_ceil(columns);
        let below = TOP + drawn.1 + 14.0;
        let height = below + LINE * lines as f64 + MARGIN;
        let (said, described) = self.captions(shown.state);
        let attributes = format!(" class=\"wiring\"{}", shown.state.map(data).unwrap_or_default());
        let title = format!("{}: wiring", shown.title);
        let mut out = opened((width, height), shown.id, &attributes, (&title, &described));
        if let Some(theme) = shown.theme {
            out.push_str(&format!("<style>\n{}</style>\n", style::style(theme)));
        }
        out.push_str(&format!("<rect class=\"paper\" width=\"{width}\" height=\"{height}\"/>\n"));
        let room = width - 2.0 * MARGIN;
        out.push_str(&text(MARGIN, 24.0, "head", "start", &fitted(shown.title, HEADING, room)));
        out.push_str(&text(MARGIN, 42.0, "small", "start", &fitted(&said, SMALL, room)));
        let live =
            |wire: &Wire| shown.state.is_some_and(|state| state.signal.between(wire.lugs.0, wire.lugs.1));
        let ground = |wire: &Wire| self.joint(wire.lugs.0) == Some(0);
        // Ground at the bottom, what carries the signal on top.
        let mut order: Vec<usize> = (0..self.wires.len()).collect();
        order.sort_by_key(|&i| (live(&self.wires[i]), !ground(&self.wires[i]), i));
        for i in order {
            out.push_str(&self.wire(i, shown.state));
        }
        for piece in &self.pieces {
            out.push_str(&self.piece(piece, shown.state));
        }
        for (i, (joint, words)) in lists.iter().enumerate() {
            let (column, line) = (i / lines, i % lines);
            let (x, y) = (MARGIN + COLUMN * column as f64, below + LINE * (line as f64 + 0.5));
            out.push_str(&format!("<g class=\"{}\">\n", colours(*joint)));
            out.push_str(&strokes(&format!("M{:.1} {y:.1}H{:.1}", x + 20.0, x + 58.0), *joint));
            out.push_str(&parts::lug((x + 8.0, y), 1, Some(*joint)));
            out.push_str("</g>\n");
            out.push_str(&text(x + 66.0, y + 4.0, "small", "start", words));
        }
        out.push_str("</svg>\n");
        out
    }

    /// The joint of a lug.
    fn joint(&self, lug: LugId) -> Option<usize> {
        self.joints[lug.0 as usize]
    }

    /// The line under the name, and the description.
    fn captions(&self, state: Option<&State>) -> (String, String) {
        let said = match state {
            Some(state) => {
                let throws: Vec<String> = self
                    .harness
                    .switches()
                    .zip(&state.throws)
                    .filter_map(|((id, switch), throw)| {
                        Some(format!("{} {}", self.harness.part(id).name, switch.throws.get(*throw)?.name))
                    })
                    .collect();
                let gap = if throws.is_empty() { "" } else { ": " };
                format!(
                    "{}{gap}{}; ground and what does not carry its signal are faint",
                    state.name,
                    throws.join(", ")
                )
            }
            None => "From the side that is soldered. Equal numbers are one joint; contacts as thin lines"
                .to_owned(),
        };
        let straight = match self.straight() {
            0 => String::new(),
            count => format!(" Straight lines, {count}: no way around the parts was found."),
        };
        let described = format!("{said}. {} parts, {} wires.{straight}", self.pieces.len(), self.wires.len());
        (format!("{said}.{straight}"), described)
    }

    /// Joints with their lugs, in order.
    fn listed(&self) -> Vec<(usize, String)> {
        let last = self.wires.iter().filter_map(|wire| self.joint(wire.lugs.0)).max().unwrap_or(0);
        let mut all = Vec::new();
        for joint in 0..=last {
            // Ground reads best without a list of half the guitar.
            let mut names: Vec<String> = Vec::new();
            for lug in self.wires.iter().flat_map(|wire| [wire.lugs.0, wire.lugs.1]) {
                let name = self.harness.lug_name(lug);
                if self.joint(lug) == Some(joint) && !names.contains(&name) {
                    names.push(name);
                }
            }
            match (joint, names.len()) {
                (_, 0) => {}
                (0, count) => all.push((0, format!("ground: {count} lugs"))),
                _ => all.push((joint, as_many_as_fit(&names, COLUMN - 76.0))),
            }
        }
        all
    }

    fn wire(&self, index: usize, state: Option<&State>) -> String {
        let wire = &self.wires[index];
        let (a, b) = wire.lugs;
        let joint = self.joint(a).unwrap_or(0);
        let live = state.is_none_or(|state| state.signal.between(a, b));
        let mut out = format!(
            "<g class=\"wire {}{}{}\" data-wire=\"{index}\" data-joint=\"{joint}\" data-lugs=\"{} {}\" data-from=\"{}\" data-to=\"{}\">\n",
            colours(joint),
            if wire.straight { " straight" } else { "" },
            if live { "" } else { " faded" },
            a.0,
            b.0,
            escaped(&self.harness.lug_name(a)),
            escaped(&self.harness.lug_name(b)),
        );
        out.push_str(&strokes(&rounded(&wire.path), joint));
        out.push_str("</g>\n");
        out
    }
}

/// A list, or as much of it as there is room for, and how much that leaves out.
pub(super) fn as_many_as_fit(names: &[String], room: f64) -> String {
    let first = |count: usize| match names.len() - count {
        0 => names.join(", "),
        left => format!("{} and {left} more", names[..count].join(", ")),
    };
    let count = (1..=names.len()).rev().find(|&count| text_width(&first(count), SMALL) <= room);
    fitted(&first(count.unwrap_or(1)), SMALL, room)
}

/// What is shown, in the numbers that the elements have.
fn data(state: &State) -> String {
    let listed = |numbers: Vec<String>| numbers.join(" ");
    format!(
        " data-throws=\"{}\" data-carrying=\"{}\"",
        listed(state.throws.iter().map(usize::to_string).collect()),
        listed(state.carrying().iter().map(u32::to_string).collect())
    )
}

/// Where a crossing of lanes lies, px.
fn place((x, y): (i32, i32)) -> (f64, f64) {
    (MARGIN + f64::from(x * LANE), TOP + f64::from(y * LANE))
}

/// The classes of a joint: a colour and a stripe, which differ from those of its neighbours in number.
fn colours(joint: usize) -> String {
    match joint.checked_sub(1) {
        None => "ground".to_owned(),
        Some(i) => format!("c{} s{}", i % style::COLOURS, (i + i / style::COLOURS) % style::STRIPES),
    }
}

/// A wire: a gap in what it crosses, itself, and its stripe.
fn strokes(path: &str, joint: usize) -> String {
    let mut out = format!("<path class=\"gap\" d=\"{path}\"/><path class=\"core\" d=\"{path}\"/>");
    if joint > 0 {
        out.push_str(&format!("<path class=\"stripe\" d=\"{path}\"/>"));
    }
    out.push('\n');
    out
}

/// A path with round bends.
fn rounded(path: &[(i32, i32)]) -> String {
    let places: Vec<(f64, f64)> = path.iter().copied().map(place).collect();
    let mut out = String::new();
    for (i, &(x, y)) in places.iter().enumerate() {
        if i == 0 {
            out.push_str(&format!("M{x:.1} {y:.1}"));
        } else if i + 1 == places.len() {
            out.push_str(&format!("L{x:.1} {y:.1}"));
        } else {
            let toward = |(ox, oy): (f64, f64)| {
                let length = (ox - x).abs().max((oy - y).abs()).max(1.0);
                (x + (ox - x) / length * BEND, y + (oy - y) / length * BEND)
            };
            let ((ax, ay), (bx, by)) = (toward(places[i - 1]), toward(places[i + 1]));
            out.push_str(&format!("L{ax:.1} {ay:.1}Q{x:.1} {y:.1} {bx:.1} {by:.1}"));
        }
    }
    out
}

fn text(x: f64, y: f64, class: &str, anchor: &str, words: &str) -> String {
    if words.is_empty() {
        return String::new();
    }
    format!(
        "<text class=\"{class}\" x=\"{x:.1}\" y=\"{y:.1}\" text-anchor=\"{anchor}\">{}</text>\n",
        escaped(words)
    )
}
