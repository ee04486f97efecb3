//! Each warning on the smallest harness that earns it, and none on one that is sound.

use super::check;
use crate::diagnostic::{Code, Diagnostic};
use crate::evaluate::Evaluator;
use crate::network::{Knobs, Network};
use crate::positions::{Wanted, positions};
use crate::resolve::{NoFiles, compile};

/// Warnings on a text that begins with what every guitar has: jack, cable, amp.
fn found(text: &str) -> Vec<Diagnostic> {
    whole(&format!("coilwright 1\njack out\ncable 500pF\namp 1M\n{text}"))
}

/// Warnings on a whole text.
fn whole(text: &str) -> Vec<Diagnostic> {
    let compiled = compile("test", text, &NoFiles);
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
fn a_switch_that_changes_nothing_is_said_once() {
    let text = format!(
        "{ONE_COIL}switch mode is push-pull\nwire lead.start to mode.A.down to mode.A.up\nwire mode.A.common to out.tip"
    );
    let found = found(&text);
    assert_eq!(found.len(), 1, "{found:#?}");
    assert_eq!(found[0].code, Code::Twins);
    assert_eq!(found[0].message, "switch `mode` changes nothing in any position");
}

/// Two coils; `split` matters only where the other switch leaves its coil in play.
const TWINS: &str = "coil other 6k 2.5H 100pF, pole south, wound reverse\nswitch which is push-pull\nswitch less is push-pull\n\
    resistor R1 10k\nwire lead.start to which.A.down\nwire other.start to which.A.up to less.A.common\n\
    wire which.A.common to out.tip\nwire less.A.up to R1.1\nwire R1.2 to other.finish to out.sleeve\n\
    resistor R2 1M\nwire out.tip to R2.1\nwire R2.2 to out.sleeve";

#[test]
fn twins_are_placed_at_their_switch_and_a_way_out_is_named() {
    let said = |text: &str| {
        let all = found(&format!("{ONE_COIL}{TWINS}{text}"));
        let twins: Vec<Diagnostic> = all.into_iter().filter(|d| d.code == Code::Twins).collect();
        assert_eq!(twins.len(), 1, "{twins:#?}");
        twins.into_iter().next().unwrap()
    };
    let twins = said("");
    assert_eq!(twins.message, "`rest` and `less=up` are the same circuit");
    assert!(twins.help.as_ref().unwrap().contains("`positions named only`"), "{twins:?}");
    let text = format!("coilwright 1\njack out\ncable 500pF\namp 1M\n{ONE_COIL}{TWINS}");
    assert_eq!(twins.primary.span.start as usize, text.find("switch less").unwrap() + "switch ".len());
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
    // The two sections are one winding, which can't cancel its own hum.
    assert_eq!(found.len(), 1);
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

#[test]
fn strings_on_hot_or_behind_a_pot_are_not_grounded() {
    let held = |wires: &str| {
        codes(&format!(
            "{ONE_COIL}strings\npot volume 250k linear\nwire lead.start to out.tip to volume.3\nwire volume.1 to out.sleeve\n{wires}"
        ))
    };
    // A pot across hot without its wiper changes nothing.
    assert_eq!(held("wire strings to out.tip"), [Code::StringsNotGrounded, Code::IdlePot]);
    assert_eq!(held("wire strings to volume.2"), [Code::StringsNotGrounded, Code::IdlePot]);
    assert_eq!(held("wire strings to volume.1"), [Code::IdlePot]);
}

#[test]
fn a_contact_of_some_milliohms_is_a_joint_and_of_some_ohms_is_none() {
    let through = |contact: &str| {
        codes(&format!(
            "{ONE_COIL}pickup other {{\n coil slug 4k 2H 90pF, pole south, wound reverse\n cover 40pF\n}}\n\
             switch mute {{\n lugs (a b c)\n throw on\n throw off joins (a b)\n contact {contact}\n}}\n\
             switch screen {{\n lugs (a b)\n throw on joins (a b)\n contact {contact}\n}}\n\
             wire lead.start to out.tip to mute.a to other.slug.start\nwire mute.b to out.sleeve to other.slug.finish\n\
             wire other.cover to screen.a\nwire screen.b to out.sleeve"
        ))
    };
    let both = [Code::HotAtGround, Code::MetalNotGrounded];
    let of_those = |codes: Vec<Code>| codes.into_iter().filter(|c| both.contains(c)).collect::<Vec<_>>();
    assert_eq!(of_those(through("20m")), [Code::HotAtGround]);
    assert_eq!(of_those(through("2")), [Code::MetalNotGrounded]);
}

#[test]
fn one_dead_output_of_two_is_named() {
    let text = "coilwright 1\njack out stereo\ncable a 500pF\ncable b 500pF\namp left 1M\namp right 1M\n\
                plug out.tip to a to left\nplug out.ring to b to right\n";
    let text = format!(
        "{text}{ONE_COIL}resistor R1 1M\nwire lead.start to out.tip\nwire out.ring to R1.1\nwire R1.2 to out.sleeve"
    );
    let found = whole(&text);
    let codes: Vec<Code> = found.iter().map(|d| d.code).collect();
    assert_eq!(codes, [Code::DeadPosition]);
    assert!(found[0].message.contains("at `out.ring`"), "{}", found[0].message);
}

#[test]
fn coils_that_cancel_exactly_are_told_what_to_change() {
    let text = "pickup pair {\n coil a 4k 2H 90pF\n coil b 4k 2H 90pF\n}\nwire pair.a.start to out.tip\n\
                wire pair.a.finish to pair.b.finish\nwire pair.b.start to out.sleeve";
    let found = found(text);
    let dead: Vec<&Diagnostic> = found.iter().filter(|d| d.code == Code::DeadPosition).collect();
    assert!(dead.iter().all(|d| d.help.as_ref().unwrap().contains("change over start and finish")));
    assert_eq!(dead.len(), 1, "{found:#?}");
}

#[test]
fn a_capacitor_behind_a_buffer_lies_across_the_signal() {
    let text = format!(
        "{ONE_COIL}buffer booster 1M, output 1k\ncapacitor C1 22nF\nwire lead.start to booster.in to C1.1\n\
         wire booster.out to out.tip\nwire C1.2 to out.sleeve to booster.ground"
    );
    assert_eq!(codes(&text), [Code::CapAcrossSignal]);
}

#[test]
fn coils_that_never_sound() {
    let with = |wires: &str| {
        codes(&format!(
            "{ONE_COIL}coil other 6k 2.5H 100pF, pole south, wound reverse\nwire lead.start to out.tip\n{wires}"
        ))
    };
    assert_eq!(with("wire other.start to other.finish to out.sleeve"), [Code::IdleCoil]);
    assert_eq!(with("wire other.start to out.sleeve"), [Code::IdleCoil]);
    assert_eq!(with("wire other.start to out.tip\nwire other.finish to out.sleeve"), []);
}

#[test]
fn a_tone_control_that_works_the_wrong_way_round() {
    let tone = |lug: &str| {
        format!(
            "{ONE_COIL}pot tone 250k linear, role tone\ncapacitor C1 22nF\nwire lead.start to out.tip to tone.{lug}\n\
         wire tone.2 to C1.1\nwire C1.2 to out.sleeve"
        )
    };
    assert_eq!(codes(&tone("1")), []);
    let found = found(&tone("3"));
    assert_eq!(found.iter().map(|d| d.code).collect::<Vec<_>>(), [Code::ReversedTone]);
    assert_eq!(found[0].help.as_deref(), Some("use lug 1 in place of 3"));
}
