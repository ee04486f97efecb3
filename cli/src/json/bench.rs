//! Sheet, card and fault table as JSON. Their structures are described by `sheet`, `card` and `faults.schema.json` in `cli/schema`.

use pickup_dsl::card::{Band, Card, CoilTests, Entry, Swing, Tap, Test, metal, tells};
use pickup_dsl::faults::{Effect, Fault};
use pickup_dsl::harness::{Harness, LugId, PartId};
use pickup_dsl::sheet::{Sheet, Step, other_names};
use serde::Serialize;

use super::figures::{Value, across, cancelling};
use super::{Head, PlaceJson, write};
use crate::cautions;
use crate::exit::Failure;
use crate::job::File;
use crate::output::Sink;
use crate::sheet::parts;

#[derive(Serialize)]
struct SheetJson<'a> {
    #[serde(flatten)]
    head: Head<'a>,
    cautions: Vec<&'static str>,
    parts: Vec<PartJson<'a>>,
    wires: Vec<WireJson<'a>>,
    shared_lugs: Vec<SharedJson>,
    made_already: Vec<[String; 2]>,
}

#[derive(Serialize)]
struct PartJson<'a> {
    name: String,
    what: String,
    value: String,
    tolerance: String,
    #[serde(flatten)]
    place: PlaceJson<'a>,
}

#[derive(Serialize)]
struct WireJson<'a> {
    step: &'static str,
    from: String,
    to: String,
    /// The same lugs by their other names: the coil end of a colour, or the colour of a coil end.
    also: [Option<String>; 2],
    #[serde(flatten)]
    place: PlaceJson<'a>,
}

#[derive(Serialize)]
struct SharedJson {
    lug: String,
    wires: usize,
}

fn step(step: Step) -> &'static str {
    match step {
        Step::OnOnePart => "on_one_part",
        Step::Components => "components",
        Step::Controls => "controls",
        Step::Ground => "ground",
        Step::Pickups => "pickups",
        Step::Outside => "outside",
    }
}

/// Writes the sheet.
///
/// # Errors
/// If it can't be written.
pub(crate) fn sheet(sink: &mut Sink, file: &File, sheet: &Sheet) -> Result<(), Failure> {
    let harness = &file.harness;
    let name = |lug: LugId| harness.lug_name(lug);
    let others = other_names(harness);
    let also = |lug: LugId| others.get(&lug).map(|other| name(*other));
    let active = sheet.active.then_some(cautions::ACTIVE);
    let document = SheetJson {
        head: Head::new("coilwright sheet", file),
        cautions: cautions::ALWAYS.into_iter().chain(active).collect(),
        parts: parts(harness)
            .into_iter()
            .map(|line| PartJson {
                name: line.name,
                what: line.what,
                value: line.value,
                tolerance: line.tolerance,
                place: PlaceJson::of(file, line.span),
            })
            .collect(),
        wires: sheet
            .wires
            .iter()
            .map(|wire| WireJson {
                step: step(wire.step),
                from: name(wire.from),
                to: name(wire.to),
                also: [also(wire.from), also(wire.to)],
                place: PlaceJson::of(file, wire.span),
            })
            .collect(),
        shared_lugs: sheet
            .shared
            .iter()
            .map(|(lug, wires)| SharedJson { lug: name(*lug), wires: *wires })
            .collect(),
        made_already: sheet.made.iter().map(|(a, b)| [name(*a), name(*b)]).collect(),
    };
    write(sink, &document, true)
}

#[derive(Serialize)]
struct CardJson<'a> {
    #[serde(flatten)]
    head: Head<'a>,
    room_celsius: f64,
    room_spread_kelvin: f64,
    meter_share: f64,
    active: bool,
    metal: Vec<String>,
    positions: Vec<EntryJson<'a>>,
}

#[derive(Serialize)]
struct EntryJson<'a> {
    key: &'a str,
    name: Option<&'a str>,
    readings: Vec<ReadingJson>,
    volumes_down: Vec<DownJson<'a>>,
    moved_by_tone: Vec<MovedJson<'a>>,
    outlets: Vec<OutletJson<'a>>,
    off_ground: Vec<String>,
    told_from: Vec<ToldJson<'a>>,
}

#[derive(Serialize)]
struct ReadingJson {
    across: &'static str,
    at_rest: BandJson,
    volumes_at_zero: BandJson,
}

#[derive(Serialize)]
struct BandJson {
    nominal_ohm: Value,
    low_ohm: Value,
    high_ohm: Value,
    coil_readable: bool,
}

impl From<&Band> for BandJson {
    fn from(band: &Band) -> Self {
        BandJson {
            nominal_ohm: band.nominal.into(),
            low_ohm: band.low.into(),
            high_ohm: band.high.into(),
            coil_readable: band.coil_readable,
        }
    }
}

#[derive(Serialize)]
struct DownJson<'a> {
    pot: &'a str,
    silenced: Vec<&'a str>,
    left: Vec<&'a str>,
}

#[derive(Serialize)]
struct MovedJson<'a> {
    pot: &'a str,
    across: &'static str,
    at_10_ohm: Value,
    at_0_ohm: Value,
}

#[derive(Serialize)]
struct OutletJson<'a> {
    coils: Vec<CoilJson<'a>>,
    swing_readable: bool,
    hum: Option<&'static str>,
}

#[derive(Serialize)]
struct CoilJson<'a> {
    coil: &'a str,
    tap: &'static str,
    swing: &'static str,
    sign: i8,
}

