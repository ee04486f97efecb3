//! What holds for the whole way from text to harness: no text makes it panic or run without end, and the limits are kept.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use pickup_dsl::diagnostic::order::MESSAGE_LIMIT;
use pickup_dsl::diagnostic::{Code, Severity};
use pickup_dsl::resolve::{Compiled, Library, NoFiles, Unreadable, compile};
use proptest::prelude::{Just, Strategy, any, prop_assert, prop_assert_eq, prop_oneof, proptest};
use soup::any_text;

#[path = "properties/soup.rs"]
mod soup;

/// Files by their path.
#[derive(Debug, Default)]
struct Files(BTreeMap<String, String>);

impl Library for Files {
    fn read(&self, path: &str) -> Result<String, Unreadable> {
        self.0.get(path).cloned().ok_or(Unreadable::Missing)
    }
}

fn codes(compiled: &Compiled) -> Vec<Code> {
    compiled.diagnostics.iter().map(|d| d.code).collect()
}

/// The one error of a text that passes a limit.
fn limit(text: &str, library: &dyn Library) -> Compiled {
    let compiled = compile("main.harness", text, library);
    assert!(codes(&compiled).contains(&Code::TooLarge), "{:?}", compiled.diagnostics.first());
    assert!(compiled.harness.is_none());
    compiled
}

#[test]
fn a_file_is_at_most_a_mebibyte() {
    let text = format!("coilwright 1\n{}", "-- \n".repeat(300_000));
    limit(&text, &NoFiles);
    let files = Files(BTreeMap::from([("big.harness".to_owned(), text)]));
    let compiled = limit("coilwright 1\nuse \"big.harness\" as big\njack out\n", &files);
    assert_eq!(codes(&compiled), [Code::TooLarge]);
}

#[test]
fn all_files_together_are_at_most_eight_mebibytes() {
    let big = format!("coilwright 1\n-- {}\n", "x".repeat((1 << 20) - 64));
    let files = Files((0..9).map(|i| (format!("{i}.harness"), big.clone())).collect());
    let mut text = "coilwright 1\njack out\n".to_owned();
    for i in 0..9 {
        let _ = writeln!(text, "use \"{i}.harness\" as n{i}");
    }
    assert_eq!(codes(&limit(&text, &files)), [Code::TooLarge]);
}

#[test]
fn at_most_256_files_are_read() {
    let files = Files((0..300).map(|i| (format!("{i}.harness"), "coilwright 1\n".to_owned())).collect());
    let mut text = "coilwright 1\njack out\n".to_owned();
    for i in 0..300 {
        let _ = writeln!(text, "use \"{i}.harness\" as n{i}");
    }
    assert_eq!(limit(&text, &files).sources.all().len(), 257);
}

#[test]
fn use_goes_at_most_32_deep() {
    let chain = |i: usize| format!("coilwright 1\nuse \"{}.harness\" as next\n", i + 1);
    let files = |n: usize| {
        let mut files: BTreeMap<_, _> = (0..n).map(|i| (format!("{i}.harness"), chain(i))).collect();
        files.insert(format!("{n}.harness"), "coilwright 1\n".to_owned());
        Files(files)
    };
    let main = "coilwright 1\nuse \"0.harness\" as next\njack out\n";
    assert_eq!(codes(&compile("main.harness", main, &files(31))), [Code::UnwiredLug]);
    limit(main, &files(32));
}

#[test]
fn two_short_lists_make_no_long_table() {
    let names = |prefix: &str| (0..2_000).map(|i| format!("{prefix}{i}")).collect::<Vec<_>>().join(" ");
    let text =
        format!("coilwright 1\njack out\nswitch s {{ poles ({}) throws ({}) }}\n", names("p"), names("t"));
    limit(&text, &NoFiles);
}

#[test]
fn patterns_do_not_multiply_without_end() {
    let mut text = "coilwright 1\njack out\npattern switch p {\n  lugs (".to_owned();
    for i in 0..20_000 {
        let _ = write!(text, "l{i} ");
    }
    text.push_str(")\n throw 1 joins (l1 l2) }\n");
    for i in 0..10_000 {
        let _ = writeln!(text, "switch s{i} is p");
    }
    limit(&text, &NoFiles);

    let mut text = "coilwright 1\njack out\npattern coil p0 6k 3H\n".to_owned();
    for i in 1..8_000 {
        let _ = writeln!(text, "pattern coil p{i} is p{}", i - 1);
    }
    for i in 0..8_000 {
        let _ = writeln!(text, "coil c{i} is p7999");
    }
    limit(&text, &NoFiles);
}

#[test]
fn elements_are_counted() {
    let mut text = "coilwright 1\njack out\n".to_owned();
    for i in 0..36_000 {
        let _ = writeln!(text, "resistor R{i} 1k");
    }
    // Two lugs each.
    assert!(compile("main.harness", &text, &NoFiles).harness.is_some());
    for i in 0..15_000 {
        let _ = writeln!(text, "splice S{i}");
    }
    for i in 1..15_000 {
        let _ = writeln!(text, "wire S{i} to S{}", i - 1);
    }
    limit(&text, &NoFiles);
}

#[test]
fn coupled_coils_are_counted() {
    let mut text = "coilwright 1\njack out\n".to_owned();
    for i in 0..5_000 {
        let _ = writeln!(text, "coil c{i} 6k 3H");
    }
    for i in 1..5_000 {
        let _ = writeln!(text, "coupling c{i} c{} 0.01", i - 1);
    }
    limit(&text, &NoFiles);
    let mut text = "coilwright 1\njack out\npickup p {\n".to_owned();
    for i in 0..20_000 {
        let _ = writeln!(text, "coil c{i} 6k 3H");
    }
    text.push_str("}\n");
    limit(&text, &NoFiles);
}

