//! `check`: look for mistakes, judge what the file expects, and tell what has changed since a record.

use std::path::Path;

use pickup_dsl::diagnostic::escape;

use crate::args::CheckArgs;
use crate::exit::{Exit, Failure};
use crate::input::main_text;
use crate::judged::{Looked, files, look};
use crate::output::{STRONG, Sink, styled};
use crate::record::Record;
use crate::report::WIDTH;
use crate::table::paragraph;
use crate::{diagnostics, json, junit, output, sarif};

/// Runs it: all files are looked at, whatever is wrong with one.
///
/// # Errors
/// A record that can't be read, or a document that can't be written. A harness that can't be read, or does not compile, is said, and the
/// rest are looked at.
pub(crate) fn run(args: &CheckArgs) -> Result<Exit, Failure> {
    let paths = files(&args.files)?;
    let against = match (&args.against, &paths[..]) {
        (Some(record), [_]) => Some(read(record)?),
        (Some(_), _) => return Err(Failure::usage_with("a record is of one file", "check it alone")),
        (None, _) => None,
    };
    let mut all = Vec::new();
    let mut sink = None;
    for path in &paths {
        let looked = look(path, against.as_ref(), args.loosen);
        if args.is_document() {
            all.push(looked);
            continue;
        }
        // Text comes file by file, as it is found.
        let sink = match &mut sink {
            Some(sink) => sink,
            none => none.insert(Sink::open(&args.target, &[])?),
        };
        say(&looked, args, sink)?;
        all.push(looked);
    }
    if args.is_document() {
        let read: Vec<_> = all.iter().flat_map(|looked| looked.read.clone()).collect();
        let mut sink = Sink::open(&args.target, &read)?;
        if args.json {
            json::checked(&mut sink, &all, args.strict)?;
        } else if args.junit {
            sink.raw(&junit::text(&all, args.strict))?;
        } else {
            sarif::write(&mut sink, &all)?;
        }
        sink.close()?;
    } else if let Some(sink) = sink {
        sink.close()?;
    }
    Ok(all.iter().map(|looked| looked.exit(args.strict)).max_by_key(|exit| *exit as u8).unwrap_or(Exit::Good))
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

/// Messages to standard error, verdicts to the sink.
fn say(looked: &Looked, args: &CheckArgs, sink: &mut Sink) -> Result<(), Failure> {
    let name = escape(&looked.name);
    if !args.quiet || looked.failure.is_some() || args.strict {
        diagnostics::say(&looked.found, &looked.sources);
    }
    let failed: Vec<_> = looked.judged.iter().filter_map(|judged| judged.message.clone()).collect();
    diagnostics::say(&failed, &looked.sources);
    for of_one in looked.changes.chunk_by(|a, b| a.0 == b.0) {
        let lines: String =
            of_one.iter().map(|(_, text)| paragraph("  -", &escape(text), 4, WIDTH)).collect();
        output::say(&format!("{}\n{lines}", styled(STRONG, &of_one[0].0)));
    }
    if let Some(failure) = &looked.failure {
        output::say_failure(failure);
        return Ok(());
    }
    if args.quiet && looked.exit(args.strict) == Exit::Good {
        return Ok(());
    }
    sink.text(&verdicts(looked, args.quiet))?;
    let changes = args.against.as_ref().map(|_| match looked.changes.len() {
        0 => "nothing has changed since the record".to_owned(),
        1 => "1 change since the record".to_owned(),
        n => format!("{n} changes since the record"),
    });
    let expected = match (looked.judged.len(), failed.len()) {
        (0, _) => None,
        (1, 0) => Some("the expectation holds".to_owned()),
        (n, 0) => Some(format!("all {n} expectations hold")),
        (n, 1) => Some(format!("1 of {} fails", diagnostics::plural(n, "expectation"))),
        (n, failed) => Some(format!("{failed} of {n} expectations fail")),
    };
    let said: Vec<String> =
        [Some(diagnostics::count(&looked.found)), expected, changes].into_iter().flatten().collect();
    output::say(&format!("{name}: {}\n", said.join("; ")));
    Ok(())
}

/// One line for each expectation; quiet: for those that fail.
fn verdicts(looked: &Looked, quiet: bool) -> String {
    let mut out = String::new();
    for judged in looked.judged.iter().filter(|judged| !quiet || !judged.holds) {
        let word = if judged.holds { "holds" } else { "fails" };
        let variant = judged.variant.as_ref().map(|v| format!("[{}] ", escape(v))).unwrap_or_default();
        let line = format!("{variant}{}: {}", escape(&judged.expectation.text), escape(&judged.summary()));
        out.push_str(&paragraph(word, &line, 7, WIDTH));
    }
    out
}
