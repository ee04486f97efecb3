//! The network of one position in words: which lugs are one joint, and what lies between the joints.

mod rows;

use pickup_dsl::diagnostic::escape;
use pickup_dsl::harness::{Harness, LugId, PartKind};
use pickup_dsl::network::{Knobs, LiveElement, LiveKind, LiveNet, LiveNetwork};
use pickup_dsl::positions::Position;

use crate::cautions;
use crate::job::{File, shown_name};
use crate::output::{STRONG, styled};
use crate::report::notes::place_of;
use crate::report::{WIDTH, title_lines};
use crate::table::{Column, Table, paragraph};
use crate::unit::as_printed;

/// What the values of a winding mean.
const WINDING: &str = "A winding is its EMF (the voltage that the strings induce), the resistance of its wire and its \
     inductance, one after the other (+); ∥ is side by side, so the core loss lies across the inductance.";

/// The whole text.
#[must_use]
pub(crate) fn text(file: &File, position: &Position, knobs: &Knobs, live: &LiveNetwork) -> String {
    let harness = &file.harness;
    let title = harness.title.as_deref().unwrap_or(&file.name);
    let mut out = title_lines(title);
    let name = shown_name(position);
    out.push_str(&paragraph("", &format!("{name} ({})", escape(&position.key)), 0, WIDTH));
    let set: Vec<String> = harness
        .pots()
        .map(|(id, pot)| {
            let at = knobs.0.get(&id).copied().unwrap_or(pot.rest);
            format!("{} at {at}", escape(&harness.part(id).name))
        })
        .collect();
    if !set.is_empty() {
        out.push_str(&paragraph("", &set.join(", "), 0, WIDTH));
    }
    let joints = joints(harness, live);
    let names = names(live, &joints);
    out.push_str(&format!("\n{}\n", styled(STRONG, "Joined here")));
    for ((net, name), lugs) in live.nets.iter().zip(&names).zip(&joints) {
        // A lug alone is named where something hangs on it.
        if lugs.len() < 2 && !net.ground && net.hot.is_none() {
            continue;
        }
        let mut said = lugs.join(", ");
        if net.floating {
            said.push_str(" (nothing joins this to ground)");
        }
        out.push_str(&paragraph(&format!("  {name}"), &said, 12, WIDTH));
    }
    out.push_str(&format!("\n{}\n", styled(STRONG, "Between the joints")));
    out.push_str(&between(file, live, &names).text(|l| styled(STRONG, l)));
    if live.elements.iter().any(|e| matches!(e.kind, LiveKind::Emf(_))) {
        out.push_str(&format!("\n{}", paragraph("  ", WINDING, 2, WIDTH)));
    }
    let coupled = couplings(file, live);
    if !coupled.is_empty() {
        out.push_str(&format!("\n{}\n{coupled}", styled(STRONG, "Coupled windings")));
    }
    out.push_str(&short_forms(file));
    out.push('\n');
    for caution in cautions::ALWAYS {
        out.push_str(&paragraph("  !", caution, 4, WIDTH));
    }
    out
}

/// The lugs of each net by name, but for the lugs of switches that no wire reaches: they say nothing of the guitar.
fn joints(harness: &Harness, live: &LiveNetwork) -> Vec<Vec<String>> {
    let mut wired = vec![false; harness.lugs.len()];
    for joint in &harness.joints {
        wired[joint.a.0 as usize] = true;
        wired[joint.b.0 as usize] = true;
    }
    let bare = |lug: LugId| {
        let part = harness.part(harness.lugs[lug.0 as usize].part);
        matches!(part.kind, PartKind::Switch(_)) && !wired[lug.0 as usize]
    };
    let shown = |lugs: &[LugId]| {
        let seen = lugs.iter().filter(|lug| !bare(**lug));
        seen.map(|lug| escape(&harness.lug_name(*lug))).collect()
    };
    live.nets.iter().map(|net| shown(&net.lugs)).collect()
}

/// What short forms stand for, wire by wire.
fn short_forms(file: &File) -> String {
    let harness = &file.harness;
    if harness.short_forms.is_empty() {
        return String::new();
    }
    let mut out = format!("\n{}\n", styled(STRONG, "Short forms, written out"));
    for short in &harness.short_forms {
        let source = file.sources.text(short.span);
        let first = source.lines().next().unwrap_or_default();
        out.push_str(&paragraph(
            "",
            &format!("{} ({})", escape(first), place_of(file, short.span)),
            2,
            WIDTH,
        ));
        for (a, b) in &short.wires {
            let wire = format!("wire {} to {}", harness.lug_name(*a), harness.lug_name(*b));
            out.push_str(&paragraph("", &escape(&wire), 4, WIDTH));
        }
        if !short.chosen.is_empty() {
            out.push_str(&paragraph("", &escape(&short.chosen), 4, WIDTH));
        }
    }
    out
}

