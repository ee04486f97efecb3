//! The acceptance card: what each position of a finished guitar must show to a meter, a screwdriver and an ear.
//!
//! Everything is computed from the same networks as the report. A DC resistance rises with every resistance in it (Rayleigh's monotonicity
//! law), so all of them at their lower and all at their upper limit give the exact band of a reading.

use num_complex::Complex64;
use solver::{Hertz, Layout, Outcome, Output, Source};

use crate::evaluate::{Detail, Evaluator, FigureError, explain};
use crate::figures::{Across, Cancelling, Figure, MeterReading, PositionFigures, meter};
use crate::float::modulus;
use crate::harness::tolerance::{Sort, at_limits, with_resistances};
use crate::harness::{self, Harness, LugId, PartId, PartKind, wire};
use crate::network::{Joints, Knobs, Loads, Network, Setting};
use crate::positions::Position;

mod apart;

pub use apart::{Test, tells};

/// Lugs to try against the sleeve with a meter: metal that must be at ground, and the strings; in order of the file.
#[must_use]
pub fn metal(harness: &Harness) -> Vec<LugId> {
    let strings = harness.parts.iter().filter(|part| matches!(part.kind, PartKind::Strings));
    let mut all: Vec<LugId> = harness::metal::metal(harness);
    all.extend(strings.flat_map(|part| part.lugs.clone()).map(LugId));
    all.sort_unstable();
    all
}

/// Where tapping is compared, Hz.
const TAP_HERTZ: f64 = 1000.0;
/// A tap is loud above this share of the loudest: −10 dB.
const LOUD: f64 = 0.316_227_766_016_837_94;
/// A tap is faint above this share of the loudest: −30 dB.
const FAINT: f64 = 0.031_622_776_601_683_79;
/// A coil is silenced below this share of what it gave: −40 dB.
const SILENCED: f64 = 1e-2;
/// A coil swings a meter above this share of the largest swing.
const SWINGS: f64 = 1e-3;
/// A reading moves if it does so by more than this share of itself.
const MOVES: f64 = 1e-6;

/// The bench on which the guitar is tried.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Conditions {
    /// Room temperature, °C.
    pub celsius: f64,
    /// It may be off by so many kelvins either way.
    pub spread: f64,
    /// The meter may be off by this share of a reading.
    pub meter: f64,
}

impl Default for Conditions {
    /// 20 °C, 5 K either way, a meter of 1 %.
    fn default() -> Self {
        Conditions { celsius: wire::ROOM, spread: 5.0, meter: 0.01 }
    }
}

/// What a meter must show between two lugs of the jack.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Band {
    /// With every part at its value, at the stated temperature, Ω.
    pub nominal: Figure,
    /// All parts at their lower limits, the room as cold as may be, the meter low, Ω.
    pub low: Figure,
    /// All parts at their upper limits, the room as warm as may be, the meter high, Ω.
    pub high: Figure,
    /// Some coil's resistance shows in it.
    pub coil_readable: bool,
}

/// A reading at the jack, nothing plugged in but the meter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// Where the leads are.
    pub across: Across,
    /// Knobs at rest.
    pub at_rest: Band,
    /// Pots of role `volume` at 0.
    pub volumes_at_zero: Band,
}

/// What turning down one volume does.
#[derive(Debug, Clone, PartialEq)]
pub struct Down {
    /// The pot.
    pub pot: PartId,
    /// Pickups that sounded and are silent now.
    pub silenced: Vec<PartId>,
    /// Pickups that still sound.
    pub left: Vec<PartId>,
}

/// A tone that moves the meter, which it must not behind a capacitor.
#[derive(Debug, Clone, PartialEq)]
pub struct Moved {
    /// The pot.
    pub pot: PartId,
    /// Where the leads are.
    pub across: Across,
    /// With the knob at 10 and at 0, Ω.
    pub readings: [Figure; 2],
}

/// How loud a coil answers to a tap on its poles.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Tap {
    /// At most 10 dB below the loudest.
    Loud,
    /// 10 to 30 dB below it.
    Faint,
    /// More than 30 dB below it, or nothing at all.
    Silent,
}

/// Which way the meter swings as steel is pulled off a coil's poles.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Swing {
    /// The way of the first coil that swings it.
    Same,
    /// The other way.
    Opposite,
    /// Not at all.
    Still,
}

