//! Harmonics of strings: for each position a small chart with a stem for every harmonic, and a bar across it where the reference lies. Stem
//! and bar differ in shape, so that nothing hangs on colour.

use super::{WIDTH, style, text};
use crate::chart::axis::Decibels;
use crate::picture::{Theme, opened, shortened};
use crate::unit::{fixed, signed};

/// The room of one chart: its plot, its name with what is said of it over that, and numbers under it.
const ROOM: f64 = 198.0;
/// Name and note over a plot.
const NAMES: f64 = 44.0;
/// Height of a plot.
const HEIGHT: f64 = 124.0;
/// Left of the first column: decibels.
const GUTTER: f64 = 44.0;
/// Between two columns, and at the right of the last.
const GAP: f64 = 30.0;
/// The title over all; the head of one string; the key and the caption under all.
const HEAD: f64 = 34.0;
const STRING: f64 = 26.0;
const FOOT: f64 = 56.0;
/// The key alone, where the document has the caption.
const KEY: f64 = 28.0;
/// More harmonics than this have the whole width.
const NARROW: usize = 24;
/// How far under the highest is shown, dB.
const RANGE: f64 = 48.0;
/// Room for a number under its stem.
const NUMBER: f64 = 18.0;
/// Characters of a name, of what is said under it, and of a head that fit.
const NAME_LENGTH: usize = 46;
const NOTE_LENGTH: usize = 66;
const HEAD_LENGTH: usize = 100;
/// What a cross says.
const CROSS: &str = "lower than the axis, or nothing at all";

/// Harmonics of some strings in some positions, on one axis of decibels.
#[derive(Debug, Clone)]
pub(crate) struct HarmonicsChart {
    /// What the axes count.
    pub(crate) caption: String,
    /// Whose the bars are; None where the reference can't be had.
    pub(crate) reference: Option<String>,
    /// String by string.
    pub(crate) strings: Vec<StringChart>,
}

/// One string.
#[derive(Debug, Clone)]
pub(crate) struct StringChart {
    /// `String 6, fret 3: 98.00 Hz, 528.1 mm`
    pub(crate) head: String,
    /// f₁, Hz.
    pub(crate) fundamental: f64,
    /// Position by position.
    pub(crate) positions: Vec<Stems>,
}

/// One position.
#[derive(Debug, Clone)]
pub(crate) struct Stems {
    /// Its name.
    pub(crate) name: String,
    /// dB of each harmonic from the first on; None where it is silent.
    pub(crate) values: Vec<Option<f64>>,
    /// The reference's; None where this is the reference, or there is none.
    pub(crate) against: Option<Vec<Option<f64>>>,
    /// It is the reference.
    pub(crate) is_reference: bool,
}

impl Stems {
    /// Where it differs most: `most over: harmonic 7, +9.3 dB; most under: harmonic 4, −21.0 dB`.
    pub(crate) fn note(&self) -> String {
        if self.is_reference {
            return "the reference".to_owned();
        }
        if self.values.iter().all(Option::is_none) {
            return "silent".to_owned();
        }
        let Some(against) = &self.against else { return String::new() };
        let both = self.values.iter().zip(against).enumerate();
        let apart: Vec<(usize, f64)> = both.filter_map(|(i, (v, r))| Some((i + 1, (*v)? - (*r)?))).collect();
        let most = |of: Option<&(usize, f64)>, words: &str| {
            of.map(|(n, db)| format!("{words}: harmonic {n}, {} dB", signed(*db, 1)))
        };
        let over = apart.iter().max_by(|a, b| a.1.total_cmp(&b.1)).filter(|(_, db)| *db > 0.0);
        let under = apart.iter().min_by(|a, b| a.1.total_cmp(&b.1)).filter(|(_, db)| *db < 0.0);
        let said = [most(over, "most over"), most(under, "most under")];
        said.into_iter().flatten().collect::<Vec<_>>().join("; ")
    }

    fn label(&self) -> String {
        let note = self.note();
        if note.is_empty() { self.name.clone() } else { format!("{} ({note})", self.name) }
    }
}

impl StringChart {
    /// All in words.
    fn described(&self) -> String {
        let positions: Vec<String> = self.positions.iter().map(Stems::label).collect();
        format!("{}: {}.", self.head, positions.join("; "))
    }
}

impl HarmonicsChart {
    /// The picture. `title` is whose strings these are.
    pub(crate) fn svg(&self, title: &str, theme: Theme) -> String {
        let columns = self.columns();
        let rows = |string: &StringChart| string.positions.len().div_ceil(columns) as f64;
        let height = HEAD + self.strings.iter().map(|s| STRING + rows(s) * ROOM).sum::<f64>() + FOOT;
        let described: Vec<String> = self.strings.iter().map(StringChart::described).collect();
        let described = format!("{}. {}", self.caption, described.join(" "));
        let mut out = opened((WIDTH, height), "", "", (title, &described));
        out.push_str(&style(theme));
        out.push_str(&format!("<rect class=\"paper\" width=\"{WIDTH}\" height=\"{height}\"/>\n"));
        out.push_str(&text(GUTTER, 22.0, "head", "start", title));
        let mut top = HEAD;
        for string in &self.strings {
            let head = shortened(&string.head, HEAD_LENGTH);
            out.push_str(&text(GUTTER, top + 18.0, "name", "start", &head));
            top += STRING;
            out.push_str(&self.string(string, top, columns));
            top += rows(string) * ROOM;
        }
        out.push_str(&self.key(top + 14.0));
        out.push_str(&text(GUTTER, height - 8.0, "small", "start", &self.caption));
        out.push_str("</svg>\n");
        out
    }

