//! Many guitars of one wiring against each evaluated on its own.

use super::harness;
use crate::evaluate::{Evaluator, Extent, Known};
use crate::figures::{Figure, Lost, PositionFigures};
use crate::harness::{Harness, PartKind};
use crate::network::{Knobs, Loads, Network, Setting};
use crate::positions::{Wanted, positions};
use crate::resolve::{NoFiles, compile};

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
        let hum = [o.hum.fundamental, o.hum.cancelling, o.signal_over_hum.value, o.lcr.at_120, o.lcr.at_1k];
        let more = [o.level.shown, o.string_level.shown_re, o.brightness.shown, o.hum.buzz, o.impedance.max];
        [&own[..], &hum, &more, &[o.last_corner, o.noise.a_weighted, o.noise.flat, o.impedance.max_at]]
            .concat()
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

/// Guitars of a study are found by what the file's values showed, nearly all of them; and what is found is what each shows alone.
#[test]
fn a_study_looks_where_the_file_showed() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../examples/10-two-humbuckers.harness");
    let nominal = compile("test", &std::fs::read_to_string(path).unwrap(), &NoFiles).harness.unwrap();
    let network = Network::of(&nominal).unwrap();
    let knobs = Knobs::default();
    let all = positions(&nominal, Wanted::default()).unwrap();
    let plan = Evaluator::new(&nominal, &network).unwrap().plan(&all, &knobs, Extent::All).unwrap();
    let parameters = crate::study::parameters(&nominal);
    let (mut found, mut lost) = (0, 0);
    for number in 0..12 {
        let sample = crate::study::built(&nominal, &crate::study::drawn(&parameters, 1, number));
        let network = Network::of(&sample).unwrap();
        let planned = Evaluator::planned(&sample, &network, &plan).unwrap();
        let figures = planned.all(&plan).unwrap();
        let alone = Evaluator::new(&sample, &network).unwrap();
        for (figures, (position, frames)) in figures.iter().zip(&plan.positions) {
            let setting = Setting::new(&position.throws, &knobs, Loads::Plugged);
            match planned.subject.tracked(&setting, Known { frames, extent: Extent::Numbers }) {
                Ok(_) => found += 1,
                Err(Lost) => lost += 1,
            }
            let alone = alone.figures(position, &knobs).unwrap();
            for (a, b) in numbers(figures).into_iter().zip(numbers(&alone)) {
                match (a, b) {
                    (Ok(a), Ok(b)) => assert!((a - b).abs() <= 1e-9 * b.abs().max(1.0), "{number}: {a} {b}"),
                    (a, b) => assert_eq!(a, b),
                }
            }
            let in_play =
                |f: &PositionFigures| f.outlets[0].coils.iter().map(|c| c.contributes).collect::<Vec<_>>();
            assert_eq!(in_play(figures), in_play(&alone));
        }
    }
    assert!(lost * 20 < found, "{lost} of {}", found + lost);
}
