//! Pots: each gang is two resistances that share a track; a no-load pot has a third that takes over at 10.

use solver::{Ohms, Resistor, Values};

use super::build::{Build, Placed, Role};
use super::{NetworkError, assign, generic};
use crate::harness::{Blend, Gang, PartId, Pot, Taper};

/// The resistances of one gang.
#[derive(Debug, Clone)]
pub(super) struct Track {
    pub(super) pot: PartId,
    pub(super) rest: f64,
    no_load: bool,
    taper: Taper,
    ohms: f64,
    factor: f64,
    /// Lug 1 to 2.
    low: Resistor,
    /// Lug 2 to 3.
    high: Resistor,
    /// Lug 1 to 3: the whole track once the wiper has left it.
    whole: Option<Resistor>,
}

impl Track {
    /// Sets the gang's resistances for a knob setting.
    pub(super) fn turn(&self, values: &mut Values, knob: f64, generic: bool) {
        let ohms = self.ohms * if generic { self.factor } else { 1.0 };
        let [low, high, whole] = split(self.taper, self.no_load, ohms, knob);
        assign(values.set_resistance(self.low, Ohms(low)));
        assign(values.set_resistance(self.high, Ohms(high)));
        if let Some(resistor) = self.whole {
            assign(values.set_resistance(resistor, Ohms(whole)));
        }
    }
}

/// Lug 1 to 2, 2 to 3 and, without the wiper, 1 to 3.
fn split(taper: Taper, no_load: bool, ohms: f64, knob: f64) -> [f64; 3] {
    let rotation = rotation(knob);
    if no_load && rotation == 1.0 {
        return [f64::INFINITY, f64::INFINITY, ohms];
    }
    let share = share(taper, rotation);
    [ohms * share, ohms * (1.0 - share), f64::INFINITY]
}

/// 0–10 to 0–1; what is no number counts as 0.
fn rotation(knob: f64) -> f64 {
    if knob.is_nan() { 0.0 } else { (knob / 10.0).clamp(0.0, 1.0) }
}

/// Share of the track between lugs 1 and 2 at rotation `r`. Exactly 0 and 1 at the ends, so that the stops merge lugs.
#[must_use]
pub fn share(taper: Taper, r: f64) -> f64 {
    match taper {
        Taper::Linear => r,
        Taper::Audio(half) => audio(half, r),
        Taper::ReverseAudio(half) => 1.0 - audio(half, 1.0 - r),
        Taper::Blend(Blend::First) => (2.0 * r).min(1.0),
        Taper::Blend(Blend::Second) => (2.0 * (1.0 - r)).min(1.0),
    }
}

/// Two straight segments through `half` at half rotation.
fn audio(half: f64, r: f64) -> f64 {
    if r <= 0.5 {
        2.0 * half * r
    } else {
        // Counted from the far end, so that r = 1 gives exactly 1.
        1.0 - (1.0 - half) * (2.0 * (1.0 - r))
    }
}

pub(super) fn build(
    build: &mut Build<'_>,
    id: PartId,
    pot: &Pot,
    tracks: &mut Vec<Track>,
) -> Result<(), NetworkError> {
    for gang in &pot.gangs {
        tracks.push(build_gang(build, id, pot, gang)?);
    }
    Ok(())
}

fn build_gang(build: &mut Build<'_>, id: PartId, pot: &Pot, gang: &Gang) -> Result<Track, NetworkError> {
    let part = build.harness.part(id);
    let (name, prefix) = if gang.name.is_empty() {
        (part.name.clone(), String::new())
    } else {
        (format!("{}.{}", part.name, gang.name), format!("{}.", gang.name))
    };
    let ends = [
        build.lug(id, &format!("{prefix}1"))?,
        build.lug(id, &format!("{prefix}2"))?,
        build.lug(id, &format!("{prefix}3"))?,
    ];
    let ohms = gang.track.value;
    let factor = generic::factor(&format!("{name} track"));
    let [low, high, whole] = split(gang.taper, pot.no_load, ohms, pot.rest);
    let mut between = |from: usize, to: usize, value: f64| {
        let placed = Placed {
            name: format!("{name} {}–{}", from + 1, to + 1),
            span: gang.track.span,
            role: Role::Part,
            a: ends[from],
            b: ends[to],
        };
        build.resistor_of(placed, value, factor)
    };
    Ok(Track {
        pot: id,
        rest: pot.rest,
        no_load: pot.no_load,
        taper: gang.taper,
        ohms,
        factor,
        low: between(0, 1, low)?,
        high: between(1, 2, high)?,
        whole: if pot.no_load { Some(between(0, 2, whole)?) } else { None },
    })
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::{share, split};
    use crate::harness::{Blend, Taper};

    proptest! {
        #[test]
        fn the_stops_are_exact(half in 0.0..1.0_f64) {
            for taper in [Taper::Linear, Taper::Audio(half), Taper::ReverseAudio(half)] {
                prop_assert_eq!(share(taper, 0.0), 0.0);
                prop_assert_eq!(share(taper, 1.0), 1.0);
            }
        }

        #[test]
        fn a_taper_never_turns_back(half in 0.0..1.0_f64, a in 0.0..1.0_f64, b in 0.0..1.0_f64) {
            let (a, b) = (a.min(b), a.max(b));
            for taper in [Taper::Linear, Taper::Audio(half), Taper::ReverseAudio(half)] {
                prop_assert!(share(taper, a) <= share(taper, b) + 1e-15);
            }
        }
    }

    #[test]
    fn audio_passes_through_its_share_at_half_rotation() {
        assert_eq!(share(Taper::Audio(0.15), 0.5), 0.15);
        assert!((share(Taper::ReverseAudio(0.15), 0.5) - 0.85).abs() < 1e-15);
        assert!((share(Taper::Audio(0.15), 0.75) - 0.575).abs() < 1e-15);
    }

    #[test]
    fn both_gangs_of_a_blend_are_full_in_the_middle() {
        for (r, first, second) in
            [(0.0, 0.0, 1.0), (0.25, 0.5, 1.0), (0.5, 1.0, 1.0), (0.75, 1.0, 0.5), (1.0, 1.0, 0.0)]
        {
            assert_eq!(share(Taper::Blend(Blend::First), r), first);
            assert_eq!(share(Taper::Blend(Blend::Second), r), second);
        }
    }

    #[test]
    fn no_load_leaves_the_track_at_ten_alone() {
        let inf = f64::INFINITY;
        assert_eq!(split(Taper::Linear, true, 5e5, 10.0), [inf, inf, 5e5]);
        assert_eq!(split(Taper::Linear, true, 5e5, 5.0), [2.5e5, 2.5e5, inf]);
        assert_eq!(split(Taper::Linear, false, 5e5, 10.0), [5e5, 0.0, inf]);
    }
}
