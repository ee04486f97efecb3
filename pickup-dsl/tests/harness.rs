//! What the words of a file come to in the harness: signs, defaults, estimates, joints.

use pickup_dsl::harness::{
    Blend, CoreLoss, Harness, JointKind, Moves, Origin, PartId, PartKind, Pickup, Pot, Reference, Switch,
    Taper,
};
use pickup_dsl::resolve::{NoFiles, compile};

fn harness(body: &str) -> Harness {
    let compiled = compile("main.harness", &format!("coilwright 1\njack out stereo\n{body}"), &NoFiles);
    let said: Vec<_> = compiled.diagnostics.iter().map(|d| &d.message).collect();
    compiled.harness.unwrap_or_else(|| panic!("{said:?}"))
}

fn part(harness: &Harness, name: &str) -> PartId {
    PartId(harness.parts.iter().position(|p| p.name == name).expect("the part") as u32)
}

fn pickup<'h>(harness: &'h Harness, name: &str) -> &'h Pickup {
    match &harness.part(part(harness, name)).kind {
        PartKind::Pickup(pickup) => pickup,
        other => panic!("{other:?}"),
    }
}

fn pot<'h>(harness: &'h Harness, name: &str) -> &'h Pot {
    match &harness.part(part(harness, name)).kind {
        PartKind::Pot(pot) => pot,
        other => panic!("{other:?}"),
    }
}

fn switch<'h>(harness: &'h Harness, name: &str) -> &'h Switch {
    match &harness.part(part(harness, name)).kind {
        PartKind::Switch(switch) => switch,
        other => panic!("{other:?}"),
    }
}

fn joints(harness: &Harness, kind: JointKind) -> Vec<(String, String)> {
    let name = |l| harness.lug_name(l);
    harness.joints.iter().filter(|j| j.kind == kind).map(|j| (name(j.a), name(j.b))).collect()
}

fn pair(a: &str, b: &str) -> (String, String) {
    (a.to_owned(), b.to_owned())
}

fn close(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-12 * b.abs().max(1e-30)
}

/// The signed coupling of two coils of 2 H and 3 H, both wound forward unless `b` says otherwise.
fn coupling(b: &str, properties: &str) -> f64 {
    let harness = harness(&format!("pickup p {{\n coil a 4k 2H\n coil b 4k 3H{b}\n{properties}\n}}"));
    pickup(&harness, "p").couplings.first().map_or(0.0, |(_, _, k)| k.value)
}

/// M with dots at the starts = g·w1·w2·|k|·√(L1·L2), g = −1 side by side and +1 stacked.
#[test]
fn the_sign_of_a_coupling_follows_from_the_winding() {
    let reverse = ", wound reverse";
    for (b, properties, expected) in [
        ("", "coupling 0.1", -0.1),
        (reverse, "coupling 0.1", 0.1),
        ("", "stacked, coupling 0.1", 0.1),
        (reverse, "stacked, coupling 0.1", -0.1),
        (reverse, "coupling start-to-start 0.1", 0.1),
        ("", "coupling start-to-start -0.1", -0.1),
        ("", "", -0.15),
        ("", "stacked", 0.5),
        ("", "coupling 0", 0.0),
    ] {
        let k = coupling(b, properties);
        assert!(close(k, expected), "`{b}` `{properties}`: {k}");
    }
}

/// The hum-cancelling series link has L1 + L2 + 2|M| side by side, L1 + L2 − 2|M| stacked; M = 0.25 H here.
#[test]
fn a_series_inductance_gives_the_size_of_the_coupling() {
    let size = 0.25 / f64::sqrt(6.0);
    assert!(close(coupling("", "series-inductance 5.5H"), -size));
    assert!(close(coupling(", wound reverse", "series-inductance 5.5H"), size));
    assert!(close(coupling("", "stacked, series-inductance 4.5H"), size));
    assert_eq!(coupling("", "series-inductance 5H"), 0.0);
}

/// `swing up` is wound × pole = +1.
#[test]
fn a_swing_gives_the_wound_direction() {
    for (said, wound, pole) in [
        ("", 1.0, 1.0),
        (", wound reverse", -1.0, 1.0),
        (", pole south", 1.0, -1.0),
        (", pole north, swing up", 1.0, 1.0),
        (", pole south, swing up", -1.0, -1.0),
        (", swing down", -1.0, 1.0),
        (", pole south, swing down", 1.0, -1.0),
    ] {
        let harness = harness(&format!("coil c 6k 3H{said}"));
        let coil = &pickup(&harness, "c").coils[0];
        assert_eq!((coil.wound, coil.pole), (wound, pole), "{said}");
    }
}

