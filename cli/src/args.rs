//! The command line: every option and all help text.

mod bench;
mod draw;
mod figures;
mod judge;
mod page;
mod picture;
mod tools;
#[cfg(feature = "watch")]
mod watch;

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand};

pub(crate) use bench::{BenchArgs, CardArgs, FaultsArgs, Printed, SheetArgs};
pub(crate) use draw::DrawArgs;
pub(crate) use figures::{CurvesArgs, HarmonicsArgs, PlotArgs, ReportArgs, WiringArgs};
pub(crate) use judge::{CheckArgs, CompareArgs, RecordArgs, StudyArgs};
pub(crate) use page::PageArgs;
pub(crate) use picture::Picture;
pub(crate) use tools::{ExplainArgs, FormatArgs, InstallArgs, Installed};
#[cfg(feature = "watch")]
pub(crate) use watch::WatchArgs;

/// What each switch position of a guitar sounds and measures like, from one text file of its wiring
#[derive(Debug, Parser)]
#[command(
    name = "coilwright",
    version,
    max_term_width = 100,
    after_help = "\
Examples:
  coilwright report guitar.harness                          every switch position in figures
  coilwright report guitar.harness --knob tone=3            the same with the tone knob at 3
  coilwright plot guitar.harness --position \"Neck, split\"   its curve against the reference's
  coilwright check *.harness                                mistakes, and whether all holds that is expected
  coilwright explain N403                                   what a message's code means

Exit codes:
  0  good, warnings included
  1  a check failed
  2  a file does not compile, the command line is wrong, or a file can't be read or written

Colour appears only on a terminal; NO_COLOR=1 turns it off there too."
)]
pub(crate) struct Cli {
    /// What to do.
    #[command(subcommand)]
    pub(crate) command: Command,
}

/// What can be done.
#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Every switch position in figures, as a table or as JSON
    Report(ReportArgs),
    /// Response curves as CSV
    Curves(CurvesArgs),
    /// Response curves in the terminal, against the reference
    Plot(PlotArgs),
    /// The picture of `plot --svg`, drawn anew at each save of the file
    #[cfg(feature = "watch")]
    Watch(WatchArgs),
    /// The network of one position: which lugs are one joint, and what lies between the joints
    Wiring(WiringArgs),
    /// The wiring as a picture: every part from the side that is soldered, every wire from lug to lug
    Draw(DrawArgs),
    /// How strong each harmonic of a string is at the jack, by where the pickups sit
    Harmonics(HarmonicsArgs),
    /// The build sheet: parts, and every wire in the order of the work
    Sheet(SheetArgs),
    /// The acceptance card: what each position must show to a meter, a screwdriver and an ear
    Card(CardArgs),
    /// The fault table: what the meter reads with one joint wrong, and where to look
    Faults(FaultsArgs),
    /// One page for the customer: curves, figures, knobs that turn, a sound, build sheet and card
    Page(PageArgs),
    /// Look for mistakes, judge what the file expects, and tell what has changed since a record
    Check(CheckArgs),
    /// Many guitars built from one file, their parts off within their tolerances: what the figures do, which part matters
    Study(StudyArgs),
    /// All figures and curves in a file of lines, for `check --against`
    Record(RecordArgs),
    /// Whether two files are the same guitar, proven position by position
    Compare(CompareArgs),
    /// What a message's code means, with a wrong and a right example; or what a switch body joins
    Explain(ExplainArgs),
    /// Put a harness file in its canonical layout
    Format(FormatArgs),
    /// Completions for a shell, or the manual page
    Install(InstallArgs),
}

/// The guitar of a file.
#[derive(Debug, Clone, Args)]
pub(crate) struct Guitar {
    /// The harness file
    #[arg(value_name = "FILE")]
    pub(crate) file: PathBuf,

    /// This variant of the guitar, by its name
    #[arg(long, value_name = "NAME")]
    pub(crate) variant: Option<String>,
}

/// The guitar, and which states of it.
#[derive(Debug, Clone, Args)]
pub(crate) struct Wanted {
    /// Only this position, by its name or its key (`split=up`; may be given again)
    #[arg(long, short, value_name = "NAME-OR-KEY")]
    pub(crate) position: Vec<String>,

    /// Turn a knob, 0 to 10: `tone=3` (may be given again); the reference stays at rest
    #[arg(long, short, value_name = "POT=SETTING")]
    pub(crate) knob: Vec<String>,

    /// Compare with this position in place of the file's reference
    #[arg(long, short, value_name = "NAME-OR-KEY")]
    pub(crate) reference: Option<String>,

    #[command(flatten)]
    pub(crate) guitar: Guitar,

    /// In-between detents of the switches too
    #[arg(long)]
    pub(crate) between: bool,

    /// Every combination, even where the file says `positions named only`
    #[arg(long)]
    pub(crate) all: bool,
}

/// Where data goes.
#[derive(Debug, Args)]
pub(crate) struct Target {
    /// Write to this file; it appears whole or not at all
    #[arg(long, short, value_name = "PATH")]
    pub(crate) output: Option<PathBuf>,

    /// Replace the file of `--output` if it exists
    #[arg(long, requires = "output")]
    pub(crate) overwrite: bool,
}

/// Words or JSON, and where to.
#[derive(Debug, Args)]
pub(crate) struct Form {
    /// As JSON
    #[arg(long)]
    pub(crate) json: bool,

    #[command(flatten)]
    pub(crate) target: Target,
}

/// At which frequencies.
#[derive(Debug, Args)]
pub(crate) struct Grid {
    /// These frequencies: `100Hz,1kHz,4.5kHz`
    #[arg(long, value_name = "LIST", conflicts_with = "frequencies")]
    pub(crate) at: Option<String>,

    /// So many frequencies, evenly spaced on a log scale, ends included: `20Hz..20kHz/400`
    #[arg(long, short, value_name = "LOW..HIGH/COUNT")]
    pub(crate) frequencies: Option<String>,
}

fn within(text: &str, range: std::ops::RangeInclusive<f64>) -> Result<f64, String> {
    let value: f64 = text.parse().map_err(|_| "not a number".to_owned())?;
    if range.contains(&value) {
        Ok(value)
    } else {
        Err(format!("not from {} to {}", range.start(), range.end()))
    }
}

#[cfg(test)]
mod tests {
    use super::Cli;
    use clap::CommandFactory;

    #[test]
    fn the_command_line_is_sound() {
        Cli::command().debug_assert();
    }
}
