//! The acceptance card in words: what to try, position by position, and what must show.

use pickup_dsl::card::{Band, Card, Entry, OutletTests, Swing, Tap, Test, metal, tells};
use pickup_dsl::diagnostic::escape;
use pickup_dsl::figures::{Cancelling, Why};
use pickup_dsl::harness::{Harness, PartId};

use crate::cautions;
use crate::document::{Block, Page};
use crate::job::{File, called};
use crate::unit::{as_printed, significant};

/// The page.
#[must_use]
pub(crate) fn page(file: &File, card: &Card) -> Page {
    let harness = &file.harness;
    let conditions = card.conditions;
    let mut blocks = vec![
        Block::Paragraph(format!(
            "Acceptance card. Readings at {} °C, with nothing plugged in but the meter; in brackets what sound parts may show, with \
             the room {} K warmer or colder and the meter {} % off.",
            as_printed(conditions.celsius, ""),
            as_printed(conditions.spread, ""),
            as_printed(conditions.meter * 100.0, "")
        )),
        Block::Heading("How to try it".to_owned()),
        Block::Cautions(vec![cautions::ALWAYS[0].to_owned()]),
        Block::Paragraph(HOW.to_owned()),
    ];
    if card.active {
        blocks.push(Block::Paragraph(
            "An active part stands in the guitar: coils and joints before it can't be read at the jack with a meter. Tap them with it switched on."
                .to_owned(),
        ));
    }
    let grounded: Vec<String> = metal(harness).iter().map(|lug| escape(&harness.lug_name(*lug))).collect();
    if !grounded.is_empty() {
        blocks.push(Block::Heading("Metal to ground".to_owned()));
        blocks.push(Block::Ticks(vec![format!(
            "each of these reads under 1 Ω to the jack's sleeve{}: {}",
            if card.positions.iter().all(|p| p.off_ground.is_empty()) {
                ""
            } else {
                ", but where a position says otherwise"
            },
            grounded.join(", ")
        )]));
    }
    for (index, entry) in card.positions.iter().enumerate() {
        blocks.push(Block::Heading(called(entry.name.as_deref(), &entry.key)));
        blocks.push(Block::Ticks(ticks(harness, card, entry)));
        blocks.push(Block::Paragraph(apart(card, index)));
    }
    Page { title: escape(harness.title.as_deref().unwrap_or(&file.name)), blocks }
}

const HOW: &str = "Knobs at rest unless said. Tap: plug in at low volume, touch the poles of each coil lightly with a screwdriver. Swing: \
    unplug, put the meter on its lowest DC volts across tip and sleeve, lay steel on the poles of one coil and pull it off quickly. Hum: plug in, \
    go near a transformer, and turn the guitar to where it is loudest.";

fn ticks(harness: &Harness, card: &Card, entry: &Entry) -> Vec<String> {
    let mut all = Vec::new();
    for reading in &entry.readings {
        if card.active && !reading.at_rest.coil_readable {
            all.push(format!(
                "meter, {}: says nothing, an active part is in the way",
                reading.across.words()
            ));
            continue;
        }
        let unreadable = match (reading.at_rest.nominal, reading.at_rest.coil_readable) {
            (Ok(ohms), false) if ohms > 0.0 => " (no coil shows in it)",
            (Err(Why::Open), _) => " (nothing leads there, or a capacitor is in the way)",
            _ => "",
        };
        all.push(format!("meter, {}: {}{unreadable}", reading.across.words(), band(&reading.at_rest)));
        if !entry.volumes.is_empty() {
            all.push(format!("with the volumes at 0: {}", band(&reading.volumes_at_zero)));
        }
    }
    let part = |id: PartId| escape(&harness.part(id).name);
    let names = |ids: &[PartId]| ids.iter().map(|id| part(*id)).collect::<Vec<_>>().join(", ");
    for down in &entry.volumes {
        all.push(match (&down.silenced[..], &down.left[..]) {
            ([], []) => continue,
            ([], left) => {
                format!("{} at 0 silences nothing that sounds here: {}", part(down.pot), names(left))
            }
            (silenced, []) => format!("{} at 0 silences {}", part(down.pot), names(silenced)),
            (silenced, left) => {
                format!("{} at 0 silences {}, not {}", part(down.pot), names(silenced), names(left))
            }
        });
    }
    let is_tone = |role: &Option<String>| role.as_deref() == Some("tone");
    let readable = entry.readings.iter().any(|reading| reading.at_rest.coil_readable);
    if entry.moved.is_empty() && readable && harness.pots().any(|(_, pot)| is_tone(&pot.role)) {
        all.push("the reading stays as the tone is swept".to_owned());
    }
    for moved in &entry.moved {
        let [open, shut] =
            moved.readings.map(|ohms| ohms.map_or("open".to_owned(), |ohms| significant(ohms, "Ω", 3)));
        all.push(format!("the reading moves from {open} to {shut} as {} is turned down", part(moved.pot)));
    }
    for (index, outlet) in entry.outlets.iter().enumerate() {
        let at = match harness.outlets.get(index) {
            Some(one) if harness.outlets.len() > 1 => format!(" at {}", escape(&harness.lug_name(one.hot))),
            _ => String::new(),
        };
        all.extend(outlet_ticks(outlet, &at));
    }
    let off: Vec<String> = entry.off_ground.iter().map(|lug| escape(&harness.lug_name(*lug))).collect();
    if !off.is_empty() && !card.positions.is_empty() {
        all.push(format!("not at ground here, as drawn: {}", off.join(", ")));
    }
    all
}

