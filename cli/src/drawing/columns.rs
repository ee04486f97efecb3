//! Which part stands in which column: pickups left, then switches, then pots, the jack right; components beside what they hang on.

use pickup_dsl::harness::{Harness, JointKind, LugId, Part, PartId, PartKind};

/// Columns that components stand in lie between these.
const PICKUPS: i32 = 0;
const SWITCHES: i32 = 2;
const POTS: i32 = 4;
const OUTSIDE: i32 = 6;

/// The wires of a harness and the columns of its parts.
#[derive(Debug)]
pub(super) struct Columns<'h> {
    pub(super) harness: &'h Harness,
    /// Both lugs of each wire, in order of the file.
    pub(super) wires: Vec<(LugId, LugId)>,
    /// By part; None: not drawn.
    columns: Vec<Option<i32>>,
    /// By lug: at ground by metal.
    pub(super) ground: Vec<bool>,
    /// By lug: the lugs that wires join it to.
    partners: Vec<Vec<LugId>>,
}

impl<'h> Columns<'h> {
    /// `joints` are the soldered joints by lug.
    pub(super) fn of(harness: &'h Harness, joints: &[usize]) -> Self {
        let wires: Vec<(LugId, LugId)> = harness
            .joints
            .iter()
            .filter(|joint| joint.kind == JointKind::Wire)
            .map(|joint| (joint.a, joint.b))
            .collect();
        let mut partners = vec![Vec::new(); harness.lugs.len()];
        for &(a, b) in &wires {
            partners[a.0 as usize].push(b);
            partners[b.0 as usize].push(a);
        }
        let at_ground = joints[harness.ground.0 as usize];
        let mut columns = Columns {
            harness,
            wires,
            columns: Vec::new(),
            ground: joints.iter().map(|joint| *joint == at_ground).collect(),
            partners,
        };
        columns.columns = harness.parts.iter().map(|part| columns.fixed(part)).collect();
        // A component may hang on another component: the second round knows where that is.
        for _ in 0..2 {
            let found: Vec<Option<i32>> = (0..harness.parts.len())
                .map(|index| columns.columns[index].or_else(|| columns.beside(&harness.parts[index])))
                .collect();
            columns.columns = found;
        }
        for (index, part) in harness.parts.iter().enumerate() {
            if columns.columns[index].is_none() && columns.is_drawn(part) {
                columns.columns[index] = Some(POTS - 1);
            }
        }
        columns
    }

    /// None if the part is not drawn.
    pub(super) fn column(&self, part: PartId) -> Option<i32> {
        self.columns[part.0 as usize]
    }

    pub(super) fn part_of(&self, lug: LugId) -> PartId {
        self.harness.lugs[lug.0 as usize].part
    }

    /// Wires on a lug.
    pub(super) fn count(&self, lug: LugId) -> i32 {
        self.partners[lug.0 as usize].len() as i32
    }

    /// Wires on a lug that lead left, and right: to a column left of it or to another lug of the same part, and elsewhere.
    pub(super) fn ways(&self, lug: LugId) -> (i32, i32) {
        let own = self.part_of(lug);
        let left = self.partners[lug.0 as usize]
            .iter()
            .filter(|other| {
                let part = self.part_of(**other);
                part == own || self.column(part) < self.column(own)
            })
            .count() as i32;
        (left, self.count(lug) - left)
    }

    /// Mean column of what a lug is wired to; None without wires.
    pub(super) fn pull(&self, lug: LugId) -> Option<f64> {
        mean(self.partners[lug.0 as usize].iter().filter_map(|other| self.column(self.part_of(*other))))
    }

    /// What stands after the jack is drawn only where a wire of the harness reaches it.
    fn is_drawn(&self, part: &Part) -> bool {
        let outside = match &part.kind {
            PartKind::Lead(lead) => lead.outside,
            PartKind::Amp(_) => true,
            _ => false,
        };
        let id = self.part_of(LugId(part.lugs.start));
        let plugged = outside || self.harness.outlets.iter().any(|outlet| outlet.chain.contains(&id));
        !plugged || part.lugs.clone().any(|lug| !self.partners[lug as usize].is_empty())
    }

    fn fixed(&self, part: &Part) -> Option<i32> {
        if part.lugs.is_empty() || !self.is_drawn(part) {
            return None;
        }
        match part.kind {
            PartKind::Pickup(_) | PartKind::Piezo(_) => Some(PICKUPS),
            PartKind::Switch(_) | PartKind::Buffer(_) | PartKind::OpAmp(_) => Some(SWITCHES),
            PartKind::Pot(_) => Some(POTS),
            PartKind::Jack(_)
            | PartKind::Strings
            | PartKind::Shield
            | PartKind::Battery(_)
            | PartKind::Amp(_)
            | PartKind::Lead(_) => Some(OUTSIDE),
            PartKind::Resistor(_) | PartKind::Capacitor(..) | PartKind::Inductor(..) | PartKind::Splice => {
                None
            }
        }
    }

    /// The column between others that lies nearest to what a component hangs on; ground is everywhere, so it counts only alone.
    fn beside(&self, part: &Part) -> Option<i32> {
        if part.lugs.is_empty() || !self.is_drawn(part) {
            return None;
        }
        let ends = || part.lugs.clone().flat_map(|lug| self.partners[lug as usize].iter());
        let placed = |of_ground: bool| {
            mean(
                ends()
                    .filter(|lug| self.ground[lug.0 as usize] == of_ground)
                    .filter_map(|lug| self.column(self.part_of(*lug)).map(|column| column.min(POTS))),
            )
        };
        let pull = placed(false).or_else(|| placed(true))?;
        // Pots turn their lugs to the left.
        Some(if pull <= 1.4 { PICKUPS + 1 } else { SWITCHES + 1 })
    }
}

fn mean(values: impl Iterator<Item = i32>) -> Option<f64> {
    let (sum, count) = values.fold((0, 0), |(sum, count), value| (sum + value, count + 1));
    (count > 0).then(|| f64::from(sum) / f64::from(count))
}
