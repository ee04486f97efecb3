//! Parts: their bodies, lugs and contacts, in simple shapes.

use std::collections::BTreeMap;

use pickup_dsl::harness::{JointKind, LugId, PartKind, Switch};

use super::{colours, place, text};
use crate::drawing::forms::DISC;
use crate::drawing::piece::{
    BOLD, Bobbin, Form, HEAD, LABEL, LANE, Pad, Piece, SMALL, Side, fitted, lanes, text_width,
};
use crate::drawing::{Drawing, State};
use crate::xml::escaped;

/// Half the width of a lug, px.
const LUG: f64 = 7.0;
/// From the names of lugs to the contacts, px.
const DOTS: f64 = 7.0;

/// A lug with its joint; it has room for so many wires. `at` is its first.
pub(super) fn lug((x, y): (f64, f64), ports: i32, joint: Option<usize>) -> String {
    let long = f64::from((ports - 1) * LANE);
    let mut out = format!(
        "<rect class=\"pin\" x=\"{:.1}\" y=\"{:.1}\" width=\"{:.1}\" height=\"{:.1}\" rx=\"{LUG:.1}\"/>",
        x - LUG,
        y - LUG,
        2.0 * LUG,
        long + 2.0 * LUG
    );
    let middle = y + long / 2.0;
    match joint {
        // The sign of IEC 60417-5017: three bars, each shorter.
        Some(0) => out.push_str(&format!(
            "<path class=\"detail\" d=\"M{x:.1} {:.1}v3.5M{:.1} {:.1}h8M{:.1} {:.1}h5M{:.1} {:.1}h2\"/>",
            middle - 4.5,
            x - 4.0,
            middle - 1.0,
            x - 2.5,
            middle + 1.3,
            x - 1.0,
            middle + 3.6
        )),
        Some(joint) => out.push_str(&format!(
            "<text class=\"number\" x=\"{x:.1}\" y=\"{:.1}\">{joint}</text>",
            middle + 3.2
        )),
        None => {}
    }
    out.push('\n');
    out
}

