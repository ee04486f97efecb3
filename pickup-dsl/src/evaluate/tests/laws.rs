//! What must hold for every harness.

use proptest::prelude::{ProptestConfig, prop_assert, proptest};

use super::{all, harness, outlets};
use crate::evaluate::{Detail, Evaluator};
use crate::figures::OutletFigures;
use crate::harness::{CoreLoss, Harness, PartKind};
use crate::network::{Knobs, Network};
use crate::positions::position_of;

/// One coil with volume and tone control.
const GUITAR: &str = "coil lead 6k4 2.7H 110pF, loss 320k\npot volume 1M audio, role volume\npot tone 1M audio\ncapacitor C1 22nF\n\
     cable 500pF\namp 1M\nwire lead.start to volume.3 to tone.1\nwire tone.2 to C1.1\nwire volume.2 to out.tip\n\
     wire out.sleeve to (volume.1, C1.2, lead.finish)";

/// Every energy store `by` times as large: the network is the same at 1/`by` of every frequency.
fn slower(harness: &mut Harness, by: f64) {
    for part in &mut harness.parts {
        match &mut part.kind {
            PartKind::Pickup(pickup) => {
                for coil in &mut pickup.coils {
                    coil.inductance.value *= by;
                    coil.capacitance.value *= by;
                }
            }
            PartKind::Capacitor(farads, _) => farads.value *= by,
            PartKind::Lead(lead) => lead.capacitance.value *= by,
            _ => {}
        }
    }
}

fn only(harness: &Harness) -> OutletFigures {
    all(harness).remove(0).outlets.remove(0)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// Twice the turns' voltage is twice everything that is a voltage, and nothing else.
    #[test]
    fn stronger_coils_are_louder(by in 0.1..10.0f64) {
        let plain = harness(GUITAR);
        let mut strong = plain.clone();
        for part in &mut strong.parts {
            if let PartKind::Pickup(pickup) = &mut part.kind {
                pickup.coils[0].strength *= by;
                pickup.coils[0].hum_area *= by;
            }
        }
        let (a, b) = (only(&plain), only(&strong));
        let db = 20.0 * libm::log10(by);
        let pairs = [
            (a.plateau, b.plateau),
            (a.level.shown, b.level.shown),
            (a.string_level.powers, b.string_level.powers),
            (a.hum.fundamental, b.hum.fundamental),
            (a.hum.buzz, b.hum.buzz),
        ];
        for (a, b) in pairs {
            prop_assert!((b.unwrap() - a.unwrap() - db).abs() < 1e-10);
        }
        for (a, b) in [(a.height, b.height), (a.brightness.shown, b.brightness.shown), (a.q(), b.q())] {
            prop_assert!((b.unwrap() - a.unwrap()).abs() < 1e-10);
        }
        prop_assert!((a.noise.flat.unwrap() / b.noise.flat.unwrap() - 1.0).abs() < 1e-12);
        prop_assert!((a.resonance_frequency().unwrap() / b.resonance_frequency().unwrap() - 1.0).abs() < 1e-12);
    }

    /// Frequency scaling (any text on filter synthesis).
    #[test]
    fn slower_parts_move_the_resonance(by in 0.5..2.0f64) {
        let plain = harness(GUITAR);
        let mut slow = plain.clone();
        slower(&mut slow, by);
        let (a, b) = (only(&plain), only(&slow));
        let ratio = a.resonance_frequency().unwrap() / b.resonance_frequency().unwrap();
        prop_assert!((ratio / by - 1.0).abs() < 1e-11, "{}", ratio);
        prop_assert!((a.q().unwrap() / b.q().unwrap() - 1.0).abs() < 1e-10);
        let peak = |f: &OutletFigures| f.the_resonance().unwrap().magnitude;
        prop_assert!((peak(&a) - peak(&b)).abs() < 1e-10);
        prop_assert!((a.impedance.max.unwrap() / b.impedance.max.unwrap() - 1.0).abs() < 1e-11);
    }

    /// The peak is what `curves` shows there, and no frequency nearby is louder.
    #[test]
    fn the_peak_is_the_top(dcr in 3e3..12e3f64, henries in 1.0..6.0f64, amp in 2e5..5e6f64) {
        let mut harness = harness(GUITAR);
        for part in &mut harness.parts {
            match &mut part.kind {
                PartKind::Pickup(pickup) => {
                    let coil = &mut pickup.coils[0];
                    (coil.dcr.value, coil.inductance.value) = (dcr, henries);
                    coil.loss = CoreLoss::None;
                }
                PartKind::Amp(input) => input.resistance.value = amp,
                _ => {}
            }
        }
        let network = Network::of(&harness).unwrap();
        let evaluator = Evaluator::new(&harness, &network).unwrap();
        let rest = position_of(&harness, &Vec::new());
        let figures = evaluator.figures(&rest, &Knobs::default()).unwrap();
        let peak = figures.outlets[0].the_resonance().unwrap();
        let f = [peak.frequency, peak.frequency * 0.9999, peak.frequency * 1.0001];
        let curves = evaluator.curves(&rest, &Knobs::default(), &f, Detail::Response).unwrap();
        let db: Vec<f64> = curves.outlets[0]
            .response
            .iter()
            .map(|h| 10.0 * libm::log10(h.unwrap().norm_sqr()))
            .collect();
        prop_assert!((db[0] - peak.magnitude).abs() < 1e-11);
        prop_assert!(db[1] < db[0] && db[2] < db[0]);
    }
}

