//! Harmonics of strings at the jack against the independent program (`reference/harmonics.py`).

use std::collections::BTreeMap;
use std::process::Command;

use serde_json::Value;

mod repository;

use repository::root;

const GOLDEN: &str = include_str!("reference/golden/harmonics.csv");

/// Voltages at the amp input of each harmonic.
fn voltages(file: &str, position: &str, string: &str, fret: &str) -> Vec<(f64, f64, f64)> {
    let examples = root().join("examples").join(file).with_extension("harness");
    let constructs = root().join("tests/reference/constructs").join(file).with_extension("harness");
    let path = if examples.exists() { examples } else { constructs };
    let out = Command::new(env!("CARGO_BIN_EXE_coilwright"))
        .args(["harmonics", "--json", "--count", "30", "--position", position, "--string", string])
        .args(["--fret", fret])
        .arg(path)
        .output()
        .expect("runs");
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    let document: Value = serde_json::from_slice(&out.stdout).expect("JSON");
    let harmonics = document["strings"][0]["harmonics"].as_array().expect("harmonics");
    let number = |v: &Value| v.as_f64().expect("a number");
    harmonics
        .iter()
        .map(|h| {
            let volts = &h["outlets"][0]["voltage_v"];
            (number(&h["frequency_hz"]), number(&volts["re"]), number(&volts["im"]))
        })
        .collect()
}

#[test]
fn harmonics_agree_with_the_independent_program() {
    let mut strings: BTreeMap<[&str; 4], Vec<[f64; 3]>> = BTreeMap::new();
    for line in GOLDEN.lines().filter(|l| !l.starts_with('#')).skip(1) {
        // A key may have commas of its own, and stands in quotes then.
        let (file, rest) = line.split_once(',').expect("a file");
        let (position, rest) = match rest.strip_prefix('"') {
            Some(quoted) => quoted.split_once("\",").expect("a quote"),
            None => rest.split_once(',').expect("a position"),
        };
        let cells: Vec<&str> = rest.split(',').collect();
        let [string, fret, _, f, re, im] = cells[..] else { panic!("{line}") };
        let values = [f, re, im].map(|x| x.parse().expect("a number"));
        strings.entry([file, position, string, fret]).or_default().push(values);
    }
    assert!(strings.len() >= 20, "{}", strings.len());
    let mut off = Vec::new();
    for ([file, position, string, fret], expected) in &strings {
        let found = voltages(file, position, string, fret);
        let largest = expected.iter().map(|[_, re, im]| re.abs().max(im.abs())).fold(0.0, f64::max);
        for (n, ([f, re, im], ours)) in expected.iter().zip(&found).enumerate() {
            let near = |a: f64, b: f64| (a - b).abs() <= 1e-9 * largest;
            if (f / ours.0 - 1.0).abs() > 1e-11 || !near(*re, ours.1) || !near(*im, ours.2) {
                off.push(format!("{file} {position} string {string} fret {fret}: {} {ours:?}", n + 1));
            }
        }
        if found.len() < expected.len() {
            off.push(format!("{file} {position}: {} harmonics", found.len()));
        }
    }
    assert!(off.is_empty(), "{off:#?}");
}
