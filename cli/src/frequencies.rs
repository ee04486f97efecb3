//! Frequencies of the command line: lists and log-spaced grids.

use pickup_dsl::diagnostic::escape;
use pickup_dsl::syntax::parse;
use pickup_dsl::syntax::tree::{Dimension, Item};

use crate::args::Grid;
use crate::exit::Failure;
use crate::float;

/// The most that are computed at once.
const LIMIT: usize = 1_000_000;

impl Grid {
    /// The frequencies asked for, in Hz, if any were.
    ///
    /// # Errors
    /// [`Failure::Usage`] if they can't be read, are not above 0, or are too many.
    pub(crate) fn frequencies(&self) -> Result<Option<Vec<f64>>, Failure> {
        match (&self.at, &self.frequencies) {
            (Some(list), _) => {
                let read: Vec<f64> = list.split(',').map(hertz).collect::<Result<_, _>>()?;
                within(read.len())?;
                Ok(Some(read))
            }
            (None, Some(range)) => spaced(range).map(Some),
            (None, None) => Ok(None),
        }
    }
}

/// `count` frequencies from `low` to `high`, evenly spaced on a log scale, both ends exact.
#[must_use]
pub(crate) fn logarithmic(low: f64, high: f64, count: usize) -> Vec<f64> {
    let last = count.saturating_sub(1);
    (0..count)
        .map(|i| match i {
            0 => low,
            i if i == last => high,
            i => low * float::pow(high / low, i as f64 / last as f64),
        })
        .collect()
}

fn spaced(range: &str) -> Result<Vec<f64>, Failure> {
    let wrong = || {
        Failure::usage_with(
            format!("`{}` is no range of frequencies", escape(range)),
            "as in `--frequencies 20Hz..20kHz/400`",
        )
    };
    let (ends, count) = range.rsplit_once('/').ok_or_else(wrong)?;
    let (low, high) = ends.split_once("..").ok_or_else(wrong)?;
    // Three points would make 20 kHz a fifth of a kilohertz.
    if high.trim_start().starts_with('.') {
        return Err(wrong());
    }
    let (low, high) = (hertz(low)?, hertz(high)?);
    let count: usize = count.trim().parse().map_err(|_| wrong())?;
    if low >= high || count < 2 {
        return Err(Failure::usage_with(
            format!("`{}` is an empty range", escape(range)),
            "the low end first, and at least 2 frequencies",
        ));
    }
    within(count)?;
    Ok(logarithmic(low, high, count))
}

fn within(count: usize) -> Result<(), Failure> {
    if count > LIMIT {
        return Err(Failure::usage(format!(
            "{count} frequencies, more than the {LIMIT} that are computed at once"
        )));
    }
    Ok(())
}

/// One frequency, read as the language reads it.
fn hertz(text: &str) -> Result<f64, Failure> {
    let wrong = |why: &str| {
        Failure::usage_with(
            format!("`{}` is no frequency{why}", escape(text.trim())),
            "as in `100Hz`, `4.5kHz` or `1000`",
        )
    };
    let parsed = parse(0, text.trim());
    let number = match parsed.tree.statements.as_slice() {
        [one] if parsed.diagnostics.is_empty() && one.block.is_none() => match one.clauses.as_slice() {
            [clause] => match clause.items.as_slice() {
                [Item::Number(n)] if n.tolerance.is_none() => n.clone(),
                _ => return Err(wrong("")),
            },
            _ => return Err(wrong("")),
        },
        _ => return Err(wrong("")),
    };
    // The option says what is meant, so the unit may be left out.
    let value = if number.suffix.is_empty() {
        number.digits
    } else {
        number.read(Dimension::Hertz).map_err(|d| wrong(&format!(": {}", escape(&d.message))))?
    };
    if value > 0.0 && value.is_finite() { Ok(value) } else { Err(wrong(": it must be above 0")) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grid(at: Option<&str>, frequencies: Option<&str>) -> Result<Option<Vec<f64>>, Failure> {
        Grid { at: at.map(str::to_owned), frequencies: frequencies.map(str::to_owned) }.frequencies()
    }

    #[test]
    fn lists_and_ranges() {
        assert_eq!(
            grid(Some("100Hz, 1kHz,4.5k,50"), None).expect("read"),
            Some(vec![100.0, 1000.0, 4500.0, 50.0])
        );
        let range = grid(None, Some("20Hz..20kHz/4")).expect("read").expect("some");
        assert_eq!((range[0], range[3], range.len()), (20.0, 20e3, 4));
        assert!((range[1] - 200.0).abs() < 1e-9);
        assert_eq!(grid(None, None).expect("read"), None);
    }

    #[test]
    fn nonsense_is_refused() {
        for at in ["", "0Hz", "x", "10nF", "100Hz,,1k", "-5", "1e309", "1 2", "50Hz 5%"] {
            assert!(grid(Some(at), None).is_err(), "{at}");
        }
        for range in
            ["20..20k", "20k..20/5", "20..20k/1", "20..20k/1000001", "20..20k/x", "20...20k/3", "20.. .5k/3"]
        {
            assert!(grid(None, Some(range)).is_err(), "{range}");
        }
    }
}
