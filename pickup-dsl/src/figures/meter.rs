//! What an ohmmeter reads at the jack: nothing plugged in but the plug, exactly at f = 0.

use solver::{Hertz, Impedance, Layout, Node, Ohms, SolveError, Values, Workspace};

use super::pool::Pool;
use super::{Across, Figure, MeterReading, Reading, Why};
use crate::harness::Harness;
use crate::network::{Knobs, Loads, Network, Section, Setting};

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
    let values = |knobs: &Knobs| values(harness, network, throws, knobs);
    meter_of(harness, network, knobs, &values, None, true)
}

/// A layout of an ohmmeter's circuit, with storage of guitars that are done with, for the next.
#[derive(Debug, Clone)]
pub(crate) struct Ohmmeter {
    layout: Layout,
    pool: Pool<Workspace>,
}

impl Ohmmeter {
    fn new(layout: Layout) -> Ohmmeter {
        Ohmmeter { layout, pool: Pool::default() }
    }

    fn readings(
        &self,
        sections: &[Section],
        values: Values,
        pairs: &[(Across, Node, Node)],
    ) -> Result<Vec<Reading>, SolveError> {
        let mut workspace = self.pool.take().unwrap_or_else(|| self.layout.workspace());
        let found = readings(sections, &mut workspace, values, pairs);
        self.pool.give(workspace);
        found
    }
}

/// The same of values with nothing plugged in, knobs somewhere, and with layouts at hand that were made for other values. Which coils can
/// be read takes most of the time, and need not be asked.
pub(crate) fn meter_of(
    harness: &Harness,
    network: &Network,
    knobs: &Knobs,
    values: &dyn Fn(&Knobs) -> Values,
    known: Option<&[Ohmmeter; 2]>,
    readable: bool,
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
    let down = volumes_down(harness, knobs);
    let read = |knobs: &Knobs, known: Option<&Ohmmeter>| {
        let values = values(knobs);
        let sections = if readable { network.sections.as_slice() } else { &[] };
        match known.filter(|known| known.layout.fits(&values)) {
            Some(known) => known.readings(sections, values, &pairs),
            None => {
                let layout = Layout::dc(&network.circuit, &values, &[])?;
                readings(sections, &mut layout.workspace(), values, &pairs)
            }
        }
    };
    let at_rest = read(knobs, known.map(|[rest, _]| rest))?;
    let at_zero = if down == *knobs { at_rest.clone() } else { read(&down, known.map(|[_, down]| down))? };
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

/// For both readings of a position.
pub(crate) fn ohmmeters(
    harness: &Harness,
    network: &Network,
    throws: &[usize],
    knobs: &Knobs,
) -> Result<[Ohmmeter; 2], SolveError> {
    let of = |knobs: &Knobs| {
        let values = values(harness, network, throws, knobs);
        Layout::dc(&network.circuit, &values, &[]).map(Ohmmeter::new)
    };
    Ok([of(knobs)?, of(&volumes_down(harness, knobs))?])
}

fn values(harness: &Harness, network: &Network, throws: &[usize], knobs: &Knobs) -> Values {
    network.values(harness, &Setting::new(throws, knobs, Loads::Bare))
}

fn volumes_down(harness: &Harness, knobs: &Knobs) -> Knobs {
    let mut down = knobs.clone();
    for (id, pot) in harness.pots() {
        if pot.role.as_deref() == Some("volume") {
            down.0.insert(id, 0.0);
        }
    }
    down
}

/// Tip–sleeve alone, knobs at rest, Ω.
pub(crate) fn tip_to_sleeve(
    harness: &Harness,
    network: &Network,
    throws: &[usize],
) -> Result<Figure, SolveError> {
    let values = values(harness, network, throws, &Knobs::default());
    let layout = Layout::dc(&network.circuit, &values, &[])?;
    let pair = (Across::TipSleeve, network.outlets[0].jack, network.ground);
    Ok(ohms(&mut layout.workspace(), &values, &[pair])?[0])
}

/// Between two nodes each, Ω.
fn ohms(
    workspace: &mut Workspace,
    values: &Values,
    pairs: &[(Across, Node, Node)],
) -> Result<Vec<Figure>, SolveError> {
    let mut point = workspace.factor(values, Hertz(0.0))?;
    let mut between = |a: Node, b: Node| {
        Ok(match point.impedance(a, b)? {
            Impedance::Known(z) => Ok(z.re),
            Impedance::Open => Err(Why::Open),
        })
    };
    pairs.iter().map(|&(_, a, b)| between(a, b)).collect()
}

/// `sections` are the coils whose part in a reading is looked for.
fn readings(
    sections: &[Section],
    workspace: &mut Workspace,
    mut values: Values,
    pairs: &[(Across, Node, Node)],
) -> Result<Vec<Reading>, SolveError> {
    let mut read = |values: &Values| ohms(workspace, values, pairs);
    let sound = read(&values)?;
    let mut readings: Vec<Reading> =
        sound.iter().map(|&ohms| Reading { ohms, coil_readable: false }).collect();
    // No value to move: open, or metal to metal.
    let moves = |f: &Figure| f.is_ok_and(|r| r > 0.0);
    for section in sections {
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
            read(&values)
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