fn outlet_ticks(outlet: &OutletTests, at: &str) -> Vec<String> {
    let mut all = Vec::new();
    let coils = |of: &dyn Fn(&pickup_dsl::card::CoilTests) -> bool| -> Vec<String> {
        outlet.coils.iter().filter(|coil| of(coil)).map(|coil| escape(&coil.name)).collect()
    };
    let taps: Vec<String> = [(Tap::Loud, "loud"), (Tap::Faint, "faint"), (Tap::Silent, "silent")]
        .into_iter()
        .filter_map(|(tap, word)| {
            let names = coils(&|coil| coil.tap == tap);
            (!names.is_empty()).then(|| format!("{} {word}", names.join(", ")))
        })
        .collect();
    all.push(format!("tap{at}: {}", taps.join("; ")));
    let same = coils(&|coil| coil.swing == Swing::Same);
    let opposite = coils(&|coil| coil.swing == Swing::Opposite);
    match (&same[..], &opposite[..]) {
        ([], _) => all.push(format!("swing{at}: none can be read")),
        ([one], []) => all.push(format!("swing{at}: {one} alone")),
        (same, []) => all.push(format!("swing{at}: {} the same way", same.join(", "))),
        (same, opposite) => {
            all.push(format!("swing{at}: {} one way, {} the other", same.join(", "), opposite.join(", ")));
        }
    }
    all.push(format!(
        "hum{at}: {}",
        match outlet.hum {
            Some(Cancelling::Cancels) => "falls, the coils cancel it",
            Some(Cancelling::Partly) => "falls in part",
            Some(Cancelling::No) => "does not fall",
            None => "none",
        }
    ));
    all
}

/// `7.97 kΩ (7.25 kΩ to 8.70 kΩ)`
pub(crate) fn band(band: &Band) -> String {
    match (band.nominal, band.low, band.high) {
        (Ok(0.0), ..) => "0 Ω".to_owned(),
        (Ok(nominal), Ok(low), Ok(high)) => {
            format!(
                "{} ({} to {})",
                significant(nominal, "Ω", 3),
                significant(low, "Ω", 3),
                significant(high, "Ω", 3)
            )
        }
        (Ok(nominal), ..) => significant(nominal, "Ω", 3),
        (Err(_), ..) => "open".to_owned(),
    }
}

/// Which test tells this position from the others.
fn apart(card: &Card, index: usize) -> String {
    let entry = &card.positions[index];
    let others: Vec<(&Entry, Vec<Test>)> = card
        .positions
        .iter()
        .enumerate()
        .filter(|(other, _)| *other != index)
        .map(|(_, other)| (other, tells(entry, other)))
        .collect();
    if others.is_empty() {
        return "The only position.".to_owned();
    }
    let words =
        [(Test::Meter, "the meter"), (Test::Tap, "tapping"), (Test::Swing, "the swing"), (Test::Hum, "hum")];
    for (test, word) in words {
        if others.iter().all(|(_, tests)| tests.contains(&test)) {
            return format!("Told from every other position by {word}.");
        }
    }
    // Names may hold commas.
    let name = |entry: &Entry| format!("“{}”", called(entry.name.as_deref(), &entry.key));
    let mut said = Vec::new();
    let mut left = others;
    for (test, word) in words {
        let (told, rest): (Vec<_>, Vec<_>) = left.into_iter().partition(|(_, tests)| tests.contains(&test));
        if !told.is_empty() {
            let names: Vec<String> = told.iter().map(|(entry, _)| name(entry)).collect();
            said.push(format!("by {word} from {}", names.join(", ")));
        }
        left = rest;
    }
    if !left.is_empty() {
        let names: Vec<String> = left.iter().map(|(entry, _)| name(entry)).collect();
        said.push(format!("by none of these from {}: listen", names.join(", ")));
    }
    format!("Told {}.", said.join("; "))
}
