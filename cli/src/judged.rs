//! What `check` finds of one file, as data: messages, expectations judged, changes since a record.

use std::path::{Path, PathBuf};

use pickup_dsl::diagnostic::{Diagnostic, escape};
use pickup_dsl::evaluate::Evaluator;
use pickup_dsl::expect::{Found, Judge, Verdict, diagnose, distance, place, said};
use pickup_dsl::figures::PositionFigures;
use pickup_dsl::harness::{Builds, Expectation};
use pickup_dsl::network::Knobs;
use pickup_dsl::positions::{Position, Wanted};
use pickup_dsl::source::{Sources, Span};
use pickup_dsl::study::{SAMPLES, TOGETHER, diagnose_share, diagnose_worst, of_one, worst};
use rayon::prelude::{ParallelIterator, ParallelSlice};

use crate::exit::{Exit, Failure};
use crate::job::{self, File, Job, called, not_compiled, shown_name};
use crate::record::{Record, differences, record};

/// One file.
#[derive(Debug)]
pub(crate) struct Looked {
    /// As given on the command line.
    pub(crate) name: String,
    /// All texts read; none if the file can't be.
    pub(crate) sources: Sources,
    /// Errors, if it does not compile; else warnings.
    pub(crate) found: Vec<Diagnostic>,
    /// Its expectations, and those of its variants.
    pub(crate) judged: Vec<Judged>,
    /// Since the record: the position as a person calls it, and what is to be said.
    pub(crate) changes: Vec<(String, String)>,
    /// Where its texts were read, if it compiles.
    pub(crate) read: Vec<PathBuf>,
    /// Why nothing more could be looked at.
    pub(crate) failure: Option<Failure>,
}

/// One expectation of a file or of a variant.
#[derive(Debug)]
pub(crate) struct Judged {
    /// The variant.
    pub(crate) variant: Option<String>,
    /// What is expected.
    pub(crate) expectation: Expectation,
    /// What was found, position by position; of every build: in the worst.
    pub(crate) verdicts: Vec<Verdict>,
    /// Where each of them is, in words.
    pub(crate) places: Vec<String>,
    /// Builds in which it holds, and how many were drawn.
    pub(crate) share: Option<(u64, u64)>,
    /// Whether it holds.
    pub(crate) holds: bool,
    /// What is said if it does not.
    pub(crate) message: Option<Diagnostic>,
}

impl Judged {
    /// The verdict that holds least, with its place.
    pub(crate) fn tightest(&self) -> Option<(&Verdict, &str)> {
        let depth = |verdict: &Verdict| match verdict.found {
            _ if verdict.holds != self.holds && self.share.is_none() => f64::INFINITY,
            Found::Number { margin: Some(margin), .. } => margin,
            _ => f64::MAX,
        };
        let all = self.verdicts.iter().zip(self.places.iter().map(String::as_str));
        all.min_by(|a, b| depth(a.0).total_cmp(&depth(b.0)))
    }

    /// What was found, in one line: `−6.02 dB in "Split"`.
    pub(crate) fn summary(&self) -> String {
        if let Some((holds, of)) = self.share {
            return format!("{holds} of {of} builds");
        }
        let Some((verdict, place)) = self.tightest() else { return "no neighbours".to_owned() };
        let found = said(&self.expectation.claim, &verdict.found, verdict.holds);
        let (found, more) = match (&verdict.found, self.verdicts.len()) {
            // Words of one position say nothing of the others.
            (Found::Words(_), n) if n > 1 && self.holds => return format!("in all {n}"),
            (Found::Number { margin: Some(margin), .. }, n) if verdict.holds => {
                let more = if n > 1 { format!(", the nearest of {n}") } else { String::new() };
                (format!("{found}, {} to spare,", distance(&self.expectation.claim, *margin)), more)
            }
            (_, 1) => (found, String::new()),
            (_, n) => (found, format!(", the worst of {n}")),
        };
        let worst = if self.expectation.builds == Builds::Every { "at worst " } else { "" };
        format!("{worst}{found} {place}{more}")
    }

    /// The place where it is said.
    pub(crate) fn span(&self) -> Span {
        self.expectation.span
    }
}

impl Looked {
    /// How the file ends.
    pub(crate) fn exit(&self, strict: bool) -> Exit {
        let failed = self.judged.iter().any(|judged| !judged.holds) || !self.changes.is_empty();
        match self.failure {
            Some(_) => Exit::Bad,
            None if failed || (strict && !self.found.is_empty()) => Exit::CheckFailed,
            None => Exit::Good,
        }
    }
}

/// Looks at a file with all of its variants.
pub(crate) fn look(path: &Path, against: Option<&Record>, loosen: f64) -> Looked {
    let name = path.display().to_string();
    let nothing = |sources, found, failure| Looked {
        name: name.clone(),
        sources,
        found,
        judged: Vec::new(),
        changes: Vec::new(),
        read: Vec::new(),
        failure: Some(failure),
    };
    let file = match job::opened(path) {
        Ok(Ok(file)) => file,
        Ok(Err(compiled)) => {
            let failure = not_compiled(&name, &compiled.diagnostics);
            return nothing(compiled.sources, compiled.diagnostics, failure);
        }
        Err(failure) => return nothing(Sources::default(), Vec::new(), failure),
    };
    let sources = file.sources.clone();
    let mut looked = Looked {
        name: name.clone(),
        sources,
        found: Vec::new(),
        judged: Vec::new(),
        changes: Vec::new(),
        read: file.read.clone(),
        failure: None,
    };
    if let Err(failure) = fill(&mut looked, file, against, loosen) {
        looked.failure = Some(failure);
    }
    looked
}

