//! Where the tests find the repository's own files.
#![allow(dead_code, reason = "a module of every test; each uses what it needs")]

use std::path::{Path, PathBuf};

/// The workspace.
pub(crate) fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("the workspace").to_owned()
}

/// The harnesses of a folder, sorted.
pub(crate) fn harnesses(folder: &str) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(root().join(folder)).expect("a folder");
    let mut all: Vec<PathBuf> = entries.map(|e| e.expect("an entry").path()).collect();
    all.retain(|p| p.extension().is_some_and(|e| e == "harness"));
    all.sort();
    assert!(all.len() >= 10, "{folder}: {all:?}");
    all
}

/// Every example.
pub(crate) fn examples() -> Vec<PathBuf> {
    harnesses("examples")
}
