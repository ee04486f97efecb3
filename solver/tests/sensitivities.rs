//! Sensitivities against finite differences at 50 digits (`reference/sensitivities.py`, mpmath) and against closed forms.
#![allow(
    missing_docs,
    clippy::disallowed_methods,
    reason = "a test target: bits need not be equal everywhere"
)]

use std::collections::BTreeMap;

use num_complex::Complex64;
use solver::{
    Branch, Circuit, Element, Farads, Gain, Henries, Hertz, Layout, Node, NotSmooth, Ohms, Outcome, Output,
    Response, Siemens, SolveErrorKind, Source, Values, VoltageSource, Workspace,
};

const TAU: f64 = std::f64::consts::TAU;

fn close(found: Complex64, wanted: Complex64, tolerance: f64, what: &str) {
    assert!((found - wanted).norm() <= tolerance * wanted.norm(), "{what}: {found} against {wanted}");
}

/// The network of the script: circuit, generator, output and a node inside, elements by name.
fn everything() -> (Circuit, VoltageSource, [Node; 2], BTreeMap<&'static str, Element>) {
    let mut c = Circuit::new();
    let n: Vec<Node> = (0..10).map(|i| if i == 0 { c.ground() } else { c.node(format!("n{i}")) }).collect();
    let mut by_name: BTreeMap<&'static str, Element> = BTreeMap::new();
    let generator = c.voltage_source("generator", n[1], n[0]).unwrap();
    let mut small = None;
    for (name, a, b, r) in [
        ("r1", 1, 2, 1e3),
        ("r2", 3, 4, 2.2e3),
        ("small", 4, 5, 3.0),
        ("r3", 7, 6, 5.6e3),
        ("r4", 8, 6, 1e4),
        ("load", 9, 0, 1e3),
    ] {
        let r = c.resistor(name, n[a], n[b], Ohms(r)).unwrap();
        by_name.insert(name, r.into());
        if name == "small" {
            small = Some(r);
        }
    }
    for (name, a, f) in [("c1", 3, 1e-7), ("c2", 5, 4.7e-8), ("c3", 6, 3.3e-9)] {
        by_name.insert(name, c.capacitor(name, n[a], n[0], Farads(f)).unwrap().into());
    }
    let l1 = c.inductor("l1", n[2], n[3], Henries(0.1)).unwrap();
    let l2 = c.inductor("l2", n[4], n[0], Henries(0.2)).unwrap();
    by_name.insert("l1", l1.into());
    by_name.insert("l2", l2.into());
    by_name.insert("k", c.couple(l1, l2, 0.6).unwrap().into());
    by_name.insert("e", c.vcvs("e", n[7], n[0], n[5], n[0], 1.7).unwrap().into());
    by_name.insert("g", c.vccs("g", n[6], n[0], n[3], n[0], Siemens(1e-4)).unwrap().into());
    by_name.insert("h", c.ccvs("h", n[8], n[0], Branch::Inductor(l2), Ohms(300.0)).unwrap().into());
    by_name.insert("f", c.cccs("f", n[6], n[0], Branch::Resistor(small.unwrap()), 0.4).unwrap().into());
    by_name.insert("t", c.transformer("t", n[6], n[0], n[9], n[0], 2.5).unwrap().into());
    (c, generator, [n[6], n[3]], by_name)
}

fn reference() -> Vec<(&'static str, &'static str, f64, f64)> {
    let lines = include_str!("reference/sensitivities.csv").lines().skip(1);
    lines
        .map(|line| {
            let cells: Vec<&str> = line.split(',').collect();
            (cells[0], cells[1], cells[2].parse().unwrap(), cells[3].parse().unwrap())
        })
        .collect()
}

