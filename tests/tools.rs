//! What helps with writing harnesses: `explain`, `format`, `install`.

use std::io::Write;
use std::path::Path;
use std::process::Stdio;

mod repository;
mod terminal;

use repository::{examples, root};
use terminal::{code, coilwright, folder, session};

const NEAT: &str = "coilwright 1\ncoil lead 6.5k 2.8H, pole south  -- old\njack out\n";
const LOOSE: &str = "coilwright 1\n\n\n coil   lead 6.5k 2.8H ,pole south -- old\njack   out\n";
/// One line can't be read.
const BROKEN: &str = "coilwright 1\ncoil   lead 6.5k   2.8H\nwire   lead.start  to (  out.tip\njack   out\n";

fn fed(args: &[&str], input: &str) -> (i32, String, String) {
    let mut child = coilwright(&root())
        .args(args)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("runs");
    child.stdin.take().expect("a pipe").write_all(input.as_bytes()).expect("fed");
    let out = child.wait_with_output().expect("ends");
    let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).expect("UTF-8");
    (code(&out), text(&out.stdout), text(&out.stderr))
}

fn read(folder: &Path, name: &str) -> String {
    std::fs::read_to_string(folder.join(name)).expect("read")
}

#[test]
fn a_code_is_explained() {
    let here = root();
    insta::assert_snapshot!("explain-one", session(&here, &["explain", "n403"]));
    insta::assert_snapshot!("explain-files", session(&here, &["explain", "F702"]));
    insta::assert_snapshot!("explain-unknown", session(&here, &["explain", "N999"]));
    let list = session(&here, &["explain"]);
    assert!(list.contains("\nN403  a lug that the part does not have\n"), "{list}");
}

#[test]
fn one_file_goes_to_standard_output() {
    let dir = folder(&[("loose.harness", LOOSE), ("neat.harness", NEAT)]);
    let dir = dir.path();
    let out = coilwright(dir).args(["format", "loose.harness"]).output().expect("runs");
    assert_eq!(
        (code(&out), String::from_utf8_lossy(&out.stdout).as_ref()),
        (0, "coilwright 1\n\ncoil lead 6.5k 2.8H, pole south  -- old\njack out\n")
    );
    assert_eq!(read(dir, "loose.harness"), LOOSE, "not written unasked");
    let out = coilwright(dir).args(["format", "loose.harness", "neat.harness"]).output().expect("runs");
    assert_eq!(code(&out), 2);
    assert_eq!(fed(&["format", "-"], NEAT), (0, NEAT.to_owned(), String::new()));
}

#[test]
fn files_are_written_only_when_asked() {
    let dir = folder(&[("loose.harness", LOOSE), ("neat.harness", NEAT), ("broken.harness", BROKEN)]);
    let dir = dir.path();
    let run = |args: &[&str]| {
        let out = coilwright(dir).arg("format").args(args).output().expect("runs");
        assert!(out.stdout.is_empty());
        (code(&out), String::from_utf8(out.stderr).expect("UTF-8"))
    };
    assert_eq!(run(&["--check", "neat.harness"]), (0, String::new()));
    assert_eq!(
        run(&["--check", "neat.harness", "loose.harness"]),
        (1, "loose.harness: would change\n".into())
    );
    assert_eq!(run(&["--check", "loose.harness", "nowhere.harness"]).0, 2);
    assert_eq!(read(dir, "loose.harness"), LOOSE);
    assert_eq!(run(&["--in-place", "loose.harness", "neat.harness"]), (0, String::new()));
    assert_eq!(run(&["--check", "loose.harness", "neat.harness"]), (0, String::new()));
    let (exit, said) = run(&["--in-place", "broken.harness"]);
    assert_eq!(exit, 0);
    assert!(said.contains("broken.harness: 1 error; such lines stay as they are"), "{said}");
    let written = read(dir, "broken.harness");
    assert!(
        written.contains("\nwire   lead.start  to (  out.tip\n") && written.contains("\njack out\n"),
        "{written}"
    );
    assert_eq!(run(&["--in-place", "-"]).0, 2);
    assert_eq!(run(&["--in-place", "--check", "neat.harness"]).0, 2);
}

#[test]
fn a_file_of_another_version_is_not_touched() {
    let (exit, out, said) = fed(&["format", "-"], "coilwright 2\ncoil   lead\n");
    assert_eq!((exit, out.as_str()), (2, ""));
    assert!(said.contains("S302"), "{said}");
}

#[cfg(unix)]
#[test]
fn a_link_is_not_replaced() {
    let dir = folder(&[("loose.harness", LOOSE)]);
    std::os::unix::fs::symlink("loose.harness", dir.path().join("link.harness")).expect("a link");
    let out = coilwright(dir.path()).args(["format", "-i", "link.harness"]).output().expect("runs");
    assert_eq!(code(&out), 2);
    assert_eq!(read(dir.path(), "loose.harness"), LOOSE);
}

/// Formatting an example changes nothing that the program says of it.
#[test]
fn meaning_stays() {
    for example in examples().into_iter().take(4) {
        let text = std::fs::read_to_string(&example).expect("read");
        let (exit, formatted, _) = fed(&["format", "-"], &text);
        assert_eq!(exit, 0);
        let dir = folder(&[("before.harness", &text), ("after.harness", &formatted)]);
        let report =
            |name: &str| coilwright(dir.path()).args(["report", name]).output().expect("runs").stdout;
        assert_eq!(report("before.harness"), report("after.harness"), "{}", example.display());
    }
}

#[test]
fn completions_and_manual_name_every_command() {
    let commands = ["report", "curves", "plot", "wiring", "check", "explain", "format", "install"];
    for what in [&["completions", "bash"][..], &["completions", "zsh"], &["completions", "fish"], &["manual"]]
    {
        let out = coilwright(&root()).arg("install").args(what).output().expect("runs");
        assert_eq!(code(&out), 0);
        let text = String::from_utf8(out.stdout).expect("UTF-8").to_lowercase();
        for command in commands {
            assert!(text.contains(command), "{what:?}: {command}");
        }
    }
}
