//! Harmonics of strings in words and columns.

use pickup_dsl::diagnostic::escape;
use pickup_dsl::figures::Why;
use pickup_dsl::harmonics::{Amplitudes, Harmonic, Harmonics};
use pickup_dsl::positions::Position;

use crate::job::{Job, shown_name};
use crate::output::{STRONG, styled};
use crate::report::{WIDTH, entry, title_lines};
use crate::table::{Column, Table, paragraph, wrap};
use crate::unit::{fixed, signed};

/// More coils than this make a table too wide to read.
const MOST_COILS: usize = 6;

/// The whole text.
#[must_use]
pub(crate) fn text(job: &Job, position: &Position, amplitudes: Amplitudes, all: &[Harmonics]) -> String {
    let harness = &job.file.harness;
    let mut out = title_lines(harness.title.as_deref().unwrap_or(&job.file.name));
    let name = format!("{} ({})", shown_name(position), escape(&position.key));
    out.push_str(&paragraph("", &name, 0, WIDTH));
    if let Some(turned) = job.turned() {
        out.push_str(&paragraph("", &format!("{turned} (other knobs at rest)"), 0, WIDTH));
    }
    for one in all {
        out.push('\n');
        out.push_str(&string(job, one));
    }
    out.push('\n');
    out.push_str(&legend(amplitudes, all));
    let wide = harness.geometry.is_some() && all.iter().any(|one| heard(one).len() > MOST_COILS);
    if wide {
        out.push_str(&entry("coils", "too many for columns: `--json` has the motion over each"));
    }
    out
}

/// Indices of the coils that have a place.
fn heard(one: &Harmonics) -> Vec<usize> {
    (0..one.coils.len()).filter(|i| one.coils[*i].distance.is_some()).collect()
}

/// `String 6, fret 3: 98.00 Hz, 528.1 mm`
pub(crate) fn head(one: &Harmonics) -> String {
    let fret = if one.fret == 0 { "open".to_owned() } else { format!("fret {}", one.fret) };
    format!(
        "String {}, {fret}: {} Hz, {} mm",
        one.string,
        fixed(one.fundamental, 2),
        fixed(one.length * 1e3, 1)
    )
}

fn string(job: &Job, one: &Harmonics) -> String {
    let mut out: String = wrap(&head(one), WIDTH).iter().map(|line| styled(STRONG, line) + "\n").collect();
    let coils = heard(one);
    let coils = if coils.len() > MOST_COILS { Vec::new() } else { coils };
    for i in &coils {
        let coil = &one.coils[*i];
        if let Some(distance) = coil.distance {
            let beyond = if coil.hears { "" } else { ": does not hear it" };
            let text = format!("{} mm from the bridge{beyond}", fixed(distance * 1e3, 1));
            out.push_str(&paragraph(&format!("  {}", escape(&coil.name)), &text, 24, WIDTH));
        }
    }
    let mut columns = vec![Column::numbers("harmonic"), Column::numbers("\n\nHz")];
    let over = |i: &usize| Column::numbers(&format!("over\n{}", escape(&one.coils[*i].name)));
    columns.extend(coils.iter().map(over));
    for i in 0..job.file.harness.outlets.len() {
        let output = job.outlet_name("", i);
        let output = output.trim_start_matches(", ");
        columns.push(Column::numbers(&format!("at the amp\n{output}\ndB")));
        columns.push(Column::numbers("re the first\n\ndB"));
    }
    let mut table = Table::new(columns);
    let start = one.harmonics.first();
    for harmonic in &one.harmonics {
        table.row(row(harmonic, start, &coils));
    }
    out.push_str(&table.text(|line| styled(STRONG, line)));
    out
}

fn row(harmonic: &Harmonic, first: Option<&Harmonic>, coils: &[usize]) -> Vec<String> {
    let mut cells = vec![harmonic.number.to_string(), fixed(harmonic.frequency, 1)];
    cells.extend(coils.iter().map(|i| signed(harmonic.weights[*i], 3)));
    for (i, outlet) in harmonic.outlets.iter().enumerate() {
        let reference = first.and_then(|f| f.outlets.get(i)).map(|o| o.level);
        match outlet.level {
            Ok(level) => {
                cells.push(fixed(level, 1));
                cells.push(match reference {
                    Some(Ok(reference)) => signed(level - reference, 1),
                    _ => "—".to_owned(),
                });
            }
            Err(why) => {
                cells.push(if why == Why::Silent { "null" } else { "open" }.to_owned());
                cells.push("—".to_owned());
            }
        }
    }
    cells
}

fn legend(amplitudes: Amplitudes, all: &[Harmonics]) -> String {
    let mut out = String::new();
    let bellies = match amplitudes {
        Amplitudes::Falling => "the bellies of harmonic n move with 1/n of the first's velocity",
        Amplitudes::Even => "the bellies of all harmonics move with equal velocity",
    };
    out.push_str(&entry("string", &format!("ideal: harmonic n at n times the first; {bellies}")));
    out.push_str(&entry(
        "over …",
        "motion over that coil against that of a belly, averaged over its aperture; signs tell which move against each other",
    ));
    out.push_str(&entry(
        "at the amp",
        "all coils together, through the circuit; 0 dB is the open voltage of 5,000 turns over a belly of the first harmonic",
    ));
    let nulls = all.iter().flat_map(|one| &one.harmonics).flat_map(|h| &h.outlets);
    if nulls.into_iter().any(|o| o.level == Err(Why::Silent)) {
        out.push_str(&entry("null", "nothing of this harmonic is heard"));
    }
    let unplaced: Vec<String> = all
        .first()
        .map(|one| one.coils.iter().filter(|c| c.distance.is_none()).map(|c| escape(&c.name)).collect())
        .unwrap_or_default();
    if !unplaced.is_empty() {
        out.push_str(&entry(
            "not counted",
            &format!("{}: no magnet, or a piezo element", unplaced.join(", ")),
        ));
    }
    out
}
