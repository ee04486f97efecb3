//! Two files compared, as text.

use pickup_dsl::diagnostic::escape;
use pickup_dsl::sameness::{Figure, JointDifference, Turned, Verdict};

use crate::job::{File, Job, shown_name};
use crate::output::{STRONG, styled};
use crate::report::WIDTH;
use crate::table::{Column, Table, paragraph};

/// The whole text.
#[must_use]
pub(crate) fn text(first: &Job, second: &File, verdicts: &[Verdict], joints: &[JointDifference]) -> String {
    let same = verdicts.iter().filter(|verdict| matches!(verdict, Verdict::Same { .. })).count();
    let [one, other] = [&first.file.name, &second.name].map(|name| escape(name));
    let mut out = paragraph("", &format!("{one} and {other}"), 0, WIDTH);
    let conclusion = if same == verdicts.len() {
        format!("{}: the same guitar", positions(same))
    } else {
        format!("{}, {} of them different", positions(verdicts.len()), verdicts.len() - same)
    };
    out.push_str(&format!("{}\n\n", styled(STRONG, &conclusion)));
    let mut table = Table::new(vec![Column::words("position", 30), Column::words("", 60)]);
    for (position, verdict) in first.positions.iter().zip(verdicts) {
        table.row(vec![shown_name(position), said(verdict)]);
    }
    out.push_str(&table.text(|line| styled(STRONG, line)));
    if !joints.is_empty() {
        out.push_str(&format!("\n{}\n", styled(STRONG, "Joints of one file that are apart in the other")));
        for joint in joints {
            let name = if joint.joined_in_first { &one } else { &other };
            let apart: Vec<String> = joint.apart.iter().map(|lugs| escape(&lugs.join(", "))).collect();
            out.push_str(&paragraph("  -", &format!("{name} joins  {}", apart.join("  with  ")), 4, WIDTH));
        }
    }
    let error = verdicts.iter().fold(0.0, |sum, verdict| match verdict {
        Verdict::Same { error, .. } => sum + error,
        _ => sum,
    });
    if same > 0 {
        let proof = format!(
            "'the same' is proven for every frequency, knobs at 0, at 10 and in between, by exact arithmetic; the chance that any of it is \
             wrong is under {error:.0e}"
        );
        out.push_str(&format!("\n{}", paragraph("  ", &proof, 2, WIDTH)));
    }
    out
}

fn positions(count: usize) -> String {
    if count == 1 { "1 position".to_owned() } else { format!("{count} positions") }
}

fn said(verdict: &Verdict) -> String {
    match verdict {
        Verdict::Same { any_values: true, .. } => "the same, whatever the values of the parts".to_owned(),
        Verdict::Same { any_values: false, .. } => {
            "the same at the values of the files (parts have other names, so other values were not tried)"
                .to_owned()
        }
        Verdict::Different { outlet, figure, knobs, only_other_values } => {
            let what = match figure {
                Figure::Coil(name) => format!("what `{}` sends to the amp", escape(name)),
                Figure::Impedance => "the impedance at the jack".to_owned(),
                Figure::Meter => "the meter's reading".to_owned(),
            };
            let outlet =
                outlet.as_ref().map_or(String::new(), |outlet| format!(" at the {}", escape(outlet)));
            let knobs = match knobs {
                Turned::Zero => "knobs at 0",
                Turned::Ten => "knobs at 10",
                Turned::Between => "knobs in between",
            };
            let only = if *only_other_values { "; not at these values, but at others" } else { "" };
            format!("different: {what}{outlet}, {knobs}{only}")
        }
        Verdict::Undecided => "not decided: something is left open that would have to be compared".to_owned(),
    }
}
