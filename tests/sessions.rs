//! What a person at the terminal sees: each session is a command with its exit code and both streams.
//! Snapshots stand in tests/snapshots; numbers in them have at most six significant digits.

use std::io::Read;
use std::path::Path;
use std::process::Stdio;

mod repository;
mod terminal;

use repository::{examples, root};
use terminal::{code, coilwright, folder, session};

const PLAIN: &str = "\
coilwright 1
guitar \"Plain\"
coil lead 6.5k 2.8H 110pF, loss 300k/H, pole south
pot volume 250k audio, role volume
jack out
strings tailpiece
cable 5m 100pF/m
amp 1M
wire lead.start to volume.3
wire volume.2 to out.tip
wire volume.case to (volume.1, lead.finish, out.sleeve, tailpiece)
";

const WRONG: &str = "\
coilwright 1
coil lead 6.5k 2.8H 110pF
pot volume 250k audio, role volume
capacitor C1 22m
jack out
wire lead.start to volume.4
wire volume.2 to out.tpi
wire volume.1 to (lead.finish, out.sleeve)
";

#[test]
fn help() {
    let here = root();
    insta::assert_snapshot!("help", session(&here, &["--help"]));
    for command in [
        "report",
        "curves",
        "plot",
        "wiring",
        "draw",
        "harmonics",
        "sheet",
        "card",
        "faults",
        "record",
        "check",
        "explain",
        "format",
        "install",
    ] {
        insta::assert_snapshot!(format!("help-{command}"), session(&here, &[command, "--help"]));
    }
}

#[test]
fn tables() {
    let examples = root().join("examples");
    insta::assert_snapshot!("report-one-coil", session(&examples, &["report", "01-one-coil.harness"]));
    insta::assert_snapshot!(
        "report-two-humbuckers",
        session(&examples, &["report", "10-two-humbuckers.harness"])
    );
    insta::assert_snapshot!(
        "report-one-position",
        session(&examples, &["report", "01-one-coil.harness", "--position", "rest", "--knob", "tone=3"])
    );
}

#[test]
fn a_plot_and_a_wiring() {
    let examples = root().join("examples");
    insta::assert_snapshot!("plot-partial-split", session(&examples, &["plot", "03-partial-split.harness"]));
    insta::assert_snapshot!(
        "wiring-partial-split",
        session(&examples, &["wiring", "03-partial-split.harness"])
    );
}

/// The example's record is kept beside it; a guitar made worse fails against it, with the lines that say how.
#[test]
fn a_guitar_against_its_record() {
    let examples = root().join("examples");
    let text = std::fs::read_to_string(examples.join("03-partial-split.harness")).expect("an example");
    let folder = tempfile::tempdir().expect("a folder");
    let record = std::fs::read_to_string(examples.join("03-partial-split.record")).expect("a record");
    std::fs::write(folder.path().join("split.record"), &record).expect("written");
    std::fs::write(folder.path().join("same.harness"), &text).expect("written");
    let worse = text.replace("R1 820", "R1 22").replace("position \"Full\"", "position \"All of it\"");
    assert_ne!(worse, text);
    std::fs::write(folder.path().join("worse.harness"), worse).expect("written");
    let of = |arguments: &[&str]| session(folder.path(), arguments);
    insta::assert_snapshot!("record-same", of(&["check", "same.harness", "--against", "split.record"]));
    insta::assert_snapshot!("record-worse", of(&["check", "worse.harness", "--against", "split.record"]));
    insta::assert_snapshot!(
        "record-loose",
        of(&["check", "worse.harness", "--against", "split.record", "--loosen", "1000"])
    );
    insta::assert_snapshot!("record-none", of(&["check", "same.harness", "--against", "worse.harness"]));
    let made = session(&examples, &["record", "03-partial-split.harness"]);
    assert!(
        made.contains(&record),
        "record it again: coilwright record 03-partial-split.harness --overwrite --output 03-partial-split.record"
    );
}

