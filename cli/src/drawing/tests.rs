//! Pictures of every example and of wirings by chance: nothing lies on anything else, and all of the file is there.

use std::collections::{BTreeMap, BTreeSet};

use pickup_dsl::harness::{Harness, JointKind, LugId};
use pickup_dsl::network::{Knobs, Network};
use pickup_dsl::positions::{Wanted, positions};
use pickup_dsl::resolve::{Library, Unreadable, compile};
use proptest::prelude::{ProptestConfig, prop_assert, proptest};

use super::piece::{BOLD, SMALL, text_width};
use super::svg::as_many_as_fit;
use super::{Drawing, MOST_WIRES, Shown, State};
use crate::job;
use crate::picture::Theme;

struct NoFiles;

impl Library for NoFiles {
    fn read(&self, _: &str) -> Result<String, Unreadable> {
        Err(Unreadable::Missing)
    }
}

fn of_text(text: &str) -> Harness {
    let compiled = compile("t.harness", text, &NoFiles);
    compiled.harness.unwrap_or_else(|| panic!("{:#?}\n{text}", compiled.diagnostics))
}

fn examples() -> Vec<(String, Harness)> {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../examples");
    let entries = std::fs::read_dir(folder).expect("examples");
    let mut all: Vec<_> = entries.map(|e| e.expect("an entry").path()).collect();
    all.retain(|path| path.extension().is_some_and(|e| e == "harness"));
    all.sort();
    assert!(all.len() >= 20);
    all.iter().map(|path| (path.display().to_string(), job::open(path).expect("compiles").harness)).collect()
}

fn picture(drawing: &Drawing<'_>, state: Option<&State>) -> String {
    drawing.svg(Shown { title: "A guitar", state, theme: Some(Theme::Auto), id: "" })
}

/// Everything that must hold of any drawing. What does not comes back.
fn faults(drawing: &Drawing<'_>) -> Vec<String> {
    let harness = drawing.harness;
    let mut found = Vec::new();
    let mut wanted: Vec<(LugId, LugId)> =
        harness.joints.iter().filter(|j| j.kind == JointKind::Wire).map(|j| (j.a, j.b)).collect();
    // What stands after the jack has no picture; no test here solders to it.
    for wire in &drawing.wires {
        match wanted.iter().position(|lugs| *lugs == wire.lugs) {
            Some(at) => drop(wanted.remove(at)),
            None => found.push(format!("{:?} is drawn once too often", wire.lugs)),
        }
    }
    found.extend(wanted.iter().map(|lugs| format!("{lugs:?} is not drawn")));
    let mut ports: BTreeMap<LugId, Vec<(i32, i32)>> = BTreeMap::new();
    for piece in &drawing.pieces {
        for pad in &piece.pads {
            for lug in &pad.lugs {
                ports.entry(*lug).or_default().extend((0..pad.ports).map(|port| piece.port(pad, port)));
            }
        }
    }
    let mut level = BTreeSet::new();
    let mut upright = BTreeSet::new();
    let mut turns = BTreeSet::new();
    let mut passed = Vec::new();
    for wire in drawing.wires.iter().filter(|wire| !wire.straight) {
        let name = format!("{} to {}", harness.lug_name(wire.lugs.0), harness.lug_name(wire.lugs.1));
        let ends = [wire.path[0], wire.path[wire.path.len() - 1]];
        if !ports[&wire.lugs.0].contains(&ends[0]) || !ports[&wire.lugs.1].contains(&ends[1]) {
            found.push(format!("{name} ends elsewhere"));
        }
        for turn in &wire.path {
            if !turns.insert(*turn) {
                found.push(format!("{name} bends or ends on another at {turn:?}"));
            }
        }
        for pair in wire.path.windows(2) {
            let ((ax, ay), (bx, by)) = (pair[0], pair[1]);
            if ax != bx && ay != by {
                found.push(format!("{name} runs aslant"));
            }
            let count = (ax - bx).abs().max((ay - by).abs());
            let step = ((bx - ax).signum(), (by - ay).signum());
            for i in 0..=count {
                let place = (ax + step.0 * i, ay + step.1 * i);
                if !ends.contains(&place) && drawing.pieces.iter().any(|piece| piece.covers(place)) {
                    found.push(format!("{name} runs through a part at {place:?}"));
                }
                if i > 0 && i < count {
                    passed.push((place, name.clone()));
                }
                if i < count {
                    let half = (2 * place.0 + step.0, 2 * place.1 + step.1);
                    let lanes = if step.1 == 0 { &mut level } else { &mut upright };
                    if !lanes.insert(half) {
                        found.push(format!("{name} lies on another wire at {place:?}"));
                    }
                }
            }
        }
    }
    found.extend(
        passed
            .iter()
            .filter(|(place, _)| turns.contains(place))
            .map(|(place, name)| format!("{name} passes a bend or an end at {place:?}")),
    );
    for (i, a) in drawing.pieces.iter().enumerate() {
        for b in &drawing.pieces[i + 1..] {
            let apart = a.at.0 + a.width < b.at.0
                || b.at.0 + b.width < a.at.0
                || a.at.1 + a.height < b.at.1
                || b.at.1 + b.height < a.at.1;
            if !apart {
                found.push(format!("{} lies on {}", a.title, b.title));
            }
        }
    }
    found.extend(overlapping(&picture(drawing, None)));
    found
}

