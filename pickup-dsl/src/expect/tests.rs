//! Expectations of small guitars whose figures are known in closed form.

use super::{Judge, about, diagnose, knobs_of};
use crate::evaluate::Evaluator;
use crate::harness::Harness;
use crate::network::{Knobs, Network};
use crate::positions::{Position, Wanted, positions};
use crate::resolve::{NoFiles, compile};

/// A buffer drives the jack: at `full` directly, at `half` through two equal resistors, which is 20 lg ½ = −6.0206 dB at every
/// frequency into the unloaded amp; at `off` hot is at ground.
const HALVED: &str = "coilwright 1
coil lead 6k 2H, turns 5000, hum-area 1
buffer stage 1M, output 0
pot volume 500k linear, role volume
switch pad is rotary, throws (full half off)
resistor R1 10k
resistor R2 10k
jack out
cable none
amp 1000G
wire lead.start to volume.3
wire volume.2 to stage.in
wire stage.out to pad.A.full to R1.1
wire R1.2 to R2.1 to pad.A.half
wire pad.A.common to out.tip
wire pad.A.off to out.sleeve to lead.finish to volume.1 to R2.2 to stage.ground
position \"Half\" pad half
position \"Off\" pad off
curve flat { 100Hz 0dB, 10kHz 0dB }
curve halved { 100Hz -6.02dB, 1kHz -6.0206dB }
";

/// The same with a switch written out, since bodies of the library have other throws.
fn halved() -> String {
    HALVED.replace(
        "switch pad is rotary, throws (full half off)",
        "switch pad { poles (A) throws (full half off) }",
    )
}

/// Two coils of one pickup in series, one turned round by a switch, both shorted into silence by another throw.
const TWO: &str = "coilwright 1
pickup twin {
  coil slug 4k 2H, turns 5000, pole south
  coil screw 4k 2H, turns 5000, pole north
  coupling 0
}
switch flip { poles (A B) throws (in out) }
jack out
cable none
wire twin.slug.finish to flip.A.common
wire flip.A.in to twin.screw.finish to flip.B.out
wire flip.A.out to twin.screw.start to flip.B.in
wire flip.B.common to out.sleeve
wire twin.slug.start to out.tip
";

fn compiled(text: &str) -> Harness {
    let compiled = compile("main", text, &NoFiles);
    compiled.harness.unwrap_or_else(|| panic!("{:#?}", compiled.diagnostics))
}

/// Which expectations of the text hold.
fn verdicts(guitar: &str, claims: &[&str]) -> Vec<bool> {
    let text = claims.iter().fold(guitar.to_owned(), |text, claim| format!("{text}expect {claim}\n"));
    let harness = compiled(&text);
    let network = Network::of(&harness).expect("a circuit");
    let evaluator = Evaluator::new(&harness, &network).expect("a reference");
    let positions = positions(&harness, Wanted::default()).expect("few");
    let solve = |p: &Position, k: &Knobs| evaluator.figures(p, k);
    let mut judge = Judge::new(&evaluator, &positions, &solve);
    harness
        .expectations
        .iter()
        .enumerate()
        .map(|(i, expectation)| {
            let found = judge.verdicts(i).expect("solved");
            let holds = !found.is_empty() && found.iter().all(|v| v.holds);
            let message = diagnose(&harness, expectation, &found);
            assert_eq!(holds, message.is_none(), "{}", expectation.text);
            println!("{}: {message:?}", expectation.text);
            holds
        })
        .collect()
}

fn all(guitar: &str, holds: bool, claims: &[&str]) {
    let found = verdicts(guitar, claims);
    let other: Vec<_> = claims.iter().zip(found).filter(|(_, found)| *found != holds).collect();
    assert!(other.is_empty(), "should {}hold: {other:#?}", if holds { "" } else { "not " });
}

#[test]
fn limits_of_a_halved_signal() {
    // 20 lg 2 = 6.0206; the same of every level.
    let guitar = halved();
    all(
        &guitar,
        true,
        &[
            "level at least -6.03dB, in \"Half\"",
            "level at most -6.02dB, in pad half",
            "level from -6.03dB to -6.01dB, in \"Half\"",
            "string-level within 0.01dB of -6.02dB, in \"Half\"",
            "level at least 6.02dB over \"Half\", in pad full",
            "level at least 6.02dB under reference, in \"Half\"",
            "level at most 6.03dB under reference, in \"Half\"",
            "plateau at most 6.03dB under (pad full), in \"Half\"",
            "hum at most -6dB, in \"Half\"",
            "level at most -60dB, in \"Off\"",
            "resonance none, in \"Half\"",
            "brightness within 0.001dB of reference, in \"Half\"",
            "response within 0.001dB of -6.0206dB from 100Hz to 300Hz, in \"Half\"",
            "response within 0.001dB of halved from 100Hz to 300Hz, in \"Half\"",
            "response within 6.03dB of flat from 100Hz to 1kHz, in \"Half\"",
            "response within 6.021dB of reference from 20Hz to 20kHz, in \"Half\"",
            "silence, in \"Off\"",
            "sound, in \"Half\"",
        ],
    );
    all(
        &guitar,
        false,
        &[
            "level at least -6.01dB, in \"Half\"",
            "level at most -6.03dB, in pad half",
            "level at least 6.03dB over \"Half\", in pad full",
            "level at least 6.03dB under reference, in \"Half\"",
            "level at most 6.01dB under reference, in \"Half\"",
            "level at least -60dB, in \"Off\"",
            "level at least -60dB",
            "resonance at most 90% of reference, in \"Half\"",
            "level none, in \"Half\"",
            "meter at least 1M, in \"Off\" and \"Half\"",
            "response within 6.02dB of flat from 100Hz to 1kHz, in \"Half\"",
            "response at least -60dB from 100Hz to 1kHz, in \"Off\"",
            "response within 6.02dB of reference from 20Hz to 20kHz, in \"Half\"",
            "sound, in \"Off\"",
            "silence, in \"Half\"",
            "step at most 6.01dB",
            "level at least 3dB over \"Off\", in \"Half\"",
        ],
    );
}

