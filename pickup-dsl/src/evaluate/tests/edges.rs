//! Figures that have no value, and searches at the end of their range.

use super::{all, harness, outlets};
use crate::figures::{Across, Cancelling, Why};
use crate::harness::{Joint, JointKind, Outlet};
use crate::resolve::{NoFiles, compile};

/// A coil, a switch that mutes or opens, and a second coil turned against the first.
const SWITCHED: &str = "coil lead 6k 2.5H 100pF\ncoil other 6k 2.5H 100pF, wound reverse\ncable 500pF\namp 1M\n\
     switch mode {\n lugs (hot lead both ground)\n throw lead joins (hot lead)\n throw off\n throw mute joins (hot ground)\n \
     throw null joins (hot both)\n}\nwire mode.hot to out.tip\nwire mode.lead to lead.start\nwire mode.both to out.tip\n\
     wire lead.finish to out.sleeve to other.finish to mode.ground";

#[test]
fn open_and_muted() {
    let found = outlets(SWITCHED);
    for dead in [&found[1], &found[2]] {
        assert_eq!(dead.plateau, Err(Why::Silent));
        assert_eq!(dead.resonance, Err(Why::Silent));
        assert_eq!(dead.corner, Err(Why::Silent));
        assert_eq!(dead.level.shown, Err(Why::Silent));
        assert_eq!(dead.level.shown_re, Err(Why::Silent));
        assert_eq!(dead.hum.fundamental, Err(Why::Silent));
        assert_eq!(dead.hum.verdict, None);
        assert_eq!(dead.signal_over_hum.value, Err(Why::Silent));
        assert!(!dead.signal_over_hum.no_hum);
        assert_eq!(dead.main_coil, None);
    }
    // Hot at ground: exactly nothing, and no resistance. Open: the amp's own input makes no noise here either.
    assert_eq!(found[2].noise.flat, Ok(0.0));
    assert_eq!(found[2].noise.density_1k, Ok(0.0));
    assert_eq!(found[2].impedance.max, Ok(0.0));
    assert_eq!((found[2].impedance.max_at, found[2].impedance.at_band_edge), (Ok(20.0), true));
    assert_eq!(found[1].impedance.at_1k, Err(Why::Open));
    assert_eq!(found[1].lcr.at_120, Err(Why::Open));
}

#[test]
fn meter_open_and_at_ground() {
    let found = all(&harness(SWITCHED));
    let ohms: Vec<_> = found.iter().map(|f| f.meter[0].at_rest).collect();
    assert!(ohms[0].coil_readable);
    assert_eq!((ohms[1].ohms, ohms[1].coil_readable), (Err(Why::Open), false));
    assert_eq!((ohms[2].ohms, ohms[2].coil_readable), (Ok(0.0), false));
}

/// A coil behind a capacitor: the meter reads the pot alone.
#[test]
fn coil_not_readable() {
    let text = "coil lead 6k 2.5H\npot volume 250k audio, role volume\ncapacitor C1 100nF\ncable 500pF\namp 1M\n\
                wire lead.start to C1.1\nwire C1.2 to volume.3\nwire volume.2 to out.tip\nwire out.sleeve to (volume.1, lead.finish)";
    let meter = all(&harness(text))[0].meter[0];
    assert_eq!(meter.at_rest.ohms, Ok(250e3));
    assert!(!meter.at_rest.coil_readable);
    assert_eq!(meter.volumes_at_zero.ohms, Ok(0.0));
    assert!(!meter.volumes_at_zero.coil_readable);
}

