//! Every figure of every construct and example against an independent program (tests/reference, Python with NumPy and SciPy):
//! 1e-5 dB, 1e-6 relative. The golden files' structure is told in tests/reference/README.md.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value;

mod repository;

use repository::root;

/// Decibels may differ by this much.
const DB: f64 = 1e-5;
/// Everything else by this share of itself.
const SHARE: f64 = 1e-6;
/// Volts below this are nothing: the definitions call 1e-12 V silent.
const NOTHING_V: f64 = 1e-13;
/// V and V/√Hz: a ten-thousandth of the noise of one ohm at 20 K; what an input at ground gets from milliohms is rounding.
const NO_NOISE_V: f64 = 1e-15;
/// H: behind a stage whose output is plain resistance, what is left is rounding; no meter shows a picohenry.
const NO_HENRIES: f64 = 1e-12;

#[test]
fn constructs_agree_with_the_independent_program() {
    let constructs = root().join("tests/reference/constructs");
    let differences = compare_all(|golden| {
        (!golden.starts_with("example-") && golden != "published")
            .then(|| constructs.join(golden).with_extension("harness"))
    });
    assert_none(&differences);
}

#[test]
fn examples_agree_with_the_independent_program() {
    let examples = root().join("examples");
    let differences = compare_all(|golden| {
        golden.strip_prefix("example-").map(|name| examples.join(name).with_extension("harness"))
    });
    assert_none(&differences);
}

fn assert_none(differences: &[String]) {
    assert!(
        differences.is_empty(),
        "{} differences, the first:\n{}",
        differences.len(),
        differences[..differences.len().min(60)].join("\n")
    );
}

/// Compares every golden file that `harness` finds a harness for.
fn compare_all(harness: impl Fn(&str) -> Option<PathBuf>) -> Vec<String> {
    let mut found = Vec::new();
    let mut names: Vec<PathBuf> = std::fs::read_dir(root().join("tests/reference/golden"))
        .expect("golden files")
        .map(|e| e.expect("an entry").path())
        .filter(|p| p.extension().is_some_and(|e| e == "json"))
        .collect();
    names.sort();
    let mut compared = 0;
    for golden in names {
        let stem = golden.file_stem().expect("a name").to_string_lossy().into_owned();
        let Some(file) = harness(&stem) else { continue };
        compared += 1;
        let golden: Value =
            serde_json::from_str(&std::fs::read_to_string(&golden).expect("read")).expect("JSON");
        compare(&stem, &file, &golden, &mut found);
    }
    assert!(compared > 10, "only {compared} files compared");
    found
}

fn compare(stem: &str, file: &Path, golden: &Value, found: &mut Vec<String>) {
    let positions = golden["positions"].as_object().expect("positions");
    let frequencies = frequencies(positions);
    let out = Command::new(env!("CARGO_BIN_EXE_coilwright"))
        .args(["report", "--json"])
        .arg(file)
        .args((!frequencies.is_empty()).then(|| format!("--at={}", frequencies.join(","))))
        .output()
        .expect("runs");
    if !out.status.success() {
        found.push(format!("{stem}: {}", String::from_utf8_lossy(&out.stderr)));
        return;
    }
    let report: Value = serde_json::from_slice(&out.stdout).expect("JSON");
    let ours = flatten(&report, &frequencies);
    compare_positions(stem, positions, &ours, found);
    let variants = list(&report["variants"]);
    let theirs = golden["variants"].as_object().cloned().unwrap_or_default();
    if variants.len() != theirs.len() {
        found.push(format!("{stem}: {} variants, reference {}", variants.len(), theirs.len()));
    }
    for (name, positions) in &theirs {
        let Some(variant) = variants.iter().find(|v| text(&v["variant"]) == *name) else {
            found.push(format!("{stem}: no variant {name}"));
            continue;
        };
        let ours = flatten(variant, &frequencies);
        let positions = positions.as_object().expect("positions");
        compare_positions(&format!("{stem}, {name}"), positions, &ours, found);
    }
}

fn compare_positions(
    stem: &str,
    positions: &serde_json::Map<String, Value>,
    ours: &BTreeMap<String, BTreeMap<String, Value>>,
    found: &mut Vec<String>,
) {
    for (key, position) in positions {
        let Some(figures) = ours.get(key) else {
            found.push(format!("{stem} [{key}]: no such position; there are {:?}", ours.keys()));
            continue;
        };
        if position["name"] != figures["name"] {
            found.push(format!("{stem} [{key}]: name {} ≠ {}", figures["name"], position["name"]));
        }
        for (name, want) in position["figures"].as_object().expect("figures") {
            let got = figures.get(name).unwrap_or(&Value::Null);
            if !agrees(name, got, want, figures) {
                found.push(format!("{stem} [{key}] {name}: {got}, reference {want}"));
            }
        }
    }
    if ours.len() != positions.len() {
        found.push(format!("{stem}: {} positions, reference {}", ours.len(), positions.len()));
    }
}

