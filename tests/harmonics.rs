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

/// Ends of the stems and bars of a picture: abscissa and height, in the order in which they are drawn.
fn ends(svg: &str, start: &str, height: fn(&str) -> Option<(&str, &str)>) -> Vec<(f64, f64)> {
    let end = |line: &str| {
        let (x, y) = height(line.strip_prefix(start)?.split('"').next()?)?;
        Some((x.parse().ok()?, y.parse().ok()?))
    };
    svg.lines().filter_map(end).collect()
}

/// The picture against the levels of the JSON, which the independent program has checked: equal steps of decibels are equal steps of height.
#[test]
fn the_picture_draws_the_levels() {
    let file = root().join("examples/20-wound-coils-and-strings.harness");
    let run = |more: &[&str]| {
        let out = Command::new(env!("CARGO_BIN_EXE_coilwright"))
            .arg("harmonics")
            .arg(&file)
            .args(["--string", "6", "--fret", "3"])
            .args(more)
            .output()
            .expect("runs");
        assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
        String::from_utf8(out.stdout).expect("UTF-8")
    };
    let levels = |position: &str| -> Vec<f64> {
        let document: Value = serde_json::from_str(&run(&["--json", "--position", position])).expect("JSON");
        let harmonics = document["strings"][0]["harmonics"].as_array().expect("harmonics");
        let level = |h: &Value| h["outlets"][0]["level_db_re_1v"]["value"].as_f64().expect("sounds");
        harmonics.iter().map(level).collect()
    };
    let svg = run(&["--svg", "--position", "Both"]);
    let stems = ends(&svg, "<path class=\"curve c0\" d=\"M", |d| {
        let (place, y) = d.split_once('V')?;
        Some((place.split_once(' ')?.0, y))
    });
    let bars = ends(&svg, "<path class=\"curve zero\" d=\"M", |d| d.split_once('H')?.0.split_once(' '));
    let reference = levels("Neck");
    // The last of each kind is in the key.
    for (drawn, levels) in [(&stems, levels("Both")), (&bars, reference.clone())] {
        assert_eq!(drawn.len(), 20 + 1);
        let (first, last) = (drawn[0].1, drawn[19].1);
        let scale = (last - first) / (levels[0] - levels[19]);
        assert!(scale > 1.0, "louder is higher: {scale}");
        for ((_, y), level) in drawn.iter().zip(&levels) {
            assert!((y - first - scale * (levels[0] - level)).abs() < 0.2, "{y} {level}");
        }
    }
    // Stems and bars have one scale, on which the reference's first harmonic is 0 dB.
    let scale = (stems[19].1 - stems[0].1) / (levels("Both")[0] - levels("Both")[19]);
    let between = scale * (reference[0] - levels("Both")[0]);
    assert!((stems[0].1 - bars[0].1 - between).abs() < 0.2, "{between}");
    // The reference alone needs no bars, but for that of the key.
    assert_eq!(run(&["--svg", "--position", "Neck"]).matches("class=\"curve zero\"").count(), 1);
}
