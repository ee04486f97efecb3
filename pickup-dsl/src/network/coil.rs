//! Coils: start → EMF → resistance → (inductance ∥ core loss) → finish, winding capacitance across the whole.
//!
//! The first node of every inductor is towards the start, so that the dots are at the starts. Taps divide a coil into sections that
//! share its flux; a loss chain divides the inductance of one section into segments that don't.

use solver::{Capacitor, Inductor, Node};

use super::build::{Build, Coupled, Placed, Role};
use super::{NetworkError, Section};
use crate::harness::{Coil, CoreLoss, PartId, Pickup, Valued};
use crate::source::Span;

/// Turns at strength 1 that make 1 V.
const TURNS_PER_VOLT: f64 = 5000.0;

/// A piece of one coil's inductance, and the share of the coil's mutual inductances that it takes.
#[derive(Debug, Clone, Copy)]
struct Winding {
    inductor: Inductor,
    henries: f64,
    share: f64,
}

/// A coil in the circuit.
#[derive(Debug, Clone)]
pub(super) struct Wound {
    pub(super) pickup: PartId,
    pub(super) coil: usize,
    name: String,
    henries: f64,
    windings: Vec<Winding>,
}

/// What lies between two neighbouring taps.
#[derive(Debug, Clone, Copy)]
struct Portion {
    /// Share of the turns.
    turns: f64,
    ohms: f64,
    ohms_span: Span,
    henries: f64,
    henries_span: Span,
}

pub(super) fn build(
    build: &mut Build<'_>,
    id: PartId,
    pickup: &Pickup,
    sections: &mut Vec<Section>,
) -> Result<Vec<Wound>, NetworkError> {
    let mut wound = Vec::with_capacity(pickup.coils.len());
    for index in 0..pickup.coils.len() {
        wound.push(build_coil(build, id, pickup, index, sections)?);
    }
    for (i, j, k) in &pickup.couplings {
        if let (Some(a), Some(b)) = (wound.get(*i), wound.get(*j)) {
            couple(build, a, b, *k)?;
        }
    }
    for metal in &pickup.capacitances {
        let harness = build.harness;
        let placed = Placed {
            name: format!(
                "{} to {} capacitance",
                harness.lug_name(metal.metal),
                harness.lugs[metal.lead.0 as usize].name
            ),
            span: metal.capacitance.span,
            role: Role::Stray,
            a: build.node(metal.lead),
            b: build.node(metal.metal),
        };
        build.capacitor(placed, metal.capacitance.value)?;
    }
    Ok(wound)
}

fn build_coil(
    build: &mut Build<'_>,
    id: PartId,
    pickup: &Pickup,
    index: usize,
    sections: &mut Vec<Section>,
) -> Result<Wound, NetworkError> {
    let coil = &pickup.coils[index];
    let part = build.harness.part(id);
    let name = if coil.name.is_empty() { part.name.clone() } else { format!("{}.{}", part.name, coil.name) };
    let portions = portions(coil, &name, part.span)?;
    let (start, finish) = (build.node(coil.start), build.node(coil.finish));
    let capacitance = winding_capacitance(build, coil, &name)?;

    let mut ends = vec![(start, "start")];
    ends.extend(coil.taps.iter().map(|tap| (build.node(tap.lug), tap.name.as_str())));
    ends.push((finish, "finish"));
    let mut windings = Vec::new();
    for (portion, end) in portions.iter().zip(ends.windows(2)) {
        let section_name =
            if portions.len() == 1 { name.clone() } else { format!("{name}.{}..{}", end[0].1, end[1].1) };
        let (from, to) = (end[0].0, end[1].0);
        let made = SectionPlan {
            coil,
            portion,
            name: &section_name,
            role: Role::Coil(sections.len()),
            ends: (from, to),
            span: part.span,
        }
        .build(build)?;
        windings.extend(made.windings);
        let volts = coil.turns.value * portion.turns / TURNS_PER_VOLT;
        sections.push(Section {
            name: section_name,
            pickup: id,
            coil: index,
            emf: made.emf,
            signal: volts * coil.strength * coil.wound * coil.pole,
            hum: volts * coil.hum_area * coil.wound,
            resistance: made.resistance,
            capacitance,
            start: from,
            finish: to,
            hears: coil.hears.clone(),
        });
    }
    if portions.len() > 1 {
        couple_sections(build, coil, &name, &windings, part.span)?;
    }
    Ok(Wound { pickup: id, coil: index, name, henries: coil.inductance.value, windings })
}