impl Drawing<'_> {
    /// One part, whole.
    pub(super) fn piece(&self, piece: &Piece, state: Option<&State>) -> String {
        let part = self.harness.part(piece.part);
        let lugs: Vec<LugId> = piece.pads.iter().flat_map(|pad| pad.lugs.iter().copied()).collect();
        let mut out = format!(
            "<g class=\"part{}\" data-part=\"{}\" {}>\n<title>{}</title>\n",
            self.faded(&lugs, state),
            escaped(&part.name),
            data(&lugs),
            escaped([part.name.as_str(), piece.note.as_str()].join(" ").trim_end())
        );
        out.push_str(&self.body(piece));
        let (x, y) = place(piece.at);
        let value = match &piece.form {
            Form::Pot(_) => String::new(),
            _ if piece.note.is_empty() => String::new(),
            _ => format!("<tspan class=\"small\" dx=\"6\">{}</tspan>", escaped(&piece.note)),
        };
        out.push_str(&format!(
            "<text class=\"name\" x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"start\">{}{value}</text>\n",
            x - 2.0,
            y + 12.0,
            escaped(&piece.title)
        ));
        out.push_str("</g>\n");
        if let PartKind::Switch(switch) = &part.kind {
            out.push_str(&self.contacts(piece, switch, state));
        }
        for pad in &piece.pads {
            out.push_str(&self.pad(piece, pad, state));
        }
        out
    }

    fn faded(&self, lugs: &[LugId], state: Option<&State>) -> &'static str {
        let carries = |state: &State| lugs.iter().any(|lug| state.signal.carries[lug.0 as usize]);
        if state.is_none_or(carries) { "" } else { " faded" }
    }

    fn pad(&self, piece: &Piece, pad: &Pad, state: Option<&State>) -> String {
        let joint = pad.lugs.first().and_then(|lug| self.joint(*lug));
        let names: Vec<String> = pad.lugs.iter().map(|lug| self.harness.lug_name(*lug)).collect();
        let mut out = format!(
            "<g class=\"lug {}{}\" data-joint=\"{}\" {}>\n<title>{}</title>\n",
            joint.map_or("idle".to_owned(), colours),
            self.faded(&pad.lugs, state),
            joint.map_or(String::new(), |joint| joint.to_string()),
            data(&pad.lugs),
            escaped(&names.join(" = "))
        );
        let at = place(piece.port(pad, 0));
        out.push_str(&lug(at, pad.ports, joint));
        let y = at.1 + f64::from((pad.ports - 1) * LANE) / 2.0 + 4.0;
        // A component's lugs are named beside its symbol, a pot's on their tabs.
        let inward = if matches!(piece.form, Form::Pot(_)) { LABEL - 1.0 } else { LABEL };
        out.push_str(&match pad.side {
            Side::Left => text(at.0 + inward, y, "small", "start", &pad.label),
            Side::Right => text(at.0 - inward, y, "small", "end", &pad.label),
        });
        out.push_str("</g>\n");
        out
    }

    fn body(&self, piece: &Piece) -> String {
        let (x, y) = place(piece.at);
        let (width, height) = (f64::from(piece.width * LANE), f64::from(piece.height * LANE));
        let head = f64::from(HEAD * LANE);
        let plate = |radius: f64| {
            format!(
                "<rect class=\"body\" x=\"{x:.1}\" y=\"{:.1}\" width=\"{width:.1}\" height=\"{:.1}\" rx=\"{radius:.1}\"/>\n",
                y + head - 2.0,
                height - head + 2.0
            )
        };
        match &piece.form {
            Form::Pickup(bobbins) => {
                let mut out = plate(9.0);
                bobbins.iter().for_each(|coil| out.push_str(&bobbin(piece, coil)));
                out.push_str(&self.made(piece));
                out
            }
            Form::Pot(gangs) => pot(piece, gangs),
            Form::Switch => plate(4.0),
            Form::Resistor | Form::Capacitor | Form::Inductor => component(piece),
            Form::Splice => splice(piece),
            Form::Jack => {
                let (cx, cy) = (x + width - 32.0, y + (head - 2.0 + height) / 2.0);
                plate(12.0)
                    + &format!(
                        "<circle class=\"metal\" cx=\"{cx:.1}\" cy=\"{cy:.1}\" r=\"16\"/><circle class=\"hole\" cx=\"{cx:.1}\" cy=\"{cy:.1}\" r=\"8\"/>\n"
                    )
            }
            Form::Strings => {
                let middle = y + (head - 2.0 + height) / 2.0;
                let lines: String = (0..6)
                    .map(|i| {
                        format!(
                            "M{:.1} {:.1}h{:.1}",
                            x + 22.0,
                            middle - 7.5 + 3.0 * f64::from(i),
                            width - 30.0
                        )
                    })
                    .collect();
                plate(3.0) + &format!("<path class=\"detail\" d=\"{lines}\"/>\n")
            }
            Form::Stage => {
                let (left, right) = (
                    x + LABEL + piece.labels(Side::Left) + 8.0,
                    x + width - LABEL - piece.labels(Side::Right) - 8.0,
                );
                let (top, bottom) = (y + head + 4.0, y + height - 6.0);
                plate(4.0)
                    + &format!(
                        "<path class=\"detail\" d=\"M{left:.1} {top:.1}L{right:.1} {:.1}L{left:.1} {bottom:.1}z\"/>\n",
                        (top + bottom) / 2.0
                    )
            }
            Form::Case => plate(4.0),
        }
    }

    /// Links and bonds inside a pickup.
    fn made(&self, piece: &Piece) -> String {
        let x = place(piece.at).0 + f64::from(piece.width * LANE) - LABEL - piece.labels(Side::Right) - DOTS;
        let row = |lug: LugId| {
            let pad = piece.pads.iter().find(|pad| pad.lugs.contains(&lug))?;
            Some(place(piece.port(pad, 0)).1 + f64::from((pad.ports - 1) * LANE) / 2.0)
        };
        let mut out = String::new();
        for joint in &self.harness.joints {
            if matches!(joint.kind, JointKind::Factory | JointKind::Bond)
                && let (Some(a), Some(b)) = (row(joint.a), row(joint.b))
                && a != b
            {
                out.push_str(&format!("<path class=\"made\" d=\"{}\"/>", bow(x, a, b, -1.0)));
                out.push_str(&dot(x, a));
                out.push_str(&dot(x, b));
                out.push('\n');
            }
        }
        out
    }

    /// The contacts of a switch: all that there are, thin; and those of each throw, of which one is shown.
    fn contacts(&self, piece: &Piece, switch: &Switch, state: Option<&State>) -> String {
        let mut dots: BTreeMap<LugId, (f64, f64, Side)> = BTreeMap::new();
        for pad in &piece.pads {
            let (x, y) = place(piece.port(pad, 0));
            let inward = LABEL + piece.labels(pad.side) + DOTS;
            let x = if pad.side == Side::Left { x + inward } else { x - inward };
            for lug in &pad.lugs {
                dots.insert(*lug, (x, y + f64::from((pad.ports - 1) * LANE) / 2.0, pad.side));
            }
        }
        let line = |a: LugId, b: LugId| -> Option<String> {
            let (&(ax, ay, side), &(bx, by, other)) = (dots.get(&a)?, dots.get(&b)?);
            Some(if side == other {
                bow(ax, ay, by, if side == Side::Left { 1.0 } else { -1.0 })
            } else {
                let middle = (ax + bx) / 2.0;
                format!("M{ax:.1} {ay:.1}C{middle:.1} {ay:.1} {middle:.1} {by:.1} {bx:.1} {by:.1}")
            })
        };
        let pairs = |sets: &[Vec<LugId>]| -> Vec<(LugId, LugId)> {
            sets.iter()
                .filter_map(|set| set.split_first())
                .flat_map(|(first, rest)| rest.iter().map(|other| (*first, *other)))
                .collect()
        };
        let mut all: Vec<(LugId, LugId)> =
            switch.throws.iter().flat_map(|throw| pairs(&throw.joins)).collect();
        all.sort_unstable();
        all.dedup();
        let lines: String = all.iter().filter_map(|(a, b)| line(*a, *b)).collect();
        let own: Vec<LugId> = dots.keys().copied().collect();
        let mut out =
            format!("<g class=\"poles{}\" {}><path d=\"{lines}\"/>", self.faded(&own, state), data(&own));
        for (lug, &(x, y, _)) in &dots {
            if all.iter().any(|(a, b)| a == lug || b == lug) {
                out.push_str(&format!("<circle class=\"hole\" cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"2.6\"/>"));
            }
        }
        out.push_str("</g>\n");
        let number = self.harness.switches().position(|(id, _)| id == piece.part);
        let (right, top) = (place(piece.at).0 + f64::from(piece.width * LANE), place(piece.at).1 + 12.0);
        for (index, throw) in switch.throws.iter().enumerate() {
            let closed =
                state.zip(number).is_some_and(|(state, number)| state.throws.get(number) == Some(&index));
            out.push_str(&format!(
                "<g class=\"contact{}\" data-switch=\"{}\" data-throw=\"{index}\">\n",
                if closed { " closed" } else { "" },
                number.unwrap_or(0)
            ));
            let room = f64::from(piece.width * LANE) - text_width(&piece.title, BOLD) - 6.0;
            out.push_str(&text(right + 2.0, top, "small", "end", &fitted(&throw.name, SMALL, room)));
            for (a, b) in pairs(&throw.joins) {
                if let Some(line) = line(a, b) {
                    let ends: String = [a, b].iter().map(|lug| dot(dots[lug].0, dots[lug].1)).collect();
                    let lugs = [a, b];
                    out.push_str(&format!(
                        "<g class=\"bridge{}\" {}><path d=\"{line}\"/>{ends}</g>\n",
                        self.faded(&lugs, state),
                        data(&lugs)
                    ));
                }
            }
            out.push_str("</g>\n");
        }
        out
    }
}

