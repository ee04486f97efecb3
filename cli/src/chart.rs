//! Curves over log frequency, drawn with braille dots. Each curve also carries a letter of its own, so that nothing hangs on colour.

pub(crate) mod axis;
pub(crate) mod braille;
pub(crate) mod svg;

use axis::{Decibels, LogFrequency};
use braille::Canvas;
use unicode_width::UnicodeWidthStr;

use crate::table::paragraph;
use crate::unit;

/// Text columns left of the frame: `−12 ┤`.
const GUTTER: usize = 6;
/// Text rows of the plotting area.
const ROWS: usize = 20;
/// Text columns left of a legend's words: `  ──A──  `.
const LEGEND: usize = 9;
/// Letters on a curve stand this many text columns apart.
const LETTER_SPACING: usize = 24;

/// What an axis counts that shows differences.
pub(crate) const AT_EACH: &str = "dB against the reference at each frequency, at the amp; frequency in Hz";

/// What an axis counts whose zero is the reference at 100 Hz, if that sounds.
pub(crate) fn caption(reference_sounds: bool) -> String {
    let zero = if reference_sounds {
        "dB against the reference at 100 Hz"
    } else {
        "dB re 1 V, since the reference is silent"
    };
    format!("{zero}, at the amp; frequency in Hz")
}

/// One curve.
#[derive(Debug, Clone)]
pub(crate) struct Curve {
    /// The letter on it.
    pub(crate) mark: char,
    /// Whose it is.
    pub(crate) name: String,
    /// What is said of it: `peak 4.31 kHz, +5.3 dB`, or nothing.
    pub(crate) note: String,
    /// It is what the others are compared with.
    pub(crate) reference: bool,
    /// Where its resonance lies: Hz, and dB on the chart's axis.
    pub(crate) peak: Option<(f64, f64)>,
    /// dB at each frequency of the chart; `None` where silent.
    pub(crate) values: Vec<Option<f64>>,
    /// Drawn with gaps: the reference.
    pub(crate) dashed: bool,
}

impl Curve {
    /// What the legend says.
    fn label(&self) -> String {
        let note = if self.note.is_empty() { String::new() } else { format!(": {}", self.note) };
        format!("{}{note}{}", self.name, if self.reference { " (the reference)" } else { "" })
    }
}

/// A chart of curves on the same frequencies.
#[derive(Debug, Clone)]
pub(crate) struct Chart {
    /// What the vertical axis counts.
    pub(crate) caption: String,
    /// Hz, ascending.
    pub(crate) frequencies: Vec<f64>,
    /// Curves, the first drawn last.
    pub(crate) curves: Vec<Curve>,
    /// For each curve, or for none: between which values most builds lie, at each frequency where they sound.
    pub(crate) bands: Vec<Band>,
}

/// Lower and upper ends at each frequency of a chart, dB.
pub(crate) type Band = Vec<Option<(f64, f64)>>;

impl Chart {
    /// The chart in at most `width` text columns. `paint` colours the text of the curve of that index.
    pub(crate) fn text(&self, width: usize, paint: impl Fn(usize, &str) -> String) -> String {
        let columns = width.clamp(40, 400) - GUTTER - 1;
        let x = LogFrequency::new(
            self.frequencies.first().copied().unwrap_or(20.0),
            self.frequencies.last().copied().unwrap_or(20e3),
        );
        let y = Decibels::covering(self.curves.iter().flat_map(|c| c.values.iter().flatten().copied()));
        let grid: Vec<Vec<Cell>> = self.draw(columns, &x, &y);
        let mut out = paragraph("", &self.caption, 0, width);
        let tick_rows: Vec<(usize, f64)> = y.ticks().into_iter().map(|t| (row_of(y.share(t)), t)).collect();
        for (r, row) in grid.iter().enumerate() {
            match tick_rows.iter().find(|(at, _)| *at == r) {
                Some((_, t)) => {
                    out.push_str(&format!("{:>width$} ┤", unit::fixed(*t, 0), width = GUTTER - 2))
                }
                None => out.push_str(&format!("{:>width$}│", "", width = GUTTER - 1)),
            }
            out.push_str(&paint_row(row, &paint));
            out.push('\n');
        }
        out.push_str(&x_axis(columns, &x));
        for (i, curve) in self.curves.iter().enumerate() {
            let sample = if curve.dashed { "┄┄" } else { "──" };
            let key = paint(i, &format!("{sample}{}{sample}", curve.mark));
            // Wrapped without the key: its colour has no width.
            let label = paragraph("", &curve.label(), LEGEND, width);
            out.push_str(&format!("  {key}  {}", label.trim_start()));
        }
        out
    }