#[test]
fn pages_for_the_bench() {
    let examples = root().join("examples");
    for command in ["sheet", "card", "faults"] {
        insta::assert_snapshot!(
            format!("{command}-partial-split"),
            session(&examples, &[command, "03-partial-split.harness"])
        );
    }
    insta::assert_snapshot!(
        "sheet-leads",
        session(&examples, &["sheet", "02-series-split-parallel.harness", "--markdown"])
    );
    insta::assert_snapshot!(
        "card-active",
        session(&examples, &["card", "18-piezo-and-battery.harness", "--room", "28"])
    );
    insta::assert_snapshot!("report-active", session(&examples, &["report", "18-piezo-and-battery.harness"]));
    insta::assert_snapshot!("card-two-outputs", session(&examples, &["card", "19-two-outputs.harness"]));
    insta::assert_snapshot!(
        "card-hot-room",
        session(&examples, &["card", "03-partial-split.harness", "--room", "200"])
    );
}

#[test]
fn harmonics_of_a_string() {
    let examples = root().join("examples");
    let of = |more: &[&str]| session(&examples, &[&["harmonics"], more].concat());
    let wound = "20-wound-coils-and-strings.harness";
    insta::assert_snapshot!(
        "harmonics",
        of(&[wound, "--position", "Both", "--string", "6", "--fret", "3", "--knob", "tone=5"])
    );
    insta::assert_snapshot!("harmonics-octave", of(&[wound, "--string", "1", "--fret", "24", "--even"]));
    insta::assert_snapshot!("harmonics-no-string", of(&[wound, "--string", "7"]));
    insta::assert_snapshot!("harmonics-no-fret", of(&[wound, "--string", "1", "--fret", "40"]));
    let two = of(&[wound, "--position", "Both", "--position", "Neck"]);
    assert!(two.contains("exit code 2") && two.contains("a table is of one position"), "{two}");
    insta::assert_snapshot!("harmonics-no-geometry", of(&["01-one-coil.harness"]));
    insta::assert_snapshot!("report-wound-coils", session(&examples, &["report", wound, "--short"]));
}

#[test]
fn no_table_is_wider_than_a_hundred_columns() {
    for example in examples() {
        let out = coilwright(&root()).arg("report").arg(&example).output().expect("runs");
        for line in String::from_utf8(out.stdout).expect("UTF-8").lines() {
            let width = line.chars().count();
            assert!(width <= 100, "{}: {width} columns: {line}", example.display());
        }
    }
}

/// One switch mutes, the other does nothing.
const IDLE: &str = "\
switch kill is push-pull
switch idle is push-pull
wire kill.A.common to volume.2
wire kill.A.up to volume.1
wire volume.case to kill.frame to idle.frame
";

#[test]
fn long_names_are_wrapped() {
    let name = "the sound for the last slow song of a wedding, when the aunts begin to yawn..";
    assert_eq!(name.len(), 77);
    let title = format!("{name} {name}");
    let text = PLAIN.replace("Plain", &title) + &format!("position \"{name}\"\n");
    let dir = folder(&[("long.harness", &text)]);
    for (args, width) in [
        (&["plot", "long.harness", "--width", "60"][..], 60),
        (&["plot", "long.harness", "--width", "40", "--position", "rest"], 40),
        (&["plot", "long.harness"], 100),
        (&["report", "long.harness"], 100),
        (&["wiring", "long.harness"], 100),
    ] {
        let out = coilwright(dir.path()).args(args).output().expect("runs");
        assert_eq!(code(&out), 0);
        let said = String::from_utf8(out.stdout).expect("UTF-8");
        let longest = said.lines().map(|l| l.chars().count()).max();
        assert!(longest <= Some(width), "{args:?}: {longest:?}\n{said}");
        assert!(said.contains("aunts"), "{said}");
    }
}

