//! A chart as SVG: for a screen, a page, a print in grey.
//!
//! Nothing hangs on colour: each curve has a dash of its own, and its name stands at its end with a line to it. Colours follow the reader's
//! light or dark, unless one is asked for. The same chart gives the same bytes.

pub(crate) mod frame;
pub(crate) mod harmonics;
mod inline;
mod multiples;

use super::axis::{Decibels, LogFrequency};
use super::{Chart, Curve};
use crate::picture::{DARK, LIGHT, Palette, Theme, opened, shortened};
use crate::xml::escaped;
use frame::Frame;

/// The dashes of all but the reference: no two near each other in length or rhythm, since in grey nothing else tells curves apart.
const DASHES: [&str; 6] = ["", "12 5", "16 4 3 4", "5 4", "27 6", "11 3 2.5 3 2.5 3"];
/// The reference is drawn in ink, in dots: with round ends the shortest dash is one.
const DOTS: &str = "0.1 5";

const WIDTH: f64 = 960.0;
const HEIGHT: f64 = 520.0;
const LEFT: f64 = 58.0;
const TOP: f64 = 44.0;
const BOTTOM: f64 = 46.0;
/// Room for names at the right.
const NAMES: f64 = 262.0;
/// Height of one name with its note.
const NAME: f64 = 34.0;
/// Characters of a name that fit.
const NAME_LENGTH: usize = 26;
/// Characters of a note, which is smaller.
const NOTE_LENGTH: usize = 34;

impl Chart {
    /// The picture. `title` is whose chart it is.
    pub(crate) fn svg(&self, title: &str, theme: Theme) -> String {
        // More names than fit make the picture taller, never the names smaller.
        let height = HEIGHT.max(TOP + BOTTOM + NAME * self.curves.len() as f64);
        let frame = Frame {
            x: self.across(),
            y: Decibels::covering(self.curves.iter().flat_map(|c| c.values.iter().flatten().copied())),
            left: LEFT,
            top: TOP,
            width: WIDTH - LEFT - NAMES,
            height: height - TOP - BOTTOM,
        };
        let described: Vec<String> = self.curves.iter().map(Curve::label).collect();
        let described = format!("{}. {}.", self.caption, described.join("; "));
        let mut out = opened((WIDTH, height), "", "", (title, &described));
        out.push_str(&style(theme));
        if !self.bands.is_empty() {
            out.push_str(&band_style(theme));
        }
        out.push_str(&format!("<rect class=\"paper\" width=\"{WIDTH}\" height=\"{height}\"/>\n"));
        out.push_str(&text(LEFT, 22.0, "head", "start", title));
        out.push_str(&frame.grid());
        out.push_str(&text(LEFT, height - 8.0, "small", "start", &self.caption));
        (0..self.curves.len()).rev().for_each(|i| out.push_str(&frame.band(self, i)));
        // The first is drawn last, on top.
        for (i, curve) in self.curves.iter().enumerate().rev() {
            out.push_str(&frame.curve(self, i, curve));
        }
        out.push_str(&self.peaks(&frame));
        out.push_str(&self.names(&frame));
        out.push_str("</svg>\n");
        out
    }

    /// The axis of its frequencies.
    fn across(&self) -> LogFrequency {
        let (first, last) = (self.frequencies.first(), self.frequencies.last());
        LogFrequency::new(first.copied().unwrap_or(20.0), last.copied().unwrap_or(20e3))
    }

    /// A dot on each peak.
    fn peaks(&self, frame: &Frame) -> String {
        let mut out = String::new();
        for (i, curve) in self.curves.iter().enumerate() {
            if let Some((x, y)) = curve.peak.and_then(|(f, db)| frame.place(f, db)) {
                out.push_str(&format!(
                    "<circle class=\"{}\" cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"3.5\"/>\n",
                    class(i, curve)
                ));
            }
        }
        out
    }

