//! The network of one position in words: which lugs are one joint, and what lies between the joints.

mod rows;

use pickup_dsl::diagnostic::escape;
use pickup_dsl::network::{Knobs, LiveElement, LiveKind, LiveNet, LiveNetwork};
use pickup_dsl::positions::Position;

use crate::job::{File, shown_name};
use crate::output::{STRONG, styled};
use crate::report::notes::place_of;
use crate::report::{WIDTH, title_lines};
use crate::table::{Column, Table, paragraph};
use crate::unit::as_printed;

/// Said where people take a soldering iron in hand.
const CAUTIONS: [&str; 3] = [
    "Unplug the guitar before you open it. Never work inside an amp or anything else on the mains: valve \
     equipment holds lethal voltages after it is switched off, and is for licensed technicians.",
    "The string ground is a safety matter with faulty mains gear: play from tested outlets behind a \
     residual-current device.",
    "Solder burns, flux fumes and lead harm: ventilate, and wash your hands.",
];

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
    let names = names(live);
    out.push_str(&format!("\n{}\n", styled(STRONG, "Joined here")));
    for (net, name) in live.nets.iter().zip(&names) {
        // A lug alone is named where something hangs on it.
        if net.lugs.len() < 2 && !net.ground && net.hot.is_none() {
            continue;
        }
        let lugs: Vec<String> = net.lugs.iter().map(|l| escape(&harness.lug_name(*l))).collect();
        let mut said = lugs.join(", ");
        if net.floating {
            said.push_str(" (nothing joins this to ground)");
        }
        out.push_str(&paragraph(&format!("  {name}"), &said, 10, WIDTH));
    }
    out.push_str(&format!("\n{}\n", styled(STRONG, "Between the joints")));
    out.push_str(&between(file, live, &names).text(|l| styled(STRONG, l)));
    let coupled = couplings(file, live);
    if !coupled.is_empty() {
        out.push_str(&format!("\n{}\n{coupled}", styled(STRONG, "Coupled windings")));
    }
    out.push('\n');
    for caution in CAUTIONS {
        out.push_str(&paragraph("  !", caution, 4, WIDTH));
    }
    out
}

/// What each net is called: `hot`, `ground`, a letter for a joint of several lugs, the lug itself where it is alone.
fn names(live: &LiveNetwork) -> Vec<String> {
    let mut letters = 0;
    let hots = live.nets.iter().filter(|n| n.hot.is_some() && !n.ground).count();
    let mut names: Vec<String> = live
        .nets
        .iter()
        .map(|net| match net {
            LiveNet { ground: true, .. } => "ground".to_owned(),
            LiveNet { hot: Some(i), .. } if hots > 1 => format!("hot {}", i + 1),
            LiveNet { hot: Some(_), .. } => "hot".to_owned(),
            LiveNet { lugs, .. } if lugs.len() > 1 => {
                letters += 1;
                letter(letters)
            }
            net => escape(&net.name),
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

/// A, B, … Z, AA, AB, …
fn letter(mut n: usize) -> String {
    let mut text = String::new();
    while n > 0 {
        text.insert(0, char::from(b'A' + ((n - 1) % 26) as u8));
        n = (n - 1) / 26;
    }
    text
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

#[cfg(test)]
mod tests {
    use super::letter;

    #[test]
    fn letters_go_on_after_z() {
        assert_eq!(letter(1), "A");
        assert_eq!(letter(26), "Z");
        assert_eq!(letter(27), "AA");
        assert_eq!(letter(703), "AAA");
    }
}