fn attribute<'t>(tag: &'t str, name: &str) -> &'t str {
    let from = tag.split_once(&format!(" {name}=\"")).map_or("", |(_, rest)| rest);
    from.split('"').next().unwrap_or("")
}

/// Texts that reach over each other or over the edge, by their room; what a throw shows is left out.
fn overlapping(svg: &str) -> Vec<String> {
    let width: f64 = attribute(svg, "width").parse().expect("a width");
    let mut boxes: Vec<(f64, f64, f64, f64, String)> = Vec::new();
    let mut hidden = 0;
    for line in svg.lines() {
        if line.contains("class=\"contact\"") {
            hidden = 1;
            continue;
        }
        if hidden > 0 {
            hidden = (hidden + line.matches("<g").count()) - line.matches("</g>").count();
            continue;
        }
        for piece in line.split("<text ").skip(1) {
            let (tag, rest) = piece.split_once('>').expect("a tag");
            let tag = format!(" {tag}");
            let inner = rest.split("</text>").next().expect("a text");
            let (head, value) = inner.split_once("<tspan").map_or((inner, ""), |(head, rest)| {
                (head, rest.split_once('>').map_or("", |(_, v)| v.trim_end_matches("</tspan>")))
            });
            let size = match attribute(&tag, "class") {
                "head" => 18.0,
                "name" => BOLD,
                "number" => 9.0,
                "tiny" => SMALL - 1.0,
                _ => SMALL,
            };
            let gap = if value.is_empty() { 0.0 } else { 6.0 };
            let long = text_width(&plain(head), size) + gap + text_width(&plain(value), SMALL);
            let at = |name| attribute(&tag, name).parse::<f64>().expect("a number");
            let anchor = match (attribute(&tag, "class"), attribute(&tag, "text-anchor")) {
                ("number", _) | (_, "middle") => 0.5,
                (_, "end") => 1.0,
                _ => 0.0,
            };
            let left = at("x") - anchor * long;
            boxes.push((left, at("y") - size * 0.75, left + long, at("y"), plain(inner)));
        }
    }
    assert!(boxes.len() > 10, "texts are found");
    let mut found = Vec::new();
    for (i, a) in boxes.iter().enumerate() {
        if a.0 < 0.0 || a.2 > width {
            found.push(format!("`{}` reaches over the edge", a.4));
        }
        for b in &boxes[i + 1..] {
            if a.0 < b.2 && b.0 < a.2 && a.1 < b.3 && b.1 < a.3 {
                found.push(format!("`{}` lies on `{}`", a.4, b.4));
            }
        }
    }
    found
}

