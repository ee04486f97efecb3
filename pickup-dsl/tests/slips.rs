//! Slips that people really make, one a file in `slips/`: the file's name says what went wrong, the snapshot what is said of it.
//!
//! Each message names the place and what likely mends it, and one cause is said once.
#![cfg(feature = "render")]

use std::path::Path;

use pickup_dsl::diagnostic::{Severity, render_all};
use pickup_dsl::resolve::{Library, Unreadable};

#[path = "suite/bench.rs"]
mod bench;

/// The one file there is.
struct Itself(String);

impl Library for Itself {
    fn read(&self, path: &str) -> Result<String, Unreadable> {
        if path == "lantern.harness" { Ok(self.0.clone()) } else { Err(Unreadable::Missing) }
    }
}

fn slips() -> Vec<(String, String)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/slips");
    let mut all: Vec<(String, String)> = std::fs::read_dir(folder)
        .expect("a folder")
        .map(|entry| entry.expect("an entry").path())
        .filter(|path| path.extension().is_some_and(|e| e == "harness"))
        .map(|path| {
            let name = path.file_stem().expect("a name").to_string_lossy().into_owned();
            (name, std::fs::read_to_string(path).expect("text"))
        })
        .collect();
    all.sort();
    assert!(all.len() >= 60);
    all
}

#[test]
fn every_slip_is_said_once_with_its_place_and_what_mends_it() {
    let mut wrong = Vec::new();
    for (name, text) in slips() {
        let (sources, said) = bench::look("lantern.harness", &text, &Itself(text.clone()));
        if said.len() != 1 {
            wrong.push(format!("{name}: {} messages", said.len()));
        }
        for message in &said {
            let advice = message.help.is_some() || message.fix.is_some() || !message.notes.is_empty();
            if !advice || (sources.text(message.primary.span).is_empty() && message.help.is_none()) {
                wrong.push(format!("{name}: no advice"));
            }
        }
        insta::assert_snapshot!(format!("slip-{name}"), render_all(&sources, &said, false));
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// Where a mend is offered, it mends: the file with it says nothing of that place any more.
#[test]
fn mends_mend() {
    let mut left = Vec::new();
    for (name, text) in slips() {
        let (_, said) = bench::look("lantern.harness", &text, &Itself(text.clone()));
        let Some(fix) = said.first().and_then(|d| d.fix.clone()) else { continue };
        let mut mended = text.clone();
        mended.replace_range(fix.span.start as usize..fix.span.end as usize, &fix.replacement);
        let (_, after) = bench::look("lantern.harness", &mended, &Itself(mended.clone()));
        let errors = after.iter().filter(|d| d.severity == Severity::Error).count();
        if errors > 0 || after.len() > said.len() {
            left.push(format!("{name}: {:?}", after.iter().map(|d| &d.message).collect::<Vec<_>>()));
        }
    }
    // The second of a pair is mended by hand; a comment's text may go on to the end of its line.
    let known = ["property-of-another-part", "square-brackets", "true-minus"];
    left.retain(|l| !known.iter().any(|k| l.starts_with(k)));
    assert!(left.is_empty(), "{left:#?}");
}