/// One coil at one outlet.
#[derive(Debug, Clone, PartialEq)]
pub struct CoilTests {
    /// `neck.slug`.
    pub name: String,
    /// Tapped.
    pub tap: Tap,
    /// Steel pulled off.
    pub swing: Swing,
    /// Volts at the jack per volt of its EMF at 0 Hz have this sign in a meter with its red lead on hot; 0: none.
    pub sign: i8,
}

/// What is heard and seen at one outlet.
#[derive(Debug, Clone, PartialEq)]
pub struct OutletTests {
    /// In order of the file; the sections of a tapped coil are one.
    pub coils: Vec<CoilTests>,
    /// Does a DC voltage of a coil get to the jack at all?
    pub swing_readable: bool,
    /// The hum cancels; None: there is none.
    pub hum: Option<Cancelling>,
}

/// One position.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// Its key.
    pub key: String,
    /// Its name, if the file gives one.
    pub name: Option<String>,
    /// Tip–sleeve; with two outlets also ring–sleeve and tip–ring.
    pub readings: Vec<Reading>,
    /// In order of the file; those pots that something sounds through.
    pub volumes: Vec<Down>,
    /// Tones that move the reading; none is as it should be.
    pub moved: Vec<Moved>,
    /// In order of the outlets.
    pub outlets: Vec<OutletTests>,
    /// Metal that is not at ground here: see [`metal`].
    pub off_ground: Vec<LugId>,
}

/// The card of a guitar.
#[derive(Debug, Clone, PartialEq)]
pub struct Card {
    /// The bench.
    pub conditions: Conditions,
    /// In the order given.
    pub positions: Vec<Entry>,
    /// An active part stands in the guitar: what lies before it can't be read at the jack.
    pub active: bool,
}

/// The card for the positions given; `figures` are theirs, one each, knobs at rest.
///
/// # Errors
/// A position that can't be solved.
pub fn card(
    evaluator: &Evaluator<'_>,
    positions: &[Position],
    figures: &[PositionFigures],
    conditions: Conditions,
) -> Result<Card, FigureError> {
    let harness = evaluator.harness();
    let Conditions { celsius, spread, meter } = conditions;
    let benches = Benches {
        nominal: Bench::new(warmed(harness, celsius), 1.0)?,
        low: Bench::new(warmed(&at_limits(harness, false), celsius - spread), 1.0 - meter)?,
        high: Bench::new(warmed(&at_limits(harness, true), celsius + spread), 1.0 + meter)?,
    };
    let entries = positions
        .iter()
        .zip(figures)
        .map(|(position, figures)| entry(evaluator, &benches, position, figures));
    Ok(Card { conditions, positions: entries.collect::<Result<_, _>>()?, active: harness.is_active() })
}

/// Copper as it is at that temperature.
pub(crate) fn warmed(harness: &Harness, celsius: f64) -> Harness {
    with_resistances(harness, |sort, _| match sort {
        Sort::Winding => wire::at_temperature(1.0, celsius),
        _ => 1.0,
    })
}

/// A harness whose resistances are off, and a meter that is.
struct Bench {
    harness: Harness,
    network: Network,
    meter: f64,
}

impl Bench {
    fn new(harness: Harness, meter: f64) -> Result<Bench, FigureError> {
        let network = Network::of(&harness)?;
        Ok(Bench { harness, network, meter })
    }

    fn read(&self, position: &Position, knobs: &Knobs) -> Result<Vec<MeterReading>, FigureError> {
        meter(&self.harness, &self.network, &position.throws, knobs).map_err(|e| explain(&self.network, e))
    }
}

struct Benches {
    nominal: Bench,
    low: Bench,
    high: Bench,
}

fn entry(
    evaluator: &Evaluator<'_>,
    benches: &Benches,
    position: &Position,
    figures: &PositionFigures,
) -> Result<Entry, FigureError> {
    let harness = evaluator.harness();
    Ok(Entry {
        key: position.key.clone(),
        name: position.name.clone(),
        readings: readings(benches, position)?,
        volumes: volumes(evaluator, position)?,
        moved: moved(evaluator, position)?,
        outlets: outlets(evaluator, position, figures)?,
        off_ground: {
            let rest = Knobs::default();
            let joints =
                Joints::of(evaluator.network(), harness, &Setting::new(&position.throws, &rest, Loads::Bare));
            metal(harness).into_iter().filter(|lug| !joints.at_ground(*lug)).collect()
        },
    })
}