/// Two equal coils against each other cancel exactly; what rounding leaves is not a figure.
#[test]
fn an_exact_null_is_a_null() {
    let text = "coil a 6k 2.5H 100pF\ncoil b 6k 2.5H 100pF\ncable 500pF\namp 1M\n\
                wire out.tip to a.start to b.finish\nwire out.sleeve to a.finish to b.start";
    let found = &outlets(text)[0];
    assert_eq!(found.plateau, Err(Why::Silent));
    assert!(found.resonances.is_empty());
    assert_eq!(found.level.coherent, Err(Why::Silent));
    // As powers the two are heard.
    assert!(found.level.powers.is_ok() && found.several_sound);
    assert_eq!(found.hum.cancelling, Err(Why::Silent));
    assert_eq!(found.hum.verdict, Some(Cancelling::Cancels));
    assert!(found.signal_over_hum.no_hum);
    assert!(found.noise.flat.unwrap() > 0.0);
}

/// A silent reference: own figures stay, differences say why not, signal over hum is the plain difference.
#[test]
fn a_silent_reference() {
    let text = format!("{SWITCHED}\nreference mode off");
    let found = &outlets(&text)[0];
    assert!(found.level.shown.is_ok());
    assert_eq!(found.level.shown_re, Err(Why::ReferenceSilent));
    assert_eq!(found.height_re, Err(Why::ReferenceSilent));
    assert_eq!(found.hum.fundamental_re, Err(Why::ReferenceSilent));
    let plain = found.string_level.shown.unwrap() - found.hum.fundamental.unwrap();
    assert_eq!(found.signal_over_hum.value, Ok(plain));
    assert!(found.signal_over_hum.plain);
}

/// Bass cut by a small capacitor: the plateau slopes by nearly 6 dB per octave, and says so.
#[test]
fn a_sloped_plateau() {
    let text = "coil lead 6k 2.5H\ncapacitor C1 1nF\ncable none\namp 100k\nwire lead.start to C1.1\nwire C1.2 to out.tip\n\
                wire lead.finish to out.sleeve";
    let found = &outlets(text)[0];
    assert!(found.sloped);
    assert!((found.slope.unwrap() - 6.0).abs() < 0.1, "{:?}", found.slope);
}

/// A coil of next to no resistance peaks with a Q of tens of thousands: narrower than any equal steps.
#[test]
fn sharp_peaks_are_found() {
    let text = "coil lead 1 2.5H\ncable 500pF\namp 100000M\nwire lead.start to out.tip\nwire lead.finish to out.sleeve";
    let found = &outlets(text)[0];
    // ω0·L over R and what the load adds to it, L/(C·Rp).
    let (l, c, r, load) = (2.5f64, 500e-12f64, 1.0f64, 100e9f64);
    let q = (l / c).sqrt() / (r + l / (c * load));
    let peak = found.the_resonance().unwrap();
    let w0 = 1.0 / (l * c).sqrt();
    let f0 = w0 / std::f64::consts::TAU;
    assert!((peak.frequency / f0 - 1.0).abs() < 1e-9, "{peak:?}");
    // Over the plateau at 100 Hz, which stands 1/(1 − (100/f0)²) above 0 Hz.
    let plateau = 1.0 / (1.0 - (100.0 / f0) * (100.0 / f0));
    let height = 20.0 * libm::log10(q / plateau);
    assert!((peak.height.unwrap() - height).abs() < 1e-6, "{peak:?}");
    assert!((peak.q.unwrap() / q - 1.0).abs() < 1e-6, "{peak:?} {q}");
    assert!(!peak.broad);
}

/// A peak under 3 dB has no half-power points on its lower side: broad, Q none.
#[test]
fn a_low_peak_is_broad() {
    let text = "coil lead 6k 2.5H\ncable 500pF\namp 100k\nwire lead.start to out.tip\nwire lead.finish to out.sleeve";
    let found = &outlets(text)[0];
    let peak = found.the_resonance().unwrap();
    assert!(found.height.unwrap() < 3.0 && peak.prominence.unwrap() > 0.1);
    assert!(peak.broad);
    assert_eq!(found.q(), Err(Why::None));
}