#[test]
fn a_plot_shows_sounds_that_differ() {
    let dir = folder(&[("idle.harness", &format!("{PLAIN}{IDLE}position \"Off\" kill up\n"))]);
    let legend = |folder: &Path, file: &str| {
        let out = coilwright(folder).args(["plot", file]).output().expect("runs");
        assert_eq!(code(&out), 0, "{}", String::from_utf8_lossy(&out.stderr));
        let said = String::from_utf8(out.stdout).expect("UTF-8");
        let end = said.lines().skip_while(|l| !l.contains('└')).skip(2);
        end.map(|l| l.split(": peak").next().unwrap_or(l).trim()).collect::<Vec<_>>().join("|")
    };
    assert_eq!(
        legend(dir.path(), "idle.harness"),
        "──A──  all at rest||Left out; choose with --position:|- silent: Off; idle up, kill up|\
         - the same network as one that is drawn: idle up (as all at rest)"
    );
    // A picture has no room for it.
    let out = coilwright(dir.path()).args(["plot", "idle.harness", "--svg"]).output().expect("runs");
    let said = String::from_utf8_lossy(&out.stderr);
    assert!(code(&out) == 0 && said.contains("- silent: Off; idle up, kill up"), "{said}");
    // The first five of this file's 80 are one network.
    let eighty = legend(&root().join("examples"), "11-eighty-positions.harness");
    assert!(
        eighty.starts_with("──A──  Bridge|──B──  Bridge and middle|──C──  Less hum|──D──  Middle|──E──  "),
        "{eighty}"
    );
}

#[test]
fn checks_and_their_codes() {
    let dir = folder(&[("plain.harness", PLAIN), ("wrong.harness", WRONG), ("empty.harness", "")]);
    let dir = dir.path();
    insta::assert_snapshot!("check-good", session(dir, &["check", "plain.harness"]));
    insta::assert_snapshot!("check-wrong", session(dir, &["check", "plain.harness", "wrong.harness"]));
    insta::assert_snapshot!("report-wrong", session(dir, &["report", "wrong.harness"]));
    insta::assert_snapshot!("check-empty", session(dir, &["check", "empty.harness"]));
}

#[test]
fn wrong_command_lines() {
    let dir = folder(&[("plain.harness", PLAIN)]);
    let dir = dir.path();
    std::fs::create_dir(dir.join("folder")).expect("made");
    let mut all = String::new();
    for args in [
        &["report", "nowhere.harness"][..],
        &["report", "folder"],
        &["report"],
        &["reprot", "plain.harness"],
        &["report", "plain.harness", "--position", "neck"],
        &["report", "plain.harness", "--knob", "tone=3"],
        &["report", "plain.harness", "--knob", "volume"],
        &["report", "plain.harness", "--knob", "volume=11"],
        &["report", "plain.harness", "--knob", "volume=1", "--knob", "volume=2"],
        &["report", "plain.harness", "--at", "1kHz"],
        &["report", "plain.harness", "--json", "--at", "0Hz"],
        &["report", "plain.harness", "--json", "--frequencies", "20Hz..20kHz/1000001"],
        &["report", "plain.harness", "--overwrite"],
        &["report", "plain.harness", "--output", "nowhere/out.txt"],
        &["report", "plain.harness", "--output", "folder"],
        &["plot", "plain.harness", "--width", "10"],
        &["wiring", "plain.harness", "--position", "x=1"],
    ] {
        let said = session(dir, args);
        assert!(said.contains("exit code 2\n── standard error"), "{said}");
        all.push_str(&said);
        all.push('\n');
    }
    insta::assert_snapshot!("wrong-command-lines", all);
}

#[test]
fn hostile_names_are_shown_escaped() {
    let dir = folder(&[("plain.harness", PLAIN)]);
    let out = coilwright(dir.path())
        .args(["report", "plain.harness", "--position", "\u{1b}[31m\u{202e}x"])
        .output()
        .expect("runs");
    let said = String::from_utf8(out.stderr).expect("UTF-8");
    assert_eq!(out.status.code(), Some(2));
    assert!(!said.contains('\u{1b}') && !said.contains('\u{202e}'), "{said:?}");
    assert!(said.contains("\\u{1b}[31m\\u{202e}x"), "{said}");
    let out = coilwright(dir.path()).args(["report", "\u{1b}]0;x\u{7}.harness"]).output().expect("runs");
    assert!(!String::from_utf8_lossy(&out.stderr).contains('\u{1b}'));
}

