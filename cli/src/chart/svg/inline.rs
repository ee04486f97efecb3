//! The chart as a part of a document, which styles it, names its curves beside it and may draw others in its frame.

use super::frame::Frame;
use crate::chart::Chart;
use crate::chart::axis::Decibels;
use crate::xml::escaped;

const WIDTH: f64 = 720.0;
const HEIGHT: f64 = 430.0;
const LEFT: f64 = 52.0;
const TOP: f64 = 14.0;
const RIGHT: f64 = 16.0;
const BOTTOM: f64 = 34.0;

impl Chart {
    /// The picture on the first of those axes of decibels, and its frame on each. The grids of the others stand in it too, hidden, so that the
    /// document may change over to them: groups of class `axes`. Curves stand in a group of class `lines`; classes are those of the picture that
    /// stands alone, ids start with `id`.
    pub(crate) fn inline<const N: usize>(
        &self,
        id: &str,
        title: &str,
        axes: [Decibels; N],
    ) -> (String, [Frame; N]) {
        let frames = axes.map(|y| Frame {
            x: self.across(),
            y,
            left: LEFT,
            top: TOP,
            width: WIDTH - LEFT - RIGHT,
            height: HEIGHT - TOP - BOTTOM,
        });
        let mut out = format!(
            "<svg id=\"{id}\" class=\"plot\" viewBox=\"0 0 {WIDTH} {HEIGHT}\" role=\"img\" aria-labelledby=\"{id}-title\">\n\
             <title id=\"{id}-title\">{}</title>\n",
            escaped(title)
        );
        for (i, frame) in frames.iter().enumerate() {
            let hidden = if i == 0 { "" } else { " hidden=\"\"" };
            out.push_str(&format!("<g class=\"axes\"{hidden}>\n{}</g>\n", frame.grid()));
        }
        out.push_str("<g class=\"lines\">\n");
        if let Some(frame) = frames.first() {
            for (i, curve) in self.curves.iter().enumerate().rev() {
                out.push_str(&frame.curve(self, i, curve));
            }
            out.push_str(&self.peaks(frame));
        }
        out.push_str("</g>\n</svg>\n");
        (out, frames)
    }
}
