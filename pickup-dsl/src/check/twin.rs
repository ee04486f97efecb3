//! Positions that no instrument at the jack can tell apart: switches that change nothing at all, and what is left besides.

use super::{Bench, label, listed};
use crate::diagnostic::{Code, Diagnostic};
use crate::figures::{Connection, Figure, PositionFigures};
use crate::harness::PartId;
use crate::twins::among;

/// Positions of one group that are named; of more, the rest is a number.
const NAMED: usize = 4;
/// Figures of twins differ by less than this share: many times what rounding makes of them.
const ALIKE: f64 = 1e-6;
/// The same in dB.
const ALIKE_DB: f64 = 1e-5;
const TOLD: &str = "nothing at the jack tells them apart, at any knob setting";

/// One warning for each switch that changes nothing, and one for all other groups; groups of silent positions are left out.
pub(super) fn twin_positions(bench: &Bench<'_>) -> Vec<Diagnostic> {
    let heard = |group: &[usize]| {
        let outlets = |i: usize| &bench.figures[i].outlets;
        group.iter().all(|&i| outlets(i).iter().any(|o| o.level.powers.is_ok()))
    };
    let among = |candidates: Vec<Vec<usize>>, asked: &dyn Fn(&[usize]) -> bool| {
        among(bench.harness, bench.network, bench.positions, candidates, asked)
    };
    let switches: Vec<PartId> = bench.harness.switches().map(|(part, _)| part).collect();
    let idle = |groups: &[Vec<usize>]| -> Vec<usize> {
        (0..switches.len()).filter(|&s| changes_nothing(bench, groups, s, &heard)).collect()
    };
    // Silent positions are not told as twins. Only a switch that changes nothing at all asks whether they are.
    let mut groups = among(alike(bench.figures), &heard);
    if !idle(&groups).is_empty() {
        let (told, silent) = groups.into_iter().partition(|group| heard(group));
        groups = told;
        groups.extend(among(silent, &|_| true));
        groups.sort();
    }
    let idle = idle(&groups);
    let mut found: Vec<Diagnostic> = idle
        .iter()
        .filter(|&&s| !bench.held_everywhere(Code::Twins, &[(switches[s], "")]))
        .map(|&s| {
            let name = &bench.harness.part(switches[s]).name;
            let message = format!("switch `{name}` changes nothing in any position");
            let diagnostic = Diagnostic::warning(Code::Twins, bench.part(switches[s]), message)
                .label("its throws are the same circuit, at any knob setting");
            bench.or_meant(diagnostic, "check the wires of its lugs", &[(switches[s], "")], &[])
        })
        .collect();
    let groups: Vec<Vec<usize>> = groups.into_iter().filter(|group| heard(group)).collect();
    let rest: Vec<Vec<usize>> = groups
        .iter()
        .map(|group| without(bench, &switches, group, &idle))
        .filter(|group| group.len() > 1)
        .collect();
    found.extend(others(bench, &switches, &rest));
    if let Some(last) = found.pop() {
        let noted = antennas(bench, &groups).into_iter().fold(last, Diagnostic::note);
        found.push(noted);
    }
    found
}

/// Positions whose figures do not tell them apart: twins at any knob setting are among them.
fn alike(figures: &[PositionFigures]) -> Vec<Vec<usize>> {
    let equal = |a: Figure, b: Figure| match (a, b) {
        (Ok(a), Ok(b)) => (a - b).abs() <= ALIKE * a.abs().max(b.abs()),
        _ => a == b,
    };
    // What is silent is so but for rounding.
    let as_loud = |a: Figure, b: Figure| match (a, b) {
        (Ok(a), Ok(b)) => (a - b).abs() <= ALIKE_DB,
        _ => true,
    };
    let same = |a: &PositionFigures, b: &PositionFigures| {
        a.outlets.iter().zip(&b.outlets).all(|(a, b)| {
            equal(a.impedance.at_100, b.impedance.at_100)
                && equal(a.impedance.at_1k, b.impedance.at_1k)
                && equal(a.noise.density_1k, b.noise.density_1k)
                && as_loud(a.plateau, b.plateau)
                && as_loud(a.level.powers, b.level.powers)
        })
    };
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for (i, own) in figures.iter().enumerate() {
        match groups.iter_mut().find(|group| same(&figures[group[0]], own)) {
            Some(group) => group.push(i),
            None => groups.push(vec![i]),
        }
    }
    groups
}

/// Whatever else stands where it stands, all throws of this switch are one circuit; and some of them are heard.
fn changes_nothing(
    bench: &Bench<'_>,
    groups: &[Vec<usize>],
    switch: usize,
    heard: &impl Fn(&[usize]) -> bool,
) -> bool {
    let positions = 0..bench.positions.len();
    let group_of = |i: usize| groups.iter().position(|group| group.contains(&i));
    let groups_of: Vec<Option<usize>> = positions.clone().map(group_of).collect();
    let mut some = false;
    for i in positions.clone() {
        for j in positions.clone().skip(i + 1).filter(|&j| differing(bench, i, j) == [switch]) {
            if groups_of[i].is_none() || groups_of[i] != groups_of[j] {
                return false;
            }
            some |= heard(&[i, j]);
        }
    }
    some
}

