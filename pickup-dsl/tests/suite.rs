//! Runs the Markdown cases of `suite/` and the examples of LANGUAGE.md.
//!
//! A case is a heading, prose, then blocks: ` ```harness ` is the main file, ` ```harness NAME ` a file that it may use, and
//! ` ```expect ` lists everything that is said of it, in order:
//!
//! ```text
//! error N403 5:11 fragment of the message | fragment of what helps
//! ```
//!
//! Place is line and column, with `NAME:` before it when it is in a used file. A second fragment must be in the help, the notes, a
//! label or the mend. A case without `expect` compiles without a word.

use std::fmt::Write as _;

use cases::{Case, cases};

use pickup_dsl::diagnostic::{Diagnostic, Severity};
use pickup_dsl::resolve::{Compiled, compile};
use pickup_dsl::source::Sources;

#[path = "suite/bench.rs"]
mod bench;
#[path = "suite/cases.rs"]
mod cases;

fn place(sources: &Sources, diagnostic: &Diagnostic) -> String {
    let span = diagnostic.primary.span;
    let place = sources.place(span);
    let file = if span.file == 0 { String::new() } else { format!("{}:", sources.get(span.file).name) };
    format!("{file}{}:{}", place.line, place.column)
}

fn severity(diagnostic: &Diagnostic) -> &'static str {
    match diagnostic.severity {
        Severity::Error => "error",
        Severity::Warning => "warning",
    }
}

/// All that is said beside the message.
fn aside(diagnostic: &Diagnostic) -> String {
    let labels = diagnostic.secondary.iter().map(|l| l.text.as_str());
    let mut all: Vec<&str> = std::iter::once(diagnostic.primary.text.as_str()).chain(labels).collect();
    all.extend(diagnostic.notes.iter().map(String::as_str));
    all.extend(diagnostic.help.as_deref());
    all.extend(diagnostic.fix.as_ref().map(|f| f.replacement.as_str()));
    all.join(" / ")
}

fn line(sources: &Sources, diagnostic: &Diagnostic) -> String {
    let head = format!(
        "{} {} {} {}",
        severity(diagnostic),
        diagnostic.code.text(),
        place(sources, diagnostic),
        diagnostic.message
    );
    let aside = aside(diagnostic);
    if aside.is_empty() { head } else { format!("{head} | {aside}") }
}

fn agrees(sources: &Sources, diagnostic: &Diagnostic, expected: &str) -> bool {
    let (message, help) = expected.split_once(" | ").unwrap_or((expected, ""));
    let head = format!("{} {} {} ", severity(diagnostic), diagnostic.code.text(), place(sources, diagnostic));
    message.strip_prefix(&head).is_some_and(|fragment| diagnostic.message.contains(fragment))
        && aside(diagnostic).contains(help)
}

/// What is wrong with a case, if anything.
fn check(case: &Case) -> Option<String> {
    let Compiled { sources, harness, diagnostics, .. } =
        compile("main.harness", case.main.as_deref().unwrap_or(""), case);
    let good = diagnostics.len() == case.expect.len()
        && diagnostics.iter().zip(&case.expect).all(|(d, e)| agrees(&sources, d, e))
        && harness.is_none() == diagnostics.iter().any(|d| d.severity == Severity::Error);
    if good {
        return None;
    }
    let mut out = format!("## {}\nsaid:\n", case.title);
    for diagnostic in &diagnostics {
        let _ = writeln!(out, "{}", line(&sources, diagnostic));
    }
    let _ = writeln!(out, "expected:\n{}", case.expect.join("\n"));
    Some(out)
}

fn run(markdown: &str) {
    let cases = cases(markdown);
    assert!(!cases.is_empty());
    let wrong: Vec<_> = cases.iter().filter_map(check).collect();
    assert!(wrong.is_empty(), "{} of {} cases:\n{}", wrong.len(), cases.len(), wrong.join("\n"));
}

macro_rules! suites {
    ($($name:ident)*) => {
        $(#[test]
        fn $name() {
            run(include_str!(concat!("suite/", stringify!($name), ".md")));
        })*
    };
}

suites! { slips files values names coils pots switches wires chain positions patterns bench intents geometry expect }

#[test]
fn every_example_of_the_language_compiles() {
    let text = include_str!("../LANGUAGE.md");
    let cases = cases(text);
    assert!(!cases.is_empty());
    for case in cases {
        let (sources, found) = bench::look("main.harness", case.main.as_deref().unwrap_or(""), &case);
        let said: Vec<_> = found.iter().map(|d| line(&sources, d)).collect();
        assert!(said.is_empty(), "{}:\n{}", case.title, said.join("\n"));
    }
}
