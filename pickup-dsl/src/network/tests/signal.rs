//! Where the signal runs: what hangs, what is shorted and what stands open carries none.

use crate::harness::{Harness, LugId, Taper};
use crate::network::bench::{Bench, Wire, wire};
use crate::network::{Knobs, Loads, Network, Setting, Signal, signal, soldered};

/// Two coils on a toggle, a split for the first, a volume.
fn guitar() -> Harness {
    let mut bench = Bench::new();
    let coil = |name| Wire { farads: 90e-12, ..wire(name, 4e3, 2.2) };
    bench.pickup("p", &[coil("a"), coil("b")], &[(0, 1, 0.15)]);
    bench.pickup("q", &[coil("a")], &[]);
    bench.switch(
        "toggle",
        &["common", "up", "down"],
        &[("up", &[&["common", "up"]]), ("down", &[&["common", "down"]])],
        None,
    );
    bench.switch("split", &["common", "up"], &[("down", &[]), ("up", &[&["common", "up"]])], Some(0.02));
    bench.pot("volume", 500e3, Taper::Linear);
    let cable = bench.lead("cable", 500e-12, None, true);
    bench.plug(&[cable], 1e6);
    bench.wire(&["p.a.start", "toggle.up"]);
    bench.wire(&["p.a.finish", "p.b.finish", "split.common"]);
    bench.wire(&["q.a.start", "toggle.down"]);
    bench.wire(&["toggle.common", "volume.3"]);
    bench.wire(&["volume.2", "out.tip"]);
    bench.wire(&["out.sleeve", "volume.1", "p.b.start", "q.a.finish", "split.up"]);
    bench.harness
}

fn of(harness: &Harness, throws: &[usize], volume: f64) -> Signal {
    let network = Network::of(harness).expect("sound");
    let volume_id = harness.pots().next().expect("a pot").0;
    let knobs = Knobs([(volume_id, volume)].into());
    let setting = Setting::new(throws, &knobs, Loads::Plugged);
    signal(&network, harness, &setting)
}

/// Lugs of the guitar that carry the signal, of those that are asked for.
fn carrying(found: &Signal, harness: &Harness, asked: &[&str]) -> Vec<String> {
    let all =
        (0..harness.lugs.len()).filter(|i| found.carries[*i]).map(|i| harness.lug_name(LugId(i as u32)));
    all.filter(|name| asked.contains(&name.as_str())).collect()
}

#[test]
fn the_chosen_coil_carries_and_the_other_does_not() {
    let harness = guitar();
    let asked = [
        "p.a.start",
        "p.a.finish",
        "p.b.start",
        "q.a.start",
        "volume.3",
        "volume.1",
        "out.tip",
        "split.common",
    ];
    let up = of(&harness, &[0, 0], 10.0);
    assert_eq!(
        carrying(&up, &harness, &asked),
        ["out.tip", "p.a.start", "p.a.finish", "split.common", "volume.3"],
    );
    let down = of(&harness, &[1, 0], 5.0);
    assert_eq!(carrying(&down, &harness, &asked), ["out.tip", "q.a.start", "volume.3"]);
}

/// A contact of some milliohms to ground is a joint at ground, and the coil beyond it is silent.
#[test]
fn a_split_takes_the_joint_to_ground() {
    let harness = guitar();
    let found = of(&harness, &[0, 1], 10.0);
    let lug = |name: &str| {
        (0..harness.lugs.len()).find(|i| harness.lug_name(LugId(*i as u32)) == name).expect(name)
    };
    assert!(found.carries[lug("p.a.start")] && !found.carries[lug("p.b.finish")]);
    assert!(found.ground[lug("p.b.finish")] && found.ground[lug("split.common")]);
    assert!(!found.ground[lug("p.a.start")] && found.ground[lug("out.sleeve")]);
    assert!(found.between(LugId(lug("p.a.start") as u32), LugId(lug("toggle.up") as u32)));
    assert!(!found.between(LugId(lug("p.a.start") as u32), LugId(lug("p.a.finish") as u32)));
}

#[test]
fn hot_at_ground_carries_nothing() {
    let harness = guitar();
    let found = of(&harness, &[0, 0], 0.0);
    assert!(!found.carries.contains(&true));
}

#[test]
fn what_is_soldered_is_one_joint_and_contacts_are_not() {
    let harness = guitar();
    let joint = soldered(&harness);
    let of = |name: &str| {
        joint[(0..harness.lugs.len()).find(|i| harness.lug_name(LugId(*i as u32)) == name).expect(name)]
    };
    assert_eq!(of("p.a.finish"), of("split.common"));
    assert_eq!(of("volume.1"), of("out.sleeve"));
    assert_ne!(of("toggle.common"), of("toggle.up"));
}
