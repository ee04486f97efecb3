//! The page for the customer: it is one file that asks for nothing, its names are no markup, and its figures are those of the other commands.
//! What a browser makes of it: `tests/browser`.

use std::path::Path;
use std::process::Command;

use serde_json::Value;

mod repository;
mod terminal;

use repository::{examples, root};
use terminal::{code, coilwright, folder, session};

fn page(folder: &Path, args: &[&str]) -> String {
    let out = coilwright(folder).arg("page").args(args).output().expect("runs");
    assert_eq!(code(&out), 0, "{args:?}: {}", String::from_utf8_lossy(&out.stderr));
    String::from_utf8(out.stdout).expect("UTF-8")
}

fn data(page: &str) -> Value {
    let start = page.find("<script type=\"application/json\" id=\"data\">").expect("data") + 42;
    let end = page[start..].find("</script>").expect("an end") + start;
    serde_json::from_str(&page[start..end]).expect("JSON")
}

fn report(args: &[&str]) -> Value {
    let out = Command::new(env!("CARGO_BIN_EXE_coilwright"))
        .current_dir(root())
        .args(["report", "--json"])
        .args(args)
        .output()
        .expect("runs");
    serde_json::from_slice(&out.stdout).expect("JSON")
}

/// Decibels of the curve of that index.
fn curve(data: &Value, index: &Value) -> Vec<Option<f64>> {
    let index = index.as_u64().expect("an index") as usize;
    let mut now = 0.0;
    let steps = data["curves"][index].as_array().expect("steps");
    let mut decibels = |step: &Value| {
        now += step.as_f64()?;
        Some(now / data["steps"].as_f64().expect("steps"))
    };
    steps.iter().map(&mut decibels).collect()
}

#[test]
fn every_example_is_a_page_that_asks_for_nothing() {
    for example in examples() {
        let name = example.display().to_string();
        let page = page(&root(), &[&name]);
        assert!(page.starts_with("<!DOCTYPE html>") && page.ends_with("</html>\n"), "{name}");
        // The name of the markup of pictures is no address that anything asks.
        let page = page.replace("http://www.w3.org/2000/svg", "");
        for asking in [" src=", "url(", "@import", "http://", "https://", "<link", "<iframe"] {
            assert!(!page.contains(asking), "{name}: {asking}");
        }
        let links: Vec<&str> = page.split(" href=\"").skip(1).collect();
        assert!(!links.is_empty() && links.iter().all(|link| link.starts_with('#')), "{name}");
        let data = data(&page);
        let voices = data["voices"].as_array().expect("voices").len();
        assert_eq!(page.matches("name=\"chosen\"").count(), voices + 1, "{name}: one in the script");
    }
}

