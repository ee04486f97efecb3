//! The harmonics of each string on the page: a picture, and the table behind it.

use crate::chart::svg::harmonics::{HarmonicsChart, Stems, StringChart};
use crate::unit::{fixed, signed};

/// One string.
#[derive(Debug)]
pub(crate) struct OnPage {
    /// Which, and how it sounds.
    pub(crate) head: String,
    /// It is shown as the page opens.
    pub(crate) open: bool,
    /// Its charts.
    pub(crate) picture: String,
    /// Names of the positions.
    pub(crate) names: Vec<String>,
    /// Number, Hz, and dB in each position.
    pub(crate) rows: Vec<(usize, String, Vec<String>)>,
}

/// The strings, the thickest first: on it most harmonics lie where ears are good.
pub(crate) fn strings(chart: &HarmonicsChart) -> Vec<OnPage> {
    let on_page = |(i, string): (usize, &StringChart)| OnPage {
        head: string.head.clone(),
        open: i == 0,
        picture: chart.inline(&format!("string-{i}-"), string),
        names: string.positions.iter().map(|stems| stems.name.clone()).collect(),
        rows: rows(string),
    };
    chart.strings.iter().rev().enumerate().map(on_page).collect()
}

fn rows(string: &StringChart) -> Vec<(usize, String, Vec<String>)> {
    let count = string.positions.first().map_or(0, |stems| stems.values.len());
    let cell = |stems: &Stems, i: usize| {
        stems.values.get(i).copied().flatten().map_or_else(|| "null".to_owned(), |db| signed(db, 1))
    };
    let row = |i: usize| {
        let frequency = fixed((i + 1) as f64 * string.fundamental, 1);
        (i + 1, frequency, string.positions.iter().map(|stems| cell(stems, i)).collect())
    };
    (0..count).map(row).collect()
}
