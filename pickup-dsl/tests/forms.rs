//! Short forms and what they stand for; variants; active parts and their supply.

use pickup_dsl::harness::{Harness, JointKind, PartId, PartKind, Reference};
use pickup_dsl::network::{Knobs, Loads, Network, Setting};
use pickup_dsl::resolve::{Compiled, NoFiles, compile};

const TWIN: &str = "pickup p {
  construction double-open
  coil slug  4.0k 2.2H, pole south
  coil screw 4.1k 2.3H, pole north
}
";

fn compiled(body: &str) -> Compiled {
    compile("main.harness", &format!("coilwright 1\njack out\n{body}"), &NoFiles)
}

fn said(compiled: &Compiled) -> Vec<(&'static str, String)> {
    compiled.diagnostics.iter().map(|d| (d.code.text(), d.message.clone())).collect()
}

fn harness(body: &str) -> Harness {
    let compiled = compiled(body);
    let said = said(&compiled);
    compiled.harness.unwrap_or_else(|| panic!("{said:?}"))
}

fn wires(harness: &Harness) -> Vec<String> {
    let name = |l| harness.lug_name(l);
    let wires = harness.joints.iter().filter(|j| j.kind == JointKind::Wire);
    wires.map(|j| format!("{} to {}", name(j.a), name(j.b))).collect()
}

fn written_out(harness: &Harness) -> Vec<String> {
    let name = |l| harness.lug_name(l);
    let all = harness.short_forms.iter().flat_map(|s| &s.wires);
    all.map(|(a, b)| format!("{} to {}", name(*a), name(*b))).collect()
}

#[test]
fn coils_in_series_take_the_ends_that_add() {
    // Opposite poles, wound alike: start to start, the pole that drives hot positive with its start up.
    let humbucking =
        harness(&format!("{TWIN}coils p.slug p.screw in series, hot out.tip, ground out.sleeve"));
    let expected =
        ["out.tip to p.slug.finish", "p.slug.start to p.screw.start", "p.screw.finish to out.sleeve"];
    assert_eq!(written_out(&humbucking), expected);
    assert_eq!(wires(&humbucking), expected);
    assert!(humbucking.short_forms[0].chosen.contains("hum cancels"), "{:?}", humbucking.short_forms);
    // Alike in both: finish to start, and hum adds.
    let plain = harness("coil a 6k 3H\ncoil b 6k 3H\ncoils a b in series, hot out.tip, ground out.sleeve");
    assert_eq!(written_out(&plain)[1], "a.finish to b.start");
    assert!(plain.short_forms[0].chosen.ends_with("so does hum"));
    // Wound the other way and of the other pole: finish to start again, and hum cancels.
    let pair = harness(
        "coil a 6k 3H\ncoil b 6k 3H, wound reverse, pole south\ncoils a b in series, hot out.tip, ground out.sleeve",
    );
    assert_eq!(written_out(&pair)[1], "a.finish to b.start");
    assert!(pair.short_forms[0].chosen.ends_with("hum cancels"));
    // A coil without a magnet is turned against the hum.
    let dummy =
        harness("coil a 6k 3H\ncoil d 6k 3H, dummy\ncoils a d in series, hot out.tip, ground out.sleeve");
    assert_eq!(written_out(&dummy)[1], "a.finish to d.finish");
}

#[test]
fn coils_in_parallel_and_with_a_link() {
    let parallel =
        harness(&format!("{TWIN}coils p.slug p.screw in parallel, hot out.tip, ground out.sleeve"));
    let expected = [
        "out.tip to p.slug.finish",
        "out.tip to p.screw.start",
        "p.slug.start to out.sleeve",
        "p.screw.finish to out.sleeve",
    ];
    assert_eq!(written_out(&parallel), expected);
    let split = harness(&format!(
        "{TWIN}switch s is on-on\ncoils p.slug p.screw in series, hot out.tip, link s.A.common, ground out.sleeve\nwire s.A.2 to out.sleeve"
    ));
    assert_eq!(written_out(&split)[2], "p.screw.start to s.A.common");
}

const KNOBS: &str = "pot volume 500k audio, role volume\npot tone 500k audio, role tone\ncapacitor C1 22n\n";

