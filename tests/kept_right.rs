//! What a file expects, judged; studies cut into parts, killed and resumed.

use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("a workspace").to_owned()
}

fn example() -> PathBuf {
    root().join("examples/21-kept-right.harness")
}

fn program(dir: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_coilwright"));
    command.current_dir(dir).env("NO_COLOR", "1");
    command
}

fn run(dir: &Path, arguments: &[&str]) -> Output {
    program(dir).args(arguments).output().expect("runs")
}

fn out(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).expect("text")
}

fn said(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).expect("text")
}

/// A folder with the example, and a copy in which the split is thinner.
fn folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    let text = std::fs::read_to_string(example()).expect("an example");
    std::fs::write(folder.path().join("good.harness"), &text).expect("written");
    let worse = text.replace("resistor R1 1k5", "resistor R1 220");
    assert_ne!(worse, text);
    std::fs::write(folder.path().join("worse.harness"), worse).expect("written");
    folder
}

#[test]
fn a_worsened_copy_fails_with_the_lines_that_say_so() {
    let folder = folder();
    let good = run(folder.path(), &["check", "--strict", "good.harness"]);
    assert_eq!(good.status.code(), Some(0), "{}", said(&good));
    let worse = run(folder.path(), &["check", "good.harness", "worse.harness", "--quiet"]);
    assert_eq!(worse.status.code(), Some(1));
    insta::assert_snapshot!("check-worse", format!("{}---\n{}", out(&worse), said(&worse)));
    // Quiet and good: not a word.
    let quiet = run(folder.path(), &["check", "--quiet", "good.harness"]);
    assert_eq!((out(&quiet).as_str(), said(&quiet).as_str()), ("", ""));
    insta::assert_snapshot!("check-expected", out(&run(folder.path(), &["check", "good.harness"])));
}

#[test]
fn patterns_are_files_in_order_of_their_names() {
    let folder = folder();
    let both = run(folder.path(), &["check", "*.harness", "--json"]);
    let document: serde_json::Value = serde_json::from_str(&out(&both)).expect("JSON");
    let names: Vec<_> =
        document["files"].as_array().expect("files").iter().map(|f| f["file"].clone()).collect();
    assert_eq!(names, ["good.harness", "worse.harness"]);
    let exits: Vec<_> =
        document["files"].as_array().expect("files").iter().map(|f| f["exit"].clone()).collect();
    assert_eq!(exits, [0, 1]);
    let none = run(folder.path(), &["check", "*.harnes"]);
    assert_eq!(none.status.code(), Some(2));
    assert!(said(&none).contains("no file fits `*.harnes`"), "{}", said(&none));
}

#[test]
fn documents_for_other_programs_tell_the_same() {
    let folder = folder();
    std::fs::write(folder.path().join("broken.harness"), "coilwright 1\nwier a to b\n").expect("written");
    let files = ["good.harness", "worse.harness", "broken.harness"];
    let of = |form: &str| {
        let output = run(folder.path(), &[&["check"][..], &files, &[form]].concat());
        assert_eq!(output.status.code(), Some(2), "{}", said(&output));
        out(&output)
    };
    insta::assert_snapshot!("check-junit", of("--junit"));
    let log: serde_json::Value = serde_json::from_str(&of("--sarif")).expect("JSON");
    let results = log["runs"][0]["results"].as_array().expect("results");
    let rules = log["runs"][0]["tool"]["driver"]["rules"].as_array().expect("rules");
    for result in results {
        assert!(rules.iter().any(|rule| rule["id"] == result["ruleId"]), "{result}");
    }
    let failing: Vec<_> = results.iter().filter(|r| r["ruleId"] == "X901").collect();
    assert_eq!(failing.len(), 1, "{failing:#?}");
    let place = &failing[0]["locations"][0]["physicalLocation"];
    assert_eq!(place["artifactLocation"]["uri"], "worse.harness");
    let text = std::fs::read_to_string(folder.path().join("worse.harness")).expect("read");
    let line = place["region"]["startLine"].as_u64().expect("a line") as usize;
    assert!(text.lines().nth(line - 1).expect("a line").contains("level at most 5.5dB"), "{place}");
    assert_eq!(log["runs"][0]["invocations"][0]["executionSuccessful"], false);
}

/// The bytes of a kept study.
fn kept(folder: &Path, name: &str) -> String {
    std::fs::read_to_string(folder.join(name)).expect("kept")
}

#[test]
fn parts_merge_to_the_very_study() {
    let folder = folder();
    let study = |more: &[&str]| {
        let arguments = [&["study", "good.harness", "--samples", "60"][..], more].concat();
        let output = run(folder.path(), &arguments);
        assert_eq!(output.status.code(), Some(0), "{}", said(&output));
        out(&output)
    };
    let whole = study(&["--keep", "whole.study"]);
    for k in ["1", "2", "3"] {
        study(&["--shard", &format!("{k}/3"), "--keep", &format!("{k}.study")]);
    }
    // In another order, and on any number of threads.
    let merged = run(folder.path(), &["study", "--merge", "3.study", "1.study", "2.study"]);
    assert_eq!(out(&merged), whole);
    let json = |arguments: &[&str]| out(&run(folder.path(), arguments));
    assert_eq!(
        json(&["study", "--merge", "2.study", "3.study", "1.study", "--json"]),
        json(&["study", "good.harness", "--samples", "60", "--json"])
    );
    let one = program(folder.path())
        .env("RAYON_NUM_THREADS", "1")
        .args(["study", "good.harness", "--samples", "60", "--keep", "one.study"])
        .output()
        .expect("runs");
    assert_eq!(one.status.code(), Some(0));
    assert_eq!(kept(folder.path(), "one.study"), kept(folder.path(), "whole.study"));
    insta::assert_snapshot!("study", whole);
}

