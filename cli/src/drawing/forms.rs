//! Parts → pieces: which lugs sit where on each, and how large it is.

use pickup_dsl::harness::{
    Coil, Harness, JointKind, LugId, Part, PartId, PartKind, Pickup, Pot, Switch, Taper,
};

use super::columns::Columns;
use super::piece::{
    BOLD, Bobbin, Form, HEAD, LABEL, Pad, Piece, SMALL, Side, label, lanes, stacked, text_width, title,
};
use crate::unit::{as_printed, significant};

/// Lanes across the case of a pot.
pub(super) const DISC: i32 = 8;
/// Least lanes between the two rows of lugs of a switch.
const CONTACTS: i32 = 4;

/// All parts that are drawn, in order of the file.
pub(super) fn pieces(columns: &Columns<'_>) -> Vec<Piece> {
    let parts = columns.harness.parts.iter().enumerate();
    parts
        .map(|(index, part)| (PartId(index as u32), part))
        .filter(|(id, _)| columns.column(*id).is_some())
        .map(|(id, part)| piece(columns, id, part))
        .collect()
}

fn piece(columns: &Columns<'_>, id: PartId, part: &Part) -> Piece {
    match &part.kind {
        PartKind::Pickup(pickup) => of_pickup(columns, id, part, pickup),
        PartKind::Pot(pot) => of_pot(columns, id, pot),
        PartKind::Switch(switch) => of_switch(columns, id, part, switch),
        PartKind::Resistor(ohms) => two_leads(columns, id, part, Form::Resistor, as_printed(ohms.value, "Ω")),
        PartKind::Capacitor(farads, _) => {
            two_leads(columns, id, part, Form::Capacitor, as_printed(farads.value, "F"))
        }
        PartKind::Inductor(henries, _) => {
            two_leads(columns, id, part, Form::Inductor, as_printed(henries.value, "H"))
        }
        PartKind::Splice => splice(columns, id, part),
        PartKind::Jack(_) => on_sides(columns, id, part, Form::Jack, &[], 5),
        PartKind::Strings => on_sides(columns, id, part, Form::Strings, &[], 6),
        PartKind::Shield | PartKind::Battery(_) | PartKind::Amp(_) => {
            on_sides(columns, id, part, Form::Case, &[], 2)
        }
        PartKind::Lead(_) => on_sides(columns, id, part, Form::Case, &["out"], 2),
        PartKind::Piezo(piezo) => {
            let all = ["plus", "minus"];
            let piece = on_sides(columns, id, part, Form::Case, &all, 2);
            sized(Piece { note: as_printed(piezo.capacitance.value, "F"), ..piece })
        }
        PartKind::Buffer(_) | PartKind::OpAmp(_) => {
            on_sides(columns, id, part, Form::Stage, &["out", "ground", "supply"], 6)
        }
    }
}

fn new(harness: &Harness, part: PartId, form: Form, pads: Vec<Pad>) -> Piece {
    Piece {
        part,
        form,
        title: title(harness, part),
        note: String::new(),
        pads,
        width: 0,
        height: 0,
        at: (0, 0),
    }
}

/// The piece with at least the width that its first line needs, and the height that its pads need.
fn sized(mut piece: Piece) -> Piece {
    let gap = if piece.note.is_empty() { 0.0 } else { 8.0 };
    let head = text_width(&piece.title, BOLD) + gap + text_width(&piece.note, SMALL);
    piece.width = piece.width.max(lanes(head));
    let last = piece.pads.iter().map(|pad| pad.row + pad.ports).max().unwrap_or(HEAD + 1);
    piece.height = piece.height.max(last);
    piece
}

fn pad(columns: &Columns<'_>, lugs: Vec<LugId>, side: Side) -> Pad {
    let ports = lugs.iter().map(|lug| columns.count(*lug)).sum::<i32>().max(1);
    Pad { label: label(columns.harness, &lugs), lugs, side, row: 0, ports }
}