#[test]
fn both_tone_hook_ups() {
    for (said, expected) in [
        ("before volume, ground out.sleeve", ["volume.3 to tone.1", "tone.2 to C1.1", "C1.2 to out.sleeve"]),
        (
            "after volume, capacitor on wiper, ground out.sleeve",
            ["volume.2 to tone.1", "tone.2 to C1.1", "C1.2 to out.sleeve"],
        ),
        (
            "at out.tip, capacitor on lug, ground out.sleeve",
            ["out.tip to tone.2", "tone.1 to C1.1", "C1.2 to out.sleeve"],
        ),
    ] {
        let harness = harness(&format!("{KNOBS}tone-control tone C1 {said}"));
        assert_eq!(written_out(&harness), expected, "{said}");
    }
}

#[test]
fn treble_bleeds() {
    let parts = "capacitor C3 680p\nresistor R3 150k\nresistor R4 82k\n";
    for (said, expected) in [
        ("C3 across volume", &["volume.3 to C3.1", "volume.2 to C3.2"][..]),
        (
            "C3 R3 parallel across volume",
            &["volume.3 to C3.1", "C3.1 to R3.1", "volume.2 to C3.2", "C3.2 to R3.2"],
        ),
        ("C3 R3 series across volume", &["volume.3 to C3.1", "C3.2 to R3.1", "volume.2 to R3.2"]),
        (
            "C3 R3 R4 mixed across volume",
            &["volume.3 to C3.1", "C3.1 to R3.1", "C3.2 to R3.2", "R3.2 to R4.1", "volume.2 to R4.2"],
        ),
    ] {
        let harness = harness(&format!("{KNOBS}{parts}treble-bleed {said}"));
        assert_eq!(written_out(&harness), expected, "{said}");
    }
}

#[test]
fn slips_in_short_forms_are_told() {
    for (body, code) in [
        ("coils p.slug in series, hot out.tip, ground out.sleeve", "S305"),
        ("coils p.slug p.screw, hot out.tip, ground out.sleeve", "S305"),
        ("coils p.slug p.screw in series, hot out.tip", "S305"),
        ("coils p.slug p.screw in series, hot out.tap, ground out.sleeve", "N403"),
        ("coils p.slug p.slug in series, hot out.tip, ground out.sleeve", "W501"),
        ("coils p.slug p.scrow in series, hot out.tip, ground out.sleeve", "N402"),
        ("coils p.slug p.screw in parallel, hot out.tip, link out.tip, ground out.sleeve", "S307"),
        ("tone-control volume C1 beside volume, ground out.sleeve", "S307"),
        ("treble-bleed C1 parallel across volume", "S307"),
        ("treble-bleed C1 across p", "N403"),
    ] {
        let compiled = compiled(&format!("{TWIN}pot volume 500k audio\ncapacitor C1 1n\n{body}"));
        assert!(compiled.harness.is_none(), "{body}");
        assert_eq!(said(&compiled).first().map(|s| s.0), Some(code), "{body}: {:?}", said(&compiled));
    }
}

const GUITAR: &str = "coil lead 6k 3H
pot volume 500k audio, role volume
capacitor C1 22n
resistor R1 22k
switch s is on-on
cable 5m 100pF/m
amp 1M
wire lead.start to volume.3 to C1.1
wire volume.2 to out.tip to s.A.common
wire s.A.2 to R1.1
wire out.sleeve to (lead.finish, volume.1, C1.2, R1.2)
position \"One\" s 1
position \"Two\" s 2
reference \"Two\"
";

fn variant(changes: &str) -> Harness {
    let compiled = compiled(&format!("{GUITAR}variant \"other\" {{\n{changes}\n}}"));
    let said = said(&compiled);
    let [variant] = &compiled.variants[..] else { panic!("{said:?}") };
    assert_eq!(variant.name, "other");
    variant.harness.clone()
}

fn part<'h>(harness: &'h Harness, name: &str) -> Option<&'h PartKind> {
    harness.parts.iter().find(|p| p.name == name).map(|p| &p.kind)
}

#[test]
fn a_variant_says_only_what_differs() {
    let long = variant("cable 10m, resistance 1\npot volume 250k");
    let Some(PartKind::Lead(cable)) = part(&long, "cable") else { panic!("a cable") };
    assert!((cable.capacitance.value - 1e-9).abs() < 1e-21);
    let Some(PartKind::Pot(pot)) = part(&long, "volume") else { panic!("a pot") };
    assert_eq!((pot.gangs[0].track.value, pot.role.as_deref()), (250e3, Some("volume")));
    let guitar = harness(GUITAR);
    assert_eq!(wires(&long), wires(&guitar));
    // The guitar's reference serves all.
    let Reference::Here(choice) = &guitar.reference else { panic!("a reference") };
    let Reference::Elsewhere(base, same) = &long.reference else { panic!("{:?}", long.reference) };
    assert_eq!((same, base.parts.len()), (choice, guitar.parts.len()));
}

