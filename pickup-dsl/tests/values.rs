//! Values as they are printed on parts, through the parser as a file gives them.

use pickup_dsl::diagnostic::Code;
use pickup_dsl::syntax::literal::{Fit, looks_like_value};
use pickup_dsl::syntax::parse;
use pickup_dsl::syntax::tree::Dimension::{
    self, AmpereDensity, Count, Farads, FaradsPerMetre, Gain, Henries, Hertz, Knob, Metres, Ohms,
    OhmsPerHenry, Share, VoltDensity, Volts,
};
use pickup_dsl::syntax::tree::{Item, Number};

/// The numbers of `word VALUE`, and the codes of what was said.
fn read(text: &str) -> (Vec<Number>, Vec<Code>) {
    let parsed = parse(0, &format!("word {text}"));
    let numbers = parsed.tree.statements.iter().flat_map(|s| &s.clauses).flat_map(|c| &c.items);
    let numbers = numbers.filter_map(|item| if let Item::Number(n) = item { Some(n.clone()) } else { None });
    (numbers.collect(), parsed.diagnostics.iter().map(|d| d.code).collect())
}

fn one(text: &str) -> Number {
    let (numbers, codes) = read(text);
    assert_eq!(codes, [], "{text}");
    assert_eq!(numbers.len(), 1, "{text}: {numbers:?}");
    numbers[0].clone()
}

fn code_of(text: &str, want: Dimension) -> Code {
    one(text).read(want).expect_err(text).code
}

/// The resistor and capacitor examples of IEC 60062 in its stored transcriptions; `R47`, `R10` and `R300` are written with a leading
/// zero here, since a value starts with its digit.
#[test]
fn letter_code_of_iec_60062() {
    for (text, ohms) in [
        ("0R47", 0.47),
        ("4R7", 4.7),
        ("470R", 470.0),
        ("4K7", 4700.0),
        ("47K", 47e3),
        ("47K3", 47.3e3),
        ("470K", 470e3),
        ("4M7", 4.7e6),
        ("0R10", 0.1),
        ("0R300", 0.3),
        ("1K0", 1e3),
        ("2M2", 2.2e6),
    ] {
        assert_eq!(one(text).read(Ohms), Ok(ohms), "{text}");
    }
    for (text, farads) in [("10p", 10e-12), ("4n7", 4.7e-9), ("1\u{b5}0", 1e-6), ("1\u{3bc}0", 1e-6)] {
        assert_eq!(one(text).read(Farads), Ok(farads), "{text}");
    }
}

/// Each way of writing that the language's value table shows, and its neighbours.
#[test]
fn every_written_form() {
    for (text, want, value) in [
        ("4k7", Ohms, 4700.0),
        ("4.7k", Ohms, 4700.0),
        ("4.7k\u{3a9}", Ohms, 4700.0),
        ("4.7k\u{2126}", Ohms, 4700.0),
        ("4700", Ohms, 4700.0),
        ("250 k\u{3a9}", Ohms, 250e3),
        ("250 kohm", Ohms, 250e3),
        ("250k ohms", Ohms, 250e3),
        ("510 k", Ohms, 510e3),
        ("20m", Ohms, 20e-3),
        ("4KOhm", Ohms, 4e3),
        ("22nF", Farads, 22e-9),
        ("22 nF", Farads, 22e-9),
        ("22n", Farads, 22e-9),
        ("22nf", Farads, 22e-9),
        ("0.022uF", Farads, 22e-9),
        (".022\u{b5}F", Farads, 22e-9),
        ("820pF", Farads, 820e-12),
        ("22m", Farads, 22e-3),
        ("2.2H", Henries, 2.2),
        ("2.2 H", Henries, 2.2),
        ("900mH", Henries, 0.9),
        ("900m", Henries, 0.9),
        ("60Hz", Hertz, 60.0),
        ("1kHz", Hertz, 1e3),
        ("5m", Metres, 5.0),
        ("5 m", Metres, 5.0),
        ("30cm", Metres, 0.3),
        ("143mm", Metres, 0.143),
        ("100pF/m", FaradsPerMetre, 100e-12),
        ("100 pF/m", FaradsPerMetre, 100e-12),
        ("300k/H", OhmsPerHenry, 300e3),
        ("300k\u{3a9}/H", OhmsPerHenry, 300e3),
        ("1V", Volts, 1.0),
        ("5nV", VoltDensity, 5e-9),
        ("5nV/\u{221a}Hz", VoltDensity, 5e-9),
        ("0.5pA", AmpereDensity, 0.5e-12),
        ("60%", Share, 0.6),
        ("60 %", Share, 0.6),
        ("0.6", Share, 0.6),
        ("-0.1", Share, -0.1),
        ("42", Count, 42.0),
        ("7.5", Knob, 7.5),
        ("3.5", Gain, 3.5),
        ("-20dB", Gain, 0.1),
        ("20 dB", Gain, 10.0),
    ] {
        assert_eq!(one(text).read(want), Ok(value), "{text}");
    }
}

