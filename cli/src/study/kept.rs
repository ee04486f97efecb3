//! A study in a file: JSON, one figure a line, whole numbers only where builds are counted, so that it is the same bytes however the builds
//! were split.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use pickup_dsl::study::{Ends, Seen, Sums, Yield};
use serde::{Deserialize, Serialize};

use super::{Counted, Head};

const SCHEMA: &str = "coilwright kept study";
const VERSION: u32 = 1;

/// Why a text is no kept study.
#[derive(Debug, thiserror::Error)]
pub(crate) enum NoStudy {
    /// It is no JSON of this structure.
    #[error("{0}")]
    Json(#[from] serde_json::Error),
    /// It is another document, or of another version.
    #[error("it is not a `{SCHEMA}` of version {VERSION}")]
    Other,
    /// Its lists do not go together.
    #[error("its parts do not fit each other")]
    Unfit,
}

#[derive(Serialize, Deserialize)]
struct Kept {
    schema: String,
    schema_version: u32,
    head: Head,
    builds: Vec<(u64, u64)>,
    counted: Vec<SeenJson>,
    expected: Vec<YieldJson>,
}

/// Sums are texts: no reader's numbers hold them.
#[derive(Serialize, Deserialize)]
struct SeenJson {
    without: u64,
    sum: String,
    square: String,
    low: Option<(i64, u64)>,
    high: Option<(i64, u64)>,
    against: Vec<[String; 3]>,
    bins: Vec<(i64, u64)>,
}

#[derive(Serialize, Deserialize)]
struct YieldJson {
    holds: u64,
    worst: Option<(i64, u64)>,
    fails: Option<u64>,
}

/// The text of a study.
pub(crate) fn written(counted: &Counted) -> Result<String, serde_json::Error> {
    let Counted { head, tally } = counted;
    let mut out = format!("{{\n\"schema\": \"{SCHEMA}\",\n\"schema_version\": {VERSION},\n\"head\": ");
    out.push_str(&serde_json::to_string(head)?);
    let _ = write!(out, ",\n\"builds\": {},\n\"counted\": [\n", serde_json::to_string(&tally.ranges)?);
    let lines: Vec<String> =
        tally.figures.iter().map(|seen| serde_json::to_string(&seen_json(seen))).collect::<Result<_, _>>()?;
    out.push_str(&lines.join(",\n"));
    out.push_str("\n],\n\"expected\": [\n");
    let lines: Vec<String> = tally
        .yields
        .iter()
        .map(|y| serde_json::to_string(&YieldJson { holds: y.holds, worst: y.worst, fails: y.fails }))
        .collect::<Result<_, _>>()?;
    out.push_str(&lines.join(",\n"));
    out.push_str("\n]\n}\n");
    Ok(out)
}

fn seen_json(seen: &Seen) -> SeenJson {
    SeenJson {
        without: seen.without,
        sum: seen.sum.to_string(),
        square: seen.square.to_string(),
        low: seen.ends.map(|ends| ends.low),
        high: seen.ends.map(|ends| ends.high),
        against: seen.against.iter().map(|s| [s.x, s.xx, s.xy].map(|sum| sum.to_string())).collect(),
        bins: seen.bins.iter().map(|(bin, n)| (*bin, *n)).collect(),
    }
}

/// Reads a study back.
///
/// # Errors
/// [`NoStudy`].
pub(crate) fn read(text: &str) -> Result<Counted, NoStudy> {
    let kept: Kept = serde_json::from_str(text)?;
    if kept.schema != SCHEMA || kept.schema_version != VERSION {
        return Err(NoStudy::Other);
    }
    let mut tally = kept.head.tally().ok_or(NoStudy::Unfit)?;
    let parameters = kept.head.parts.len();
    let rising = kept.builds.windows(2).all(|pair| pair[0].1 < pair[1].0);
    let fits = rising
        && kept.builds.iter().all(|(from, to)| from < to && *to <= kept.head.samples)
        && kept.counted.len() == tally.figures.len()
        && kept.expected.len() == tally.yields.len()
        && kept.head.figures.iter().all(|figure| figure.position < kept.head.positions.len())
        && kept.counted.iter().all(|seen| seen.against.len() == parameters);
    if !fits {
        return Err(NoStudy::Unfit);
    }
    tally.ranges = kept.builds;
    tally.figures = kept.counted.into_iter().map(seen).collect::<Option<_>>().ok_or(NoStudy::Unfit)?;
    let counts = |seen: &Seen| seen.bins.values().try_fold(seen.without, |sum, n| sum.checked_add(*n));
    if tally.figures.iter().any(|seen| counts(seen) != Some(tally.count())) {
        return Err(NoStudy::Unfit);
    }
    tally.yields =
        kept.expected.into_iter().map(|y| Yield { holds: y.holds, worst: y.worst, fails: y.fails }).collect();
    Ok(Counted { head: kept.head, tally })
}

fn seen(kept: SeenJson) -> Option<Seen> {
    // Sums of at most 10⁹ builds of figures in at most 10¹⁵ steps stay far below this; more would overflow when merged.
    let sum = |text: &str| text.parse::<i128>().ok().filter(|sum| sum.unsigned_abs() < 1 << 120);
    let against = |[x, xx, xy]: &[String; 3]| Some(Sums { x: sum(x)?, xx: sum(xx)?, xy: sum(xy)? });
    let ends = match (kept.low, kept.high) {
        (Some(low), Some(high)) => Some(Ends { low, high }),
        (None, None) => None,
        _ => return None,
    };
    let bins: BTreeMap<i64, u64> = kept.bins.into_iter().collect();
    (bins.is_empty() == ends.is_none()).then_some(())?;
    Some(Seen {
        without: kept.without,
        bins,
        sum: sum(&kept.sum)?,
        square: sum(&kept.square)?,
        against: kept.against.iter().map(against).collect::<Option<_>>()?,
        ends,
    })
}
