//! What the documents show is what the program says: README's file, its runs, and the paths that it names.

use std::process::Command;

use pickup_dsl::resolve::{Library, Unreadable, compile};

mod repository;

use repository::root;

/// Fenced blocks: (language, text).
fn blocks(text: &str) -> Vec<(String, String)> {
    let mut found = Vec::new();
    let mut open: Option<(String, String)> = None;
    for line in text.lines() {
        match (&mut open, line.strip_prefix("```")) {
            (None, Some(language)) => open = Some((language.to_owned(), String::new())),
            (Some(_), Some(_)) => found.extend(open.take()),
            (Some((_, body)), None) => {
                body.push_str(line);
                body.push('\n');
            }
            (None, None) => {}
        }
    }
    found
}

fn readme() -> String {
    std::fs::read_to_string(root().join("README.md")).expect("README.md")
}

#[test]
fn the_file_in_the_readme_is_the_example() {
    let shown: Vec<String> =
        blocks(&readme()).into_iter().filter(|(l, _)| l == "harness").map(|(_, b)| b).collect();
    let example = std::fs::read_to_string(root().join("examples/03-partial-split.harness")).expect("03");
    assert_eq!(shown, [example]);
}

#[test]
fn runs_in_the_readme_are_real() {
    let example = std::fs::read_to_string(root().join("examples/03-partial-split.harness")).expect("03");
    let slips = example
        .replace("C1 22n", "C1 22m")
        .replace("bridge.slug.finish to pull", "bridge.slug.finsh to pull");
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::write(folder.path().join("slip.harness"), slips).expect("written");
    let mut runs = 0;
    for (_, body) in blocks(&readme()) {
        let Some(rest) = body.strip_prefix("$ coilwright ") else { continue };
        let (command, shown) = rest.split_once('\n').expect("a command and its output");
        let at = if command.contains("slip") { folder.path().to_owned() } else { root() };
        let out = Command::new(env!("CARGO_BIN_EXE_coilwright"))
            .args(command.split_whitespace())
            .current_dir(at)
            .output()
            .expect("runs");
        let said = String::from_utf8([out.stderr, out.stdout].concat()).expect("UTF-8");
        assert_eq!(shown.trim_end(), said.trim_end(), "{command}");
        runs += 1;
    }
    assert_eq!(runs, 3);
}

fn examples_readme() -> String {
    std::fs::read_to_string(root().join("examples/README.md")).expect("examples/README.md")
}

/// The pictures that the READMEs show are what the program draws.
#[test]
fn pictures_in_the_readmes_are_real() {
    for (picture, arguments) in [
        ("two-humbuckers", &["plot", "examples/10-two-humbuckers.harness", "--svg"][..]),
        ("one-coil-tone", &["plot", "examples/01-one-coil.harness", "--family", "tone", "--svg"]),
        ("two-humbuckers-wiring", &["draw", "examples/10-two-humbuckers.harness"]),
        (
            "string-harmonics",
            &[
                "harmonics",
                "examples/20-wound-coils-and-strings.harness",
                "--string",
                "6",
                "--fret",
                "3",
                "--svg",
            ],
        ),
        ("partial-split-wiring", &["draw", "examples/03-partial-split.harness", "--position", "pull=up"]),
    ] {
        let path = format!("examples/pictures/{picture}.svg");
        let shown = [readme(), examples_readme()]
            .iter()
            .any(|text| text.contains(&format!("pictures/{picture}.svg")));
        assert!(shown, "{path} is shown nowhere");
        let out = Command::new(env!("CARGO_BIN_EXE_coilwright"))
            .args(arguments)
            .current_dir(root())
            .output()
            .expect("runs");
        let committed = std::fs::read_to_string(root().join(&path)).expect("a picture");
        assert!(
            String::from_utf8(out.stdout).expect("UTF-8") == committed,
            "{path}: draw it again with `coilwright {} --overwrite --output {path}`",
            arguments.join(" ")
        );
    }
}