/// Two circuits in series, a peak each: all are listed by rising frequency, the highest is *the* resonance, and a peak's prominence is
/// counted from the saddle between.
#[test]
fn two_peaks() {
    let text = "coil lead 3k 6H\ncapacitor C1 300pF\ncapacitor C2 150pF\ninductor L1 2H 2k\ncable 20pF\namp 10M\n\
                wire lead.start to C1.1 to L1.1\nwire L1.2 to C2.1 to out.tip\nwire out.sleeve to (C1.2, C2.2, lead.finish)";
    let found = &outlets(text)[0];
    assert_eq!(found.resonances.len(), 2);
    let [low, high] = [found.resonances[0], found.resonances[1]];
    assert!(low.frequency < high.frequency);
    let best = if low.magnitude > high.magnitude { 0 } else { 1 };
    assert_eq!(found.resonance, Ok(best));
    let lesser = if best == 0 { high } else { low };
    assert!(lesser.prominence.unwrap() < lesser.magnitude - found.plateau.unwrap() + 40.0);
    assert!(found.corner.unwrap() <= found.last_corner.unwrap());
}

/// A meter behind a capacitor reads negative inductance: capacitive.
#[test]
fn capacitive_at_the_jack() {
    let text = "coil lead 6k 2.5H\ncapacitor C1 10nF\ncable 500pF\namp 1M\nwire lead.start to C1.1\nwire C1.2 to out.tip\n\
                wire lead.finish to out.sleeve";
    let found = &outlets(text)[0];
    let w = std::f64::consts::TAU * 120.0;
    let expected = 2.5 - 1.0 / (w * w * 10e-9);
    assert!((found.lcr.at_120.unwrap() - expected).abs() < 1e-9 * expected.abs());
    assert!(found.lcr.capacitive_at_120);
}

/// 60 Hz has sixteen harmonics up to 1 kHz.
#[test]
fn mains_of_sixty() {
    let text = "coil lead 6k 10mH\ncable none\namp 1000000M\nmains 60Hz\nwire lead.start to out.tip\nwire lead.finish to out.sleeve";
    let found = &outlets(text)[0];
    let over = found.hum.buzz.unwrap() - found.hum.fundamental.unwrap();
    assert!((over - 10.0 * libm::log10(16.0)).abs() < 1e-6);
}

/// Tip and ring with a coil each: figures of their own, and three meter readings.
#[test]
fn two_outlets() {
    let text = "coil neck 6k 2.5H\ncoil bridge 8k 4H\nwire neck.start to out.tip\nwire bridge.start to out.ring\n\
                wire out.sleeve to (neck.finish, bridge.finish)\ncable 500pF\namp 1M";
    let text = format!("coilwright 1\njack out stereo\n{text}\n");
    let compiled = compile("test", &text, &NoFiles);
    let mut harness = compiled.harness.unwrap();
    let jack = harness.lugs[harness.ground.0 as usize].part;
    let ring = harness.lug(jack, "ring").unwrap();
    // A stereo plug in place of the mono one, which joins ring to sleeve.
    harness.outlets.truncate(1);
    let plugged = |j: &Joint| j.kind == JointKind::Plugged && (j.a == ring || j.b == ring);
    harness.joints.retain(|j| !plugged(j));
    harness.outlets.push(Outlet { hot: ring, chain: Vec::new(), amp_input: ring });
    let found = all(&harness).remove(0);
    let sounding = |o: usize| -> Vec<&str> {
        let coils = found.outlets[o].coils.iter();
        coils.filter(|c| c.contributes).map(|c| c.name.as_str()).collect()
    };
    assert_eq!((sounding(0), sounding(1)), (vec!["neck"], vec!["bridge"]));
    let ohms: Vec<f64> = found.meter.iter().map(|m| m.at_rest.ohms.unwrap()).collect();
    for (ohms, expected) in ohms.iter().zip([6e3, 8e3, 14e3]) {
        assert!((ohms - expected).abs() < 1e-8, "{ohms}");
    }
    assert_eq!(found.meter[2].across, Across::TipRing);
    // Each against the same outlet of the reference.
    assert!(found.outlets.iter().all(|o| o.level.shown_re == Ok(0.0)));
}
