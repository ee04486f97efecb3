use super::{Step, neighbours, other_names, sheet};
use crate::resolve::{NoFiles, compile};

const GUITAR: &str = "coilwright 1\npickup p {\n coil a 4k 2.2H\n coil b 4k 2.2H\n lead red a.start\n lead blue b.finish\n bond (a.finish b.start)\n}\n\
    pot volume 500k audio, role volume\npot tone 500k audio, role tone\ncapacitor C1 22nF\njack out\n\
    wire out.tip to volume.2\nwire p.red to volume.3 to tone.1\nwire tone.2 to C1.1\n\
    wire volume.case to (volume.1, tone.case, C1.2, p.blue, out.sleeve)";

#[test]
fn wires_stand_in_the_order_of_the_work() {
    let compiled = compile("test", GUITAR, &NoFiles);
    let harness = compiled.harness.unwrap_or_else(|| panic!("{:#?}", compiled.diagnostics));
    let sheet = sheet(&harness);
    let name = |lug| harness.lug_name(lug);
    let lines: Vec<(Step, String)> =
        sheet.wires.iter().map(|w| (w.step, format!("{} {}", name(w.from), name(w.to)))).collect();
    let expected = [
        (Step::OnOnePart, "volume.case volume.1"),
        (Step::Components, "tone.2 C1.1"),
        (Step::Components, "volume.case C1.2"),
        (Step::Controls, "volume.3 tone.1"),
        (Step::Ground, "volume.case tone.case"),
        (Step::Pickups, "p.red volume.3"),
        (Step::Pickups, "volume.case p.blue"),
        (Step::Outside, "out.tip volume.2"),
        (Step::Outside, "volume.case out.sleeve"),
    ];
    assert_eq!(lines, expected.map(|(step, line)| (step, line.to_owned())));
    let shared: Vec<_> = sheet.shared.iter().map(|(lug, count)| (name(*lug), *count)).collect();
    assert_eq!(shared, [("volume.3".to_owned(), 2), ("volume.case".to_owned(), 5)]);
    assert_eq!(sheet.made.len(), 1);
    assert!(!sheet.active);
    let red = sheet.wires.iter().find(|w| name(w.from) == "p.red").unwrap().from;
    assert_eq!(other_names(&harness).get(&red).map(|lug| name(*lug)).as_deref(), Some("p.a.start"));
    let beside: Vec<_> =
        neighbours(&harness).iter().map(|(a, b)| format!("{} {}", name(*a), name(*b))).collect();
    assert_eq!(
        beside,
        ["volume.1 volume.2", "volume.2 volume.3", "tone.1 tone.2", "tone.2 tone.3", "out.tip out.sleeve"]
    );
}
