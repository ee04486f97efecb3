//! `geometry { scale 648mm … }`: strings and where the pickups sit under them.

use std::collections::BTreeMap;

use crate::diagnostic::{Code, Diagnostic, escape};
use crate::harness::{Geometry, PartId, PartKind, Pickup, Seat};
use crate::resolve::build::Build;
use crate::resolve::cursor::{Items, finish, missing};
use crate::resolve::report::listed;
use crate::resolve::schema::Range;
use crate::resolve::show::show;
use crate::resolve::value::value;
use crate::source::Span;
use crate::syntax::tree::{Dimension, Item, Statement};

mod note;

/// The usual six strings, string 1 first.
const USUAL: [&str; 6] = ["E4", "B3", "G3", "D3", "A2", "E2"];
/// Between the coils of a pickup where the file does not say, m (common practice, no source).
const SPACING: f64 = 18e-3;
const SCALE: Range = Range::new((0.1, 3.0), &[(0.3, 1.0)]);
const DISTANCE: Range = Range::new((0.0, 3.0), &[(5e-3, 0.4)]);
const APART: Range = Range::new((0.0, 0.3), &[(0.0, 0.0), (5e-3, 40e-3)]);
const WORDS: [&str; 6] = ["scale", "notes", "place", "spacing", "order", "aperture"];
const HOW: &str = "write `place bridge 42mm, spacing 18mm, order (screw slug), aperture 10mm`";

/// A `place` as written.
#[derive(Debug)]
struct Written<'t> {
    pickup: PartId,
    /// One coil of it.
    coil: Option<usize>,
    distance: (f64, f64),
    spacing: Option<f64>,
    order: Option<(Vec<&'t str>, Span)>,
    aperture: Option<f64>,
    span: Span,
}

/// What has been read.
#[derive(Default)]
struct Read<'t> {
    scale: Option<f64>,
    notes: Option<(Vec<f64>, Span)>,
    places: Vec<Written<'t>>,
    said: BTreeMap<&'static str, Span>,
    /// The last `place` could not be read: what belongs to it is let go.
    lost: bool,
}