#[test]
fn every_kind_of_element_agrees_with_finite_differences_at_fifty_digits() {
    let (c, generator, [out, middle], by_name) = everything();
    let values = c.values();
    let mut w = Layout::ac(&c, &values, &[]).unwrap().workspace();
    let mut point = w.factor(&values, Hertz(1234.5)).unwrap();
    let drive = [(Source::Voltage(generator), Complex64::ONE)];
    let mut found = BTreeMap::new();
    for (title, of) in [
        ("transfer", Response::Transfer(&drive, Output::Voltage(out, c.ground()))),
        ("impedance", Response::Impedance(middle, c.ground())),
    ] {
        found.insert(title, point.sensitivities(of).unwrap().known().unwrap());
    }
    let mut checked = 0;
    for (title, element, re, im) in reference() {
        let Some(all) = found.get(title) else { continue };
        let wanted = Complex64::new(re, im);
        if element.is_empty() {
            close(all.response, wanted, 1e-12, title);
            continue;
        }
        let one = all.of(by_name[element]).unwrap();
        close(one.derivative.unwrap(), wanted, 1e-11, element);
        close(one.relative.unwrap(), wanted * one.value / all.response, 1e-11, element);
        checked += 1;
    }
    assert_eq!(checked, 2 * by_name.len());
    assert_eq!(found["transfer"].list().len(), by_name.len());
}

#[test]
fn a_peak_moves_as_it_does_at_fifty_digits() {
    let (c, generator, [out, _], by_name) = everything();
    let values = c.values();
    let mut w = Layout::ac(&c, &values, &[]).unwrap().workspace();
    let drive = [(Source::Voltage(generator), Complex64::ONE)];
    let of = Response::Transfer(&drive, Output::Voltage(out, c.ground()));
    let rows: Vec<_> = reference().into_iter().filter(|row| row.0 == "peak").collect();
    let (frequency, height) = (rows[0].2, rows[0].3);
    let near = [Hertz(frequency * 1.02)];
    let peak = w.peak_sensitivities(&values, of, &near).unwrap().known().unwrap();
    assert!((peak.frequency.0 / frequency - 1.0).abs() < 1e-11, "{:?} against {frequency}", peak.frequency);
    assert!((peak.height / height - 1.0).abs() < 1e-12);
    for &(_, name, by_frequency, by_height) in &rows[1..] {
        let one = peak.list.iter().find(|one| one.element == by_name[name]).unwrap();
        for (found, wanted) in
            [(one.relative_frequency.unwrap(), by_frequency), (one.relative_height.unwrap(), by_height)]
        {
            assert!(
                (found - wanted).abs() <= 1e-9 * wanted.abs() + 1e-12,
                "{name}: {found} against {wanted}"
            );
        }
        let by_value = one.relative_frequency.unwrap() * peak.frequency.0 / one.value;
        assert!((one.frequency.unwrap() / by_value - 1.0).abs() < 1e-12);
        let by_value = one.relative_height.unwrap() * peak.height / one.value;
        assert!((one.height.unwrap() / by_value - 1.0).abs() < 1e-12);
    }
}

/// R and L in series into C, output at C; also tells the elements in the order R, L, C.
fn low_pass(r: f64, l: f64, f: f64) -> (Circuit, VoltageSource, Node) {
    let mut c = Circuit::new();
    let (a, m, b, g) = (c.node("a"), c.node("m"), c.node("b"), c.ground());
    let e = c.voltage_source("e", a, g).unwrap();
    c.resistor("r", a, m, Ohms(r)).unwrap();
    c.inductor("l", m, b, Henries(l)).unwrap();
    c.capacitor("c", b, g, Farads(f)).unwrap();
    (c, e, b)
}