fn winding_capacitance(
    build: &mut Build<'_>,
    coil: &Coil,
    name: &str,
) -> Result<Option<Capacitor>, NetworkError> {
    if coil.capacitance.value == 0.0 {
        return Ok(None);
    }
    let placed = Placed {
        name: format!("{name} winding capacitance"),
        span: coil.capacitance.span,
        role: Role::Stray,
        a: build.node(coil.start),
        b: build.node(coil.finish),
    };
    build.capacitor(placed, coil.capacitance.value).map(Some)
}

struct MadeSection {
    emf: solver::VoltageSource,
    resistance: solver::Resistor,
    windings: Vec<Winding>,
}

/// One section about to be built.
struct SectionPlan<'a> {
    coil: &'a Coil,
    portion: &'a Portion,
    name: &'a str,
    role: Role,
    ends: (Node, Node),
    span: Span,
}

impl SectionPlan<'_> {
    fn build(&self, build: &mut Build<'_>) -> Result<MadeSection, NetworkError> {
        let SectionPlan { coil, portion, name, role, ends, span } = *self;
        let placed = |what: String, span, a, b| Placed { name: format!("{name} {what}"), span, role, a, b };
        let behind_emf = build.inner(format!("{name} inside 1"));
        let behind_resistance = build.inner(format!("{name} inside 2"));
        let emf = build.emf(placed("EMF".to_owned(), span, ends.0, behind_emf))?;
        let resistance = build.resistor(
            placed("resistance".to_owned(), portion.ohms_span, behind_emf, behind_resistance),
            portion.ohms,
        )?;
        let whole = [(1.0, None)];
        let shunt;
        let chain: &[(f64, Option<Valued>)] = match &coil.loss {
            CoreLoss::None => &whole,
            CoreLoss::Shunt(ohms) => {
                let ohms = Valued { value: ohms.value * portion.turns, ..*ohms };
                shunt = [(1.0, Some(ohms))];
                &shunt
            }
            CoreLoss::Chain(chain) => chain,
        };
        let mut windings = Vec::with_capacity(chain.len());
        let mut from = behind_resistance;
        for (index, (share, loss)) in chain.iter().enumerate() {
            let number = if chain.len() == 1 { String::new() } else { format!(" {}", index + 1) };
            let to = if index + 1 == chain.len() {
                ends.1
            } else {
                build.inner(format!("{name} inside {}", index + 3))
            };
            let henries = portion.henries * share;
            let inductor = build
                .inductor(placed(format!("inductance{number}"), portion.henries_span, from, to), henries)?;
            if let Some(ohms) = loss {
                build.resistor(placed(format!("core loss{number}"), ohms.span, from, to), ohms.value)?;
            }
            windings.push(Winding { inductor, henries, share: portion.turns * share });
            from = to;
        }
        Ok(MadeSection { emf, resistance, windings })
    }
}

fn couple_sections(
    build: &mut Build<'_>,
    coil: &Coil,
    name: &str,
    windings: &[Winding],
    span: Span,
) -> Result<(), NetworkError> {
    for (i, a) in windings.iter().enumerate() {
        for b in &windings[i + 1..] {
            build.couple(Coupled {
                name: format!("coupling inside {name}"),
                span,
                a: a.inductor,
                b: b.inductor,
                k: coil.tap_coupling,
            })?;
        }
    }
    Ok(())
}

