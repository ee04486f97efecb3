//! What a person sees: each file here is wrong in one way, and the whole message is a snapshot.
//!
//! Snapshots live in `tests/snapshots`; `INSTA_UPDATE=always cargo test` writes them anew.
#![cfg(feature = "render")]

use pickup_dsl::diagnostic::{Code, Diagnostic, render_all};
use pickup_dsl::source::{Sources, Span};
use pickup_dsl::syntax::parse;

/// The text and what is said about it.
fn shown(text: &str) -> String {
    let mut sources = Sources::default();
    let file = sources.add("lantern.harness", text);
    let parsed = parse(file, text);
    render_all(&sources, &parsed.diagnostics, false)
}

macro_rules! message {
    ($($name:ident: $text:expr;)*) => { $(
        #[test]
        fn $name() {
            insta::assert_snapshot!(stringify!($name), shown($text));
        }
    )* };
}

message! {
    decimal_comma: "pot volume 250k audio\nresistor R1 4,7k\n";
    thousands_or_decimal: "resistor R1 4,700\n";
    letter_e: "resistor R1 4E7\n";
    letter_f: "capacitor C1 4F7\n";
    old_microfarads: "capacitor C1 0.022 mfd\n";
    power_of_ten: "capacitor C1 22e-9F\n";
    two_points: "resistor R1 1.2.3\n";
    letter_k_after_a_blank: "resistor R1 510 K\n";
    tolerance_without_percent: "capacitor C1 22nF ±5\n";
    tolerance_alone: "capacitor C1, ±5%\n";
    comment_in_another_habit: "pot volume 250k // the big one (left)\n";
    hidden_character: "pot vol\u{200b}ume 250k -- joined by nothing\n";
    bidirectional: "pot \u{202e}volume 250k\n";
    curly_quotes: "guitar “Lantern”\n";
    equals_sign: "coil lead, dcr = 6.5k\n";
    open_text: "guitar \"Lantern\ncoil lead 6.5k 2.8H\n";
    open_bracket: "wire volume.case to (volume.1, out.sleeve\nwire tone.2 to C1.1\n";
    open_brace: "pickup neck {\n  coil slug 4.0k 2.2H {\n    pole south\n  coil screw 4.1k 2.3H\n}\njack out\n";
    open_brace_alone: "pickup neck {\n  coil slug 4.0k 2.2H\njack out\n";
    stray_brackets: "wire a.1 to b.1)\n}\njack out\n";
    brace_on_its_own_line: "pickup neck\n{\n  coil slug 4.0k 2.2H\n}\n";
    after_a_brace: "coil lead { dcr 6.5k } jack out\n";
    comma_at_the_end: "coil lead 6.5k 2.8H,\n  pole south\n";
    double_comma: "wire a to (b,, c)\ncoil lead 6.5k,, pole south\n";
    wide_letters: "guitar \"調 ギター\" 4,7k\n";
    dos_line_ends: "pot volume 250k\r\nresistor R1 4,7k\r\njack out\r\n";
    tab: "resistor\tR1\t4,7k\n";
    end_of_file: "coil lead (";
    line_too_long_to_draw: &format!("wire a to ({}) 4,7k\n", "b ".repeat(2000));
    many_at_once: "resistor R1 4,7k\ncapacitor C1 22nF ±5\n\npot tone 250k # audio\n";
}

#[test]
fn both_places_of_two_files_are_shown_and_paths_are_escaped() {
    let mut sources = Sources::default();
    let main = sources.add(
        "main\u{1b}[31m.harness",
        "use \"parts\" as shop\n\npot tone 250k -- \u{202e}mark\npot tone 500k\n",
    );
    let parts = sources.add("parts.harness", "pattern pot tone 250k\n");
    let at = |file, start, end| Span { file, start, end };
    let report = Diagnostic::error(Code::SameName, at(main, 50, 54), "`tone` is the name of two parts")
        .label("again here")
        .also(at(main, 25, 29), "first here")
        .also(at(parts, 12, 16), "and in the used file")
        .note("a name stands for one part in the whole file")
        .help("give one of them another name");
    insta::assert_snapshot!(render_all(&sources, &[report], false));
}

#[test]
fn colours_say_nothing_that_the_text_does_not() {
    let mut sources = Sources::default();
    let text = "resistor R1 4,7k\n";
    let file = sources.add("lantern.harness", text);
    let parsed = parse(file, text);
    let coloured = render_all(&sources, &parsed.diagnostics, true);
    assert!(coloured.contains('\u{1b}'));
    let mut plain = String::new();
    let mut rest = coloured.as_str();
    while let Some((before, after)) = rest.split_once('\u{1b}') {
        plain.push_str(before);
        rest = after.split_once('m').map_or("", |(_, rest)| rest);
    }
    plain.push_str(rest);
    assert_eq!(plain, render_all(&sources, &parsed.diagnostics, false));
}