/// The frequencies of the `at.F.…` names.
fn frequencies(positions: &serde_json::Map<String, Value>) -> Vec<String> {
    let mut all: Vec<String> = positions
        .values()
        .flat_map(|p| p["figures"].as_object().expect("figures").keys())
        .filter_map(|name| Some(name.strip_prefix("at.")?.split('.').next()?.to_owned()))
        .collect();
    all.sort_by(|a, b| a.parse::<f64>().expect("hertz").total_cmp(&b.parse().expect("hertz")));
    all.dedup();
    all
}

fn agrees(name: &str, got: &Value, want: &Value, figures: &BTreeMap<String, Value>) -> bool {
    match (got, want) {
        (Value::Number(a), Value::Number(b)) => {
            let (a, b) = (a.as_f64().expect("number"), b.as_f64().expect("number"));
            let error = (a - b).abs();
            if name.contains("_db") {
                return error <= DB;
            }
            // Real and imaginary part are judged against the length of the whole.
            let other = match name.strip_suffix(".re") {
                Some(stem) => figures.get(&format!("{stem}.im")),
                None => name.strip_suffix(".im").and_then(|stem| figures.get(&format!("{stem}.re"))),
            };
            let other = other.and_then(Value::as_f64).unwrap_or(0.0);
            error <= SHARE * libm::hypot(b, other)
                || (name.starts_with("at.") && error <= NOTHING_V)
                || (name.starts_with("noise_") && error <= NO_NOISE_V)
                || (name.starts_with("lcr_") && error <= NO_HENRIES)
        }
        (Value::Array(a), Value::Array(b)) => {
            a.len() == b.len() && a.iter().zip(b).all(|(a, b)| agrees(name, a, b, figures))
        }
        // The reference writes some truths as 1 and 0.
        (Value::Bool(a), Value::Number(b)) => b.as_f64() == Some(f64::from(u8::from(*a))),
        (a, b) => a == b,
    }
}

/// Our report under the reference's names, by its keys.
fn flatten(report: &Value, frequencies: &[String]) -> BTreeMap<String, BTreeMap<String, Value>> {
    let mut all = BTreeMap::new();
    for position in list(&report["positions"]) {
        let outlets = list(&position["outlets"]);
        for outlet in outlets {
            let mut pairs: Vec<String> = match text(&position["key"]).as_str() {
                "rest" => vec![],
                key => key.split(", ").map(str::to_owned).collect(),
            };
            let lug = text(&outlet["lug"]);
            if outlets.len() > 1 {
                pairs.push(format!("output={}", lug.rsplit('.').next().unwrap_or("")));
                pairs.sort();
            }
            let key = if pairs.is_empty() { "rest".to_owned() } else { pairs.join(" ") };
            let mut flat = outlet_figures(outlet);
            flat.insert("name".into(), position["name"].clone());
            meter(position, &mut flat);
            for (n, f) in frequencies.iter().enumerate() {
                responses(outlet, n, f, &mut flat);
            }
            all.insert(key, flat);
        }
    }
    all
}

fn list(v: &Value) -> &[Value] {
    v.as_array().map_or(&[], Vec::as_slice)
}

fn text(v: &Value) -> String {
    v.as_str().unwrap_or_default().to_owned()
}

/// A figure and, if it has no value, why.
fn put(flat: &mut BTreeMap<String, Value>, name: &str, figure: &Value) {
    flat.insert(name.to_owned(), figure["value"].clone());
    if let Some(why) = figure.get("why") {
        flat.insert(format!("{name}.why"), why.clone());
    }
}