    fn draw(&self, columns: usize, x: &LogFrequency, y: &Decibels) -> Vec<Vec<Cell>> {
        let mut grid = vec![vec![Cell::Blank; columns]; ROWS];
        for (i, curve) in self.curves.iter().enumerate().rev() {
            let mut canvas = Canvas::new(columns, ROWS);
            let points: Vec<Option<(f64, f64)>> = self
                .frequencies
                .iter()
                .zip(&curve.values)
                .map(|(f, v)| v.map(|v| (x.share(*f), 1.0 - y.share(v))))
                .collect();
            canvas.path(&points, curve.dashed);
            for (r, row) in grid.iter_mut().enumerate() {
                for (c, cell) in row.iter_mut().enumerate() {
                    let dots = canvas.dots(c, r);
                    if dots != 0 {
                        *cell = cell.with(i, dots);
                    }
                }
            }
        }
        // Letters after all dots, so that no curve hides another's name.
        for (i, curve) in self.curves.iter().enumerate() {
            let stagger = 4 + (i * LETTER_SPACING / self.curves.len().max(1)) % LETTER_SPACING;
            for c in (stagger..columns).step_by(LETTER_SPACING) {
                let f = x.at((c as f64 + 0.5) / columns as f64);
                if let Some(v) = self.value_near(curve, f)
                    && let Some(share) = Some(y.share(v)).filter(|s| (0.0..=1.0).contains(s))
                {
                    let cell = &mut grid[row_of(share)][c];
                    if !matches!(cell, Cell::Letter(..)) {
                        *cell = Cell::Letter(i, curve.mark);
                    }
                }
            }
        }
        grid
    }

    /// The curve's value at the chart frequency nearest to `f` on a log scale.
    fn value_near(&self, curve: &Curve, f: f64) -> Option<f64> {
        let after = self.frequencies.partition_point(|g| *g < f);
        let before = after.saturating_sub(1);
        let pick = match self.frequencies.get(after) {
            Some(g) if *g * self.frequencies[before] <= f * f => after,
            _ => before,
        };
        curve.values.get(pick).copied().flatten()
    }
}

/// The text row of a vertical share (0 bottom, 1 top).
fn row_of(share: f64) -> usize {
    let row = ((1.0 - share) * ROWS as f64) as usize;
    row.min(ROWS - 1)
}

/// What stands in one character place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Cell {
    Blank,
    /// Braille dots, painted as the curve drawn last.
    Dots(usize, u8),
    Letter(usize, char),
}

impl Cell {
    fn with(self, curve: usize, dots: u8) -> Cell {
        match self {
            Cell::Dots(_, old) => Cell::Dots(curve, old | dots),
            _ => Cell::Dots(curve, dots),
        }
    }

    fn character(self) -> char {
        match self {
            Cell::Blank => ' ',
            Cell::Dots(_, dots) => braille::character(dots),
            Cell::Letter(_, c) => c,
        }
    }

    fn curve(self) -> Option<usize> {
        match self {
            Cell::Blank => None,
            Cell::Dots(i, _) | Cell::Letter(i, _) => Some(i),
        }
    }
}

