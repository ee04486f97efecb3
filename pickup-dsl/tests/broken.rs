//! Harnesses that are broken on purpose: what the bench says of each.

use std::collections::BTreeSet;

use pickup_dsl::check::check;
use pickup_dsl::evaluate::Evaluator;
use pickup_dsl::network::{Knobs, Network};
use pickup_dsl::positions::{Wanted, positions};
use pickup_dsl::resolve::{NoFiles, compile};

const REST: &str = "coilwright 1
pot volume 500k audio, role volume
jack out
strings
cable 5m 100pF/m
amp 1M
wire volume.2 to out.tip
wire out.sleeve to volume.1, volume.case, strings
";

/// The codes of all warnings.
fn warned(body: &str) -> BTreeSet<&'static str> {
    let compiled = compile("main.harness", &format!("{REST}{body}"), &NoFiles);
    let said: Vec<_> = compiled.diagnostics.iter().map(|d| &d.message).collect();
    let harness = compiled.harness.unwrap_or_else(|| panic!("{said:?}"));
    let network = Network::of(&harness).expect("a network");
    let evaluator = Evaluator::new(&harness, &network).expect("a reference");
    let positions = positions(&harness, Wanted::default()).expect("positions");
    let figures: Vec<_> =
        positions.iter().map(|p| evaluator.figures(p, &Knobs::default()).expect("figures")).collect();
    let found = check(&harness, &network, &positions, &figures);
    compiled.diagnostics.iter().chain(&found).map(|d| d.code.text()).collect()
}

fn says(body: &str, code: &str) {
    let found = warned(body);
    assert!(found.contains(code), "{code} of {found:?}:\n{body}");
}

const COIL: &str = "coil lead 6.5k 2.8H 120pF, turns 8000, loss 600k\n";

#[test]
fn a_sound_guitar_draws_no_warning() {
    assert!(
        warned(&format!("{COIL}wire lead.start to volume.3\nwire lead.finish to volume.case")).is_empty()
    );
}

#[test]
fn each_broken_one_draws_its_warning() {
    // A throw that leads nowhere.
    says(
        &format!(
            "{COIL}switch s is on-off-on\nwire lead.start to s.A.common\nwire s.A.1 to volume.3\nwire s.A.2 to volume.3\nwire lead.finish to volume.case"
        ),
        "B801",
    );
    // Hot at ground.
    says(
        &format!(
            "{COIL}wire lead.start to volume.3\nwire lead.finish to volume.case\nwire volume.3 to volume.case\nwire volume.2 to volume.1"
        ),
        "B802",
    );
    // A coil that hangs from hot by one lead.
    says(
        &format!(
            "{COIL}coil other 6k 2.5H 120pF, turns 7600, loss 600k\nwire lead.start to volume.3\nwire lead.finish to volume.case\nswitch s is on-on\nwire other.start to volume.3\nwire other.finish to s.A.common\nwire s.A.1 to volume.case"
        ),
        "B803",
    );
    // The same wire twice.
    says(
        &format!(
            "{COIL}wire lead.start to volume.3\nwire volume.3 to lead.start\nwire lead.finish to volume.case"
        ),
        "W502",
    );
    // Strings without a ground.
    let without = format!("{REST}{COIL}wire lead.start to volume.3\nwire lead.finish to volume.case")
        .replace(", strings\n", "\n");
    let found = compile("main.harness", &without, &NoFiles);
    let network = Network::of(found.harness.as_ref().expect("a harness")).expect("a network");
    let harness = found.harness.as_ref().expect("a harness");
    let evaluator = Evaluator::new(harness, &network).expect("a reference");
    let all = positions(harness, Wanted::default()).expect("positions");
    let figures: Vec<_> =
        all.iter().map(|p| evaluator.figures(p, &Knobs::default()).expect("figures")).collect();
    assert!(check(harness, &network, &all, &figures).iter().any(|d| d.code.text() == "B809"));
}

#[test]
fn a_loop_of_wires_is_no_mistake() {
    let body = format!(
        "{COIL}splice a\nsplice b\nwire lead.start to volume.3 to a to b to lead.start\nwire lead.finish to volume.case"
    );
    assert!(warned(&body).is_empty());
}

/// The braid and the cover are one joint with a coil end: turned round, they are hot.
#[test]
fn a_phase_switch_on_a_braided_pickup_is_warned_of() {
    let pickup = "pickup neck {
  construction double-nickel
  coil slug  3.7k 2.0H, pole south
  coil screw 3.8k 2.1H, pole north
  wire slug.finish to screw.finish
  bond (slug.start cover braid)
}
switch flip is on-on
wire neck.screw.start to flip.A.common
wire neck.braid to flip.B.common
wire flip.A.1 to flip.B.2 to volume.3
wire flip.B.1 to flip.A.2 to volume.case
wire flip.frame to volume.case
";
    says(pickup, "B810");
}

#[test]
fn an_active_part_without_a_battery_is_warned_of() {
    let body = "coil lead 6.5k 2.8H 120pF, turns 8000, loss 600k
buffer stage 1M, noise 9nV
battery cell 9V
switch power is on-on
wire lead.start to stage.in
wire stage.out to volume.3
wire lead.finish to volume.case
wire stage.ground to cell.minus to volume.1
wire cell.plus to power.A.common
wire power.A.1 to stage.supply
";
    says(body, "B821");
    let always = body.replace(
        "wire cell.plus to power.A.common\nwire power.A.1 to stage.supply",
        "wire cell.plus to stage.supply",
    );
    assert!(!warned(&always).contains("B821"));
}
