//! `format`: a harness file in its canonical layout.

use std::path::Path;

use pickup_dsl::diagnostic::{Code, Diagnostic, escape};
use pickup_dsl::format::format;
use pickup_dsl::resolve::{NoFiles, compile};
use pickup_dsl::source::Sources;
use pickup_dsl::syntax::parse;

use crate::args::{FormatArgs, Target};
use crate::exit::{Exit, Failure};
use crate::input::{main_text, standard_input};
use crate::output::{self, Sink};
use crate::{diagnostics, job};

/// Runs it: with several files all are looked at, whatever is wrong with one.
///
/// # Errors
/// If it is not clear where the text should go, or the one file can't be read.
pub(crate) fn run(args: &FormatArgs) -> Result<Exit, Failure> {
    let streams = args.files.iter().filter(|path| is_stream(path)).count();
    if streams > 0 && args.in_place {
        return Err(Failure::usage("standard input has no place to be written to"));
    }
    if streams > 1 {
        return Err(Failure::usage("standard input can be read once"));
    }
    if args.files.len() > 1 && !args.in_place && !args.check {
        return Err(Failure::usage_with(
            "several files would run together on standard output",
            "`--in-place` writes them anew, `--check` says which would change",
        ));
    }
    let mut exit = Exit::Good;
    for path in &args.files {
        match one(path, args) {
            Ok(Exit::Good) => {}
            Ok(other) if exit == Exit::Good => exit = other,
            Ok(_) => {}
            Err(failure @ Failure::ReaderGone) => return Err(failure),
            Err(failure) => {
                output::say_failure(&failure);
                exit = Exit::Bad;
            }
        }
    }
    Ok(exit)
}

fn is_stream(path: &Path) -> bool {
    path == Path::new("-")
}

fn one(path: &Path, args: &FormatArgs) -> Result<Exit, Failure> {
    let text = if is_stream(path) { standard_input()? } else { main_text(path)? };
    let name = if is_stream(path) { "standard input".to_owned() } else { path.display().to_string() };
    let mut sources = Sources::default();
    let file = sources.add(&name, &text);
    readable(&name, &text)?;
    let formatted = format(&text);
    let found = parse(file, &text).diagnostics;
    if !found.is_empty() {
        diagnostics::say(&found, &sources);
        let said =
            format!("{}: {}; such lines stay as they are\n", escape(&name), diagnostics::count(&found));
        output::say(&said);
    }
    if args.check {
        if formatted == text {
            return Ok(Exit::Good);
        }
        output::say(&format!("{}: would change\n", escape(&name)));
        return Ok(Exit::CheckFailed);
    }
    if args.in_place && formatted == text {
        return Ok(Exit::Good);
    }
    let mut sink = if args.in_place {
        Sink::open(&Target { output: Some(path.to_owned()), overwrite: true }, &[])?
    } else {
        Sink::stdout()
    };
    sink.raw(&formatted)?;
    sink.close()?;
    Ok(Exit::Good)
}

/// A file of another version may have another grammar, so it is not touched.
fn readable(name: &str, text: &str) -> Result<(), Failure> {
    let compiled = compile(name, text, &NoFiles);
    let foreign: Vec<Diagnostic> =
        compiled.diagnostics.into_iter().filter(|d| d.code == Code::UnknownVersion).collect();
    if foreign.is_empty() {
        return Ok(());
    }
    diagnostics::say(&foreign, &compiled.sources);
    Err(job::not_compiled(name, &foreign))
}