/// Couples two coils. Each piece of a coil takes its share of the mutual inductance M = k·√(L·L′), so that any two pieces have
/// k·s·s′·√(L·L′/(L_piece·L′_piece)); for a segment of a loss chain that is k·√share.
pub(super) fn couple(build: &mut Build<'_>, a: &Wound, b: &Wound, k: Valued) -> Result<(), NetworkError> {
    // One name whichever coil is said first: networks are compared by names.
    let [first, second] = if a.name <= b.name { [a, b] } else { [b, a] };
    for piece in &a.windings {
        for other in &b.windings {
            let product = piece.henries * other.henries;
            if product == 0.0 {
                continue;
            }
            let scale = (a.henries * b.henries / product).sqrt();
            build.couple(Coupled {
                name: format!("coupling {} to {}", first.name, second.name),
                span: k.span,
                a: piece.inductor,
                b: other.inductor,
                k: k.value * piece.share * other.share * scale,
            })?;
        }
    }
    Ok(())
}

/// Divides a coil at its taps.
fn portions(coil: &Coil, name: &str, span: Span) -> Result<Vec<Portion>, NetworkError> {
    let (ohms, henries) = (coil.dcr, coil.inductance);
    let Some(first) = coil.taps.first() else {
        return Ok(vec![Portion {
            turns: 1.0,
            ohms: ohms.value,
            ohms_span: ohms.span,
            henries: henries.value,
            henries_span: henries.span,
        }]);
    };
    let refuse = |span: Span, why: &str| Err(NetworkError { message: format!("{name}: {why}"), span });
    if matches!(coil.loss, CoreLoss::Chain(_)) {
        return refuse(span, "a coil can't have both a tap and a loss chain");
    }
    if coil.taps.len() > 1
        && let Some(measured) = coil.taps.iter().find_map(|tap| tap.dcr.or(tap.inductance))
    {
        return refuse(
            measured.span,
            "a tap's own resistance or inductance can be given only where the coil has one tap",
        );
    }
    let bounds: Vec<f64> =
        std::iter::once(0.0).chain(coil.taps.iter().map(|tap| tap.at)).chain([1.0]).collect();
    let shares: Vec<f64> = bounds.windows(2).map(|pair| pair[1] - pair[0]).collect();
    if !shares.iter().all(|share| *share > 0.0) {
        return refuse(
            span,
            "its taps must stand in order from the start, each between the start and the finish",
        );
    }
    let kappa = coil.tap_coupling;
    let mut linked = 0.0;
    for (i, a) in shares.iter().enumerate() {
        for (j, b) in shares.iter().enumerate() {
            linked += if i == j { a * b } else { kappa * a * b };
        }
    }
    let mut portions: Vec<Portion> = shares
        .iter()
        .map(|&turns| Portion {
            turns,
            ohms: ohms.value * turns,
            ohms_span: ohms.span,
            henries: henries.value * turns * turns / linked,
            henries_span: henries.span,
        })
        .collect();
    if let Some(measured) = first.dcr {
        if measured.value >= ohms.value {
            return refuse(measured.span, "the tap reads no fewer ohms than the whole coil");
        }
        portions[0].ohms = measured.value;
        portions[0].ohms_span = measured.span;
        portions[1].ohms = ohms.value - measured.value;
    }
    if let Some(measured) = first.inductance {
        // The larger root of L = L₁ + L₂ + 2κ√(L₁L₂) in √L₂.
        let rest = kappa * kappa * measured.value + henries.value - measured.value;
        let root = rest.sqrt() - kappa * measured.value.sqrt();
        if root.is_nan() || root <= 0.0 {
            return refuse(measured.span, "the tap reads no fewer henries than the whole coil");
        }
        portions[0].henries = measured.value;
        portions[0].henries_span = measured.span;
        portions[1].henries = root * root;
    }
    Ok(portions)
}