    /// The charts of one string as a part of a document, which styles them: the picture is of class `stems`, its ids start with `id`.
    pub(crate) fn inline(&self, id: &str, string: &StringChart) -> String {
        let columns = self.columns();
        let bottom = string.positions.len().div_ceil(columns) as f64 * ROOM;
        let described = format!("{}. {}", self.caption, string.described());
        let size = (WIDTH, bottom + KEY);
        let mut out = opened(size, id, " class=\"stems\"", (&string.head, &described));
        out.push_str(&self.string(string, 0.0, columns));
        out.push_str(&self.key(bottom + KEY / 2.0));
        out.push_str("</svg>\n");
        out
    }

    fn columns(&self) -> usize {
        let most = self.strings.iter().flat_map(|s| &s.positions).map(|p| p.values.len()).max();
        if most.unwrap_or(0) > NARROW { 1 } else { 2 }
    }

    /// The axis of all.
    fn decibels(&self) -> Decibels {
        let stems = || self.strings.iter().flat_map(|string| &string.positions);
        let against = stems().flat_map(|p| p.against.iter().flatten());
        Decibels::within(RANGE, stems().flat_map(|p| &p.values).chain(against).flatten().copied())
    }

    /// The charts of a string, the first of them at `top`.
    fn string(&self, string: &StringChart, top: f64, columns: usize) -> String {
        let width = (WIDTH - GUTTER) / columns as f64;
        let mut out = String::new();
        for (i, stems) in string.positions.iter().enumerate() {
            let (column, row) = (i % columns, i / columns);
            let plot = Plot {
                y: self.decibels(),
                left: GUTTER + column as f64 * width,
                top: top + row as f64 * ROOM + NAMES,
                width: width - GAP,
                count: stems.values.len().max(1),
            };
            out.push_str(&text(
                plot.left,
                plot.top - 26.0,
                "name c0",
                "start",
                &shortened(&stems.name, NAME_LENGTH),
            ));
            let note = shortened(&stems.note(), NOTE_LENGTH);
            out.push_str(&text(plot.left, plot.top - 11.0, "small", "start", &note));
            out.push_str(&plot.grid(column == 0));
            out.push_str(&plot.stems(stems));
        }
        out
    }

    /// What stem, bar and cross mean.
    fn key(&self, y: f64) -> String {
        let mut out =
            format!("<path class=\"curve c0\" d=\"M{:.1} {:.1}V{:.1}\"/>\n", 50.0, y + 6.0, y - 4.0);
        out.push_str(&dot(50.0, y - 4.0, 3.5));
        out.push_str(&text(60.0, y + 4.0, "small", "start", "the position"));
        out.push_str(&cross(156.0, y, 4.0));
        out.push_str(&text(166.0, y + 4.0, "small", "start", CROSS));
        if let Some(reference) = &self.reference {
            out.push_str(&bar(408.0, y, 7.0));
            let words = format!("the reference: {}", shortened(reference, NAME_LENGTH));
            out.push_str(&text(421.0, y + 4.0, "small", "start", &words));
        }
        out
    }
}

/// One chart on the paper.
#[derive(Debug, Clone, Copy)]
struct Plot {
    y: Decibels,
    left: f64,
    top: f64,
    width: f64,
    /// Harmonics, each with as much of the width.
    count: usize,
}

impl Plot {
    fn slot(&self) -> f64 {
        self.width / self.count as f64
    }

    /// Where the harmonic of that index stands.
    fn across(&self, index: usize) -> f64 {
        self.left + (index as f64 + 0.5) * self.slot()
    }

    /// Height on the paper; None under the axis.
    fn height(&self, db: f64) -> Option<f64> {
        let share = self.y.share(db);
        (share >= -1e-9).then_some(self.top + (1.0 - share) * HEIGHT)
    }

    /// Lines of decibels, their numbers where asked for, and the number of every harmonic that has room for it.
    fn grid(&self, decibels: bool) -> String {
        let mut out = String::new();
        for db in self.y.ticks() {
            let y = self.top + (1.0 - self.y.share(db)) * HEIGHT;
            let class = if db == 0.0 { "grid zero" } else { "grid" };
            out.push_str(&format!(
                "<path class=\"{class}\" d=\"M{:.1} {y:.1}H{:.1}\"/>\n",
                self.left,
                self.left + self.width
            ));
            if decibels {
                out.push_str(&text(self.left - 8.0, y + 4.0, "small", "end", &fixed(db, 0)));
            }
        }
        let step = [1, 2, 5, 10, 20].into_iter().find(|n| *n as f64 * self.slot() >= NUMBER).unwrap_or(50);
        for number in (1..=self.count).filter(|n| n % step == 0 || *n == 1) {
            let x = self.across(number - 1);
            out.push_str(&text(x, self.top + HEIGHT + 16.0, "small", "middle", &number.to_string()));
        }
        out
    }

