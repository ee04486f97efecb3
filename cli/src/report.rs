//! The report as a person reads it: what sounds, what hums and what a meter shows, then notes.

pub(crate) mod cells;
pub(crate) mod notes;

use pickup_dsl::diagnostic::Diagnostic;
use pickup_dsl::evaluate::{Against, Evaluator};
use pickup_dsl::figures::{OutletFigures, PositionFigures};

use crate::diagnostics::plural;
use crate::job::{Job, called, reference_name};
use crate::output::{STRONG, styled};
use crate::table::{Column, GLUE, Table, paragraph, wrap};
use cells::Marks;
use pickup_dsl::diagnostic::escape;

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
    out.push_str(&bench(&rows, harness.is_active(), &mut marks).text(head));
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

/// One row of both tables.
struct Row<'a> {
    name: String,
    outlet: &'a OutletFigures,
    position: &'a PositionFigures,
    index: usize,
}

fn rows<'a>(job: &Job, all: &'a [PositionFigures]) -> Vec<Row<'a>> {
    let mut rows = Vec::new();
    for position in all {
        // No line breaks between a switch and its throw.
        let name = called(position.name.as_deref(), &position.key.replace('=', &GLUE.to_string()));
        for (index, outlet) in position.outlets.iter().enumerate() {
            rows.push(Row { name: job.outlet_name(&name, index), outlet, position, index });
        }
    }
    rows
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
        let o = row.outlet;
        let corner = marks.sloped(o, cells::kilohertz(o.corner));
        let cells = vec![
            marks.position(row.position, o, &row.name),
            escape(&pickup_dsl::figures::words::words(o)),
            marks.peak(o, cells::kilohertz(o.resonance_frequency())),
            marks.sloped(o, cells::relative(o.height)),
            cells::q(o),
            marks.peak(o, corner),
            marks.powers(o, cells::relative(o.level.shown_re)),
            marks.powers(o, cells::relative(o.brightness.shown)),
        ];
        marks.words(&cells);
        table.row(cells);
    }
    table
}

fn bench(rows: &[Row<'_>], active: bool, marks: &mut Marks) -> Table {
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
        let o = row.outlet;
        let cells = vec![
            marks.position(row.position, o, &row.name),
            marks.hum(&o.hum),
            cells::cancelling(o),
            marks.signal_over_hum(o),
            marks.meter(row.position, row.index, active),
            cells::kilohms(o.impedance.at_1k),
            cells::kilohms(o.impedance.max),
            marks.edge(o),
            cells::microvolts(o.noise.a_weighted),
        ];
        marks.words(&cells);
        table.row(cells);
    }
    table
}

/// A legend or note line: a term, then what it means.
pub(crate) fn entry(term: &str, text: &str) -> String {
    paragraph(&format!("  {term}"), text, 15, WIDTH)
}
