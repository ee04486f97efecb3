//! The command line: every option and all help text.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand};

use crate::chart::svg::Theme;

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
  coilwright check *.harness                                only look for mistakes
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
    /// The network of one position: which lugs are one joint, and what lies between the joints
    Wiring(WiringArgs),
    /// How strong each harmonic of a string is at the jack, by where the pickups sit
    Harmonics(HarmonicsArgs),
    /// The build sheet: parts, and every wire in the order of the work
    Sheet(SheetArgs),
    /// The acceptance card: what each position must show to a meter, a screwdriver and an ear
    Card(CardArgs),
    /// The fault table: what the meter reads with one joint wrong, and where to look
    Faults(FaultsArgs),
    /// Look for mistakes, and say nothing else; or also what has changed since a record
    Check(CheckArgs),
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

/// The file, and which states of it.
#[derive(Debug, Args)]
pub(crate) struct Wanted {
    /// The harness file
    #[arg(value_name = "FILE")]
    pub(crate) file: PathBuf,

    /// Only this position, by its name or its key (`split=up`; may be given again)
    #[arg(long, short, value_name = "NAME-OR-KEY")]
    pub(crate) position: Vec<String>,

    /// Turn a knob, 0 to 10: `tone=3` (may be given again); the reference stays at rest
    #[arg(long, short, value_name = "POT=SETTING")]
    pub(crate) knob: Vec<String>,

    /// Compare with this position in place of the file's reference
    #[arg(long, short, value_name = "NAME-OR-KEY")]
    pub(crate) reference: Option<String>,

    /// This variant of the guitar, by its name
    #[arg(long, value_name = "NAME")]
    pub(crate) variant: Option<String>,

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

/// `report`
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  coilwright report guitar.harness
  coilwright report guitar.harness --position lever=2 --knob volume=7 --knob tone=3
  coilwright report guitar.harness --json --output guitar.json
  coilwright report guitar.harness --json --frequencies 20Hz..20kHz/400

The JSON's structure is described by cli/schema/report.schema.json; its `schema_version` changes when a reader must.")]
pub(crate) struct ReportArgs {
    #[command(flatten)]
    pub(crate) wanted: Wanted,

    /// All figures at full precision, as JSON
    #[arg(long)]
    pub(crate) json: bool,

    /// Leave out what the columns mean
    #[arg(long, conflicts_with = "json")]
    pub(crate) short: bool,

    #[command(flatten)]
    pub(crate) grid: Grid,

    #[command(flatten)]
    pub(crate) target: Target,
}

/// `curves`
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  coilwright curves guitar.harness --output guitar.csv
  coilwright curves guitar.harness --position rest --frequencies 50Hz..10kHz/200

One row a frequency; for each position the level in dB re 1 V (the open voltage of 5,000 turns) and the phase in degrees.
Where a position is silent, its cells are empty.")]
pub(crate) struct CurvesArgs {
    #[command(flatten)]
    pub(crate) wanted: Wanted,

    #[command(flatten)]
    pub(crate) grid: Grid,

    #[command(flatten)]
    pub(crate) target: Target,
}

/// `plot`
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  coilwright plot guitar.harness
  coilwright plot guitar.harness --position \"Neck, split\" --position rest --width 80
  coilwright plot guitar.harness --svg --output curves.svg
  coilwright plot guitar.harness --difference --svg --theme dark --output difference.svg
  coilwright plot guitar.harness --position rest --family volume

In an SVG each curve has a dash of its own and its name at its end, so it reads in grey print too. Without --position: up to five that sound and differ, named ones first; it says which were left out.")]
pub(crate) struct PlotArgs {
    #[command(flatten)]
    pub(crate) wanted: Wanted,

    /// Columns of text; else the terminal's, or 100
    #[arg(long, short, value_parser = clap::value_parser!(u16).range(40..=400), conflicts_with = "svg")]
    pub(crate) width: Option<u16>,

    /// dB over the reference at the same frequency, not at 100 Hz
    #[arg(long)]
    pub(crate) difference: bool,

    /// One position with this knob at 10, 8, 6, 4, 2 and 0
    #[arg(long, value_name = "POT")]
    pub(crate) family: Option<String>,

    /// As a picture
    #[arg(long)]
    pub(crate) svg: bool,

    /// Colours of the picture
    #[arg(long, value_enum, default_value = "auto", requires = "svg")]
    pub(crate) theme: Theme,

    #[command(flatten)]
    pub(crate) target: Target,
}

/// `wiring`
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  coilwright wiring guitar.harness --position \"Neck, split\"
  coilwright wiring guitar.harness --position split=up --json")]
pub(crate) struct WiringArgs {
    /// The harness file
    #[arg(value_name = "FILE")]
    pub(crate) file: PathBuf,

    /// The position, by its name or its key; else all switches at rest
    #[arg(long, short, value_name = "NAME-OR-KEY", default_value = "rest")]
    pub(crate) position: String,

    /// Turn a knob, 0 to 10: `tone=3` (may be given again)
    #[arg(long, short, value_name = "POT=SETTING")]
    pub(crate) knob: Vec<String>,

