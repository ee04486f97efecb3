//! Harnesses put together by hand, for tests of what comes after the language.

use crate::harness::{
    Amp, Buffer, Coil, CoreLoss, CrossCoupling, Gang, Harness, Jack, Joint, JointKind, Lead, Lug, LugId,
    Moves, NamedPosition, Origin, Outlet, Part, PartId, PartKind, Pickup, Pot, Reference, Switch, Tap, Taper,
    Throw, Valued,
};
use crate::source::Span;

/// A harness under construction. Every part's span is its number, so that provenance can be checked.
pub(crate) struct Bench {
    pub(crate) harness: Harness,
}

/// A stated value at a place.
pub(crate) fn valued(value: f64, span: Span) -> Valued {
    Valued { value, tolerance: None, normal: false, origin: Origin::Stated, span }
}

/// What a test says of a coil.
#[derive(Clone)]
pub(crate) struct Wire {
    pub(crate) name: &'static str,
    pub(crate) ohms: f64,
    pub(crate) henries: f64,
    pub(crate) farads: f64,
    pub(crate) loss: Loss,
    pub(crate) wound: f64,
    pub(crate) taps: Vec<Tapped>,
    pub(crate) kappa: f64,
}

#[derive(Clone)]
pub(crate) enum Loss {
    None,
    Shunt(f64),
    Chain(Vec<(f64, Option<f64>)>),
}

#[derive(Clone)]
pub(crate) struct Tapped {
    pub(crate) name: &'static str,
    pub(crate) at: f64,
    pub(crate) ohms: Option<f64>,
    pub(crate) henries: Option<f64>,
}

pub(crate) fn wire(name: &'static str, ohms: f64, henries: f64) -> Wire {
    Wire { name, ohms, henries, farads: 0.0, loss: Loss::None, wound: 1.0, taps: Vec::new(), kappa: 0.97 }
}

pub(crate) fn tap(name: &'static str, at: f64) -> Tapped {
    Tapped { name, at, ohms: None, henries: None }
}

impl Bench {
    /// A mono jack `out` and nothing else.
    pub(crate) fn new() -> Self {
        let mut bench = Bench {
            harness: Harness {
                title: None,
                mains: 50.0,
                string_count: 6,
                parts: Vec::new(),
                lugs: Vec::new(),
                joints: Vec::new(),
                cross_couplings: Vec::new(),
                ground: LugId(0),
                outlets: Vec::new(),
                positions: Vec::new(),
                named_only: false,
                reference: Reference::Rest,
                geometry: None,
                assumptions: Vec::new(),
                derived: Vec::new(),
                intents: Vec::new(),
                expectations: Vec::new(),
                loose: Vec::new(),
                unusual: false,
                short_forms: Vec::new(),
            },
        };
        bench.part("out", &["tip", "sleeve"], |_, _| PartKind::Jack(Jack { stereo: false, switched: false }));
        bench.harness.ground = bench.at("out.sleeve");
        bench
    }

    pub(crate) fn part(
        &mut self,
        name: &str,
        lugs: &[&str],
        kind: impl FnOnce(&Self, Span) -> PartKind,
    ) -> PartId {
        let id = PartId(self.harness.parts.len() as u32);
        let first = self.harness.lugs.len() as u32;
        let span = Span { file: 0, start: id.0, end: id.0 + 1 };
        for lug in lugs {
            self.harness.lugs.push(Lug { part: id, name: (*lug).to_owned() });
        }
        self.harness.parts.push(Part {
            name: name.to_owned(),
            kind: PartKind::Splice,
            lugs: first..first + lugs.len() as u32,
            span,
        });
        let kind = kind(self, span);
        self.harness.parts[id.0 as usize].kind = kind;
        id
    }

