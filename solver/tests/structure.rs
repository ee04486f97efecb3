//! What the symbolic step decides: which resistors are branches, which values a layout serves, and how much elimination costs.
#![allow(
    missing_docs,
    clippy::disallowed_methods,
    reason = "a test target: bits need not be equal everywhere"
)]

#[path = "../benches/workload.rs"]
mod workload;

use solver::{Circuit, Layout, Ohms};
use workload::{ladder, layout, mesh, one_voice};

/// Two resistors in series from a source to ground: the unknowns of a layout at those values.
fn pair(first: f64, second: f64) -> (usize, impl Fn(f64) -> bool) {
    let mut circuit = Circuit::new();
    let (ground, top, middle) = (circuit.ground(), circuit.node("top"), circuit.node("middle"));
    circuit.voltage_source("e", top, ground).unwrap();
    let one = circuit.resistor("first", top, middle, Ohms(first)).unwrap();
    circuit.resistor("second", middle, ground, Ohms(second)).unwrap();
    let values = circuit.values();
    let layout = Layout::ac(&circuit, &values, &[]).unwrap();
    let fits = {
        let (layout, values) = (layout.clone(), values.clone());
        move |ohms: f64| {
            let mut values = values.clone();
            values.set_resistance(one, Ohms(ohms)).unwrap();
            layout.fits(&values)
        }
    };
    (layout.unknowns(), fits)
}

#[test]
fn small_resistors_are_branches() {
    // Two nodes and the source's current; a branch adds its own.
    assert_eq!(pair(10.0, 100.0).0, 3);
    assert_eq!(pair(10.0_f64.next_down(), 100.0).0, 4);
    // Ten million times smaller than a neighbour.
    assert_eq!(pair(100.0, 1e9).0, 3);
    assert_eq!(pair(100.0, 1e9_f64.next_up()).0, 4);
}

#[test]
fn a_layout_serves_its_structural_class() {
    let (_, fits) = pair(100.0, 1e3);
    for (ohms, serves) in
        [(1.0, true), (1.0_f64.next_down(), false), (1e12, true), (0.0, false), (f64::INFINITY, false)]
    {
        assert_eq!(fits(ohms), serves, "admittance, {ohms} Ω");
    }
    let (_, fits) = pair(1.0, 1e3);
    for (ohms, serves) in [(1e-9, true), (1e9, true), (0.0, false), (f64::INFINITY, false)] {
        assert_eq!(fits(ohms), serves, "branch, {ohms} Ω");
    }
}

/// The counts are what the order reached when they were written down: a worse order gives the same answers, and only this tells.
#[test]
fn elimination_costs_what_it_did() {
    let cost = |workload| {
        let layout = layout(&workload);
        (layout.unknowns(), layout.operations(), layout.lane_operations())
    };
    assert_eq!(cost(one_voice()), (26, 72, 40));
    let (unknowns, operations, in_lanes) = cost(ladder(10));
    assert_eq!((unknowns, operations, in_lanes), (42, 58, 19));
    // Each section of a ladder costs the same; in lanes it costs inverses, and twice 1 times a number.
    let (_, longer, longer_in_lanes) = cost(ladder(40));
    assert_eq!(longer_in_lanes - in_lanes, 2 * 30);
    assert_eq!(longer - operations, 3 * (cost(ladder(20)).1 - operations));
    assert_eq!(cost(mesh(8)), (65, 1153, 1060));
}