/// The switches that stand differently.
fn differing(bench: &Bench<'_>, i: usize, j: usize) -> Vec<usize> {
    let (a, b) = (&bench.positions[i].throws, &bench.positions[j].throws);
    (0..a.len()).filter(|&s| a[s] != b[s]).collect()
}

/// Twins of these switches are meant: an intent names all of them, or none.
fn meant(bench: &Bench<'_>, switches: &[PartId], differing: &[usize], pair: [usize; 2]) -> bool {
    bench.intents.hold_if(Code::Twins, |intent| {
        let named = |s: &usize| intent.of.iter().any(|subject| subject.covers(switches[*s], ""));
        let here = |i: usize| intent.place.covers(bench.harness, &bench.positions[i].throws);
        (intent.of.is_empty() || differing.iter().all(named)) && pair.into_iter().any(here)
    })
}

/// A group with one position of those that differ in these switches alone, or in those that are meant to make no difference.
fn without(bench: &Bench<'_>, switches: &[PartId], group: &[usize], idle: &[usize]) -> Vec<usize> {
    let mut kept: Vec<usize> = Vec::new();
    for &i in group {
        let known = |&j: &usize| {
            let switches_of = differing(bench, i, j);
            switches_of.iter().all(|s| idle.contains(s)) || meant(bench, switches, &switches_of, [i, j])
        };
        if !kept.iter().any(known) {
            kept.push(i);
        }
    }
    kept
}

fn others(bench: &Bench<'_>, switches: &[PartId], groups: &[Vec<usize>]) -> Option<Diagnostic> {
    let first = groups.first()?;
    let name = |i: usize| label(&bench.positions[i]);
    let message = match (groups.len(), first.as_slice()) {
        (1, [a, b]) => format!("{} and {} are the same circuit", name(*a), name(*b)),
        (1, group) => format!("{} positions are the same circuit", group.len()),
        (n, _) => format!("{n} groups of positions are each the same circuit"),
    };
    let place = place(bench, groups).map_or(bench.jack(), |s| bench.part(switches[s]));
    let mut diagnostic = Diagnostic::warning(Code::Twins, place, message).label(TOLD);
    if groups.len() > 1 || first.len() > 2 {
        let lines: Vec<String> = groups.iter().map(|group| one_line(bench, group)).collect();
        diagnostic = diagnostic.note(format!("the same circuit: {}", listed(&lines)));
    }
    let unnamed = |i: &usize| bench.positions[*i].name.is_none();
    let advice = if bench.harness.named_only || !groups.iter().flatten().any(unnamed) {
        ""
    } else if bench.harness.positions.is_empty() {
        "give names to the positions that count, and say `positions named only`"
    } else {
        "`positions named only` leaves out the positions without a name"
    };
    let pairs = |group: &Vec<usize>| group.iter().map(|&i| differing(bench, group[0], i)).collect::<Vec<_>>();
    let mut of: Vec<usize> = groups.iter().flat_map(pairs).flatten().collect();
    of.sort_unstable();
    of.dedup();
    let of: Vec<_> = of.into_iter().map(|s| (switches[s], "")).collect();
    Some(bench.or_meant(diagnostic, advice, &of, &[]))
}

/// `"Neck", `pull=up` and 2 more`.
fn one_line(bench: &Bench<'_>, group: &[usize]) -> String {
    let mut names: Vec<String> = group.iter().take(NAMED).map(|&i| label(&bench.positions[i])).collect();
    let last = match group.len() - names.len() {
        0 => names.pop().unwrap_or_default(),
        more => format!("{more} more positions"),
    };
    format!("{} and {last}", names.join(", "))
}

/// The switch that makes no difference in most of the groups; else the first one that differs.
fn place(bench: &Bench<'_>, groups: &[Vec<usize>]) -> Option<usize> {
    let count = |s: usize| {
        let alone = |group: &&Vec<usize>| {
            let mut pairs =
                group.iter().enumerate().flat_map(|(n, &i)| group[n + 1..].iter().map(move |&j| (i, j)));
            pairs.any(|(i, j)| differing(bench, i, j) == [s])
        };
        groups.iter().filter(alone).count()
    };
    let switches = bench.positions.first().map_or(0, |p| p.throws.len());
    // Of equal counts the first of the file.
    let most = (0..switches).rev().max_by_key(|&s| count(s)).filter(|&s| count(s) > 0);
    most.or_else(|| {
        let (&i, &j) = (groups.first()?.first()?, groups.first()?.get(1)?);
        differing(bench, i, j).first().copied()
    })
}

/// Of positions that sound the same, those that leave a coil hanging from hot pick up more electric hum.
fn antennas(bench: &Bench<'_>, groups: &[Vec<usize>]) -> Vec<String> {
    let hangs = |i: usize| {
        let mut coils = bench.figures[i].outlets.iter().flat_map(|o| &o.coils);
        coils.any(|c| c.connection == Connection::HangingFromHot)
    };
    groups
        .iter()
        .filter_map(|group| {
            let quiet = group.iter().find(|&&i| !hangs(i))?;
            let antenna = group.iter().find(|&&i| hangs(i))?;
            let name = |i: &usize| label(&bench.positions[*i]);
            Some(format!("{} leaves a coil hanging from hot, {} does not", name(antenna), name(quiet)))
        })
        .collect()
}