    /// This variant of the guitar, by its name
    #[arg(long, value_name = "NAME")]
    pub(crate) variant: Option<String>,

    /// As JSON
    #[arg(long)]
    pub(crate) json: bool,

    #[command(flatten)]
    pub(crate) target: Target,
}

/// A file, and how its page is written.
#[derive(Debug, Args)]
pub(crate) struct Printed {
    /// The harness file
    #[arg(value_name = "FILE")]
    pub(crate) file: PathBuf,

    /// This variant of the guitar, by its name
    #[arg(long, value_name = "NAME")]
    pub(crate) variant: Option<String>,

    /// As Markdown
    #[arg(long, conflicts_with = "json")]
    pub(crate) markdown: bool,

    /// As JSON
    #[arg(long)]
    pub(crate) json: bool,

    #[command(flatten)]
    pub(crate) target: Target,
}

/// `sheet`
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  coilwright sheet guitar.harness
  coilwright sheet guitar.harness --markdown --output sheet.md

Wires stand in the order of the work: on one part, components, controls, ground, pickups, jack. Lead colours are the file's. The JSON's
structure is described by cli/schema/sheet.schema.json.")]
pub(crate) struct SheetArgs {
    #[command(flatten)]
    pub(crate) printed: Printed,
}

/// The bench on which a guitar is tried.
#[derive(Debug, Args)]
pub(crate) struct BenchArgs {
    /// Only this position, by its name or its key (may be given again)
    #[arg(long, short, value_name = "NAME-OR-KEY")]
    pub(crate) position: Vec<String>,

    /// Temperature of the room, °C
    #[arg(long, value_name = "DEGREES", default_value_t = 20.0, allow_negative_numbers = true, value_parser = degrees)]
    pub(crate) room: f64,

    /// How far the room may be off, K
    #[arg(long, value_name = "KELVINS", default_value_t = 5.0, value_parser = kelvins)]
    pub(crate) room_spread: f64,

    /// How far the meter may be off, percent
    #[arg(long, value_name = "PERCENT", default_value_t = 1.0, value_parser = percent)]
    pub(crate) meter: f64,
}

/// `card`
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  coilwright card guitar.harness
  coilwright card guitar.harness --room 26 --meter 0.5
  coilwright card guitar.harness --position \"Neck, split\" --markdown

Bands are exact: every resistance at its lower limit with the room cold and the meter low, and all at their upper. Tolerances are the
file's; else pots 20 %, windings 7 %, resistors 1 %; a measured value is exact. The JSON's structure is described by
cli/schema/card.schema.json.")]
pub(crate) struct CardArgs {
    #[command(flatten)]
    pub(crate) printed: Printed,

    #[command(flatten)]
    pub(crate) bench: BenchArgs,
}

/// `faults`
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  coilwright faults guitar.harness
  coilwright faults guitar.harness --position \"Neck, split\"

Readings are those of the card. The JSON's structure is described by cli/schema/faults.schema.json.")]
pub(crate) struct FaultsArgs {
    #[command(flatten)]
    pub(crate) printed: Printed,

    #[command(flatten)]
    pub(crate) bench: BenchArgs,
}

fn degrees(text: &str) -> Result<f64, String> {
    within(text, -40.0..=60.0)
}

fn kelvins(text: &str) -> Result<f64, String> {
    within(text, 0.0..=40.0)
}

fn percent(text: &str) -> Result<f64, String> {
    within(text, 0.0..=20.0)
}

fn times(text: &str) -> Result<f64, String> {
    within(text, 0.0..=1000.0)
}

fn within(text: &str, range: std::ops::RangeInclusive<f64>) -> Result<f64, String> {
    let value: f64 = text.parse().map_err(|_| "not a number".to_owned())?;
    if range.contains(&value) {
        Ok(value)
    } else {
        Err(format!("not from {} to {}", range.start(), range.end()))
    }
}

/// `harmonics`
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  coilwright harmonics guitar.harness --string 6
  coilwright harmonics guitar.harness --position \"Neck, split\" --string 6 --fret 12 --knob tone=3
  coilwright harmonics guitar.harness --even --json

The file says in a `geometry` statement how long the strings are and where the pickups sit. The string is ideal; the bellies of harmonic
n move with 1/n of the first's velocity, or all alike with --even. The JSON's structure is described by
cli/schema/harmonics.schema.json.")]
pub(crate) struct HarmonicsArgs {
    /// The harness file
    #[arg(value_name = "FILE")]
    pub(crate) file: PathBuf,

    /// The position, by its name or its key; else all switches at rest
    #[arg(long, short, value_name = "NAME-OR-KEY", default_value = "rest")]
    pub(crate) position: String,

    /// Only this string, 1 the thinnest (may be given again)
    #[arg(long, short, value_name = "NUMBER")]
    pub(crate) string: Vec<u32>,

    /// At this fret; 0 is the open string
    #[arg(long, short, value_name = "NUMBER", default_value_t = 0)]
    pub(crate) fret: u32,