fn plain(text: &str) -> String {
    text.replace("&lt;", "<")
        .replace("&gt;", ">")
        .replace("&quot;", "\"")
        .replace("&#39;", "'")
        .replace("&amp;", "&")
}

/// Tags closed in order, attributes quoted, no stray sign of markup in text.
fn well_formed(svg: &str) {
    let mut open: Vec<&str> = Vec::new();
    let mut rest = svg;
    while let Some((text, after)) = rest.split_once('<') {
        assert!(!text.contains('>') || open.last() == Some(&"style"), "{text}");
        for entity in text.split('&').skip(1) {
            let known = ["amp;", "lt;", "gt;", "quot;", "#39;"];
            assert!(known.iter().any(|known| entity.starts_with(known)), "{entity}");
        }
        let (tag, after) = after.split_once('>').expect("a whole tag");
        assert!(!tag.contains('<') && tag.matches('"').count() % 2 == 0, "{tag}");
        rest = after;
        if let Some(name) = tag.strip_prefix('/') {
            assert_eq!(open.pop(), Some(name));
        } else if !tag.ends_with('/') {
            open.push(tag.split_whitespace().next().expect("a name"));
        }
    }
    assert!(open.is_empty(), "{open:?}");
    assert_eq!(rest, "\n");
}

#[test]
fn every_example_is_drawn_clean() {
    for (name, harness) in examples() {
        let drawing = Drawing::of(&harness).expect("few wires");
        assert_eq!(drawing.straight(), 0, "{name}");
        assert_eq!(faults(&drawing), Vec::<String>::new(), "{name}");
        let svg = picture(&drawing, None);
        well_formed(&svg);
        assert_eq!(svg.matches("data-wire=").count(), drawing.wires.len(), "{name}");
        assert!(svg.contains("role=\"img\"") && svg.contains("<desc"), "{name}");
        assert_eq!(svg, picture(&Drawing::of(&harness).expect("few wires"), None), "{name}");
    }
}

/// In each position one throw of each switch is shown, what carries the signal is not faint, and ground is.
#[test]
fn a_position_stands_out() {
    for (name, harness) in examples() {
        let network = Network::of(&harness).expect("sound");
        let drawing = Drawing::of(&harness).expect("few wires");
        let all = positions(&harness, Wanted::default()).expect("not too many");
        for position in all.iter().take(6) {
            let state = State::of(&network, &harness, position, &Knobs::default());
            let svg = picture(&drawing, Some(&state));
            well_formed(&svg);
            assert_eq!(overlapping(&svg), Vec::<String>::new(), "{name}: {}", position.key);
            let shown = svg.matches("class=\"contact closed\"").count();
            assert_eq!(shown, harness.switches().count(), "{name}: {}", position.key);
            for (index, wire) in drawing.wires.iter().enumerate() {
                let tag = svg
                    .lines()
                    .find(|line| line.contains(&format!("data-wire=\"{index}\"")))
                    .expect("a wire");
                let faint = attribute(tag, "class").contains("faded");
                assert_eq!(faint, !state.signal.carries[wire.lugs.0.0 as usize], "{name}: {tag}");
                assert!(faint || !tag.contains("ground"), "{name}: {tag}");
            }
            assert!(svg.contains(&format!("data-throws=\"{}\"", numbers(&state.throws))));
            assert!(svg.contains(&format!("data-carrying=\"{}\"", numbers(&state.carrying()))));
        }
    }
}

fn numbers<T: ToString>(all: &[T]) -> String {
    all.iter().map(T::to_string).collect::<Vec<_>>().join(" ")
}

