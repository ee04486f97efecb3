//! The fault table in words: what the meter reads, and where to look.

use std::collections::BTreeMap;

use pickup_dsl::card::Card;
use pickup_dsl::diagnostic::escape;
use pickup_dsl::faults::{Effect, Fault};
use pickup_dsl::figures::Figure;

use crate::card::band;
use crate::document::{Block, Page};
use crate::job::{File, called};
use crate::sheet::Lugs;
use crate::unit::significant;

/// The page.
#[must_use]
pub(crate) fn page(file: &File, card: &Card, all: &[Effect]) -> Page {
    let harness = &file.harness;
    let lugs = Lugs::of(harness);
    let seen = all.iter().filter(|effect| effect.is_seen()).count();
    let mut blocks = vec![Block::Paragraph(format!(
        "Fault table. {} single faults: each wire open, each two lugs that lie side by side bridged, each wire's end on the lug beside its own. The meter \
         at the jack finds {seen} of them, knobs at rest, nothing plugged in. Several faults may give one reading: then another position parts them.",
        all.len()
    ))];
    for (index, entry) in card.positions.iter().enumerate() {
        let name = called(entry.name.as_deref(), &entry.key);
        let reading = entry.readings.first().map(|reading| &reading.at_rest);
        if card.active && reading.is_none_or(|reading| !reading.coil_readable) {
            blocks.push(Block::Heading(name));
            blocks.push(Block::Paragraph(
                "The meter says nothing here: an active part is in the way.".to_owned(),
            ));
            continue;
        }
        let right = reading.map(band).unwrap_or_default();
        blocks.push(Block::Heading(format!("{name}: {right} if all is well")));
        let mut rows: BTreeMap<(bool, u32), (String, Vec<String>)> = BTreeMap::new();
        for effect in all {
            for shown in effect.shown.iter().filter(|shown| shown.position == index && shown.outside) {
                let row = rows.entry(order(shown.reads)).or_insert_with(|| (reads(shown.reads), Vec::new()));
                row.1.push(words(&lugs, effect.fault));
            }
        }
        // What prints alike is one row.
        let mut merged: Vec<(String, Vec<String>)> = Vec::new();
        for (reading, faults) in rows.into_values() {
            match merged.last_mut().filter(|last| last.0 == reading) {
                Some(last) => last.1.extend(faults),
                None => merged.push((reading, faults)),
            }
        }
        if merged.is_empty() {
            blocks.push(Block::Paragraph("No single fault shows here.".to_owned()));
        } else {
            let rows = merged.into_iter().map(|(reading, faults)| vec![reading, faults.join("; ")]).collect();
            blocks.push(Block::Rows(vec!["reads", "look at"], rows));
        }
    }
    let unseen: Vec<String> =
        all.iter().filter(|effect| !effect.is_seen()).map(|effect| words(&lugs, effect.fault)).collect();
    if !unseen.is_empty() {
        blocks.push(Block::Heading("What the meter at the jack can't find".to_owned()));
        blocks.push(Block::Paragraph(format!(
            "Tap each coil, turn each knob, look at each joint, and try metal against the sleeve: {}.",
            unseen.join("; ")
        )));
    }
    Page { title: escape(harness.title.as_deref().unwrap_or(&file.name)), blocks }
}

/// By rising reading, an open circuit last. Readings that only rounding tells apart are one.
fn order(reads: Figure) -> (bool, u32) {
    (reads.is_err(), (reads.unwrap_or(0.0).max(0.0) as f32).to_bits())
}

fn reads(reads: Figure) -> String {
    match reads {
        Ok(ohms) if ohms < 0.05 => "0 Ω".to_owned(),
        Ok(ohms) => significant(ohms, "Ω", 3),
        Err(_) => "open".to_owned(),
    }
}

/// `open: volume.2 to out.tip`
#[must_use]
pub(crate) fn words(lugs: &Lugs<'_>, fault: Fault) -> String {
    match fault {
        Fault::Open(a, b) => format!("open: {} to {}", lugs.named(a), lugs.named(b)),
        Fault::Bridge(a, b) => format!("bridged: {} and {}", lugs.named(a), lugs.named(b)),
        Fault::Misplaced { from, to, on } => {
            format!(
                "on {} in place of {}: the wire from {}",
                lugs.named(on),
                lugs.named(to),
                lugs.named(from)
            )
        }
    }
}
