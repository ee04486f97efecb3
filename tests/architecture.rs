//! What must stay true of the code itself: who depends on whom, who may touch the outside world, how long a file may be.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use pickup_dsl::diagnostic::Code;

mod repository;

use repository::root;

/// Lines of the longest file, and of the longest file of tests.
const LONGEST: usize = 600;
const LONGEST_TESTS: usize = 700;

/// All Rust files of the workspace's own folders, with their text.
fn sources(folders: &[&str]) -> Vec<(PathBuf, String)> {
    let mut found = Vec::new();
    let mut open: Vec<PathBuf> = folders.iter().map(|f| root().join(f)).collect();
    while let Some(folder) = open.pop() {
        let Ok(entries) = fs::read_dir(&folder) else { continue };
        for entry in entries {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                open.push(path);
            } else if path.extension().is_some_and(|e| e == "rs") {
                let text = fs::read_to_string(&path).expect("UTF-8");
                found.push((path, text));
            }
        }
    }
    found.sort();
    found
}

/// The text without comments and without test modules, whether they stand in the file or are declared in it.
fn working_code(text: &str) -> String {
    let mut code = String::new();
    let mut lines = text.lines().filter(|l| !l.trim_start().starts_with("//")).peekable();
    while let Some(line) = lines.next() {
        let is_module = |l: &&str| ["mod ", "pub(crate) mod "].iter().any(|m| l.starts_with(m));
        if line == "#[cfg(test)]"
            && let Some(module) = lines.next_if(is_module)
        {
            if module.ends_with('{') {
                // As rustfmt writes it, only the module's own brace stands at the margin.
                lines.by_ref().find(|l| *l == "}");
            }
            continue;
        }
        code.push_str(line);
        code.push('\n');
    }
    code
}

/// Modules that exist for tests alone: `tests.rs`, `tests/…`, `bench.rs`.
fn is_for_tests(path: &Path) -> bool {
    let inside = path.strip_prefix(root()).unwrap_or(path);
    inside.with_extension("").iter().any(|step| step == "tests" || step == "bench")
}

/// Files of `folders` whose working code holds one of `words`.
fn offenders(folders: &[&str], words: &[&str]) -> Vec<String> {
    let mut found = Vec::new();
    for (path, text) in sources(folders) {
        if is_for_tests(&path) {
            continue;
        }
        let code = working_code(&text);
        for word in words {
            if code.contains(word) {
                found.push(format!("{}: {word}", path.display()));
            }
        }
    }
    found
}

fn dependencies(manifest: &str) -> String {
    let text = fs::read_to_string(root().join(manifest)).expect("a manifest");
    let start = text.find("[dependencies]").expect("dependencies");
    let rest = &text[start + 1..];
    rest[..rest.find("\n[").unwrap_or(rest.len())].to_owned()
}

#[test]
fn only_test_modules_are_passed_over() {
    let text = "a\n#[cfg(test)]\nmod tests;\nb // c\n    // d\n#[cfg(test)]\nuse e;\n#[cfg(test)]\nmod more {\n    f {\n    }\n}\ng\n";
    assert_eq!(working_code(text), "a\nb // c\n#[cfg(test)]\nuse e;\ng\n");
}

#[test]
fn dependencies_point_one_way() {
    let solver = dependencies("solver/Cargo.toml");
    let language = dependencies("pickup-dsl/Cargo.toml");
    for above in ["pickup-dsl", "coilwright", "serde", "clap"] {
        assert!(!solver.contains(above), "solver depends on {above}");
    }
    for above in ["coilwright", "serde", "clap"] {
        assert!(!language.contains(above), "pickup-dsl depends on {above}");
    }
    assert!(
        offenders(&["solver/src"], &["pickup", "guitar", "humbucker"]).is_empty(),
        "a guitar word in the solver"
    );
}

#[test]
fn the_libraries_touch_nothing_outside() {
    let found = offenders(
        &["solver/src", "pickup-dsl/src"],
        &[
            "std::fs",
            "std::env",
            "std::time",
            "std::net",
            "std::process",
            "std::io",
            "println!",
            "print!(",
            "eprint",
            "dbg!",
            "HashMap",
            "HashSet",
            "unsafe ",
        ],
    );
    assert!(found.is_empty(), "{found:#?}");
}

#[test]
fn one_file_reads_and_one_writes() {
    let touching = offenders(
        &["cli/src"],
        &["fs::", "File::", "println!", "print!(", "eprint", "io::stdout", "io::stderr", "anstream::"],
    );
    let others: Vec<&String> = touching
        .iter()
        .filter(|f| !f.contains("cli/src/input.rs") && !f.contains("cli/src/output.rs"))
        .collect();
    assert!(others.is_empty(), "{others:#?}");
    let reads = offenders(&["cli/src/"], &["read_to_end", "read_to_string", "File::open", "fs::read("]);
    assert!(reads.iter().all(|f| f.contains("cli/src/input.rs")), "{reads:#?}");
}

#[test]
fn files_are_short_and_named_for_what_they_hold() {
    for (path, text) in sources(&["solver", "pickup-dsl", "cli", "tests"]) {
        let lines = text.lines().count();
        let shown = path.display();
        let longest = if is_for_tests(&path) { LONGEST_TESTS } else { LONGEST };
        assert!(lines <= longest, "{shown} has {lines} lines");
        let stem = path.file_stem().and_then(|s| s.to_str()).unwrap_or("");
        assert!(
            !["mod", "utils", "util", "helpers", "misc", "common"].contains(&stem),
            "{shown}: no such name"
        );
    }
}

#[test]
fn imports_say_what_they_import() {
    let mut found = Vec::new();
    for (path, text) in sources(&["solver/src", "pickup-dsl/src", "cli/src"]) {
        if is_for_tests(&path) {
            continue;
        }
        for line in working_code(&text).lines() {
            if line.trim_start().starts_with("use ") && line.contains("::*") {
                found.push(format!("{}: {line}", path.display()));
            }
        }
    }
    assert!(found.is_empty(), "{found:#?}");
}

#[test]
fn every_code_is_registered_once() {
    let mut seen = BTreeSet::new();
    for code in Code::ALL {
        let text = code.text();
        let well_formed = text.len() == 4
            && text.starts_with(|c: char| c.is_ascii_uppercase())
            && text[1..].bytes().all(|b| b.is_ascii_digit());
        assert!(well_formed, "{text}");
        assert!(seen.insert(text), "{text} stands twice");
        assert!(!code.title().is_empty(), "{text} has no title");
    }
}
