use super::{Fault, faults, with};
use crate::card::{Conditions, card};
use crate::evaluate::Evaluator;
use crate::harness::Harness;
use crate::network::{Knobs, Network};
use crate::positions::{Wanted, positions};
use crate::resolve::{NoFiles, compile};

const GUITAR: &str = "coilwright 1\ncoil a 6k 2.4H\npot volume 250k audio, role volume\njack out\ncable 500pF\namp 1M\n\
    wire a.start to volume.3\nwire volume.2 to out.tip\nwire a.finish to volume.1\nwire volume.1 to out.sleeve";

fn harness() -> Harness {
    compile("test", GUITAR, &NoFiles).harness.expect("sound")
}

#[test]
fn each_fault_reads_what_ohms_law_says() {
    let harness = harness();
    let network = Network::of(&harness).unwrap();
    let evaluator = Evaluator::new(&harness, &network).unwrap();
    let positions = positions(&harness, Wanted::default()).unwrap();
    let figures = [evaluator.figures(&positions[0], &Knobs::default()).unwrap()];
    let card = card(&evaluator, &positions, &figures, Conditions::default()).unwrap();
    let all = faults(&harness, &positions, &card).unwrap();
    let reads = |fault: Fault| {
        let effect = all.iter().find(|effect| effect.fault == fault).unwrap_or_else(|| panic!("{fault:?}"));
        (effect.shown.first().map(|shown| shown.reads), effect.is_seen())
    };
    let lug = |name: &str| {
        let all = (0..harness.lugs.len() as u32).map(crate::harness::LugId);
        all.into_iter().find(|lug| harness.lug_name(*lug) == name).unwrap()
    };
    let the_track = |(reads, seen): (Option<crate::figures::Figure>, bool)| {
        let ohms = reads.unwrap().unwrap();
        assert!((ohms / 250e3 - 1.0).abs() < 1e-12 && seen, "{ohms}");
    };
    the_track(reads(Fault::Open(lug("a.start"), lug("volume.3"))));
    let (open, seen) = reads(Fault::Open(lug("volume.2"), lug("out.tip")));
    assert!(open.unwrap().is_err() && seen);
    assert_eq!(reads(Fault::Bridge(lug("volume.1"), lug("volume.2"))), (Some(Ok(0.0)), true));
    // At 10 the wiper sits on lug 3 already.
    assert_eq!(reads(Fault::Bridge(lug("volume.2"), lug("volume.3"))), (None, false));
    let misplaced = Fault::Misplaced { from: lug("a.finish"), to: lug("volume.1"), on: lug("volume.2") };
    the_track(reads(misplaced));
}

#[test]
fn a_fault_changes_one_joint() {
    let harness = harness();
    let wire = harness.joints.iter().find(|joint| joint.kind == crate::harness::JointKind::Wire).unwrap();
    let open = with(&harness, Fault::Open(wire.b, wire.a));
    assert_eq!(open.joints.len(), harness.joints.len() - 1);
    assert_eq!(with(&harness, Fault::Bridge(wire.a, wire.b)).joints.len(), harness.joints.len() + 1);
}