#[test]
fn messages_are_counted_and_cost_little() {
    // Each unknown name would be compared with each known one.
    let mut text = "coilwright 1\njack out\n".to_owned();
    for i in 0..20_000 {
        let _ = writeln!(text, "splice part-{i}\nwire prat-{i} to jack.{i}");
    }
    let compiled = limit(&text, &NoFiles);
    assert_eq!(compiled.diagnostics.len(), MESSAGE_LIMIT);
}

#[test]
fn positions_are_counted_by_multiplication() {
    let mut text = "coilwright 1\njack out\n".to_owned();
    for i in 0..64 {
        let _ = writeln!(text, "switch s{i} is push-pull");
    }
    assert!(codes(&compile("main.harness", &text, &NoFiles)).contains(&Code::TooManyPositions));
    text.push_str("position \"Up\" s1 up\npositions named only\n");
    let compiled = compile("main.harness", &text, &NoFiles);
    assert!(compiled.harness.is_some(), "{:?}", compiled.diagnostics.first());
}

/// Whole files, to be broken.
const WHOLE: &[&str] = &[
    include_str!("../../examples/01-one-coil.harness"),
    include_str!("../../examples/04-tapped-coil.harness"),
    include_str!("../../examples/09-blend-and-buffer.harness"),
    include_str!("../../examples/10-two-humbuckers.harness"),
    include_str!("../../examples/14-mute-and-own-switch.harness"),
    include_str!("../../examples/16-measured-coil-and-notch.harness"),
    include_str!("../../examples/17-short-forms-and-variants.harness"),
    include_str!("../../examples/18-piezo-and-battery.harness"),
    include_str!("../src/library/bodies.harness"),
];

/// Words to put in the place of others.
const WORDS: &[&str] = &[
    "",
    "(",
    ")",
    "{",
    "}",
    ",",
    "\n",
    "is",
    "coil",
    "pickup",
    "pot",
    "switch",
    "jack",
    "amp",
    "cable",
    "none",
    "given",
    "variant",
    "remove",
    "unsolder",
    "coils",
    "in",
    "series",
    "hot",
    "across",
    "wire",
    "to",
    "plug",
    "position",
    "reference",
    "from",
    "\"x\"",
    "pattern",
    "use",
    "as",
    "lead",
    "tap",
    "at",
    "50%",
    "120%",
    "-1",
    "0",
    "1e9",
    "104",
    "22n",
    "4k7",
    "2.2H",
    "code",
    "loss",
    "chain",
    "none",
    "gang",
    "blend",
    "poles",
    "throws",
    "lugs",
    "throw",
    "joins",
    "between",
    "rest",
    "coupling",
    "stacked",
    "start-to-start",
    "series-inductance",
    "bond",
    "jumper",
    "cut",
    "cover",
    "volume.2",
    "out.ring",
    "mains",
    "string-count",
    "positions",
    "named",
    "only",
    "measured",
    "999999999999999999999999",
    "swing",
    "up",
    "hears",
    "expect",
];

/// A whole file with a few of its words changed, doubled or left out, or with two files run together.
fn broken() -> impl Strategy<Value = String> {
    let change = (any::<proptest::sample::Index>(), proptest::sample::select(WORDS), 0..4_u8);
    let changes = proptest::collection::vec(change, 0..6);
    (
        proptest::sample::select(WHOLE),
        prop_oneof![4 => Just(""), 1 => proptest::sample::select(WHOLE)],
        changes,
    )
        .prop_map(|(first, second, changes)| {
            let text = format!("{first}{second}");
            // Blanks and words alternate, so that lines stay lines.
            let mut pieces: Vec<String> = text.split_inclusive([' ', '\n']).map(str::to_owned).collect();
            for (at, word, how) in changes {
                let i = at.index(pieces.len());
                match how {
                    0 => pieces[i] = format!("{word} "),
                    1 => pieces.insert(i, format!("{word} ")),
                    2 => pieces[i].clear(),
                    _ => {
                        let copy = pieces[i].clone();
                        pieces.insert(at.index(i + 1), copy);
                    }
                }
            }
            pieces.concat()
        })
}

fn holds(text: &str) -> Result<(), proptest::test_runner::TestCaseError> {
    let compiled = compile("main.harness", text, &NoFiles);
    let errors = compiled.diagnostics.iter().filter(|d| d.severity == Severity::Error).count();
    prop_assert_eq!(compiled.harness.is_none(), errors > 0, "{:?}", compiled.diagnostics);
    for diagnostic in &compiled.diagnostics {
        let fix = diagnostic.fix.iter().map(|f| f.span);
        for span in diagnostic.secondary.iter().map(|l| l.span).chain(fix).chain([diagnostic.primary.span]) {
            let text = &compiled.sources.get(span.file).text;
            prop_assert!(text.get(span.start as usize..span.end as usize).is_some(), "{:?}", diagnostic);
        }
    }
    if let Some(harness) = &compiled.harness {
        let lugs = harness.lugs.len() as u32;
        prop_assert!(harness.joints.iter().all(|j| j.a.0 < lugs && j.b.0 < lugs && j.a != j.b));
        prop_assert!(harness.ground.0 < lugs && !harness.outlets.is_empty());
        let mut next = 0;
        for part in &harness.parts {
            prop_assert_eq!(part.lugs.start, next);
            next = part.lugs.end;
        }
        prop_assert_eq!(next, lugs);
    }
    Ok(())
}

proptest! {
    #[test]
    fn any_text_compiles_or_says_why(text in any_text()) {
        holds(&text)?;
        holds(&format!("coilwright 1\njack out\n{text}"))?;
    }

    #[test]
    fn a_broken_file_compiles_or_says_why(text in broken()) {
        holds(&text)?;
    }
}
