//! Each code's explanation: its wrong example says exactly that code, its right one says nothing, from the text to the bench.

use std::collections::BTreeSet;

use cases::{Case, cases};
use pickup_dsl::check::check;
use pickup_dsl::diagnostic::Code;
use pickup_dsl::evaluate::Evaluator;
use pickup_dsl::network::{Knobs, Network};
use pickup_dsl::positions::{Wanted, positions};
use pickup_dsl::resolve::{Library, Unreadable, compile};

#[path = "suite/cases.rs"]
mod cases;

/// The codes of all that is said of a file, by the compiler, the solver and a look at the bench.
fn said(case: &Case) -> BTreeSet<Code> {
    let compiled = compile("main.harness", case.main.as_deref().unwrap_or(""), case);
    let mut codes: BTreeSet<Code> = compiled.diagnostics.iter().map(|d| d.code).collect();
    let Some(harness) = compiled.harness else { return codes };
    let Ok(network) = Network::of(&harness) else {
        codes.insert(Code::CannotSolve);
        return codes;
    };
    let positions = positions(&harness, Wanted::default()).expect("few positions");
    let figures: Result<Vec<_>, _> = Evaluator::new(&harness, &network)
        .and_then(|e| positions.iter().map(|p| e.figures(p, &Knobs::default())).collect());
    match figures {
        Ok(figures) => codes.extend(check(&harness, &network, &positions, &figures).iter().map(|d| d.code)),
        Err(_) => _ = codes.insert(Code::CannotSolve),
    }
    codes
}

/// The two examples.
fn examples(code: Code) -> (Case, Case) {
    let mut found = cases(code.explanation()).into_iter();
    let mut next = |title: &str| {
        let case = found.next().unwrap_or_else(|| panic!("{}: no example `{title}`", code.text()));
        assert_eq!(case.title, title, "{}", code.text());
        case
    };
    let both = (next("Wrong"), next("Right"));
    assert!(found.next().is_none(), "{}: more than two examples", code.text());
    both
}

#[test]
fn every_wrong_example_says_its_code_and_no_other() {
    let wrong: Vec<_> = Code::ALL
        .iter()
        .map(|&code| (code.text(), said(&examples(code).0), code))
        .filter(|(_, said, code)| *said != BTreeSet::from([*code]))
        .collect();
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn every_right_example_says_nothing() {
    let wrong: Vec<_> = Code::ALL
        .iter()
        .map(|&code| (code.text(), said(&examples(code).1)))
        .filter(|(_, said)| !said.is_empty())
        .collect();
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn every_explanation_begins_with_its_code_and_title_and_says_why() {
    for &code in Code::ALL {
        let text = code.explanation();
        assert!(text.starts_with(&format!("# {}: {}\n\n", code.text(), code.title())), "{}", code.text());
        // What it means, and between the examples the reason.
        let prose = |part: &str| part.trim_end().ends_with('.') && part.contains(' ');
        let (meaning, rest) = text.split_once("## Wrong").expect("a wrong example");
        let (wrong, _) = rest.split_once("## Right").expect("a right example");
        let reason = wrong.rsplit("```").next().unwrap_or("");
        assert!(prose(meaning) && prose(reason), "{}", code.text());
    }
}

#[test]
fn a_used_file_of_an_example_is_found() {
    let (_, right) = examples(Code::BadPath);
    assert!(right.read("parts.harness").is_ok());
    assert_eq!(right.read("other.harness"), Err(Unreadable::Missing));
}
