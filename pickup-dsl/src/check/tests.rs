//! Each warning on the smallest harness that earns it, and none on one that is sound.

use super::{check, note_silence};
use crate::diagnostic::{Code, Diagnostic};
use crate::evaluate::Evaluator;
use crate::network::{Knobs, Network};
use crate::positions::{Wanted, positions};
use crate::resolve::{NoFiles, compile};

/// Warnings on a text that begins with what every guitar has: jack, cable, amp.
fn found(text: &str) -> Vec<Diagnostic> {
    whole(&format!("coilwright 1\njack out\ncable 500pF\namp 1M\n{text}"))
}

/// Warnings on a whole text; each of them is taken back by the statement that its help ends with, and no other is.
fn whole(text: &str) -> Vec<Diagnostic> {
    let all = bench(text);
    let what = |d: &Diagnostic| (d.code, d.message.clone());
    for diagnostic in all.iter().filter(|d| d.code.word().is_some()) {
        let help = diagnostic.help.as_deref().unwrap_or_default();
        let (_, statement) =
            help.rsplit_once("if it is meant: `").unwrap_or_else(|| panic!("{diagnostic:#?}"));
        let statement = statement.strip_suffix('`').unwrap();
        let left: Vec<_> =
            bench(&format!("{text}\n{statement}, because \"it is wanted\"")).iter().map(what).collect();
        let others: Vec<_> = all.iter().map(what).filter(|other| *other != what(diagnostic)).collect();
        assert_eq!(left, others, "{statement}");
    }
    all
}

fn bench(text: &str) -> Vec<Diagnostic> {
    let compiled = compile("test", text, &NoFiles);
    let harness = compiled.harness.unwrap_or_else(|| panic!("{text}\n{:#?}", compiled.diagnostics));
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
    assert_eq!(codes(&pair("pole south")), [Code::OpposingCoils]);
    assert_eq!(codes(&pair("pole south, wound reverse")), []);
    assert_eq!(codes(&pair("wound reverse")), [Code::OpposingCoils]);
}

#[test]
fn a_large_step_in_level() {
    let with = |ohms: &str| {
        format!(
            "{ONE_COIL}resistor R1 {ohms}\nresistor R2 10k\nswitch mode is push-pull, make-first\nwire lead.start to mode.A.down to R1.1\n\
             wire mode.A.up to R1.2 to R2.1\nwire R2.2 to out.sleeve\nwire mode.A.common to out.tip"
        )
    };
    assert_eq!(codes(&with("30k")), [Code::LevelStep]);
    assert_eq!(codes(&with("3k")), []);
}

