//! Files taken apart and put together again, for tests that redraw or spoil them.

use pickup_dsl::harness::Harness;
use pickup_dsl::resolve::{Library, Unreadable, compile};

use crate::repository::root;

struct Folder;

impl Library for Folder {
    fn read(&self, path: &str) -> Result<String, Unreadable> {
        std::fs::read_to_string(root().join("examples").join(path)).map_err(|_| Unreadable::Missing)
    }
}

pub(crate) fn harness(text: &str) -> Option<Harness> {
    compile("guitar.harness", text, &Folder).harness
}

/// Top-level statements, each with its lines; comments and empty lines left out.
pub(crate) fn statements(text: &str) -> Vec<String> {
    let (mut all, mut current, mut depth) = (Vec::new(), String::new(), 0_i32);
    for line in text.lines() {
        let bare = line.split("--").next().unwrap_or_default();
        if bare.trim().is_empty() {
            continue;
        }
        current.push_str(bare.trim_end());
        current.push('\n');
        depth += bare.matches(['{', '(']).count() as i32 - bare.matches(['}', ')']).count() as i32;
        if depth == 0 {
            all.push(std::mem::take(&mut current));
        }
    }
    all
}

/// The lugs of a plain wire `wire A to B to C`.
pub(crate) fn chain(statement: &str) -> Option<Vec<&str>> {
    let lugs = statement.strip_prefix("wire ")?;
    (!lugs.contains([',', '('])).then(|| lugs.trim().split(" to ").map(str::trim).collect())
}

pub(crate) fn joined(statements: &[String]) -> String {
    statements.concat()
}

/// The lug after this one in its part, as the file would say it.
fn neighbour(harness: &Harness, lug: &str) -> Option<String> {
    let all: Vec<String> =
        (0..harness.lugs.len() as u32).map(|i| harness.lug_name(pickup_dsl::harness::LugId(i))).collect();
    let at = all.iter().position(|name| name == lug)?;
    let part = harness.lugs[at].part;
    let of_part: Vec<&String> =
        (0..all.len()).filter(|&i| harness.lugs[i].part == part).map(|i| &all[i]).collect();
    let place = of_part.iter().position(|name| *name == lug)?;
    (of_part.len() > 1).then(|| of_part[(place + 1) % of_part.len()].clone())
}

/// A wire's end on the lug beside its own.
pub(crate) struct Misplaced {
    /// As the file says it.
    pub(crate) statement: String,
    /// The lug where it belongs.
    pub(crate) from: String,
    /// The lug where it sits.
    pub(crate) on: String,
    /// The spoilt file.
    pub(crate) harness: Harness,
}

/// Every end of every plain wire once on the lug after its own, where that compiles.
pub(crate) fn misplaced(original: &str) -> Vec<Misplaced> {
    let sound = harness(original).expect("compiles");
    let all = statements(original);
    let mut found = Vec::new();
    for (place, statement) in all.iter().enumerate() {
        let Some(lugs) = chain(statement) else { continue };
        for end in 0..lugs.len() {
            let Some(on) = neighbour(&sound, lugs[end]) else { continue };
            let mut changed: Vec<&str> = lugs.clone();
            changed[end] = &on;
            let mut mutated = all.clone();
            mutated[place] = format!("wire {}\n", changed.join(" to "));
            if let Some(harness) = harness(&joined(&mutated)) {
                found.push(Misplaced {
                    statement: statement.clone(),
                    from: lugs[end].to_owned(),
                    on,
                    harness,
                });
            }
        }
    }
    found
}
