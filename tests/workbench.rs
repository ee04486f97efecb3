//! Sheet, card and fault table of the examples against the report, against each other, and against spoilt guitars.

use std::collections::{BTreeMap, BTreeSet};

use pickup_dsl::card::{Card, Conditions, card};
use pickup_dsl::evaluate::Evaluator;
use pickup_dsl::faults::{Fault, faults};
use pickup_dsl::figures::{Figure, PositionFigures};
use pickup_dsl::harness::tolerance::{limits, with_resistances};
use pickup_dsl::harness::{Harness, JointKind};
use pickup_dsl::network::{Knobs, Network};
use pickup_dsl::positions::{Position, Wanted, positions};
use pickup_dsl::sheet::sheet;

mod redraw;
mod repository;

use redraw::{chain, harness, joined, misplaced, statements};
use repository::{examples, root};

fn text(name: &str) -> String {
    std::fs::read_to_string(root().join("examples").join(name)).expect("an example")
}

fn figures(harness: &Harness, positions: &[Position]) -> Vec<PositionFigures> {
    let network = Network::of(harness).expect("a network");
    let evaluator = Evaluator::new(harness, &network).expect("a reference");
    positions.iter().map(|p| evaluator.figures(p, &Knobs::default()).expect("solvable")).collect()
}

fn card_of(harness: &Harness, positions: &[Position], conditions: Conditions) -> Card {
    let network = Network::of(harness).expect("a network");
    let evaluator = Evaluator::new(harness, &network).expect("a reference");
    card(&evaluator, positions, &figures(harness, positions), conditions).expect("a card")
}

fn close(a: Figure, b: Figure) -> bool {
    match (a, b) {
        (Ok(a), Ok(b)) => (a - b).abs() <= 1e-9 * a.abs().max(b.abs()),
        (a, b) => a.is_err() == b.is_err(),
    }
}

#[test]
fn every_wire_of_a_file_is_on_its_sheet_once() {
    for path in examples() {
        let harness = harness(&std::fs::read_to_string(&path).expect("an example")).expect("compiles");
        let mut there: Vec<_> = harness
            .joints
            .iter()
            .filter(|joint| joint.kind == JointKind::Wire)
            .map(|joint| (joint.a, joint.b))
            .collect();
        let sheet = sheet(&harness);
        let mut on_sheet: Vec<_> = sheet.wires.iter().map(|wire| (wire.from, wire.to)).collect();
        there.sort_unstable();
        on_sheet.sort_unstable();
        assert_eq!(there, on_sheet, "{}", path.display());
        assert!(sheet.wires.is_sorted_by_key(|wire| wire.step));
    }
}

/// The report's readings are held against an independent program (`reference.rs`); the card's are the same numbers.
#[test]
fn the_card_reads_what_the_report_reads() {
    for path in examples() {
        let harness = harness(&std::fs::read_to_string(&path).expect("an example")).expect("compiles");
        let positions = positions(&harness, Wanted::default()).expect("few");
        let exact = Conditions { spread: 0.0, meter: 0.0, ..Conditions::default() };
        let card = card_of(&harness, &positions, exact);
        for (entry, figures) in card.positions.iter().zip(figures(&harness, &positions)) {
            for (reading, meter) in entry.readings.iter().zip(&figures.meter) {
                let pairs = [
                    (reading.at_rest, meter.at_rest.ohms),
                    (reading.volumes_at_zero, meter.volumes_at_zero.ohms),
                ];
                for (band, ohms) in pairs {
                    assert!(close(band.nominal, ohms), "{}: {}", path.display(), entry.key);
                    if let (Ok(low), Ok(ohms), Ok(high)) = (band.low, ohms, band.high) {
                        assert!(
                            low <= ohms * (1.0 + 1e-12) && ohms <= high * (1.0 + 1e-12),
                            "{low} {ohms} {high}"
                        );
                    }
                }
            }
        }
    }
}