#[test]
fn a_construction_gives_what_is_not_said() {
    let harness = harness(
        "pickup p {
  construction double-nickel, strength 1.2
  coil a 4k 2H
  coil b 4k 3H 50pF, loss 1M, strength 1
  coil c 4k 2H, construction single-rod, dummy, hum-area 0.5
}",
    );
    let [a, b, c] = &pickup(&harness, "p").coils[..] else { panic!("three coils") };
    // 90 kΩ per henry and 90 pF.
    let CoreLoss::Shunt(loss) = &a.loss else { panic!("{:?}", a.loss) };
    assert!(close(loss.value, 180e3) && loss.origin == Origin::Default);
    assert!(close(a.capacitance.value, 90e-12) && a.capacitance.origin == Origin::Default);
    assert_eq!((a.strength, a.hum_area), (1.2, 1.0));
    let CoreLoss::Shunt(loss) = &b.loss else { panic!("{:?}", b.loss) };
    assert!(close(loss.value, 1e6) && loss.origin == Origin::Stated);
    assert!(close(b.capacitance.value, 50e-12) && b.strength == 1.0);
    let CoreLoss::Shunt(loss) = &c.loss else { panic!("{:?}", c.loss) };
    assert!(close(loss.value, 600e3) && c.strength == 0.0 && c.hum_area == 0.5);
    let said = &harness.assumptions[0].text;
    for part in [
        "90 pF and core loss 90 kΩ/H (double-nickel) of a",
        "(single-rod) of c",
        "coupling of its coils 0.15",
    ] {
        assert!(said.contains(part), "{said}");
    }
}

#[test]
fn without_value_or_construction_there_is_no_loss_and_it_is_said() {
    let harness = harness("coil c 6k 3H, turns 8000");
    let coil = &pickup(&harness, "c").coils[0];
    assert_eq!(coil.loss, CoreLoss::None);
    assert_eq!(coil.capacitance.value, 0.0);
    let said = &harness.assumptions[0].text;
    assert!(said.contains("the peak is optimistic") && !said.contains("turns"), "{said}");
}

/// 5.4716 and 6.8996 Ω/m are gauges 42 and 43 by the ASTM B258 formula (tested against a published wire table in `harness::wire`).
#[test]
fn turns_are_estimated_from_the_resistance() {
    let harness = harness(
        "coil c 6.5k 2.8H\ncoil d 6.5k 2.8H, gauge 43, turn-length 150mm\ncoil e 6.5k 2.8H, turns 8000",
    );
    let turns = |name| pickup(&harness, name).coils[0].turns;
    assert!((turns("c").value / (6500.0 / (5.4716 * 0.143)) - 1.0).abs() < 1e-4);
    assert!((turns("d").value / (6500.0 / (6.8996 * 0.150)) - 1.0).abs() < 1e-4);
    assert_eq!((turns("c").origin, turns("e").origin), (Origin::Estimated, Origin::Stated));
}

#[test]
fn taps_stand_in_order_from_the_start() {
    let harness = harness("coil c 6k 3H, turns 8000, tap high at 75%, tap low at 2000 turns");
    let taps = &pickup(&harness, "c").coils[0].taps;
    let said: Vec<_> = taps.iter().map(|t| (t.name.as_str(), t.at)).collect();
    assert_eq!(said, [("low", 0.25), ("high", 0.75)]);
    assert_eq!(harness.lug_name(taps[0].lug), "c.low");
}

#[test]
fn losses_per_henry_and_in_chains() {
    let harness = harness(
        "coil a 6k 3H, loss 200k/H
coil b 6k 3H, loss chain (60% 400k) (0.4)
coil c 6k 3H, loss none, construction single-rod",
    );
    let CoreLoss::Shunt(loss) = &pickup(&harness, "a").coils[0].loss else { panic!("a shunt") };
    assert!(close(loss.value, 600e3));
    let CoreLoss::Chain(chain) = &pickup(&harness, "b").coils[0].loss else { panic!("a chain") };
    assert!(close(chain[0].0, 0.6) && close(chain[0].1.expect("ohms").value, 400e3));
    assert!(close(chain[1].0, 0.4) && chain[1].1.is_none());
    assert_eq!(pickup(&harness, "c").coils[0].loss, CoreLoss::None);
}