/// Lugs of a part as they are in the file, those of `right` at the right and all others at the left; `middle` lanes between.
fn on_sides(
    columns: &Columns<'_>,
    id: PartId,
    part: &Part,
    form: Form,
    right: &[&str],
    middle: i32,
) -> Piece {
    let (mut left, mut rest) = (Vec::new(), Vec::new());
    for lug in part.lugs.clone().map(LugId) {
        let name = columns.harness.lugs[lug.0 as usize].name.as_str();
        let (pads, side) =
            if right.contains(&name) { (&mut rest, Side::Right) } else { (&mut left, Side::Left) };
        pads.push(pad(columns, vec![lug], side));
    }
    stacked(&mut left, HEAD + 1);
    stacked(&mut rest, HEAD + 1);
    left.extend(rest);
    let mut piece = new(columns.harness, id, form, left);
    piece.width = lanes(2.0 * LABEL + piece.labels(Side::Left) + piece.labels(Side::Right)) + middle;
    sized(piece)
}

/// A lug that takes wires from both sides: a pad at each side that has any, the left one even without, if `always`.
fn both_sides(columns: &Columns<'_>, lug: LugId, always: bool) -> Vec<Pad> {
    let (left, right) = columns.ways(lug);
    let one = |side, ports| Pad { ports, ..pad(columns, vec![lug], side) };
    let mut pads = Vec::new();
    if left > 0 || (right == 0 && always) {
        pads.push(one(Side::Left, left.max(1)));
    }
    if right > 0 {
        pads.push(one(Side::Right, right));
    }
    pads
}

fn splice(columns: &Columns<'_>, id: PartId, part: &Part) -> Piece {
    let mut pads = both_sides(columns, LugId(part.lugs.start), true);
    pads.iter_mut().for_each(|pad| (pad.row, pad.label) = (HEAD, String::new()));
    let piece = new(columns.harness, id, Form::Splice, pads);
    sized(Piece { width: 3, ..piece })
}

/// A component: the lug whose partners stand further left is at the left.
fn two_leads(columns: &Columns<'_>, id: PartId, part: &Part, form: Form, note: String) -> Piece {
    let mut lugs: Vec<LugId> = part.lugs.clone().map(LugId).collect();
    let own = f64::from(columns.column(id).unwrap_or(0));
    let pull = |lug: LugId| columns.pull(lug).unwrap_or(own);
    // Where both lead one way, the signal has the straight one and ground goes around.
    let around = |lug: LugId| {
        let way = if pull(lug) > own { -1.0 } else { 1.0 };
        if columns.ground[lug.0 as usize] { way * 0.1 } else { 0.0 }
    };
    let side = |lug: LugId| pull(lug) + around(lug);
    if let [first, second] = lugs[..]
        && side(second) < side(first)
    {
        lugs = vec![second, first];
    }
    let mut pads: Vec<Pad> = lugs
        .into_iter()
        .zip([Side::Left, Side::Right])
        .map(|(lug, side)| pad(columns, vec![lug], side))
        .collect();
    pads.iter_mut().for_each(|pad| pad.row = HEAD);
    let piece = new(columns.harness, id, form, pads);
    sized(Piece { note, width: 8, ..piece })
}

