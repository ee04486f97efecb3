//! `study`: many guitars built from one file.

use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use pickup_dsl::diagnostic::escape;
use pickup_dsl::evaluate::FigureError;
use pickup_dsl::network::Knobs;
use pickup_dsl::positions::Wanted;
use pickup_dsl::study::{Sample, Study, TOGETHER, Tally};
use rayon::prelude::{ParallelIterator, ParallelSlice};

use crate::args::{StudyArgs, Target};
use crate::exit::{Exit, Failure};
use crate::input::kept_text;
use crate::job::{self, File, Job, position_named};
use crate::output::{self, Sink};
use crate::report::Reported;
use crate::study::{Counted, Head, build, read, report as page, written};
use crate::{json, report};

/// Builds that are drawn before anything is saved or said.
const BLOCK: u64 = 512;
/// How often what is done is saved.
const SAVE: Duration = Duration::from_secs(1);

/// Runs it.
///
/// # Errors
/// See [`Failure`].
pub(crate) fn run(args: &StudyArgs) -> Result<Exit, Failure> {
    if !args.merge.is_empty() {
        let counted = merged(&args.merge)?;
        let sink = Sink::open(&args.form.target, &args.merge)?;
        return show(sink, args, &counted);
    }
    let Some(path) = &args.file else { return Err(Failure::usage("a harness file is missing")) };
    let mut file = job::open(path)?;
    if let Some(variant) = &args.variant {
        file = file.with_variant(variant)?;
    }
    let mut job = Job::of(file, Wanted::default())?;
    if !args.position.is_empty() {
        let named = args.position.iter().map(|name| position_named(&job.file.harness, name));
        job.positions = named.collect::<Result<_, _>>()?;
        job.positions.dedup();
        job.is_whole = false;
    }
    let study = Study::new(&job.file.harness, &job.network, &job.positions, args.seed)
        .map_err(|e| job.no_solution("the guitar as the file has it", &e))?;
    if let Some(number) = args.sample {
        return one(args, &job, &study, number);
    }
    let sink = Sink::open(&args.form.target, &job.file.read)?;
    let head = Head::of(&job, &study, args.seed, args.samples);
    let mut counted = match &args.keep {
        Some(path) => resumed(path, head)?,
        None => Counted { tally: study.tally(), head },
    };
    let range = match args.shard {
        // Products of two 64-bit numbers, divided.
        Some((k, n)) => {
            let part = |k: u64| (u128::from(args.samples) * u128::from(k) / u128::from(n)) as u64;
            part(k - 1)..part(k)
        }
        None => 0..args.samples,
    };
    draw(args, &job, &study, range, &mut counted)?;
    show(sink, args, &counted)
}

/// Draws the builds of a range that are not in yet.
fn draw(
    args: &StudyArgs,
    job: &Job,
    study: &Study,
    range: std::ops::Range<u64>,
    counted: &mut Counted,
) -> Result<(), Failure> {
    let loud = output::is_watched();
    let mut saved = Instant::now();
    // Builds below `from` are drawn, and those of `drawn` are still to be counted: one block is counted while the next is drawn.
    let mut from = range.start;
    let mut drawn: Vec<Drawn> = Vec::new();
    loop {
        let to = range.end.min(from.saturating_add(BLOCK));
        let missing: Vec<u64> = (from..to).filter(|number| !counted.tally.has(*number)).collect();
        let tally = &mut counted.tally;
        let (added, next) = rayon::join(
            || add(tally, drawn),
            || missing.par_chunks(TOGETHER).flat_map_iter(|numbers| study.samples(numbers)).collect(),
        );
        added.map_err(|(number, e)| job.no_solution(&format!("build {number}"), &e))?;
        if from > range.start && (saved.elapsed() >= SAVE || from == range.end) {
            if let Some(path) = &args.keep {
                save(path, counted)?;
            }
            if loud {
                let end = if from == range.end { "\n" } else { "" };
                output::say(&format!("\r{} of {} builds{end}", from - range.start, range.end - range.start));
            }
            saved = Instant::now();
        }
        if from == range.end {
            return Ok(());
        }
        (from, drawn) = (to, next);
    }
}