impl<'t> Build<'_, 't> {
    /// Reads the block; None once what is wrong has been said.
    pub(crate) fn geometry(&mut self, statement: &'t Statement) -> Option<Geometry> {
        let errors = self.report.errors();
        let mut read = Read::default();
        let word = statement.clauses[0].items[0].span();
        let mut head = Items::of(&statement.clauses[0]);
        head.next();
        if head.peek().is_some() {
            self.geometry_clause(head, &mut read);
        }
        for clause in &statement.clauses[1..] {
            self.geometry_clause(Items::of(clause), &mut read);
        }
        let inner = statement.block.iter().flat_map(|b| &b.statements);
        for inner in inner.filter(|s| !s.broken) {
            for clause in &inner.clauses {
                self.geometry_clause(Items::of(clause), &mut read);
            }
        }
        if read.scale.is_none() && self.report.errors() == errors {
            self.report.push(
                Diagnostic::error(Code::MissingValue, word, "`scale` is missing")
                    .label("how long an open string is")
                    .help("write it like `scale 648mm`"),
            );
        }
        let notes = self.open_notes(&read, word);
        let whole = self.report.errors() == errors;
        let seats = self.seats(&read, word);
        if whole && self.report.errors() == errors {
            self.unplaced(&seats, word);
        }
        if self.report.errors() > errors {
            return None;
        }
        Some(Geometry { scale: read.scale?, notes: notes?, seats, span: statement.span })
    }

    fn geometry_clause(&mut self, mut items: Items<'t>, read: &mut Read<'t>) {
        let Some(word) = items.word() else {
            if !matches!(items.peek(), Some(Item::Error(_))) {
                let diagnostic = missing(items.here(), "a word of the geometry", items.peek().is_some());
                self.report.push(diagnostic.note(format!("there are {}", listed(WORDS))));
            }
            return;
        };
        let here = word.span;
        let known = WORDS.iter().find(|w| **w == word.text).copied();
        match known {
            Some(word @ ("scale" | "notes")) => {
                if let Some(first) = read.said.insert(word, here) {
                    self.said_twice(word, here, first);
                }
                if word == "scale" {
                    read.scale = value(&mut items, Dimension::Metres, SCALE, self.report).map(|v| v.value);
                } else {
                    let Some(notes) = self.notes(&mut items) else { return };
                    read.notes = Some((notes, here));
                }
            }
            Some("place") => {
                let place = self.seat_of(&mut items, here);
                read.lost = place.is_none();
                read.places.extend(place);
                if read.lost {
                    return;
                }
            }
            Some(word) => {
                if read.lost {
                    return;
                }
                let Some(place) = read.places.last_mut() else {
                    let diagnostic =
                        Diagnostic::error(Code::BadStatement, here, format!("`{word}` belongs to a `place`"));
                    self.report.push(diagnostic.help(HOW));
                    return;
                };
                let again = match word {
                    "spacing" => {
                        let read = value(&mut items, Dimension::Metres, APART, self.report);
                        read.and_then(|v| place.spacing.replace(v.value)).is_some()
                    }
                    "aperture" => {
                        let read = value(&mut items, Dimension::Metres, APART, self.report);
                        read.and_then(|v| place.aperture.replace(v.value)).is_some()
                    }
                    _ => {
                        let Some(Item::Group(group)) = items.next() else {
                            let diagnostic = missing(here, "the bracket with the coils", true);
                            self.report.push(diagnostic.help("write `order (screw slug)`"));
                            return;
                        };
                        let words = group.items.iter().map(|item| match item {
                            Item::Word(word) => word.text.as_str(),
                            _ => "",
                        });
                        place.order.replace((words.collect(), group.span)).is_some()
                    }
                };
                if again {
                    let span = place.span;
                    self.said_twice(word, here, span);
                }
            }
            None => {
                let mut diagnostic = Diagnostic::error(
                    Code::UnknownProperty,
                    here,
                    format!("the geometry has no `{}`", escape(&word.text)),
                )
                .note(format!("it has {}", listed(WORDS)));
                if let Some(close) = self.report.closest(&word.text, WORDS) {
                    diagnostic = diagnostic.help(format!("did you mean `{close}`?")).fix(here, close);
                }
                self.report.push(diagnostic);
                return;
            }
        }
        finish(&items, |w| WORDS.contains(&w), self.report);
    }

    fn said_twice(&mut self, word: &str, again: Span, first: Span) {
        self.report.push(
            Diagnostic::error(Code::RepeatedProperty, again, format!("`{word}` is said twice"))
                .label("again")
                .also(first, "first here")
                .help("keep one of them"),
        );
    }

    /// `place bridge 42mm to 50mm`; None also for a part that a variant has taken out.
    fn seat_of(&mut self, items: &mut Items<'t>, here: Span) -> Option<Written<'t>> {
        let Some(word) = items.word() else {
            let diagnostic = missing(items.here(), "a pickup or a coil", items.peek().is_some()).help(HOW);
            self.report.push(diagnostic);
            return None;
        };
        let (name, coil) = word.text.split_once('.').unwrap_or((&word.text, ""));
        let name_span = Span { end: word.span.start + name.len() as u32, ..word.span };
        let declared = self.part(name, name_span)?;
        let id = declared.id?;
        let PartKind::Pickup(pickup) = &self.parts[id.0 as usize].kind else {
            if !declared.open {
                let text = format!("`{}` is no pickup", escape(name));
                let diagnostic = Diagnostic::error(Code::UnknownName, name_span, text);
                self.report.push(diagnostic.also(declared.span, "declared here").help(HOW));
            }
            return None;
        };
        let index = pickup.coils.iter().position(|c| c.name == coil);
        if index.is_none() && !coil.is_empty() {
            let names = listed(pickup.coils.iter().map(|c| c.name.as_str()));
            let text = format!("no coil is called `{}`", escape(&word.text));
            let diagnostic = Diagnostic::error(Code::UnknownName, word.span, text);
            self.report.push(diagnostic.note(format!("the pickup has {names}")));
            return None;
        }
        let first = value(items, Dimension::Metres, DISTANCE, self.report)?.value;
        let last = match items.eat("to") {
            Some(_) => value(items, Dimension::Metres, DISTANCE, self.report)?.value,
            None => first,
        };
        Some(Written {
            pickup: id,
            coil: index.filter(|_| !coil.is_empty()),
            distance: (first, last),
            spacing: None,
            order: None,
            aperture: None,
            span: here.to(word.span),
        })
    }

    /// `notes (E4 B3 G3 D3 A2 E2)`
    fn notes(&mut self, items: &mut Items<'t>) -> Option<Vec<f64>> {
        let Some(Item::Group(group)) = items.peek() else {
            let diagnostic = missing(items.here(), "the bracket with the notes", items.peek().is_some());
            self.report.push(diagnostic.help("write `notes (E4 B3 G3 D3 A2 E2)`, string 1 first"));
            return None;
        };
        items.next();
        let mut inner = Items::new(&group.items, group.span);
        let mut notes = Vec::new();
        while inner.peek().is_some() {
            notes.push(note::note(&mut inner, self.report)?);
        }
        let rising = notes.len() > 2 && notes.windows(2).all(|pair| pair[0] < pair[1]);
        if rising {
            self.report.push(
                Diagnostic::warning(Code::UnusualValue, group.span, "the notes rise from string 1 on")
                    .label("string 1 is the thinnest")
                    .help("write them the other way round"),
            );
        }
        Some(notes)
    }

    /// The open strings: said, or the usual six.
    fn open_notes(&mut self, read: &Read<'t>, word: Span) -> Option<Vec<f64>> {
        let strings = self.string_count as usize;
        if read.said.contains_key("notes") {
            let (notes, span) = read.notes.as_ref()?;
            if notes.len() != strings {
                let text = format!("{} notes for {strings} strings", notes.len());
                let help = "the number of strings is said with `string-count`; 6 unless said";
                self.report.push(Diagnostic::error(Code::BadProperty, *span, text).help(help));
                return None;
            }
            return Some(notes.clone());
        }
        if strings != USUAL.len() {
            let text = format!("`notes` is missing: there are {strings} strings");
            let help = "write the open strings, string 1 first, like `notes (G2 D2 A1 E1)`";
            self.report.push(Diagnostic::error(Code::MissingValue, word, text).help(help));
            return None;
        }
        self.assume(format!("geometry: open strings {}, string 1 first", USUAL.join(" ")), word);
        USUAL.iter().map(|text| note::named(text)).collect()
    }

    /// The places of all coils that hear strings.
    fn seats(&mut self, read: &Read<'t>, word: Span) -> Vec<Seat> {
        let mut seats: Vec<(Seat, Span)> = Vec::new();
        for place in &read.places {
            let part = &self.parts[place.pickup.0 as usize];
            let PartKind::Pickup(pickup) = &part.kind else { continue };
            let mut assumed = Vec::new();
            let made = match place.coil {
                Some(coil) => Ok(vec![(coil, 0.0)]),
                None => offsets(place, pickup, &mut assumed),
            };
            if place.aperture.is_none() {
                assumed.push("an aperture that is a point".to_owned());
            }
            let name = match place.coil {
                Some(coil) => format!("{}.{}", part.name, pickup.coils[coil].name),
                None => part.name.clone(),
            };
            match made {
                Ok(made) => {
                    for (coil, offset) in made {
                        let distance = (place.distance.0 + offset, place.distance.1 + offset);
                        let aperture = place.aperture.unwrap_or(0.0);
                        let seat = Seat { pickup: place.pickup, coil, distance, aperture };
                        self.seat(seat, place, read.scale, &mut seats);
                    }
                    if !assumed.is_empty() {
                        self.assume(format!("geometry: {name} with {}", assumed.join("; ")), word);
                    }
                }
                Err(diagnostic) => self.report.push(*diagnostic),
            }
        }
        seats.into_iter().map(|(seat, _)| seat).collect()
    }

    fn seat(&mut self, seat: Seat, place: &Written<'t>, scale: Option<f64>, seats: &mut Vec<(Seat, Span)>) {
        let same = |(s, _): &&(Seat, Span)| s.pickup == seat.pickup && s.coil == seat.coil;
        if let Some((_, first)) = seats.iter().find(same) {
            let first = *first;
            self.report.push(
                Diagnostic::error(Code::RepeatedProperty, place.span, "this coil has its place already")
                    .also(first, "first here")
                    .help("keep one of them"),
            );
            return;
        }
        let (a, b) = seat.distance;
        let outside = |d: f64| d <= 0.0 || scale.is_some_and(|scale| d >= scale);
        if outside(a) || outside(b) {
            let far = if outside(a) { a } else { b };
            let text = format!("a coil {} from the bridge", show(far, Dimension::Metres));
            let label = match scale {
                Some(scale) => format!("an open string ends at {}", show(scale, Dimension::Metres)),
                None => "the string ends at the bridge".to_owned(),
            };
            let help = "a distance is that from the bridge to the middle of the pickup";
            let diagnostic = Diagnostic::error(Code::OutOfRange, place.span, text);
            self.report.push(diagnostic.label(label).help(help));
            return;
        }
        seats.push((seat, place.span));
    }

    /// Says so of coils that hear strings and have no place.
    fn unplaced(&mut self, seats: &[Seat], word: Span) {
        let mut without: Vec<(&str, Span)> = Vec::new();
        for (i, part) in self.parts.iter().enumerate() {
            let PartKind::Pickup(pickup) = &part.kind else { continue };
            let has = |coil| seats.iter().any(|s| s.pickup == PartId(i as u32) && s.coil == coil);
            let bare = |(coil, c): (usize, &crate::harness::Coil)| c.strength != 0.0 && !has(coil);
            if pickup.coils.iter().enumerate().any(bare) {
                without.push((&part.name, part.span));
            }
        }
        let Some((name, span)) = without.first().copied() else { return };
        let names = listed(without.iter().map(|(name, _)| *name));
        let help = format!("write `place {name} 160mm`, from the bridge to its middle");
        let diagnostic =
            Diagnostic::error(Code::MissingValue, word, format!("the geometry has no place for {names}"));
        self.report.push(diagnostic.also(span, "declared here").help(help));
    }
}