fn of_pot(columns: &Columns<'_>, id: PartId, pot: &Pot) -> Piece {
    let harness = columns.harness;
    let mut left = Vec::new();
    let mut gangs = Vec::new();
    let mut row = HEAD + 1;
    for gang in &pot.gangs {
        let prefix = if gang.name.is_empty() { String::new() } else { format!("{}.", gang.name) };
        // Lug 1 lies next to the case, to which it often goes.
        let mut lugs: Vec<Pad> = ["3", "2", "1"]
            .iter()
            .filter_map(|name| harness.lug(id, &format!("{prefix}{name}")))
            .map(|lug| pad(columns, vec![lug], Side::Left))
            .collect();
        let after = stacked(&mut lugs, row);
        gangs.push((row, after - 2));
        row = after + 2;
        left.extend(lugs);
    }
    let case = harness.lug(id, "case").map(|lug| both_sides(columns, lug, false)).unwrap_or_default();
    let (first, last) = (gangs.first().map_or(row, |g| g.0), gangs.last().map_or(row, |g| g.1));
    // The discs are wider than a short row of lugs is high.
    let middle = (first + last) / 2;
    let top = if gangs.len() == 1 { middle - DISC / 2 } else { first };
    let mut down = (HEAD - top).max(0);
    for mut pad in case {
        match pad.side {
            Side::Left => pad.row = (last + 2).max(if gangs.len() == 1 { middle + 2 } else { 0 }),
            Side::Right => {
                let wanted = middle - (pad.ports - 1) / 2;
                down = down.max(HEAD + 1 - wanted);
                pad.row = wanted;
            }
        }
        left.push(pad);
    }
    left.iter_mut().for_each(|pad| pad.row += down);
    gangs.iter_mut().for_each(|gang| *gang = (gang.0 + down, gang.1 + down));
    let taper = pot.gangs.first().map_or("", |gang| match gang.taper {
        Taper::Linear => "linear",
        Taper::Audio(_) => "audio",
        Taper::ReverseAudio(_) => "reverse",
        Taper::Blend(_) => "blend",
    });
    let ohms = pot.gangs.first().map_or(String::new(), |gang| as_printed(gang.track.value, "Ω"));
    let bottom = gangs.last().map_or(0, |gang| (gang.0 + gang.1) / 2 + DISC / 2);
    let mut piece = new(harness, id, Form::Pot(gangs), left);
    piece.note = format!("{ohms} {taper}");
    let right = piece.pads.iter().any(|pad| pad.side == Side::Right);
    let tabs = piece.pads.iter().filter(|pad| pad.side == Side::Left && pad.label != "case");
    let names = tabs.map(|pad| text_width(&pad.label, SMALL)).fold(0.0, f64::max);
    piece.width = lanes(LABEL + names) + 1 + DISC + if right { 5 } else { 0 };
    piece.height = bottom;
    // A part whose name is longer than it is wide grows at the right; its body stays where it is.
    sized(piece)
}

fn of_switch(columns: &Columns<'_>, id: PartId, part: &Part, switch: &Switch) -> Piece {
    let poles = poles(part, switch);
    let (mut left, mut right) = (Vec::new(), Vec::new());
    let contacts: Vec<&Vec<LugId>> = poles.iter().filter(|pole| pole.len() > 1).collect();
    let own = f64::from(columns.column(id).unwrap_or(0));
    for (index, pole) in contacts.iter().enumerate() {
        // Throws without a wire stay with the others.
        let pulls: Vec<f64> = pole[1..].iter().filter_map(|lug| columns.pull(*lug)).collect();
        let most_right = 2 * pulls.iter().filter(|pull| **pull > own).count() > pulls.len();
        for (place, &lug) in pole.iter().enumerate() {
            // One pole: each lug where its wires lead; several: half of the poles at each side, as on the part.
            let at_right = match (contacts.len(), columns.pull(lug)) {
                (1, Some(pull)) if pull != own => pull > own,
                (1, _) => (place == 0) != most_right,
                _ => 2 * index >= contacts.len(),
            };
            if at_right {
                right.push(pad(columns, vec![lug], Side::Right));
            } else {
                left.push(pad(columns, vec![lug], Side::Left));
            }
        }
    }
    for &lug in poles.iter().filter(|pole| pole.len() == 1).flatten() {
        let frame = columns.harness.lugs[lug.0 as usize].name == "frame";
        // The frame is every switch's, and mostly left alone.
        if frame && columns.count(lug) == 0 {
            continue;
        }
        right.push(pad(columns, vec![lug], Side::Right));
    }
    // A common alone at its side lies between its throws.
    stacked(&mut left, HEAD + 1);
    let span = |pads: &[Pad]| pads.iter().map(|pad| pad.ports + 1).sum::<i32>();
    let down = if contacts.len() == 1 { ((span(&left) - span(&right)) / 2).max(0) } else { 0 };
    stacked(&mut right, HEAD + 1 + down);
    left.extend(right);
    let mut piece = new(columns.harness, id, Form::Switch, left);
    piece.width = lanes(2.0 * LABEL + piece.labels(Side::Left) + piece.labels(Side::Right) + 12.0) + CONTACTS;
    let throws = switch.throws.iter().map(|throw| text_width(&throw.name, SMALL)).fold(0.0, f64::max);
    piece.width = piece.width.max(lanes(text_width(&piece.title, BOLD) + 10.0 + throws));
    piece.height = piece.pads.iter().map(|pad| pad.row + pad.ports).max().unwrap_or(HEAD + 1);
    piece
}