#[test]
fn markup_in_a_title_is_text_and_ids_can_be_told_apart() {
    let harness = of_text(
        "coilwright 1\ncoil c 6k 2H\njack out\nswitch s is on-on\nposition \"<b> & 'co'\" s 2\nwire c.start to s.A.common\nwire s.A.2 to out.tip\nwire c.finish to out.sleeve\n",
    );
    let position = positions(&harness, Wanted::default()).expect("few").remove(1);
    let network = Network::of(&harness).expect("sound");
    let state = State::of(&network, &harness, &position, &Knobs::default());
    let drawing = Drawing::of(&harness).expect("few wires");
    let svg = drawing.svg(Shown {
        title: "</title><script>",
        state: Some(&state),
        theme: Some(Theme::Dark),
        id: "w-",
    });
    well_formed(&svg);
    assert!(!svg.contains("<script") && !svg.contains("<b>"), "{svg}");
    assert!(svg.contains("id=\"w-title\"") && svg.contains("aria-labelledby=\"w-title w-description\""));
    assert!(!svg.contains("prefers-color-scheme"));
}

/// Names as long as a file may have them, and as wide.
#[test]
fn long_names_lie_on_nothing() {
    let (long, wide) = ("m".repeat(120), "音".repeat(40));
    let text = format!(
        "coilwright 1\npickup {long} {{\n  coil {long} 6k 2H\n  coil {wide} 6k 2H\n}}\nresistor {wide} 4.7M\njack out\n\
         switch {wide}s {{\n  lugs (common {long} {wide})\n  throw {long} joins (common {long})\n  throw {wide} joins (common {wide})\n  break-first\n}}\n\
         wire {long}.{long}.start to {wide}s.{wide}\nwire {long}.{wide}.start to {wide}s.{long}\n\
         wire {wide}s.common to {wide}.1\nwire {wide}.2 to out.tip\nwire out.sleeve to {long}.{long}.finish, {long}.{wide}.finish\n"
    );
    let harness = of_text(&text);
    let drawing = Drawing::of(&harness).expect("few wires");
    assert_eq!(faults(&drawing), Vec::<String>::new());
    let network = Network::of(&harness).expect("sound");
    for position in positions(&harness, Wanted::default()).expect("few") {
        let state = State::of(&network, &harness, &position, &Knobs::default());
        assert_eq!(overlapping(&picture(&drawing, Some(&state))), Vec::<String>::new());
    }
}

/// What could not be laid says so, in the picture too.
#[test]
fn a_straight_line_is_told() {
    let harness = examples().remove(0).1;
    let mut drawing = Drawing::of(&harness).expect("few wires");
    assert!(!picture(&drawing, None).contains("Straight lines"));
    drawing.wires[0].straight = true;
    let svg = picture(&drawing, None);
    assert_eq!(svg.matches("Straight lines, 1: no way").count(), 2, "caption and description");
    let first = svg.lines().find(|line| line.contains("data-wire=\"0\"")).expect("a wire");
    assert!(attribute(first, "class").contains("straight"), "{first}");
}

/// Every selector holds inside a picture only, so that a document may have the rules beside its own.
#[test]
fn rules_touch_nothing_outside() {
    for theme in [Theme::Auto, Theme::Light, Theme::Dark] {
        let rules = super::svg::style::style(theme);
        let heads = rules.split('}').filter_map(|rule| rule.split_once('{')).map(|(head, _)| head.trim());
        let heads: Vec<&str> = heads.filter(|head| !head.starts_with('@')).collect();
        assert!(heads.len() > 30);
        for selector in heads.iter().flat_map(|head| head.split(',')) {
            assert!(selector.starts_with(".wiring "), "{selector}");
        }
    }
    let harness = examples().remove(0).1;
    let drawing = Drawing::of(&harness).expect("few wires");
    let bare = drawing.svg(Shown { title: "A guitar", state: None, theme: None, id: "" });
    assert!(!bare.contains("<style"));
}

