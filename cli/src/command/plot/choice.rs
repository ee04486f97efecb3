//! Which positions are drawn where none is asked for: such as sound, each network once, named ones before others.

use pickup_dsl::evaluate::Evaluator;
use pickup_dsl::figures::PositionFigures;
use pickup_dsl::positions::Position;
use pickup_dsl::twins::twins;

use crate::exit::Failure;
use crate::job::{Job, shown_name};
use crate::table::paragraph;

/// Curves drawn unless positions are named.
const UNASKED: usize = 5;
/// Names in one list of what was left out.
const LISTED: usize = 12;

/// What was left out, and why; by name, in order of the file.
#[derive(Debug, Default)]
pub(in crate::command) struct LeftOut {
    silent: Vec<String>,
    same: Vec<String>,
    no_room: Vec<String>,
}

/// The positions that are drawn, in order of the file, with their figures; and what was left out.
///
/// # Errors
/// The first position that has no solution.
pub(in crate::command) fn choose(
    job: &Job,
    evaluator: &Evaluator<'_>,
) -> Result<(Vec<Position>, Vec<PositionFigures>, LeftOut), Failure> {
    let (named, others): (Vec<usize>, Vec<usize>) =
        (0..job.positions.len()).partition(|&i| job.positions[i].name.is_some());
    let mut drawn: Vec<(usize, PositionFigures)> = Vec::new();
    let mut left = LeftOut::default();
    for i in named.into_iter().chain(others) {
        let position = &job.positions[i];
        let name = shown_name(position);
        if drawn.len() == UNASKED {
            left.no_room.push(name);
            continue;
        }
        let figures = job.figures_of(evaluator, position)?;
        if figures.outlets.iter().all(|o| o.level.shown.is_err()) {
            left.silent.push(name);
        } else if let Some(twin) = twin(job, &drawn, position) {
            left.same.push(format!("{name} (as {})", shown_name(&job.positions[twin])));
        } else {
            drawn.push((i, figures));
        }
    }
    drawn.sort_by_key(|(i, _)| *i);
    let (positions, figures) = drawn.into_iter().map(|(i, f)| (job.positions[i].clone(), f)).unzip();
    Ok((positions, figures, left))
}

/// The one of the drawn that no instrument can tell from this.
fn twin(job: &Job, drawn: &[(usize, PositionFigures)], position: &Position) -> Option<usize> {
    let mut all: Vec<Position> = drawn.iter().map(|(i, _)| job.positions[*i].clone()).collect();
    all.push(position.clone());
    let groups = twins(&job.file.harness, &job.network, &all);
    let with = groups.into_iter().find(|group| group.contains(&drawn.len()))?;
    drawn.get(with[0]).map(|(i, _)| *i)
}

impl LeftOut {
    /// What is said under the chart; nothing if all were drawn.
    pub(super) fn text(&self, width: usize) -> String {
        let mut out = String::new();
        for (why, names) in [
            ("silent", &self.silent),
            ("the same network as one that is drawn", &self.same),
            (&format!("no room for more than {UNASKED}"), &self.no_room),
        ] {
            if names.is_empty() {
                continue;
            }
            let mut said = format!("{why}: {}", names[..names.len().min(LISTED)].join("; "));
            if names.len() > LISTED {
                said.push_str(&format!("; and {} more", names.len() - LISTED));
            }
            out.push_str(&paragraph("    -", &said, 6, width));
        }
        if !out.is_empty() {
            out.insert_str(0, &format!("\n{}", paragraph("", "Left out; choose with --position:", 2, width)));
        }
        out
    }
}
