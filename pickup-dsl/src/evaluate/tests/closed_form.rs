//! Networks small enough to be written down.

use crate::evaluate::Evaluator;
use crate::figures::{Cancelling, OutletFigures, PositionFigures, Why};
use crate::harness::Harness;
use crate::network::bench::{Bench, Loss, wire};
use crate::network::{Knobs, Network};
use crate::positions::position_of;

/// Figures of the rest position.
fn rest(harness: &Harness) -> PositionFigures {
    let network = Network::of(harness).unwrap();
    let evaluator = Evaluator::new(harness, &network).unwrap();
    let position = position_of(harness, &Vec::new());
    evaluator.figures(&position, &Knobs::default()).unwrap()
}

fn only(harness: &Harness) -> OutletFigures {
    rest(harness).outlets.remove(0)
}

fn close(found: Result<f64, Why>, expected: f64, tolerance: f64) {
    let found = found.unwrap();
    assert!((found - expected).abs() <= tolerance, "{found} instead of {expected}");
}

/// One coil of 5,000 turns, its cable of so many farads, an amp of so many ohms.
fn loaded(ohms: f64, henries: f64, farads: f64, amp: f64) -> Harness {
    let mut bench = Bench::new();
    bench.pickup("lead", &[wire("", ohms, henries)], &[]);
    bench.wire(&["out.tip", "lead.start"]);
    bench.wire(&["out.sleeve", "lead.finish"]);
    let cable = bench.lead("cable", farads, None, true);
    bench.plug(&[cable], amp);
    bench.harness
}

/// H = 1/[(1 + R/Rp) − ω²LC + jω(L/Rp + RC)] for 2.5 H, 6 kΩ, 500 pF; f0, Q, peak and height from the closed form
/// ω0 = √((1 + R/Rp)/LC), peak at ω0·√(1 − 1/2Q²), Q/√(1 − 1/4Q²)/(1 + R/Rp) high (any text on second-order low-pass filters).
#[test]
fn loaded_pickup() {
    let (r, l, c) = (6000.0, 2.5, 500e-12);
    let table = [
        (62.5e3, 2687.4, -0.311),
        (125e3, 4116.9, 3.993),
        (250e3, 4402.4, 8.733),
        (500e3, 4470.9, 12.911),
        (1e6, 4487.8, 16.162),
    ];
    for (amp, peak, height) in table {
        let figures = only(&loaded(r, l, c, amp));
        let w0 = ((1.0 + r / amp) / (l * c)).sqrt();
        let q = (l * c * (1.0 + r / amp)).sqrt() / (l / amp + r * c);
        let exact = w0 * (1.0 - 0.5 / (q * q)).sqrt() / std::f64::consts::TAU;
        let top = q / (1.0 - 0.25 / (q * q)).sqrt() / (1.0 + r / amp);
        let resonance = figures.the_resonance().unwrap();
        close(Ok(resonance.frequency), exact, 1e-9 * exact);
        close(Ok(resonance.frequency), peak, 0.06);
        close(Ok(resonance.magnitude), 20.0 * libm::log10(top), 1e-9);
        close(Ok(resonance.magnitude), height, 6e-4);
        assert_eq!(figures.resonances.len(), 1);
        let h100 = {
            let w = std::f64::consts::TAU * 100.0;
            let (re, im) = (1.0 + r / amp - w * w * l * c, w * (l / amp + r * c));
            -10.0 * libm::log10(re * re + im * im)
        };
        close(figures.plateau, h100, 1e-11);
        close(figures.height, resonance.magnitude - h100, 1e-11);
    }
}

/// Its half-power width by solving |H|² = top²/2 as a quadratic in ω².
#[test]
fn sharpness_of_the_loaded_pickup() {
    let (r, l, c, amp) = (6000.0, 2.5, 500e-12, 500e3);
    let figures = only(&loaded(r, l, c, amp));
    // |1/H|² = (a − bx)² + dx with x = ω².
    let (a, b, d) = (1.0 + r / amp, l * c, (l / amp + r * c) * (l / amp + r * c));
    let least = a * d / b - d * d / (4.0 * b * b);
    let (p, q) = ((d - 2.0 * a * b) / (b * b), (a * a - 2.0 * least) / (b * b));
    let root = (0.25 * p * p - q).sqrt();
    let (below, above) = ((-0.5 * p - root).sqrt(), (-0.5 * p + root).sqrt());
    let peak = (-0.5 * p).sqrt();
    close(figures.q(), peak / (above - below), 1e-9);
}

/// A coil with 1/√2 for Q and no resistance falls by 3.0103 dB at f0 exactly: Butterworth, second order.
#[test]
fn butterworth_corner() {
    let (l, amp) = (8.0_f64, 100e3_f64);
    let c = l / (2.0 * amp * amp);
    let f0 = 1.0 / (std::f64::consts::TAU * (l * c).sqrt());
    let figures = only(&loaded(0.0, l, c, amp));
    let plateau = 100.0 / f0;
    // The plateau is at 100 Hz, not at 0: |H|² = 1/(1 + x⁴), half of it where 1 + x⁴ doubles.
    let doubled = 2.0 * (1.0 + plateau.powi(4)) - 1.0;
    close(figures.corner, f0 * doubled.powf(0.25), 1e-9 * f0);
    assert_eq!(figures.corner, figures.last_corner);
    assert_eq!(figures.resonance, Err(Why::None));
    close(figures.plateau, -10.0 * libm::log10(1.0 + plateau.powi(4)), 1e-11);
}