/// Knobs, curves and figures of the page against the report of the same knobs.
#[test]
fn states_are_those_of_the_report() {
    let file = "examples/06-two-volumes-two-tones.harness";
    let data = data(&page(&root(), &[file]));
    let frequencies = data["frequencies"].as_array().expect("frequencies");
    let picked = [0, 57, 136, 171, 190, 240];
    let at: Vec<String> = picked.iter().map(|i| frequencies[*i].to_string()).collect();
    let at = at.join(",");
    let plateau =
        report(&[file, "--position", "Bridge"])["positions"][0]["outlets"][0]["plateau_db"]["value"]
            .as_f64()
            .expect("the reference sounds");
    let mut state = 1;
    let mut seen = 0;
    for knob in data["knobs"].as_array().expect("knobs") {
        let rest = knob["rest"].as_u64().expect("an index") as usize;
        for (i, setting) in knob["settings"].as_array().expect("settings").iter().enumerate() {
            if i == rest {
                continue;
            }
            let turned = format!("{}={setting}", knob["name"].as_str().expect("a name"));
            let told = report(&[file, "--knob", &turned, "--at", &at]);
            for (voice, position) in data["voices"]
                .as_array()
                .expect("voices")
                .iter()
                .zip(told["positions"].as_array().expect("positions"))
            {
                let shown = &voice["states"][state];
                let outlet = &position["outlets"][0];
                let values = curve(&data, &shown[0]);
                let response = &outlet["responses"]["response_v"];
                for (nth, i) in picked.iter().enumerate() {
                    let part = |of: &str| response[of][nth].as_f64();
                    let magnitude =
                        part("re").zip(part("im")).map(|(re, im)| libm::hypot(re, im)).filter(|m| *m > 0.0);
                    match (values[*i], magnitude.map(|m| 20.0 * libm::log10(m) - plateau)) {
                        (Some(a), Some(b)) => assert!((a - b).abs() < 0.0051, "{turned}: {a} {b}"),
                        (a, b) => assert_eq!(a.is_some(), b.is_some(), "{turned}"),
                    }
                    seen += 1;
                }
                let cells =
                    data["cells"][shown[1].as_u64().expect("an index") as usize].as_array().expect("cells");
                if let Some(hertz) = outlet["resonance_hz"]["value"].as_f64() {
                    let cell = cells[1].as_str().expect("a text").trim_end_matches('!');
                    let kilohertz: f64 = cell.parse().expect("a number");
                    // Three digits, and never more than two decimals.
                    let rounding = (hertz * 0.005).max(5.0) + 0.1;
                    assert!((kilohertz * 1e3 - hertz).abs() < rounding, "{turned}: {kilohertz} {hertz}");
                }
            }
            state += 1;
        }
    }
    assert!(seen > 100, "{seen}");
}

#[test]
fn names_are_no_markup() {
    let harness = "coilwright 1\nguitar \"</script><img src=x onerror=alert(1)>\"\ncoil lead 6.5k 2.8H, pole south\n\
                   switch way is on-on\njack out\nwire lead.start to way.A.common\nwire way.A.1 to out.tip\nwire way.A.2 to out.tip\n\
                   wire lead.finish to out.sleeve\nposition \"<!--<script>\" way 1\nposition \"'\\\" onclick=x\" way 2\n";
    let dir = folder(&[("h.harness", harness)]);
    let page = page(dir.path(), &["h.harness"]);
    assert!(!page.contains("<img") && !page.contains("<!--"), "{page}");
    let outside: String =
        page.split("<script").map(|part| part.split_once("</script>").unwrap_or(("", part)).1).collect();
    assert!(!outside.contains("\" onclick") && outside.contains("&#34; onclick"), "{outside}");
    assert_eq!(page.matches("</script>").count(), 2, "the two of the page itself");
    assert_eq!(data(&page)["voices"][0]["name"], "<!--<script>");
}

/// The same file gives the same bytes.
#[test]
fn the_same_page_twice() {
    let file = "examples/10-two-humbuckers.harness";
    assert_eq!(page(&root(), &[file]), page(&root(), &[file]));
}

#[test]
fn what_cannot_be_is_refused() {
    let dir = folder(&[(
        "h.harness",
        "coilwright 1\ncoil lead 6.5k 2.8H, pole south\njack out\nwire lead.start to out.tip\nwire lead.finish to out.sleeve\n",
    )]);
    let said = session(dir.path(), &["page", "h.harness", "--variant", "Hot"]);
    assert!(said.contains("exit code 2") && said.contains("there is no variant `Hot`"), "{said}");
    assert!(
        session(dir.path(), &["page", "h.harness", "--output", "h.harness", "--overwrite"])
            .contains("exit code 2")
    );
}