/// Each coil of a pickup with its distance from the pickup's middle, towards the neck.
fn offsets(
    place: &Written<'_>,
    pickup: &Pickup,
    assumed: &mut Vec<String>,
) -> Result<Vec<(usize, f64)>, Box<Diagnostic>> {
    let count = pickup.coils.len();
    let order: Vec<usize> = match &place.order {
        None => (0..count).collect(),
        Some((names, span)) => {
            let found: Vec<usize> =
                names.iter().filter_map(|n| pickup.coils.iter().position(|c| c.name == *n)).collect();
            let mut sorted = found.clone();
            sorted.sort_unstable();
            if count < 2 {
                let text = "this pickup has one coil, and no order";
                return Err(Box::new(
                    Diagnostic::error(Code::BadProperty, *span, text).help("leave `order` out"),
                ));
            }
            if sorted != (0..count).collect::<Vec<_>>() || names.len() != count {
                let coils = listed(pickup.coils.iter().map(|c| c.name.as_str()));
                return Err(Box::new(
                    Diagnostic::error(Code::BadProperty, *span, "`order` names each coil of the pickup once")
                        .note(format!("they are {coils}")),
                ));
            }
            found
        }
    };
    if count < 2 {
        return Ok(vec![(0, 0.0)]);
    }
    let default = if pickup.stacked { 0.0 } else { SPACING };
    let spacing = place.spacing.unwrap_or(default);
    if place.spacing.is_none() && spacing > 0.0 {
        assumed.push(format!("coils {} apart", show(spacing, Dimension::Metres)));
    }
    if place.order.is_none() && spacing > 0.0 {
        assumed.push(format!("`{}` nearest to the bridge", pickup.coils[0].name));
    }
    let middle = (count - 1) as f64 / 2.0;
    Ok(order.into_iter().enumerate().map(|(i, coil)| (coil, (i as f64 - middle) * spacing)).collect())
}
