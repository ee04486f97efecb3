//! Where the curves of many builds lie.

use pickup_dsl::evaluate::{Detail, Evaluator, FigureError};
use pickup_dsl::network::Network;
use pickup_dsl::study::{SEED, Study};
use rayon::prelude::{IntoParallelIterator, ParallelIterator};

use super::State;
use crate::chart::Band;
use crate::curve;
use crate::exit::Failure;
use crate::job::Job;

/// Share of the builds below a band, and above it.
const OUTSIDE: f64 = 0.05;

/// Curves of one build: dB over its own reference at 100 Hz, for each state and outlet.
type Build = Vec<Vec<Option<f64>>>;

/// The band of each state at each outlet, in the chart's order: between the twentieth of the builds that are lowest and that of the highest,
/// each build against its own reference at 100 Hz. None where a build is silent.
pub(super) fn bands(
    job: &Job,
    states: &[State],
    frequencies: &[f64],
    builds: u64,
) -> Result<Vec<Band>, Failure> {
    let study = Study::new(&job.file.harness, &job.network, &[], SEED)
        .map_err(|e| job.no_solution("the reference", &e))?;
    let drawn: Vec<Result<Build, FigureError>> =
        (0..builds).into_par_iter().map(|number| build(&study, number, states, frequencies)).collect();
    let drawn: Vec<Build> =
        drawn.into_iter().collect::<Result<_, _>>().map_err(|e| job.no_solution("a build", &e))?;
    let curves = drawn.first().map_or(0, Vec::len);
    let band = |curve: usize| -> Band {
        (0..frequencies.len())
            .map(|i| {
                let mut values: Vec<f64> =
                    drawn.iter().map(|build| build[curve][i]).collect::<Option<_>>()?;
                values.sort_by(f64::total_cmp);
                let skipped = (OUTSIDE * values.len() as f64) as usize;
                Some((values[skipped], values[values.len() - 1 - skipped]))
            })
            .collect()
    };
    Ok((0..curves).map(band).collect())
}

fn build(study: &Study, number: u64, states: &[State], frequencies: &[f64]) -> Result<Build, FigureError> {
    let (_, guitar) = study.guitar(number);
    let network = Network::of(&guitar)?;
    let evaluator = Evaluator::new(&guitar, &network)?;
    let plateau = evaluator.reference().outlets.first().and_then(|o| o.plateau.ok()).unwrap_or(0.0);
    let mut all = Vec::new();
    for state in states {
        let curves = evaluator.curves(&state.position, &state.knobs, frequencies, Detail::Response)?;
        for outlet in &curves.outlets {
            all.push(curve::decibels(outlet).into_iter().map(|v| v.map(|v| v - plateau)).collect());
        }
    }
    Ok(all)
}
