//! What is refused, with an error that names the culprit.
#![allow(
    missing_docs,
    clippy::disallowed_methods,
    reason = "a test target: bits need not be equal everywhere"
)]

#[path = "network/solved.rs"]
#[allow(dead_code, reason = "shared with other targets")]
mod solved;

use num_complex::Complex64;
use solved::{ac, close, one};
use solver::{
    Branch, BuildErrorKind, Circuit, Farads, Henries, Hertz, Impedance, Kelvin, Layout, Named, Noise, Ohms,
    Outcome, Output, Siemens, SolveError, SolveErrorKind, Source, Unknown, Values, Workspace,
};

fn names(list: &[Named]) -> Vec<&str> {
    list.iter().map(|named| named.name.as_str()).collect()
}

#[test]
fn voltage_sources_in_a_loop_must_agree() {
    let mut c = Circuit::new();
    let (a, b, g) = (c.node("a"), c.node("b"), c.ground());
    let e1 = c.voltage_source("first", a, g).unwrap();
    let e2 = c.voltage_source("second", b, g).unwrap();
    c.contact("bridge", a, b, true).unwrap();
    c.resistor("r", a, g, Ohms(10.0)).unwrap();
    let (values, mut w) = ac(&c);
    let mut point = w.factor(&values, Hertz(1.0)).unwrap();
    let error = point.response(&one(e1), Output::Voltage(a, g)).unwrap_err();
    let SolveErrorKind::VoltageLoop { branches } = error.kind() else { panic!("{error}") };
    assert_eq!(names(branches), ["second", "first"]);
    let mut out = Vec::new();
    assert!(matches!(
        point.transfers(Output::Voltage(a, g), &mut out).unwrap_err().kind(),
        SolveErrorKind::VoltageLoop { .. }
    ));
    // Equal voltages are no contradiction; the current between them is free.
    let agree = [(Source::Voltage(e1), Complex64::ONE), (Source::Voltage(e2), Complex64::ONE)];
    assert_eq!(point.response(&agree, Output::Voltage(a, g)).unwrap(), Outcome::Known(Complex64::ONE));
    assert_eq!(
        point.response(&agree, Output::Current(Branch::VoltageSource(e1))).unwrap(),
        Outcome::Undetermined
    );
    // Dead sources are shorts.
    assert_eq!(point.impedance(a, g).unwrap(), Impedance::Known(Complex64::ZERO));
}

#[test]
fn a_short_circuited_voltage_source_is_named() {
    let mut c = Circuit::new();
    let (a, g) = (c.node("a"), c.ground());
    let e = c.voltage_source("shorted", a, g).unwrap();
    c.contact("k", a, g, true).unwrap();
    let (values, mut w) = ac(&c);
    let mut point = w.factor(&values, Hertz(1.0)).unwrap();
    let error = point.response(&one(e), Output::Voltage(a, g)).unwrap_err();
    assert!(
        matches!(error.kind(), SolveErrorKind::ShortedSource { source_name } if source_name.name == "shorted")
    );
    assert_eq!(error.to_string(), "voltage source `shorted` is short-circuited and cannot hold its voltage");
    assert_eq!(point.response(&[], Output::Voltage(a, g)).unwrap(), Outcome::Known(Complex64::ZERO));
}

#[test]
fn a_cut_set_of_current_sources_must_balance() {
    let mut c = Circuit::new();
    let (a, m, g) = (c.node("a"), c.node("m"), c.ground());
    let i1 = c.current_source("in", g, m).unwrap();
    let i2 = c.current_source("out", m, a).unwrap();
    c.resistor("r", a, g, Ohms(10.0)).unwrap();
    let (values, mut w) = ac(&c);
    let mut point = w.factor(&values, Hertz(1.0)).unwrap();
    let output = Output::Voltage(a, g);
    let error = point.response(&[(Source::Current(i1), Complex64::ONE)], output).unwrap_err();
    let SolveErrorKind::CurrentCutSet { sources } = error.kind() else { panic!("{error}") };
    assert_eq!(names(sources), ["in", "out"]);
    let both = [(Source::Current(i1), Complex64::ONE), (Source::Current(i2), Complex64::ONE)];
    close(point.response(&both, output).unwrap().known().unwrap(), Complex64::new(10.0, 0.0), 1e-15);
    assert_eq!(point.response(&both, Output::Voltage(m, g)).unwrap(), Outcome::Undetermined);
}