/// Resistances anywhere within their limits, and at corners: no reading leaves the band (Rayleigh's monotonicity law).
#[test]
fn no_guitar_within_its_tolerances_leaves_the_band() {
    let exact = Conditions { spread: 0.0, meter: 0.0, ..Conditions::default() };
    for name in ["03-partial-split.harness", "06-two-volumes-two-tones.harness", "10-two-humbuckers.harness"]
    {
        let sound = harness(&text(name)).expect("compiles");
        let positions = positions(&sound, Wanted::default()).expect("few");
        let card = card_of(&sound, &positions, exact);
        // A linear congruence (Numerical Recipes, from memory): any spread of values will do.
        let mut state = 12_345_u64;
        for sample in 0..20 {
            let drawn = std::cell::RefCell::new(&mut state);
            let built = with_resistances(&sound, |sort, value| {
                let usual = sort.usual();
                let (up, down) = limits(value, usual);
                let mut state = drawn.borrow_mut();
                **state =
                    state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                let share = (**state >> 11) as f64 / (1_u64 << 53) as f64;
                let share = if sample % 2 == 0 { share } else { share.round() };
                1.0 - down + share * (up + down)
            });
            for (entry, figures) in card.positions.iter().zip(figures(&built, &positions)) {
                let band = entry.readings[0].at_rest;
                if let (Ok(low), Ok(ohms), Ok(high)) = (band.low, figures.meter[0].at_rest.ohms, band.high) {
                    let held = low * (1.0 - 1e-12) <= ohms && ohms <= high * (1.0 + 1e-12);
                    assert!(held, "{name} {}: {low} {ohms} {high}", entry.key);
                }
            }
        }
    }
}

/// A guitar with one wire left out or one end on the lug beside, whose readings are taken by the report: where they leave the band,
/// the table has that very reading, and names the lug.
#[test]
fn the_fault_table_names_the_joint_of_every_fault_that_a_meter_sees() {
    let (mut seen, mut hidden, mut elsewhere) = (0, 0, 0);
    for name in [
        "02-series-split-parallel.harness",
        "03-partial-split.harness",
        "06-two-volumes-two-tones.harness",
        "07-phase-and-series.harness",
    ] {
        let original = text(name);
        let sound = harness(&original).expect("compiles");
        let positions = positions(&sound, Wanted::default()).expect("few");
        let card = card_of(&sound, &positions, Conditions::default());
        let table = faults(&sound, &positions, &card).expect("a table");
        let beside: BTreeSet<(String, String)> = pickup_dsl::sheet::neighbours(&sound)
            .into_iter()
            .flat_map(|(a, b)| [(a, b), (b, a)])
            .map(|(a, b)| (sound.lug_name(a), sound.lug_name(b)))
            .collect();
        let mut spoilt: Vec<(String, Option<String>, Harness)> = misplaced(&original)
            .into_iter()
            .filter(|one| beside.contains(&(one.from.clone(), one.on.clone())))
            // In a chain `A to B to C` the lug in the middle takes two wires: moving it is two faults.
            .filter(|one| !is_in_the_middle(&one.statement, &one.from))
            .map(|one| (one.from, Some(one.on), one.harness))
            .collect();
        let all = statements(&original);
        for (place, statement) in all.iter().enumerate() {
            if let Some([from, _]) = chain(statement).as_deref() {
                let mut without = all.clone();
                let lug = (*from).to_owned();
                without.remove(place);
                if let Some(harness) = harness(&joined(&without)) {
                    spoilt.push((lug, None, harness));
                }
            }
        }
        for (lug, on, harness) in spoilt {
            let read: BTreeMap<String, Figure> = figures(&harness, &positions)
                .into_iter()
                .map(|figures| (figures.key.clone(), figures.meter[0].at_rest.ohms))
                .collect();
            let mut told = false;
            for (index, entry) in card.positions.iter().enumerate() {
                let band = entry.readings[0].at_rest;
                let reads = read[&entry.key];
                let inside = match (band.low, band.high, reads) {
                    (Ok(low), Ok(high), Ok(ohms)) => (low..=high).contains(&ohms),
                    (low, _, reads) => low.is_err() && reads.is_err(),
                };
                if inside {
                    continue;
                }
                told = true;
                let named = table.iter().any(|effect| {
                    let lugs = match effect.fault {
                        Fault::Open(a, b) if on.is_none() => vec![a, b],
                        Fault::Misplaced { to, on, .. } => vec![to, on],
                        _ => Vec::new(),
                    };
                    let named = |wanted: &str| lugs.iter().any(|l| sound.lug_name(*l) == wanted);
                    named(&lug)
                        && on.as_deref().is_none_or(named)
                        && effect
                            .shown
                            .iter()
                            .any(|s| s.position == index && s.outside && close(s.reads, reads))
                });
                assert!(named, "{name}: {lug} on {on:?} reads {reads:?} in {}", entry.key);
            }
            match (told, on) {
                (true, Some(_)) => seen += 1,
                (true, None) => elsewhere += 1,
                (false, _) => hidden += 1,
            }
        }
    }
    assert!(seen + elsewhere >= 30, "{seen} misplaced and {elsewhere} missing wires seen, {hidden} hidden");
}

fn is_in_the_middle(statement: &str, lug: &str) -> bool {
    chain(statement).is_some_and(|lugs| lugs[1..lugs.len().max(2) - 1].contains(&lug))
}
