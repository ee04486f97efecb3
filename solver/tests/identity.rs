//! What is decided exactly: against identities of circuit theory that hold in whole numbers, and against the floating-point solver on random
//! networks.
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
use solver::{
    Answer, Branch, Circuit, Farads, Henries, Hertz, Identity, Impedance, Layout, Node, Ohms, Outcome,
    Output, Reading, Relation, Response, SolveErrorKind, Source, Subject, VoltageSource,
};

const EXACT: Identity = Identity::new(Reading::Exact);

fn one(source: VoltageSource) -> [(Source, Complex64); 1] {
    [(Source::Voltage(source), Complex64::ONE)]
}

/// A bridge between a generator and ground: r1, r3 at the top, r2, r4 at the bottom.
fn bridge(r: [f64; 4]) -> (Circuit, VoltageSource, Node, Node) {
    let mut c = Circuit::new();
    let (top, left, right, g) = (c.node("top"), c.node("left"), c.node("right"), c.ground());
    let e = c.voltage_source("e", top, g).unwrap();
    c.resistor("r1", top, left, Ohms(r[0])).unwrap();
    c.resistor("r2", left, g, Ohms(r[1])).unwrap();
    c.resistor("r3", top, right, Ohms(r[2])).unwrap();
    c.resistor("r4", right, g, Ohms(r[3])).unwrap();
    c.resistor("detector", left, right, Ohms(470.0)).unwrap();
    (c, e, left, right)
}

fn balanced(r: [f64; 4], reading: Reading) -> Answer {
    let (c, e, left, right) = bridge(r);
    let drive = one(e);
    let response = Response::Transfer(&drive, Output::Voltage(left, right));
    let finding = Identity::new(reading).is_null(&c, &c.values(), response).unwrap();
    assert!(finding.error < 1e-20, "{finding:?}");
    finding.answer
}

#[test]
fn a_bridge_is_balanced_by_its_numbers_to_the_last_bit() {
    assert_eq!(balanced([1e3, 3e3, 2e3, 6e3], Reading::Exact), Answer::Yes);
    assert_eq!(balanced([1e3, 3e3, 2e3, 6e3_f64.next_up()], Reading::Exact), Answer::No);
    // In decimals 0.1·2.1 = 0.3·0.7; the floating-point numbers of these names do not have that product.
    assert_eq!(balanced([0.1, 0.3, 0.7, 2.1], Reading::Exact), Answer::No);
    assert_eq!(balanced([0.1, 0.3, 0.1, 0.3], Reading::Exact), Answer::Yes);
    // By symmetry, and by wiring.
    assert_eq!(balanced([1e3, 3e3, 2e3, 6e3], Reading::Alike), Answer::No);
    assert_eq!(balanced([0.1, 0.3, 0.1, 0.3], Reading::Alike), Answer::Yes);
    assert_eq!(balanced([0.1, 0.3, 0.1, 0.3], Reading::ByName), Answer::No);
    // Limits are structure.
    for reading in [Reading::Exact, Reading::Alike, Reading::ByName] {
        assert_eq!(balanced([0.0, 5.0, 0.0, 7.0], reading), Answer::Yes);
        assert_eq!(balanced([5.0, f64::INFINITY, 7.0, f64::INFINITY], reading), Answer::Yes);
        assert_eq!(balanced([5.0, f64::INFINITY, 7.0, 0.0], reading), Answer::No);
    }
}

#[test]
fn small_is_not_zero() {
    // 240 dB down and more, where a number alone would not tell.
    let mut c = Circuit::new();
    let (a, b, g) = (c.node("a"), c.node("b"), c.ground());
    let e = c.voltage_source("e", a, g).unwrap();
    c.resistor("r", a, b, Ohms(1e300)).unwrap();
    c.resistor("short", b, g, Ohms(1e-12)).unwrap();
    let drive = one(e);
    let response = Response::Transfer(&drive, Output::Voltage(b, g));
    assert_eq!(EXACT.is_null(&c, &c.values(), response).unwrap().answer, Answer::No);
}

fn relation(identity: Identity, a: (&Circuit, Response<'_>), b: (&Circuit, Response<'_>)) -> Relation {
    let (va, vb) = (a.0.values(), b.0.values());
    let found = identity
        .compare(
            Subject { circuit: a.0, values: &va, response: a.1 },
            Subject { circuit: b.0, values: &vb, response: b.1 },
        )
        .unwrap();
    assert!(found.error <= 1e-20, "{found:?}");
    found.relation
}

