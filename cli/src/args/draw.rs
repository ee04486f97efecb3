//! The wiring as a picture.

use clap::Args;

use super::{Guitar, Target};
use crate::picture::Theme;

/// `draw`
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  coilwright draw guitar.harness --output wiring.svg
  coilwright draw guitar.harness --position \"Neck, split\" --output split.svg
  coilwright draw guitar.harness --theme light --output print.svg

An SVG: for a browser, a page, a print. Equal numbers at lugs are one joint; each joint has a stripe of its own beside its colour. With --position
contacts are as they stand there, and ground and what does not carry the signal are faint. Up to 250 wires.")]
pub(crate) struct DrawArgs {
    /// Where the signal runs in this position, by its name or its key
    #[arg(long, short, value_name = "NAME-OR-KEY")]
    pub(crate) position: Option<String>,

    #[command(flatten)]
    pub(crate) guitar: Guitar,

    /// Colours of the picture
    #[arg(long, value_enum, default_value = "auto")]
    pub(crate) theme: Theme,

    #[command(flatten)]
    pub(crate) target: Target,
}
