//! The commands, one file each: `run(args) -> Result<Exit, Failure>`.

mod card;
mod check;
mod compare;
mod curves;
mod draw;
mod explain;
mod faults;
mod format;
mod harmonics;
mod install;
mod page;
mod plot;
mod record;
mod report;
mod sheet;
mod study;
#[cfg(feature = "watch")]
mod watch;
mod wiring;

use crate::args::Command;
use crate::exit::{Exit, Failure};

/// Runs a command.
///
/// # Errors
/// Whatever made it give up.
pub(crate) fn run(command: &Command) -> Result<Exit, Failure> {
    match command {
        Command::Report(args) => report::run(args),
        Command::Curves(args) => curves::run(args),
        Command::Plot(args) => plot::run(args),
        #[cfg(feature = "watch")]
        Command::Watch(args) => watch::run(args),
        Command::Wiring(args) => wiring::run(args),
        Command::Draw(args) => draw::run(args),
        Command::Harmonics(args) => harmonics::run(args),
        Command::Sheet(args) => sheet::run(args),
        Command::Card(args) => card::run(args),
        Command::Faults(args) => faults::run(args),
        Command::Page(args) => page::run(args),
        Command::Record(args) => record::run(args),
        Command::Check(args) => check::run(args),
        Command::Study(args) => study::run(args),
        Command::Compare(args) => compare::run(args),
        Command::Explain(args) => explain::run(args),
        Command::Format(args) => format::run(args),
        Command::Install(args) => install::run(args),
    }
}
