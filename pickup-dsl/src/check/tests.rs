//! Each warning on the smallest harness that earns it, and none on one that is sound.

use super::check;
use crate::diagnostic::{Code, Diagnostic};
use crate::evaluate::Evaluator;
use crate::network::{Knobs, Network};
use crate::positions::{Wanted, positions};
use crate::resolve::{NoFiles, compile};

/// Warnings on a text that begins with what every guitar has: jack, cable, amp.
fn found(text: &str) -> Vec<Diagnostic> {
    let text = format!("coilwright 1\njack out\ncable 500pF\namp 1M\n{text}");
    let compiled = compile("test", &text, &NoFiles);
    let harness = compiled.harness.unwrap_or_else(|| panic!("{:#?}", compiled.diagnostics));
    let network = Network::of(&harness).unwrap();
    let evaluator = Evaluator::new(&harness, &network).unwrap();
    let positions = positions(&harness, Wanted::default()).unwrap();
    let figures: Vec<_> =
        positions.iter().map(|p| evaluator.figures(p, &Knobs::default()).unwrap()).collect();
    check(&harness, &network, &positions, &figures)
}

fn codes(text: &str) -> Vec<Code> {
    found(text).iter().map(|d| d.code).collect()
}

const ONE_COIL: &str = "coil lead 6k 2.5H 100pF, loss 300k\nwire lead.finish to out.sleeve\n";

#[test]
fn a_sound_guitar_earns_none() {
    let text = format!(
        "{ONE_COIL}pot volume 250k audio, role volume\npot tone 250k audio\ncapacitor C1 22nF\nstrings\n\
         wire lead.start to volume.3 to tone.1\nwire tone.2 to C1.1\nwire volume.2 to out.tip\n\
         wire out.sleeve to (volume.1, C1.2, strings)"
    );
    assert_eq!(codes(&text), []);
}

#[test]
fn dead_and_muted_positions() {
    let text = format!(
        "{ONE_COIL}switch mode {{\n lugs (a b c)\n throw on joins (a b)\n throw off\n throw mute joins (b c)\n}}\n\
         wire lead.start to mode.a\nwire mode.b to out.tip\nwire mode.c to out.sleeve"
    );
    let found = found(&text);
    let codes: Vec<Code> = found.iter().map(|d| d.code).collect();
    // Open, the coil hangs from ground; muted, it does too.
    assert_eq!(codes, [Code::DeadPosition, Code::HotAtGround]);
    assert!(found[0].message.contains("`mode=off`"), "{}", found[0].message);
    assert!(found[1].message.contains("`mode=mute`"), "{}", found[1].message);
}

#[test]
fn a_coil_left_hanging_from_hot() {
    let text = format!(
        "{ONE_COIL}coil other 6k 2.5H 100pF\nswitch mode is push-pull\nwire lead.start to out.tip to other.start\n\
         wire other.finish to mode.A.common\nwire mode.A.down to out.sleeve"
    );
    let found = found(&text);
    let hanging: Vec<&Diagnostic> = found.iter().filter(|d| d.code == Code::HangingCoil).collect();
    assert_eq!(hanging.len(), 1);
    assert!(hanging[0].message.contains("`other` hangs from hot in `mode=up`"));
}

#[test]
fn coils_that_oppose_and_hum_that_adds() {
    let pair = |second: &str| {
        format!(
            "{ONE_COIL}coil other 6.1k 2.5H 100pF, {second}\nwire lead.start to out.tip to other.start\n\
             wire other.finish to out.sleeve"
        )
    };
    assert_eq!(codes(&pair("pole north")), [Code::NoHumCancelling]);
    assert_eq!(codes(&pair("pole south")), [Code::OpposingCoils, Code::NoHumCancelling]);
    assert_eq!(codes(&pair("pole south, wound reverse")), []);
    assert_eq!(codes(&pair("wound reverse")), [Code::OpposingCoils]);
}

#[test]
fn a_large_step_in_level() {
    let with = |ohms: &str| {
        format!(
            "{ONE_COIL}resistor R1 {ohms}\nresistor R2 10k\nswitch mode is push-pull\nwire lead.start to mode.A.down to R1.1\n\
             wire mode.A.up to R1.2 to R2.1\nwire R2.2 to out.sleeve\nwire mode.A.common to out.tip"
        )
    };
    assert_eq!(codes(&with("30k")), [Code::LevelStep]);
    assert_eq!(codes(&with("3k")), []);
}

#[test]
fn twins_are_said_once() {
    let text = format!(
        "{ONE_COIL}switch mode is push-pull\nwire lead.start to mode.A.down to mode.A.up\nwire mode.A.common to out.tip"
    );
    let found = found(&text);
    assert_eq!(found.len(), 1);
    assert_eq!(found[0].code, Code::Twins);
    assert_eq!(found[0].message, "`rest` and `mode=up` are the same circuit");
}

#[test]
fn strings_and_metal_off_ground() {
    let text = "pickup lead {\n coil slug 4k 2H 90pF\n plate\n}\nstrings\nwire lead.slug.finish to out.sleeve\n\
                wire lead.slug.start to out.tip";
    let text = text.replace(" plate\n", " bond (slug.start cover)\n");
    assert_eq!(codes(&text), [Code::StringsNotGrounded, Code::MetalNotGrounded]);
    // Through a resistor and a capacitor in parallel they count as grounded.
    let guarded = format!(
        "{ONE_COIL}strings\nresistor R1 220k\ncapacitor C1 1nF\nwire lead.start to out.tip\n\
         wire strings to R1.1 to C1.1\nwire R1.2 to C1.2 to out.sleeve"
    );
    assert_eq!(codes(&guarded), []);
}

#[test]
fn part_of_a_tapped_winding_shorted() {
    let text = "coil lead 9k 4H 100pF, tap half at 50%\nswitch mode is push-pull\nwire lead.start to out.tip\n\
                wire lead.finish to out.sleeve to mode.A.common\nwire mode.A.up to lead.half";
    let found = found(text);
    let shorted: Vec<&Diagnostic> = found.iter().filter(|d| d.code == Code::PartlyShortedWinding).collect();
    assert_eq!(shorted.len(), 1);
    assert!(shorted[0].message.contains("in `mode=up`"));
}

#[test]
fn a_pot_that_does_nothing() {
    let text = format!(
        "{ONE_COIL}pot tone 250k audio\nwire lead.start to out.tip to tone.1\nwire tone.3 to out.tip"
    );
    assert_eq!(codes(&text), [Code::IdlePot]);
}

#[test]
fn a_capacitor_across_the_signal() {
    let text =
        format!("{ONE_COIL}capacitor C1 22nF\nwire lead.start to out.tip to C1.1\nwire C1.2 to out.sleeve");
    assert_eq!(codes(&text), [Code::CapAcrossSignal]);
}
