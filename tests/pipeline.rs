//! Every example through every stage: it compiles, has no dead position, and each of its reports can be made.

use std::path::Path;
use std::process::Command;

use serde_json::Value;

mod repository;

use repository::examples;

fn run(args: &[&str], file: &Path) -> String {
    let out = Command::new(env!("CARGO_BIN_EXE_coilwright")).args(args).arg(file).output().expect("runs");
    let said = String::from_utf8_lossy(&out.stderr).into_owned();
    assert_eq!(out.status.code(), Some(0), "{} {args:?}:\n{said}", file.display());
    String::from_utf8(out.stdout).expect("UTF-8")
}

/// The names of the positions in the first table, whole and in order; lines broken anywhere, so without blanks.
fn first_column(table: &str) -> String {
    let mut lines = table.lines().skip_while(|l| !l.starts_with("position "));
    let width = lines.next().and_then(|head| head.find("coils in play")).expect("a head");
    let cells = lines.skip(3).take_while(|l| !l.is_empty());
    cells.flat_map(|l| l.chars().take(width)).filter(|c| ![' ', '≈'].contains(c)).collect()
}

#[test]
fn every_example_compiles_and_reports() {
    for file in examples() {
        let shown = file.display();
        run(&["check"], &file);
        let table = run(&["report"], &file);
        let json: Value = serde_json::from_str(&run(&["report", "--json"], &file)).expect("JSON");
        let positions = json["positions"].as_array().expect("positions");
        assert!(!positions.is_empty(), "{shown}: no positions");
        let outlets = positions[0]["outlets"].as_array().expect("outlets");
        let mut names = String::new();
        for position in positions {
            let key =
                position["key"].as_str().expect("a key").replace('=', " ").replace("rest", "all at rest");
            let name = position["name"].as_str().unwrap_or(&key);
            for outlet in outlets {
                names.push_str(name);
                if outlets.len() > 1 {
                    let lug = outlet["lug"].as_str().and_then(|lug| lug.split_once('.')).expect("a lug");
                    names.push_str(&format!(", output {}", lug.1));
                }
            }
        }
        assert_eq!(first_column(&table), names.replace(' ', ""), "{shown}");
        for position in positions {
            let key = position["key"].as_str().expect("a key");
            let name = position["name"].as_str().unwrap_or(key);
            for outlet in position["outlets"].as_array().expect("outlets") {
                let mute = name.to_lowercase().contains("mute") || key.contains("mute");
                let sounds = outlet["level"]["shown_db"]["value"].is_number();
                assert!(sounds || mute, "{shown}: {name} is dead");
            }
        }
    }
}

#[test]
fn every_example_has_curves_a_plot_a_wiring_and_a_picture() {
    for file in examples() {
        let csv = run(&["curves", "--at", "100Hz,1kHz"], &file);
        assert_eq!(csv.lines().count(), 3, "{}", file.display());
        let columns: Vec<usize> = csv.lines().skip(1).map(|l| l.split(',').count()).collect();
        assert_eq!(columns[0], columns[1], "{}", file.display());
        assert!(run(&["plot"], &file).contains("20k"), "{}", file.display());
        let wiring: Value = serde_json::from_str(&run(&["wiring", "--json"], &file)).expect("JSON");
        assert!(wiring["elements"].as_array().is_some_and(|e| !e.is_empty()), "{}", file.display());
        assert!(run(&["wiring"], &file).contains("ground"), "{}", file.display());
        let picture = run(&["draw", "--position", "rest"], &file);
        assert!(picture.starts_with("<svg ") && picture.ends_with("</svg>\n"), "{}", file.display());
    }
}