/// The letters: Asian and American pots against older European ones (secondary sources, the standards were not opened).
#[test]
fn tapers_and_letters() {
    for (said, expected) in [
        ("", Taper::Audio(0.15)),
        ("linear", Taper::Linear),
        ("reverse-audio 10%", Taper::ReverseAudio(0.1)),
        (", taper audio 0.2", Taper::Audio(0.2)),
        ("code A asian", Taper::Audio(0.15)),
        ("code B asian", Taper::Linear),
        ("code C asian", Taper::ReverseAudio(0.15)),
        ("code A european", Taper::Linear),
        ("code B european", Taper::Audio(0.15)),
        ("code C european", Taper::Audio(0.15)),
        ("code F european", Taper::ReverseAudio(0.15)),
    ] {
        let harness = harness(&format!("pot p 500k {said}"));
        assert_eq!(pot(&harness, "p").gangs[0].taper, expected, "{said}");
    }
}

#[test]
fn blends_and_gangs() {
    let harness = harness("pot j 250k, blend\npot k linear, gang x 500k, gang y 250k audio 12%");
    let blend = pot(&harness, "j");
    assert_eq!((blend.rest, blend.role.as_deref()), (5.0, Some("blend")));
    let tapers = [blend.gangs[0].taper, blend.gangs[1].taper];
    assert_eq!(tapers, [Taper::Blend(Blend::First), Taper::Blend(Blend::Second)]);
    let gangs = &pot(&harness, "k").gangs;
    assert_eq!((gangs[0].taper, gangs[1].taper), (Taper::Linear, Taper::Audio(0.12)));
    assert!(close(gangs[1].track.value, 250e3));
    assert!(harness.lug(part(&harness, "k"), "y.3").is_some());
}

#[test]
fn the_usual_chain_is_joined_and_said() {
    let harness = harness("coil c 6k 3H\nwire c.start to out.tip");
    assert_eq!(harness.lug_name(harness.ground), "out.sleeve");
    // The first: a mono plug's sleeve reaches over the ring's contact.
    let expected = [
        pair("out.ring", "out.sleeve"),
        pair("out.tip", "cable.in"),
        pair("cable.screen", "out.sleeve"),
        pair("cable.out", "amp.input"),
        pair("amp.ground", "out.sleeve"),
    ];
    assert_eq!(joints(&harness, JointKind::Plugged), expected);
    let [outlet] = &harness.outlets[..] else { panic!("one outlet") };
    assert_eq!(harness.lug_name(outlet.hot), "out.tip");
    assert_eq!(harness.lug_name(outlet.amp_input), "amp.input");
    let said: Vec<_> = harness.assumptions.iter().map(|a| a.text.as_str()).collect();
    assert!(said.contains(&"cable: 5 m of 100 pF/m") && said.contains(&"amp: 1 MΩ"), "{said:?}");
    let PartKind::Lead(cable) = &harness.part(outlet.chain[0]).kind else { panic!("a cable") };
    assert!(close(cable.capacitance.value, 500e-12) && cable.outside);
    assert_eq!(cable.capacitance.origin, Origin::Default);
}

#[test]
fn plugs_give_the_order_and_a_second_outlet() {
    let harness = harness(
        "amp one
amp two 470k
cable run 300pF
buffer pedal 1M, gain 6dB
plug out.ring to two
plug out to pedal to run to one",
    );
    let chain = |i: usize| -> Vec<&str> {
        harness.outlets[i].chain.iter().map(|p| harness.part(*p).name.as_str()).collect()
    };
    assert_eq!((chain(0), chain(1)), (vec!["pedal", "run", "one"], vec!["two"]));
    assert_eq!(harness.lug_name(harness.outlets[1].hot), "out.ring");
    let plugged = joints(&harness, JointKind::Plugged);
    assert!(plugged.contains(&pair("pedal.ground", "out.sleeve")));
    assert!(!plugged.contains(&pair("out.ring", "out.sleeve")));
    let PartKind::Buffer(pedal) = &harness.part(harness.outlets[0].chain[0]).kind else { panic!("a buffer") };
    // 6 dB is 10^(6/20).
    assert!((pedal.gain - 1.995_262_314_968_88).abs() < 1e-12);
}

#[test]
fn factory_joints_bonds_jumpers_and_colours() {
    let harness = harness(
        "pickup p {
  coil a 4k 2H
  coil b 4k 2H
  lead red a.start
  wire a.finish to b.finish
  bond (b.start cover braid)
  jumper cover to plate
  cover 40pF
  plate 30pF from b.start
}
pattern pickup bare { coil a 4k 2H
  jumper cover to plate }
pickup q is bare
pickup r is bare { jumper plate to cover, cut }",
    );
    assert_eq!(joints(&harness, JointKind::Colour), [pair("p.red", "p.a.start")]);
    assert_eq!(
        joints(&harness, JointKind::Factory),
        [pair("p.a.finish", "p.b.finish"), pair("p.cover", "p.plate"), pair("q.cover", "q.plate")]
    );
    assert_eq!(joints(&harness, JointKind::Bond), [pair("p.b.start", "p.cover"), pair("p.cover", "p.braid")]);
    let p = pickup(&harness, "p");
    assert!(p.braided);
    let leads: Vec<_> = p.capacitances.iter().map(|c| harness.lug_name(c.lead)).collect();
    // The cover lies over the first coil's outer turns unless said.
    assert_eq!(leads, ["p.a.finish", "p.b.start"]);
}

