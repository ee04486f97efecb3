//! `check`: only look for mistakes; or also what has changed since a record.

use std::path::Path;

use pickup_dsl::diagnostic::{Diagnostic, escape};
use pickup_dsl::positions::Wanted;

use crate::args::CheckArgs;
use crate::exit::{Exit, Failure};
use crate::input::main_text;
use crate::job::{self, Job, called, shown_name};
use crate::output::{STRONG, styled};
use crate::record::{Record, differences, record};
use crate::report::WIDTH;
use crate::table::paragraph;
use crate::{diagnostics, output};

/// Runs it: all files are looked at, whatever is wrong with one.
///
/// # Errors
/// A record that can't be read. A harness that can't be, or does not compile, is said, and the rest are looked at.
pub(crate) fn run(args: &CheckArgs) -> Result<Exit, Failure> {
    let against = match (&args.against, &args.files[..]) {
        (Some(record), [_]) => Some(read(record)?),
        (Some(_), _) => return Err(Failure::usage_with("a record is of one file", "check it alone")),
        (None, _) => None,
    };
    let mut exit = Exit::Good;
    for path in &args.files {
        match look(path, against.as_ref(), args.loosen) {
            Ok((warnings, changes)) => {
                if changes > 0 {
                    exit = Exit::CheckFailed;
                }
                let name = escape(&path.display().to_string());
                output::say(&format!("{name}: {}\n", diagnostics::count(&warnings)));
                if args.strict && !warnings.is_empty() && exit == Exit::Good {
                    exit = Exit::CheckFailed;
                }
            }
            Err(failure) => {
                output::say_failure(&failure);
                exit = Exit::Bad;
            }
        }
    }
    Ok(exit)
}

/// A record that was kept.
fn read(path: &Path) -> Result<Record, Failure> {
    let shown = escape(&path.display().to_string());
    Record::read(&main_text(path)?).map_err(|e| {
        Failure::usage_with(
            format!("`{shown}` is no record: {e}"),
            "`coilwright record FILE --output PATH` makes one",
        )
    })
}

/// Shows what the compiler and a bench notice, and what has changed; returns the warnings, and how many changes there are.
fn look(path: &Path, against: Option<&Record>, loosen: f64) -> Result<(Vec<Diagnostic>, usize), Failure> {
    let job = Job::of(job::open(path)?, Wanted::default())?;
    let mut warnings = noticed(&job)?;
    for variant in &job.file.variants {
        let varied = Job::of(job.file.with_variant(&variant.name)?, Wanted::default())?;
        let own: Vec<Diagnostic> = noticed(&varied)?.into_iter().filter(|w| !warnings.contains(w)).collect();
        let note = format!("in the variant `{}`", escape(&variant.name));
        warnings.extend(own.into_iter().map(|w| w.note(note.clone())));
    }
    diagnostics::say(&warnings, &job.file.sources);
    let Some(before) = against else { return Ok((warnings, 0)) };
    let evaluator = job.evaluator()?;
    let figures = job.figures(&evaluator)?;
    let now = record(&job, &evaluator, &figures)?;
    let changes = differences(before, &now, loosen);
    let name = |key: &str| match job.positions.iter().find(|position| position.key == key) {
        Some(position) => shown_name(position),
        None => called(None, key),
    };
    let mut text = String::new();
    for of_one in changes.chunk_by(|a, b| a.position == b.position) {
        text.push_str(&format!("{}\n", styled(STRONG, &name(&of_one[0].position))));
        of_one.iter().for_each(|change| text.push_str(&paragraph("  -", &escape(&change.text), 4, WIDTH)));
    }
    let count = match changes.len() {
        0 => "nothing has changed since the record".to_owned(),
        1 => "1 change since the record".to_owned(),
        n => format!("{n} changes since the record"),
    };
    output::say(&format!("{text}{}: {count}\n", escape(&path.display().to_string())));
    Ok((warnings, changes.len()))
}

fn noticed(job: &Job) -> Result<Vec<Diagnostic>, Failure> {
    let evaluator = job.evaluator()?;
    let figures = job.figures(&evaluator)?;
    job.warnings(&evaluator, &figures)
}
