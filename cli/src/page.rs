//! The page for the customer: one HTML file that needs nothing else.
//!
//! The template is `cli/templates/page.html`; every text goes through it and is escaped there. The script only chooses among curves and figures
//! that stand in the file: it computes no figure.

mod data;
mod kept;
mod seal;
mod strings;
mod voice;
mod wiring;

use askama::Template;
use pickup_dsl::card::Card;
use pickup_dsl::diagnostic::{Diagnostic, escape};
use pickup_dsl::evaluate::{Detail, Evaluator};
use pickup_dsl::sheet::Sheet;

use crate::card as card_words;
use crate::chart::axis::Decibels;
use crate::chart::svg::harmonics::HarmonicsChart;
use crate::chart::svg::{CURVES, properties};
use crate::chart::{Chart, Curve, caption};
use crate::curve;
use crate::document::Block;
use crate::exit::Failure;
use crate::frequencies::logarithmic;
use crate::job::{Job, reference_name};
use crate::judged::Judged;
use crate::report::cells::Marks;
use crate::report::notes::{self, NOTICED, Notes};
use crate::sheet as sheet_words;
use crate::unit::signed;
use data::{Data, Parts, Start};
use kept::Kept;
use strings::{OnPage, strings};
use voice::{Voice, against};
use wiring::{Wiring, wiring};

/// Frequencies of a curve: 80 a decade, 3 % apart.
const POINTS: usize = 241;
/// Frequencies of the table behind the chart, Hz.
const TABLE: [f64; 11] = [50.0, 100.0, 200.0, 500.0, 1e3, 2e3, 3e3, 4e3, 5e3, 7e3, 10e3];
/// How far under the highest the chart shows what sounds with the knobs at rest, dB.
const NEAR: f64 = 36.0;
/// Where the chart is read at first: index of 1 kHz nearly.
const READ: usize = 136;
/// What sounds.
const SOUND: [Head; 7] = [
    Head::words("coils in play", "coils"),
    Head::number("resonance", "kHz"),
    Head::number("height", "dB"),
    Head::number("Q", ""),
    Head::number("corner", "kHz"),
    Head::number("level re ref.", "dB"),
    Head::number("brightness", "dB"),
];
/// What a bench measures.
const BENCH: [Head; 8] = [
    Head::number("magn. hum re ref.", "dB"),
    Head::words("cancels hum", ""),
    Head::number("signal over hum re ref.", "dB"),
    Head::number("meter", "kΩ"),
    Head::number("Z out at 1 kHz", "kΩ"),
    Head::number("Z out at most", "kΩ"),
    Head::number("which is at", "kHz"),
    Head::number("noise (A)", "µV"),
];
/// Its style, after the colours of the chart.
const STYLE: &str = include_str!("../templates/page.css");
/// The script in one scope: the file's own names stay its own.
const SCRIPT: &str = concat!(
    "\"use strict\";(() => {\n",
    include_str!("../templates/data.js"),
    include_str!("../templates/chart.js"),
    include_str!("../templates/sound.js"),
    include_str!("../templates/wiring.js"),
    include_str!("../templates/page.js"),
    "})();\n"
);

/// What the page shows, made from the same positions.
#[derive(Debug)]
pub(crate) struct Made<'a> {
    /// Solves it.
    pub(crate) evaluator: &'a Evaluator<'a>,
    /// What a bench would notice.
    pub(crate) warnings: &'a [Diagnostic],
    /// What is soldered.
    pub(crate) sheet: &'a Sheet,
    /// What must show.
    pub(crate) card: &'a Card,
    /// Harmonics of its open strings, if the file says where the pickups sit.
    pub(crate) harmonics: Option<HarmonicsChart>,
    /// What the file expects.
    pub(crate) judged: &'a [Judged],
    /// Positions that are drawn as the page opens, by their indices.
    pub(crate) drawn: Vec<usize>,
}

/// A curve's line beside the chart.
struct Line<'a> {
    class: String,
    name: &'a str,
    note: String,
    value: String,
}

/// The head of a column of figures.
#[derive(Clone, Copy)]
struct Head {
    name: &'static str,
    unit: &'static str,
    class: &'static str,
}

impl Head {
    const fn number(name: &'static str, unit: &'static str) -> Self {
        Head { name, unit, class: "number" }
    }

    const fn words(name: &'static str, class: &'static str) -> Self {
        Head { name, unit: "", class }
    }
}

/// A table of figures.
struct Figures<'a> {
    id: &'static str,
    caption: &'static str,
    heads: &'static [Head],
    rows: Vec<(&'a str, &'a [String])>,
}

