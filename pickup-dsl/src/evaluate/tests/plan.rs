//! Many guitars of one wiring against each evaluated on its own.

use super::harness;
use crate::evaluate::{Evaluator, Extent};
use crate::figures::{Figure, PositionFigures};
use crate::harness::{Harness, PartKind};
use crate::network::{Knobs, Network};
use crate::positions::{Wanted, positions};

const GUITAR: &str = "coil neck 6k4 2.7H 110pF, loss 320k\ncoil lead 7k 3.1H 120pF, loss 300k\nswitch lever is on-on\n\
     pot volume 500k audio, role volume\ncable 500pF\namp 1M\n\
     wire neck.start to lever.A.1\nwire lead.start to lever.A.2\nwire lever.A.common to volume.3\n\
     wire volume.2 to out.tip\nwire out.sleeve to (volume.1, lead.finish, neck.finish)";

/// Every coil and pot a little different; a capacitance of 0 is another structure.
fn varied(harness: &Harness, by: f64, bare: bool) -> Harness {
    let mut other = harness.clone();
    for part in &mut other.parts {
        match &mut part.kind {
            PartKind::Pickup(pickup) => {
                for coil in &mut pickup.coils {
                    coil.inductance.value *= by;
                    coil.capacitance.value = if bare { 0.0 } else { coil.capacitance.value / (by * by) };
                    coil.dcr.value *= by;
                }
            }
            PartKind::Pot(pot) => pot.gangs[0].track.value *= by,
            _ => {}
        }
    }
    other
}

fn numbers(figures: &PositionFigures) -> Vec<Figure> {
    let of = |o: &crate::figures::OutletFigures| {
        let own = [o.plateau, o.slope, o.resonance_frequency(), o.q(), o.height, o.height_re, o.corner];
        let more = [o.level.shown, o.string_level.shown_re, o.brightness.shown, o.hum.buzz, o.impedance.max];
        [&own[..], &more, &[o.noise.a_weighted, o.noise.flat, o.impedance.max_at]].concat()
    };
    figures.outlets.iter().flat_map(of).collect()
}

#[test]
fn a_plan_serves_all_values_of_its_wiring_and_none_other() {
    let nominal = harness(GUITAR);
    let network = Network::of(&nominal).unwrap();
    let knobs = Knobs::default();
    let all = positions(&nominal, Wanted::default()).unwrap();
    let plan = Evaluator::new(&nominal, &network).unwrap().plan(&all, &knobs, Extent::All).unwrap();
    for (by, bare) in [(1.0, false), (0.93, false), (1.11, false), (1.02, true)] {
        let sample = varied(&nominal, by, bare);
        let network = Network::of(&sample).unwrap();
        let alone = Evaluator::new(&sample, &network).unwrap();
        let planned = Evaluator::planned(&sample, &network, &plan).unwrap().all(&plan).unwrap();
        assert_eq!(planned.len(), all.len());
        for (position, planned) in all.iter().zip(&planned) {
            let alone = alone.figures(position, &knobs).unwrap();
            assert_eq!((&planned.key, planned.outlets.len()), (&alone.key, alone.outlets.len()));
            for (a, b) in numbers(planned).into_iter().zip(numbers(&alone)) {
                match (a, b) {
                    (Ok(a), Ok(b)) => assert!((a - b).abs() <= 1e-9 * b.abs().max(1.0), "{by}: {a} {b}"),
                    (a, b) => assert_eq!(a, b),
                }
            }
            assert_eq!(planned.meter, alone.meter);
        }
    }
}

/// A scratch probe.
#[test]
fn probe() {
    let text = std::fs::read_to_string(concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../examples/10-two-humbuckers.harness"
    ))
    .unwrap();
    let nominal = crate::resolve::compile("test", &text, &crate::resolve::NoFiles).harness.unwrap();
    let network = Network::of(&nominal).unwrap();
    let knobs = Knobs::default();
    let all = positions(&nominal, Wanted::default()).unwrap();
    let plan = Evaluator::new(&nominal, &network).unwrap().plan(&all, &knobs, Extent::Numbers).unwrap();
    for (p, frames) in plan.positions.iter() {
        println!(
            "{:?} {:?} traces {:?}",
            p.name,
            frames.plugged.layout.unknowns(),
            frames
                .tracks
                .iter()
                .map(|t| t.as_ref().map(|t| (format!("{:?}", t.trace), t.driving.len())))
                .collect::<Vec<_>>()
        );
        println!(
            "   ops {} bare {} {}",
            frames.plugged.layout.operations(),
            frames.bare.layout.unknowns(),
            frames.bare.layout.operations()
        );
    }
    let parameters = crate::study::parameters(&nominal);
    for number in 0..10 {
        let sample = crate::study::built(&nominal, &crate::study::drawn(&parameters, 1, number));
        let network = Network::of(&sample).unwrap();
        let e = Evaluator::planned(&sample, &network, &plan).unwrap();
        for (position, frames) in &plan.positions {
            let setting =
                crate::network::Setting::new(&position.throws, &knobs, crate::network::Loads::Plugged);
            let known = crate::evaluate::Known { frames, extent: Extent::Numbers };
            if e.subject.tracked(&setting, known).is_err() {
                println!("lost {number} {:?}", position.name);
            }
        }
    }
}
