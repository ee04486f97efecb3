//! `sheet`: parts and wires for the bench.

use pickup_dsl::sheet::sheet;

use crate::args::{Printed, SheetArgs};
use crate::document::{Look, Page};
use crate::exit::{Exit, Failure};
use crate::job;
use crate::output::Sink;
use crate::{json, sheet as shown};

/// Runs it.
///
/// # Errors
/// See [`Failure`].
pub(crate) fn run(args: &SheetArgs) -> Result<Exit, Failure> {
    let file = job::chosen(&args.printed.guitar)?;
    let sheet = sheet(&file.harness);
    let mut sink = Sink::open(&args.printed.form.target, &file.read)?;
    if args.printed.form.json {
        json::sheet(&mut sink, &file, &sheet)?;
    } else {
        print(&mut sink, &args.printed, &shown::page(&file, &sheet))?;
    }
    sink.close()?;
    Ok(Exit::Good)
}

/// The page in the look that was asked for.
pub(super) fn print(sink: &mut Sink, printed: &Printed, page: &Page) -> Result<(), Failure> {
    sink.text(&page.text(if printed.markdown { Look::Markdown } else { Look::Text }))
}
