//! The picture that is drawn anew at each save.

use std::path::PathBuf;

use clap::Args;

use super::Wanted;
use crate::picture::Theme;

/// `watch`
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  coilwright watch guitar.harness --output curves.svg
  coilwright watch guitar.harness --output split.svg --position \"Neck, split\" --difference

The picture is that of `plot --svg`. It is drawn at once, and anew at each save of the file or of one that it uses; while the file has
errors they are shown, and the last picture stays. Ends when it is interrupted (Ctrl-C).")]
pub(crate) struct WatchArgs {
    #[command(flatten)]
    pub(crate) wanted: Wanted,

    /// dB over the reference at the same frequency, not at 100 Hz
    #[arg(long)]
    pub(crate) difference: bool,

    /// One position with this knob at 10, 8, 6, 4, 2 and 0
    #[arg(long, value_name = "POT")]
    pub(crate) family: Option<String>,

    /// A small chart for each position, against the reference
    #[arg(long, conflicts_with = "family")]
    pub(crate) multiples: bool,

    /// Colours of the picture
    #[arg(long, value_enum, default_value = "auto")]
    pub(crate) theme: Theme,

    /// Write to this file; it is replaced at each save
    #[arg(long, short, value_name = "PATH")]
    pub(crate) output: PathBuf,

    /// Replace the file of `--output` at first, too
    #[arg(long)]
    pub(crate) overwrite: bool,
}
