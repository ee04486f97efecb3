//! Error bounds against closed forms of ill-conditioned networks, and against the same network eliminated in another order.
#![allow(
    missing_docs,
    clippy::disallowed_methods,
    reason = "a test target: bits need not be equal everywhere"
)]

#[path = "network/random.rs"]
#[allow(dead_code, reason = "shared with other targets")]
mod random;

use num_complex::Complex64;
use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use random::{any_network, frequency};
use solver::{Bounded, Circuit, Henries, Hertz, Layout, Node, Ohms, Outcome, Output, Response, Source};

const TAU: f64 = std::f64::consts::TAU;

fn ask(c: &Circuit, f: f64, of: Response<'_>) -> Bounded {
    let values = c.values();
    let mut w = Layout::ac(c, &values, &[]).unwrap().workspace();
    w.factor(&values, Hertz(f)).unwrap().bounded(of).unwrap().known().unwrap()
}

#[test]
fn a_bridge_next_to_balance_is_as_uncertain_as_it_says() {
    // (r2·r3 − r1·r4)/((r1 + r2)(r3 + r4)): the difference is exact in these numbers.
    let mut worst = 0.0_f64;
    for k in 0..50 {
        let last = 6e3 + 2f64.powi(-k);
        let mut c = Circuit::new();
        let (top, left, right, g) = (c.node("top"), c.node("left"), c.node("right"), c.ground());
        let e = c.voltage_source("e", top, g).unwrap();
        for (a, b, ohms) in [(top, left, 1e3), (left, g, 3e3), (top, right, 2e3), (right, g, last)] {
            c.resistor("r", a, b, Ohms(ohms)).unwrap();
        }
        let drive = [(Source::Voltage(e), Complex64::ONE)];
        let found = ask(&c, 1.0, Response::Transfer(&drive, Output::Voltage(left, right)));
        let wanted = -(1e3 * (last - 6e3)) / (4e3 * (2e3 + last));
        let off = (found.value - wanted).norm();
        assert!(off <= found.error, "{k}: off by {off:e}, said {:e}", found.error);
        assert!(found.error < 1e-13, "{k}: {found:?}");
        worst = worst.max(off);
    }
    assert!(worst > 0.0);
}

#[test]
fn nearly_full_coupling_is_as_uncertain_as_it_says() {
    // L1·(1 − k²) of a shorted neighbour; 1 − k² = (1 − k)(1 + k), and both factors are exact here.
    for exponent in 1..45 {
        let k = 1.0 - 2f64.powi(-exponent);
        let mut c = Circuit::new();
        let (a, b, g) = (c.node("a"), c.node("b"), c.ground());
        let (l1, l2) =
            (c.inductor("l1", a, g, Henries(2.0)).unwrap(), c.inductor("l2", b, g, Henries(3.0)).unwrap());
        c.couple(l1, l2, k).unwrap();
        c.contact("short", b, g, true).unwrap();
        let found = ask(&c, 100.0, Response::Impedance(a, g));
        let wanted = Complex64::new(0.0, TAU * 100.0 * 2.0 * (1.0 - k) * (1.0 + k));
        let off = (found.value - wanted).norm();
        assert!(off <= found.error, "{k}: off by {off:e}, said {:e}", found.error);
        assert!(found.error < 1e-10, "{k}: {found:?}");
    }
}

#[test]
fn shorted_and_open_ports() {
    let mut c = Circuit::new();
    let (a, b, lone, g) = (c.node("a"), c.node("b"), c.node("lone"), c.ground());
    c.contact("k", a, b, true).unwrap();
    c.resistor("r", a, g, Ohms(10.0)).unwrap();
    assert_eq!(ask(&c, 1.0, Response::Impedance(a, b)), Bounded { value: Complex64::ZERO, error: 0.0 });
    let values = c.values();
    let mut w = Layout::ac(&c, &values, &[]).unwrap().workspace();
    let open = w.factor(&values, Hertz(1.0)).unwrap().bounded(Response::Impedance(lone, g)).unwrap();
    assert_eq!(open, Outcome::Undetermined);
}

/// Impedance and response of a network with its elements entered in either order.
fn transfer(network: &random::Network, f: f64, backwards: bool) -> Option<(Bounded, Bounded)> {
    let mut network = network.clone();
    // A control is found by its place, and so are coupled coils.
    network.parts.retain(|part| {
        !matches!(part, random::Part::Ccvs(..) | random::Part::Cccs(..) | random::Part::L(..))
    });
    if backwards {
        network.parts.reverse();
    }
    let built = network.build();
    let values = built.circuit.values();
    let at = |i: usize| -> Node { built.nodes[i] };
    let mut w = Layout::ac(&built.circuit, &values, &[]).ok()?.workspace();
    let mut point = w.factor(&values, Hertz(f)).ok()?;
    let impedance = point.bounded(Response::Impedance(at(1), at(0))).ok()?.known()?;
    let sources: Vec<_> = built.circuit.sources().iter().map(|&source| (source, Complex64::ONE)).collect();
    let response =
        point.bounded(Response::Transfer(&sources, Output::Voltage(at(1), at(0)))).ok()?.known()?;
    Some((impedance, response))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 800, rng_seed: RngSeed::Fixed(55), ..ProptestConfig::default() })]

    /// Entered backwards, a network is eliminated in another order and rounds otherwise: two answers differ by no more than both bounds.
    #[test]
    fn two_orders_of_elimination_agree_within_their_bounds(network in any_network(), f in frequency()) {
        let (Some(one), Some(other)) = (transfer(&network, f, false), transfer(&network, f, true)) else { return Ok(()) };
        for (one, other) in [(one.0, other.0), (one.1, other.1)] {
            let off = (one.value - other.value).norm();
            prop_assert!(off <= one.error + other.error, "{one:?} and {other:?}");
        }
    }
}
