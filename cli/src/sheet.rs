//! The build sheet: parts, wires in order of the work, cautions.

mod parts;

use pickup_dsl::diagnostic::escape;
use pickup_dsl::harness::{Harness, LugId};
use pickup_dsl::sheet::{Sheet, Step, Wire, other_name};

use crate::cautions;
use crate::document::{Block, Page};
use crate::job::File;
use crate::report::notes::place_of;
pub(crate) use parts::parts;

/// The page.
#[must_use]
pub(crate) fn page(file: &File, sheet: &Sheet) -> Page {
    let harness = &file.harness;
    let mut cautions: Vec<String> = cautions::ALWAYS.iter().map(|line| (*line).to_owned()).collect();
    if sheet.active {
        cautions.push(cautions::ACTIVE.to_owned());
    }
    let mut blocks = vec![
        Block::Paragraph(format!("Build sheet: {} wires.", sheet.wires.len())),
        Block::Heading("Before you start".to_owned()),
        Block::Cautions(cautions),
        Block::Heading("Parts".to_owned()),
        Block::Rows(
            vec!["part", "what", "value", "tolerance", "said in"],
            parts(harness)
                .into_iter()
                .map(|line| {
                    let place = place_of(file, line.span);
                    vec![escape(&line.name), line.what, line.value, line.tolerance, place]
                })
                .collect(),
        ),
    ];
    for step in Step::ALL {
        let wires: Vec<&Wire> = sheet.wires.iter().filter(|wire| wire.step == step).collect();
        if !wires.is_empty() {
            blocks.push(Block::Heading(step.title().to_owned()));
            blocks.push(Block::Ticks(wires.into_iter().map(|wire| line(file, wire)).collect()));
        }
    }
    if !sheet.shared.is_empty() {
        let lugs = sheet.shared.iter().map(|(lug, count)| format!("{} {count}", named(harness, *lug)));
        blocks.push(Block::Heading("Lugs that take several wires".to_owned()));
        blocks.push(Block::Paragraph(format!(
            "Put all of them in place before you solder: {}.",
            lugs.collect::<Vec<_>>().join(", ")
        )));
    }
    if !sheet.made.is_empty() {
        let joints =
            sheet.made.iter().map(|(a, b)| format!("{} to {}", named(harness, *a), named(harness, *b)));
        blocks.push(Block::Heading("There already, inside the pickups".to_owned()));
        blocks.push(Block::Paragraph(format!("{}.", joints.collect::<Vec<_>>().join(", "))));
    }
    Page { title: escape(harness.title.as_deref().unwrap_or(&file.name)), blocks }
}

/// `volume.3 to tone.1 (line 24)`
fn line(file: &File, wire: &Wire) -> String {
    let harness = &file.harness;
    let place = place_of(file, wire.span);
    format!("{} to {} ({place})", named(harness, wire.from), named(harness, wire.to))
}

/// A lug as the file names it; a colour with the coil end that it is, and the other way round.
#[must_use]
pub(crate) fn named(harness: &Harness, lug: LugId) -> String {
    let name = escape(&harness.lug_name(lug));
    match other_name(harness, lug) {
        Some(other) => format!("{name} = {}", escape(&harness.lugs[other.0 as usize].name)),
        None => name,
    }
}