#[test]
fn a_contradiction_through_controlled_sources_names_unknowns() {
    let mut c = Circuit::new();
    let (a, g) = (c.node("a"), c.ground());
    // A source that senses its own voltage with gain 1 says v = v; with a voltage source across it, its current is free.
    c.vcvs("echo", a, g, a, g, 1.0).unwrap();
    let i = c.current_source("i", g, a).unwrap();
    let (values, mut w) = ac(&c);
    let mut point = w.factor(&values, Hertz(1.0)).unwrap();
    let drive = [(Source::Current(i), Complex64::ONE)];
    assert_eq!(point.response(&drive, Output::Voltage(a, g)).unwrap(), Outcome::Undetermined);
    let error = point.impedance(a, g).unwrap_err();
    let SolveErrorKind::Singular { unknowns } = error.kind() else { panic!("{error}") };
    assert!(matches!(&unknowns[..], [Unknown::Voltage { name, .. }] if name == "a"), "{error}");
    let mut c = Circuit::new();
    let (a, g) = (c.node("a"), c.ground());
    let e = c.voltage_source("e", a, g).unwrap();
    c.vcvs("nothing", a, g, g, g, 1.0).unwrap();
    let (values, mut w) = ac(&c);
    let error = w.factor(&values, Hertz(1.0)).unwrap().response(&one(e), Output::Voltage(a, g)).unwrap_err();
    let SolveErrorKind::Contradiction { unknowns } = error.kind() else { panic!("{error}") };
    let currents: Vec<_> = unknowns.iter().map(ToString::to_string).collect();
    assert_eq!(currents, ["current of `e`", "current of `nothing`"]);
}

#[test]
fn a_control_in_a_loop_of_zero_impedance_is_named() {
    let mut c = Circuit::new();
    let (a, b, g) = (c.node("a"), c.node("b"), c.ground());
    let k1 = c.contact("sensed", a, b, true).unwrap();
    c.contact("parallel", a, b, true).unwrap();
    c.resistor("r", b, g, Ohms(10.0)).unwrap();
    c.cccs("source", g, b, Branch::Contact(k1), 2.0).unwrap();
    let error = Layout::ac(&c, &c.values(), &[]).unwrap_err();
    assert!(
        matches!(error.kind(), SolveErrorKind::FreeControl { element, control } if element.name == "source" && control.name == "sensed"),
        "{error}"
    );
}

#[test]
fn values_outside_their_domain_are_refused() {
    let mut c = Circuit::new();
    let (a, g) = (c.node("a"), c.ground());
    for bad in [-1.0, f64::NAN] {
        for error in [
            c.resistor("bad", a, g, Ohms(bad)).unwrap_err(),
            c.capacitor("bad", a, g, Farads(bad)).unwrap_err(),
            c.inductor("bad", a, g, Henries(bad)).unwrap_err(),
        ] {
            assert!(
                matches!(error.kind(), BuildErrorKind::OutOfRange { name, .. } if name == "bad"),
                "{error}"
            );
        }
    }
    assert!(c.capacitor("bad", a, g, Farads(f64::INFINITY)).is_err());
    assert!(c.inductor("bad", a, g, Henries(f64::INFINITY)).is_err());
    assert!(c.vcvs("bad", a, g, a, g, f64::INFINITY).is_err());
    assert!(c.vccs("bad", a, g, a, g, Siemens(f64::NAN)).is_err());
    let (l1, l2, l3) = (
        c.inductor("l1", a, g, Henries(1.0)).unwrap(),
        c.inductor("l2", a, g, Henries(1.0)).unwrap(),
        c.inductor("l3", a, g, Henries(1.0)).unwrap(),
    );
    assert!(c.couple(l1, l2, 1.0001).is_err());
    assert!(matches!(c.couple(l1, l1, 0.5).unwrap_err().kind(), BuildErrorKind::SelfCoupling { .. }));
    // A refused part leaves nothing behind.
    assert_eq!(l1.index(), 0);
    // Two coils that both hold the third cannot oppose each other.
    let k12 = c.couple(l1, l2, 0.9).unwrap();
    assert!(matches!(c.couple(l2, l1, 0.1).unwrap_err().kind(), BuildErrorKind::RepeatedCoupling { .. }));
    c.couple(l2, l3, 0.9).unwrap();
    c.couple(l1, l3, -0.9).unwrap();
    let error = Layout::ac(&c, &c.values(), &[]).unwrap_err();
    let SolveErrorKind::Coupling { inductors } = error.kind() else { panic!("{error}") };
    assert_eq!(names(inductors), ["l1", "l2", "l3"]);
    let mut values = c.values();
    values.set_coupling(k12, -0.9).unwrap();
    let layout = Layout::ac(&c, &values, &[]).unwrap();
    assert!(!layout.fits(&c.values()));
    assert!(values.set_coupling(k12, f64::NAN).is_err());
    assert_eq!(values.coupling(k12), -0.9);
}