#[test]
fn units_say_how_well_they_fit() {
    for (text, want, fit) in [
        ("6.5k", Ohms, Fit::Possible),
        ("6.5k", Henries, Fit::No),
        ("6.5k", Farads, Fit::No),
        ("6.5k\u{3a9}", Ohms, Fit::Certain),
        ("2.8H", Henries, Fit::Certain),
        ("2.8H", Ohms, Fit::No),
        ("120pF", Farads, Fit::Certain),
        ("22n", Farads, Fit::Possible),
        ("22n", Ohms, Fit::No),
        ("5m", Metres, Fit::Certain),
        ("5m", Ohms, Fit::Possible),
        ("100pF/m", FaradsPerMetre, Fit::Certain),
        ("100pF/m", Farads, Fit::No),
        ("100pF", FaradsPerMetre, Fit::No),
        ("300k/H", Ohms, Fit::No),
        ("15%", Share, Fit::Certain),
        ("15%", Ohms, Fit::No),
        ("104", Farads, Fit::Possible),
    ] {
        assert_eq!(one(text).fits(want), fit, "{text} as {want:?}");
    }
}

#[test]
fn what_does_not_fit_is_refused_with_its_code() {
    for (text, want, code) in [
        ("104", Farads, Code::BareCapacitance),
        ("0.022", Farads, Code::BareCapacitance),
        ("2.8H", Ohms, Code::WrongUnit),
        ("4k7", Farads, Code::WrongUnit),
        ("60", Hertz, Code::WrongUnit),
        ("22NF", Farads, Code::WrongUnit),
        ("5x", Ohms, Code::BadNumber),
        ("-5k", Ohms, Code::OutOfRange),
        ("11", Knob, Code::OutOfRange),
    ] {
        assert_eq!(code_of(text, want), code, "{text} as {want:?}");
    }
}

#[test]
fn a_bare_capacitance_shows_both_readings() {
    let report = one("104").read(Farads).expect_err("bare");
    assert_eq!(report.notes, ["as a printed code it is 100nF, as a value in picofarads 104 pF"]);
    assert_eq!(report.fix.map(|f| f.replacement).as_deref(), Some("code 104"));
    let report = one("0.022").read(Farads).expect_err("bare");
    assert_eq!(report.fix.map(|f| f.replacement).as_deref(), Some("0.022uF"));
}

#[test]
fn printed_capacitor_codes() {
    for (text, farads, tolerance) in [
        ("104", 100e-9, None),
        ("223J", 22e-9, Some(0.05)),
        ("223K", 22e-9, Some(0.10)),
        ("473 K", 47e-9, Some(0.10)),
        ("102M", 1e-9, Some(0.20)),
        ("100", 10e-12, None),
        ("479", 4.7e-12, None),
    ] {
        let (numbers, codes) = read(&format!(", code {text}"));
        assert!(codes.len() <= 1, "{text} {codes:?}");
        let (value, read_tolerance) = numbers[0].capacitor_code().expect(text);
        assert_eq!((value, read_tolerance.map(|t| t.up)), (farads, tolerance), "{text}");
    }
    for text in ["10", "1044", "4n7", "10.4", "104X", "-104", "004"] {
        assert!(one(text).read_capacitor_code().is_err(), "{text}");
    }
}

