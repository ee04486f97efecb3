//! What can be heard of a guitar: each position at each output, with every knob in turn at marked settings.

use std::iter;

use pickup_dsl::evaluate::{Curves, Detail, Evaluator};
use pickup_dsl::figures::PositionFigures;
use pickup_dsl::harness::PartId;
use pickup_dsl::network::Knobs;
use pickup_dsl::positions::Position;
use rayon::prelude::{IntoParallelRefIterator, ParallelIterator};

use crate::curve;
use crate::exit::Failure;
use crate::job::{Job, shown_name};
use crate::report::cells::Marks;
use crate::report::rows::rows;

/// Settings that a knob has on the page, beside the one where it rests.
const SETTINGS: [f64; 7] = [0.0, 2.0, 4.0, 6.0, 7.0, 8.0, 10.0];
/// States of one page: more make a file that no browser opens gladly.
const MOST: usize = 8000;

/// A knob of the page.
#[derive(Debug, Clone)]
pub(crate) struct Knob {
    /// The pot.
    pub(crate) pot: PartId,
    /// Where figures are taken unless said.
    pub(crate) rest: f64,
    /// Ascending; `rest` is one of them.
    pub(crate) settings: Vec<f64>,
}

impl Knob {
    /// Index of the setting where it rests.
    pub(crate) fn at_rest(&self) -> usize {
        self.settings.iter().position(|setting| *setting == self.rest).unwrap_or_default()
    }
}

/// One position at one output.
#[derive(Debug, Clone)]
pub(crate) struct Voice {
    /// Its name, with the output's where there are several.
    pub(crate) name: String,
    /// The same with the mark of figures that rest on assumed values.
    pub(crate) marked: String,
    /// Which output.
    pub(crate) outlet: usize,
    /// Of which position, by its index.
    pub(crate) position: usize,
    /// First with all knobs at rest; then knob by knob each of its settings but rest, ascending.
    pub(crate) states: Vec<State>,
}

/// A voice with its knobs somewhere.
#[derive(Debug, Clone)]
pub(crate) struct State {
    /// dB at each frequency, on the page's scale; None where it is silent.
    pub(crate) values: Vec<Option<f64>>,
    /// The cells of both tables.
    pub(crate) sound: [String; 7],
    /// Those of the second.
    pub(crate) bench: [String; 8],
    /// `peak 4.31 kHz, +5.3 dB`
    pub(crate) note: String,
    /// Where the peak lies: Hz, and dB on the page's scale.
    pub(crate) peak: Option<(f64, f64)>,
}

/// Every knob of the guitar.
pub(crate) fn knobs(job: &Job) -> Vec<Knob> {
    let knob = |(pot, found): (PartId, &pickup_dsl::harness::Pot)| {
        let mut settings: Vec<f64> = SETTINGS.into_iter().chain([found.rest]).collect();
        settings.sort_by(f64::total_cmp);
        settings.dedup();
        Knob { pot, rest: found.rest, settings }
    };
    job.file.harness.pots().map(knob).collect()
}

/// All voices, positions in order. `zero` is the decibels that count as none; `marks` learns what stands in the cells.
///
/// # Errors
/// The first position without a solution; [`Failure::Usage`] if there are too many.
pub(crate) fn voices(
    job: &Job,
    evaluator: &Evaluator<'_>,
    knobs: &[Knob],
    frequencies: &[f64],
    zero: f64,
    marks: &mut Marks,
) -> Result<Vec<Voice>, Failure> {
    let states = states(knobs);
    let work: Vec<(&Position, &Knobs)> =
        job.positions.iter().flat_map(|p| states.iter().map(move |k| (p, k))).collect();
    if work.len() > MOST {
        return Err(Failure::usage_with(
            format!(
                "{} positions with {} settings of knobs each are too many for one page: at most {MOST} in all",
                job.positions.len(),
                states.len()
            ),
            "name those that matter in the file, and say `positions named only`",
        ));
    }
    let solved: Vec<Result<(PositionFigures, Curves), Failure>> = work
        .par_iter()
        .map(|(position, knobs)| {
            let figures = evaluator.figures(position, knobs);
            let curves = evaluator.curves(position, knobs, frequencies, Detail::Response);
            let both = figures.and_then(|figures| Ok((figures, curves?)));
            both.map_err(|e| job.no_solution(&shown_name(position), &e))
        })
        .collect();
    let solved: Vec<(PositionFigures, Curves)> = solved.into_iter().collect::<Result<_, _>>()?;
    let mut voices: Vec<Voice> = Vec::new();
    for (position, of_position) in solved.chunks(states.len()).enumerate() {
        let first = voices.len();
        for (figures, curves) in of_position {
            for row in rows(job, std::slice::from_ref(figures)) {
                let (note, peak) = curve::peak(figures, row.index);
                let state = State {
                    values: against(zero, curve::decibels(&curves.outlets[row.index])),
                    sound: row.sound(marks),
                    bench: row.bench(marks),
                    note,
                    peak: peak.map(|(f, db)| (f, db - zero)),
                };
                match voices.get_mut(first + row.index) {
                    Some(voice) => voice.states.push(state),
                    None => voices.push(Voice {
                        marked: marks.position(figures, row.outlet, &row.name),
                        name: row.name,
                        outlet: row.index,
                        position,
                        states: vec![state],
                    }),
                }
            }
        }
    }
    Ok(voices)
}

/// Decibels over `zero`.
pub(crate) fn against(zero: f64, values: Vec<Option<f64>>) -> Vec<Option<f64>> {
    values.into_iter().map(|v| Some(v? - zero)).collect()
}

/// At rest; then knob by knob.
fn states(knobs: &[Knob]) -> Vec<Knobs> {
    let turned = knobs.iter().flat_map(|knob| {
        let away = knob.settings.iter().filter(|setting| **setting != knob.rest);
        away.map(|setting| Knobs([(knob.pot, *setting)].into_iter().collect()))
    });
    iter::once(Knobs::default()).chain(turned).collect()
}