/// Lugs that some throw joins, by pole, the common first; lugs that none does are poles of their own.
fn poles(part: &Part, switch: &Switch) -> Vec<Vec<LugId>> {
    let mut poles: Vec<Vec<LugId>> = part.lugs.clone().map(|lug| vec![LugId(lug)]).collect();
    let mut count = vec![0_usize; part.lugs.len()];
    for set in switch.throws.iter().flat_map(|throw| &throw.joins) {
        for lug in set {
            count[(lug.0 - part.lugs.start) as usize] += 1;
        }
        for pair in set.windows(2) {
            let at = |lug: LugId, poles: &[Vec<LugId>]| poles.iter().position(|pole| pole.contains(&lug));
            if let (Some(a), Some(b)) = (at(pair[0], &poles), at(pair[1], &poles))
                && a != b
            {
                let taken = poles[a.max(b)].clone();
                poles[a.min(b)].extend(taken);
                poles.remove(a.max(b));
            }
        }
    }
    for pole in &mut poles {
        pole.sort_unstable();
        // The lug that most throws use is the common.
        let uses = |lug: &LugId| count[(lug.0 - part.lugs.start) as usize];
        if let Some(common) = (0..pole.len()).rev().max_by_key(|place| uses(&pole[*place])) {
            let lug = pole.remove(common);
            pole.insert(0, lug);
        }
    }
    poles
}

fn of_pickup(columns: &Columns<'_>, id: PartId, part: &Part, pickup: &Pickup) -> Piece {
    let harness = columns.harness;
    let colours = |lug: LugId| {
        let joints = harness.joints.iter().filter(|joint| joint.kind == JointKind::Colour);
        joints.filter_map(move |joint| match (joint.a == lug, joint.b == lug) {
            (true, _) => Some(joint.b),
            (_, true) => Some(joint.a),
            _ => None,
        })
    };
    let mut pads: Vec<Pad> = Vec::new();
    let mut seen: Vec<LugId> = Vec::new();
    let mut take = |lug: LugId, pads: &mut Vec<Pad>| {
        if seen.contains(&lug) {
            return;
        }
        let lugs: Vec<LugId> =
            std::iter::once(lug).chain(colours(lug)).filter(|lug| !seen.contains(lug)).collect();
        seen.extend(&lugs);
        pads.push(pad(columns, lugs, Side::Right));
    };
    let mut spans = Vec::new();
    for coil in &pickup.coils {
        let first = pads.len();
        take(coil.start, &mut pads);
        coil.taps.iter().for_each(|tap| take(tap.lug, &mut pads));
        take(coil.finish, &mut pads);
        spans.push(first..pads.len());
    }
    for lug in part.lugs.clone().map(LugId) {
        take(lug, &mut pads);
    }
    let mut row = HEAD + 1;
    let mut bobbins = Vec::new();
    for (coil, span) in pickup.coils.iter().zip(spans) {
        let end = span.end;
        let after = stacked(&mut pads[span.clone()], row);
        let ends = pads[span].iter().map(|pad| pad.row).collect();
        bobbins.push(Bobbin {
            name: bobbin_name(coil),
            value: coil_value(coil),
            rows: (row, pads[end - 1].row + pads[end - 1].ports - 1),
            ends,
        });
        row = after + 1;
    }
    let done: usize = bobbins.iter().map(|bobbin| bobbin.ends.len()).sum();
    stacked(&mut pads[done..], row);
    let wide = bobbins
        .iter()
        .map(|bobbin| text_width(&bobbin.name, SMALL).max(text_width(&bobbin.value, SMALL - 1.0)))
        .fold(60.0, f64::max);
    let mut piece = new(harness, id, Form::Pickup(bobbins), pads);
    piece.width = lanes(10.0 + wide + 12.0 + 34.0 + piece.labels(Side::Right) + LABEL);
    sized(piece)
}

fn bobbin_name(coil: &Coil) -> String {
    let pole = match (coil.strength == 0.0, coil.pole < 0.0) {
        (true, _) => "no magnet",
        (false, true) => "south",
        (false, false) => "north",
    };
    let wound = if coil.wound < 0.0 { ", reverse" } else { "" };
    let gap = if coil.name.is_empty() { "" } else { " · " };
    format!("{}{gap}{pole}{wound}", coil.name)
}

fn coil_value(coil: &Coil) -> String {
    format!("{} {}", significant(coil.dcr.value, "Ω", 3), significant(coil.inductance.value, "H", 2))
}