    pub(crate) fn pickup(&mut self, name: &str, coils: &[Wire], couplings: &[(usize, usize, f64)]) -> PartId {
        let mut lugs = Vec::new();
        for coil in coils {
            let prefix = if coil.name.is_empty() { String::new() } else { format!("{}.", coil.name) };
            lugs.push(format!("{prefix}start"));
            lugs.push(format!("{prefix}finish"));
            lugs.extend(coil.taps.iter().map(|tap| format!("{prefix}{}", tap.name)));
        }
        let mut names: Vec<&str> = lugs.iter().map(String::as_str).collect();
        names.extend(["cover", "plate"]);
        self.part(name, &names, |bench, span| {
            let id = PartId(bench.harness.parts.len() as u32 - 1);
            PartKind::Pickup(Pickup {
                coils: coils.iter().map(|c| bench.coil(id, c, span)).collect(),
                couplings: couplings.iter().map(|(i, j, k)| (*i, *j, valued(*k, span))).collect(),
                capacitances: Vec::new(),
                stacked: false,
                braided: false,
            })
        })
    }

    fn coil(&self, id: PartId, said: &Wire, span: Span) -> Coil {
        let lug = |end: &str| {
            let name = if said.name.is_empty() { end.to_owned() } else { format!("{}.{end}", said.name) };
            self.harness.lug(id, &name).expect("lug was made")
        };
        let value = |v: f64| valued(v, span);
        Coil {
            name: said.name.to_owned(),
            start: lug("start"),
            finish: lug("finish"),
            dcr: value(said.ohms),
            inductance: value(said.henries),
            capacitance: value(said.farads),
            loss: match &said.loss {
                Loss::None => CoreLoss::None,
                Loss::Shunt(ohms) => CoreLoss::Shunt(value(*ohms)),
                Loss::Chain(chain) => {
                    CoreLoss::Chain(chain.iter().map(|(share, ohms)| (*share, ohms.map(value))).collect())
                }
            },
            turns: value(5000.0),
            wound: said.wound,
            pole: 1.0,
            strength: 1.0,
            hum_area: 1.0,
            taps: said
                .taps
                .iter()
                .map(|t| Tap {
                    name: t.name.to_owned(),
                    lug: lug(t.name),
                    at: t.at,
                    dcr: t.ohms.map(value),
                    inductance: t.henries.map(value),
                })
                .collect(),
            tap_coupling: said.kappa,
            hears: None,
            construction: None,
        }
    }

    pub(crate) fn pot(&mut self, name: &str, ohms: f64, taper: Taper) -> PartId {
        self.part(name, &["1", "2", "3", "case"], |_, span| {
            PartKind::Pot(Pot {
                gangs: vec![Gang { name: String::new(), track: valued(ohms, span), taper }],
                role: None,
                rest: 10.0,
                no_load: false,
            })
        })
    }

    pub(crate) fn resistor(&mut self, name: &str, ohms: f64) -> PartId {
        self.part(name, &["1", "2"], |_, span| PartKind::Resistor(valued(ohms, span)))
    }

    pub(crate) fn capacitor(&mut self, name: &str, farads: f64, loss: Option<f64>) -> PartId {
        self.part(name, &["1", "2"], |_, span| {
            PartKind::Capacitor(valued(farads, span), loss.map(|d| valued(d, span)))
        })
    }

    /// A switch; each throw: name and joined lugs.
    pub(crate) fn switch(
        &mut self,
        name: &str,
        lugs: &[&str],
        throws: &[(&str, &[&[&str]])],
        ohms: Option<f64>,
    ) -> PartId {
        self.part(name, lugs, |bench, span| {
            let lug = |lug: &&str| bench.at(&format!("{name}.{lug}"));
            PartKind::Switch(Switch {
                throws: throws
                    .iter()
                    .map(|(throw, joins)| Throw {
                        name: (*throw).to_owned(),
                        joins: joins.iter().map(|set| set.iter().map(lug).collect()).collect(),
                        between: throw.contains('-'),
                    })
                    .collect(),
                rest: 0,
                moves: Moves::BreakFirst,
                momentary: false,
                contact: ohms.map(|ohms| valued(ohms, span)),
            })
        })
    }