#[test]
fn tolerances_follow_their_value() {
    for (text, up, down) in [
        ("22nF K", 0.10, 0.10),
        ("22n K", 0.10, 0.10),
        ("4k7 J", 0.05, 0.05),
        ("22nF F", 0.01, 0.01),
        ("510k M", 0.20, 0.20),
        ("22nF 5%", 0.05, 0.05),
        ("22nF 5 %", 0.05, 0.05),
        ("510 5%", 0.05, 0.05),
        ("22nF \u{b1}5%", 0.05, 0.05),
        ("22nF\u{b1}2.5%", 0.025, 0.025),
        ("22 nF +80/-20%", 0.80, 0.20),
        ("2.2H 10%", 0.10, 0.10),
    ] {
        let number = one(text);
        assert_eq!(number.tolerance.map(|t| (t.up, t.down)), Some((up, down)), "{text}");
        assert_eq!(number.span.end as usize, "word ".len() + text.len(), "{text}");
    }
    // A share that follows a word or another share is a value of its own.
    for (text, count) in [("audio 15%", 1), ("(60% 400k) (40% 90k)", 0), ("at 60% 3k", 2), ("(1 2 3)", 0)] {
        let (numbers, codes) = read(text);
        assert_eq!((numbers.len(), codes), (count, vec![]), "{text}");
        assert!(numbers.iter().all(|n| n.tolerance.is_none()), "{text}");
    }
}

#[test]
fn two_readings_are_never_chosen_between() {
    for text in ["510 K", "1 M", "22n F", "22 F"] {
        let (numbers, codes) = read(text);
        assert_eq!((numbers.len(), codes), (0, vec![Code::BadTolerance]), "{text}");
    }
}

#[test]
fn names_after_numbers_stay_names() {
    for text in
        ["(1 K 2 M)", "(A.1 1 H)", "1 joins (A.common A.1)", "10 measured", "5 turns", "0.1 from neck"]
    {
        let parsed = parse(0, &format!("word {text}"));
        assert_eq!(parsed.diagnostics, [], "{text}");
    }
    for text in ["pot volume 500k B", "pattern pot p 250k C, role tone", "pot v { track 500k B }"] {
        let parsed = parse(0, text);
        let (numbers, _) = read(&format!(", {}", text.replace(['{', '}'], ",").trim_end_matches([',', ' '])));
        assert_eq!(parsed.diagnostics, [], "{text}");
        assert!(numbers.iter().all(|n| n.tolerance.is_none()), "{text}");
    }
    let parsed = parse(0, "throw 1-2 joins (A.common 1-2)");
    assert!(matches!(&parsed.tree.statements[0].clauses[0].items[1], Item::Word(w) if w.text == "1-2"));
}

#[test]
fn slips_of_writing_have_their_code() {
    for (text, code) in [
        ("4,7k", Code::DecimalComma),
        ("(4,7k)", Code::DecimalComma),
        ("1,5", Code::DecimalComma),
        ("4F7", Code::BadNumber),
        ("4E7", Code::BadNumber),
        ("1e3", Code::BadNumber),
        ("1.2.3", Code::BadNumber),
        ("0.022mfd", Code::WrongUnit),
        ("0.022 mfd", Code::WrongUnit),
        ("500mmfd", Code::WrongUnit),
        ("22nF \u{b1}5", Code::BadTolerance),
        ("\u{b1}5%", Code::BadTolerance),
        ("1111111111111111111111111111111111111111111111111111111111111111111111", Code::TooLarge),
    ] {
        assert_eq!(read(text).1, [code], "{text}");
    }
    for text in ["(1,2)", "(1,2,3)", "(60%,400k)", "4k7,120pF"] {
        assert_eq!(read(text).1, [], "{text}");
    }
}

#[test]
fn old_marks_are_mended() {
    assert_eq!(read("0.022 mfd").0[0].read(Farads), Ok(22e-9));
    assert_eq!(read("500mmfd").0[0].read(Farads), Ok(500e-12));
}

#[test]
fn a_word_that_was_meant_as_a_value() {
    for (word, meant) in [("R47", "0R47"), ("k5", "0k5"), ("n47", "0n47"), ("M1", "0M1"), ("n47F", "0n47F")] {
        assert_eq!(looks_like_value(word).as_deref(), Some(meant), "{word}");
    }
    for word in ["C1", "neck", "R", "k", "role", "R1a", "pot2", ""] {
        assert_eq!(looks_like_value(word), None, "{word}");
    }
}