    /// Each curve's name at its end, moved apart where ends lie close, with a line from the end to the name.
    fn names(&self, frame: &Frame) -> String {
        let mut ends: Vec<(usize, f64)> =
            self.curves.iter().enumerate().map(|(i, curve)| (i, frame.end(self, curve))).collect();
        ends.sort_by(|a, b| a.1.total_cmp(&b.1));
        let wanted: Vec<f64> = ends.iter().map(|(_, y)| *y).collect();
        let places = apart(&wanted, NAME, TOP + NAME / 2.0, TOP + frame.height - NAME / 2.0);
        let edge = LEFT + frame.width;
        let mut out = String::new();
        for ((i, end), place) in ends.into_iter().zip(places) {
            let curve = &self.curves[i];
            let class = class(i, curve);
            out.push_str(&format!(
                "<path class=\"lead {class}\" d=\"M{:.1} {end:.1}L{:.1} {place:.1}H{:.1}\"/>\n",
                edge + 2.0,
                edge + 18.0,
                edge + 34.0
            ));
            out.push_str(&text(
                edge + 40.0,
                place - 1.0,
                &format!("name {class}"),
                "start",
                &shortened(&curve.name, NAME_LENGTH),
            ));
            let said = [if curve.reference { "reference" } else { "" }, &curve.note];
            let note = said.iter().copied().filter(|words| !words.is_empty()).collect::<Vec<_>>().join(", ");
            if !note.is_empty() {
                out.push_str(&text(
                    edge + 40.0,
                    place + 13.0,
                    "small",
                    "start",
                    &shortened(&note, NOTE_LENGTH),
                ));
            }
        }
        out
    }
}

/// Positions at least `gap` apart within the bounds, in order, as near to the wanted ones as a pass down and a pass up make them.
fn apart(wanted: &[f64], gap: f64, top: f64, bottom: f64) -> Vec<f64> {
    let mut places: Vec<f64> = Vec::with_capacity(wanted.len());
    for want in wanted {
        let least = places.last().map_or(top, |last| last + gap);
        places.push(want.max(least));
    }
    let mut most = bottom;
    for place in places.iter_mut().rev() {
        *place = place.min(most);
        most = *place - gap;
    }
    places
}

fn class(index: usize, curve: &Curve) -> String {
    if curve.dashed { "reference".to_owned() } else { format!("c{}", index % DASHES.len()) }
}

/// Colours are written out in each rule: not every viewer knows variables.
fn style(theme: Theme) -> String {
    let colours = match theme {
        Theme::Auto => {
            format!("{}@media(prefers-color-scheme:dark){{\n{}}}\n", colours(&LIGHT), colours(&DARK))
        }
        Theme::Light => colours(&LIGHT),
        Theme::Dark => colours(&DARK),
    };
    let mut out = "<style>\ntext{font-family:system-ui,'Noto Sans','DejaVu Sans',sans-serif}\n\
        .head{font-size:16px;font-weight:600}.name{font-size:13px;font-weight:600}.small{font-size:12px}\n\
        .grid{stroke-width:.7;fill:none}.curve{fill:none;stroke-width:2.2;stroke-linejoin:round}\n\
        .lead{fill:none;stroke-width:1.4}circle{stroke-width:1}\n"
        .to_owned();
    out.push_str(&format!("path.reference{{stroke-dasharray:{DOTS};stroke-linecap:round}}"));
    for (i, dash) in DASHES.iter().enumerate().filter(|(_, dash)| !dash.is_empty()) {
        out.push_str(&format!("path.c{i}{{stroke-dasharray:{dash}}}"));
    }
    out.push('\n');
    out.push_str(&colours);
    out.push_str("</style>\n");
    out
}

/// Bands are thin washes of their curves' colours, so that the grid shows through.
fn band_style(theme: Theme) -> String {
    let washes = |[_, _, _, curves @ ..]: &Palette| -> String {
        let wash = |(i, colour)| format!("path.b{i}{{fill:{colour};fill-opacity:.17}}");
        curves.iter().enumerate().map(wash).collect()
    };
    let rules = match theme {
        Theme::Auto => format!("{}\n@media(prefers-color-scheme:dark){{{}}}", washes(&LIGHT), washes(&DARK)),
        Theme::Light => washes(&LIGHT),
        Theme::Dark => washes(&DARK),
    };
    format!("<style>\n{rules}\n</style>\n")
}

