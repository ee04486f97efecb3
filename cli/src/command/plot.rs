//! `plot`: curves in the terminal.

mod choice;

use anstyle::{AnsiColor, Style};
use pickup_dsl::evaluate::{Detail, Evaluator, OutletCurves};
use pickup_dsl::figures::{PositionFigures, Why};
use pickup_dsl::positions::Position;

use crate::args::PlotArgs;
use crate::chart::{Chart, Curve};
use crate::curve;
use crate::exit::{Exit, Failure};
use crate::frequencies::logarithmic;
use crate::job::{Job, reference_name, shown_name};
use crate::output::{Sink, styled, terminal_width};
use crate::unit;
use choice::LeftOut;

/// More are a tangle: letters run out of sense before they run out.
const MOST: usize = 12;
/// One point a dot column of the widest chart.
const POINTS: usize = 801;
/// Colours that read on dark and on light; letters tell curves apart without them.
const COLOURS: [AnsiColor; 6] = [
    AnsiColor::Cyan,
    AnsiColor::Magenta,
    AnsiColor::Yellow,
    AnsiColor::Green,
    AnsiColor::Blue,
    AnsiColor::Red,
];

/// Runs it.
///
/// # Errors
/// See [`Failure`].
pub(crate) fn run(args: &PlotArgs) -> Result<Exit, Failure> {
    let job = Job::new(&args.wanted)?;
    let evaluator = job.evaluator()?;
    let (positions, figures, left_out) = if job.is_whole {
        choice::choose(&job, &evaluator)?
    } else {
        let found = job.positions.len();
        if found > MOST {
            return Err(Failure::usage(format!(
                "{found} curves in one chart can't be told apart; at most {MOST}"
            )));
        }
        (job.positions.clone(), job.figures(&evaluator)?, LeftOut::default())
    };
    let chart = chart(&job, &evaluator, &positions, &figures)?;
    let width = args.width.map(usize::from).or_else(terminal_width).unwrap_or(100);
    let mut sink = Sink::stdout();
    let text = chart.text(width, |i, text| match chart.curves.get(i) {
        Some(c) if c.dashed => text.to_owned(),
        _ => styled(colour(i), text),
    });
    sink.text(&text)?;
    sink.text(&left_out.text(width))?;
    sink.close()?;
    Ok(Exit::Good)
}

fn colour(i: usize) -> Style {
    COLOURS[i % COLOURS.len()].on_default()
}

/// The chosen positions, and the reference where it is not among them; dB against the reference's level at 100 Hz.
fn chart(
    job: &Job,
    evaluator: &Evaluator<'_>,
    positions: &[Position],
    figures: &[PositionFigures],
) -> Result<Chart, Failure> {
    let frequencies = logarithmic(20.0, 20e3, POINTS);
    let curves = curve::curves(job, evaluator, positions, &frequencies, Detail::Response)?;
    let reference = evaluator.reference();
    let of_reference = evaluator
        .reference_curves(&frequencies, Detail::Response)
        .map_err(|e| job.no_solution("the reference", &e))?;
    let plateau = reference.outlets.first().and_then(|o| o.plateau.ok());
    let mut drawn = Vec::new();
    for ((position, figures), curves) in positions.iter().zip(figures).zip(&curves) {
        for (i, outlet) in curves.outlets.iter().enumerate() {
            let name = job.outlet_name(&shown_name(position), i);
            drawn.push(Curve {
                mark: letter(drawn.len()),
                label: label(&name, figures, i),
                values: values(outlet, plateau),
                dashed: false,
            });
        }
    }
    for (i, outlet) in of_reference.outlets.iter().enumerate() {
        let values = values(outlet, plateau);
        // The reference at rest among the chosen is one curve, not two.
        if let Some(same) = drawn.iter_mut().find(|c| c.values == values) {
            same.label.push_str(" (the reference)");
            continue;
        }
        drawn.push(Curve {
            mark: 'r',
            label: format!("{} (the reference)", job.outlet_name(&reference_name(reference), i)),
            values,
            dashed: true,
        });
    }
    let against = if plateau.is_some() {
        "dB against the reference at 100 Hz"
    } else {
        "dB re 1 V, since the reference is silent"
    };
    Ok(Chart { caption: format!("{against}, at the amp; frequency in Hz"), frequencies, curves: drawn })
}

fn letter(i: usize) -> char {
    char::from(b'A' + (i % 26) as u8)
}

fn values(outlet: &OutletCurves, plateau: Option<f64>) -> Vec<Option<f64>> {
    (0..outlet.response.len())
        .map(|i| curve::point(outlet, i).map(|(db, _)| db - plateau.unwrap_or(0.0)))
        .collect()
}

/// `split: 4.31 kHz, +5.3 dB`
fn label(name: &str, figures: &PositionFigures, outlet: usize) -> String {
    let Some(o) = figures.outlets.get(outlet) else {
        return name.to_owned();
    };
    match (o.resonance_frequency(), o.height) {
        (Ok(f), Ok(h)) => {
            format!("{name}: peak {}, {} dB", unit::significant(f, "Hz", 3), unit::signed(h, 1))
        }
        (Err(Why::Silent), _) => format!("{name}: silent"),
        _ => format!("{name}: no peak"),
    }
}