    /// The stems, and over them the bars of the reference.
    fn stems(&self, stems: &Stems) -> String {
        let mut out = String::new();
        let bottom = self.top + HEIGHT;
        let radius = (self.slot() * 0.3).min(3.5);
        for (i, value) in stems.values.iter().enumerate() {
            let x = self.across(i);
            match value.and_then(|db| self.height(db)) {
                Some(y) => {
                    out.push_str(&format!("<path class=\"curve c0\" d=\"M{x:.1} {bottom:.1}V{y:.1}\"/>\n"));
                    out.push_str(&dot(x, y, radius));
                }
                None => out.push_str(&cross(x, bottom - 5.0, radius)),
            }
        }
        for (i, value) in stems.against.iter().flatten().enumerate() {
            if let Some(y) = value.and_then(|db| self.height(db)) {
                out.push_str(&bar(self.across(i), y, (self.slot() * 0.38).min(8.0)));
            }
        }
        out
    }
}

fn dot(x: f64, y: f64, radius: f64) -> String {
    format!("<circle class=\"c0\" cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"{radius:.1}\"/>\n")
}

fn bar(x: f64, y: f64, half: f64) -> String {
    format!("<path class=\"curve zero\" d=\"M{:.1} {y:.1}H{:.1}\"/>\n", x - half, x + half)
}

fn cross(x: f64, y: f64, half: f64) -> String {
    let (left, right, top, bottom) = (x - half, x + half, y - half, y + half);
    format!(
        "<path class=\"curve c0\" d=\"M{left:.1} {top:.1}L{right:.1} {bottom:.1}M{left:.1} {bottom:.1}L{right:.1} {top:.1}\"/>\n"
    )
}

#[cfg(test)]
mod tests {
    use super::{HarmonicsChart, Stems, StringChart, Theme};

    fn chart(values: Vec<Option<f64>>, against: Option<Vec<Option<f64>>>) -> HarmonicsChart {
        let stems = Stems { name: "<one>".into(), values, is_reference: against.is_none(), against };
        HarmonicsChart {
            caption: "dB".into(),
            reference: Some("a & b".into()),
            strings: vec![StringChart { head: "String 6".into(), fundamental: 82.4, positions: vec![stems] }],
        }
    }

    #[test]
    fn a_stem_for_each_harmonic_that_sounds_and_a_cross_for_the_others() {
        let svg = chart(vec![Some(0.0), None, Some(-90.0)], Some(vec![Some(-3.0), Some(-1.0), None]))
            .svg("<b>", Theme::Light);
        assert!(!svg.contains("<one>") && !svg.contains("<b>") && svg.contains("a &amp; b"), "{svg}");
        // One of each kind is in the key.
        assert_eq!(svg.matches("<circle").count() - 1, 1);
        assert_eq!(svg.matches("class=\"curve zero\"").count() - 1, 2);
        assert_eq!(svg.matches("class=\"curve c0\"").count() - 2, 3, "a stem and two crosses");
    }

    #[test]
    fn what_differs_most_is_said() {
        let of = |values, against| chart(values, against).strings[0].positions[0].note();
        let values = vec![Some(0.0), Some(-6.0), Some(-20.0), None];
        assert_eq!(
            of(values.clone(), Some(vec![Some(-1.0), Some(-6.0), Some(-12.5), Some(-3.0)])),
            "most over: harmonic 1, +1.0 dB; most under: harmonic 3, −7.5 dB"
        );
        assert_eq!(of(values, None), "the reference");
        assert_eq!(of(vec![None; 4], Some(vec![None; 4])), "silent");
    }

    #[test]
    fn numbers_under_many_harmonics_do_not_touch() {
        for count in [1, 20, 24, 25, 80, 200] {
            let svg = chart(vec![Some(0.0); count], None).svg("x", Theme::Light);
            let numbers: Vec<(f64, usize)> = svg
                .lines()
                .filter(|line| line.contains("text-anchor=\"middle\""))
                .map(|line| {
                    let x = line.split(" x=\"").nth(1).and_then(|rest| rest.split('"').next());
                    let words = line.split('>').nth(1).and_then(|rest| rest.split('<').next());
                    (x.and_then(|x| x.parse().ok()).expect("a place"), words.map_or(0, str::len))
                })
                .collect();
            assert!(!numbers.is_empty());
            for pair in numbers.windows(2) {
                // Digits of twelve pixels are at most seven wide.
                let half = 3.5 * (pair[0].1 + pair[1].1) as f64;
                assert!(pair[1].0 - pair[0].0 > half, "{count}: {pair:?}");
            }
        }
    }
}
