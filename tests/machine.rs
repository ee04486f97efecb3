//! What other programs read: JSON against its schemas, CSV against RFC 4180.

use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value;

mod repository;

use repository::root;

/// Harnesses with every sort of answer: examples, and the constructs of the independent reference (dead, open, hanging, silent).
fn harnesses() -> Vec<PathBuf> {
    let all = [repository::examples(), repository::harnesses("tests/reference/constructs")].concat();
    assert!(all.len() > 50, "{}", all.len());
    all
}

fn run(args: &[&str], file: &Path) -> String {
    let out = Command::new(env!("CARGO_BIN_EXE_coilwright")).args(args).arg(file).output().expect("runs");
    assert_eq!(out.status.code(), Some(0), "{}", String::from_utf8_lossy(&out.stderr));
    String::from_utf8(out.stdout).expect("UTF-8")
}

fn schema(name: &str) -> Value {
    let path = root().join("cli/schema").join(name);
    serde_json::from_str(&std::fs::read_to_string(path).expect("a schema")).expect("JSON")
}

#[test]
fn reports_follow_their_schema() {
    let schema = schema("report.schema.json");
    let mut whys = std::collections::BTreeSet::new();
    for file in harnesses() {
        for args in [&["report", "--json"][..], &["report", "--json", "--at", "82Hz,1kHz,4.4kHz"]] {
            let report: Value = serde_json::from_str(&run(args, &file)).expect("JSON");
            Check { schema: &schema }
                .value(&schema, &report, "")
                .unwrap_or_else(|e| panic!("{}: {e}", file.display()));
            collect_whys(&report, &mut whys);
        }
    }
    for why in ["silent", "open", "none", "reference_silent"] {
        assert!(whys.contains(why), "no harness of the tests shows `{why}`: {whys:?}");
    }
}

#[test]
fn comparisons_follow_their_schema() {
    let schema = schema("comparison.schema.json");
    let file = root().join("examples/03-partial-split.harness");
    // A wire to the wrong lug, in a file beside the test's other leavings.
    let folder = tempfile::tempdir().expect("a folder");
    let other = folder.path().join("other.harness");
    let text = std::fs::read_to_string(&file).expect("an example");
    std::fs::write(&other, text.replacen("volume.2", "volume.3", 1)).expect("written");
    for (second, code, same) in [(&file, 0, true), (&other, 1, false)] {
        let out = std::process::Command::new(env!("CARGO_BIN_EXE_coilwright"))
            .args(["compare", "--json"])
            .args([&file, second])
            .output()
            .expect("runs");
        assert_eq!(out.status.code(), Some(code), "{}", String::from_utf8_lossy(&out.stderr));
        let comparison: Value = serde_json::from_slice(&out.stdout).expect("JSON");
        assert_eq!(comparison["same"], same);
        Check { schema: &schema }.value(&schema, &comparison, "").unwrap_or_else(|e| panic!("{e}"));
    }
}

#[test]
fn wirings_follow_their_schema() {
    let schema = schema("wiring.schema.json");
    for file in harnesses() {
        let wiring: Value = serde_json::from_str(&run(&["wiring", "--json"], &file)).expect("JSON");
        Check { schema: &schema }
            .value(&schema, &wiring, "")
            .unwrap_or_else(|e| panic!("{}: {e}", file.display()));
        let nets = wiring["nets"].as_array().expect("nets").len() as u64;
        for element in wiring["elements"].as_array().expect("elements") {
            assert!(element["from"].as_u64().is_some_and(|n| n < nets), "{element}");
            assert!(element["to"].as_u64().is_some_and(|n| n < nets), "{element}");
        }
    }
}

#[test]
fn sheets_cards_and_fault_tables_follow_their_schemas() {
    for command in ["sheet", "card", "faults"] {
        let schema = schema(&format!("{command}.schema.json"));
        for file in harnesses() {
            let page: Value = serde_json::from_str(&run(&[command, "--json"], &file)).expect("JSON");
            Check { schema: &schema }
                .value(&schema, &page, "")
                .unwrap_or_else(|e| panic!("{command} {}: {e}", file.display()));
        }
    }
}