#[test]
fn foreign_handles_are_typed_errors() {
    let mut c = Circuit::new();
    let (a, g) = (c.node("a"), c.ground());
    let e = c.voltage_source("e", a, g).unwrap();
    let mut d = c.clone();
    let late = d.resistor("late", a, g, Ohms(1.0)).unwrap();
    let mut other = Circuit::new();
    let far = other.node("far");
    let r = other.resistor("far", far, other.ground(), Ohms(1.0)).unwrap();
    let foreign_element = |error: SolveError| matches!(error.kind(), SolveErrorKind::ForeignElement { .. });
    assert!(matches!(
        c.resistor("r", a, far, Ohms(1.0)).unwrap_err().kind(),
        BuildErrorKind::ForeignNode { .. }
    ));
    assert!(matches!(
        c.ccvs("x", a, g, Branch::Resistor(r), Ohms(1.0)).unwrap_err().kind(),
        BuildErrorKind::ForeignElement { .. }
    ));
    let mut values = c.values();
    assert!(values.set_resistance(r, Ohms(1.0)).is_err());
    // Made after this copy was taken.
    assert!(values.set_resistance(late, Ohms(1.0)).is_err());
    assert!(values.resistance(r).0.is_nan());
    assert!(foreign_element(Layout::ac(&c, &values, &[Branch::Resistor(r)]).unwrap_err()));
    assert!(matches!(Layout::ac(&d, &values, &[]).unwrap_err().kind(), SolveErrorKind::ForeignValues));
    assert!(matches!(
        Layout::ac(&c, &other.values(), &[]).unwrap_err().kind(),
        SolveErrorKind::ForeignValues
    ));
    let mut w = Layout::ac(&c, &values, &[]).unwrap().workspace();
    assert!(matches!(
        w.factor(&other.values(), Hertz(1.0)).unwrap_err().kind(),
        SolveErrorKind::ForeignValues
    ));
    assert!(matches!(w.factor(&values, Hertz(0.0)).unwrap_err().kind(), SolveErrorKind::Frequency(_)));
    assert!(matches!(w.factor(&values, Hertz(f64::NAN)).unwrap_err().kind(), SolveErrorKind::Frequency(_)));
    let mut point = w.factor(&values, Hertz(1.0)).unwrap();
    assert!(matches!(point.impedance(a, far).unwrap_err().kind(), SolveErrorKind::ForeignNode { .. }));
    assert!(foreign_element(point.response(&one(e), Output::Current(Branch::Resistor(r))).unwrap_err()));
    let mut noise = Noise::thermal(&c, Kelvin(300.0));
    noise.silence(r);
    assert!(foreign_element(point.noise_density(&noise, Output::Voltage(a, g)).unwrap_err()));
    let nan = [(Source::Voltage(e), Complex64::new(f64::NAN, 0.0))];
    assert!(matches!(
        point.response(&nan, Output::Voltage(a, g)).unwrap_err().kind(),
        SolveErrorKind::Amplitude { .. }
    ));
}

#[test]
fn shared_objects_cross_threads() {
    fn shared<T: Send + Sync>() {}
    fn sent<T: Send>() {}
    shared::<Circuit>();
    shared::<Values>();
    shared::<Layout>();
    shared::<Noise>();
    shared::<SolveError>();
    sent::<Workspace>();
}