#[test]
fn a_resonance_in_closed_form() {
    // Series R, L into C alone: |H| is largest at ω² = 1/(L·C) − R²/(2·L²) (any textbook on circuits).
    let guitar = "coilwright 1
coil lead 10k 4H
jack out
cable 500pF
amp 1000G
wire lead.start to out.tip
wire lead.finish to out.sleeve
";
    let (r, l, c): (f64, f64, f64) = (10e3, 4.0, 500e-12);
    let peak = (1.0 / (l * c) - r * r / (2.0 * l * l)).sqrt() / std::f64::consts::TAU;
    let (below, above) = (peak * (1.0 - 1e-6), peak * (1.0 + 1e-6));
    let claims =
        [format!("resonance from {below:.4}Hz to {above:.4}Hz"), format!("resonance at most {below:.4}Hz")];
    let claims: Vec<&str> = claims.iter().map(String::as_str).collect();
    assert_eq!(verdicts(guitar, &claims), [true, false]);
    // The meter sees the coil alone.
    assert_eq!(
        verdicts(
            guitar,
            &["meter within 0.001% of 10k", "meter from 10.1k to 11k", "inductance within 2% of 4H"]
        ),
        [true, false, true]
    );
}

#[test]
fn knobs_of_an_expectation_turn() {
    // A linear track at 5 halves the voltage before the buffer: 6.02 dB, less the coil's own loading.
    let guitar = halved();
    all(
        &guitar,
        true,
        &[
            "level at most 8dB under itself, with volume 5, in pad full",
            "level at least 5.9dB under itself, with volume 5, in pad full",
            "brightness within 6dB of itself, in pad full, with volume 5, because \"it keeps its treble\"",
            "silence, with volume 0",
        ],
    );
    all(
        &guitar,
        false,
        &["level at least 7dB under itself, with volume 5, in pad full", "sound, with volume 0"],
    );
}

#[test]
fn coils_in_play() {
    all(
        TWO,
        true,
        &[
            "coils twin in series in phase, in flip in",
            "coils twin.screw and twin.slug, in flip in",
            "coils twin in series out of phase, in flip out",
            "hum cancels, in flip in",
            "hum-cancelling at most -100dB, in flip in",
        ],
    );
    all(
        TWO,
        false,
        &[
            "coils twin.slug, in flip in",
            "coils twin in parallel, in flip in",
            "coils twin out of phase, in flip in",
            "coils twin in phase, in flip out",
            "hum cancels, in flip out",
        ],
    );
}

#[test]
fn a_block_says_once_what_is_said_of_all() {
    let text = format!(
        "{}expect in \"Half\", for every build, because \"quiet\" {{
  level at least -7dB
  level at most -5dB, in pad full, for 90% of builds
  sound, because \"it must\"
}}
",
        halved()
    );
    let harness = compiled(&text);
    let [first, second, third] = &harness.expectations[..] else { panic!("three") };
    assert_eq!(first.because.as_deref(), Some("quiet"));
    assert_eq!(third.because.as_deref(), Some("it must"));
    assert_eq!(first.places, third.places);
    assert_ne!(first.places, second.places);
    assert_eq!(second.builds, crate::harness::Builds::Share(0.9));
    assert_eq!(first.builds, crate::harness::Builds::Every);
    assert_eq!(second.text, "level at most -5dB");
    assert_eq!(knobs_of(first), Knobs::default());
}

#[test]
fn an_expectation_is_about_what_it_names_even_where_that_is_not_reported() {
    let text = format!("{}positions named only\nexpect sound, in pad full\nexpect sound\n", halved());
    let harness = compiled(&text);
    let listed = positions(&harness, Wanted::default()).expect("few");
    let keys = |i: usize| -> Vec<String> {
        about(&harness, &harness.expectations[i], &listed).into_iter().map(|p| p.key).collect()
    };
    assert_eq!(keys(0), ["rest"]);
    assert_eq!(keys(1), ["pad=half", "pad=off"]);
}
