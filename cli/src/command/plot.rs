//! `plot`: curves in the terminal, or as a picture.

mod bands;
pub(super) mod choice;

use anstyle::{AnsiColor, Style};
use pickup_dsl::diagnostic::escape;
use pickup_dsl::evaluate::{Detail, Evaluator};
use pickup_dsl::figures::PositionFigures;
use pickup_dsl::harness::PartId;
use pickup_dsl::network::Knobs;
use pickup_dsl::positions::Position;

use crate::args::PlotArgs;
use crate::chart::{AT_EACH, Chart, Curve, caption};
use crate::curve;
use crate::exit::{Exit, Failure};
use crate::frequencies::logarithmic;
use crate::job::{self, Job, reference_name, shown_name};
use crate::output::{Sink, say, styled, terminal_width};
use crate::picture;
use choice::LeftOut;

/// More are a tangle: letters run out of sense before they run out.
const MOST: usize = 12;
/// Small charts of one picture.
const MOST_SMALL: usize = 240;
/// One point a dot column of the widest chart.
const POINTS: usize = 801;
/// One point a pixel of a small chart.
const SMALL_POINTS: usize = 201;
/// Colours that read on dark and on light; letters tell curves apart without them.
const COLOURS: [AnsiColor; 6] = [
    AnsiColor::Cyan,
    AnsiColor::Magenta,
    AnsiColor::Yellow,
    AnsiColor::Green,
    AnsiColor::Blue,
    AnsiColor::Red,
];

/// Settings of a family.
const FAMILY: [f64; 6] = [10.0, 8.0, 6.0, 4.0, 2.0, 0.0];

/// Runs it.
///
/// # Errors
/// See [`Failure`].
pub(crate) fn run(args: &PlotArgs) -> Result<Exit, Failure> {
    of(args, Job::new(&args.wanted)?)
}

/// Draws what was read and compiled.
///
/// # Errors
/// See [`Failure`].
pub(super) fn of(args: &PlotArgs, mut job: Job) -> Result<Exit, Failure> {
    let family = args.family.as_deref().map(|pot| family(&job, pot)).transpose()?;
    if family.is_some() && job.is_whole {
        job.positions = vec![job::position_named(&job.file.harness, "rest")?];
        job.is_whole = false;
    }
    let evaluator = job.evaluator()?;
    let (states, left_out) = match family {
        Some(pot) => (of_family(&job, &evaluator, pot)?, LeftOut::default()),
        None if args.multiples => (each(&job, &evaluator)?, LeftOut::default()),
        None => of_positions(&job, &evaluator)?,
    };
    let frequencies = logarithmic(20.0, 20e3, if args.multiples { SMALL_POINTS } else { POINTS });
    let mut chart = chart(&job, &evaluator, &states, frequencies, args.difference)?;
    if let Some(builds) = args.builds {
        chart.bands = bands::bands(&job, &states, &chart.frequencies, builds)?;
        chart.caption.push_str(&format!("; bands: nine of ten of {builds} builds"));
    }
    let mut sink = Sink::open(&args.target, &job.file.read)?;
    if args.picture.is_wanted() {
        let mut title = job.file.harness.title.as_deref().unwrap_or(&job.file.name).to_owned();
        if let (Some(_), [position]) = (family, &job.positions[..]) {
            title.push_str(&format!(": {}", shown_name(position)));
        }
        let theme = args.picture.colours();
        let svg = if args.multiples { chart.multiples(&title, theme) } else { chart.svg(&title, theme) };
        picture::write(&mut sink, &args.picture, &svg)?;
        sink.close()?;
        // Said to the one who draws: the picture is for others.
        say(&left_out.text(terminal_width().unwrap_or(100)));
        return Ok(Exit::Good);
    }
    let width = args.width.map(usize::from).or_else(terminal_width).unwrap_or(100);
    let text = chart.text(width, |i, text| match chart.curves.get(i) {
        Some(c) if c.dashed => text.to_owned(),
        _ => styled(colour(i), text),
    });
    sink.text(&text)?;
    sink.text(&left_out.text(width))?;
    sink.close()?;
    Ok(Exit::Good)
}

/// One curve to be: a position with its knobs.
struct State {
    name: String,
    position: Position,
    knobs: Knobs,
    figures: PositionFigures,
}

fn of_positions(job: &Job, evaluator: &Evaluator<'_>) -> Result<(Vec<State>, LeftOut), Failure> {
    let (positions, figures, left_out) = if job.is_whole {
        choice::choose(job, evaluator)?
    } else {
        let found = job.positions.len();
        if found > MOST {
            return Err(Failure::usage(format!(
                "{found} curves in one chart can't be told apart; at most {MOST}"
            )));
        }
        (job.positions.clone(), job.figures(evaluator)?, LeftOut::default())
    };
    Ok((states(job, positions, figures), left_out))
}