/// A flat response has its own level in every band: R1 and R2 as a divider.
#[test]
fn levels_of_a_flat_response() {
    let figures = only(&loaded(10e3, 0.0, 0.0, 40e3));
    let db = 20.0 * libm::log10(0.8);
    for level in [figures.level, figures.string_level] {
        close(level.coherent, db, 1e-12);
        close(level.powers, db, 1e-12);
        assert_eq!(level.shown_re, Ok(0.0));
    }
    close(figures.brightness.shown, 0.0, 1e-12);
    assert_eq!(figures.corner, Err(Why::None));
    assert_eq!(figures.resonance, Err(Why::None));
}

/// |H|² = 1/(1 + x²), x = f/fc: ∫ d ln f/(1 + x²) = ½ ln(x²/(1 + x²)); with 1/f: ∫ dx/(x²(1 + x²)) = −1/x − atan x.
#[test]
fn levels_of_a_low_pass() {
    let (r, c) = (50e3, 2e-9);
    let figures = only(&loaded(r, 0.0, c, 1e15));
    let fc = 1.0 / (std::f64::consts::TAU * r * c);
    let mean = |lo: f64, hi: f64| {
        let at = |f: f64| 0.5 * libm::log((f / fc) * (f / fc) / (1.0 + (f / fc) * (f / fc)));
        (at(hi) - at(lo)) / libm::log(hi / lo)
    };
    close(figures.level.coherent, 10.0 * libm::log10(mean(80.0, 6e3)), 1e-8);
    let bright = 10.0 * libm::log10(mean(2e3, 6e3) / mean(80.0, 800.0));
    close(figures.brightness.coherent, bright, 1e-8);
    let at = |f: f64| -fc / f - libm::atan(f / fc);
    let weighted = (at(6e3) - at(80.0)) / fc / (1.0 / 80.0 - 1.0 / 6e3);
    close(figures.string_level.coherent, 10.0 * libm::log10(weighted), 1e-8);
    close(figures.corner, fc * (1.0 + 2.0 * (100.0 / fc) * (100.0 / fc)).sqrt(), 1e-6);
}

/// 4kTR across R ∥ C: ∫ 4kTR/(1 + x²) df = 4kTR·fc·(atan x) (Johnson, Nyquist 1928; the whole integral is kT/C).
#[test]
fn noise_of_a_low_pass() {
    let (r, c) = (100e3, 500e-12);
    let figures = only(&loaded(r, 0.0, c, 1e15));
    let power = 4.0 * 1.380649e-23 * 293.15 * r;
    let fc = 1.0 / (std::f64::consts::TAU * r * c);
    let at = |f: f64| libm::atan(f / fc);
    let flat = (power * fc * (at(20e3) - at(20.0))).sqrt();
    close(figures.noise.flat, flat, 1e-9 * flat);
    let density = (power / (1.0 + (1000.0 / fc) * (1000.0 / fc))).sqrt();
    close(figures.noise.density_1k, density, 1e-9 * density);
}

/// What the meter reads, and what the jack shows: R + jωL ∥ nothing.
#[test]
fn meter_and_impedance_of_a_coil() {
    let figures = rest(&loaded(6000.0, 2.5, 500e-12, 1e6));
    let meter = figures.meter[0];
    close(meter.at_rest.ohms, 6000.0, 1e-9);
    assert!(meter.at_rest.coil_readable);
    let outlet = &figures.outlets[0];
    close(outlet.lcr.at_120, 2.5, 1e-12);
    close(outlet.lcr.at_1k, 2.5, 1e-12);
    let z = |f: f64| libm::hypot(6000.0, std::f64::consts::TAU * f * 2.5);
    close(outlet.impedance.at_100, z(100.0), 1e-8);
    close(outlet.impedance.max, z(20e3), 1e-7);
    assert_eq!(outlet.impedance.max_at, Ok(20e3));
    assert!(outlet.impedance.at_band_edge);
}

/// Two coils with reversed windings in series cancel their hum and add their signals; a shorted one says so.
#[test]
fn two_coils() {
    let mut bench = Bench::new();
    let mut screw = wire("screw", 4000.0, 2.0);
    screw.wound = -1.0;
    screw.loss = Loss::Shunt(300e3);
    let slug = wire("slug", 4000.0, 2.0);
    let neck = bench.pickup("neck", &[slug, screw], &[(0, 1, 0.2)]);
    let crate::harness::PartKind::Pickup(pickup) = &mut bench.harness.parts[neck.0 as usize].kind else {
        unreachable!()
    };
    pickup.coils[1].pole = -1.0;
    bench.wire(&["out.tip", "neck.slug.start"]);
    bench.wire(&["neck.slug.finish", "neck.screw.start"]);
    bench.wire(&["out.sleeve", "neck.screw.finish"]);
    let cable = bench.lead("cable", 500e-12, None, true);
    bench.plug(&[cable], 1e6);
    let figures = only(&bench.harness);
    assert_eq!(figures.coils[0].in_series_with, [1]);
    assert_eq!(figures.coils[1].in_series_with, [0]);
    assert_eq!(figures.hum.cancelling, Err(Why::Silent));
    assert_eq!(figures.hum.verdict, Some(Cancelling::Cancels));
    assert_eq!(figures.signal_over_hum.value, Err(Why::Silent));
    assert!(figures.signal_over_hum.no_hum);
    assert_eq!(crate::figures::words::words(&figures), "slug + screw in series");
}