fn fill(looked: &mut Looked, file: File, against: Option<&Record>, loosen: f64) -> Result<(), Failure> {
    let job = Job::of(file, Wanted::default())?;
    guitar(looked, &job, against.map(|record| (record, loosen)))?;
    for variant in &job.file.variants {
        let varied = Job::of(job.file.with_variant(&variant.name)?, Wanted::default())?;
        guitar(looked, &varied, None)?;
    }
    Ok(())
}

/// The guitar, or a variant: of this only what is not said of the guitar already.
fn guitar(looked: &mut Looked, job: &Job, against: Option<(&Record, f64)>) -> Result<(), Failure> {
    let evaluator = job.evaluator()?;
    let figures = job.figures(&evaluator)?;
    let note = job.file.variant.as_ref().map(|name| format!("in the variant `{}`", escape(name)));
    for warning in job.warnings(&evaluator, &figures)? {
        match &note {
            None => looked.found.push(warning),
            Some(_) if looked.found.contains(&warning) => {}
            Some(note) => looked.found.push(warning.note(note.clone())),
        }
    }
    for mut judged in expectations(job, &evaluator, &figures)? {
        if let Some(note) = &note {
            judged.message = judged.message.map(|message| message.note(note.clone()));
        }
        looked.judged.push(judged);
    }
    if let Some((before, loosen)) = against {
        let name = |key: &str| match job.positions.iter().find(|position| position.key == key) {
            Some(position) => shown_name(position),
            None => called(None, key),
        };
        let all = differences(before, &record(job, &evaluator, &figures)?, loosen);
        looked.changes = all.into_iter().map(|change| (name(&change.position), change.text)).collect();
    }
    Ok(())
}

/// What a guitar, or a variant, expects, judged on all of its positions, whose figures are given.
///
/// # Errors
/// A position, or a build, that can't be solved.
pub(crate) fn expectations(
    job: &Job,
    evaluator: &Evaluator<'_>,
    figures: &[PositionFigures],
) -> Result<Vec<Judged>, Failure> {
    let harness = &job.file.harness;
    let failed = |e| job.no_solution("an expectation", &e);
    let solve = |p: &Position, k: &Knobs| evaluator.figures(p, k);
    let mut judge = Judge::new(evaluator, &job.positions, &solve).knowing(figures);
    let mut all = Vec::new();
    for (index, expectation) in harness.expectations.iter().enumerate() {
        let mut verdicts = judge.verdicts(index).map_err(failed)?;
        let mut share = None;
        let message = match expectation.builds {
            Builds::Nominal => diagnose(harness, expectation, &verdicts),
            Builds::Share(wanted) => {
                let study = of_one(harness, &job.network, index, &job.positions).map_err(failed)?;
                let numbers: Vec<u64> = (0..SAMPLES).collect();
                let samples: Vec<_> = numbers.par_chunks(TOGETHER).map(|some| study.samples(some)).collect();
                let mut tally = study.tally();
                for (_, sample) in samples.into_iter().flatten() {
                    tally.add(&sample.map_err(failed)?);
                }
                let counted = tally.yields[0];
                share = Some((counted.holds, SAMPLES));
                let worst = counted.worst.map(|(_, sample)| (sample, counted.margin()));
                let worst = worst.or(counted.fails.map(|sample| (sample, None)));
                diagnose_share(expectation, (counted.holds, SAMPLES, wanted), worst)
            }
            Builds::Every => {
                let found = worst(harness, &job.network, index, &job.positions).map_err(failed)?;
                verdicts = found.verdicts.clone();
                diagnose_worst(harness, index, &found)
            }
        };
        all.push(Judged {
            variant: job.file.variant.clone(),
            expectation: expectation.clone(),
            places: verdicts.iter().map(|v| place(harness, v)).collect(),
            holds: message.is_none(),
            verdicts,
            share,
            message,
        });
    }
    Ok(all)
}

/// The files that the arguments mean: each as it is, or where there is none of that name, all that its pattern fits, in order of names.
///
/// # Errors
/// A pattern that can't be read, or that fits nothing.
pub(crate) fn files(given: &[PathBuf]) -> Result<Vec<PathBuf>, Failure> {
    let mut all = Vec::new();
    for path in given {
        let text = path.to_str().filter(|text| text.contains(['*', '?', '[']) && !path.exists());
        let Some(pattern) = text else {
            all.push(path.clone());
            continue;
        };
        let shown = escape(pattern);
        let found = glob::glob(pattern)
            .map_err(|e| Failure::usage(format!("`{shown}` is no pattern of names: {}", e.msg)))?;
        let before = all.len();
        all.extend(found.filter_map(Result::ok));
        if all.len() == before {
            return Err(Failure::usage(format!("no file fits `{shown}`")));
        }
    }
    Ok(all)
}