fn data(lugs: &[LugId]) -> String {
    let numbers: Vec<String> = lugs.iter().map(|lug| lug.0.to_string()).collect();
    format!("data-lugs=\"{}\"", numbers.join(" "))
}

fn dot(x: f64, y: f64) -> String {
    format!("<circle class=\"dot\" cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"2.8\"/>")
}

/// An arc between two rows, the wider the further they lie apart.
fn bow(x: f64, a: f64, b: f64, way: f64) -> String {
    let out = x + way * (7.0 + (b - a).abs() * 0.16).min(26.0);
    format!("M{x:.1} {a:.1}C{out:.1} {a:.1} {out:.1} {b:.1} {x:.1} {b:.1}")
}

fn bobbin(piece: &Piece, coil: &Bobbin) -> String {
    let (x, y) = place(piece.at);
    let y_of = |row: i32| y + f64::from(row * LANE);
    let right = x + f64::from(piece.width * LANE) - LABEL - piece.labels(Side::Right) - DOTS;
    let (left, top) = (x + 10.0, y_of(coil.rows.0) - 7.0);
    let (width, height) = (right - left - 30.0, y_of(coil.rows.1) + 7.0 - top);
    let mut out = format!(
        "<rect class=\"metal\" x=\"{left:.1}\" y=\"{top:.1}\" width=\"{width:.1}\" height=\"{height:.1}\" rx=\"{:.1}\"/>\n",
        (height / 2.0).min(14.0)
    );
    let middle = left + width / 2.0;
    let line = |y: f64, class: &str, size: f64, words: &str| {
        text(middle, y, class, "middle", &fitted(words, size, width - 4.0))
    };
    out.push_str(&line(top + height / 2.0 - 2.0, "small", SMALL, &coil.name));
    out.push_str(&line(top + height / 2.0 + 11.0, "tiny", SMALL - 1.0, &coil.value));
    // Leads to the names of their lugs, in the middle of which the name stands.
    for pad in piece.pads.iter().filter(|pad| coil.ends.contains(&pad.row)) {
        let end = x + f64::from(piece.width * LANE) - LABEL - text_width(&pad.label, SMALL) - 3.0;
        let middle = y_of(pad.row) + f64::from((pad.ports - 1) * LANE) / 2.0;
        out.push_str(&format!("<path class=\"detail\" d=\"M{:.1} {middle:.1}H{end:.1}\"/>", left + width));
    }
    out.push('\n');
    out
}