/// What the file expects, in words: the verdicts of `check`, of many builds too, whichever positions the page shows.
#[test]
fn expectations_are_those_of_check() {
    let good = std::fs::read_to_string(root().join("examples/21-kept-right.harness")).expect("an example");
    let worse = good.replace("R1 1k5", "R1 470");
    let dir = folder(&[("good.harness", &good), ("worse.harness", &worse)]);
    let rows = |page: &str| -> Vec<String> {
        let table =
            page.split("<table class=\"kept\">").nth(1).and_then(|rest| rest.split("</table>").next());
        let rows = table.expect("a table").split("<tr><th scope=\"row\">").skip(1);
        rows.map(str::to_owned).collect()
    };
    for (file, fails) in [("good.harness", false), ("worse.harness", true)] {
        let out = coilwright(dir.path()).args(["check", "--json", file]).output().expect("runs");
        let told: Value = serde_json::from_slice(&out.stdout).expect("JSON");
        let told = told["files"][0]["expectations"].as_array().expect("expectations").clone();
        let whole = page(dir.path(), &[file]);
        let rows_of_whole = rows(&whole);
        assert_eq!(rows_of_whole.len(), told.len());
        for (row, told) in rows_of_whole.iter().zip(&told) {
            let word = if told["holds"] == true { ">holds</td>" } else { ">fails</td>" };
            assert!(row.contains(word), "{row} {told}");
            if let Some(because) = told["because"].as_str() {
                assert!(row.contains(because), "{row}");
            }
        }
        assert_eq!(rows_of_whole.iter().any(|row| row.contains(">fails</td>")), fails);
        assert_eq!(whole.contains("All 11 hold."), !fails);
        assert_eq!(rows(&page(dir.path(), &[file, "--position", "Neck"])), rows_of_whole);
    }
    assert!(!page(&root(), &["examples/01-one-coil.harness"]).contains("class=\"kept\""));
}

/// Only those that are asked for, in that order, each with its curve as the page opens.
#[test]
fn positions_may_be_chosen() {
    let file = "examples/10-two-humbuckers.harness";
    let page = page(&root(), &[file, "--position", "Neck half", "--position", "rest"]);
    let data = data(&page);
    let names: Vec<&str> =
        data["voices"].as_array().expect("voices").iter().filter_map(|v| v["name"].as_str()).collect();
    assert_eq!(names, ["Neck half", "Neck"]);
    assert_eq!(data["start"]["chosen"], 0);
    assert_eq!(data["start"]["also"], serde_json::json!([1]));
    assert!(page.contains("2 of its positions"));
    let said = session(&root(), &["page", file, "--position", "Neck hall"]);
    assert!(said.contains("exit code 2") && said.contains("did you mean `Neck half`?"), "{said}");
}

/// Where the file says where the pickups sit: each open string, the thickest first, with the levels of `harmonics`.
#[test]
fn harmonics_of_strings_are_those_of_the_command() {
    let file = "examples/20-wound-coils-and-strings.harness";
    let page = page(&root(), &[file, "--position", "Both", "--position", "Neck"]);
    assert_eq!(page.matches(" class=\"stems\"").count(), 6);
    let levels = |position: &str| -> Vec<f64> {
        let arguments = ["harmonics", file, "--json", "--string", "6", "--position", position];
        let out = coilwright(&root()).args(arguments).output().expect("runs");
        let told: Value = serde_json::from_slice(&out.stdout).expect("JSON");
        let harmonics = told["strings"][0]["harmonics"].as_array().expect("harmonics").clone();
        let level = |h: &Value| h["outlets"][0]["level_db_re_1v"]["value"].as_f64().expect("sounds");
        harmonics.iter().map(level).collect()
    };
    let (both, neck) = (levels("Both"), levels("Neck"));
    let table = page.split("<caption>String 6, open").nth(1).and_then(|rest| rest.split("</table>").next());
    let table = table.expect("a table");
    assert!(table.find(">Both</th>") < table.find(">Neck</th>"));
    let rows = table.split("<tr><th scope=\"row\"").skip(1);
    let mut seen = 0;
    for (i, row) in rows.enumerate() {
        let cells: Vec<&str> =
            row.split("<td class=\"number\">").skip(1).filter_map(|cell| cell.split('<').next()).collect();
        for (cell, levels) in cells[1..].iter().zip([&both, &neck]) {
            let shown: f64 = cell.replace('\u{2212}', "-").parse().expect("a number");
            assert!((shown - (levels[i] - neck[0])).abs() < 0.051, "{i}: {cell}");
            seen += 1;
        }
    }
    assert_eq!(seen, 40);
}
