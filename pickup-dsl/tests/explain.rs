//! Each code's explanation: its wrong example says exactly that code, its right one says nothing, from the text to the bench.

use std::collections::BTreeSet;

use cases::{Case, cases};
use pickup_dsl::diagnostic::Code;
use pickup_dsl::resolve::{Library, NoFiles, Unreadable, compile};

#[path = "suite/bench.rs"]
mod bench;
#[path = "suite/cases.rs"]
mod cases;

/// The codes of all that is said of a file.
fn said(case: &Case) -> BTreeSet<Code> {
    bench::look("main.harness", case.main.as_deref().unwrap_or(""), case).1.iter().map(|d| d.code).collect()
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

#[test]
fn every_switch_body_stands_by_itself() {
    let bodies: Vec<_> = pickup_dsl::resolve::bodies().collect();
    assert!(bodies.len() >= 14, "{bodies:?}");
    for (name, body) in bodies {
        let own = body.replacen(&format!("switch {name}"), "switch own", 1);
        let text = format!(
            "coilwright 1\n\n{own}\n\nswitch s is own\ncoil a 6k 2H\njack out\nwire a.start to out.tip\nwire a.finish to out.sleeve\n"
        );
        let compiled = compile("body", &text, &NoFiles);
        assert!(compiled.harness.is_some(), "{name}: {:#?}", compiled.diagnostics);
    }
}