    /// So many harmonics, as far as 20 kHz
    #[arg(long, short, value_name = "NUMBER", default_value_t = 20, value_parser = clap::value_parser!(u32).range(1..=200))]
    pub(crate) count: u32,

    /// Bellies of all harmonics move alike: what coils and circuit alone do
    #[arg(long)]
    pub(crate) even: bool,

    /// Turn a knob, 0 to 10: `tone=3` (may be given again)
    #[arg(long, short, value_name = "POT=SETTING")]
    pub(crate) knob: Vec<String>,

    /// This variant of the guitar, by its name
    #[arg(long, value_name = "NAME")]
    pub(crate) variant: Option<String>,

    /// As JSON
    #[arg(long)]
    pub(crate) json: bool,

    #[command(flatten)]
    pub(crate) target: Target,
}

/// `check`
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  coilwright check guitar.harness
  coilwright check --strict *.harness
  coilwright check guitar.harness --against guitar.record

Exit codes: 0 when every file compiles, warnings included, and nothing has changed; 1 with --strict when there are warnings, and with
--against when a figure has changed; 2 when a file does not compile.")]
pub(crate) struct CheckArgs {
    /// Harness files
    #[arg(value_name = "FILE", required = true)]
    pub(crate) files: Vec<PathBuf>,

    /// A warning is a failed check
    #[arg(long)]
    pub(crate) strict: bool,

    /// A change since this record of the one file is a failed check
    #[arg(long, value_name = "RECORD")]
    pub(crate) against: Option<PathBuf>,

    /// How many times more than 0.05 dB, or half a percent, is a change
    #[arg(long, value_name = "TIMES", default_value_t = 1.0, requires = "against", value_parser = times)]
    pub(crate) loosen: f64,
}

/// `record`
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  coilwright record guitar.harness --output guitar.record
  coilwright check guitar.harness --against guitar.record        exit code 1 if a figure has changed

One line a figure, `POSITION / WHERE / FIGURE : VALUE`, sorted, six significant digits; positions by their keys. Keep it beside the harness under
version control. Nothing is replaced unasked: --overwrite takes the new figures as right.")]
pub(crate) struct RecordArgs {
    /// The harness file
    #[arg(value_name = "FILE")]
    pub(crate) file: PathBuf,

    /// This variant of the guitar, by its name
    #[arg(long, value_name = "NAME")]
    pub(crate) variant: Option<String>,

    #[command(flatten)]
    pub(crate) target: Target,
}

/// `compare`
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  coilwright compare guitar.harness redrawn.harness
  coilwright compare guitar.harness redrawn.harness --json

The order of parts and wires makes no difference, nor does which lug of a joint a wire is soldered to. Parts are matched by name.

Exit codes: 0 when every position is the same; 1 when one is not; 2 when a file does not compile, or the two have other switches or coils.")]
pub(crate) struct CompareArgs {
    /// A harness file
    #[arg(value_name = "FILE")]
    pub(crate) first: PathBuf,

    /// The file to hold against it
    #[arg(value_name = "OTHER")]
    pub(crate) second: PathBuf,

    /// In-between detents of the switches too
    #[arg(long)]
    pub(crate) between: bool,

    /// As JSON
    #[arg(long)]
    pub(crate) json: bool,

    #[command(flatten)]
    pub(crate) target: Target,
}

/// `explain`
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  coilwright explain              all codes, a line each
  coilwright explain N403         one of them at length
  coilwright explain lever-5      lugs, throws and joints of a switch body")]
pub(crate) struct ExplainArgs {
    /// The code in the brackets of a message, or a switch body; without it, a list of all
    #[arg(value_name = "CODE-OR-BODY")]
    pub(crate) code: Option<String>,
}

/// `format`
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  coilwright format guitar.harness               the formatted text to standard output
  coilwright format --in-place *.harness         the files themselves
  coilwright format --check *.harness            which would change; exit code 1 if any
  coilwright format - < guitar.harness           standard input to standard output

Only blanks and empty lines change, never a word, a number or a comment. Lines that can't be read stay as they are.")]
pub(crate) struct FormatArgs {
    /// Harness files; `-` is standard input
    #[arg(value_name = "FILE", required = true)]
    pub(crate) files: Vec<PathBuf>,

    /// Write the files anew where they change
    #[arg(long, short, conflicts_with = "check")]
    pub(crate) in_place: bool,

    /// Write nothing; exit code 1 if a file would change
    #[arg(long)]
    pub(crate) check: bool,
}

/// `install`
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  coilwright install completions bash > ~/.local/share/bash-completion/completions/coilwright
  coilwright install manual > ~/.local/share/man/man1/coilwright.1

Both go to standard output; nothing is written elsewhere.")]
pub(crate) struct InstallArgs {
    /// What to print
    #[command(subcommand)]
    pub(crate) what: Installed,
}

/// What goes with the program.
#[derive(Debug, Subcommand)]
pub(crate) enum Installed {
    /// Completions: words after Tab
    Completions {
        /// For which shell
        #[arg(value_name = "SHELL")]
        shell: clap_complete::Shell,
    },
    /// The manual page, for `man`
    Manual,
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
