//! How coils stand in the circuit.

use super::Lab;
use crate::network::bench::{Bench, Wire, tap, wire};
use crate::network::{CircuitWord, in_circuit};

use CircuitWord::{Bled, HangingFromGround, HangingFromHot, InCircuit, Open, Shorted};

/// A two-coil pickup `p` (a, b) with the given wires, volume pot across the jack, cable and amp.
fn words(wires: &[&[&str]], extra: impl FnOnce(&mut Bench)) -> Vec<CircuitWord> {
    let mut bench = Bench::new();
    let coil = |name| Wire { farads: 90e-12, ..wire(name, 4e3, 2.2) };
    bench.pickup("p", &[coil("a"), coil("b")], &[(0, 1, 0.15)]);
    extra(&mut bench);
    let cable = bench.lead("cable", 500e-12, None, true);
    bench.plug(&[cable], 1e6);
    for wire in wires {
        bench.wire(wire);
    }
    let lab = Lab::new(bench);
    in_circuit(&lab.network, &lab.harness, &lab.setting(), 0)
}

const SERIES: [&[&str]; 3] =
    [&["out.tip", "p.a.start"], &["p.a.finish", "p.b.finish"], &["p.b.start", "out.sleeve"]];

#[test]
fn both_in_circuit() {
    assert_eq!(words(&SERIES, |_| {}), [InCircuit, InCircuit]);
}

#[test]
fn a_split_leaves_a_coil_shorted() {
    let wires: Vec<&[&str]> = [&SERIES[..], &[&["p.a.finish", "out.sleeve"]]].concat();
    assert_eq!(words(&wires, |_| {}), [InCircuit, Shorted]);
}

#[test]
fn a_split_may_leave_a_coil_hanging_from_ground_or_from_hot() {
    let wires: [&[&str]; 3] =
        [&["out.tip", "p.a.start"], &["p.a.finish", "out.sleeve"], &["p.a.finish", "p.b.finish"]];
    assert_eq!(words(&wires, |_| {}), [InCircuit, HangingFromGround]);
    let wires: [&[&str]; 3] =
        [&["out.tip", "p.a.start"], &["p.a.finish", "out.sleeve"], &["out.tip", "p.b.finish"]];
    assert_eq!(words(&wires, |_| {}), [InCircuit, HangingFromHot]);
}

#[test]
fn a_coil_no_wire_reaches_is_open() {
    let wires: [&[&str]; 2] = [&["out.tip", "p.a.start"], &["p.a.finish", "out.sleeve"]];
    assert_eq!(words(&wires, |_| {}), [InCircuit, Open]);
}

#[test]
fn a_chain_hangs_as_a_whole() {
    let wires: [&[&str]; 2] = [&["out.tip", "p.a.start"], &["p.a.finish", "p.b.start"]];
    assert_eq!(words(&wires, |_| {}), [HangingFromHot, HangingFromHot]);
}

#[test]
fn a_chain_that_ends_on_ground_is_no_antenna() {
    let wires: [&[&str]; 2] = [&["out.sleeve", "p.a.start"], &["p.a.finish", "p.b.start"]];
    assert_eq!(words(&wires, |_| {}), [HangingFromGround, HangingFromGround]);
}

#[test]
fn a_muted_jack_counts_as_ground() {
    let wires: [&[&str]; 2] = [&["out.tip", "out.sleeve"], &["out.tip", "p.a.start"]];
    assert_eq!(words(&wires, |_| {}), [HangingFromGround, Open]);
}

#[test]
fn a_partial_split_is_bled_through_its_resistor() {
    let wires: Vec<&[&str]> =
        [&SERIES[..], &[&["p.a.finish", "R1.1"], &["R1.2", "R2.1"], &["R2.2", "out.sleeve"]]].concat();
    let found = words(&wires, |bench| {
        bench.resistor("R1", 1e3);
        bench.resistor("R2", 1.2e3);
    });
    let [InCircuit, Bled(ohms)] = found[..] else { panic!("{found:?}") };
    assert!((ohms - 2200.0).abs() < 1e-6, "{ohms}");
    // One ohm is a short, 22 kΩ is nothing.
    let across = |ohms: f64| {
        let wires: Vec<&[&str]> = [&SERIES[..], &[&["p.a.finish", "R1.1"], &["R1.2", "out.sleeve"]]].concat();
        words(&wires, |bench| {
            bench.resistor("R1", ohms);
        })[1]
    };
    assert_eq!(across(1.0), Shorted);
    assert_eq!(across(22e3), InCircuit);
}

#[test]
fn a_coil_that_alone_joins_hot_to_ground_is_in_circuit() {
    let mut bench = Bench::new();
    bench.pickup("lead", &[wire("", 6e3, 2.5)], &[]);
    bench.plug(&[], f64::INFINITY);
    bench.wire(&["out.tip", "lead.start"]);
    bench.wire(&["out.sleeve", "lead.finish"]);
    let lab = Lab::new(bench);
    let word = |outlet| in_circuit(&lab.network, &lab.harness, &lab.setting(), outlet);
    assert_eq!(word(0), [InCircuit]);
    // Seen from an outlet that is not there, it hangs from the sleeve.
    assert_eq!(word(1), [HangingFromGround]);
}

#[test]
fn sections_of_a_tapped_coil_have_words_of_their_own() {
    let mut bench = Bench::new();
    let coil = Wire { taps: vec![tap("half", 0.6)], ..wire("", 9e3, 5.0) };
    bench.pickup("lead", &[coil], &[]);
    bench.selector("mode", 2);
    bench.plug(&[], 1e6);
    bench.wire(&["out.tip", "lead.start"]);
    bench.wire(&["out.sleeve", "mode.common"]);
    bench.wire(&["lead.finish", "mode.1"]);
    bench.wire(&["lead.half", "mode.2"]);
    let lab = Lab::new(bench);
    let word = |lab: &Lab| in_circuit(&lab.network, &lab.harness, &lab.setting(), 0);
    assert_eq!(word(&lab), [InCircuit, InCircuit]);
    let lab = lab.throws(&[1]);
    assert_eq!(word(&lab), [InCircuit, HangingFromGround]);
}

#[test]
fn a_bridge_of_resistors_has_its_effective_resistance() {
    // Two paths of 1 k + 1 k with a bridge that carries nothing, by symmetry 1 kΩ.
    let wires: Vec<&[&str]> = [
        &SERIES[..],
        &[
            &["p.a.finish", "R1.1", "R2.1"],
            &["R1.2", "R3.1", "R5.1"],
            &["R2.2", "R4.1", "R5.2"],
            &["R3.2", "R4.2", "out.sleeve"],
        ],
    ]
    .concat();
    let found = words(&wires, |bench| {
        for name in ["R1", "R2", "R3", "R4"] {
            bench.resistor(name, 1e3);
        }
        bench.resistor("R5", 333.0);
    });
    let [InCircuit, Bled(ohms)] = found[..] else { panic!("{found:?}") };
    assert!((ohms - 1e3).abs() < 1e-6, "{ohms}");
}
