//! The report as a person reads it: what sounds, what hums and what a meter shows, then notes.

pub(crate) mod cells;
pub(crate) mod notes;
pub(crate) mod rows;

use pickup_dsl::diagnostic::Diagnostic;
use pickup_dsl::evaluate::{Against, Evaluator};
use pickup_dsl::figures::PositionFigures;

use crate::diagnostics::plural;
use crate::job::{Job, reference_name};
use crate::output::{STRONG, styled};
use crate::table::{Column, Table, paragraph, wrap};
use cells::Marks;
use pickup_dsl::diagnostic::escape;
use rows::{Row, rows};

/// Nothing is wider.
pub(crate) const WIDTH: usize = 100;

/// A guitar or a variant of it with all that is reported of it.
#[derive(Debug)]
pub(crate) struct Reported<'a> {
    /// The positions and knobs.
    pub(crate) job: &'a Job,
    /// Solves it.
    pub(crate) evaluator: Evaluator<'a>,
    /// Of all positions, in order.
    pub(crate) figures: Vec<PositionFigures>,
    /// What is to be said of it; of a variant what is not said of the guitar already.
    pub(crate) warnings: Vec<Diagnostic>,
}

/// The whole report; a short one leaves out what the columns mean.
#[must_use]
pub(crate) fn text(one: &Reported<'_>, short: bool) -> String {
    let Reported { job, evaluator, figures: all, warnings } = one;
    let reference = evaluator.reference();
    let harness = &job.file.harness;
    let mut out = String::new();
    let title = harness.title.as_deref().unwrap_or(&job.file.name);
    match &job.file.variant {
        Some(variant) => out.push_str(&title_lines(&format!("{title}, variant \"{variant}\""))),
        None => out.push_str(&title_lines(title)),
    }
    for line in subtitle(job, reference, all.len()) {
        out.push_str(&line);
        out.push('\n');
    }
    let mut marks = Marks::default();
    let rows = rows(job, all);
    let head = |line: &str| styled(STRONG, line);
    out.push('\n');
    out.push_str(&sound(&rows, &mut marks).text(head));
    out.push('\n');
    out.push_str(&bench(&rows, &mut marks).text(head));
    if !short {
        out.push('\n');
        out.push_str(&notes::legend(job, &marks));
    }
    out.push_str(&notes::notes(&job.file, warnings));
    if !job.is_whole {
        out.push_str("\nWhat a bench would notice is said of whole guitars: run without --position.\n");
    }
    out
}

/// A guitar's title, fit to print.
pub(crate) fn title_lines(title: &str) -> String {
    wrap(&escape(title), WIDTH).iter().map(|line| styled(STRONG, line) + "\n").collect()
}

/// What the figures are taken against and at.
fn subtitle(job: &Job, reference: &Against<'_>, count: usize) -> Vec<String> {
    let mut said = vec![format!("{}; reference: {}", plural(count, "position"), reference_name(reference))];
    if let Some(turned) = job.turned() {
        said.push(format!("{turned} (other knobs and the reference at rest)"));
    }
    said.iter().flat_map(|line| wrap(line, WIDTH)).collect()
}

fn sound(rows: &[Row<'_>], marks: &mut Marks) -> Table {
    let mut table = Table::new(vec![
        Column::words("position", 22),
        Column::words("coils in play", 27),
        Column::numbers("reson-\nance\nkHz"),
        Column::numbers("height\n\ndB"),
        Column::numbers("Q"),
        Column::numbers("corner\n\nkHz"),
        Column::numbers("level\nre ref.\ndB"),
        Column::numbers("bright-\nness\ndB"),
    ]);
    for row in rows {
        let name = marks.position(row.position, row.outlet, &row.name);
        table.row(std::iter::once(name).chain(row.sound(marks)).collect());
    }
    table
}

fn bench(rows: &[Row<'_>], marks: &mut Marks) -> Table {
    let mut table = Table::new(vec![
        Column::words("position", 27),
        Column::numbers("magn. hum\nre ref.\ndB"),
        Column::words("can-\ncels\nhum", 8),
        Column::numbers("signal over\nhum re ref.\ndB"),
        Column::numbers("meter\n\nkΩ"),
        Column::numbers("Z out\nat 1 kHz\nkΩ"),
        Column::numbers("Z out\nat most\nkΩ"),
        Column::numbers("which\nis at\nkHz"),
        Column::numbers("noise\n(A)\nµV"),
    ]);
    for row in rows {
        let name = marks.position(row.position, row.outlet, &row.name);
        table.row(std::iter::once(name).chain(row.bench(marks)).collect());
    }
    table
}

/// A legend or note line: a term, then what it means.
pub(crate) fn entry(term: &str, text: &str) -> String {
    paragraph(&format!("  {term}"), text, 15, WIDTH)
}
