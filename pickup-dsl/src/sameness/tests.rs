use super::{Figure, Sameness, Side, Unlike, Verdict};
use crate::harness::{Harness, Taper};
use crate::network::Network;
use crate::network::bench::{Bench, wire};
use crate::positions::{Wanted, positions};

/// A coil, a volume and a switch that shorts the coil.
fn guitar(joints: &[&[&str]]) -> Harness {
    let mut bench = Bench::new();
    bench.pickup("neck", &[wire("", 6e3, 2.5)], &[]);
    bench.selector("mute", 2);
    bench.pot("volume", 250e3, Taper::Audio(0.15));
    let cable = bench.lead("cable", 500e-12, None, true);
    bench.plug(&[cable], 1e6);
    joints.iter().for_each(|lugs| bench.wire(lugs));
    bench.harness
}

const JOINTS: [&[&str]; 4] = [
    &["neck.start", "mute.common", "volume.3"],
    &["volume.2", "out.tip"],
    &["out.sleeve", "neck.finish", "volume.1"],
    &["mute.2", "out.sleeve"],
];

fn verdicts(a: &Harness, b: &Harness) -> Vec<Verdict> {
    let networks = [a, b].map(|harness| Network::of(harness).expect("sound"));
    let [first, second] =
        [(a, &networks[0]), (b, &networks[1])].map(|(harness, network)| Side { harness, network });
    let sameness = Sameness::of(first, second).expect("alike");
    let all = positions(a, Wanted::default()).expect("few");
    all.iter().map(|position| sameness.compare(position).expect("solvable")).collect()
}

#[test]
fn the_order_of_joints_makes_no_difference() {
    let redrawn = [JOINTS[3], &["volume.1", "neck.finish", "out.sleeve"], JOINTS[1], JOINTS[0]];
    for verdict in verdicts(&guitar(&JOINTS), &guitar(&redrawn)) {
        let Verdict::Same { error, any_values: true } = verdict else { panic!("{verdict:?}") };
        assert!(error < 1e-20, "{error:e}");
    }
}

#[test]
fn a_difference_names_the_figure() {
    // The coil turned round: to ear and meter the same but for the sign, which is told.
    let turned = [
        &["neck.finish", "mute.common", "volume.3"],
        JOINTS[1],
        &["out.sleeve", "neck.start", "volume.1"],
        JOINTS[3],
    ];
    let found = verdicts(&guitar(&JOINTS), &guitar(&turned));
    assert!(
        matches!(&found[0], Verdict::Different { figure: Figure::Coil(coil), .. } if coil == "neck"),
        "{:?}",
        found[0]
    );
    // Muted, neither sounds.
    assert!(matches!(found[1], Verdict::Same { .. }), "{:?}", found[1]);
    // The mute's wire forgotten: only the muted position is another.
    let found = verdicts(&guitar(&JOINTS), &guitar(&JOINTS[..3]));
    assert!(matches!(found[0], Verdict::Same { .. }), "{:?}", found[0]);
    assert!(matches!(found[1], Verdict::Different { .. }), "{:?}", found[1]);
}

#[test]
fn joints_that_differ_are_listed() {
    let (a, b) = (guitar(&JOINTS), guitar(&JOINTS[..3]));
    let networks = [&a, &b].map(|harness| Network::of(harness).expect("sound"));
    let side = |i: usize| Side { harness: [&a, &b][i], network: &networks[i] };
    let found = Sameness::of(side(0), side(1)).expect("alike").joints();
    assert_eq!(found.len(), 1);
    assert!(found[0].joined_in_first);
    assert!(found[0].apart.contains(&vec!["mute.2".to_owned()]), "{found:?}");
}

#[test]
fn other_parts_are_told() {
    let a = guitar(&JOINTS);
    let mut bench = Bench::new();
    bench.pickup("bridge", &[wire("", 6e3, 2.5)], &[]);
    bench.selector("mute", 2);
    bench.plug(&[], 1e6);
    bench.wire(&["bridge.start", "out.tip"]);
    let b = bench.harness;
    let networks = [&a, &b].map(|harness| Network::of(harness).expect("sound"));
    let side = |i: usize| Side { harness: [&a, &b][i], network: &networks[i] };
    let found = Sameness::of(side(0), side(1)).map(|_| ()).unwrap_err();
    assert_eq!(found, Unlike::Coil { coil: "neck".to_owned(), only_first: true });
}