#[test]
fn values_of_a_copy_that_grew_apart_are_foreign() {
    let mut c = Circuit::new();
    let (a, g) = (c.node("a"), c.ground());
    c.resistor("first", a, g, Ohms(1e3)).unwrap();
    let mut d = c.clone();
    let mut same = c.clone();
    // As many elements as in the copy, of another kind; then of the same kind at another place.
    c.resistor("r", a, g, Ohms(2e3)).unwrap();
    d.capacitor("c", a, g, Farads(1e-6)).unwrap();
    let layout = Layout::ac(&c, &c.values(), &[]).unwrap();
    let foreign = |error: SolveError| assert_eq!(error.kind(), &SolveErrorKind::ForeignValues);
    assert!(!layout.fits(&d.values()));
    foreign(layout.workspace().factor(&d.values(), Hertz(1.0)).unwrap_err());
    foreign(Layout::ac(&c, &d.values(), &[]).unwrap_err());
    let mut moved = same.clone();
    let b = moved.node("b");
    moved.resistor("r", a, b, Ohms(2e3)).unwrap();
    assert!(!layout.fits(&moved.values()));
    assert_ne!(c.values(), moved.values());
    // Grown alike, they serve each other.
    same.resistor("r", a, g, Ohms(2e3)).unwrap();
    assert!(layout.fits(&same.values()));
    assert_eq!(c.values(), same.values());
}

#[test]
fn a_temperature_below_absolute_zero_or_not_finite_is_refused() {
    let mut c = Circuit::new();
    let (a, g) = (c.node("a"), c.ground());
    let r = c.resistor("r", a, g, Ohms(1e3)).unwrap();
    let (values, mut w) = ac(&c);
    let mut point = w.factor(&values, Hertz(1.0)).unwrap();
    let output = Output::Voltage(a, g);
    for bad in [f64::NAN, -300.0, f64::INFINITY] {
        let mut warm = Noise::thermal(&c, Kelvin(300.0));
        warm.warm(r, Kelvin(bad));
        for noise in [Noise::thermal(&c, Kelvin(bad)), warm] {
            let error = point.noise_density(&noise, output).unwrap_err();
            assert!(matches!(error.kind(), SolveErrorKind::Temperature(t) if t.to_bits() == bad.to_bits()));
            assert!(point.sweep_point(&[], output, &noise, &mut Vec::new()).is_err());
        }
    }
    assert_eq!(point.noise_density(&Noise::thermal(&c, Kelvin(0.0)), output).unwrap(), Outcome::Known(0.0));
}

#[test]
fn amplitudes_whose_answer_leaves_the_range_are_typed_errors() {
    let mut c = Circuit::new();
    let (a, g) = (c.node("a"), c.ground());
    let r = c.resistor("r", a, g, Ohms(1e3)).unwrap();
    c.capacitor("c", a, g, Farads(1e-7)).unwrap();
    let i = c.current_source("i", g, a).unwrap();
    let (values, mut w) = ac(&c);
    let mut point = w.factor(&values, Hertz(1e3)).unwrap();
    let (source, output) = (Source::Current(i), Output::Voltage(a, g));
    let range = |error: SolveError| {
        assert!(matches!(error.kind(), SolveErrorKind::Range { .. }), "{error}");
        assert_eq!(error.to_string(), "numbers leave the floating-point range at 1e3 Hz");
    };
    let (huge, silent) = (Complex64::new(1e308, 0.0), Noise::thermal(&c, Kelvin(0.0)));
    for drive in [vec![(source, Complex64::new(1e308, -1e308))], vec![(source, huge), (source, -huge)]] {
        range(point.response(&drive, output).unwrap_err());
        range(point.response_and_slope(&drive, output).unwrap_err());
        range(point.sweep_point(&drive, output, &silent, &mut Vec::new()).unwrap_err());
    }
    let mut noise = silent.clone();
    noise.add(source, 1e308);
    range(point.noise_density(&noise, output).unwrap_err());
    range(point.sweep_point(&[], output, &noise, &mut Vec::new()).unwrap_err());
    let mut warm = silent;
    warm.warm(r, Kelvin(f64::MAX));
    assert!(point.noise_density(&warm, output).unwrap().known().is_some_and(f64::is_finite));
}