/// Positions with the knobs of the command line.
fn states(job: &Job, positions: Vec<Position>, figures: Vec<PositionFigures>) -> Vec<State> {
    let state = |(position, figures): (Position, PositionFigures)| State {
        name: shown_name(&position),
        position,
        knobs: job.knobs.clone(),
        figures,
    };
    positions.into_iter().zip(figures).map(state).collect()
}

/// Every position, for charts of their own.
fn each(job: &Job, evaluator: &Evaluator<'_>) -> Result<Vec<State>, Failure> {
    let found = job.positions.len();
    if found > MOST_SMALL {
        return Err(Failure::usage_with(
            format!("{found} small charts are too many for one picture; at most {MOST_SMALL}"),
            "choose some with `--position`",
        ));
    }
    Ok(states(job, job.positions.clone(), job.figures(evaluator)?))
}

/// The pot of that name.
fn family(job: &Job, wanted: &str) -> Result<PartId, Failure> {
    let knobs = job::knobs(&job.file.harness, &[format!("{wanted}=0")])?;
    knobs.0.keys().next().copied().ok_or_else(|| Failure::usage("no knob is named"))
}

fn of_family(job: &Job, evaluator: &Evaluator<'_>, pot: PartId) -> Result<Vec<State>, Failure> {
    let [position] = &job.positions[..] else {
        return Err(Failure::usage_with("a family of curves is of one position", "give one `--position`"));
    };
    let name = escape(&job.file.harness.part(pot).name);
    let state = |setting: &f64| {
        let mut knobs = job.knobs.clone();
        knobs.0.insert(pot, *setting);
        let figures =
            evaluator.figures(position, &knobs).map_err(|e| job.no_solution(&shown_name(position), &e))?;
        let name = format!("{name} at {setting}");
        Ok(State { name, position: position.clone(), knobs, figures })
    };
    FAMILY.iter().map(state).collect()
}

fn colour(i: usize) -> Style {
    COLOURS[i % COLOURS.len()].on_default()
}

/// The chosen states, and the reference where it is not among them; dB against the reference's level at 100 Hz, or against the reference
/// at each frequency.
fn chart(
    job: &Job,
    evaluator: &Evaluator<'_>,
    states: &[State],
    frequencies: Vec<f64>,
    difference: bool,
) -> Result<Chart, Failure> {
    let reference = evaluator.reference();
    let of_reference = evaluator
        .reference_curves(&frequencies, Detail::Response)
        .map_err(|e| job.no_solution("the reference", &e))?;
    let plateau = reference.outlets.first().and_then(|o| o.plateau.ok());
    let absolute: Vec<Vec<Option<f64>>> = of_reference.outlets.iter().map(curve::decibels).collect();
    // What a curve is taken against at each frequency; nothing if it is silent there.
    let against = |outlet: usize, values: Vec<Option<f64>>| -> Vec<Option<f64>> {
        let zero = |i: usize| match difference {
            true => absolute.get(outlet).and_then(|reference| reference[i]),
            false => Some(plateau.unwrap_or(0.0)),
        };
        values.into_iter().enumerate().map(|(i, v)| Some(v? - zero(i)?)).collect()
    };
    let mut drawn: Vec<Curve> = Vec::new();
    for state in states {
        let curves = evaluator
            .curves(&state.position, &state.knobs, &frequencies, Detail::Response)
            .map_err(|e| job.no_solution(&state.name, &e))?;
        for (i, outlet) in curves.outlets.iter().enumerate() {
            let (note, peak) = curve::peak(&state.figures, i);
            drawn.push(Curve {
                mark: letter(drawn.len()),
                name: job.outlet_name(&state.name, i),
                note,
                reference: false,
                peak: peak.map(|(f, db)| (f, db - plateau.unwrap_or(0.0))).filter(|_| !difference),
                values: against(i, curve::decibels(outlet)),
                dashed: false,
            });
        }
    }
    for (i, outlet) in of_reference.outlets.iter().enumerate() {
        let values = against(i, curve::decibels(outlet));
        // The reference at rest among the chosen is one curve, not two.
        if let Some(same) = drawn.iter_mut().find(|c| c.values == values) {
            same.reference = true;
            continue;
        }
        drawn.push(Curve {
            mark: 'r',
            name: job.outlet_name(&reference_name(reference), i),
            note: String::new(),
            reference: true,
            peak: None,
            values,
            dashed: true,
        });
    }
    let caption = if difference { AT_EACH.to_owned() } else { caption(plateau.is_some()) };
    Ok(Chart { caption, frequencies, curves: drawn, bands: Vec::new() })
}

fn letter(i: usize) -> char {
    char::from(b'A' + (i % 26) as u8)
}
