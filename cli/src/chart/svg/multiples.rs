//! Many small charts: each curve alone against the reference, all on the same axes, so that eighty positions can be looked over at once.

use super::frame::Frame;
use super::{WIDTH, style, text};
use crate::chart::axis::Decibels;
use crate::chart::{Chart, Curve};
use crate::picture::{Theme, opened, shortened};
use crate::unit::fixed;

/// Charts beside each other.
const COLUMNS: usize = 4;
/// The room of one chart: its plot, and its name with what is said of it over that.
const CELL: (f64, f64) = (228.0, 148.0);
/// The plot in that room.
const PLOT: (f64, f64) = (196.0, 92.0);
/// Left of the first column: decibels.
const GUTTER: f64 = 40.0;
/// Over the first row, and under the last.
const HEAD: f64 = 44.0;
const FOOT: f64 = 44.0;
/// Characters of a name, and of what is said under it, that fit.
const NAME_LENGTH: usize = 26;
const NOTE_LENGTH: usize = 32;
/// How far under the highest is shown, dB: less than in a large chart, where there is room for it.
const RANGE: f64 = 36.0;
/// Where small charts have lines, Hz.
const DECADES: [(f64, &str); 3] = [(100.0, "100"), (1e3, "1k"), (10e3, "10k")];

impl Chart {
    /// The picture. `title` is whose charts these are.
    pub(crate) fn multiples(&self, title: &str, theme: Theme) -> String {
        let reference = self.curves.iter().find(|c| c.reference);
        let shown: Vec<&Curve> = self.curves.iter().filter(|c| !c.dashed).collect();
        let rows = shown.len().div_ceil(COLUMNS);
        let height = HEAD + rows as f64 * CELL.1 + FOOT;
        let y = Decibels::within(RANGE, self.curves.iter().flat_map(|c| c.values.iter().flatten().copied()));
        let described: Vec<String> = shown.iter().map(|c| c.label()).collect();
        let described = format!("{}. {}.", self.caption, described.join("; "));
        let mut out = opened((WIDTH, height), "", "", (title, &described));
        out.push_str(&style(theme));
        out.push_str(&format!("<rect class=\"paper\" width=\"{WIDTH}\" height=\"{height}\"/>\n"));
        out.push_str(&text(GUTTER, 22.0, "head", "start", title));
        for (i, curve) in shown.iter().enumerate() {
            let (column, row) = (i % COLUMNS, i / COLUMNS);
            let frame = Frame {
                x: self.across(),
                y,
                left: GUTTER + column as f64 * CELL.0,
                top: HEAD + row as f64 * CELL.1 + CELL.1 - PLOT.1 - 12.0,
                width: PLOT.0,
                height: PLOT.1,
            };
            out.push_str(&sparse(&frame, column == 0, i + COLUMNS >= shown.len()));
            if let Some(reference) = reference.filter(|r| r.values != curve.values) {
                out.push_str(&frame.curve(self, 0, &Curve { dashed: true, ..reference.clone() }));
            }
            out.push_str(&frame.curve(self, 0, curve));
            if let Some((x, y)) = curve.peak.and_then(|(f, db)| frame.place(f, db)) {
                out.push_str(&format!("<circle class=\"c0\" cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"3\"/>\n"));
            }
            let (left, top) = (frame.left, frame.top);
            out.push_str(&text(left, top - 23.0, "name c0", "start", &shortened(&curve.name, NAME_LENGTH)));
            let said = if curve.reference { "the reference" } else { &curve.note };
            out.push_str(&text(left, top - 8.0, "small", "start", &shortened(said, NOTE_LENGTH)));
        }
        let named = reference.map_or(String::new(), |r| format!(" Dotted: {}, the reference.", r.name));
        out.push_str(&text(GUTTER, height - 8.0, "small", "start", &format!("{}.{named}", self.caption)));
        out.push_str("</svg>\n");
        out
    }
}

/// A frame with lines at its edges, at 0 dB and at decades; numbers only where asked for.
fn sparse(frame: &Frame, decibels: bool, hertz: bool) -> String {
    let mut out = String::new();
    let (right, bottom) = (frame.left + frame.width, frame.top + frame.height);
    for (f, label) in DECADES {
        let share = frame.x.share(f);
        if !(0.0..=1.0).contains(&share) {
            continue;
        }
        let x = frame.left + share * frame.width;
        out.push_str(&format!("<path class=\"grid\" d=\"M{x:.1} {}V{bottom:.1}\"/>\n", frame.top));
        if hertz {
            out.push_str(&text(x, bottom + 15.0, "small", "middle", label));
        }
    }
    let (low, high) = frame.y.edges();
    let middle = if low < 0.0 && high > 0.0 { Some(0.0) } else { None };
    for db in [Some(low), middle, Some(high)].into_iter().flatten() {
        let y = frame.top + (1.0 - frame.y.share(db)) * frame.height;
        let class = if db == 0.0 { "grid zero" } else { "grid" };
        out.push_str(&format!("<path class=\"{class}\" d=\"M{:.1} {y:.1}H{right:.1}\"/>\n", frame.left));
        if decibels {
            out.push_str(&text(frame.left - 8.0, y + 4.0, "small", "end", &fixed(db, 0)));
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::{Chart, Curve, Theme};

    fn curve(name: &str, level: Option<f64>, reference: bool) -> Curve {
        Curve {
            mark: 'A',
            name: name.into(),
            note: "no peak".into(),
            reference,
            peak: None,
            values: vec![level; 3],
            dashed: false,
        }
    }

    #[test]
    fn each_curve_has_a_chart_and_all_but_the_reference_have_it_too() {
        let curves = vec![
            curve("<one>", Some(-3.0), false),
            curve("two", Some(0.0), true),
            curve("three", None, false),
        ];
        let chart =
            Chart { caption: "dB".into(), frequencies: vec![20.0, 630.0, 20e3], curves, bands: Vec::new() };
        let svg = chart.multiples("x", Theme::Light);
        assert!(svg.contains("&lt;one&gt;") && !svg.contains("<one>"), "{svg}");
        assert_eq!(svg.matches("class=\"name c0\"").count(), 3);
        assert_eq!(svg.matches("class=\"curve c0\"").count(), 2, "the third is silent");
        assert_eq!(svg.matches("class=\"curve reference\"").count(), 2);
    }
}