#[test]
fn parts_of_other_studies_are_refused() {
    let folder = folder();
    let keep = |file: &str, seed: &str, name: &str| {
        run(folder.path(), &["study", file, "--samples", "4", "--seed", seed, "--keep", name])
    };
    assert_eq!(keep("good.harness", "1", "a.study").status.code(), Some(0));
    assert_eq!(keep("good.harness", "2", "b.study").status.code(), Some(0));
    assert_eq!(keep("worse.harness", "1", "c.study").status.code(), Some(0));
    std::fs::write(folder.path().join("d.study"), "{}").expect("written");
    for (other, why) in [
        ("a.study", "sample 0 is in both"),
        ("b.study", "it has another seed"),
        ("c.study", "it has another guitar, or text of its file"),
        ("d.study", "is no kept study"),
        ("good.harness", "is no kept study"),
    ] {
        let output = run(folder.path(), &["study", "--merge", "a.study", other]);
        assert_eq!(output.status.code(), Some(2));
        assert!(said(&output).contains(why), "{other}: {}", said(&output));
    }
    // Nor is a study kept in the place of another, or of a harness.
    for taken in ["b.study", "good.harness"] {
        let before = kept(folder.path(), taken);
        assert_eq!(keep("good.harness", "1", taken).status.code(), Some(2));
        assert_eq!(kept(folder.path(), taken), before);
    }
}

#[test]
fn a_study_that_is_killed_loses_nothing_that_was_saved() {
    let folder = folder();
    let arguments =
        ["study", "good.harness", "--samples", "900", "--position", "Bridge", "--keep", "k.study"];
    let mut child = program(folder.path())
        .args(arguments)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .expect("runs");
    let builds = || -> u64 {
        let Ok(text) = std::fs::read_to_string(folder.path().join("k.study")) else { return 0 };
        let document: serde_json::Value = serde_json::from_str(&text).expect("whole at any time");
        let ranges = document["builds"].as_array().expect("ranges");
        ranges.iter().map(|r| r[1].as_u64().expect("an end") - r[0].as_u64().expect("a start")).sum()
    };
    // Not before something was saved, and not for ever.
    let patience = Instant::now();
    while builds() == 0 && child.try_wait().expect("a child").is_none() {
        assert!(patience.elapsed() < Duration::from_secs(120), "nothing was saved");
        std::thread::sleep(Duration::from_millis(20));
    }
    let _ = child.kill();
    let _ = child.wait();
    let saved = builds();
    assert!(saved > 0);
    let resumed = run(folder.path(), &arguments);
    assert_eq!(resumed.status.code(), Some(0), "{}", said(&resumed));
    assert_eq!(builds(), 900);
    let straight = ["study", "good.harness", "--samples", "900", "--position", "Bridge", "--keep", "s.study"];
    assert_eq!(run(folder.path(), &straight).status.code(), Some(0));
    assert_eq!(kept(folder.path(), "k.study"), kept(folder.path(), "s.study"));
}

#[test]
fn a_build_is_shown_by_its_number() {
    let folder = folder();
    let build =
        out(&run(folder.path(), &["study", "good.harness", "--sample", "17", "--position", "Bridge"]));
    insta::assert_snapshot!("study-build", build);
}

#[test]
fn a_stored_curve_holds_until_a_part_changes() {
    let folder = folder();
    let stored =
        run(folder.path(), &["curves", "good.harness", "--position", "Bridge, split", "--statement", "was"]);
    assert_eq!(stored.status.code(), Some(0), "{}", said(&stored));
    let expected = "\nexpect response within 0.1dB of was from 40Hz to 15kHz, in \"Bridge, split\"\n";
    for (name, code) in [("good.harness", 0), ("worse.harness", 1)] {
        let path = folder.path().join(name);
        let text = std::fs::read_to_string(&path).expect("read") + "\n" + &out(&stored) + expected;
        std::fs::write(&path, text).expect("written");
        let checked = run(folder.path(), &["check", name]);
        assert_eq!(checked.status.code(), Some(code), "{}", said(&checked));
    }
    let two = run(folder.path(), &["curves", "good.harness", "--statement", "was"]);
    assert_eq!(two.status.code(), Some(2));
}

#[test]
fn bands_are_drawn_around_curves() {
    let folder = folder();
    let arguments = ["plot", "good.harness", "--position", "Bridge", "--position", "Neck", "--svg"];
    let plain = out(&run(folder.path(), &arguments));
    let banded = run(folder.path(), &[&arguments[..], &["--builds", "40"]].concat());
    assert_eq!(banded.status.code(), Some(0), "{}", said(&banded));
    let banded = out(&banded);
    assert_eq!(banded.matches("<path class=\"b").count(), 2);
    assert!(!plain.contains("path.b0"));
    assert!(banded.contains("nine of ten of 40 builds"));
    // The curves themselves stay where they were.
    let curves = |svg: &str| -> Vec<String> {
        svg.lines().filter(|line| line.starts_with("<path class=\"curve")).map(str::to_owned).collect()
    };
    assert_eq!(curves(&plain), curves(&banded));
}
