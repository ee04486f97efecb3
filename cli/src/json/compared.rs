//! Two files compared, as JSON.

use pickup_dsl::sameness::{Figure, JointDifference, Turned, Verdict};
use serde::Serialize;

use super::{Head, write};
use crate::exit::Failure;
use crate::job::{File, Job};
use crate::output::Sink;

#[derive(Serialize)]
struct Compared<'a> {
    #[serde(flatten)]
    head: Head<'a>,
    compared_with: &'a str,
    same: bool,
    positions: Vec<PositionJson<'a>>,
    joints: Vec<JointJson<'a>>,
}

#[derive(Serialize)]
struct PositionJson<'a> {
    key: &'a str,
    name: Option<&'a str>,
    #[serde(flatten)]
    verdict: VerdictJson<'a>,
}

#[derive(Serialize)]
#[serde(tag = "verdict", rename_all = "snake_case")]
enum VerdictJson<'a> {
    Same {
        error: f64,
        any_values: bool,
    },
    Different {
        outlet: Option<&'a str>,
        figure: &'static str,
        coil: Option<&'a str>,
        knobs: &'static str,
        only_other_values: bool,
    },
    Undecided,
}

#[derive(Serialize)]
struct JointJson<'a> {
    joined_in: &'a str,
    apart: &'a [Vec<String>],
}

/// Writes the document.
///
/// # Errors
/// If it can't be written.
pub(crate) fn compared(
    sink: &mut Sink,
    first: &Job,
    second: &File,
    verdicts: &[Verdict],
    joints: &[JointDifference],
) -> Result<(), Failure> {
    let document = Compared {
        head: Head::new("coilwright comparison", &first.file),
        compared_with: &second.name,
        same: verdicts.iter().all(|verdict| matches!(verdict, Verdict::Same { .. })),
        positions: first
            .positions
            .iter()
            .zip(verdicts)
            .map(|(position, verdict)| PositionJson {
                key: &position.key,
                name: position.name.as_deref(),
                verdict: verdict_json(verdict),
            })
            .collect(),
        joints: joints
            .iter()
            .map(|joint| JointJson {
                joined_in: if joint.joined_in_first { &first.file.name } else { &second.name },
                apart: &joint.apart,
            })
            .collect(),
    };
    write(sink, &document, true)
}

fn verdict_json(verdict: &Verdict) -> VerdictJson<'_> {
    match verdict {
        Verdict::Same { error, any_values } => VerdictJson::Same { error: *error, any_values: *any_values },
        Verdict::Different { outlet, figure, knobs, only_other_values } => {
            let (figure, coil) = match figure {
                Figure::Coil(name) => ("coil", Some(name.as_str())),
                Figure::Impedance => ("impedance", None),
                Figure::Meter => ("meter", None),
            };
            let knobs = match knobs {
                Turned::Zero => "0",
                Turned::Ten => "10",
                Turned::Between => "between",
            };
            VerdictJson::Different {
                outlet: outlet.as_deref(),
                figure,
                coil,
                knobs,
                only_other_values: *only_other_values,
            }
        }
        Verdict::Undecided => VerdictJson::Undecided,
    }
}