fn outlet_figures(o: &Value) -> BTreeMap<String, Value> {
    let mut flat = BTreeMap::new();
    for (name, pointer) in [
        ("plateau_db", "/plateau_db"),
        ("slope_at_100_db_per_octave", "/slope_db_per_octave"),
        ("resonance_hz", "/resonance_hz"),
        ("resonance_height_db", "/height_db"),
        ("resonance_height_re_reference_db", "/height_re_reference_db"),
        ("resonance_q", "/sharpness_q"),
        ("corner_hz", "/corner_hz"),
        ("last_corner_hz", "/last_corner_hz"),
        ("level_db", "/level/coherent_db"),
        ("level_re_reference_db", "/level/coherent_re_reference_db"),
        ("level_powers_db", "/level/as_powers_db"),
        ("level_powers_re_reference_db", "/level/as_powers_re_reference_db"),
        ("string_level_db", "/string_level/coherent_db"),
        ("string_level_re_reference_db", "/string_level/coherent_re_reference_db"),
        ("string_level_powers_db", "/string_level/as_powers_db"),
        ("string_level_powers_re_reference_db", "/string_level/as_powers_re_reference_db"),
        ("brightness_db", "/brightness/coherent_db"),
        ("brightness_powers_db", "/brightness/as_powers_db"),
        ("hum_db", "/hum/fundamental_db"),
        ("hum_re_reference_db", "/hum/fundamental_re_reference_db"),
        ("buzz_db", "/hum/buzz_db"),
        ("buzz_re_reference_db", "/hum/buzz_re_reference_db"),
        ("hum_cancelling_db", "/hum/cancelling_db"),
        ("signal_over_hum_db", "/signal_over_hum/difference_db"),
        ("impedance_100_ohm", "/output_impedance/at_100_hz_ohm"),
        ("impedance_1k_ohm", "/output_impedance/at_1_khz_ohm"),
        ("impedance_max_ohm", "/output_impedance/maximum_ohm"),
        ("impedance_max_hz", "/output_impedance/maximum_at_hz"),
        ("lcr_120_henry", "/lcr_reading/at_120_hz_h"),
        ("lcr_1k_henry", "/lcr_reading/at_1_khz_h"),
        ("noise_density_1k_v", "/thermal_noise/density_at_1_khz_v_per_sqrt_hz"),
        ("noise_total_v", "/thermal_noise/total_v"),
        ("noise_total_a_v", "/thermal_noise/total_a_weighted_v"),
    ] {
        put(&mut flat, name, o.pointer(pointer).unwrap_or(&Value::Null));
    }
    for (name, pointer) in [
        ("sloped", "/sloped"),
        ("several_sound", "/several_sound"),
        ("no_string_drives_this", "/no_string_drives_this"),
        ("impedance_max_at_edge", "/output_impedance/maximum_at_band_edge"),
        ("largest_coil", "/main_coil"),
    ] {
        flat.insert(name.into(), o.pointer(pointer).cloned().unwrap_or(Value::Null));
    }
    flat.insert("hum_cancelling".into(), o["hum"]["verdict"].clone());
    let against = o["signal_over_hum"]["against_reference"] == true;
    flat.insert("signal_over_hum_plain".into(), (!against).into());
    let resonances = list(&o["resonances"]);
    let each = |name: &str| -> Value { resonances.iter().map(|r| r[name].clone()).collect() };
    let each_value = |name: &str| -> Value { resonances.iter().map(|r| r[name]["value"].clone()).collect() };
    flat.insert("resonances_hz".into(), each("frequency_hz"));
    flat.insert("resonances_db".into(), each("magnitude_db"));
    flat.insert("resonances_prominence_db".into(), each_value("prominence_db"));
    flat.insert("resonances_q".into(), each_value("sharpness_q"));
    coils(o, &mut flat);
    flat
}

fn coils(o: &Value, flat: &mut BTreeMap<String, Value>) {
    for c in list(&o["coils"]) {
        let name = text(&c["coil"]);
        flat.insert(format!("coil.{name}.state"), c["connection"].clone());
        flat.insert(format!("coil.{name}.bled_ohm"), c["bled_through_ohm"].clone());
        flat.insert(format!("coil.{name}.contributes"), c["contributes"].clone());
        flat.insert(format!("coil.{name}.out_of_phase"), c["out_of_phase"].clone());
        flat.insert(format!("coil.{name}.in_series_with"), c["in_series_with"].clone());
        flat.insert(format!("coil.{name}.parallel_with"), c["parallel_with"].clone());
        for (ours, at) in [("share_at_100_hz", "100"), ("share_at_1_khz", "1k")] {
            let share = &c[ours];
            put(flat, &format!("coil.{name}.share_{at}_db"), &share["share_db"]);
            let sign = match (&share["share_db"]["value"], share["negative"] == true) {
                (Value::Null, _) => Value::Null,
                (_, true) => (-1).into(),
                (_, false) => 1.into(),
            };
            flat.insert(format!("coil.{name}.sign_{at}"), sign);
        }
    }
}

fn meter(position: &Value, flat: &mut BTreeMap<String, Value>) {
    for m in list(&position["meter"]) {
        let prefix = match m["across"].as_str() {
            Some("ring-sleeve") => "meter_ring",
            Some("tip-ring") => "meter_tip_ring",
            _ => "meter",
        };
        for (ours, suffix) in [("at_rest", ""), ("volumes_at_zero", "_volume_down")] {
            put(flat, &format!("{prefix}{suffix}_ohm"), &m[ours]["resistance_ohm"]);
            flat.insert(format!("{prefix}{suffix}_coil_readable"), m[ours]["coil_readable"].clone());
        }
    }
}

fn responses(o: &Value, n: usize, f: &str, flat: &mut BTreeMap<String, Value>) {
    let r = &o["responses"];
    let mut complex = |name: String, v: &Value| {
        for part in ["re", "im"] {
            flat.insert(format!("at.{f}.{name}.{part}"), v[part][n].clone());
        }
    };
    complex("response".into(), &r["response_v"]);
    complex("hum".into(), &r["hum_v"]);
    complex("impedance_ohm".into(), &r["impedance_ohm"]);
    for c in list(&r["coils"]) {
        complex(format!("coil.{}", text(&c["coil"])), &c["response_v"]);
    }
    flat.insert(format!("at.{f}.noise_v"), r["noise_v_per_sqrt_hz"][n].clone());
}
