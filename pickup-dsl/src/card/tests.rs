//! The card against closed forms: what is in series adds, what is parallel adds in siemens, copper rises by 0.393 % a kelvin (IEC 60028).

use super::{Card, Conditions, Swing, Tap, Test, card, tells};
use crate::evaluate::Evaluator;
use crate::figures::Cancelling;
use crate::network::{Knobs, Network};
use crate::positions::{Wanted, positions};
use crate::resolve::{NoFiles, compile};

fn of(text: &str, conditions: Conditions) -> Card {
    let compiled = compile("test", &format!("coilwright 1\n{text}"), &NoFiles);
    let harness = compiled.harness.unwrap_or_else(|| panic!("{:#?}", compiled.diagnostics));
    let network = Network::of(&harness).unwrap();
    let evaluator = Evaluator::new(&harness, &network).unwrap();
    let positions = positions(&harness, Wanted::default()).unwrap();
    let figures: Vec<_> =
        positions.iter().map(|p| evaluator.figures(p, &Knobs::default()).unwrap()).collect();
    card(&evaluator, &positions, &figures, conditions).unwrap()
}

const SPLIT: &str = "pickup p {\n coil a 4k 2.2H, swing up, pole south\n coil b 4.2k 2.3H, swing up, pole north\n}\n\
    switch pull is push-pull\npot volume 500k 10% audio, role volume\npot tone 250k linear, role tone\ncapacitor C1 22nF\njack out\ncable 500pF\namp 1M\n\
    wire p.a.start to volume.3 to tone.1\nwire tone.2 to C1.1\nwire C1.2 to out.sleeve\nwire p.a.finish to p.b.start to pull.A.common\n\
    wire pull.A.up to R1.1\nresistor R1 2.2k\nwire R1.2 to p.b.finish to out.sleeve to volume.1\nwire volume.2 to out.tip";

fn parallel(a: f64, b: f64) -> f64 {
    a * b / (a + b)
}

#[test]
fn a_reading_and_its_band_are_ohms_law() {
    let conditions = Conditions { celsius: 25.0, spread: 4.0, meter: 0.02 };
    let card = of(SPLIT, conditions);
    let copper = |celsius: f64| 1.0 + 0.00393 * (celsius - 20.0);
    let full = |coils: f64, track: f64| parallel(coils * 8200.0, track * 500e3);
    let partial = |coils: f64, track: f64, drawn: f64| {
        parallel(coils * 4000.0 + parallel(coils * 4200.0, drawn * 2200.0), track * 500e3)
    };
    let near = |found: Result<f64, _>, expected: f64| {
        let found = found.unwrap();
        assert!((found / expected - 1.0).abs() < 1e-12, "{found} {expected}");
    };
    let [down, up] = [&card.positions[0].readings[0].at_rest, &card.positions[1].readings[0].at_rest];
    near(down.nominal, full(copper(25.0), 1.0));
    near(down.low, full(0.93 * copper(21.0), 0.9) * 0.98);
    near(down.high, full(1.07 * copper(29.0), 1.1) * 1.02);
    near(up.nominal, partial(copper(25.0), 1.0, 1.0));
    near(up.low, partial(0.93 * copper(21.0), 0.9, 0.99) * 0.98);
    near(up.high, partial(1.07 * copper(29.0), 1.1, 1.01) * 1.02);
    assert!(down.coil_readable);
    for entry in &card.positions {
        assert_eq!(entry.readings[0].volumes_at_zero.nominal, Ok(0.0));
        assert!(entry.moved.is_empty(), "the capacitor keeps the tone from the meter");
    }
}

#[test]
fn taps_swings_and_hum_of_a_partial_split() {
    let card = of(SPLIT, Conditions::default());
    let [down, up] = [&card.positions[0].outlets[0], &card.positions[1].outlets[0]];
    let taps = |tests: &super::OutletTests| tests.coils.iter().map(|c| c.tap).collect::<Vec<_>>();
    let swings = |tests: &super::OutletTests| tests.coils.iter().map(|c| c.swing).collect::<Vec<_>>();
    assert_eq!(taps(down), [Tap::Loud, Tap::Loud]);
    // At 1 kHz b's own 4.2 kΩ + j 14.5 kΩ against 2.2 kΩ leave a seventh of it: −17 dB.
    assert_eq!(taps(up), [Tap::Loud, Tap::Faint]);
    assert_eq!(swings(down), [Swing::Same, Swing::Same]);
    assert_eq!([down.hum, up.hum], [Some(Cancelling::Cancels), Some(Cancelling::No)]);
    assert_eq!(tells(&card.positions[0], &card.positions[1]), [Test::Meter, Test::Tap, Test::Hum]);
    let down = &card.positions[0].volumes[0];
    assert_eq!((down.silenced.len(), down.left.len()), (1, 0));
}

#[test]
fn a_coil_turned_round_swings_the_other_way_and_a_capacitor_hides_it() {
    let pair = |second: &str| {
        format!(
            "coil a 4k 2.2H, swing up, pole south\ncoil b 4k 2.2H, swing up, pole north\njack out\ncable 500pF\namp 1M\n\
             wire a.start to out.tip\nwire a.finish to b.{second}"
        )
    };
    let turned = of(&(pair("finish") + "\nwire b.start to out.sleeve"), Conditions::default());
    let swings: Vec<_> = turned.positions[0].outlets[0].coils.iter().map(|c| (c.swing, c.sign)).collect();
    assert_eq!(swings, [(Swing::Same, 1), (Swing::Opposite, -1)]);
    let hidden = of(
        &(pair("start") + "\ncapacitor C1 22nF\nwire b.finish to C1.1\nwire C1.2 to out.sleeve"),
        Conditions::default(),
    );
    assert!(!hidden.positions[0].outlets[0].swing_readable);
    assert!(hidden.positions[0].readings[0].at_rest.nominal.is_err());
}

#[test]
fn two_volumes_may_silence_each_other() {
    let guitar = |to: &str, from: &str| {
        format!(
            "coil a 6k 2.4H\ncoil b 7k 2.6H\njack out\ncable 500pF\namp 1M\npot va 500k audio, role volume\npot vb 500k audio, role volume\n\
             wire a.start to va.{to}\nwire b.start to vb.{to}\nwire out.tip to (va.{from}, vb.{from})\n\
             wire out.sleeve to (a.finish, b.finish, va.1, vb.1)"
        )
    };
    let shared = of(&guitar("3", "2"), Conditions::default());
    assert_eq!(shared.positions[0].volumes[0].silenced.len(), 2, "the wiper at ground is the jack at ground");
    let apart = of(&guitar("2", "3"), Conditions::default());
    let first = &apart.positions[0].volumes[0];
    assert_eq!((first.silenced.len(), first.left.len()), (1, 1));
}

#[test]
fn a_tone_without_a_capacitor_moves_the_meter_and_loose_metal_is_named() {
    let text = "coil a 6k 2.4H\npot tone 250k linear, role tone\njack out\nstrings\ncable 500pF\namp 1M\n\
        wire a.start to out.tip to tone.3\nwire tone.2 to a.finish to out.sleeve";
    let card = of(text, Conditions::default());
    let entry = &card.positions[0];
    // At 10 the wiper is at lug 3.
    assert_eq!(entry.moved.len(), 1);
    assert_eq!(entry.moved[0].readings[0], Ok(0.0));
    assert!((entry.moved[0].readings[1].unwrap() / parallel(6e3, 250e3) - 1.0).abs() < 1e-12);
    assert_eq!(entry.off_ground.len(), 1, "the strings");
}