/// Runs of one curve are painted at once; blanks at the line's end are left out.
fn paint_row(row: &[Cell], paint: &impl Fn(usize, &str) -> String) -> String {
    let used = row.iter().rposition(|c| *c != Cell::Blank).map_or(0, |i| i + 1);
    let mut out = String::new();
    for run in row[..used].chunk_by(|a, b| a.curve() == b.curve()) {
        let text: String = run.iter().map(|c| c.character()).collect();
        match run[0].curve() {
            Some(i) => out.push_str(&paint(i, &text)),
            None => out.push_str(&text),
        }
    }
    out
}

fn x_axis(columns: usize, x: &LogFrequency) -> String {
    let mut line: Vec<char> = vec!['─'; columns];
    let mut labels = String::new();
    for (f, label) in x.ticks() {
        let c = ((x.share(f) * columns as f64) as usize).min(columns - 1);
        line[c] = '┬';
        // Centred under its tick where there is room; left out where it would touch its neighbour.
        let start = (c + GUTTER).saturating_sub(label.width() / 2).min(GUTTER + columns - label.width());
        if labels.width() == 0 || start > labels.width() {
            labels.push_str(&" ".repeat(start - labels.width()));
            labels.push_str(&label);
        }
    }
    let line: String = line.into_iter().collect();
    format!("{:>width$}└{line}\n{labels}\n", "", width = GUTTER - 1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::float;

    fn chart() -> Chart {
        let frequencies: Vec<f64> =
            (0..=300).map(|i| 20.0 * float::pow(1000.0, f64::from(i) / 300.0)).collect();
        let hill = |f0: f64| -> Vec<Option<f64>> {
            frequencies
                .iter()
                .map(|f| {
                    let u = f / f0;
                    Some(
                        -10.0 * float::ln((1.0 - u * u) * (1.0 - u * u) + u * u / 9.0)
                            / std::f64::consts::LN_10,
                    )
                })
                .collect()
        };
        Chart {
            bands: Vec::new(),
            caption: "dB against the reference at 100 Hz, at the amp; frequency in Hz".into(),
            curves: vec![
                Curve {
                    mark: 'A',
                    name: "split ".repeat(20),
                    note: "peak 4.00 kHz".into(),
                    reference: false,
                    peak: Some((4000.0, 9.5)),
                    values: hill(4000.0),
                    dashed: false,
                },
                Curve {
                    mark: 'R',
                    name: "Both".into(),
                    note: String::new(),
                    reference: true,
                    peak: None,
                    values: hill(2400.0),
                    dashed: true,
                },
            ],
            frequencies,
        }
    }

    #[test]
    fn a_chart_keeps_its_width_and_names_each_curve() {
        for width in [40, 100, 200] {
            let text = chart().text(width, |_, t| t.to_owned());
            for line in text.lines() {
                assert!(line.width() <= width, "{width}: {line:?}");
            }
            let caption = text.lines().take_while(|l| !l.contains(['┤', '│'])).count();
            let plotted: String = text.lines().skip(caption).take(ROWS + 1).collect();
            assert!(plotted.contains('A') && plotted.contains('R'), "{text}");
        }
    }

    #[test]
    fn the_letter_stands_on_its_curve() {
        let mut c = chart();
        c.curves.truncate(1);
        c.curves[0].values = vec![Some(0.0); c.frequencies.len()];
        let text = c.text(100, |_, t| t.to_owned());
        let rows: Vec<&str> = text
            .lines()
            .filter(|l| l.contains('⠉') || l.contains('⣀') || l.contains('⠤') || l.contains('⠒'))
            .collect();
        assert_eq!(rows.len(), 1, "{text}");
        assert!(rows[0].contains('A'), "{text}");
    }

    #[test]
    fn nothing_sounds_draws_an_empty_frame() {
        let mut c = chart();
        for curve in &mut c.curves {
            curve.values.fill(None);
        }
        let text = c.text(80, |_, t| t.to_owned());
        assert!(text.contains("20k"), "{text}");
    }
}