/// Each row of the tutorial's table of switches: the bodies have those throws, the first at rest, and those lugs; and no body is left out.
#[test]
fn the_switches_of_the_tutorial_are_the_library_s() {
    struct NoFiles;
    impl Library for NoFiles {
        fn read(&self, _: &str) -> Result<String, Unreadable> {
            Err(Unreadable::Missing)
        }
    }
    let read = |name: &str| std::fs::read_to_string(root().join("pickup-dsl").join(name)).expect(name);
    let tutorial = read("TUTORIAL.md");
    let rows = tutorial.lines().skip_while(|line| !line.starts_with("| body |")).skip(2);
    let mut told = Vec::new();
    for row in rows.take_while(|line| line.starts_with('|')) {
        let cells: Vec<Vec<&str>> =
            row.split('|').map(|cell| cell.split('`').skip(1).step_by(2).collect()).collect();
        for body in &cells[1] {
            let text = format!(
                "coilwright 1\ncoil c 6k 2H\nswitch s is {body}\njack out\nwire c.start to out.tip\nwire c.finish to out.sleeve\n"
            );
            let harness = compile("s.harness", &text, &NoFiles).harness.expect(body);
            let (id, switch) = harness.switches().next().expect("a switch");
            assert_eq!(switch.throws[switch.rest].name, cells[2][0], "{body}");
            for throw in cells[2].iter().filter(|throw| **throw != "ways") {
                assert!(switch.throws.iter().any(|known| known.name == *throw), "{body}: {throw}");
            }
            let words = cells[3].iter().filter(|lug| !lug.contains('…') && !lug.contains("on-on"));
            for lug in words.filter(|lug| !["lever-3", "lever-5-super", "decks"].contains(lug)) {
                assert!(harness.lug(id, lug).is_some(), "{body}: {lug}");
            }
            told.push((*body).to_owned());
        }
    }
    let library = read("src/library/bodies.harness");
    let bodies = library.lines().filter_map(|line| line.strip_prefix("pattern switch "));
    for body in bodies.filter_map(|rest| rest.split([' ', ',']).next()) {
        assert!(told.iter().any(|known| known == body), "{body} is not in the table");
    }
}

/// The tutorial: each file stands in a folder under its name, each run says what is shown of it; `…` stands for lines left out.
#[test]
fn runs_in_the_tutorial_are_real() {
    let text = std::fs::read_to_string(root().join("pickup-dsl/TUTORIAL.md")).expect("TUTORIAL.md");
    let folder = tempfile::tempdir().expect("a folder");
    let mut runs = 0;
    for (language, body) in blocks(&text) {
        if let Some(name) = language.strip_prefix("harness ") {
            std::fs::write(folder.path().join(name), body).expect("written");
            continue;
        }
        let (command, shown) = body
            .strip_prefix("$ coilwright ")
            .and_then(|r| r.split_once('\n'))
            .expect("a command and its output");
        let out = Command::new(env!("CARGO_BIN_EXE_coilwright"))
            .args(command.split_whitespace())
            .current_dir(folder.path())
            .output()
            .expect("runs");
        let said = String::from_utf8([out.stderr, out.stdout].concat()).expect("UTF-8");
        let whole = !shown.lines().any(|l| l == "…");
        assert!(!whole || shown.trim_end() == said.trim_end(), "{command}:\n{said}");
        let mut left = said.as_str();
        for part in shown.split("…\n").filter(|part| !part.is_empty()) {
            let at = left.find(part).unwrap_or_else(|| panic!("{command}: not in\n{left}:\n{part}"));
            left = &left[at + part.len()..];
        }
        runs += 1;
    }
    assert!(runs >= 9);
}

#[test]
fn paths_in_the_documents_exist() {
    for document in
        ["README.md", "DEVELOPERS.md", "examples/README.md", "tests/README.md", "pickup-dsl/TUTORIAL.md"]
    {
        let path = root().join(document);
        let text = std::fs::read_to_string(&path).expect(document);
        for link in text.split("](").skip(1).filter_map(|t| t.split_once(')')).map(|(link, _)| link) {
            if !link.contains("://") && !link.starts_with('#') {
                assert!(path.parent().expect("a folder").join(link).exists(), "{document}: {link}");
            }
        }
    }
}
