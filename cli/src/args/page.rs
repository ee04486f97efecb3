//! The page for the customer.

use clap::Args;

use super::{Guitar, Target};

/// `page`
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  coilwright page guitar.harness --output guitar.html
  coilwright page guitar.harness --variant \"Hot bridge\" --output hot.html

One file that any browser opens, without a network: it loads nothing and sends nothing. Without JavaScript it is a document with all tables.
Each knob stands at 0, 2, 4, 6, 7, 8, 10 and where it rests, the others at rest; figures there are those of `report --knob`.")]
pub(crate) struct PageArgs {
    #[command(flatten)]
    pub(crate) guitar: Guitar,

    #[command(flatten)]
    pub(crate) target: Target,
}