#[test]
fn star_and_delta_are_the_same_network() {
    // Star 6, 3, 2 is delta 6, 12, 18 (A. E. Kennelly, Electrical World 34 (1899) 413–414, from memory), all whole numbers.
    let star = |last: f64| {
        let mut c = Circuit::new();
        let (a, b, m, g) = (c.node("a"), c.node("b"), c.node("m"), c.ground());
        for (node, ohms) in [(a, 6.0), (b, 3.0), (g, last)] {
            c.resistor("arm", node, m, Ohms(ohms)).unwrap();
        }
        (c, a, b, g)
    };
    let mut delta = Circuit::new();
    let (p, q, ground) = (delta.node("p"), delta.node("q"), delta.ground());
    // Opposite the arm of 2 is 36/2 = 18, and so on.
    for (from, to, ohms) in [(p, q, 18.0), (p, ground, 12.0), (q, ground, 6.0)] {
        delta.resistor("side", from, to, Ohms(ohms)).unwrap();
    }
    for (last, wanted) in [(2.0, Relation::Same), (2.0_f64.next_down(), Relation::Different)] {
        let (c, a, b, g) = star(last);
        for (pair, other) in [((a, g), (p, ground)), ((b, g), (q, ground)), ((a, b), (p, q))] {
            let found = relation(
                EXACT,
                (&c, Response::Impedance(pair.0, pair.1)),
                (&delta, Response::Impedance(other.0, other.1)),
            );
            // Between a and b the last arm carries nothing.
            assert_eq!(found, if pair == (a, b) { Relation::Same } else { wanted });
        }
    }
}

#[test]
fn mutual_inductance_is_exact_though_its_root_is_not_a_number() {
    let pair = |l: [f64; 2], k: f64, flipped: bool| {
        let mut c = Circuit::new();
        let (a, b, g) = (c.node("a"), c.node("b"), c.ground());
        let first = c.inductor("l1", a, b, Henries(l[0])).unwrap();
        let second = if flipped {
            c.inductor("l2", g, b, Henries(l[1]))
        } else {
            c.inductor("l2", b, g, Henries(l[1]))
        }
        .unwrap();
        c.couple(first, second, k).unwrap();
        (c, a, g)
    };
    let single = |l: f64| {
        let mut c = Circuit::new();
        let (a, g) = (c.node("a"), c.ground());
        c.inductor("l", a, g, Henries(l)).unwrap();
        (c, a, g)
    };
    let same = |x: &(Circuit, Node, Node), y: &(Circuit, Node, Node)| {
        relation(EXACT, (&x.0, Response::Impedance(x.1, x.2)), (&y.0, Response::Impedance(y.1, y.2)))
    };
    // L1 + L2 ± 2k·√(L1·L2): √2·√8 = 4 and √3·√12 = 6 exactly, √2·√3 is no rational number.
    assert_eq!(same(&pair([2.0, 8.0], 1.0, false), &single(18.0)), Relation::Same);
    assert_eq!(same(&pair([2.0, 8.0], 1.0, true), &single(2.0)), Relation::Same);
    assert_eq!(same(&pair([3.0, 12.0], 0.5, true), &single(9.0)), Relation::Same);
    assert_eq!(same(&pair([3.0, 12.0], -0.5, false), &single(9.0)), Relation::Same);
    let wanted = 2.0 + 3.0 + 2.0 * 6.0_f64.sqrt();
    assert_eq!(same(&pair([2.0, 3.0], 1.0, false), &single(wanted)), Relation::Different);
    assert_eq!(same(&pair([2.0, 3.0], 1.0, false), &pair([3.0, 2.0], -1.0, true)), Relation::Same);
    // Equal coils against each other, fully coupled: exactly nothing.
    let (c, a, g) = pair([0.1, 0.1], 1.0, true);
    for reading in [Reading::Exact, Reading::Alike] {
        let finding = Identity::new(reading).is_null(&c, &c.values(), Response::Impedance(a, g)).unwrap();
        assert_eq!(finding.answer, Answer::Yes);
    }
    let by_name = Identity::new(Reading::ByName).is_null(&c, &c.values(), Response::Impedance(a, g)).unwrap();
    assert_eq!(by_name.answer, Answer::No);
    // A shorted neighbour leaves L1(1 − k²): 2·0.75.
    let mut c = Circuit::new();
    let (a, b, g) = (c.node("a"), c.node("b"), c.ground());
    let (l1, l2) =
        (c.inductor("l1", a, g, Henries(2.0)).unwrap(), c.inductor("l2", b, g, Henries(0.7)).unwrap());
    c.couple(l1, l2, 0.5).unwrap();
    c.contact("short", b, g, true).unwrap();
    assert_eq!(same(&(c, a, g), &single(1.5)), Relation::Same);
}