fn colours(palette: &Palette) -> String {
    let [paper, ink, faint, curves @ ..] = palette;
    let mut out = format!(
        "text{{fill:{ink}}}.paper{{fill:{paper}}}.grid{{stroke:{faint}}}.zero{{stroke:{ink}}}circle{{stroke:{paper}}}\
         path.reference{{stroke:{ink}}}circle.reference{{fill:{ink}}}\n"
    );
    for (i, colour) in curves.iter().enumerate() {
        out.push_str(&format!("path.c{i}{{stroke:{colour}}}circle.c{i},text.c{i}{{fill:{colour}}}"));
    }
    out.push('\n');
    out
}

/// The colours and dashes as properties of a style sheet, for a document that draws with them: `--paper`, `--ink`, `--faint`, `--dots` of the
/// reference, and `--c0`, `--dash0` and so on for each curve. Dark on a dark screen, never in print.
pub(crate) fn properties() -> String {
    let dashes: String = DASHES
        .iter()
        .enumerate()
        .map(|(i, dash)| format!("--dash{i}:{};", if dash.is_empty() { "none" } else { dash }))
        .collect();
    let colours = |[paper, ink, faint, curves @ ..]: &Palette| {
        let curves: String =
            curves.iter().enumerate().map(|(i, colour)| format!("--c{i}:{colour};")).collect();
        format!("--paper:{paper};--ink:{ink};--faint:{faint};{curves}")
    };
    format!(
        ":root{{{}--dots:{DOTS};{dashes}}}\n@media screen and (prefers-color-scheme:dark){{:root{{{}}}}}\n",
        colours(&LIGHT),
        colours(&DARK)
    )
}

/// How many curves have a colour and a dash of their own beside the reference.
pub(crate) const CURVES: usize = DASHES.len();

fn text(x: f64, y: f64, class: &str, anchor: &str, words: &str) -> String {
    format!(
        "<text class=\"{class}\" x=\"{x:.1}\" y=\"{y:.1}\" text-anchor=\"{anchor}\">{}</text>\n",
        escaped(words)
    )
}

#[cfg(test)]
mod tests {
    use proptest::prelude::{prop_assert, proptest};

    use super::{Chart, Curve, DASHES, DOTS, NAME, Theme, apart};

    /// In grey there is only the rhythm: as many strokes, and they are of unlike lengths.
    #[test]
    fn no_dash_is_taken_for_another() {
        let strokes = |dash: &str| -> Vec<f64> {
            let all = dash.split(' ').filter_map(|length| length.parse().ok());
            all.step_by(2).collect()
        };
        let all: Vec<Vec<f64>> = DASHES.iter().copied().chain([DOTS]).map(strokes).collect();
        for (i, a) in all.iter().enumerate() {
            for b in &all[..i] {
                let alike = a.len() == b.len() && a.iter().zip(b).all(|(a, b)| a.max(*b) < 2.0 * a.min(*b));
                assert!(!alike, "{a:?} {b:?}");
            }
        }
    }

    #[test]
    fn markup_in_a_name_is_text() {
        let curve = Curve {
            mark: 'A',
            name: "</text><script>".into(),
            note: "a & \"b\"".into(),
            reference: false,
            peak: Some((2000.0, 0.0)),
            values: vec![Some(-3.0), None, Some(0.0)],
            dashed: false,
        };
        let chart = Chart {
            caption: "dB".into(),
            frequencies: vec![20.0, 630.0, 20e3],
            curves: vec![curve],
            bands: Vec::new(),
        };
        let svg = chart.svg("<b>", Theme::Auto);
        assert!(!svg.contains("<script>") && !svg.contains("<b>"), "{svg}");
        assert!(svg.contains("prefers-color-scheme"));
        assert!(!chart.svg("x", Theme::Dark).contains("prefers-color-scheme"));
        assert_eq!(svg, chart.svg("<b>", Theme::Auto));
    }

    proptest! {
        #[test]
        fn names_never_touch_and_stay_on_the_paper(mut wanted in proptest::collection::vec(40.0..480.0_f64, 1..12)) {
            wanted.sort_by(f64::total_cmp);
            let places = apart(&wanted, NAME, 60.0, 460.0);
            prop_assert!(places.windows(2).all(|pair| pair[1] - pair[0] >= NAME - 1e-9));
            prop_assert!(places.iter().all(|place| (60.0 - 1e-9..=460.0 + 1e-9).contains(place)), "{places:?}");
        }
    }
}