fn readings(benches: &Benches, position: &Position) -> Result<Vec<Reading>, FigureError> {
    let rest = Knobs::default();
    let [nominal, low, high] =
        [&benches.nominal, &benches.low, &benches.high].map(|bench| bench.read(position, &rest));
    let (nominal, low, high) = (nominal?, low?, high?);
    let band = |pick: fn(&MeterReading) -> crate::figures::Reading, i: usize| Band {
        nominal: pick(&nominal[i]).ohms,
        low: pick(&low[i]).ohms.map(|ohms| ohms * benches.low.meter),
        high: pick(&high[i]).ohms.map(|ohms| ohms * benches.high.meter),
        coil_readable: pick(&nominal[i]).coil_readable,
    };
    Ok((0..nominal.len())
        .map(|i| Reading {
            across: nominal[i].across,
            at_rest: band(|reading| reading.at_rest, i),
            volumes_at_zero: band(|reading| reading.volumes_at_zero, i),
        })
        .collect())
}

/// What each coil gives at the amp at [`TAP_HERTZ`], V, outlet by outlet, in order of the sections.
fn given(
    evaluator: &Evaluator<'_>,
    position: &Position,
    knobs: &Knobs,
) -> Result<Vec<Vec<Complex64>>, FigureError> {
    let curves = evaluator.curves(position, knobs, &[TAP_HERTZ], Detail::Response)?;
    let first = |section: &Vec<Option<Complex64>>| section.first().copied().flatten().unwrap_or_default();
    Ok(curves.outlets.iter().map(|outlet| outlet.sections.iter().map(first).collect()).collect())
}

fn volumes(evaluator: &Evaluator<'_>, position: &Position) -> Result<Vec<Down>, FigureError> {
    let harness = evaluator.harness();
    let network = evaluator.network();
    let before = given(evaluator, position, &Knobs::default())?;
    let loudest = before.iter().flatten().fold(0.0, |most, c| modulus(*c).max(most));
    let mut all = Vec::new();
    for (pot, _) in harness.pots().filter(|(_, pot)| pot.role.as_deref() == Some("volume")) {
        let after = given(evaluator, position, &Knobs([(pot, 0.0)].into()))?;
        // A pickup as a whole: its coils may cancel each other, so each counts by itself.
        let sums = |given: &[Vec<Complex64>], pickup: PartId| -> f64 {
            let of = |outlet: &Vec<Complex64>| -> f64 {
                let own = network.sections.iter().zip(outlet).filter(|(section, _)| section.pickup == pickup);
                own.map(|(_, c)| modulus(*c)).sum()
            };
            given.iter().map(of).sum()
        };
        let mut pickups: Vec<PartId> = network.sections.iter().map(|section| section.pickup).collect();
        pickups.dedup();
        pickups.retain(|pickup| sums(&before, *pickup) > FAINT * loudest && loudest > 0.0);
        let (silenced, left) =
            pickups.into_iter().partition(|pickup| sums(&after, *pickup) < SILENCED * sums(&before, *pickup));
        all.push(Down { pot, silenced, left });
    }
    Ok(all)
}

fn moved(evaluator: &Evaluator<'_>, position: &Position) -> Result<Vec<Moved>, FigureError> {
    let harness = evaluator.harness();
    let network = evaluator.network();
    let mut all = Vec::new();
    for (pot, _) in harness.pots().filter(|(_, pot)| pot.role.as_deref() == Some("tone")) {
        let read = |knob: f64| {
            meter(harness, network, &position.throws, &Knobs([(pot, knob)].into()))
                .map_err(|e| explain(network, e))
        };
        for (open, shut) in read(10.0)?.into_iter().zip(read(0.0)?) {
            let readings = [open.at_rest.ohms, shut.at_rest.ohms];
            let still = match readings {
                [Ok(a), Ok(b)] => (a - b).abs() <= MOVES * a.abs().max(b.abs()),
                [a, b] => a == b,
            };
            if !still {
                all.push(Moved { pot, across: open.across, readings });
            }
        }
    }
    Ok(all)
}

