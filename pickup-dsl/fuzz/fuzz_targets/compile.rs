//! A text compiles or says why; what compiles has lugs where its joints end, and a circuit or a reason why not.
//!
//! A line `--file` parts files: the first is the main one, the others are called `0`, `1` …
#![no_main]

use libfuzzer_sys::fuzz_target;
use pickup_dsl::diagnostic::{Severity, render_all};
use pickup_dsl::network::Network;
use pickup_dsl::positions::{Wanted, positions};
use pickup_dsl::resolve::{Library, Unreadable, compile};

struct Files<'a>(Vec<&'a str>);

impl Library for Files<'_> {
    fn read(&self, path: &str) -> Result<String, Unreadable> {
        let index: usize = path.parse().map_err(|_| Unreadable::Missing)?;
        self.0.get(index).map(|text| (*text).to_owned()).ok_or(Unreadable::Missing)
    }
}

fuzz_target!(|text: &str| {
    let mut files = text.split("\n--file\n");
    let main = files.next().unwrap_or("");
    let compiled = compile("fuzz", main, &Files(files.collect()));
    let errors = compiled.diagnostics.iter().any(|d| d.severity == Severity::Error);
    assert_eq!(compiled.harness.is_none(), errors);
    let _ = render_all(&compiled.sources, &compiled.diagnostics, false);
    let Some(harness) = compiled.harness else { return };
    let lugs = harness.lugs.len() as u32;
    assert!(harness.joints.iter().all(|j| j.a.0 < lugs && j.b.0 < lugs && j.a != j.b));
    assert!(harness.ground.0 < lugs && !harness.outlets.is_empty());
    if lugs < 400 {
        // A reason is an answer.
        _ = Network::of(&harness);
        _ = positions(&harness, Wanted::default());
    }
});