#[derive(Serialize)]
struct ToldJson<'a> {
    key: &'a str,
    by: Vec<&'static str>,
}

fn coil(coil: &CoilTests) -> CoilJson<'_> {
    CoilJson {
        coil: &coil.name,
        tap: match coil.tap {
            Tap::Loud => "loud",
            Tap::Faint => "faint",
            Tap::Silent => "silent",
        },
        swing: match coil.swing {
            Swing::Same => "same",
            Swing::Opposite => "opposite",
            Swing::Still => "still",
        },
        sign: coil.sign,
    }
}

fn test(test: Test) -> &'static str {
    match test {
        Test::Meter => "meter",
        Test::Tap => "tap",
        Test::Swing => "swing",
        Test::Hum => "hum",
    }
}

fn entry<'a>(harness: &'a Harness, card: &'a Card, entry: &'a Entry) -> EntryJson<'a> {
    let part = |id: PartId| harness.part(id).name.as_str();
    let names = |ids: &[PartId]| ids.iter().map(|id| part(*id)).collect();
    EntryJson {
        key: &entry.key,
        name: entry.name.as_deref(),
        readings: entry
            .readings
            .iter()
            .map(|reading| ReadingJson {
                across: across(reading.across),
                at_rest: (&reading.at_rest).into(),
                volumes_at_zero: (&reading.volumes_at_zero).into(),
            })
            .collect(),
        volumes_down: entry
            .volumes
            .iter()
            .map(|down| DownJson {
                pot: part(down.pot),
                silenced: names(&down.silenced),
                left: names(&down.left),
            })
            .collect(),
        moved_by_tone: entry
            .moved
            .iter()
            .map(|moved| MovedJson {
                pot: part(moved.pot),
                across: across(moved.across),
                at_10_ohm: moved.readings[0].into(),
                at_0_ohm: moved.readings[1].into(),
            })
            .collect(),
        outlets: entry
            .outlets
            .iter()
            .map(|outlet| OutletJson {
                coils: outlet.coils.iter().map(coil).collect(),
                swing_readable: outlet.swing_readable,
                hum: outlet.hum.map(cancelling),
            })
            .collect(),
        off_ground: entry.off_ground.iter().map(|lug| harness.lug_name(*lug)).collect(),
        told_from: card
            .positions
            .iter()
            .filter(|other| other.key != entry.key)
            .map(|other| ToldJson {
                key: &other.key,
                by: tells(entry, other).into_iter().map(test).collect(),
            })
            .collect(),
    }
}

/// Writes the card.
///
/// # Errors
/// If it can't be written.
pub(crate) fn card(sink: &mut Sink, file: &File, card: &Card) -> Result<(), Failure> {
    let harness = &file.harness;
    let document = CardJson {
        head: Head::new("coilwright card", file),
        room_celsius: card.conditions.celsius,
        room_spread_kelvin: card.conditions.spread,
        meter_share: card.conditions.meter,
        active: card.active,
        metal: metal(harness).into_iter().map(|lug| harness.lug_name(lug)).collect(),
        positions: card.positions.iter().map(|one| entry(harness, card, one)).collect(),
    };
    write(sink, &document, true)
}

#[derive(Serialize)]
struct FaultsJson<'a> {
    #[serde(flatten)]
    head: Head<'a>,
    positions: Vec<SoundJson<'a>>,
    faults: Vec<FaultJson<'a>>,
}

#[derive(Serialize)]
struct SoundJson<'a> {
    key: &'a str,
    name: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    reading: Option<BandJson>,
}

#[derive(Serialize)]
struct FaultJson<'a> {
    kind: &'static str,
    /// Open: the two ends; bridged: the two lugs; misplaced: the end that is right, where the other belongs, where it sits.
    lugs: Vec<String>,
    seen: bool,
    readings: Vec<ShownJson<'a>>,
    #[serde(flatten)]
    place: Option<PlaceJson<'a>>,
}

#[derive(Serialize)]
struct ShownJson<'a> {
    key: &'a str,
    reads_ohm: Value,
    outside: bool,
}

/// Writes the fault table.
///
/// # Errors
/// If it can't be written.
pub(crate) fn faults(sink: &mut Sink, file: &File, card: &Card, all: &[Effect]) -> Result<(), Failure> {
    let name = |lug: LugId| file.harness.lug_name(lug);
    let document = FaultsJson {
        head: Head::new("coilwright faults", file),
        positions: card
            .positions
            .iter()
            .map(|entry| SoundJson {
                key: &entry.key,
                name: entry.name.as_deref(),
                reading: entry.readings.first().map(|reading| (&reading.at_rest).into()),
            })
            .collect(),
        faults: all
            .iter()
            .map(|effect| {
                let (kind, lugs) = match effect.fault {
                    Fault::Open(a, b) => ("open", vec![name(a), name(b)]),
                    Fault::Bridge(a, b) => ("bridged", vec![name(a), name(b)]),
                    Fault::Misplaced { from, to, on } => ("misplaced", vec![name(from), name(to), name(on)]),
                };
                FaultJson {
                    kind,
                    lugs,
                    seen: effect.is_seen(),
                    readings: effect
                        .shown
                        .iter()
                        .map(|shown| ShownJson {
                            key: &card.positions[shown.position].key,
                            reads_ohm: shown.reads.into(),
                            outside: shown.outside,
                        })
                        .collect(),
                    place: effect.span.map(|span| PlaceJson::of(file, span)),
                }
            })
            .collect(),
    };
    write(sink, &document, true)
}