/// 4kT·Re Z_out at every frequency, for any passive network at one temperature (Nyquist, Phys. Rev. 32, 110, 1928). The amp's own
/// resistance makes no noise here, so that it is made nearly infinite.
#[test]
fn noise_is_that_of_the_real_part() {
    let text = GUITAR.replace("cable 500pF", "cable none").replace("amp 1M", "amp 1000000M");
    let harness = harness(&text);
    let network = Network::of(&harness).unwrap();
    let evaluator = Evaluator::new(&harness, &network).unwrap();
    let rest = position_of(&harness, &Vec::new());
    let curves =
        evaluator.curves(&rest, &Knobs::default(), &[50.0, 1000.0, 4000.0, 15000.0], Detail::All).unwrap();
    let outlet = &curves.outlets[0];
    for (noise, z) in outlet.noise.iter().zip(&outlet.impedance) {
        let expected = (4.0 * 1.380649e-23 * 293.15 * z.unwrap().re).sqrt();
        assert!((noise.unwrap() / expected - 1.0).abs() < 1e-6);
    }
}

/// Less asked for is less computed, not something else.
#[test]
fn the_response_is_the_same_with_and_without_the_rest() {
    let harness = harness(GUITAR);
    let network = Network::of(&harness).unwrap();
    let evaluator = Evaluator::new(&harness, &network).unwrap();
    let rest = position_of(&harness, &Vec::new());
    let of = |detail| {
        evaluator.curves(&rest, &Knobs::default(), &[30.0, 3000.0], detail).unwrap().outlets.remove(0)
    };
    let (all, response) = (of(Detail::All), of(Detail::Response));
    assert_eq!((&all.response, &all.sections), (&response.response, &response.sections));
    assert_eq!([all.hum.len(), all.impedance.len(), all.noise.len()], [2; 3]);
    assert_eq!([response.hum.len(), response.impedance.len(), response.noise.len()], [0; 3]);
    let reference = evaluator.reference_curves(&[30.0, 3000.0], Detail::All).unwrap();
    assert_eq!(reference.outlets, [all]);
    assert_eq!(
        (evaluator.reference().position.key.as_str(), evaluator.reference().another_file),
        ("rest", false)
    );
}

/// The reference stands against itself at exactly 0, and every position is as loud as itself.
#[test]
fn the_reference_is_zero_against_itself() {
    let figures = only(&harness(GUITAR));
    for level in [figures.level, figures.string_level, figures.brightness] {
        assert_eq!([level.coherent_re, level.powers_re, level.shown_re], [Ok(0.0); 3]);
    }
    assert_eq!(figures.hum.fundamental_re, Ok(0.0));
    assert_eq!(figures.signal_over_hum.value, Ok(0.0));
    assert_eq!(figures.height_re, figures.height);
}

/// Two pickups that hear the string at different places: as powers, two equal ones give 3.01 dB over one; as voltages 6.02.
#[test]
fn powers_of_two_pickups() {
    let series = "coil a 6k 0.5H\ncoil b 6k 0.5H\ncable none\namp 1000000M\nwire out.tip to a.start\n\
                  wire a.finish to b.start\nwire b.finish to out.sleeve\n";
    let both = &outlets(series)[0];
    let alone = &outlets(
        "coil a 6k 0.5H\ncable none\namp 1000000M\nwire out.tip to a.start\nwire a.finish to out.sleeve\n",
    )[0];
    assert!(both.several_sound && !alone.several_sound);
    let over = |f: fn(&OutletFigures) -> f64| f(both) - f(alone);
    assert!((over(|f| f.level.coherent.unwrap()) - 20.0 * libm::log10(2.0)).abs() < 1e-4);
    assert!((over(|f| f.level.shown.unwrap()) - 10.0 * libm::log10(2.0)).abs() < 1e-4);
    // Halves for three strings each, in one pickup: each string is heard by one coil, so that powers are those of one coil.
    let halves = "pickup p {\n coil a 6k 0.5H, hears (1 2 3)\n coil b 6k 0.5H, hears (4 5 6)\n coupling 0\n}\ncable none\n\
                  amp 1000000M\nwire out.tip to p.a.start\nwire p.a.finish to p.b.start\nwire p.b.finish to out.sleeve\n";
    let halves = &outlets(halves)[0];
    assert!(halves.several_sound && halves.no_string_drives);
    assert!((halves.level.shown.unwrap() - alone.level.shown.unwrap()).abs() < 1e-4);
}

#[test]
fn may_be_shared_by_threads() {
    fn shared<T: Send + Sync>() {}
    shared::<Evaluator<'_>>();
}