    /// One pole, `common` to `1`, `2`, …
    pub(crate) fn selector(&mut self, name: &str, throws: usize) -> PartId {
        let names: Vec<String> = (1..=throws).map(|n| n.to_string()).collect();
        let mut lugs = vec!["common"];
        lugs.extend(names.iter().map(String::as_str));
        let joins: Vec<[&str; 2]> = names.iter().map(|n| ["common", n.as_str()]).collect();
        let sets: Vec<[&[&str]; 1]> = joins.iter().map(|set| [&set[..]]).collect();
        let table: Vec<(&str, &[&[&str]])> =
            names.iter().zip(&sets).map(|(n, set)| (n.as_str(), &set[..])).collect();
        self.switch(name, &lugs, &table, None)
    }

    pub(crate) fn buffer(&mut self, name: &str, buffer: impl FnOnce(Span) -> Buffer) -> PartId {
        self.part(name, &["in", "out", "ground", "supply"], |_, span| PartKind::Buffer(buffer(span)))
    }

    pub(crate) fn lead(&mut self, name: &str, farads: f64, ohms: Option<f64>, outside: bool) -> PartId {
        self.part(name, &["in", "out", "screen"], |_, span| {
            PartKind::Lead(Lead {
                capacitance: valued(farads, span),
                resistance: ohms.map(|ohms| valued(ohms, span)),
                outside,
            })
        })
    }

    /// Plugs leads, buffers and an amp named `amp` into `out`.
    pub(crate) fn plug(&mut self, chain: &[PartId], ohms: f64) {
        let amp = self.part("amp", &["input", "ground"], |_, span| {
            PartKind::Amp(Amp { resistance: valued(ohms, span), capacitance: None })
        });
        let mut chain = chain.to_vec();
        chain.push(amp);
        let mut hot = self.at("out.tip");
        for &id in &chain {
            let lug = |name: &str| self.harness.lug(id, name);
            let input = lug("in").or(lug("input")).expect("a lug to plug into");
            let ground = lug("screen").or(lug("ground")).expect("a ground");
            let next = lug("out").unwrap_or(input);
            self.join(hot, input, JointKind::Plugged);
            self.join(ground, self.harness.ground, JointKind::Plugged);
            hot = next;
        }
        let amp_input = hot;
        self.harness.outlets.push(Outlet { hot: self.at("out.tip"), chain, amp_input });
    }

    pub(crate) fn at(&self, name: &str) -> LugId {
        let (part, lug) = name.split_once('.').unwrap_or((name, ""));
        let index = self
            .harness
            .parts
            .iter()
            .position(|p| p.name == part)
            .unwrap_or_else(|| panic!("no part {part}"));
        self.harness.lug(PartId(index as u32), lug).unwrap_or_else(|| panic!("no lug {name}"))
    }

    fn join(&mut self, a: LugId, b: LugId, kind: JointKind) {
        let span = Span { file: 0, start: 0, end: 0 };
        self.harness.joints.push(Joint { a, b, span, kind });
    }

    /// Wires the first lug to each of the others.
    pub(crate) fn wire(&mut self, lugs: &[&str]) {
        for lug in &lugs[1..] {
            self.join(self.at(lugs[0]), self.at(lug), JointKind::Wire);
        }
    }

    pub(crate) fn couple(&mut self, a: (PartId, usize), b: (PartId, usize), k: f64) {
        let span = self.harness.part(a.0).span;
        self.harness.cross_couplings.push(CrossCoupling { a, b, k: valued(k, span) });
    }

    pub(crate) fn name(&mut self, name: &str, choice: &[(PartId, usize)]) {
        self.harness.positions.push(NamedPosition {
            name: name.to_owned(),
            choice: choice.to_vec(),
            span: Span { file: 0, start: 0, end: 0 },
        });
    }
}
