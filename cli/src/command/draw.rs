//! `draw`: the wiring as a picture.

use pickup_dsl::network::Knobs;

use crate::args::DrawArgs;
use crate::drawing::{Drawing, Shown, State};
use crate::exit::{Exit, Failure};
use crate::job;
use crate::output::{Sink, say};

/// Runs it.
///
/// # Errors
/// See [`Failure`].
pub(crate) fn run(args: &DrawArgs) -> Result<Exit, Failure> {
    let file = job::chosen(&args.guitar)?;
    let state = match &args.position {
        Some(name) => {
            let position = job::position_named(&file.harness, name)?;
            Some(State::of(&job::network(&file)?, &file.harness, &position, &Knobs::default()))
        }
        None => None,
    };
    let drawing = Drawing::of(&file.harness).map_err(|e| {
        Failure::usage_with(e.to_string(), "`coilwright sheet` lists them, `coilwright wiring` the joints")
    })?;
    let name = file.harness.title.as_deref().unwrap_or(&file.name);
    let title = file.variant.as_ref().map_or(name.to_owned(), |variant| format!("{name}: {variant}"));
    let mut sink = Sink::open(&args.target, &file.read)?;
    sink.text(&drawing.svg(Shown { title: &title, state: state.as_ref(), theme: Some(args.theme), id: "" }))?;
    sink.close()?;
    match drawing.straight() {
        0 => {}
        count => say(&format!(
            "note: {count} wires are drawn as straight lines: no way around the parts was found\n"
        )),
    }
    Ok(Exit::Good)
}