#[test]
fn harmonics_follow_their_schema() {
    let schema = schema("harmonics.schema.json");
    let files = [
        root().join("examples/20-wound-coils-and-strings.harness"),
        root().join("tests/reference/constructs/geometry.harness"),
    ];
    for file in files {
        for more in [&[][..], &["--even", "--fret", "24"], &["--string", "1", "--count", "3"]] {
            let arguments = [&["harmonics", "--json"], more].concat();
            let harmonics: Value = serde_json::from_str(&run(&arguments, &file)).expect("JSON");
            Check { schema: &schema }
                .value(&schema, &harmonics, "")
                .unwrap_or_else(|e| panic!("{}: {e}", file.display()));
        }
    }
}

#[test]
fn checks_and_studies_follow_their_schemas() {
    let file = root().join("examples/21-kept-right.harness");
    for (name, arguments) in
        [("check", &["check", "--json"][..]), ("study", &["study", "--samples", "3", "--json"])]
    {
        let schema = schema(&format!("{name}.schema.json"));
        let document: Value = serde_json::from_str(&run(arguments, &file)).expect("JSON");
        Check { schema: &schema }.value(&schema, &document, "").unwrap_or_else(|e| panic!("{name}: {e}"));
    }
}

#[test]
fn the_check_itself_finds_faults() {
    let schema = schema("report.schema.json");
    let file = root().join("examples/01-one-coil.harness");
    let good: Value = serde_json::from_str(&run(&["report", "--json"], &file)).expect("JSON");
    let faults: [fn(&mut Value); 5] = [
        |r| r["schema_version"] = 2.into(),
        |r| r["positions"][0]["key"] = Value::Null,
        |r| r["positions"][0]["outlets"][0]["resonance_hz"] = 1.into(),
        |r| r["positions"][0]["outlets"][0]["corner_hz"]["why"] = "because".into(),
        |r| drop(r.as_object_mut().expect("an object").remove("title")),
    ];
    for (i, fault) in faults.iter().enumerate() {
        let mut bad = good.clone();
        fault(&mut bad);
        assert!(Check { schema: &schema }.value(&schema, &bad, "").is_err(), "fault {i} was not found");
    }
}

/// Responses of the coils alone add up to the whole.
#[test]
fn coils_add_up() {
    let file = root().join("examples/10-two-humbuckers.harness");
    let report: Value =
        serde_json::from_str(&run(&["report", "--json", "--frequencies", "20Hz..20kHz/30"], &file))
            .expect("JSON");
    for position in report["positions"].as_array().expect("positions") {
        let r = &position["outlets"][0]["responses"];
        for part in ["re", "im"] {
            for i in 0..30 {
                let whole = r["response_v"][part][i].as_f64().expect("a number");
                let coils = r["coils"].as_array().expect("coils");
                let parts: f64 =
                    coils.iter().map(|c| c["response_v"][part][i].as_f64().expect("a number")).sum();
                assert!((whole - parts).abs() <= 1e-9, "{} {part} {i}: {whole} {parts}", position["key"]);
            }
        }
    }
}

#[test]
fn tables_for_spreadsheets_have_even_rows() {
    let file = root().join("examples/11-eighty-positions.harness");
    let csv = run(&["curves", "--at", "100Hz,2.5kHz"], &file);
    let rows: Vec<&str> = csv.split("\r\n").collect();
    assert_eq!((rows.len(), rows[3]), (4, ""));
    // Every cell of the head is quoted, so commas in names part no cells.
    let head = rows[0].split("\",\"").count();
    assert_eq!(head, 1 + 2 * 80);
    for row in &rows[1..3] {
        let cells: Vec<&str> = row.split(',').collect();
        assert_eq!(cells.len(), head);
        assert!(cells.iter().all(|c| c.is_empty() || c.parse::<f64>().is_ok_and(f64::is_finite)), "{row}");
    }
}