#[test]
fn a_switch_that_changes_nothing_is_said_once() {
    let text = format!(
        "{ONE_COIL}switch mode is push-pull, make-first\nwire lead.start to mode.A.down to mode.A.up\nwire mode.A.common to out.tip"
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
        "{ONE_COIL}pot tone 250k audio\nwire lead.start to out.tip to tone.1\nwire tone.2 to out.tip"
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
    // A wiper that strings alone are on changes nothing.
    assert_eq!(held("wire strings to out.tip"), [Code::StringsNotGrounded]);
    assert_eq!(held("wire strings to volume.2"), [Code::StringsNotGrounded, Code::IdlePot]);
    assert_eq!(held("wire strings to volume.1"), []);
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
    assert_eq!(
        with("resistor R1 1k\nwire other.start to out.sleeve to R1.1\nwire other.finish to R1.2"),
        [Code::IdleCoil]
    );
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
    assert!(found[0].help.as_ref().unwrap().starts_with("use lug 1 in place of 3"));
}

#[test]
fn a_tone_control_that_darkens_nothing() {
    let text = format!(
        "{ONE_COIL}pot tone 250k linear, role tone\nwire lead.start to out.tip to tone.1\nresistor R1 1M\n\
         wire tone.2 to R1.1\nwire R1.2 to out.sleeve"
    );
    assert_eq!(codes(&text), [Code::FlatTone]);
}

#[test]
fn cases_and_frames_count_where_one_of_them_is_wired() {
    let text = |wires: &str| {
        format!(
            "{ONE_COIL}pot volume 250k linear, role volume\npot tone 250k linear, role tone\ncapacitor C1 22nF\n\
             switch mode is push-pull\nresistor R1 100k\nwire lead.start to volume.3 to tone.1\nwire tone.2 to C1.1\n\
             wire volume.2 to out.tip to mode.A.common\nwire mode.A.up to R1.1\n\
             wire out.sleeve to (volume.1, C1.2, R1.2)\n{wires}"
        )
    };
    assert_eq!(codes(&text("")), []);
    let found = found(&text("wire out.sleeve to tone.case"));
    assert_eq!(found.len(), 1);
    assert_eq!(found[0].message, "`volume.case` is not at ground in any position");
    assert_eq!(codes(&text("wire out.tip to mode.frame")), [Code::MetalNotGrounded]);
    assert_eq!(codes(&text("wire out.sleeve to (volume.case, tone.case, mode.frame)")), []);
}

#[test]
fn hot_that_is_open_while_a_switch_moves() {
    let with = |moves: &str, volume: &str| {
        format!(
            "{ONE_COIL}coil other 6k 2.5H 100pF, pole south, wound reverse\nswitch pick is toggle-3, {moves}\n\
             wire lead.start to pick.up\nwire other.start to pick.down\nwire other.finish to out.sleeve\n\
             wire pick.common to out.tip\n{volume}"
        )
    };
    // The middle of the toggle joins both, so that one pickup holds hot all the way.
    assert_eq!(codes(&with("break-first", "")), []);
    let straight = |moves: &str, volume: &str| {
        with(moves, volume)
            .replace("toggle-3", "on-on")
            .replace("pick.up", "pick.A.1")
            .replace("pick.down", "pick.A.2")
            .replace("pick.common", "pick.A.common")
    };
    let found = found(&straight("break-first", ""));
    assert_eq!(found.len(), 1, "{found:#?}");
    assert_eq!(found[0].message, "hot is open while `pick` moves from `1` to `2`");
    assert_eq!(codes(&straight("make-first", "")), []);
    let volume = "pot volume 250k linear, role volume\nwire volume.2 to out.tip to volume.3\nwire volume.1 to out.sleeve";
    assert_eq!(codes(&straight("break-first", volume)), []);
}

#[test]
fn hot_that_goes_to_ground_while_a_switch_moves() {
    // Make-first, both coils' ways to series and to parallel meet: hot lies on ground for a moment.
    let text = |moves: &str| {
        format!(
            "{ONE_COIL}coil other 6k 2.5H 100pF, pole south, wound reverse\nswitch link {{\n lugs (a b c)\n\
             throw series joins (a b)\n throw split joins (b c)\n {moves}\n}}\nwire lead.start to link.b\n\
             wire other.start to out.tip to link.a\nwire other.finish to out.sleeve to link.c\n"
        )
    };
    let found = found(&text("make-first"));
    let moving: Vec<&Diagnostic> = found.iter().filter(|d| d.code == Code::MovingSwitch).collect();
    assert_eq!(moving.len(), 1, "{found:#?}");
    assert_eq!(moving[0].message, "hot is at ground while `link` moves from `series` to `split`");
    assert!(!codes(&text("break-first")).contains(&Code::MovingSwitch));
}

#[test]
fn a_mute_is_silent_and_one_that_is_not_is_told() {
    let text = |mute: &str| {
        format!(
            "{ONE_COIL}switch hush is on-on\nwire lead.start to out.tip to hush.A.common\n\
             wire hush.A.2 to out.sleeve\n{mute}"
        )
    };
    assert_eq!(codes(&text("")), [Code::HotAtGround]);
    assert_eq!(codes(&text("mute hush 2")), []);
    assert_eq!(codes(&text("position \"Off\" hush 2\nmute \"Off\", because \"between songs\"")), []);
    assert_eq!(codes(&text("mute hush 1")), [Code::HotAtGround, Code::IdleIntent]);
}

#[test]
fn an_intent_names_its_things_and_its_place() {
    let pair = |intent: &str| {
        codes(&format!(
            "{ONE_COIL}coil other 6.1k 2.5H 100pF, wound reverse\nswitch flip is push-pull\nwire lead.start to out.tip\n\
             wire other.start to flip.A.down to flip.B.up\nwire other.finish to flip.A.up to flip.B.down\n\
             wire flip.A.common to out.tip\nwire flip.B.common to out.sleeve\n{intent}"
        ))
    };
    let both = [Code::OpposingCoils, Code::NoHumCancelling];
    assert_eq!(pair(""), both);
    assert_eq!(pair("intend opposing"), [Code::NoHumCancelling]);
    assert_eq!(pair("intend opposing of lead and other in flip down"), [Code::NoHumCancelling]);
    assert_eq!(pair("intend hum-adds of other\nintend opposing of lead"), []);
    // Elsewhere, or of something else, it says nothing of these.
    assert_eq!(pair("intend opposing in flip up"), [both[0], both[1], Code::IdleIntent]);
    assert_eq!(pair("intend opposing of flip"), [both[0], both[1], Code::IdleIntent]);
    // Twice the same is no mistake of this kind.
    assert_eq!(pair("intend opposing\nintend opposing of other"), [Code::NoHumCancelling]);
}

#[test]
fn one_missing_wire_is_told_once() {
    let whole = format!(
        "{ONE_COIL}pot volume 250k audio, role volume\npot tone 250k audio, role tone\ncapacitor C1 22nF\n\
         wire lead.start to volume.3\nwire volume.3 to tone.1\nwire tone.2 to C1.1\nwire volume.2 to out.tip\n\
         wire out.sleeve to volume.1\nwire volume.1 to C1.2\n"
    );
    let wires: Vec<&str> = whole.lines().filter(|l| l.starts_with("wire")).collect();
    assert_eq!(codes(&whole), []);
    for wire in wires {
        let text = format!(
            "coilwright 1\njack out\ncable 500pF\namp 1M\n{}",
            whole.replace(&format!("{wire}\n"), "")
        );
        let said = compile("test", &text, &NoFiles).diagnostics;
        let all: Vec<String> = said.into_iter().chain(bench(&text)).map(|d| d.message).collect();
        assert_eq!(all.len(), 1, "{wire}: {all:#?}");
    }
}

#[test]
fn one_wire_missing_at_a_switch_is_told_once() {
    let wires = "wire neck.start to lever.A.1\nwire bridge.start to lever.A.2\nwire lever.A.common to volume.3\n\
                 wire volume.2 to out.tip\nwire out.sleeve to volume.1\nwire out.sleeve to neck.finish\n\
                 wire neck.finish to bridge.finish\n";
    let parts = "coilwright 1\njack out\ncable 500pF\namp 1M\ncoil neck 6k 2.5H 100pF\n\
                 coil bridge 6.4k 2.7H 100pF\nswitch lever is on-on\npot volume 250k audio, role volume\n";
    let told = |wires: &str| -> Vec<String> {
        let text = format!("{parts}{wires}");
        let said = compile("test", &text, &NoFiles).diagnostics;
        said.into_iter().chain(bench(&text)).map(|d| d.message).collect()
    };
    assert_eq!(told(wires), [""; 0]);
    for wire in wires.lines() {
        let left = told(&wires.replace(&format!("{wire}\n"), ""));
        assert_eq!(left.len(), 1, "{wire}: {left:#?}");
    }
    // And says which position is silent by it.
    let noted = |missing: &str| -> Vec<String> {
        let text = format!("{parts}{}", wires.replace(&format!("{missing}\n"), ""));
        let mut compiled = compile("test", &text, &NoFiles);
        let harness = compiled.harness.unwrap();
        let network = Network::of(&harness).unwrap();
        let evaluator = Evaluator::new(&harness, &network).unwrap();
        let positions = positions(&harness, Wanted::default()).unwrap();
        let figures: Vec<_> =
            positions.iter().map(|p| evaluator.figures(p, &Knobs::default()).unwrap()).collect();
        note_silence(&mut compiled.diagnostics, &harness, &network, &positions, &figures);
        compiled.diagnostics.into_iter().flat_map(|d| d.notes).collect()
    };
    assert_eq!(noted("wire neck.start to lever.A.1"), ["no sound in `rest`"]);
    assert_eq!(noted("wire bridge.start to lever.A.2"), ["no sound in `lever=2`"]);
    // Where nothing sounds, the end in the air says enough.
    assert_eq!(noted("wire volume.2 to out.tip"), [""; 0]);
}
