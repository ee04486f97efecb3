//! Patterns whose values are given where they are used, and ranges of lugs.

use pickup_dsl::harness::{Harness, Moves, PartKind, Pickup, Switch};
use pickup_dsl::resolve::{Library, NoFiles, Unreadable, compile};

const TWIN: &str = "pattern pickup twin, given hot 4.0k, cool 4.1k, turned forward {
  construction double-open
  coil slug  hot 2.2H, pole south
  coil screw cool 2.3H, pole north, wound turned
}
";

fn compiled(body: &str, library: &dyn Library) -> Result<Harness, Vec<(&'static str, String)>> {
    let compiled = compile("main.harness", &format!("coilwright 1\njack out\n{body}"), library);
    let found = compiled.diagnostics.iter().map(|d| (d.code.text(), d.message.clone())).collect();
    compiled.harness.ok_or(found)
}

fn harness(body: &str) -> Harness {
    compiled(body, &NoFiles).unwrap_or_else(|found| panic!("{found:?}"))
}

fn codes(body: &str) -> Vec<&'static str> {
    compiled(body, &NoFiles).expect_err("a mistake").into_iter().map(|(code, _)| code).collect()
}

fn pickup<'h>(harness: &'h Harness, name: &str) -> &'h Pickup {
    let part = harness.parts.iter().find(|p| p.name == name).expect("the part");
    match &part.kind {
        PartKind::Pickup(pickup) => pickup,
        other => panic!("{other:?}"),
    }
}

fn switch<'h>(harness: &'h Harness, name: &str) -> &'h Switch {
    let part = harness.parts.iter().find(|p| p.name == name).expect("the part");
    match &part.kind {
        PartKind::Switch(switch) => switch,
        other => panic!("{other:?}"),
    }
}

#[test]
fn each_use_has_its_own_values() {
    let harness = harness(&format!(
        "{TWIN}pickup a is twin\npickup b is twin, hot 3.9k 5% measured, turned reverse\npickup c is twin {{\n hot 5k, cool 5.1k\n coil slug, pole north\n}}"
    ));
    let ohms =
        |name: &str| -> Vec<f64> { pickup(&harness, name).coils.iter().map(|c| c.dcr.value).collect() };
    assert_eq!(
        (ohms("a"), ohms("b"), ohms("c")),
        (vec![4000.0, 4100.0], vec![3900.0, 4100.0], vec![5000.0, 5100.0])
    );
    assert_eq!(pickup(&harness, "b").coils[0].dcr.tolerance, Some((0.05, 0.05)));
    assert_eq!((pickup(&harness, "a").coils[1].wound, pickup(&harness, "b").coils[1].wound), (1.0, -1.0));
    // What is said after the pattern still wins.
    assert_eq!(pickup(&harness, "c").coils[0].pole, 1.0);
}

#[test]
fn a_value_points_to_where_it_was_given() {
    let body = format!("{TWIN}pickup b is twin, hot 3.9k");
    let harness = harness(&body);
    let span = pickup(&harness, "b").coils[0].dcr.span;
    let text = format!("coilwright 1\njack out\n{body}");
    assert_eq!(&text[span.start as usize..span.end as usize], "3.9k");
}

#[test]
fn patterns_pass_on_what_they_are_given() {
    let body = format!(
        "{TWIN}pattern pickup strong is twin, given all, hot all, cool all\npickup a is strong, all 7k\npickup b is strong, all 8k"
    );
    // What follows `given` on the line is given; what the other pattern gets stands before it or in braces.
    assert!(compiled(&body, &NoFiles).is_err());
    let harness = harness(&format!(
        "{TWIN}pattern pickup strong is twin, hot all, cool all, given all\npickup a is strong, all 7k\npickup b is strong, all 8k"
    ));
    assert_eq!(pickup(&harness, "a").coils[1].dcr.value, 7000.0);
    assert_eq!(pickup(&harness, "b").coils[0].dcr.value, 8000.0);
}

