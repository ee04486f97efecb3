//! What the page's script reads: curves and figures of every state, each kept once.

use std::collections::BTreeMap;

use serde::Serialize;

use super::voice::{Knob, State, Voice};
use super::wiring::Shows;
use crate::chart::svg::frame::Frame;

/// Steps of a curve's decibels in a decibel: two decimals, as more can't be seen.
const STEPS: f64 = 100.0;

/// All of it.
#[derive(Debug, Serialize)]
pub(crate) struct Data<'a> {
    frame: FrameData,
    frequencies: &'a [f64],
    steps: f64,
    knobs: Vec<KnobData>,
    figures: Vec<[&'static str; 2]>,
    voices: Vec<VoiceData<'a>>,
    wiring: &'a [Shows],
    references: Vec<usize>,
    reference: &'a str,
    start: Start<'a>,
    curves: Vec<Vec<Option<i64>>>,
    cells: Vec<Vec<&'a str>>,
}

/// What is drawn as the page opens.
#[derive(Debug, Serialize)]
pub(crate) struct Start<'a> {
    /// The voice that is chosen.
    pub(crate) chosen: usize,
    /// Those that it is compared with.
    pub(crate) also: &'a [usize],
}

/// The frame of the chart, in units of its picture.
#[derive(Debug, Serialize)]
struct FrameData {
    left: f64,
    top: f64,
    width: f64,
    height: f64,
    /// Lowest and highest of the near axis, and of the one that shows every state.
    axes: [(f64, f64); 2],
}

#[derive(Debug, Serialize)]
struct KnobData {
    name: String,
    rest: usize,
    settings: Vec<f64>,
}

#[derive(Debug, Serialize)]
struct VoiceData<'a> {
    name: &'a str,
    position: usize,
    outlet: usize,
    states: Vec<StateData<'a>>,
}

/// Index of its curve, index of its cells, what is said of the peak, and where it lies.
#[derive(Debug, Serialize)]
struct StateData<'a>(usize, usize, &'a str, Option<(f64, f64)>);

/// Of what the page is made.
#[derive(Debug)]
pub(crate) struct Parts<'a> {
    /// The chart on its two axes.
    pub(crate) frames: [Frame; 2],
    pub(crate) frequencies: &'a [f64],
    pub(crate) knobs: &'a [Knob],
    /// Names in order of `knobs`, fit to print.
    pub(crate) knob_names: Vec<String>,
    /// Name and unit of each of a state's cells.
    pub(crate) figures: Vec<[&'static str; 2]>,
    pub(crate) voices: &'a [Voice],
    /// The reference's curve at each output.
    pub(crate) references: &'a [Vec<Option<f64>>],
    pub(crate) reference: &'a str,
    /// In order of the positions; empty if there is no picture.
    pub(crate) wiring: &'a [Shows],
    pub(crate) start: Start<'a>,
}

impl<'a> Data<'a> {
    /// Curves and rows of cells that are the same are kept once: a knob that does nothing costs nothing.
    pub(crate) fn new(parts: Parts<'a>) -> Self {
        let mut curves = Once::default();
        let mut cells = Once::default();
        let of_state =
            |state: &'a State, curves: &mut Once<Vec<Option<i64>>>, cells: &mut Once<Vec<&'a str>>| {
                let row: Vec<&str> = state.sound.iter().chain(&state.bench).map(String::as_str).collect();
                let peak = state.peak.map(|(f, db)| (rounded(f), rounded(db)));
                StateData(curves.index(steps(&state.values)), cells.index(row), state.note.as_str(), peak)
            };
        let voices = parts
            .voices
            .iter()
            .map(|voice| VoiceData {
                name: &voice.name,
                position: voice.position,
                outlet: voice.outlet,
                states: voice.states.iter().map(|s| of_state(s, &mut curves, &mut cells)).collect(),
            })
            .collect();
        let references = parts.references.iter().map(|values| curves.index(steps(values))).collect();
        let frame = parts.frames[0];
        Data {
            frame: FrameData {
                left: frame.left,
                top: frame.top,
                width: frame.width,
                height: frame.height,
                axes: parts.frames.map(|frame| frame.y.edges()),
            },
            frequencies: parts.frequencies,
            steps: STEPS,
            knobs: parts
                .knobs
                .iter()
                .zip(parts.knob_names)
                .map(|(knob, name)| KnobData { name, rest: knob.at_rest(), settings: knob.settings.clone() })
                .collect(),
            figures: parts.figures,
            voices,
            wiring: parts.wiring,
            references,
            reference: parts.reference,
            start: parts.start,
            curves: curves.all,
            cells: cells.all,
        }
    }

    /// As JSON that may stand in a `script` element: no `<` that could end it.
    pub(crate) fn json(&self) -> String {
        serde_json::to_string(self).expect("lists, numbers and texts are JSON").replace('<', "\\u003c")
    }
}

/// Values that are kept once, in the order in which they were first seen.
#[derive(Debug)]
struct Once<T> {
    all: Vec<T>,
    known: BTreeMap<T, usize>,
}

impl<T> Default for Once<T> {
    fn default() -> Self {
        Once { all: Vec::new(), known: BTreeMap::new() }
    }
}

impl<T: Ord + Clone> Once<T> {
    fn index(&mut self, value: T) -> usize {
        *self.known.entry(value).or_insert_with_key(|value| {
            self.all.push(value.clone());
            self.all.len() - 1
        })
    }
}

/// A curve in steps; after the first, how far each lies from the one before it that is not silent.
fn steps(values: &[Option<f64>]) -> Vec<Option<i64>> {
    let mut last = 0;
    values
        .iter()
        .map(|value| {
            let now = (value.as_ref()? * STEPS).round() as i64;
            let step = now - last;
            last = now;
            Some(step)
        })
        .collect()
}

fn rounded(value: f64) -> f64 {
    (value * STEPS).round() / STEPS
}

#[cfg(test)]
mod tests {
    use super::{Once, steps};

    #[test]
    fn a_curve_is_steps_from_the_last_that_sounds() {
        assert_eq!(steps(&[Some(1.0), Some(1.5), None, Some(1.25)]), [Some(100), Some(50), None, Some(-25)]);
    }

    #[test]
    fn the_same_is_kept_once() {
        let mut once = Once::default();
        assert_eq!(["a", "b", "a"].map(|word| once.index(word)), [0, 1, 0]);
        assert_eq!(once.all, ["a", "b"]);
    }
}