#[test]
fn wires_and_parts_come_and_go() {
    let changed = variant(
        "unsolder volume.3 to C1.1\nwire volume.2 to C1.1\nresistor R2 47k\nwire R2.1 to out.tip\nwire R2.2 to out.sleeve",
    );
    let all = wires(&changed);
    assert!(!all.contains(&"volume.3 to C1.1".to_owned()) && all.contains(&"volume.2 to C1.1".to_owned()));
    assert!(part(&changed, "R2").is_some());
    let without = variant("remove C1, R1\nunsolder volume.1");
    assert!(part(&without, "C1").is_none() && part(&without, "R1").is_none());
    assert_eq!(wires(&without).len(), 4);
    // Another kind, or a pattern, replaces the whole part.
    let other = variant("switch s is on-off-on\nposition \"One\" s off");
    assert_eq!(other.positions.len(), 2);
    assert!(variant("cable none").outlets[0].chain.len() == 1);
}

#[test]
fn slips_in_variants_are_told() {
    for (body, code) in [
        ("variant {\n mains 60Hz\n}", "S307"),
        ("variant \"a\"", "S307"),
        ("variant \"a\" {\n}\nvariant \"a\" {\n}", "N401"),
        ("variant \"a\" {\n guitar \"x\"\n}", "S309"),
        ("variant \"a\" {\n reference \"One\"\n}", "S309"),
        ("variant \"a\" {\n unsolder volume.1 to out.tip\n}", "N402"),
        ("variant \"a\" {\n remove C9\n}", "N402"),
        ("variant \"a\" {\n cable 5nF\n pot volume 22nF\n}", "V204"),
        ("variant \"a\" {\n pot volume 250k\n pot volume 500k\n}", "N401"),
    ] {
        let compiled = compiled(&format!("{GUITAR}{body}"));
        assert!(compiled.harness.is_none() && compiled.variants.is_empty(), "{body}: {:?}", said(&compiled));
        assert_eq!(said(&compiled).first().map(|s| s.0), Some(code), "{body}: {:?}", said(&compiled));
    }
    let many: String = (0..40).map(|i| format!("variant \"v{i}\" {{\n mains 60Hz\n}}\n")).collect();
    assert_eq!(said(&compiled(&format!("{GUITAR}{many}")))[0].0, "F703");
}

#[test]
fn an_active_part_without_its_battery_passes_nothing() {
    let body = "piezo saddle 1.2nF
buffer stage 10M
battery cell 9V
switch power is on-on
wire saddle.plus to stage.in
wire stage.out to out.tip
wire cell.plus to power.A.common
wire power.A.1 to stage.supply
wire out.sleeve to (saddle.minus, stage.ground)
";
    let by_wire = format!("{body}wire cell.minus to out.sleeve");
    // A stereo jack's ring meets the sleeve by the plug of a mono cable.
    let by_ring = format!("{body}wire cell.minus to out.ring");
    for (text, off_at_rest) in [(by_wire, false), (by_ring, false), (body.to_owned(), true)] {
        let compiled = compile("main.harness", &format!("coilwright 1\njack out stereo\n{text}"), &NoFiles);
        let harness = compiled.harness.expect("a harness");
        let network = Network::of(&harness).expect("a network");
        let off = |throw: usize| -> Vec<PartId> {
            network.unpowered(&harness, &Setting::new(&[throw], &Knobs::default(), Loads::Plugged))
        };
        assert_eq!((off(0).is_empty(), off(1).len()), (!off_at_rest, 1), "{text}");
    }
}

#[test]
fn a_microfarad_is_a_slip_in_a_passive_guitar() {
    let codes =
        |body: &str| -> Vec<&'static str> { said(&compiled(body)).into_iter().map(|s| s.0).collect() };
    assert!(codes("capacitor C1 1u\nwire C1.1 to out.tip\nwire C1.2 to out.sleeve").contains(&"B815"));
    assert!(!codes("capacitor C1 220n\nwire C1.1 to out.tip\nwire C1.2 to out.sleeve").contains(&"B815"));
    let active = "buffer b 1M\ncapacitor C1 1u\nwire C1.1 to out.tip\nwire C1.2 to b.in\nwire b.out to out.tip\nwire b.ground to out.sleeve";
    assert!(!codes(active).contains(&"B815"));
}