#[derive(Template)]
#[template(path = "page.html")]
struct Html<'a> {
    policy: String,
    style: String,
    script: &'static str,
    data: String,
    title: String,
    variant: Option<String>,
    file: String,
    version: &'static str,
    reference: &'a str,
    count: String,
    caption: String,
    chart: String,
    lines: Vec<Line<'a>>,
    read_at: String,
    points: usize,
    read: usize,
    voices: &'a [Voice],
    knobs: Vec<KnobHtml>,
    table_heads: Vec<String>,
    table: Vec<(&'a str, Vec<String>)>,
    figures: [Figures<'a>; 2],
    legend: Vec<(&'static str, String)>,
    wiring: Option<&'a Wiring>,
    warnings: Vec<String>,
    strings: Vec<OnPage>,
    strings_caption: String,
    kept: Vec<Kept>,
    kept_in_short: String,
    notes: Vec<Notes>,
    sheet: Vec<Block>,
    card: Vec<Block>,
}

struct KnobHtml {
    name: String,
    last: usize,
    rest: usize,
    setting: String,
}

/// The whole page.
///
/// # Errors
/// A position without a solution, or too many of them.
pub(crate) fn page(job: &Job, made: &Made<'_>) -> Result<String, Failure> {
    let harness = &job.file.harness;
    let evaluator = made.evaluator;
    let frequencies = logarithmic(20.0, 20e3, POINTS);
    let plateau = evaluator.reference().outlets.first().and_then(|o| o.plateau.ok());
    let zero = plateau.unwrap_or(0.0);
    let knobs = voice::knobs(job);
    let mut marks = Marks::default();
    let voices = voice::voices(job, evaluator, &knobs, &frequencies, zero, &mut marks)?;
    let reference = reference_name(evaluator.reference());
    let of_reference = evaluator.reference_curves(&frequencies, Detail::Response);
    let of_reference = of_reference.map_err(|e| job.no_solution("the reference", &e))?;
    let references: Vec<Vec<Option<f64>>> =
        of_reference.outlets.iter().map(|o| against(zero, curve::decibels(o))).collect();

    let resting = voices.iter().map(|v| &v.states[0].values).chain(&references).flatten().flatten();
    let all = voices.iter().flat_map(|v| v.states.iter().flat_map(|s| &s.values)).flatten();
    let axes =
        [Decibels::within(NEAR, resting.clone().copied()), Decibels::covering(resting.chain(all).copied())];
    let drawn: Vec<usize> =
        (0..voices.len()).filter(|v| made.drawn.contains(&voices[*v].position)).take(CURVES).collect();
    let others = drawn.iter().skip(1).copied();
    let also: Vec<usize> =
        others.filter(|v| !references.contains(&voices[*v].states[0].values)).take(2).collect();
    let chart = chart(&frequencies, &voices, &drawn, &references, &reference, caption(plateau.is_some()));
    let title = escape(harness.title.as_deref().unwrap_or(&job.file.name));
    let (svg, frames) = chart.inline("chart", &format!("Response of {title}"), axes);

    let names: Vec<String> = knobs.iter().map(|knob| escape(&harness.part(knob.pot).name)).collect();
    let wiring = wiring(job, &title);
    let data = Data::new(Parts {
        frames,
        frequencies: &frequencies,
        knobs: &knobs,
        knob_names: names.clone(),
        figures: SOUND.iter().chain(&BENCH).map(|head| [head.name, head.unit]).collect(),
        voices: &voices,
        references: &references,
        reference: &reference,
        wiring: wiring.as_ref().map(|wiring| &wiring.positions[..]).unwrap_or_default(),
        start: Start { chosen: drawn.first().copied().unwrap_or(0), also: &also },
    });
    let table = table(job, evaluator, &voices, zero)?;
    let (warned, others) =
        notes::said(&job.file, made.warnings).into_iter().partition::<Vec<_>, _>(|n| n.head == NOTICED);
    let style = properties() + STYLE + wiring.as_ref().map_or("", |wiring| &wiring.style);
    let html = Html {
        policy: seal::policy(&style, SCRIPT),
        style,
        script: SCRIPT,
        data: data.json(),
        variant: job.file.variant.as_deref().map(escape),
        file: base_name(&job.file.name),
        version: env!("CARGO_PKG_VERSION"),
        reference: &reference,
        count: match (job.positions.len(), job.is_whole) {
            (1, true) => "1 position".to_owned(),
            (n, true) => format!("{n} positions"),
            (n, false) => format!("{n} of its positions"),
        },
        caption: chart.caption.clone(),
        chart: svg,
        lines: chart.curves.iter().enumerate().map(|(i, c)| line(i, c)).collect(),
        read_at: crate::unit::significant(frequencies[READ], "Hz", 3),
        points: POINTS - 1,
        read: READ,
        voices: &voices,
        knobs: knobs
            .iter()
            .zip(names)
            .map(|(knob, name)| KnobHtml {
                name,
                last: knob.settings.len() - 1,
                rest: knob.at_rest(),
                setting: knob.rest.to_string(),
            })
            .collect(),
        table_heads: TABLE.iter().map(|f| crate::unit::as_printed(*f, "Hz")).collect(),
        table,
        figures: figures(&voices),
        legend: notes::entries(job, &marks),
        wiring: wiring.as_ref(),
        warnings: warned.into_iter().flat_map(|n| n.lines).collect(),
        strings: made.harmonics.as_ref().map(strings).unwrap_or_default(),
        strings_caption: made.harmonics.as_ref().map_or_else(String::new, |chart| chart.caption.clone()),
        kept: made.judged.iter().map(Kept::from).collect(),
        kept_in_short: in_short(made.judged),
        notes: others,
        sheet: sheet_words::page(&job.file, made.sheet).blocks,
        card: card_words::page(&job.file, made.card).blocks,
        title,
    };
    Ok(html.render().expect("writing to a string does not fail") + "\n")
}

/// What is drawn without a script: some voices at rest, and the reference.
fn chart(
    frequencies: &[f64],
    voices: &[Voice],
    drawn: &[usize],
    references: &[Vec<Option<f64>>],
    reference: &str,
    caption: String,
) -> Chart {
    let mut curves: Vec<Curve> = Vec::new();
    for voice in drawn.iter().map(|v| &voices[*v]) {
        let state = &voice.states[0];
        curves.push(Curve {
            mark: ' ',
            name: voice.name.clone(),
            note: state.note.clone(),
            reference: false,
            peak: state.peak,
            values: state.values.clone(),
            dashed: false,
        });
    }
    let Some(values) = references.first() else {
        return Chart { caption, frequencies: frequencies.to_vec(), curves, bands: Vec::new() };
    };
    // The reference among the others is one curve, not two.
    match curves.iter_mut().find(|c| c.values == *values) {
        Some(same) => {
            same.reference = true;
            same.note.push_str(", the reference");
        }
        None => curves.push(Curve {
            mark: ' ',
            name: reference.to_owned(),
            note: "the reference, at rest".to_owned(),
            reference: true,
            peak: None,
            values: values.clone(),
            dashed: true,
        }),
    }
    Chart { caption, frequencies: frequencies.to_vec(), curves, bands: Vec::new() }
}

fn line(index: usize, curve: &Curve) -> Line<'_> {
    Line {
        class: if curve.dashed { "reference".to_owned() } else { format!("c{index}") },
        name: &curve.name,
        note: curve.note.clone(),
        value: decibels(curve.values.get(READ).copied().flatten()),
    }
}

fn decibels(value: Option<f64>) -> String {
    value.map_or_else(|| "silent".to_owned(), |db| format!("{} dB", signed(db, 1)))
}

/// The table behind the chart: every voice at rest.
fn table<'v>(
    job: &Job,
    evaluator: &Evaluator<'_>,
    voices: &'v [Voice],
    zero: f64,
) -> Result<Vec<(&'v str, Vec<String>)>, Failure> {
    let curves = curve::curves(job, evaluator, &job.positions, &TABLE, Detail::Response)?;
    let row = |voice: &'v Voice| {
        let values = curve::decibels(&curves[voice.position].outlets[voice.outlet]);
        let cell = |v: Option<f64>| v.map_or_else(|| "silent".to_owned(), |db| signed(db, 1));
        (voice.name.as_str(), against(zero, values).into_iter().map(cell).collect())
    };
    Ok(voices.iter().map(row).collect())
}

fn figures(voices: &[Voice]) -> [Figures<'_>; 2] {
    let rows =
        |cells: fn(&Voice) -> &[String]| voices.iter().map(|v| (v.marked.as_str(), cells(v))).collect();
    [
        Figures { id: "sounding", caption: "What sounds", heads: &SOUND, rows: rows(|v| &v.states[0].sound) },
        Figures {
            id: "measured",
            caption: "What a bench measures",
            heads: &BENCH,
            rows: rows(|v| &v.states[0].bench),
        },
    ]
}

/// How many expectations hold.
fn in_short(judged: &[Judged]) -> String {
    let fail = judged.iter().filter(|judged| !judged.holds).count();
    match (judged.len(), fail) {
        (1, 0) => "It holds.".to_owned(),
        (n, 0) => format!("All {n} hold."),
        (n, fail) => format!("{fail} of {n} {}.", if fail == 1 { "fails" } else { "fail" }),
    }
}

/// The file without its folders: those are nobody's business.
fn base_name(path: &str) -> String {
    let name = std::path::Path::new(path).file_name().map(|name| name.to_string_lossy().into_owned());
    escape(name.as_deref().unwrap_or(path))
}
