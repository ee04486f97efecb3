//! coilwright: arguments in, reports out.
//!
//! One file reads ([`input`]), one file writes ([`output`]), one file a command ([`command`]). No physics, no formula and no grammar
//! here: all that is in `pickup_dsl`.

mod args;
mod card;
mod cautions;
mod chart;
mod command;
mod csv;
mod curve;
mod diagnostics;
mod document;
mod drawing;
mod exit;
mod faults;
mod float;
mod frequencies;
mod harmonics;
mod input;
mod job;
mod json;
mod judged;
mod junit;
mod output;
mod page;
mod picture;
mod record;
mod report;
mod sameness;
mod sarif;
mod sheet;
mod study;
mod table;
mod unit;
mod wiring;
mod xml;

use std::process::ExitCode;

use clap::Parser;

fn main() -> ExitCode {
    let cli = args::Cli::parse();
    let exit = command::run(&cli.command).unwrap_or_else(|failure| {
        if !matches!(failure, exit::Failure::ReaderGone) {
            output::say_failure(&failure);
        }
        failure.exit()
    });
    exit.into()
}