#[test]
fn a_body_of_any_size() {
    let harness = harness(
        "switch a is rotary, ways 4
switch b is rotary, ways 3, decks (A to C), make-first
pattern switch ladder, given steps 5, ohms 20m, moves make-first {
  lugs (common 1 to steps)
  throw all joins (common 1 to steps)
  contact ohms
  moves
}
switch c is ladder, steps 3
switch d is ladder, moves break-first, ohms 50m",
    );
    assert_eq!(switch(&harness, "a").throws.len(), 4);
    let b = switch(&harness, "b");
    assert_eq!((b.throws.len(), b.throws[0].joins.len(), b.moves), (3, 3, Moves::MakeFirst));
    assert_eq!(harness.lug_name(b.throws[2].joins[1][1]), "b.B.3");
    let (c, d) = (switch(&harness, "c"), switch(&harness, "d"));
    assert_eq!((c.throws[0].joins[0].len(), d.throws[0].joins[0].len()), (4, 6));
    assert_eq!((c.moves, d.moves), (Moves::MakeFirst, Moves::BreakFirst));
    assert_eq!((c.contact.map(|v| v.value), d.contact.map(|v| v.value)), (Some(0.02), Some(0.05)));
}

struct Shelf;

impl Library for Shelf {
    fn read(&self, _path: &str) -> Result<String, Unreadable> {
        Ok(format!("coilwright 1\n{TWIN}pattern pot knob, given ohms {{\n track ohms\n}}"))
    }
}

#[test]
fn patterns_of_other_files_are_given_values_too() {
    let body =
        "use \"parts.harness\" as shelf\npickup a is shelf.twin, cool 9k\npot v is shelf.knob, ohms 250k";
    let harness = compiled(body, &Shelf).unwrap_or_else(|found| panic!("{found:?}"));
    assert_eq!(pickup(&harness, "a").coils[1].dcr.value, 9000.0);
}

#[test]
fn slips_are_told() {
    let knob = "pattern pot knob, given ohms {\n track ohms\n}\n";
    for (body, expected) in [
        // Not given, given twice, given without a value, a comma forgotten.
        (format!("{knob}pot v is knob"), "S305"),
        (format!("{knob}pot v is knob, ohms 250k, ohms 500k"), "S306"),
        (format!("{knob}pot v is knob, ohms"), "S305"),
        (format!("{knob}pot v is knob ohms 250k"), "S307"),
        // The value does not fit: said where it was given.
        (format!("{knob}pot v is knob, ohms 22nF"), "V204"),
        // Names that mean something, that stand nowhere, that are there twice.
        ("pattern pot k, given track 500k {\n track track\n}".into(), "N405"),
        ("pattern pot k 500k, given ohms 250k".into(), "S310"),
        ("pattern pot k, given ohms 250k, ohms 500k {\n track ohms\n}".into(), "N401"),
        // A default that does not fit shows though nothing uses the pattern.
        ("pattern pot k, given ohms 22nF {\n track ohms\n}".into(), "V204"),
        // Ranges.
        ("switch s {\n poles (A to 3) throws (1 2)\n}".into(), "S310"),
        ("switch s {\n poles (A) throws (6 to 1)\n}".into(), "S310"),
        ("switch s {\n poles (A) throws (1 to)\n}".into(), "S305"),
        ("switch s {\n poles (A) throws (1 to 4000000000)\n}".into(), "F703"),
    ] {
        assert_eq!(codes(&body), [expected], "{body}");
    }
}

#[test]
fn a_circle_of_patterns_is_one_error() {
    let body = "pattern pot a is b, x y, given y 1k\npattern pot b is a, y x, given x 2k\npot v is a, y 3k";
    assert_eq!(codes(body), ["F704"]);
}

#[test]
fn bombs_end_in_an_error() {
    // Each level doubles what the one below gets.
    let mut body = String::from("pattern switch p0, given a (1 2) {\n lugs (x a)\n throw 1\n}\n");
    for i in 1..25 {
        body += &format!("pattern switch p{i} is p{}, a (a a), given a (1 2)\n", i - 1);
    }
    body += "switch s is p24, a (1 2)\n";
    assert!(codes(&body).contains(&"F703"));
    // Deep chains.
    let mut body = String::from("pattern pot p0, given a 1k {\n track a\n}\n");
    for i in 1..60 {
        body += &format!("pattern pot p{i} is p{}, a a, given a 1k\n", i - 1);
    }
    body += "pot v is p59, a 2k\n";
    assert!(codes(&body).contains(&"F703"));
}

#[test]
fn a_tolerance_after_a_bare_m() {
    let harness = harness("inductor L1 900m 5% 80\nresistor R1 22k");
    let part = harness.parts.iter().find(|p| p.name == "L1").expect("the part");
    let PartKind::Inductor(henries, dcr) = &part.kind else { panic!("{part:?}") };
    assert_eq!((henries.value, henries.tolerance), (0.9, Some((0.05, 0.05))));
    assert_eq!(dcr.map(|d| d.value), Some(80.0));
}
