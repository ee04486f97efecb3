//! The wiring picture in the page, and what shows each position in it.

use pickup_dsl::network::Knobs;
use serde::Serialize;

use crate::drawing::svg::style::style;
use crate::drawing::{Drawing, Shown, State};
use crate::job::Job;
use crate::picture::Theme;

/// The picture, its style apart: the page allows one style only.
#[derive(Debug)]
pub(crate) struct Wiring {
    pub(crate) picture: String,
    pub(crate) style: String,
    /// In order of the job's positions.
    pub(crate) positions: Vec<Shows>,
}

/// What a position shows in the picture.
#[derive(Debug, Serialize)]
pub(crate) struct Shows {
    pub(crate) name: String,
    /// Where each switch stands, in order of the file.
    throws: Vec<usize>,
    /// Lugs that carry its signal.
    carrying: Vec<u32>,
}

/// The picture of the guitar; None if it has too many wires for one.
pub(crate) fn wiring(job: &Job, title: &str) -> Option<Wiring> {
    let harness = &job.file.harness;
    let drawing = Drawing::of(harness).ok()?;
    let shows = |position| {
        let state = State::of(&job.network, harness, position, &Knobs::default());
        Shows { name: state.name.clone(), throws: state.throws.clone(), carrying: state.carrying() }
    };
    Some(Wiring {
        picture: drawing.svg(Shown { title, state: None, theme: None, id: "wiring-" }),
        style: style(Theme::Auto),
        positions: job.positions.iter().map(shows).collect(),
    })
}