/// What each net is called: `hot`, `ground`, a number for a joint of several lugs, the lug itself where it is alone.
fn names(live: &LiveNetwork, joints: &[Vec<String>]) -> Vec<String> {
    let mut count = 0;
    let hots = live.nets.iter().filter(|n| n.hot.is_some() && !n.ground).count();
    let mut names: Vec<String> = live
        .nets
        .iter()
        .zip(joints)
        .map(|(net, lugs)| match (net, lugs.as_slice()) {
            (LiveNet { ground: true, .. }, _) => "ground".to_owned(),
            (LiveNet { hot: Some(i), .. }, _) if hots > 1 => format!("hot {}", i + 1),
            (LiveNet { hot: Some(_), .. }, _) => "hot".to_owned(),
            (_, [alone]) => alone.clone(),
            (_, []) => escape(&net.name),
            _ => {
                count += 1;
                format!("joint {count}")
            }
        })
        .collect();
    // A noise voltage parts nothing that a person would part.
    for e in &live.elements {
        if e.kind == LiveKind::NoiseVoltage {
            let (inner, outer) =
                if live.nets[e.from].lugs.is_empty() { (e.from, e.to) } else { (e.to, e.from) };
            names[inner] = names[outer].clone();
        }
    }
    names
}

fn between(file: &File, live: &LiveNetwork, names: &[String]) -> Table {
    let mut table = Table::new(vec![
        Column::words("what", 28),
        Column::words("value", 36),
        Column::words("from", 10),
        Column::words("to", 10),
        Column::words("said in", 10),
    ]);
    for row in rows::rows(live) {
        if matches!(live.elements[row.steps[0][0]].kind, LiveKind::NoiseVoltage | LiveKind::NoiseCurrent) {
            continue;
        }
        table.row(vec![
            escape(row.name),
            steps(live, &row.steps, names),
            names[row.from].clone(),
            names[row.to].clone(),
            places(file, live, &row),
        ]);
    }
    table
}

/// `EMF + 4.1 kΩ + (2.2 H ∥ 308 kΩ)`
fn steps(live: &LiveNetwork, steps: &[Vec<usize>], names: &[String]) -> String {
    let said: Vec<String> = steps
        .iter()
        .map(|step| {
            let side: Vec<String> = step.iter().map(|&e| value(&live.elements[e], names)).collect();
            match side.as_slice() {
                [one] => one.clone(),
                several if steps.len() == 1 => several.join(" ∥ "),
                several => format!("({})", several.join(" ∥ ")),
            }
        })
        .collect();
    said.join(" + ")
}

/// `line 9, 11`
fn places(file: &File, live: &LiveNetwork, row: &rows::Row<'_>) -> String {
    let mut said: Vec<String> = Vec::new();
    for &e in row.steps.iter().flatten() {
        let place = place_of(file, live.elements[e].span);
        if !said.contains(&place) {
            said.push(place);
        }
    }
    said.sort_by_key(|s| (s.len(), s.clone()));
    let first = said.first().cloned().unwrap_or_default();
    let rest = said.iter().skip(1).map(|s| s.strip_prefix("line ").unwrap_or(s));
    std::iter::once(first.as_str()).chain(rest).collect::<Vec<_>>().join(", ")
}

fn value(e: &LiveElement, names: &[String]) -> String {
    match e.kind {
        LiveKind::Resistance(ohms) => as_printed(ohms, "Ω"),
        LiveKind::Capacitance(farads) => as_printed(farads, "F"),
        LiveKind::Inductance(henries) => as_printed(henries, "H"),
        LiveKind::Emf(_) => "EMF".to_owned(),
        LiveKind::Gain { ratio, plus, minus } => {
            format!("{} × ({} against {})", as_printed(ratio, ""), names[plus], names[minus])
        }
        LiveKind::NoiseVoltage | LiveKind::NoiseCurrent => "its own noise".to_owned(),
    }
}

fn couplings(file: &File, live: &LiveNetwork) -> String {
    let mut out = String::new();
    for c in &live.couplings {
        let name = |i: usize| escape(&live.elements[i].name);
        let said = format!(
            "{} and {}, {} start to start ({})",
            name(c.between.0),
            name(c.between.1),
            crate::unit::signed(c.k, 3),
            place_of(file, c.span)
        );
        out.push_str(&paragraph("", &said, 2, WIDTH));
    }
    out
}