#[test]
fn op_amps_transformers_and_signs() {
    // An inverter of equal resistors, a transformer of −1, and a wire.
    let mut inverter = Circuit::new();
    let (a, m, out, g) = (inverter.node("a"), inverter.node("m"), inverter.node("out"), inverter.ground());
    let e = inverter.voltage_source("e", a, g).unwrap();
    inverter.resistor("r1", a, m, Ohms(4.7e3)).unwrap();
    inverter.resistor("r2", m, out, Ohms(4.7e3)).unwrap();
    inverter.op_amp("op", g, m, out, g).unwrap();
    let mut reversed = Circuit::new();
    let (p, q, ground) = (reversed.node("p"), reversed.node("q"), reversed.ground());
    let f = reversed.voltage_source("f", p, ground).unwrap();
    reversed.transformer("t", p, ground, q, ground, -1.0).unwrap();
    reversed.resistor("load", q, ground, Ohms(1e3)).unwrap();
    let (de, df) = (one(e), one(f));
    let left = (&inverter, Response::Transfer(&de, Output::Voltage(out, g)));
    let right = (&reversed, Response::Transfer(&df, Output::Voltage(q, ground)));
    let wire = (&reversed, Response::Transfer(&df, Output::Voltage(p, ground)));
    for reading in [Reading::Exact, Reading::Alike] {
        assert_eq!(relation(Identity::new(reading), left, right), Relation::Same);
        assert_eq!(relation(Identity::new(reading), left, wire), Relation::Opposite);
    }
    assert_eq!(relation(Identity::new(Reading::ByName), left, right), Relation::Different);

    // A gyrator of two transconductances turns C into L = C/g²: 2⁻²⁰ F at 2⁻¹⁰ S is 1 H.
    let mut c = Circuit::new();
    let (a, b, g) = (c.node("a"), c.node("b"), c.ground());
    c.vccs("g1", a, g, b, g, solver::Siemens(2f64.powi(-10))).unwrap();
    c.vccs("g2", b, g, a, g, solver::Siemens(-(2f64.powi(-10)))).unwrap();
    c.capacitor("c", b, g, Farads(2f64.powi(-20))).unwrap();
    let mut coil = Circuit::new();
    let (p, ground) = (coil.node("p"), coil.ground());
    coil.inductor("l", p, ground, Henries(1.0)).unwrap();
    let ports = (Response::Impedance(a, g), Response::Impedance(p, ground));
    assert_eq!(relation(EXACT, (&c, ports.0), (&coil, ports.1)), Relation::Same);
}

#[test]
fn phases_islands_contacts_and_direct_current() {
    // Complex amplitudes cancel exactly.
    let mut c = Circuit::new();
    let (a, b, m, g) = (c.node("a"), c.node("b"), c.node("m"), c.ground());
    let (e, f) = (c.voltage_source("e", a, g).unwrap(), c.voltage_source("f", b, g).unwrap());
    c.capacitor("ca", a, m, Farads(1e-9)).unwrap();
    c.capacitor("cb", b, m, Farads(1e-9)).unwrap();
    c.resistor("load", m, g, Ohms(1e5)).unwrap();
    let (lone, behind) = (c.node("lone"), c.node("behind"));
    let k = c.contact("k", m, behind, false).unwrap();
    let mut values = c.values();
    let z = Complex64::new(0.1, -0.7);
    let against = [(Source::Voltage(e), z), (Source::Voltage(f), -z)];
    let turned = [(Source::Voltage(e), z), (Source::Voltage(f), Complex64::new(-0.7, 0.1))];
    let ask = |identity: Identity, values: &solver::Values, drive: &[(Source, Complex64)], output: Output| {
        identity.is_null(&c, values, Response::Transfer(drive, output)).unwrap().answer
    };
    assert_eq!(ask(EXACT, &values, &against, Output::Voltage(m, g)), Answer::Yes);
    assert_eq!(ask(EXACT, &values, &turned, Output::Voltage(m, g)), Answer::No);
    // At DC the capacitors block.
    assert_eq!(ask(EXACT.at_dc(), &values, &turned, Output::Voltage(m, g)), Answer::Yes);
    // Islands.
    assert_eq!(ask(EXACT, &values, &turned, Output::Voltage(lone, g)), Answer::Undetermined);
    assert_eq!(ask(EXACT, &values, &turned, Output::Voltage(behind, g)), Answer::Undetermined);
    assert_eq!(ask(EXACT, &values, &turned, Output::Current(Branch::Contact(k))), Answer::Yes);
    values.set_contact(k, true).unwrap();
    assert_eq!(ask(EXACT, &values, &turned, Output::Voltage(behind, m)), Answer::Yes);
    assert_eq!(ask(EXACT, &values, &turned, Output::Voltage(behind, g)), Answer::No);
    // Open ports: not null, and the same as each other.
    let open = Response::Impedance(lone, g);
    assert_eq!(EXACT.is_null(&c, &values, open).unwrap().answer, Answer::No);
    assert_eq!(relation(EXACT, (&c, open), (&c, Response::Impedance(lone, m))), Relation::Same);
    assert_eq!(relation(EXACT, (&c, open), (&c, Response::Impedance(a, g))), Relation::Different);
    assert_eq!(EXACT.is_null(&c, &values, Response::Impedance(a, g)).unwrap().answer, Answer::Yes);
    // Every source by one elimination, in order of creation.
    let nulls = EXACT.nulls(&c, &values, Output::Voltage(a, g)).unwrap();
    assert_eq!(nulls.iter().map(|n| n.answer).collect::<Vec<_>>(), [Answer::No, Answer::Yes]);
    // Another seed, the same answers.
    assert_eq!(ask(EXACT.seed(99), &values, &against, Output::Voltage(m, g)), Answer::Yes);
    // Foreign handles are refused.
    let stranger = Circuit::new();
    let error = EXACT.is_null(&c, &values, Response::Impedance(stranger.ground(), g)).unwrap_err();
    assert!(matches!(error.kind(), SolveErrorKind::ForeignNode { .. }));
    let error = EXACT.is_null(&c, &stranger.values(), open).unwrap_err();
    assert!(matches!(error.kind(), SolveErrorKind::ForeignValues));
}