/// Rows are written stretch by stretch; each is what it would be alone.
#[test]
fn a_long_table_has_no_seams() {
    let file = root().join("examples/10-two-humbuckers.harness");
    // 20 positions: a stretch is 3,277 frequencies.
    let csv = run(&["curves", "--frequencies", "20Hz..20kHz/3300"], &file);
    let rows: Vec<&str> = csv.split("\r\n").collect();
    assert_eq!((rows.len(), rows[3301]), (3302, ""));
    let around: Vec<&str> = rows[3275..=3280].to_vec();
    let frequencies: Vec<&str> = around.iter().filter_map(|r| r.split(',').next()).collect();
    let alone = run(&["curves", "--at", &frequencies.join(",")], &file);
    assert_eq!(alone.split("\r\n").skip(1).take(6).collect::<Vec<_>>(), around);
}

fn collect_whys(value: &Value, found: &mut std::collections::BTreeSet<String>) {
    match value {
        Value::Object(members) => {
            if let Some(Value::String(why)) = members.get("why") {
                found.insert(why.clone());
            }
            members.values().for_each(|v| collect_whys(v, found));
        }
        Value::Array(items) => items.iter().for_each(|v| collect_whys(v, found)),
        _ => {}
    }
}

/// The part of JSON Schema 2020-12 that our schemas use. A keyword that is not known here is an error, so none goes unchecked.
struct Check<'s> {
    schema: &'s Value,
}

impl Check<'_> {
    fn value(&self, rule: &Value, value: &Value, at: &str) -> Result<(), String> {
        let rule = rule.as_object().ok_or_else(|| format!("{at}: no rule"))?;
        for (keyword, want) in rule {
            let held = match keyword.as_str() {
                "$schema" | "$defs" | "title" | "description" => true,
                "$ref" => {
                    let pointer = want.as_str().and_then(|r| r.strip_prefix('#')).expect("a local reference");
                    let rule =
                        self.schema.pointer(pointer).unwrap_or_else(|| panic!("{pointer} is not there"));
                    self.value(rule, value, at)?;
                    true
                }
                "type" => match want {
                    Value::String(one) => is(one, value),
                    Value::Array(any) => any.iter().any(|t| is(t.as_str().expect("a type"), value)),
                    _ => false,
                },
                "const" => value == want,
                "enum" => want.as_array().expect("a list").contains(value),
                "minimum" => value.as_f64() >= want.as_f64(),
                "maximum" => value.as_f64() <= want.as_f64(),
                "oneOf" => {
                    let rules = want.as_array().expect("a list");
                    rules.iter().filter(|r| self.value(r, value, at).is_ok()).count() == 1
                }
                "items" => {
                    for (i, item) in value.as_array().into_iter().flatten().enumerate() {
                        self.value(want, item, &format!("{at}/{i}"))?;
                    }
                    true
                }
                "required" => {
                    let names = want.as_array().expect("a list");
                    names.iter().all(|n| value.get(n.as_str().expect("a name")).is_some())
                }
                // Readers must bear new members; our own output has none that the schema leaves out.
                "properties" => {
                    let known = want.as_object().expect("rules");
                    if let Some(stranger) =
                        value.as_object().and_then(|o| o.keys().find(|k| !known.contains_key(*k)))
                    {
                        return Err(format!("{at}: `{stranger}` is not in the schema"));
                    }
                    for (name, rule) in known {
                        if let Some(member) = value.get(name) {
                            self.value(rule, member, &format!("{at}/{name}"))?;
                        }
                    }
                    true
                }
                other => panic!("the check knows no `{other}`"),
            };
            if !held {
                let shown: String = value.to_string().chars().take(200).collect();
                return Err(format!("{at}: {shown} breaks `{keyword}`: {want}"));
            }
        }
        Ok(())
    }
}

fn is(kind: &str, value: &Value) -> bool {
    match kind {
        "object" => value.is_object(),
        "array" => value.is_array(),
        "string" => value.is_string(),
        "boolean" => value.is_boolean(),
        "null" => value.is_null(),
        "number" => value.is_number(),
        "integer" => value.is_u64() || value.is_i64(),
        other => panic!("no type `{other}`"),
    }
}