#[test]
fn a_selector_and_what_is_said_after_a_body() {
    let harness = harness(
        "switch s { poles (A B) throws (1 2)
  throw 2 joins (A.common A.2 B.2)
  throw 3 }
switch l is lever-3, break-first
switch o is on-off-on, rest off",
    );
    let s = switch(&harness, "s");
    let joined = |throw: usize| -> Vec<Vec<String>> {
        s.throws[throw].joins.iter().map(|j| j.iter().map(|l| harness.lug_name(*l)).collect()).collect()
    };
    assert_eq!(joined(0), [["s.A.common", "s.A.1"], ["s.B.common", "s.B.1"]]);
    // Written out, a throw stands for the selector's own.
    assert_eq!(joined(1), [["s.A.common", "s.A.2", "s.B.2"]]);
    assert!(joined(2).is_empty());
    let between: Vec<_> = switch(&harness, "l").throws.iter().map(|t| t.between).collect();
    assert_eq!(between, [false, true, false, true, false]);
    assert_eq!(switch(&harness, "l").moves, Moves::BreakFirst);
    assert_eq!(switch(&harness, "o").rest, 1);
    assert!(harness.lug(part(&harness, "o"), "frame").is_some());
}

#[test]
fn every_body_of_the_library_is_sound() {
    let bodies: [(&str, &[&str], Moves); 13] = [
        ("on-on", &["1", "2"], Moves::BreakFirst),
        ("push-pull", &["down", "up"], Moves::BreakFirst),
        ("on-off-on", &["1", "off", "2"], Moves::BreakFirst),
        ("on-on-on-A", &["1", "mid", "2"], Moves::BreakFirst),
        ("on-on-on-B", &["1", "mid", "2"], Moves::BreakFirst),
        ("toggle-3", &["up", "mid", "down"], Moves::BreakFirst),
        ("lever-3", &["1", "1-2", "2", "2-3", "3"], Moves::MakeFirst),
        ("lever-5", &["1", "1-2", "2", "2-3", "3"], Moves::MakeFirst),
        ("lever-5-super", &["1", "2", "3", "4", "5"], Moves::MakeFirst),
        ("rotary-6", &["1", "2", "3", "4", "5", "6"], Moves::BreakFirst),
        ("rotary-6-shorting", &["1", "2", "3", "4", "5", "6"], Moves::MakeFirst),
        ("rotary-5-four-pole", &["1", "2", "3", "4", "5"], Moves::BreakFirst),
        ("push-button", &["out", "in"], Moves::BreakFirst),
    ];
    for (body, throws, moves) in bodies {
        let harness = harness(&format!("switch s is {body}"));
        let s = switch(&harness, "s");
        let names: Vec<_> = s.throws.iter().map(|t| t.name.as_str()).collect();
        assert_eq!(names, throws, "{body}");
        assert_eq!((s.rest, s.moves, s.momentary), (0, moves, body == "push-button"), "{body}");
        // Each pole's common is joined once in each throw, but in none that is off.
        let commons: Vec<_> = harness.lugs.iter().filter(|l| l.name.ends_with("common")).collect();
        for throw in &s.throws {
            for common in &commons {
                let joined =
                    throw.joins.iter().flatten().filter(|l| harness.lugs[l.0 as usize] == **common).count();
                assert_eq!(joined, usize::from(throw.name != "off"), "{body} {} {}", throw.name, common.name);
            }
        }
    }
}

#[test]
fn order_does_not_change_what_is_meant() {
    let parts = "switch mode is push-pull\ncoil c 6k 3H, construction single-rod\npot v 500k linear\n";
    let rest = "reference \"Up\"\nwire c.start to v.3\nposition \"Up\" mode up\n";
    let (a, b) = (harness(&format!("{parts}{rest}")), harness(&format!("{rest}{parts}")));
    assert_eq!(a.lugs, b.lugs);
    let Reference::Here(choice) = &b.reference else { panic!("{:?}", b.reference) };
    assert_eq!(choice, &[(part(&b, "mode"), 1)]);
    assert_eq!(joints(&a, JointKind::Wire), joints(&b, JointKind::Wire));
}
