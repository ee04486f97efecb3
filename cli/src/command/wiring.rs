//! `wiring`: the network of one position.

use pickup_dsl::network::{Loads, Setting, live};

use crate::args::WiringArgs;
use crate::exit::{Exit, Failure};
use crate::output::Sink;
use crate::{job, json, wiring};

/// Runs it.
///
/// # Errors
/// See [`Failure`].
pub(crate) fn run(args: &WiringArgs) -> Result<Exit, Failure> {
    let file = job::chosen(&args.guitar)?;
    let position = job::position_named(&file.harness, &args.position)?;
    let knobs = job::knobs(&file.harness, &args.knob)?;
    let network = job::network(&file)?;
    let setting = Setting::new(&position.throws, &knobs, Loads::Plugged);
    let live = live(&network, &file.harness, &setting);
    let mut sink = Sink::open(&args.form.target, &file.read)?;
    if args.form.json {
        json::wiring(&mut sink, &file, &position, &knobs, &live)?;
    } else {
        sink.text(&wiring::text(&file, &position, &knobs, &live))?;
    }
    sink.close()?;
    Ok(Exit::Good)
}
