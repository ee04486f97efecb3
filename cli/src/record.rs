//! A record of all figures and curves of a guitar: one line each, sorted, to be kept beside the harness and compared later.
//!
//! `POSITION / WHERE / FIGURE : VALUE`. Numbers have six significant digits and one unit for ever, so that a difference of two records is a
//! difference of guitars. Positions are keys: a new name is not a new sound.

mod difference;
mod rows;

use std::collections::BTreeMap;

use pickup_dsl::evaluate::{Detail, Evaluator};
use pickup_dsl::figures::{Figure, PositionFigures, Why, words};

use crate::curve;
use crate::exit::Failure;
use crate::float::pow;
use crate::job::Job;

pub(crate) use difference::differences;
use rows::{AT_OUTLETS, CURVE, Kind};

/// First line of a record: what it is, and the version of its layout.
const HEAD: &str = "coilwright record 1";
/// Curves are kept at a thousand hertz times ten to a tenth of these: third octaves of the audio band.
const BANDS: std::ops::RangeInclusive<i32> = -17..=13;

/// How the name of a curve's point starts.
const CURVE_AT: &str = "curve at ";

/// Where a figure stands: position, outlet or pair of lugs, name.
pub(crate) type Key = [String; 3];

/// A record: values as they are written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Record {
    /// Program and version of the language, and the guitar's title.
    pub(crate) made: Vec<String>,
    /// In order of their keys.
    pub(crate) lines: BTreeMap<Key, String>,
}

/// Why a text is no record.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub(crate) enum NoRecord {
    /// The first line is another.
    #[error("its first line is not `{HEAD}`")]
    Head,
    /// A line that can't be read.
    #[error("line {0} is not `POSITION / WHERE / FIGURE : VALUE`")]
    Line(usize),
}

/// The record of all positions of a job, knobs at rest.
///
/// # Errors
/// A position that can't be solved.
pub(crate) fn record(
    job: &Job,
    evaluator: &Evaluator<'_>,
    figures: &[PositionFigures],
) -> Result<Record, Failure> {
    let frequencies: Vec<f64> = BANDS.map(|n| 1000.0 * pow(10.0, f64::from(n) / 10.0)).collect();
    let curves = curve::curves(job, evaluator, &job.positions, &frequencies, Detail::Response)?;
    let harness = &job.file.harness;
    let mut lines = BTreeMap::new();
    for (figures, curves) in figures.iter().zip(&curves) {
        let mut put = |place: &str, name: &str, value: String| {
            lines.insert([figures.key.clone(), place.to_owned(), name.to_owned()], value);
        };
        for (outlet, nodes) in figures.outlets.iter().zip(&harness.outlets) {
            let place = &harness.lugs[nodes.hot.0 as usize].name;
            put(place, "coils in play", words::words(outlet));
            for row in AT_OUTLETS {
                put(place, row.name, written((row.of)(outlet), row.kind));
            }
        }
        for (outlet, nodes) in curves.outlets.iter().zip(&harness.outlets) {
            let place = &harness.lugs[nodes.hot.0 as usize].name;
            for (i, f) in frequencies.iter().enumerate() {
                let value = curve::point(outlet, i).map(|(db, _)| db).ok_or(Why::Silent);
                // Five digits before the point: names sort by frequency.
                put(place, &format!("{CURVE_AT}{f:08.2} Hz"), written(value, CURVE));
            }
        }
        for meter in &figures.meter {
            let place = meter.across.words();
            put(place, "meter at rest", written(meter.at_rest.ohms, Kind::Ohms));
            put(place, "meter with volumes at 0", written(meter.volumes_at_zero.ohms, Kind::Ohms));
        }
    }
    let title = harness.title.clone().unwrap_or_default().replace(['\n', '\r'], " ");
    let made = vec![
        format!("program {}", env!("CARGO_PKG_VERSION")),
        "language 1".to_owned(),
        format!("guitar {title}").trim_end().to_owned(),
    ];
    Ok(Record { made, lines })
}

impl Record {
    /// The record as a file.
    pub(crate) fn text(&self) -> String {
        let mut out = format!("{HEAD}\n");
        self.made.iter().for_each(|line| out.push_str(&format!("-- {line}\n")));
        for ([position, place, name], value) in &self.lines {
            out.push_str(&format!("{position} / {place} / {name} : {value}\n"));
        }
        out
    }

    /// Reads a file back.
    ///
    /// # Errors
    /// See [`NoRecord`].
    pub(crate) fn read(text: &str) -> Result<Record, NoRecord> {
        let mut all = text.lines().enumerate();
        if all.next().is_none_or(|(_, line)| line.trim_end() != HEAD) {
            return Err(NoRecord::Head);
        }
        let mut record = Record { made: Vec::new(), lines: BTreeMap::new() };
        for (number, line) in all {
            if let Some(made) = line.strip_prefix("-- ") {
                record.made.push(made.to_owned());
                continue;
            }
            if line.trim().is_empty() {
                continue;
            }
            let bad = NoRecord::Line(number + 1);
            let (key, value) = line.split_once(" : ").ok_or(bad.clone())?;
            let parts: Vec<&str> = key.split(" / ").collect();
            let [position, place, name] = parts[..] else { return Err(bad) };
            record.lines.insert([position.into(), place.into(), name.into()], value.trim_end().into());
        }
        Ok(record)
    }
}

/// A figure as a record has it: `2571.23 Hz`, `silent`.
fn written(figure: Figure, kind: Kind) -> String {
    match figure {
        Ok(value) => format!("{} {}", six_digits(value), kind.unit()).trim_end().to_owned(),
        Err(Why::Silent) => "silent".to_owned(),
        Err(Why::Open) => "open".to_owned(),
        Err(Why::None) => "none".to_owned(),
        Err(Why::NotReadable) => "not readable".to_owned(),
        Err(Why::ReferenceSilent) => "the reference is silent".to_owned(),
    }
}

/// Six significant digits, plain or with an exponent, and no negative zero; decibels that are rounding are 0.
fn six_digits(value: f64) -> String {
    let value = if value.abs() < 1e-15 { 0.0 } else { value };
    let rounded: f64 = format!("{value:.5e}").parse().unwrap_or(value);
    if rounded == 0.0 || (1e-3..1e7).contains(&rounded.abs()) {
        format!("{}", rounded + 0.0)
    } else {
        format!("{rounded:e}")
    }
}

#[cfg(test)]
mod tests {
    use super::{NoRecord, Record, six_digits};

    #[test]
    fn a_record_reads_back() {
        let text = "coilwright record 1\n-- program 0\nrest / tip / level : -3.5 dB\nsplit=up / tip / coils in play : a + b in series\n";
        let record = Record::read(text).unwrap();
        assert_eq!(record.text(), text);
        assert_eq!(record.lines.len(), 2);
        assert_eq!(Record::read("something"), Err(NoRecord::Head));
        assert_eq!(Record::read("coilwright record 1\nrest / tip\n"), Err(NoRecord::Line(2)));
        assert_eq!(Record::read(""), Err(NoRecord::Head));
    }

    #[test]
    fn six_digits_are_kept() {
        for (value, text) in [
            (2571.2345678, "2571.23"),
            (-0.0, "0"),
            (-3.5, "-3.5"),
            (2.6e-6, "2.6e-6"),
            (123456789.0, "1.23457e8"),
            (-1e-18, "0"),
        ] {
            assert_eq!(six_digits(value), text);
        }
    }
}
