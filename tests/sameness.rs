//! Redraws are proven the same, and misplaced wires are told.
//!
//! A redraw: the statements of a file in another order, each plain wire said from its other end. A misplaced wire: one end of one wire moved to the
//! neighbouring lug. That two networks are the same is checked against the ordinary solver at some frequencies, which knows nothing of
//! finite fields.

use std::path::Path;

use num_complex::Complex64;
use pickup_dsl::harness::Harness;
use pickup_dsl::network::{Knobs, Loads, Network, Setting};
use pickup_dsl::positions::{Wanted, positions};
use pickup_dsl::sameness::{Sameness, Side, Verdict};
use solver::{Hertz, Layout, Outcome, Output};

mod redraw;
mod repository;

use redraw::{Misplaced, chain, harness, joined, misplaced, statements};
use repository::{examples, root};

/// Statements rotated and reversed after the version line, plain wires from their other end.
fn redrawn(text: &str) -> String {
    let mut all = statements(text);
    let version = all.remove(0);
    all.reverse();
    let third = all.len() / 3;
    all.rotate_left(third);
    for statement in &mut all {
        if let Some(mut lugs) = chain(statement) {
            lugs.reverse();
            *statement = format!("wire {}\n", lugs.join(" to "));
        }
    }
    all.insert(0, version);
    joined(&all)
}

/// What the coils send to each amp, and each jack's impedance, knobs in between, at some frequencies; `None` where nothing is determined.
fn numbers(
    harness: &Harness,
    network: &Network,
    throws: &[usize],
    coils: &[String],
) -> Vec<Option<Complex64>> {
    let knobs = Knobs(harness.pots().map(|(id, pot)| (id, 0.37 * pot.rest)).collect());
    let values = network.values(harness, &Setting::new(throws, &knobs, Loads::Plugged));
    let mut workspace = Layout::ac(&network.circuit, &values, &[]).expect("a layout").workspace();
    let mut out = Vec::new();
    for f in [113.0, 1009.0, 4007.0] {
        let mut point = workspace.factor(&values, Hertz(f)).expect("a solution");
        for outlet in &network.outlets {
            let mut all = Vec::new();
            let known =
                point.transfers(Output::Voltage(outlet.amp, network.ground), &mut all).expect("a solution");
            for coil in coils {
                let section = network.sections.iter().find(|section| section.name == *coil).expect("a coil");
                let place =
                    network.circuit.sources().iter().position(|s| *s == solver::Source::Voltage(section.emf));
                out.push((known == Outcome::Known(())).then(|| all[place.expect("a source")]));
            }
            out.push(point.impedance(outlet.jack, network.ground).expect("a solution").known());
        }
    }
    out
}

fn close(a: &[Option<Complex64>], b: &[Option<Complex64>]) -> bool {
    let largest = a.iter().chain(b).flatten().map(|z| z.norm()).fold(1e-6, f64::max);
    a.len() == b.len()
        && a.iter().zip(b).all(|pair| match pair {
            (Some(a), Some(b)) => (a - b).norm() <= 1e-9 * a.norm().max(1e-6 * largest),
            (None, None) => true,
            _ => false,
        })
}

/// Verdicts of all positions, each *same* held against the ordinary solver. `None` if the two have other switches, coils or outlets.
fn verdicts(a: &Harness, b: &Harness) -> Option<Vec<Verdict>> {
    let networks = [a, b].map(|harness| Network::of(harness).expect("a network"));
    let sides = [0, 1].map(|i: usize| Side { harness: [a, b][i], network: &networks[i] });
    let matched = Sameness::of(sides[0], sides[1]).ok()?;
    let coils: Vec<String> = networks[0].sections.iter().map(|section| section.name.clone()).collect();
    let all = positions(a, Wanted { between: false, all: true }).expect("few positions");
    let one = |position: &pickup_dsl::positions::Position| {
        let verdict = matched.compare(position).expect("solvable");
        if matches!(verdict, Verdict::Same { .. }) {
            let there = positions(b, Wanted { between: true, all: true })
                .expect("few")
                .into_iter()
                .find(|other| other.key == position.key)
                .expect("the same key");
            let here = numbers(a, &networks[0], &position.throws, &coils);
            let there = numbers(b, &networks[1], &there.throws, &coils);
            assert!(close(&here, &there), "{}: {here:?}\n{there:?}", position.key);
        }
        verdict
    };
    Some(all.iter().map(one).collect())
}

fn text(path: &Path) -> String {
    std::fs::read_to_string(path).expect("an example")
}

#[test]
fn redraws_of_the_examples_are_proven_the_same() {
    for path in examples() {
        let original = text(&path);
        let [a, b] = [original.clone(), redrawn(&original)].map(|text| harness(&text).expect("compiles"));
        assert_ne!(original, redrawn(&original));
        // Of the guitar with eighty positions only a few: the wiring is the same in all.
        let found = verdicts(&a, &b).expect("the same parts");
        for verdict in found {
            let Verdict::Same { error, any_values: true } = verdict else {
                panic!("{}: {verdict:?}", path.display());
            };
            assert!(error < 1e-15, "{error:e}");
        }
    }
}

#[test]
fn a_wire_moved_to_the_neighbouring_lug_is_told_or_proven_harmless() {
    let (mut told, mut harmless) = (0, 0);
    for name in
        ["02-series-split-parallel", "03-partial-split", "06-two-volumes-two-tones", "07-phase-and-series"]
    {
        let original = text(&root().join(format!("examples/{name}.harness")));
        let a = harness(&original).expect("compiles");
        for one in misplaced(&original) {
            let found = verdicts(&a, &one.harness).expect("the same parts");
            let Misplaced { statement, from, on, .. } = one;
            assert!(!found.contains(&Verdict::Undecided), "{name}: {statement}: {from} on {on}: {found:?}");
            if found.iter().any(|verdict| matches!(verdict, Verdict::Different { .. })) {
                told += 1;
            } else {
                harmless += 1;
            }
        }
    }
    assert!(told + harmless >= 30, "{told} told, {harmless} harmless");
    assert!(told > harmless, "{told} told, {harmless} harmless");
}
