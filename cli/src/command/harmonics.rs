//! `harmonics`: each harmonic of a string at the jack, in a table or as a picture.

use pickup_dsl::evaluate::Evaluator;
use pickup_dsl::harmonics::{Amplitudes, Harmonics, HarmonicsError, Pluck, harmonics};
use pickup_dsl::network::{Knobs, Network};
use pickup_dsl::positions::Position;

use super::plot::choice;
use crate::args::{HarmonicsArgs, Wanted};
use crate::chart::svg::harmonics::{HarmonicsChart, Stems, StringChart};
use crate::exit::{Exit, Failure};
use crate::job::{Job, reference_name, shown_name};
use crate::output::Sink;
use crate::{harmonics as shown, json, picture};

/// Small charts of one picture.
const MOST: usize = 60;

/// Runs it.
///
/// # Errors
/// See [`Failure`].
pub(crate) fn run(args: &HarmonicsArgs) -> Result<Exit, Failure> {
    let mut position = args.position.clone();
    if position.is_empty() && !args.picture.is_wanted() {
        position.push("rest".to_owned());
    }
    let wanted = Wanted {
        position,
        knob: args.knob.clone(),
        reference: args.reference.clone(),
        guitar: args.guitar.clone(),
        between: false,
        all: false,
    };
    let job = Job::new(&wanted)?;
    let strings = if args.string.is_empty() {
        (1..=job.file.harness.string_count).collect()
    } else {
        args.string.clone()
    };
    let evaluator = job.evaluator()?;
    let amplitudes = if args.even { Amplitudes::Even } else { Amplitudes::Falling };
    let plucks: Vec<Pluck> = strings
        .into_iter()
        .map(|string| Pluck { string, fret: args.fret, amplitudes, count: args.count })
        .collect();
    if args.picture.is_wanted() {
        let positions =
            if job.is_whole { choice::choose(&job, &evaluator)?.0 } else { job.positions.clone() };
        let found = positions.len() * plucks.len() * job.file.harness.outlets.len();
        if found > MOST {
            return Err(Failure::usage_with(
                format!("{found} small charts are too many for one picture; at most {MOST}"),
                "choose some with `--string` and `--position`",
            ));
        }
        let chart = chart(&job, &evaluator, &positions, &plucks)?;
        let title = job.file.harness.title.as_deref().unwrap_or(&job.file.name);
        let turned = job.turned().map_or_else(String::new, |turned| format!(", {turned}"));
        let svg = chart.svg(&format!("{title}: harmonics of its strings{turned}"), args.picture.colours());
        let mut sink = Sink::open(&args.target, &job.file.read)?;
        picture::write(&mut sink, &args.picture, &svg)?;
        sink.close()?;
        return Ok(Exit::Good);
    }
    let [position] = &job.positions[..] else {
        return Err(Failure::usage_with(
            "a table is of one position",
            "give one `--position`; a picture compares several: `--svg`",
        ));
    };
    let all = of(&job, &evaluator, position, &plucks)?;
    let mut sink = Sink::open(&args.target, &job.file.read)?;
    if args.json {
        json::harmonics(&mut sink, &job, position, amplitudes, &all)?;
    } else {
        sink.text(&shown::text(&job, position, amplitudes, &all))?;
    }
    sink.close()?;
    Ok(Exit::Good)
}

/// Some strings in one position.
fn of(
    job: &Job,
    evaluator: &Evaluator<'_>,
    position: &Position,
    plucks: &[Pluck],
) -> Result<Vec<Harmonics>, Failure> {
    let one = |pluck: &Pluck| {
        harmonics(evaluator, position, &job.knobs, *pluck).map_err(|error| refused(job, position, error))
    };
    plucks.iter().map(one).collect()
}

