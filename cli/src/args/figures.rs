//! Positions in figures, curves and joints.

use clap::Args;

use super::{Form, Grid, Guitar, Picture, Target, Wanted};

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
  coilwright curves guitar.harness --position Full --statement wanted     a `curve` for an `expect`

One row a frequency; for each position the level in dB re 1 V (the open voltage of 5,000 turns) and the phase in degrees.
Where a position is silent, its cells are empty.")]
pub(crate) struct CurvesArgs {
    #[command(flatten)]
    pub(crate) wanted: Wanted,

    /// The one position as a `curve` statement of that name, in dB over the reference at 100 Hz
    #[arg(long, value_name = "NAME")]
    pub(crate) statement: Option<String>,

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
  coilwright plot guitar.harness --svg --multiples --output all.svg
  coilwright plot guitar.harness --position rest --family volume
  coilwright plot guitar.harness --builds 300 --svg --output spread.svg   with bands: parts are not what is printed on them

In an SVG each curve has a dash of its own and its name at its end, so it reads in grey print too. Without --position: up to five that sound and differ, named ones first; it says which were left out.")]
pub(crate) struct PlotArgs {
    #[command(flatten)]
    pub(crate) wanted: Wanted,

    /// Columns of text; else the terminal's, or 100
    #[arg(long, short, value_parser = clap::value_parser!(u16).range(40..=400), conflicts_with = "picture")]
    pub(crate) width: Option<u16>,

    /// dB over the reference at the same frequency, not at 100 Hz
    #[arg(long)]
    pub(crate) difference: bool,

    /// One position with this knob at 10, 8, 6, 4, 2 and 0
    #[arg(long, value_name = "POT")]
    pub(crate) family: Option<String>,

    #[command(flatten)]
    pub(crate) picture: Picture,

    /// A small chart for each position, against the reference
    #[arg(long, requires = "picture", conflicts_with = "family")]
    pub(crate) multiples: bool,

    /// So many builds besides, their parts off within their tolerances: nine in ten lie in the band around each curve
    #[arg(long, value_name = "NUMBER", requires = "picture", conflicts_with_all = ["multiples", "difference"], value_parser = clap::value_parser!(u64).range(20..=10_000))]
    pub(crate) builds: Option<u64>,

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
    /// The position, by its name or its key; else all switches at rest
    #[arg(long, short, value_name = "NAME-OR-KEY", default_value = "rest")]
    pub(crate) position: String,

    /// Turn a knob, 0 to 10: `tone=3` (may be given again)
    #[arg(long, short, value_name = "POT=SETTING")]
    pub(crate) knob: Vec<String>,

    #[command(flatten)]
    pub(crate) guitar: Guitar,

    #[command(flatten)]
    pub(crate) form: Form,
}

/// `harmonics`
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  coilwright harmonics guitar.harness --string 6
  coilwright harmonics guitar.harness --position \"Neck, split\" --string 6 --fret 12 --knob tone=3
  coilwright harmonics guitar.harness --even --json
  coilwright harmonics guitar.harness --string 6 --fret 3 --svg --output harmonics.svg

The file says in a `geometry` statement how long the strings are and where the pickups sit. The string is ideal; the bellies of harmonic
n move with 1/n of the first's velocity, or all alike with --even. The JSON's structure is described by
cli/schema/harmonics.schema.json.

The picture has a small chart for each string and position, with a bar where the reference lies; without --position it shows those that
`plot` does.")]
pub(crate) struct HarmonicsArgs {
    /// The position, by its name or its key; else all switches at rest (in a picture it may be given again)
    #[arg(long, short, value_name = "NAME-OR-KEY")]
    pub(crate) position: Vec<String>,

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

    /// The picture compares with this position in place of the file's reference
    #[arg(long, short, value_name = "NAME-OR-KEY", requires = "picture")]
    pub(crate) reference: Option<String>,

    #[command(flatten)]
    pub(crate) guitar: Guitar,

    /// As JSON
    #[arg(long, conflicts_with = "picture")]
    pub(crate) json: bool,

    #[command(flatten)]
    pub(crate) picture: Picture,

    #[command(flatten)]
    pub(crate) target: Target,
}
