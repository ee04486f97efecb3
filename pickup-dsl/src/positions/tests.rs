use proptest::prelude::*;

use super::{POSITION_LIMIT, Wanted, position_of, positions};
use crate::harness::{Harness, PartKind};
use crate::network::bench::Bench;

const EVERY: Wanted = Wanted { between: true, all: true };

fn guitar(switches: &[(&str, &[&str], usize)]) -> Harness {
    let mut bench = Bench::new();
    for (name, throws, rest) in switches {
        let table: Vec<(&str, &[&[&str]])> = throws.iter().map(|t| (*t, &[][..])).collect();
        let id = bench.switch(name, &["a", "b"], &table, None);
        if let PartKind::Switch(switch) = &mut bench.harness.parts[id.0 as usize].kind {
            switch.rest = *rest;
        }
    }
    bench.harness
}

fn keys(harness: &Harness, wanted: Wanted) -> Vec<String> {
    let positions = positions(harness, wanted).expect("few enough");
    positions.into_iter().map(|p| p.key).collect()
}

#[test]
fn the_first_switch_turns_slowest_and_keys_are_sorted_by_name() {
    let harness = guitar(&[("mode", &["down", "up"], 0), ("lever", &["1", "2", "3"], 1)]);
    assert_eq!(
        keys(&harness, Wanted::default()),
        ["lever=1", "rest", "lever=3", "lever=1, mode=up", "mode=up", "lever=3, mode=up"]
    );
}

#[test]
fn a_guitar_without_switches_has_one_position() {
    assert_eq!(keys(&guitar(&[]), Wanted::default()), ["rest"]);
}

#[test]
fn between_detents_come_when_asked_for_or_named() {
    let mut harness = guitar(&[("lever", &["1", "1-2", "2"], 0)]);
    assert_eq!(keys(&harness, Wanted::default()), ["rest", "lever=2"]);
    assert_eq!(keys(&harness, EVERY), ["rest", "lever=1-2", "lever=2"]);
    let lever = harness.switches().next().expect("a lever").0;
    harness.positions.push(crate::harness::NamedPosition {
        name: "Both".to_owned(),
        choice: vec![(lever, 1)],
        span: harness.part(lever).span,
    });
    let found = positions(&harness, Wanted::default()).expect("few");
    assert_eq!(found[1].key, "lever=1-2");
    assert_eq!(found[1].name.as_deref(), Some("Both"));
}

#[test]
fn named_only_keeps_the_order_of_the_statements() {
    let mut bench = Bench::new();
    let lever = bench.selector("lever", 3);
    let mode = bench.selector("mode", 2);
    bench.name("Last", &[(lever, 2)]);
    bench.name("Split", &[(mode, 1)]);
    bench.name("Again", &[(lever, 2), (mode, 0)]);
    bench.harness.named_only = true;
    let found = positions(&bench.harness, Wanted::default()).expect("few");
    let names: Vec<_> = found.iter().filter_map(|p| p.name.as_deref()).collect();
    assert_eq!(names, ["Last", "Split"]);
    assert_eq!(keys(&bench.harness, EVERY).len(), 6);
    assert_eq!(position_of(&bench.harness, &vec![(mode, 1)]).key, "mode=2");
}

#[test]
fn too_many_is_found_before_any_is_made() {
    let names: Vec<String> = (0..80).map(|i| format!("s{i}")).collect();
    let throws: &[&str] = &["a", "b", "c"];
    let table: Vec<(&str, &[&str], usize)> = names.iter().map(|n| (n.as_str(), throws, 0)).collect();
    let error = positions(&guitar(&table), Wanted::default()).expect_err("3^80");
    assert_eq!((error.count, error.limit), (u64::MAX, POSITION_LIMIT));
    let twelve: Vec<(&str, &[&str], usize)> =
        names[..12].iter().map(|n| (n.as_str(), &throws[..2], 0)).collect();
    assert_eq!(keys(&guitar(&twelve), Wanted::default()).len(), 4096);
}

proptest! {
    #[test]
    fn a_new_switch_at_rest_keeps_every_old_key(
        counts in prop::collection::vec(1_usize..4, 0..4),
        place in 0_usize..4,
        new_rest in 0_usize..2,
    ) {
        let names = ["lever", "bell", "mode", "arc"];
        let throws = ["one", "two", "three"];
        let mut table: Vec<(&str, &[&str], usize)> = counts
            .iter()
            .enumerate()
            .map(|(i, n)| (names[i], &throws[..*n], n - 1))
            .collect();
        let old = keys(&guitar(&table), EVERY);
        let unique: std::collections::BTreeSet<_> = old.iter().collect();
        prop_assert_eq!(unique.len(), old.len());
        table.insert(place.min(table.len()), ("kill", &throws[..2], new_rest));
        let new = keys(&guitar(&table), EVERY);
        prop_assert_eq!(new.len(), 2 * old.len());
        let kept: Vec<_> = new.into_iter().filter(|k| !k.contains("kill")).collect();
        prop_assert_eq!(kept, old);
    }
}