#[test]
fn a_long_ladder_is_decided_too() {
    // 2000 sections: what is left of 1 V at the end is far below the range of numbers, and yet not zero.
    let mut c = Circuit::new();
    let (mut at, g) = (c.node("start"), c.ground());
    let e = c.voltage_source("e", at, g).unwrap();
    for i in 0..2000 {
        let next = c.node("n");
        c.resistor("r", at, next, Ohms(1e3 + f64::from(i))).unwrap();
        c.capacitor("c", next, g, Farads(1e-6)).unwrap();
        at = next;
    }
    let drive = one(e);
    let response = Response::Transfer(&drive, Output::Voltage(at, g));
    let finding = EXACT.is_null(&c, &c.values(), response).unwrap();
    assert_eq!(finding.answer, Answer::No);
    assert!(finding.error < 1e-18, "{finding:?}");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, rng_seed: RngSeed::Fixed(44), ..ProptestConfig::default() })]

    /// What is exactly zero or undetermined here is so for the floating-point solver, and what that sees clearly is not zero here. A network is the
    /// same as itself built in another order, and different from one with another value.
    #[test]
    fn the_floating_point_solver_agrees(network in any_network(), f in frequency()) {
        let built = network.build();
        let (c, values) = (&built.circuit, built.circuit.values());
        let (a, g) = (built.nodes[1], built.nodes[0]);
        let output = Output::Voltage(a, g);
        let Ok(mut w) = Layout::ac(c, &values, &[]).map(|layout| layout.workspace()) else { return Ok(()) };
        let Ok(mut point) = w.factor(&values, Hertz(f)) else { return Ok(()) };
        for &source in c.sources() {
            let drive = [(source, Complex64::ONE)];
            let exact = EXACT.is_null(c, &values, Response::Transfer(&drive, output)).unwrap().answer;
            match point.response(&drive, output) {
                Ok(Outcome::Known(h)) if h.norm() > 1e-6 => prop_assert_eq!(exact, Answer::No),
                Ok(Outcome::Known(h)) if h == Complex64::ZERO => prop_assert_ne!(exact, Answer::Undetermined),
                Ok(Outcome::Undetermined) => prop_assert_eq!(exact, Answer::Undetermined),
                _ => {}
            }
        }
        let impedance = Response::Impedance(a, g);
        let exact = EXACT.is_null(c, &values, impedance).unwrap().answer;
        match point.impedance(a, g) {
            Ok(Impedance::Known(z)) if z.norm() > 1.0 => prop_assert_eq!(exact, Answer::No),
            Ok(Impedance::Known(z)) if z == Complex64::ZERO => prop_assert_eq!(exact, Answer::Yes),
            _ => {}
        }
        let mut other = network.clone();
        // Names are by place, and a control is found by place: only what is no control and has none may move.
        let plain = other.parts.iter().all(|part| !matches!(part, random::Part::Ccvs(..) | random::Part::Cccs(..) | random::Part::L(..)));
        if plain {
            other.parts.reverse();
            let turned = other.build();
            let same = relation(EXACT, (c, impedance), (&turned.circuit, Response::Impedance(turned.nodes[1], turned.nodes[0])));
            prop_assert!(same == Relation::Same || exact == Answer::Undetermined, "{same:?}");
        }
    }
}
