//! The frame of a plot: where values lie on the paper, the lines of its grid, a curve in it.

use super::{class, text};
use crate::chart::axis::{Decibels, LogFrequency};
use crate::chart::{Chart, Curve};
use crate::unit::fixed;

/// A plot on the paper, in units of the picture.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Frame {
    /// Frequencies, from its left edge to its right.
    pub(crate) x: LogFrequency,
    /// Decibels, from its bottom to its top.
    pub(crate) y: Decibels,
    /// Its left edge.
    pub(crate) left: f64,
    /// Its top.
    pub(crate) top: f64,
    /// Its width.
    pub(crate) width: f64,
    /// Its height.
    pub(crate) height: f64,
}

impl Frame {
    /// Where a value lies; None outside the frame.
    pub(crate) fn place(&self, f: f64, db: f64) -> Option<(f64, f64)> {
        let (x, y) = (self.x.share(f), self.y.share(db));
        let inside = (0.0..=1.0).contains(&x) && (-1e-9..=1.0 + 1e-9).contains(&y);
        inside.then_some((self.left + x * self.width, self.top + (1.0 - y) * self.height))
    }

    /// Height on the paper at which a curve leaves it at the right, or the bottom.
    pub(crate) fn end(&self, chart: &Chart, curve: &Curve) -> f64 {
        let last = chart.frequencies.iter().zip(&curve.values).rev().find_map(|(_, v)| *v);
        let share = last.map_or(0.0, |db| self.y.share(db).clamp(0.0, 1.0));
        self.top + (1.0 - share) * self.height
    }

    /// Lines and numbers of both axes.
    pub(crate) fn grid(&self) -> String {
        let mut out = String::new();
        let Frame { left, top, width, height, .. } = *self;
        let (right, bottom) = (left + width, top + height);
        for (f, label) in self.x.ticks() {
            let x = self.left + self.x.share(f) * self.width;
            out.push_str(&format!("<path class=\"grid\" d=\"M{x:.1} {top}V{bottom:.1}\"/>\n"));
            out.push_str(&text(x, bottom + 17.0, "small", "middle", &label));
        }
        for db in self.y.ticks() {
            let y = self.top + (1.0 - self.y.share(db)) * self.height;
            let class = if db == 0.0 { "grid zero" } else { "grid" };
            out.push_str(&format!("<path class=\"{class}\" d=\"M{left} {y:.1}H{right:.1}\"/>\n"));
            out.push_str(&text(self.left - 8.0, y + 4.0, "small", "end", &fixed(db, 0)));
        }
        out
    }

    /// The ground between the ends of a band, in pieces; what lies beyond the axis is cut off.
    pub(crate) fn band(&self, chart: &Chart, index: usize) -> String {
        let Some(band) = chart.bands.get(index) else { return String::new() };
        let height = |db: f64| self.top + (1.0 - self.y.share(db).clamp(0.0, 1.0)) * self.height;
        let ends: Vec<Option<(f64, f64, f64)>> = chart
            .frequencies
            .iter()
            .zip(band)
            .map(|(f, ends)| {
                ends.map(|(low, high)| (self.left + self.x.share(*f) * self.width, height(low), height(high)))
            })
            .collect();
        let mut path = String::new();
        for piece in ends.split(Option::is_none).filter(|piece| piece.len() > 1) {
            let piece = || piece.iter().flatten();
            let there = piece().map(|(x, low, _)| format!("{x:.1} {low:.1}"));
            let back = piece().rev().map(|(x, _, high)| format!("{x:.1} {high:.1}"));
            path.push_str(&format!("M{}Z", there.chain(back).collect::<Vec<_>>().join("L")));
        }
        if path.is_empty() {
            return path;
        }
        format!("<path class=\"b{}\" d=\"{path}\"/>\n", index % super::CURVES)
    }

    /// The curve in pieces, cut where it is silent and below the axis.
    pub(crate) fn curve(&self, chart: &Chart, index: usize, curve: &Curve) -> String {
        let mut path = String::new();
        let mut pen_down = false;
        for (f, value) in chart.frequencies.iter().zip(&curve.values) {
            match value.and_then(|db| self.place(*f, db)) {
                Some((x, y)) => {
                    path.push_str(&format!("{}{x:.1} {y:.1}", if pen_down { 'L' } else { 'M' }));
                    pen_down = true;
                }
                None => pen_down = false,
            }
        }
        if path.is_empty() {
            return String::new();
        }
        format!("<path class=\"curve {}\" d=\"{path}\"/>\n", class(index, curve))
    }
}