#[test]
fn a_series_resonance_moves_by_its_closed_form() {
    // |H|² = 1/((1 − ω²LC)² + (ωRC)²): ω² = 1/(LC) − R²/(2L²), and |H| there = 1/(ωp·RC) with ωp² = 1/(LC) − R²/(4L²).
    let (r, l, f) = (50.0, 10e-3, 1e-6);
    let (c, e, b) = low_pass(r, l, f);
    let values = c.values();
    let mut w = Layout::ac(&c, &values, &[]).unwrap().workspace();
    let drive = [(Source::Voltage(e), Complex64::ONE)];
    let of = Response::Transfer(&drive, Output::Voltage(b, c.ground()));
    let peak = w.peak_sensitivities(&values, of, &[Hertz(1500.0)]).unwrap().known().unwrap();
    let (square, damped) = (1.0 / (l * f) - r * r / (2.0 * l * l), 1.0 / (l * f) - r * r / (4.0 * l * l));
    assert!((peak.frequency.0 * TAU / square.sqrt() - 1.0).abs() < 1e-12);
    assert!((peak.height * damped.sqrt() * r * f - 1.0).abs() < 1e-12);
    // d ln ω = d(ω²)/(2ω²); d ln|H| = −d(ωp²)/(2ωp²) − d ln(RC).
    let by_r = r * -(r / (l * l)) / (2.0 * square);
    let by_l = l * (-1.0 / (l * l * f) + r * r / (l * l * l)) / (2.0 * square);
    let by_c = f * (-1.0 / (l * f * f)) / (2.0 * square);
    let high_r = -r * -(r / (2.0 * l * l)) / (2.0 * damped) - 1.0;
    let high_l = -l * (-1.0 / (l * l * f) + r * r / (2.0 * l * l * l)) / (2.0 * damped);
    let high_c = -f * (-1.0 / (l * f * f)) / (2.0 * damped) - 1.0;
    // The list goes by kind: R, C, L.
    for (one, (place, height)) in peak.list.iter().zip([(by_r, high_r), (by_c, high_c), (by_l, high_l)]) {
        assert!((one.relative_frequency.unwrap() - place).abs() < 1e-11, "{one:?} against {place}");
        assert!((one.relative_height.unwrap() - height).abs() < 1e-11, "{one:?} against {height}");
    }
}

#[test]
fn a_maximally_flat_response_has_no_smooth_peak() {
    // R = √(2L/C): Butterworth, whose maximum lies at 0 with no curvature; and half of that R, which has a peak, for contrast.
    let (l, f) = (10e-3_f64, 1e-6_f64);
    let (c, e, b) = low_pass((2.0 * l / f).sqrt(), l, f);
    let mut values = c.values();
    let drive = [(Source::Voltage(e), Complex64::ONE)];
    let of = Response::Transfer(&drive, Output::Voltage(b, c.ground()));
    let mut w = Layout::ac(&c, &values, &[]).unwrap().workspace();
    let error = w.peak_sensitivities(&values, of, &[Hertz(1.0)]).unwrap_err();
    assert!(matches!(error.kind(), SolveErrorKind::NotSmooth { reason: NotSmooth::Flat, .. }), "{error}");
    // A first-order low-pass has no maximum at all.
    let Element::Resistor(r) = first_resistor(&mut w, &values, of) else { unreachable!() };
    values.set_resistance(r, Ohms(1e4)).unwrap();
    let error = w.peak_sensitivities(&values, of, &[Hertz(1500.0)]).unwrap_err();
    assert!(matches!(error.kind(), SolveErrorKind::NotSmooth { .. }), "{error}");
}

fn first_resistor(w: &mut Workspace, values: &Values, of: Response<'_>) -> Element {
    w.factor(values, Hertz(1.0)).unwrap().sensitivities(of).unwrap().known().unwrap().list()[0].element
}

#[test]
fn equal_peaks_are_tied() {
    // Two equal series circuits on one current: impedance of two parallel resonances in series, an octave apart and equally high.
    let mut c = Circuit::new();
    let (a, b, g) = (c.node("a"), c.node("b"), c.ground());
    for (p, m, l, f) in [(a, b, 10e-3, 1e-6), (b, g, 2.5e-3, 1e-6)] {
        c.inductor("l", p, m, Henries(l)).unwrap();
        c.capacitor("c", p, m, Farads(f)).unwrap();
    }
    c.resistor("r1", a, b, Ohms(1e4)).unwrap();
    let r2 = c.resistor("r2", b, g, Ohms(1e4)).unwrap();
    let mut values = c.values();
    let mut w = Layout::ac(&c, &values, &[]).unwrap().workspace();
    let of = Response::Impedance(a, g);
    let near = [10e-3_f64, 2.5e-3].map(|l| Hertz(1.0 / (TAU * (l * 1e-6).sqrt())));
    // The foot of each lifts the other a little: find the r2 that ties them by bisection on the heights.
    let height = |w: &mut Workspace, values: &Values, at: Hertz| {
        w.peak_sensitivities(values, of, &[at]).unwrap().known().unwrap().height
    };
    let (mut low, mut high) = (9e3, 11e3);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        values.set_resistance(r2, Ohms(middle)).unwrap();
        if height(&mut w, &values, near[1]) > height(&mut w, &values, near[0]) {
            high = middle;
        } else {
            low = middle;
        }
    }
    let error = w.peak_sensitivities(&values, of, &near).unwrap_err();
    let SolveErrorKind::NotSmooth { reason: NotSmooth::Tied { .. }, .. } = error.kind() else {
        panic!("{error}")
    };
    values.set_resistance(r2, Ohms(high * 1.001)).unwrap();
    let peak = w.peak_sensitivities(&values, of, &near).unwrap().known().unwrap();
    assert!((peak.frequency.0 / near[1].0 - 1.0).abs() < 1e-2);
    let sum: f64 = peak.list.iter().filter_map(|one| one.relative_frequency).sum();
    // Scaling every impedance moves no frequency: C counts against L and R. Here only L and C shift it, by −1/2 each.
    assert!((sum + 1.0).abs() < 1e-3, "{sum}");
}