/// Its case from behind, a disc for each gang, with a tab for every lug.
fn pot(piece: &Piece, gangs: &[(i32, i32)]) -> String {
    let (x, y) = place(piece.at);
    let radius = f64::from(DISC * LANE) / 2.0;
    let names: Vec<f64> = piece
        .pads
        .iter()
        .filter(|pad| pad.side == Side::Left && pad.label != "case")
        .map(|pad| text_width(&pad.label, SMALL))
        .collect();
    let tab = f64::from(lanes(LABEL + names.iter().copied().fold(0.0, f64::max)) * LANE) + 4.0;
    let cx = x + tab + radius - 4.0;
    let middle = |gang: &(i32, i32)| y + f64::from((gang.0 + gang.1) * LANE) / 2.0;
    let mut out = String::new();
    for pad in &piece.pads {
        let (px, py) = place(piece.port(pad, 0));
        let py = py + f64::from((pad.ports - 1) * LANE) / 2.0;
        let case = pad.label == "case";
        match (case, pad.side) {
            (true, side) => {
                let turn = gangs.last().map_or(py, middle);
                let clear = if side == Side::Left {
                    px + LABEL + text_width("case", SMALL) + 3.0
                } else {
                    px - LABEL - text_width("case", SMALL) - 3.0
                };
                out.push_str(&format!(
                    "<path class=\"made\" d=\"M{clear:.1} {py:.1}H{cx:.1}V{turn:.1}\"/>\n"
                ));
            }
            (false, _) => out.push_str(&format!(
                "<rect class=\"metal\" x=\"{px:.1}\" y=\"{:.1}\" width=\"{:.1}\" height=\"14\" rx=\"2\"/>\n",
                py - 7.0,
                cx - radius * 0.55 - px
            )),
        }
    }
    for gang in gangs {
        out.push_str(&format!(
            "<circle class=\"body\" cx=\"{cx:.1}\" cy=\"{:.1}\" r=\"{radius:.1}\"/>\n<circle class=\"detail\" cx=\"{cx:.1}\" cy=\"{:.1}\" r=\"{:.1}\"/>\n",
            middle(gang),
            middle(gang),
            radius - 5.0
        ));
        let (ohms, taper) = piece.note.rsplit_once(' ').unwrap_or((&piece.note, ""));
        let room = 2.0 * radius - 14.0;
        out.push_str(&text(cx, middle(gang) - 1.0, "small", "middle", &fitted(ohms, SMALL, room)));
        out.push_str(&text(cx, middle(gang) + 12.0, "tiny", "middle", &fitted(taper, SMALL - 1.0, room)));
    }
    out
}