/// Some positions with the knobs of the job, against the reference.
///
/// # Errors
/// If there are no such harmonics, or a position has no solution.
pub(super) fn chart(
    job: &Job,
    evaluator: &Evaluator<'_>,
    positions: &[Position],
    plucks: &[Pluck],
) -> Result<HarmonicsChart, Failure> {
    let by_position: Vec<Vec<Harmonics>> =
        positions.iter().map(|p| of(job, evaluator, p, plucks)).collect::<Result<_, _>>()?;
    let against = against(evaluator, plucks);
    let strings = (0..plucks.len()).map(|s| {
        let reference = against.as_ref().map(|all| &all[s]);
        // Against the reference's first harmonic, if that sounds.
        let zero = reference.and_then(|r| levels(r, 0).first().copied().flatten()).unwrap_or(0.0);
        let over = |of: &Harmonics, outlet: usize| -> Vec<Option<f64>> {
            levels(of, outlet).into_iter().map(|db| db.map(|db| db - zero)).collect()
        };
        let mut stems = Vec::new();
        for (position, all) in positions.iter().zip(&by_position) {
            for outlet in 0..job.file.harness.outlets.len() {
                let values = over(&all[s], outlet);
                let bars = reference.map(|r| over(r, outlet));
                // The reference at rest among the chosen needs no bars.
                let is_reference = bars.as_ref() == Some(&values);
                stems.push(Stems {
                    name: job.outlet_name(&shown_name(position), outlet),
                    against: bars.filter(|_| !is_reference),
                    is_reference,
                    values,
                });
            }
        }
        let first = by_position.first().map(|all| &all[s]);
        StringChart {
            head: first.map_or_else(String::new, shown::head),
            fundamental: first.map_or(0.0, |one| one.fundamental),
            positions: stems,
        }
    });
    let strings: Vec<StringChart> = strings.collect();
    let sounds = against.iter().flatten().all(|r| levels(r, 0).first().is_some_and(Option::is_some));
    let zero = match &against {
        Some(_) if sounds => "dB against the reference's first harmonic",
        _ => "dB re the open voltage of 5,000 turns over a belly",
    };
    let falling = plucks.iter().all(|pluck| pluck.amplitudes == Amplitudes::Falling);
    let bellies =
        if falling { "its bellies move with 1/n of the first's velocity" } else { "all bellies move alike" };
    let caption = format!("{zero}, at the amp; number n of the harmonic; {bellies}");
    let reference = against.map(|_| reference_name(evaluator.reference()));
    Ok(HarmonicsChart { caption, reference, strings })
}

/// The reference on the same strings, its knobs at rest; None where its file does not say where its pickups sit, or has no such string.
fn against(evaluator: &Evaluator<'_>, plucks: &[Pluck]) -> Option<Vec<Harmonics>> {
    let reference = evaluator.reference();
    let all = |evaluator: &Evaluator<'_>| -> Option<Vec<Harmonics>> {
        let one = |pluck: &Pluck| harmonics(evaluator, &reference.position, &Knobs::default(), *pluck).ok();
        plucks.iter().map(one).collect()
    };
    if !reference.another_file {
        return all(evaluator);
    }
    let network = Network::of(reference.harness).ok()?;
    all(&Evaluator::new(reference.harness, &network).ok()?)
}

/// dB re 1 V of each harmonic at an outlet; None where it is silent.
fn levels(of: &Harmonics, outlet: usize) -> Vec<Option<f64>> {
    of.harmonics.iter().map(|h| h.outlets.get(outlet).and_then(|heard| heard.level.ok())).collect()
}

fn refused(job: &Job, position: &Position, error: HarmonicsError) -> Failure {
    match error {
        HarmonicsError::Circuit(e) => job.no_solution(&shown_name(position), &e),
        HarmonicsError::NoGeometry => Failure::usage_with(
            error.to_string(),
            "add a `geometry` statement: `geometry { scale 648mm, place neck 160mm }`, a `place` for each pickup",
        ),
        error => Failure::usage(error.to_string()),
    }
}