#[test]
fn sums_over_kinds_are_those_of_scaling() {
    // Impedance scaling (R, L and 1/C together, gains in their units) leaves a voltage transfer alone, and multiplies an impedance:
    // Σ R·∂ + Σ L·∂ − Σ C·∂ + r·∂ − gm·∂ = 0 or 1 (Euler's theorem on homogeneous functions).
    let (c, generator, [out, middle], _) = everything();
    let values = c.values();
    let mut w = Layout::ac(&c, &values, &[]).unwrap().workspace();
    let drive = [(Source::Voltage(generator), Complex64::ONE)];
    for (of, wanted) in [
        (Response::Transfer(&drive, Output::Voltage(out, c.ground())), 0.0),
        (Response::Impedance(middle, c.ground()), 1.0),
    ] {
        for f in [3.0, 700.0, 40e3] {
            let all = w.factor(&values, Hertz(f)).unwrap().sensitivities(of).unwrap().known().unwrap();
            let degree = |element| match element {
                Element::Resistor(_) | Element::Inductor(_) | Element::Ccvs(_) => 1.0,
                Element::Capacitor(_) | Element::Vccs(_) => -1.0,
                _ => 0.0,
            };
            let sum: Complex64 =
                all.list().iter().map(|one| one.relative.unwrap() * degree(one.element)).sum();
            assert!((sum - wanted).norm() < 1e-11, "{f} Hz: {sum}");
        }
    }
}

#[test]
fn exact_limits_have_the_derivatives_that_exist() {
    let mut c = Circuit::new();
    let (a, b, d, g) = (c.node("a"), c.node("b"), c.node("d"), c.ground());
    let e = c.voltage_source("e", a, g).unwrap();
    let r = c.resistor("r", a, b, Ohms(100.0)).unwrap();
    let none = c.resistor("none", b, g, Ohms(f64::INFINITY)).unwrap();
    let absent = c.capacitor("absent", b, g, Farads(0.0)).unwrap();
    let merged = c.resistor("merged", b, d, Ohms(0.0)).unwrap();
    let shorted = c.inductor("shorted", b, d, Henries(0.0)).unwrap();
    let load = c.resistor("load", d, g, Ohms(300.0)).unwrap();
    let off = c.vcvs("off", c.ground(), g, b, g, 0.0);
    assert!(off.is_ok());
    let values = c.values();
    let drive = [(Source::Voltage(e), Complex64::ONE)];
    let of = Response::Transfer(&drive, Output::Voltage(d, g));
    let mut w = Layout::ac(&c, &values, &[]).unwrap().workspace();
    let all = w.factor(&values, Hertz(1e3)).unwrap().sensitivities(of).unwrap().known().unwrap();
    let at = |element: Element| all.of(element).unwrap().derivative;
    // H = R2/(R1 + R2).
    close(at(r.into()).unwrap(), Complex64::new(-300.0 / 160e3, 0.0), 1e-14, "r");
    close(at(load.into()).unwrap(), Complex64::new(100.0 / 160e3, 0.0), 1e-14, "load");
    assert_eq!(at(none.into()), Some(Complex64::ZERO));
    assert_eq!(at(merged.into()), None);
    assert_eq!(at(shorted.into()), None);
    // dH/dC at C = 0 is −jω·(R1‖R2)·H.
    close(at(absent.into()).unwrap(), Complex64::new(0.0, -TAU * 1e3 * 75.0 * 0.75), 1e-14, "absent");
    assert_eq!(all.of(off.unwrap()).unwrap().derivative, None);
    // A probed zero has a current, and so a derivative: here in series with R1 (the loop through the shorted coil opened).
    let mut c = Circuit::new();
    let (a, b, d, g) = (c.node("a"), c.node("b"), c.node("d"), c.ground());
    let e = c.voltage_source("e", a, g).unwrap();
    c.resistor("r", a, b, Ohms(100.0)).unwrap();
    let zero = c.resistor("zero", b, d, Ohms(0.0)).unwrap();
    c.resistor("load", d, g, Ohms(300.0)).unwrap();
    let values = c.values();
    let drive = [(Source::Voltage(e), Complex64::ONE)];
    let of = Response::Transfer(&drive, Output::Voltage(d, g));
    let mut w = Layout::ac(&c, &values, &[Branch::Resistor(zero)]).unwrap().workspace();
    let all = w.factor(&values, Hertz(1e3)).unwrap().sensitivities(of).unwrap().known().unwrap();
    close(all.of(zero).unwrap().derivative.unwrap(), Complex64::new(-300.0 / 160e3, 0.0), 1e-14, "zero");
}

