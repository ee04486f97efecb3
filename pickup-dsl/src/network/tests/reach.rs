//! Which coils can drive the amp at all.

use super::Lab;
use crate::network::bench::{Bench, Wire, wire};
use crate::network::reaching;

/// Two coils `p` (a, b) coupled by `k`, winding capacitance `farads` each, cable and amp; which reach, held against the solution.
fn reach(k: f64, farads: f64, wires: &[&[&str]]) -> Vec<bool> {
    let mut bench = Bench::new();
    let coil = |name| Wire { farads, ..wire(name, 4e3, 2.2) };
    bench.pickup("p", &[coil("a"), coil("b")], &[(0, 1, k)]);
    let cable = bench.lead("cable", 500e-12, None, true);
    bench.plug(&[cable], 1e6);
    for wire in wires {
        bench.wire(wire);
    }
    let lab = Lab::new(bench);
    let found = reaching(&lab.network, &lab.values()).remove(0);
    for (transfer, reaches) in lab.transfers(1234.5).into_iter().zip(&found) {
        assert_eq!(transfer.norm() > 1e-9, *reaches, "{transfer}");
    }
    found
}

const SERIES: [&[&str]; 3] =
    [&["out.tip", "p.a.start"], &["p.a.finish", "p.b.finish"], &["p.b.start", "out.sleeve"]];
const ALONE: [&[&str]; 2] = [&["out.tip", "p.a.start"], &["p.a.finish", "out.sleeve"]];

#[test]
fn what_is_in_series_reaches() {
    assert_eq!(reach(0.0, 90e-12, &SERIES), [true, true]);
}

#[test]
fn what_hangs_from_hot_does_not() {
    let wires: [&[&str]; 2] = [&["out.tip", "p.a.start"], &["p.a.finish", "p.b.start"]];
    assert_eq!(reach(0.15, 90e-12, &wires), [false, false]);
}

#[test]
fn a_shorted_coil_reaches_by_flux_alone() {
    let wires: Vec<&[&str]> = [&SERIES[..], &[&["p.a.finish", "out.sleeve"]]].concat();
    assert_eq!(reach(0.0, 90e-12, &wires), [true, false]);
    assert_eq!(reach(0.15, 90e-12, &wires), [true, true]);
}

#[test]
fn an_open_coil_reaches_by_flux_if_its_own_capacitance_carries_current() {
    assert_eq!(reach(0.15, 90e-12, &ALONE), [true, true]);
    assert_eq!(reach(0.15, 0.0, &ALONE), [true, false]);
}

#[test]
fn an_amp_at_ground_is_reached_by_nothing() {
    let wires: Vec<&[&str]> = [&SERIES[..], &[&["out.tip", "out.sleeve"]]].concat();
    assert_eq!(reach(0.15, 90e-12, &wires), [false, false]);
}
