//! Right-hand sides: what sources inject, and which amplitudes the network allows.

use num_complex::Complex64;

use crate::error::{SolveError, SolveErrorKind};
use crate::float::taxicab;
use crate::handle::{Branch, CurrentSource, Element, Node, Source};
use crate::noise::Noise;
use crate::point::{AGREES, Excitation, Point};

impl Point<'_> {
    pub(crate) fn own_node(&self, node: Node) -> Result<(), SolveError> {
        if self.w.assembly.topology.owns_node(node) {
            Ok(())
        } else {
            Err(SolveErrorKind::ForeignNode { node }.into())
        }
    }

    pub(crate) fn own_element(&self, element: Element) -> Result<(), SolveError> {
        if self.w.assembly.topology.owns(element) {
            Ok(())
        } else {
            Err(SolveErrorKind::ForeignElement { element }.into())
        }
    }

    /// Adds a source's amplitude to the right-hand side.
    pub(super) fn inject(&mut self, source: Source, amplitude: Complex64) {
        let assembly = &self.w.assembly;
        match source {
            Source::Voltage(e) => {
                if let Some(row) = assembly.source_row[e.index()] {
                    self.w.rhs[row as usize] += amplitude;
                }
            }
            Source::Current(e) => {
                let ends = &assembly.topology.current_sources[e.index()];
                for (node, sign) in [(ends.b, 1.0), (ends.a, -1.0)] {
                    if let Some(row) = assembly.row(node) {
                        self.w.rhs[row as usize] += amplitude * sign;
                    }
                }
            }
        }
    }

    /// What a unit amplitude of a source gives at the output of the last adjoint solve.
    pub(crate) fn transfer(&self, source: Source) -> Complex64 {
        let assembly = &self.w.assembly;
        let at = |row: Option<u32>| row.map_or(Complex64::ZERO, |row| self.w.y[row as usize]);
        match source {
            Source::Voltage(e) => at(assembly.source_row[e.index()]),
            Source::Current(e) => {
                let ends = &assembly.topology.current_sources[e.index()];
                at(assembly.row(ends.b)) - at(assembly.row(ends.a))
            }
        }
    }

    /// Whether every source may have any amplitude, whatever the others have.
    pub(crate) fn every_source_is_free(&mut self) -> Result<(), SolveError> {
        if !self.w.assembly.loops.is_empty() {
            return Err(self.loop_error(0));
        }
        if let Some(index) = self.w.assembly.source_spans.iter().position(Option::is_some) {
            return Err(self.cut_set_error(index));
        }
        if self.w.pivoted.as_ref().is_some_and(|pivoted| !pivoted.is_regular()) {
            for index in 0..self.w.assembly.topology.sources.len() {
                let source = self.w.assembly.topology.sources[index];
                self.w.rhs.fill(Complex64::ZERO);
                self.inject(source, Complex64::ONE);
                self.rhs_is_allowed()?;
            }
        }
        Ok(())
    }

    /// Whether these amplitudes can hold together.
    pub(crate) fn excitation_holds(&mut self, excitation: &Excitation) -> Result<(), SolveError> {
        for &(source, amplitude) in excitation {
            self.own_element(source.into())?;
            if let Some(value) = [amplitude.re, amplitude.im].into_iter().find(|value| !value.is_finite()) {
                return Err(self.amplitude_error(source, value));
            }
        }
        for (index, closed) in self.w.assembly.loops.iter().enumerate() {
            let (mut sum, mut size) = (Complex64::ZERO, 0.0);
            for &(member, sign) in &closed.voltages {
                for &(source, amplitude) in excitation {
                    if matches!(source, Source::Voltage(e) if e.index == member) {
                        sum += amplitude * sign;
                        size += taxicab(amplitude);
                    }
                }
            }
            if taxicab(sum) > AGREES * size {
                return Err(self.loop_error(index));
            }
        }
        self.islands_balance(excitation)?;
        if self.w.pivoted.as_ref().is_some_and(|pivoted| !pivoted.is_regular()) {
            self.w.rhs.fill(Complex64::ZERO);
            excitation.iter().for_each(|&(source, amplitude)| self.inject(source, amplitude));
            self.rhs_is_allowed()?;
        }
        Ok(())
    }

    /// Whether the currents of sources between islands add to zero at every island.
    fn islands_balance(&self, excitation: &Excitation) -> Result<(), SolveError> {
        let assembly = &self.w.assembly;
        let spans = |source: Source| match source {
            Source::Current(e) => assembly.source_spans[e.index()].map(|islands| (e, islands)),
            Source::Voltage(_) => None,
        };
        for &(suspect, amplitude) in excitation {
            let Some((e, islands)) = spans(suspect).filter(|_| amplitude != Complex64::ZERO) else {
                continue;
            };
            for island in islands {
                let (mut sum, mut size) = (Complex64::ZERO, 0.0);
                for &(source, amplitude) in excitation {
                    if let Some((_, [from, to])) = spans(source) {
                        let sign = f64::from(u8::from(to == island)) - f64::from(u8::from(from == island));
                        sum += amplitude * sign;
                        size += taxicab(amplitude) * sign.abs();
                    }
                }
                if taxicab(sum) > AGREES * size {
                    return Err(self.cut_set_error(e.index()));
                }
            }
        }
        Ok(())
    }

    pub(crate) fn noise_holds(&mut self, noise: &Noise) -> Result<(), SolveError> {
        if let Some(element) = noise.foreign() {
            return Err(SolveErrorKind::ForeignElement { element }.into());
        }
        if noise.circuit() != self.w.assembly.topology.id {
            return Err(
                SolveErrorKind::ForeignNode { node: Node { circuit: noise.circuit(), index: 0 } }.into()
            );
        }
        if let Some(kelvin) = noise.bad_temperature() {
            return Err(SolveErrorKind::Temperature(kelvin).into());
        }
        for &(source, density) in noise.densities() {
            self.own_element(source.into())?;
            if !(density >= 0.0 && density.is_finite()) {
                return Err(self.amplitude_error(source, density));
            }
            if density > 0.0 {
                self.excitation_holds(&[(source, Complex64::ONE)])?;
            }
        }
        Ok(())
    }

    fn rhs_is_allowed(&self) -> Result<(), SolveError> {
        match &self.w.pivoted {
            Some(pivoted) if !pivoted.allows(&self.w.rhs) => Err(self.contradiction()),
            _ => Ok(()),
        }
    }

    pub(crate) fn amplitude_error(&self, source: Source, value: f64) -> SolveError {
        SolveErrorKind::Amplitude { source_name: self.w.assembly.topology.named(source), value }.into()
    }

    fn loop_error(&self, index: usize) -> SolveError {
        let topology = &self.w.assembly.topology;
        let closed = &self.w.assembly.loops[index];
        match closed.branches[..] {
            [Branch::VoltageSource(source)] => {
                SolveErrorKind::ShortedSource { source_name: topology.named(source) }.into()
            }
            _ => SolveErrorKind::VoltageLoop {
                branches: closed.branches.iter().map(|&branch| topology.named(branch)).collect(),
            }
            .into(),
        }
    }

    fn cut_set_error(&self, index: usize) -> SolveError {
        let assembly = &self.w.assembly;
        let islands = assembly.source_spans[index].unwrap_or_default();
        let touches = |spans: &Option<[u32; 2]>| {
            spans.is_some_and(|spans| spans.iter().any(|island| islands.contains(island)))
        };
        let sources = assembly.source_spans.iter().enumerate().filter(|(_, spans)| touches(spans));
        let handle = |i: usize| CurrentSource { circuit: assembly.topology.id, index: i as u32 };
        SolveErrorKind::CurrentCutSet {
            sources: sources.map(|(i, _)| assembly.topology.named(handle(i))).collect(),
        }
        .into()
    }

    /// The error of a deficient matrix that has no solution.
    pub(super) fn contradiction(&self) -> SolveError {
        let rows = self.w.pivoted.as_ref().map(|pivoted| pivoted.dependent()).unwrap_or_default();
        SolveErrorKind::Contradiction {
            unknowns: rows.into_iter().map(|row| self.w.assembly.unknown(row)).collect(),
        }
        .into()
    }

    /// The error of a deficient matrix that leaves the wanted quantity free.
    pub(super) fn singular(&self) -> SolveError {
        let free = self.w.pivoted.as_ref().map(|pivoted| pivoted.free()).unwrap_or_default();
        SolveErrorKind::Singular { unknowns: free.into_iter().map(|i| self.w.assembly.unknown(i)).collect() }
            .into()
    }
}
