//! What `check` finds, as JUnit XML: a test suite for each file, a test case for each expectation, warning and change.
//!
//! The elements and attributes are those that the schema of common CI servers knows (`junit-10.xsd`).

use std::fmt::Write as _;

use pickup_dsl::diagnostic::Diagnostic;

use crate::judged::{Judged, Looked};
use crate::xml::escaped;

/// One test case.
struct Case {
    name: String,
    outcome: Outcome,
}

enum Outcome {
    Good,
    Failure(String, String),
    Error(String, String),
}

/// The whole document.
pub(crate) fn text(all: &[Looked], strict: bool) -> String {
    let suites: Vec<(&Looked, Vec<Case>)> =
        all.iter().map(|looked| (looked, cases(looked, strict))).collect();
    let count =
        |of: &dyn Fn(&Outcome) -> bool, cases: &[Case]| cases.iter().filter(|c| of(&c.outcome)).count();
    let is_failure = |outcome: &Outcome| matches!(outcome, Outcome::Failure(..));
    let is_error = |outcome: &Outcome| matches!(outcome, Outcome::Error(..));
    let mut out =
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<testsuites name=\"coilwright check\">\n".to_owned();
    for (looked, cases) in &suites {
        let _ = writeln!(
            out,
            "  <testsuite name=\"{}\" tests=\"{}\" failures=\"{}\" errors=\"{}\" time=\"0\">",
            escaped(&looked.name),
            cases.len(),
            count(&is_failure, cases),
            count(&is_error, cases)
        );
        for case in cases {
            let head = format!(
                "    <testcase classname=\"{}\" name=\"{}\" time=\"0\"",
                escaped(&looked.name),
                escaped(&case.name)
            );
            let (element, message, text) = match &case.outcome {
                Outcome::Good => {
                    let _ = writeln!(out, "{head}/>");
                    continue;
                }
                Outcome::Failure(message, text) => ("failure", message, text),
                Outcome::Error(message, text) => ("error", message, text),
            };
            let _ = writeln!(
                out,
                "{head}>\n      <{element} message=\"{}\">{}</{element}>\n    </testcase>",
                escaped(message),
                escaped(text)
            );
        }
        out.push_str("  </testsuite>\n");
    }
    out.push_str("</testsuites>\n");
    out
}

fn cases(looked: &Looked, strict: bool) -> Vec<Case> {
    let mut cases = Vec::new();
    if let Some(failure) = &looked.failure {
        let texts: Vec<String> = looked.found.iter().map(|d| told(looked, d)).collect();
        let outcome = Outcome::Error(failure.to_string(), texts.join("\n"));
        cases.push(Case { name: "the file compiles".to_owned(), outcome });
        return cases;
    }
    cases.push(Case { name: "the file compiles".to_owned(), outcome: Outcome::Good });
    for warning in looked.found.iter().filter(|_| strict) {
        let name = format!("{}: {}", warning.code.text(), warning.message);
        let outcome = Outcome::Failure(warning.message.clone(), told(looked, warning));
        cases.push(Case { name, outcome });
    }
    for judged in &looked.judged {
        let outcome = match &judged.message {
            None => Outcome::Good,
            Some(message) => Outcome::Failure(message.message.clone(), told(looked, message)),
        };
        cases.push(Case { name: name(judged), outcome });
    }
    for (position, text) in &looked.changes {
        let name = format!("{position}: as in the record");
        cases.push(Case { name, outcome: Outcome::Failure(text.clone(), text.clone()) });
    }
    cases
}

/// An expectation in one line, with all that stands around its claim.
fn name(judged: &Judged) -> String {
    let variant = judged.variant.as_ref().map(|v| format!("[{v}] ")).unwrap_or_default();
    let places = match &judged.places[..] {
        [one] => format!(" {one}"),
        _ => String::new(),
    };
    format!("{variant}{}{places}", judged.expectation.text)
}

/// `file:line:column`, label, notes and help, a line each.
fn told(looked: &Looked, diagnostic: &Diagnostic) -> String {
    let span = diagnostic.primary.span;
    let place = looked.sources.place(span);
    let file = &looked.sources.get(span.file).name;
    let mut lines = vec![format!("{file}:{}:{}: {}", place.line, place.column, diagnostic.message)];
    lines.extend(Some(diagnostic.primary.text.clone()).filter(|text| !text.is_empty()));
    lines.extend(diagnostic.notes.iter().cloned());
    lines.extend(diagnostic.help.iter().cloned());
    lines.join("\n")
}