#[test]
fn a_singular_network_has_the_derivatives_that_keep_it_solvable() {
    // Equal coils in parallel, fully coupled: the voltage is fixed, the sharing of the current is not. A change of one inductance alone
    // makes the coils fight (no solution stays near), k has no derivative on both sides either; the load's derivative stands.
    let mut c = Circuit::new();
    let (a, b, g) = (c.node("a"), c.node("b"), c.ground());
    let l1 = c.inductor("l1", b, g, Henries(2.0)).unwrap();
    let l2 = c.inductor("l2", b, g, Henries(2.0)).unwrap();
    c.couple(l1, l2, 1.0).unwrap();
    let e = c.voltage_source("e", a, g).unwrap();
    let r = c.resistor("r", a, b, Ohms(100.0)).unwrap();
    let mut values = c.values();
    let drive = [(Source::Voltage(e), Complex64::ONE)];
    let of = Response::Transfer(&drive, Output::Voltage(b, g));
    let mut w = Layout::ac(&c, &values, &[]).unwrap().workspace();
    let all = w.factor(&values, Hertz(10.0)).unwrap().sensitivities(of).unwrap().known().unwrap();
    // H = jX/(R + jX), dH/dR = −jX/(R + jX)².
    let x = Complex64::new(0.0, TAU * 10.0 * 2.0);
    close(all.of(r).unwrap().derivative.unwrap(), -x / ((100.0 + x) * (100.0 + x)), 1e-11, "r");
    assert_eq!(all.of(l1).unwrap().derivative, None);
    values.set_resistance(r, Ohms(200.0)).unwrap();
    let other = w.factor(&values, Hertz(10.0)).unwrap().sensitivities(of).unwrap().known().unwrap();
    assert_eq!(other.of(l2).unwrap().derivative, None);
}

#[test]
fn an_open_port_and_an_undetermined_output_have_none() {
    let mut c = Circuit::new();
    let (a, b, g) = (c.node("a"), c.node("b"), c.ground());
    let e = c.voltage_source("e", a, g).unwrap();
    let gain = c.vcvs("gain", b, g, a, g, 0.0).unwrap();
    let lone = c.node("lone");
    let mut values = c.values();
    values.set_gain(Gain::Vcvs(gain), 3.0).unwrap();
    let mut w = Layout::ac(&c, &values, &[]).unwrap().workspace();
    let mut point = w.factor(&values, Hertz(1.0)).unwrap();
    assert_eq!(point.sensitivities(Response::Impedance(lone, g)).unwrap(), Outcome::Undetermined);
    let drive = [(Source::Voltage(e), Complex64::ONE)];
    let of = Response::Transfer(&drive, Output::Voltage(b, lone));
    assert_eq!(point.sensitivities(of).unwrap(), Outcome::Undetermined);
    let of = Response::Transfer(&drive, Output::Voltage(b, g));
    let all = point.sensitivities(of).unwrap().known().unwrap();
    assert_eq!(all.of(gain).unwrap().derivative, Some(Complex64::ONE));
    assert_eq!(all.of(gain).unwrap().relative, Some(Complex64::ONE));
}
