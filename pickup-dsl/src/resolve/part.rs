//! Parts: their lugs, then their values.

use crate::diagnostic::{Code, Diagnostic};
use crate::harness::{Amp, Buffer, Jack, Lead, OpAmp, Origin, PartKind, Piezo, Valued};
use crate::resolve::build::Build;
use crate::resolve::cursor::Label;
use crate::resolve::pattern::Head;
use crate::resolve::properties::Uses;
use crate::resolve::show::show;
use crate::resolve::value::default;
use crate::syntax::tree::Dimension;

impl<'t> Build<'_, 't> {
    /// Builds a declared part. One that fails keeps its place and its lugs, so that wires to it are not complained of.
    pub(crate) fn build_part(&mut self, head: &Head<'t>) {
        let errors = self.report.errors();
        let first = self.lugs.len() as u32;
        let id = self.next_part();
        for lug in head.kind.lugs {
            self.add_lug(*lug, head.name.span);
        }
        let mut open = false;
        let mut uses = self.patterns.expand(self.loaded, head, self.unit, self.report);
        if let (Some(uses), Some(over)) = (&mut uses, self.over.get(head.name.text)) {
            let over = Uses::read(head.kind, over, self.report);
            // Two ways to say one thing: the later stands.
            for (said, other) in [
                ("capacitance", "per-metre"),
                ("per-metre", "capacitance"),
                ("capacitance", "resonance"),
                ("resonance", "capacitance"),
                ("loss", "quality"),
                ("quality", "loss"),
            ] {
                if over.has(said) && !over.has(other) {
                    uses.forget(other);
                }
            }
            uses.overlay(over);
        }
        let kind = match uses {
            Some(uses) => self.part_kind(head, &uses, &mut open),
            None => {
                open = head.kind.lugs.is_empty();
                None
            }
        };
        // A placeholder is never seen: what failed was an error, and with an error there is no harness.
        let kind = kind.filter(|_| self.report.errors() == errors).unwrap_or(PartKind::Splice);
        self.add_part(head.name.text, kind, first, head.name.span);
        if let Some(declared) = self.names.get_mut(head.name.text) {
            declared.id = Some(id);
            declared.open = open;
        }
    }

    fn part_kind(&mut self, head: &Head<'t>, uses: &Uses<'t>, open: &mut bool) -> Option<PartKind> {
        let name = head.name;
        Some(match head.kind.word {
            "coil" | "pickup" => return self.pickup(name, uses, open),
            "pot" => {
                *open = !uses.clean;
                return self.pot(name, uses);
            }
            "switch" => return self.switch(name, uses, open),
            "resistor" => PartKind::Resistor(uses.required("resistance", name.span, self.report)?),
            "capacitor" => {
                let loss = uses.value("loss", self.report);
                PartKind::Capacitor(uses.required("capacitance", name.span, self.report)?, loss)
            }
            "inductor" => {
                let dcr = uses.value("dcr", self.report);
                PartKind::Inductor(uses.required("inductance", name.span, self.report)?, dcr)
            }
            "splice" => PartKind::Splice,
            "strings" => PartKind::Strings,
            "shield" => PartKind::Shield,
            "jack" => {
                let stereo = uses.has("stereo");
                self.add_lug("tip", name.span);
                if stereo {
                    self.add_lug("ring", name.span);
                }
                self.add_lug("sleeve", name.span);
                let switched = uses.has("switched");
                if switched {
                    self.add_lug("tip-contact", name.span);
                }
                if switched && stereo {
                    self.add_lug("ring-contact", name.span);
                }
                PartKind::Jack(Jack { stereo, switched })
            }
            "lead" => PartKind::Lead(self.cable(name, uses, false)?),
            "cable" => PartKind::Lead(self.cable(name, uses, true)?),
            "amp" => PartKind::Amp(self.amp(name, uses)?),
            "buffer" => PartKind::Buffer(self.buffer(name, uses)?),
            "opamp" => PartKind::OpAmp(self.op_amp(name, uses)?),
            "piezo" => {
                let volts = uses.value("volts", self.report);
                PartKind::Piezo(Piezo {
                    capacitance: uses.required("capacitance", name.span, self.report)?,
                    volts: volts.map_or(uses.kind.default("volts"), |v| v.value),
                })
            }
            "battery" => {
                uses.value("volts", self.report);
                let resistance = uses.value("resistance", self.report);
                let ohms = uses.kind.default("resistance");
                PartKind::Battery(resistance.unwrap_or_else(|| default(ohms, name.span)))
            }
            _ => return None,
        })
    }

    /// A lead or cable: its whole capacitance, or per metre times length.
    fn cable(&mut self, name: Label<'t>, uses: &Uses<'t>, outside: bool) -> Option<Lead> {
        let errors = self.report.errors();
        let length = uses.value("length", self.report);
        let per_metre = uses.value("per-metre", self.report);
        let whole = uses.value("capacitance", self.report);
        let resistance = uses.value("resistance", self.report);
        if let (Some(a), Some(b)) = (uses.get("capacitance"), uses.get("per-metre")) {
            self.report.push(
                Diagnostic::error(
                    Code::RepeatedProperty,
                    b.span,
                    "the capacitance is said as a whole and per metre",
                )
                .also(a.span, "as a whole here")
                .help("keep one of them"),
            );
        }
        if self.report.errors() > errors {
            return None;
        }
        if let Some(capacitance) = whole {
            return Some(Lead { capacitance, resistance, outside });
        }
        if !outside && length.is_none() {
            if uses.clean {
                self.report.push(
                    Diagnostic::error(Code::MissingValue, name.span, "the lead's capacitance is missing")
                        .help("write its length and capacitance per metre, `0.3m 100pF/m`, or the whole of it, `30pF`"),
                );
            }
            return None;
        }
        let cable = crate::resolve::schema::kind("cable")?;
        let metres = length.unwrap_or_else(|| default(cable.default("length"), name.span));
        let each = per_metre.unwrap_or_else(|| default(cable.default("per-metre"), name.span));
        let assumed = match (length, per_metre) {
            (None, None) => Some(format!(
                "{} of {}",
                show(metres.value, Dimension::Metres),
                show(each.value, Dimension::FaradsPerMetre)
            )),
            (None, Some(_)) => Some(show(metres.value, Dimension::Metres)),
            (Some(_), None) => Some(show(each.value, Dimension::FaradsPerMetre)),
            (Some(_), Some(_)) => None,
        };
        let origin = if assumed.is_some() { Origin::Default } else { each.origin };
        if let Some(text) = assumed {
            self.assume(format!("{}: {text}", name.text), name.span);
        }
        let span =
            if length.is_some() && per_metre.is_some() { metres.span.to(each.span) } else { each.span };
        let capacitance = Valued {
            value: metres.value * each.value,
            tolerance: each.tolerance,
            normal: each.normal,
            origin,
            span,
        };
        Some(Lead { capacitance, resistance, outside })
    }

    fn amp(&mut self, name: Label<'t>, uses: &Uses<'t>) -> Option<Amp> {
        let errors = self.report.errors();
        let resistance = uses.value("resistance", self.report);
        let capacitance = uses.value("capacitance", self.report);
        if self.report.errors() > errors {
            return None;
        }
        let resistance = resistance.unwrap_or_else(|| {
            let value = uses.kind.default("resistance");
            self.assume(format!("{}: {}", name.text, show(value, Dimension::Ohms)), name.span);
            default(value, name.span)
        });
        Some(Amp { resistance, capacitance })
    }

    fn buffer(&mut self, name: Label<'t>, uses: &Uses<'t>) -> Option<Buffer> {
        let errors = self.report.errors();
        let buffer = Buffer {
            input: uses.required("input", name.span, self.report),
            input_capacitance: uses.value("input-capacitance", self.report),
            gain: uses.value("gain", self.report).map_or(uses.kind.default("gain"), |g| g.value),
            output: uses.value("output", self.report),
            noise: uses.value("noise", self.report),
            current_noise: uses.value("current-noise", self.report),
        };
        self.say_quiet(name, buffer.noise, buffer.current_noise);
        (self.report.errors() == errors).then_some(buffer)
    }

    fn op_amp(&mut self, name: Label<'t>, uses: &Uses<'t>) -> Option<OpAmp> {
        let errors = self.report.errors();
        let op_amp = OpAmp {
            open_loop: uses
                .value("open-loop", self.report)
                .map_or(uses.kind.default("open-loop"), |g| g.value),
            bandwidth: uses.value("bandwidth", self.report),
            noise: uses.value("noise", self.report),
            current_noise: uses.value("current-noise", self.report),
        };
        self.say_quiet(name, op_amp.noise, op_amp.current_noise);
        (self.report.errors() == errors).then_some(op_amp)
    }

    fn say_quiet(&mut self, name: Label<'t>, noise: Option<Valued>, current_noise: Option<Valued>) {
        if noise.is_none() && current_noise.is_none() {
            self.assume(
                format!("{}: its own noise is not counted, since none is said", name.text),
                name.span,
            );
        }
    }
}
