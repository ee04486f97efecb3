//! The build sheet: parts, wires in order of the work, cautions.

mod parts;

use std::collections::BTreeMap;

use pickup_dsl::diagnostic::escape;
use pickup_dsl::harness::{Harness, LugId};
use pickup_dsl::sheet::{Sheet, Step, Wire, other_names};

use crate::cautions;
use crate::document::{Block, Page};
use crate::job::File;
use crate::report::notes::place_of;
pub(crate) use parts::parts;

/// The page.
#[must_use]
pub(crate) fn page(file: &File, sheet: &Sheet) -> Page {
    let harness = &file.harness;
    let lugs = Lugs::of(harness);
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
            blocks.push(Block::Ticks(wires.into_iter().map(|wire| line(file, &lugs, wire)).collect()));
        }
    }
    if !sheet.shared.is_empty() {
        let shared = sheet.shared.iter().map(|(lug, count)| format!("{} {count}", lugs.named(*lug)));
        blocks.push(Block::Heading("Lugs that take several wires".to_owned()));
        blocks.push(Block::Paragraph(format!(
            "Put all of them in place before you solder: {}.",
            shared.collect::<Vec<_>>().join(", ")
        )));
    }
    if !sheet.made.is_empty() {
        let joints = sheet.made.iter().map(|(a, b)| format!("{} to {}", lugs.named(*a), lugs.named(*b)));
        blocks.push(Block::Heading("There already, inside the pickups".to_owned()));
        blocks.push(Block::Paragraph(format!("{}.", joints.collect::<Vec<_>>().join(", "))));
    }
    Page { title: escape(harness.title.as_deref().unwrap_or(&file.name)), blocks }
}

/// `volume.3 to tone.1 (line 24)`
fn line(file: &File, lugs: &Lugs<'_>, wire: &Wire) -> String {
    let place = place_of(file, wire.span);
    format!("{} to {} ({place})", lugs.named(wire.from), lugs.named(wire.to))
}

/// How lugs are called on pages for the bench.
#[derive(Debug)]
pub(crate) struct Lugs<'a> {
    harness: &'a Harness,
    others: BTreeMap<LugId, LugId>,
}

impl<'a> Lugs<'a> {
    #[must_use]
    pub(crate) fn of(harness: &'a Harness) -> Self {
        Lugs { harness, others: other_names(harness) }
    }

    /// A lug as the file names it; a colour with the coil end that it is, and the other way round.
    #[must_use]
    pub(crate) fn named(&self, lug: LugId) -> String {
        let name = escape(&self.harness.lug_name(lug));
        match self.others.get(&lug) {
            Some(other) => format!("{name} = {}", escape(&self.harness.lugs[other.0 as usize].name)),
            None => name,
        }
    }
}