/// Quoted text of a file may hold anything; no terminal or spreadsheet gets to act on it.
#[test]
fn hostile_text_of_a_file_is_shown_escaped() {
    let evil = "\u{1b}]0;title\u{7}\u{202e}=1+1";
    let text = PLAIN.replace("Plain", evil) + &format!("position \"{evil}\"\n");
    let dir = folder(&[("evil.harness", &text)]);
    for args in [&["report"][..], &["report", "--json"], &["curves"], &["plot"], &["wiring"], &["check"]] {
        let out = coilwright(dir.path()).args(args).arg("evil.harness").output().expect("runs");
        assert_eq!(out.status.code(), Some(0), "{args:?} {}", String::from_utf8_lossy(&out.stderr));
        for stream in [out.stdout, out.stderr] {
            let said = String::from_utf8(stream).expect("UTF-8");
            let shown = said.chars().find(|c| *c != '\n' && *c != '\r' && c.is_control() || *c == '\u{202e}');
            // JSON keeps what is no control; a reader of JSON is a program.
            assert!(
                shown.is_none() || (args.contains(&"--json") && shown == Some('\u{202e}')),
                "{args:?}: {shown:?}"
            );
        }
    }
}

#[test]
fn a_strict_check_fails_on_warnings() {
    let meant = std::fs::read_to_string(root().join("examples/07-phase-and-series.harness")).expect("read");
    let unmeant: Vec<&str> = meant.lines().filter(|line| !line.starts_with("intend")).collect();
    let dir = folder(&[("meant.harness", &meant), ("unmeant.harness", &unmeant.join("\n"))]);
    let code_of = |args: &[&str]| code(&coilwright(dir.path()).args(args).output().expect("runs"));
    assert_eq!(code_of(&["check", "unmeant.harness"]), 0);
    assert_eq!(code_of(&["check", "--strict", "unmeant.harness"]), 1);
    assert_eq!(code_of(&["check", "--strict", "meant.harness"]), 0);
    assert_eq!(code_of(&["check", "--strict", "unmeant.harness", "nowhere.harness"]), 2);
}

#[test]
fn files_are_not_replaced_unasked() {
    let dir = folder(&[("plain.harness", PLAIN), ("out.csv", "mine")]);
    let dir = dir.path();
    let args = ["curves", "plain.harness", "--output", "out.csv"];
    let refused = coilwright(dir).args(args).output().expect("runs");
    assert_eq!(refused.status.code(), Some(2));
    assert_eq!(std::fs::read_to_string(dir.join("out.csv")).expect("read"), "mine");
    let asked = coilwright(dir).args(args).arg("--overwrite").output().expect("runs");
    assert_eq!(asked.status.code(), Some(0), "{}", String::from_utf8_lossy(&asked.stderr));
    assert!(asked.stdout.is_empty());
    let written = std::fs::read_to_string(dir.join("out.csv")).expect("read");
    assert!(written.starts_with("\"frequency (Hz)\",\"rest (dB re 1 V)\""), "{written:.80}");
    assert_eq!(written.lines().count(), 401);
    assert_eq!(std::fs::read_dir(dir).expect("listed").count(), 2, "nothing left behind");
}

#[test]
fn no_harness_is_replaced_by_its_own_figures() {
    let main = format!("{PLAIN}use \"parts/a.harness\" as shop\n");
    let part = "coilwright 1\npattern coil spare 6k 2.5H\n";
    let dir = folder(&[("main.harness", &main)]);
    let dir = dir.path();
    std::fs::create_dir(dir.join("parts")).expect("made");
    std::fs::write(dir.join("parts/a.harness"), part).expect("written");
    for (target, text) in
        [("main.harness", main.as_str()), ("./parts/../main.harness", &main), ("parts/a.harness", part)]
    {
        for command in ["report", "curves", "wiring"] {
            let out = coilwright(dir)
                .args([command, "main.harness", "--overwrite", "--output", target])
                .output()
                .expect("runs");
            let said = String::from_utf8_lossy(&out.stderr);
            assert_eq!(code(&out), 2, "{said}");
            assert!(said.contains("it is the harness, or one of its files"), "{said}");
            assert_eq!(std::fs::read_to_string(dir.join(target)).expect("read"), text);
        }
    }
}

