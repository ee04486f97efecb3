//! The figures of a state as the cells of the two tables: what sounds, and what a bench measures.

use pickup_dsl::diagnostic::escape;
use pickup_dsl::figures::{OutletFigures, PositionFigures, words};

use super::cells::{self, Marks};
use crate::job::{Job, called};
use crate::table::GLUE;

/// One row of both tables: a position at one output.
#[derive(Debug)]
pub(crate) struct Row<'a> {
    /// Position, and output where there are several.
    pub(crate) name: String,
    /// Its figures.
    pub(crate) outlet: &'a OutletFigures,
    /// Those of the position.
    pub(crate) position: &'a PositionFigures,
    /// Which output.
    pub(crate) index: usize,
    /// An active part stands in the guitar.
    pub(crate) active: bool,
}

/// The rows of some positions, in order.
pub(crate) fn rows<'a>(job: &Job, all: &'a [PositionFigures]) -> Vec<Row<'a>> {
    let active = job.file.harness.is_active();
    let mut rows = Vec::new();
    for position in all {
        // No line breaks between a switch and its throw.
        let name = called(position.name.as_deref(), &position.key.replace('=', &GLUE.to_string()));
        for (index, outlet) in position.outlets.iter().enumerate() {
            rows.push(Row { name: job.outlet_name(&name, index), outlet, position, index, active });
        }
    }
    rows
}

impl Row<'_> {
    /// What sounds: coils in play, resonance (kHz), its height (dB), Q, corner (kHz), level (dB), brightness (dB).
    pub(crate) fn sound(&self, marks: &mut Marks) -> [String; 7] {
        let o = self.outlet;
        let corner = marks.sloped(o, cells::kilohertz(o.corner));
        let cells = [
            escape(&words::words(o)),
            marks.peak(o, cells::kilohertz(o.resonance_frequency())),
            marks.sloped(o, cells::relative(o.height)),
            cells::q(o),
            marks.peak(o, corner),
            marks.powers(o, cells::relative(o.level.shown_re)),
            marks.powers(o, cells::relative(o.brightness.shown)),
        ];
        marks.words(&cells);
        cells
    }

    /// What a bench measures: hum (dB), whether it cancels, signal over hum (dB), meter (kΩ), output impedance at 1 kHz and at most (kΩ),
    /// where that is (kHz), noise (µV).
    pub(crate) fn bench(&self, marks: &mut Marks) -> [String; 8] {
        let o = self.outlet;
        let cells = [
            marks.hum(&o.hum),
            cells::cancelling(o),
            marks.signal_over_hum(o),
            marks.meter(self.position, self.index, self.active),
            cells::kilohms(o.impedance.at_1k),
            cells::kilohms(o.impedance.max),
            marks.edge(o),
            cells::microvolts(o.noise.a_weighted),
        ];
        marks.words(&cells);
        cells
    }
}