#[test]
fn more_wires_than_can_be_read_are_refused() {
    let mut text =
        "coilwright 1\ncoil c 6k 2H\njack out\nwire c.start to out.tip\nwire c.finish to out.sleeve\n"
            .to_owned();
    for i in 0..MOST_WIRES {
        text.push_str(&format!("resistor R{i} 1k\nwire R{i}.1 to out.tip\n"));
    }
    let harness = of_text(&text);
    assert_eq!(Drawing::of(&harness).expect_err("too many").count, MOST_WIRES + 2);
}

/// Parts by chance, wired by chance.
fn chance(kinds: &[usize], wires: &[(usize, usize)]) -> String {
    let mut text = "coilwright 1\ncoil c 6k 2H\njack out\nstrings\nswitch s is on-on\nposition \"a\" s 2\npositions named only\nwire c.start to out.tip\n".to_owned();
    let mut lugs: Vec<String> =
        ["c.start", "c.finish", "out.tip", "out.sleeve", "strings"].map(String::from).to_vec();
    for (i, kind) in kinds.iter().enumerate() {
        let (line, names): (&str, &[&str]) = match kind % 15 {
            0 => ("pot P# 500k audio", &["1", "2", "3", "case"]),
            1 => ("switch P# is on-on", &["A.common", "A.1", "A.2", "B.common", "B.1", "B.2", "frame"]),
            2 => ("switch P# is lever-5-super", &["A.common", "A.1", "B.5", "C.common", "D.common", "D.3"]),
            3 => ("resistor P# 1k", &["1", "2"]),
            4 => ("capacitor P# 22n", &["1", "2"]),
            5 => ("switch P# is rotary-6", &["common", "1", "2", "3", "4", "5", "6"]),
            6 => ("splice P#", &[""]),
            7 => ("inductor P# 1H 100", &["1", "2"]),
            8 => ("opamp P#, bandwidth 1MHz", &["plus", "minus", "out", "ground", "supply"]),
            9 => ("battery P# 9V", &["plus", "minus"]),
            10 => ("piezo P# 1nF, volts 1V", &["plus", "minus"]),
            11 => ("shield P#", &[""]),
            12 => (
                "pot P# 250k audio, gang upper, gang lower",
                &["upper.1", "upper.2", "upper.3", "lower.2", "case"],
            ),
            13 => ("lead P# 1m 100pF/m", &["in", "out", "screen"]),
            _ => ("coil P# 6k 2H", &["start", "finish"]),
        };
        text.push_str(&line.replace('#', &i.to_string()));
        text.push('\n');
        let dot = |name: &&str| if name.is_empty() { format!("P{i}") } else { format!("P{i}.{name}") };
        lugs.extend(names.iter().map(dot));
    }
    let mut seen = BTreeSet::new();
    for (a, b) in wires {
        let (a, b) = (a % lugs.len(), b % lugs.len());
        if a != b && seen.insert((a.min(b), a.max(b))) && (a.min(b), a.max(b)) != (0, 2) {
            text.push_str(&format!("wire {} to {}\n", lugs[a], lugs[b]));
        }
    }
    text
}

#[test]
fn a_list_that_is_cut_says_how_much_is_left() {
    let names = ["volume.3", "tone.1", "lever.common"].map(str::to_owned);
    for said in ["volume.3, tone.1, lever.common", "volume.3, tone.1 and 1 more", "volume.3 and 2 more"] {
        assert_eq!(as_many_as_fit(&names, text_width(said, SMALL)), said);
    }
    assert!(as_many_as_fit(&names, 60.0).ends_with('…'));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]
    #[test]
    fn any_wiring_is_drawn_clean(
        kinds in proptest::collection::vec(0_usize..15, 0..14),
        wires in proptest::collection::vec((0_usize..200, 0_usize..200), 1..40),
    ) {
        let harness = of_text(&chance(&kinds, &wires));
        let drawing = Drawing::of(&harness).expect("few wires");
        let found = faults(&drawing);
        prop_assert!(found.is_empty(), "{found:#?}");
        prop_assert!(drawing.straight() == 0, "{} straight", drawing.straight());
    }
}