/// A position may be asked for as it is shown.
#[test]
fn what_is_shown_may_be_asked_for() {
    let dir = folder(&[("idle.harness", &format!("{PLAIN}{IDLE}"))]);
    let said = |args: &[&str]| {
        let out = coilwright(dir.path()).args(args).arg("idle.harness").output().expect("runs");
        assert_eq!(code(&out), 0, "{}", String::from_utf8_lossy(&out.stderr));
        String::from_utf8(out.stdout).expect("UTF-8")
    };
    for (shown, key) in
        [("all at rest", "rest"), ("idle up, kill up", "idle=up, kill=up"), ("kill up", "kill=up")]
    {
        assert!(said(&["report"]).replace("≈ ", "").contains(&format!("\n{shown} ")), "{shown}");
        assert_eq!(said(&["report", "-p", shown]), said(&["report", "-p", key]));
        assert!(said(&["report", "--json", "-p", shown]).contains(&format!("\"key\": \"{key}\"")));
        assert!(said(&["curves", "-p", shown]).contains(&format!("{key} (dB re 1 V)")));
        assert!(said(&["wiring", "-p", shown]).contains(&format!("\n{shown} ({key})\n")));
    }
}

#[test]
fn what_is_said_twice_is_shown_once() {
    let dir = folder(&[("plain.harness", &format!("{PLAIN}position \"All\"\n"))]);
    let out = coilwright(dir.path())
        .args(["report", "plain.harness", "-p", "rest", "-p", "All", "-p", "rest", "--knob", "volume=-0"])
        .output()
        .expect("runs");
    let said = String::from_utf8_lossy(&out.stdout);
    assert!(said.contains("\n1 position; "), "{said}");
    assert!(said.contains("\nvolume at 0 ("), "{said}");
}

#[test]
fn a_reader_that_goes_ends_it_quietly() {
    let file = root().join("examples/11-eighty-positions.harness");
    // More than any pipe holds, so that the writer must notice.
    let mut child = coilwright(&root())
        .arg("curves")
        .arg(file)
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("runs");
    let mut first = [0; 10];
    child.stdout.take().expect("a pipe").read_exact(&mut first).expect("begins");
    let out = child.wait_with_output().expect("ends");
    assert_eq!((out.status.code(), String::from_utf8_lossy(&out.stderr).as_ref()), (Some(0), ""));
}

#[test]
fn colour_is_for_terminals_and_may_be_refused() {
    let dir = folder(&[("plain.harness", PLAIN), ("wrong.harness", WRONG)]);
    let dir = dir.path();
    let escapes = |set: &[(&str, &str)]| {
        let report =
            coilwright(dir).args(["report", "plain.harness"]).envs(set.to_vec()).output().expect("runs");
        let check =
            coilwright(dir).args(["check", "wrong.harness"]).envs(set.to_vec()).output().expect("runs");
        (report.stdout.contains(&0x1b), check.stderr.contains(&0x1b))
    };
    assert_eq!(escapes(&[]), (false, false), "not to a pipe");
    assert_eq!(escapes(&[("CLICOLOR_FORCE", "1")]), (true, true), "forced");
    assert_eq!(escapes(&[("CLICOLOR_FORCE", "1"), ("NO_COLOR", "1")]), (false, false), "refused");
}

#[test]
fn any_number_of_threads_says_the_same() {
    let file = root().join("examples/10-two-humbuckers.harness");
    let with = |threads: &str| {
        let out = coilwright(&root())
            .args(["report", "--json", "--frequencies", "20Hz..20kHz/50"])
            .arg(&file)
            .env("RAYON_NUM_THREADS", threads)
            .output()
            .expect("runs");
        assert_eq!(out.status.code(), Some(0));
        out.stdout
    };
    assert!(with("1") == with("5"), "bytes differ");
}