/// A build, or why it can't be solved.
type Drawn = (u64, Result<Sample, FigureError>);

/// Counts builds, up to one that can't be solved.
fn add(tally: &mut Tally, drawn: Vec<Drawn>) -> Result<(), (u64, FigureError)> {
    for (number, sample) in drawn {
        tally.add(&sample.map_err(|e| (number, e))?);
    }
    Ok(())
}

fn show(mut sink: Sink, args: &StudyArgs, counted: &Counted) -> Result<Exit, Failure> {
    if args.form.json {
        json::study(&mut sink, counted)?;
    } else {
        sink.text(&page(counted))?;
    }
    sink.close()?;
    Ok(Exit::Good)
}

/// One build: its parts, and its report.
fn one(args: &StudyArgs, job: &Job, study: &Study, number: u64) -> Result<Exit, Failure> {
    let mut sink = Sink::open(&args.form.target, &job.file.read)?;
    let (deviations, lean) = study.guitar(number);
    // The words of the file come with it.
    let harness = pickup_dsl::harness::Harness {
        assumptions: job.file.harness.assumptions.clone(),
        derived: job.file.harness.derived.clone(),
        short_forms: job.file.harness.short_forms.clone(),
        ..lean
    };
    let file = File { harness, variants: Vec::new(), warnings: Vec::new(), ..job.file.clone() };
    let network = job::network(&file)?;
    let built =
        Job { file, network, positions: job.positions.clone(), knobs: Knobs::default(), is_whole: false };
    let evaluator = built.evaluator()?;
    let figures = built.figures(&evaluator)?;
    let reported = Reported { job: &built, evaluator, figures, warnings: Vec::new() };
    if args.form.json {
        json::report(&mut sink, &reported, &[], None, &[])?;
    } else {
        sink.text(&build(number, args.seed, study.parameters(), &deviations))?;
        sink.text("\n")?;
        sink.text(&report::text(&reported, true))?;
    }
    sink.close()?;
    Ok(Exit::Good)
}

/// What was kept of the same study, or nothing yet.
fn resumed(path: &Path, head: Head) -> Result<Counted, Failure> {
    if !path.exists() {
        let tally = head.tally().ok_or_else(|| Failure::usage("a figure without its word"))?;
        // What can't be saved is told before anything is drawn.
        let counted = Counted { head, tally };
        save(path, &counted)?;
        return Ok(counted);
    }
    let kept = kept(path)?;
    match kept.head.differs(&head) {
        None => Ok(kept),
        Some(what) => Err(Failure::usage_with(
            format!("`{}` is kept of another study: it has another {what}", shown(path)),
            "name another file after `--keep`, or move that one away",
        )),
    }
}

fn save(path: &Path, counted: &Counted) -> Result<(), Failure> {
    let text = written(counted).map_err(|e| Failure::usage(format!("the study can't be written: {e}")))?;
    let mut sink = Sink::open(&Target { output: Some(path.to_owned()), overwrite: path.exists() }, &[])?;
    sink.raw(&text)?;
    sink.close()
}

fn kept(path: &Path) -> Result<Counted, Failure> {
    read(&kept_text(path)?).map_err(|e| {
        Failure::usage_with(
            format!("`{}` is no kept study: {e}", shown(path)),
            "`coilwright study FILE --keep PATH` makes one",
        )
    })
}

fn merged(paths: &[PathBuf]) -> Result<Counted, Failure> {
    let mut all: Option<Counted> = None;
    for path in paths {
        let part = kept(path)?;
        let Some(whole) = &mut all else {
            all = Some(part);
            continue;
        };
        if let Some(what) = whole.head.differs(&part.head) {
            return Err(Failure::usage(format!(
                "`{}` is no part of the study of `{}`: it has another {what}",
                shown(path),
                shown(&paths[0])
            )));
        }
        whole.tally.merge(&part.tally).map_err(|e| {
            Failure::usage(format!("`{}` can't be merged with those before it: {e}", shown(path)))
        })?;
    }
    all.ok_or_else(|| Failure::usage("nothing to merge"))
}

fn shown(path: &Path) -> String {
    escape(&path.display().to_string())
}
