//! What an ohmmeter reads at the jack: nothing plugged in but the plug, exactly at f = 0.

use solver::{Hertz, Impedance, Layout, Node, Ohms, SolveError, Values};

use super::{Across, Figure, MeterReading, Reading, Why};
use crate::harness::Harness;
use crate::network::{Knobs, Loads, Network, Setting};

/// A coil whose resistance moves the reading by less than this share of itself can't be read.
const READABLE: f64 = 1e-6;
/// Step of the difference quotient, as a share of the coil's resistance.
const STEP: f64 = 1e-4;

/// Tip–sleeve; with two outlets also ring–sleeve and tip–ring.
pub(crate) fn meter(
    harness: &Harness,
    network: &Network,
    throws: &[usize],
    knobs: &Knobs,
) -> Result<Vec<MeterReading>, SolveError> {
    let ground = network.ground;
    let jacks: Vec<Node> = network.outlets.iter().map(|o| o.jack).collect();
    let pairs: Vec<(Across, Node, Node)> = match jacks.as_slice() {
        [] => Vec::new(),
        [tip] => vec![(Across::TipSleeve, *tip, ground)],
        [tip, ring, ..] => vec![
            (Across::TipSleeve, *tip, ground),
            (Across::RingSleeve, *ring, ground),
            (Across::TipRing, *tip, *ring),
        ],
    };
    let mut down = knobs.clone();
    for (id, pot) in harness.pots() {
        if pot.role.as_deref() == Some("volume") {
            down.0.insert(id, 0.0);
        }
    }
    let read = |knobs: &Knobs| {
        let setting =
            Setting { throws, knobs, loads: Loads::Bare, without_stray: false, lifted: None, generic: false };
        readings(network, network.values(harness, &setting), &pairs)
    };
    let at_rest = read(knobs)?;
    let at_zero = if down == *knobs { at_rest.clone() } else { read(&down)? };
    Ok(pairs
        .iter()
        .zip(at_rest.into_iter().zip(at_zero))
        .map(|(&(across, _, _), (at_rest, volumes_at_zero))| MeterReading {
            across,
            at_rest,
            volumes_at_zero,
        })
        .collect())
}

fn readings(
    network: &Network,
    mut values: Values,
    pairs: &[(Across, Node, Node)],
) -> Result<Vec<Reading>, SolveError> {
    let layout = Layout::dc(&network.circuit, &values, &[])?;
    let mut workspace = layout.workspace();
    let mut ohms = |values: &Values| -> Result<Vec<Figure>, SolveError> {
        let mut point = workspace.factor(values, Hertz(0.0))?;
        pairs
            .iter()
            .map(|&(_, a, b)| {
                Ok(match point.impedance(a, b)? {
                    Impedance::Known(z) => Ok(z.re),
                    Impedance::Open => Err(Why::Open),
                })
            })
            .collect()
    };
    let read = ohms(&values)?;
    let mut readings: Vec<Reading> =
        read.iter().map(|&ohms| Reading { ohms, coil_readable: false }).collect();
    // No value to move: open, or metal to metal.
    let moves = |f: &Figure| f.is_ok_and(|r| r > 0.0);
    for section in &network.sections {
        if !readings.iter().any(|r| moves(&r.ohms) && !r.coil_readable) {
            break;
        }
        let e = section.resistance;
        let r = values.resistance(e).0;
        if !(r > 0.0 && r < f64::INFINITY) {
            continue;
        }
        let mut with = |r: f64| {
            let set = values.set_resistance(e, Ohms(r));
            debug_assert!(set.is_ok(), "a finite resistance of this circuit");
            ohms(&values)
        };
        let (up, down) = (with(r * (1.0 + STEP))?, with(r * (1.0 - STEP))?);
        with(r)?;
        for ((reading, up), down) in readings.iter_mut().zip(up).zip(down) {
            if let (Ok(ohms), Ok(up), Ok(down)) = (reading.ohms, up, down)
                && ohms > 0.0
            {
                reading.coil_readable |= (up - down).abs() > 2.0 * STEP * READABLE * ohms;
            }
        }
    }
    Ok(readings)
}
