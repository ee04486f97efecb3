//! Figures re the reference: minus the same figure of the reference position, at the same outlet.

use super::hum::signal_over_hum;
use super::{Figure, Level, OutletFigures, Why};

/// Fills in every figure that is re the reference. None: the reference has no such outlet.
pub(crate) fn relate(own: &mut OutletFigures, reference: Option<&OutletFigures>) {
    let of = |figure: fn(&OutletFigures) -> Figure| -> Figure {
        reference.map_or(Err(Why::ReferenceSilent), figure)
    };
    let peak = own.the_resonance().map(|r| r.magnitude);
    own.height_re = re(peak, of(|r| r.plateau));
    let levels: [fn(&OutletFigures) -> &Level; 3] = [|f| &f.level, |f| &f.string_level, |f| &f.brightness];
    let own_levels = [&mut own.level, &mut own.string_level, &mut own.brightness];
    for (level, pick) in own_levels.into_iter().zip(levels) {
        let of = |figure: fn(&Level) -> Figure| -> Figure {
            reference.map_or(Err(Why::ReferenceSilent), |r| figure(pick(r)))
        };
        level.coherent_re = re(level.coherent, of(|l| l.coherent));
        level.powers_re = re(level.powers, of(|l| l.powers));
        level.shown_re = re(level.shown, of(|l| l.shown));
    }
    own.hum.fundamental_re = re(own.hum.fundamental, of(|r| r.hum.fundamental));
    own.hum.buzz_re = re(own.hum.buzz, of(|r| r.hum.buzz));
    own.signal_over_hum = signal_over_hum(
        (own.string_level.shown, own.hum.fundamental),
        reference.map(|r| (r.string_level.shown, r.hum.fundamental)),
    );
}

/// Its own lack of a value before the reference's.
fn re(own: Figure, reference: Figure) -> Figure {
    let own = own?;
    reference.map(|reference| own - reference).map_err(|_| Why::ReferenceSilent)
}

#[cfg(test)]
mod tests {
    use super::re;
    use crate::figures::Why;

    #[test]
    fn own_silence_comes_first() {
        assert_eq!(re(Err(Why::Silent), Err(Why::Silent)), Err(Why::Silent));
        assert_eq!(re(Ok(1.0), Err(Why::Silent)), Err(Why::ReferenceSilent));
        assert_eq!(re(Ok(-3.5), Ok(-3.5)), Ok(0.0));
    }
}
