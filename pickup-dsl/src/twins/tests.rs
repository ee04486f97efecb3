use super::twins;
use crate::harness::{Harness, Taper};
use crate::network::Network;
use crate::network::bench::{Bench, wire};
use crate::positions::{Wanted, positions};

fn found(harness: &Harness) -> Vec<Vec<String>> {
    let network = Network::of(harness).expect("sound");
    let positions = positions(harness, Wanted::default()).expect("few");
    twins(harness, &network, &positions)
        .into_iter()
        .map(|group| group.into_iter().map(|i| positions[i].key.clone()).collect())
        .collect()
}

/// Two equal coils on a selector with four throws, throws 2 and 4 wired together.
fn guitar(extra: impl FnOnce(&mut Bench)) -> Harness {
    let mut bench = Bench::new();
    bench.pickup("neck", &[wire("", 6e3, 2.5)], &[]);
    bench.pickup("bridge", &[wire("", 6e3, 2.5)], &[]);
    bench.selector("lever", 4);
    bench.pot("volume", 250e3, Taper::Audio(0.15));
    extra(&mut bench);
    let cable = bench.lead("cable", 500e-12, None, true);
    bench.plug(&[cable], 1e6);
    bench.wire(&["neck.start", "lever.1"]);
    bench.wire(&["bridge.start", "lever.2", "lever.4"]);
    bench.wire(&["lever.common", "volume.3"]);
    bench.wire(&["volume.2", "out.tip"]);
    bench.wire(&["out.sleeve", "neck.finish", "bridge.finish", "volume.1"]);
    bench.harness
}

#[test]
fn equal_values_do_not_make_twins_but_equal_wiring_does() {
    assert_eq!(found(&guitar(|_| {})), [["lever=2", "lever=4"]]);
}

#[test]
fn a_switch_that_does_nothing_doubles_every_position() {
    let harness = guitar(|bench| {
        bench.selector("idle", 2);
    });
    let groups = found(&harness);
    assert_eq!(groups.len(), 3);
    assert_eq!(groups[0], ["rest", "idle=2"]);
    assert_eq!(groups[1], ["lever=2", "idle=2, lever=2", "lever=4", "idle=2, lever=4"]);
}

#[test]
fn a_difference_with_the_knobs_down_is_a_difference() {
    // The switch grounds the tone capacitor or not; with the tone pot at 10 of a no-load kind nothing tells.
    let harness = guitar(|bench| {
        let tone = bench.pot("tone", 250e3, Taper::Linear);
        if let crate::harness::PartKind::Pot(pot) = &mut bench.harness.parts[tone.0 as usize].kind {
            pot.no_load = true;
        }
        bench.selector("cut", 2);
        bench.capacitor("C1", 22e-9, None);
        bench.wire(&["volume.3", "tone.3"]);
        bench.wire(&["tone.2", "C1.1"]);
        bench.wire(&["C1.2", "cut.common"]);
        bench.wire(&["cut.2", "volume.1"]);
    });
    for group in found(&harness) {
        let cut = group.iter().filter(|key| key.contains("cut=2")).count();
        assert!(cut == 0 || cut == group.len(), "{group:?}");
    }
}

#[test]
fn twins_do_not_depend_on_contact_resistance() {
    let mut harness = guitar(|_| {});
    for part in &mut harness.parts {
        let span = part.span;
        if let crate::harness::PartKind::Switch(switch) = &mut part.kind {
            switch.contact = Some(crate::network::bench::valued(0.02, span));
        }
    }
    assert_eq!(found(&harness), [["lever=2", "lever=4"]]);
}

/// A coil that hangs from hot, from ground, or from nothing is one circuit at the jack: structure alone says so, and numbers agree. Throws 1
/// and 2 are coils of equal values, which only their own names tell apart.
#[test]
fn what_hangs_in_one_node_may_hang_in_any() {
    let harness = guitar(|bench| {
        bench.pickup("spare", &[wire("", 6e3, 2.5)], &[]);
        bench.wire(&["spare.start", "lever.4"]);
    });
    let network = Network::of(&harness).expect("sound");
    let positions = positions(&harness, Wanted::default()).expect("few");
    let bench = super::Bench::new(&harness, &network);
    let all: Vec<usize> = (0..positions.len()).collect();
    let classes = bench.by_structure(&all, &positions);
    let key = |i: &usize| positions[*i].key.clone();
    let mut named: Vec<Vec<String>> = classes.iter().map(|class| class.iter().map(key).collect()).collect();
    named.sort();
    assert_eq!(named, [vec!["lever=2", "lever=4"], vec!["lever=3"], vec!["rest"]]);
    let reading = |i: usize| bench.sounding(&positions[i].throws, super::GENERIC).expect("solvable");
    for class in classes {
        assert!(class.iter().all(|&i| super::same(&reading(class[0]), &reading(i))));
    }
}
