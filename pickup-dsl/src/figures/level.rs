//! Level, string level, brightness: means of |H|² over ln f.

use super::spectrum::{HIGH, LEVEL, LOW, Spectrum};
use super::sweep::Spot;
use super::{Figure, Level, Why};
use crate::float::{ln, power_db};

/// |H|² in one of its two forms.
#[derive(Debug, Clone, Copy)]
enum Form {
    Coherent,
    Powers,
}

impl Form {
    fn square(self, s: &Spot) -> f64 {
        match self {
            Form::Coherent => s.response.norm_sqr(),
            Form::Powers => s.powers,
        }
    }

    fn loud(self, s: &Spot) -> bool {
        match self {
            Form::Coherent => s.loud,
            Form::Powers => s.group_loud,
        }
    }
}

/// 10 lg(∫|H|² d ln f / ∫ d ln f), 80 Hz–6 kHz.
pub(crate) fn level(spectrum: &Spectrum, several: bool) -> Level {
    both(several, |form| mean(spectrum, form, LEVEL))
}

/// 10 lg(∫|H|² f⁻¹ d ln f / ∫ f⁻¹ d ln f) on the same band.
pub(crate) fn string_level(spectrum: &Spectrum, several: bool) -> Level {
    let weight = 1.0 / LEVEL.0 - 1.0 / LEVEL.1;
    both(several, |form| {
        spectrum.integral(LEVEL, |s| form.loud(s), |s| form.square(s) / s.f).map(|sum| power_db(sum / weight))
    })
}

/// The mean at 2–6 kHz over the mean at 80–800 Hz.
pub(crate) fn brightness(spectrum: &Spectrum, several: bool) -> Level {
    both(several, |form| Ok(mean(spectrum, form, HIGH)? - mean(spectrum, form, LOW)?))
}

fn mean(spectrum: &Spectrum, form: Form, band: (f64, f64)) -> Figure {
    let width = ln(band.1) - ln(band.0);
    spectrum.integral(band, |s| form.loud(s), |s| form.square(s)).map(|sum| power_db(sum / width))
}

fn both(several: bool, of: impl Fn(Form) -> Figure) -> Level {
    let (coherent, powers) = (of(Form::Coherent), of(Form::Powers));
    Level {
        coherent,
        powers,
        shown: if several { powers } else { coherent },
        coherent_re: Err(Why::ReferenceSilent),
        powers_re: Err(Why::ReferenceSilent),
        shown_re: Err(Why::ReferenceSilent),
    }
}