/// The metal between the wires of its two sides.
fn splice(piece: &Piece) -> String {
    let middle = |pad: &Pad| {
        let (x, y) = place(piece.port(pad, 0));
        (x, y + f64::from((pad.ports - 1) * LANE) / 2.0)
    };
    match piece.pads.as_slice() {
        [left, right] => {
            let ((ax, ay), (bx, by)) = (middle(left), middle(right));
            format!("<path class=\"made\" d=\"M{ax:.1} {ay:.1}L{bx:.1} {by:.1}\"/>\n")
        }
        _ => String::new(),
    }
}

fn component(piece: &Piece) -> String {
    let (x, y) = place(piece.at);
    let width = f64::from(piece.width * LANE);
    let first = |side: Side| piece.pads.iter().find(|pad| pad.side == side);
    let middle = |pad: &Pad| place(piece.port(pad, 0)).1 + f64::from((pad.ports - 1) * LANE) / 2.0;
    let (Some(left), Some(right)) = (first(Side::Left), first(Side::Right)) else {
        return String::new();
    };
    let (ly, ry) = (middle(left), middle(right));
    let cx = x + width / 2.0;
    // Names of lugs stand at both ends of the leads.
    let (from, to) =
        (x + LABEL + piece.labels(Side::Left) + 2.0, x + width - LABEL - piece.labels(Side::Right) - 2.0);
    let cy = ly.min(ry).max(y + f64::from(HEAD * LANE));
    let leads = |half: f64| {
        format!(
            "<path class=\"detail\" d=\"M{from:.1} {ly:.1}V{cy:.1}H{:.1}M{:.1} {cy:.1}H{to:.1}V{ry:.1}\"/>",
            cx - half,
            cx + half
        )
    };
    let body = match piece.form {
        Form::Resistor => {
            let half = (to - from) / 2.0 - 5.0;
            leads(half)
                + &format!(
                    "<rect class=\"body\" x=\"{:.1}\" y=\"{:.1}\" width=\"{:.1}\" height=\"11\" rx=\"4\"/>",
                    cx - half,
                    cy - 5.5,
                    2.0 * half
                )
        }
        Form::Capacitor => {
            leads(3.0)
                + &format!(
                    "<path class=\"made\" d=\"M{:.1} {:.1}v15M{:.1} {:.1}v15\"/>",
                    cx - 3.0,
                    cy - 7.5,
                    cx + 3.0,
                    cy - 7.5
                )
        }
        _ => {
            let half = (to - from) / 2.0 - 4.0;
            let arc = half / 2.0;
            leads(half)
                + &format!(
                    "<path class=\"made\" d=\"M{:.1} {cy:.1}a{:.1} 6 0 0 1 {arc:.1} 0a{:.1} 6 0 0 1 {arc:.1} 0a{:.1} 6 0 0 1 {arc:.1} 0a{:.1} 6 0 0 1 {arc:.1} 0\"/>",
                    cx - half,
                    arc / 2.0,
                    arc / 2.0,
                    arc / 2.0,
                    arc / 2.0
                )
        }
    };
    body + "\n"
}