fn outlets(
    evaluator: &Evaluator<'_>,
    position: &Position,
    figures: &PositionFigures,
) -> Result<Vec<OutletTests>, FigureError> {
    let network = evaluator.network();
    let harness = evaluator.harness();
    let given = given(evaluator, position, &Knobs::default())?;
    let swings = swings(evaluator, position)?;
    let coils = coils(network, harness);
    let sum =
        |sections: &[usize], of: &[Complex64]| modulus(sections.iter().map(|&s| of[s]).sum::<Complex64>());
    Ok(given
        .iter()
        .zip(&swings)
        .zip(figures.outlets.iter().zip(&figures.meter))
        .map(|((given, swings), (figures, meter))| {
            // A coil that moves no reading swings no meter, by reciprocity; what an active part passes at 0 Hz is not what it is built for.
            let swings = swings.as_ref().filter(|_| meter.at_rest.coil_readable);
            let loudest = coils.iter().map(|(_, sections)| sum(sections, given)).fold(0.0, f64::max);
            let strongest = swings.into_iter().flatten().fold(0.0, |most: f64, v| v.abs().max(most));
            let volts = |sections: &[usize]| -> f64 {
                swings.map_or(0.0, |swings| sections.iter().map(|&s| swings[s]).sum())
            };
            let sign = |volts: f64| if volts.abs() <= SWINGS * strongest { 0 } else { volts.signum() as i8 };
            let first = coils.iter().map(|(_, sections)| sign(volts(sections))).find(|sign| *sign != 0);
            OutletTests {
                coils: coils
                    .iter()
                    .map(|(name, sections)| {
                        let loud = sum(sections, given);
                        let sign = sign(volts(sections));
                        CoilTests {
                            name: name.clone(),
                            tap: match loud {
                                _ if loudest <= 0.0 || loud < FAINT * loudest => Tap::Silent,
                                _ if loud < LOUD * loudest => Tap::Faint,
                                _ => Tap::Loud,
                            },
                            swing: match (sign, first) {
                                (0, _) | (_, None) => Swing::Still,
                                (own, Some(first)) if own == first => Swing::Same,
                                _ => Swing::Opposite,
                            },
                            sign,
                        }
                    })
                    .collect(),
                swing_readable: first.is_some(),
                hum: figures.hum.verdict,
            }
        })
        .collect())
}

/// Each coil's name and its sections; piezo elements and dummies are not tapped.
fn coils(network: &Network, harness: &Harness) -> Vec<(String, Vec<usize>)> {
    let mut all: Vec<((PartId, usize), String, Vec<usize>)> = Vec::new();
    for (index, section) in network.sections.iter().enumerate() {
        let PartKind::Pickup(pickup) = &harness.part(section.pickup).kind else { continue };
        let Some(coil) = pickup.coils.get(section.coil).filter(|coil| coil.strength != 0.0) else { continue };
        let key = (section.pickup, section.coil);
        if let Some((_, _, sections)) = all.iter_mut().find(|(known, ..)| *known == key) {
            sections.push(index);
            continue;
        }
        let part = &harness.part(section.pickup).name;
        let name = if coil.name.is_empty() { part.clone() } else { format!("{part}.{}", coil.name) };
        all.push((key, name, vec![index]));
    }
    all.into_iter().map(|(_, name, sections)| (name, sections)).collect()
}

/// Volts at each jack that each section's EMF gives at 0 Hz, by steel pulled off its poles; None where no DC gets there.
fn swings(evaluator: &Evaluator<'_>, position: &Position) -> Result<Vec<Option<Vec<f64>>>, FigureError> {
    let network = evaluator.network();
    let rest = Knobs::default();
    let values = network.values(evaluator.harness(), &Setting::new(&position.throws, &rest, Loads::Bare));
    let unsolved = |e| explain(network, e);
    let layout = Layout::dc(&network.circuit, &values, &[]).map_err(unsolved)?;
    let mut workspace = layout.workspace();
    let mut point = workspace.factor(&values, Hertz(0.0)).map_err(unsolved)?;
    let mut all = Vec::new();
    let mut transfers = Vec::new();
    for outlet in &network.outlets {
        let output = Output::Voltage(outlet.jack, network.ground);
        let known = point.transfers(output, &mut transfers).map_err(unsolved)? == Outcome::Known(());
        let of = |section: &crate::network::Section| {
            let source = Source::Voltage(section.emf);
            let place = network.circuit.sources().iter().position(|s| *s == source);
            place.map_or(0.0, |place| transfers[place].re * section.signal)
        };
        all.push(known.then(|| network.sections.iter().map(of).collect()));
    }
    Ok(all)
}

#[cfg(test)]
mod tests;
