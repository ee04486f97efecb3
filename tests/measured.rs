//! A measured guitar: the output impedance of two single coils in three switch positions, one file in our language, against the points
//! quoted in `reference/measured/two-single-coils.csv` (source and tolerances at its head).

use std::path::PathBuf;
use std::process::Command;

use serde_json::Value;

mod repository;

fn folder() -> PathBuf {
    repository::root().join("tests/reference/measured")
}

/// Impedance at the jack of each position, Ω: (name, [(re, im)]).
fn impedances(frequencies: &[&str]) -> Vec<(String, Vec<(f64, f64)>)> {
    let out = Command::new(env!("CARGO_BIN_EXE_coilwright"))
        .args(["report", "--json"])
        .args(frequencies)
        .arg(folder().join("two-single-coils.harness"))
        .output()
        .expect("runs");
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    let report: Value = serde_json::from_slice(&out.stdout).expect("JSON");
    let numbers = |v: &Value| -> Vec<f64> {
        v.as_array().expect("a list").iter().map(|x| x.as_f64().expect("a number")).collect()
    };
    report["positions"]
        .as_array()
        .expect("positions")
        .iter()
        .map(|position| {
            let z = &position["outlets"][0]["responses"]["impedance_ohm"];
            let name = position["name"].as_str().expect("a name").to_owned();
            (name, numbers(&z["re"]).into_iter().zip(numbers(&z["im"])).collect())
        })
        .collect()
}

/// The largest value and where it is on a logarithmic grid.
fn peak(grid: &[f64], values: impl Iterator<Item = f64>) -> (f64, f64) {
    values.zip(grid).fold((f64::MIN, 0.0), |best, (v, &f)| if v > best.0 { (v, f) } else { best })
}

#[test]
fn three_positions_agree_with_the_measured_guitar() {
    const AT: [f64; 5] = [10.0, 100.0, 1e3, 3e3, 10e3];
    const COUNT: usize = 1801;
    let spots = impedances(&["--at", "10Hz,100Hz,1kHz,3kHz,10kHz"]);
    let sweeps = impedances(&["--frequencies", "2kHz..12kHz/1801"]);
    // The grid's step is 0.1 %, a twentieth of the tolerance on frequencies.
    let grid: Vec<f64> = (0..COUNT).map(|i| 2e3 * libm::pow(6.0, i as f64 / (COUNT - 1) as f64)).collect();

    let text = std::fs::read_to_string(folder().join("two-single-coils.csv")).expect("the points");
    let rows: Vec<Vec<&str>> =
        text.lines().filter(|l| !l.starts_with('#')).skip(1).map(|l| l.split(',').collect()).collect();
    assert!(rows.len() > 30, "{}", rows.len());
    let mut off = Vec::new();
    for row in &rows {
        let [position, what, frequency, value, _, tolerance] = row[..] else { panic!("{row:?}") };
        let measured: f64 = value.parse().expect("a value");
        let tolerance: f64 = tolerance.parse().expect("a tolerance");
        let of = |all: &[(String, Vec<(f64, f64)>)]| {
            all.iter().find(|(name, _)| name == position).expect("the position").1.clone()
        };
        let (computed, scale) = if frequency.is_empty() {
            let sweep = of(&sweeps);
            let (height, at) = if what.starts_with("peak_re") {
                peak(&grid, sweep.iter().map(|z| z.0))
            } else {
                peak(&grid, sweep.iter().map(|z| libm::hypot(z.0, z.1)))
            };
            (if what.ends_with("_at") { at } else { height }, measured)
        } else {
            let f: f64 = frequency.parse().expect("a frequency");
            let index = AT.iter().position(|a| (a / f - 1.0).abs() < 1e-9).expect("a listed frequency");
            let (re, im) = of(&spots)[index];
            // Parts of a complex value are held against its magnitude.
            (if what == "re" { re } else { im }, libm::hypot(re, im))
        };
        let share = (computed - measured).abs() / scale.abs();
        if share > tolerance {
            off.push(format!("{position} {what} {frequency}: {computed} for {measured}, off by {share:.4}"));
        }
    }
    assert!(off.is_empty(), "{}", off.join("\n"));
}
