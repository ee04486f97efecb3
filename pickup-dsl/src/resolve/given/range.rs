//! `(1 to 6)` and `(A to D)` in the brackets of a switch.

use crate::diagnostic::{Code, Diagnostic};
use crate::source::Span;
use crate::syntax::tree::{Group, Item, Number, Statement, Word};

use super::shown;

/// Why ranges can't be written out: a mistake, or nothing where they are too long.
type Refused = Option<Box<Diagnostic>>;

/// Writes out the ranges of a switch; how many items they are.
pub(super) fn write_out(statement: &mut Statement, left: usize) -> Result<usize, Refused> {
    let mut count = 0;
    for clause in &mut statement.clauses {
        for item in &mut clause.items {
            if let Item::Group(group) = item {
                count += in_group(group, left.saturating_sub(count))?;
            }
        }
    }
    for inner in statement.block.iter_mut().flat_map(|b| &mut b.statements).filter(|s| !s.broken) {
        count += write_out(inner, left.saturating_sub(count))?;
    }
    Ok(count)
}

fn in_group(group: &mut Group, left: usize) -> Result<usize, Refused> {
    let is_to = |item: &Item| matches!(item, Item::Word(w) if w.text == "to");
    if !group.items.iter().any(is_to) {
        return Ok(0);
    }
    let mut out: Vec<Item> = Vec::new();
    let mut items = std::mem::take(&mut group.items).into_iter().peekable();
    while let Some(item) = items.next() {
        if !items.peek().is_some_and(is_to) {
            out.push(item);
            continue;
        }
        let to = items.next().map_or(group.span, |t| t.span());
        let Some(last) = items.next() else {
            return Err(Some(Box::new(
                Diagnostic::error(Code::MissingValue, to, "the end of the range is missing")
                    .help("write `(1 to 6)` or `(A to D)`"),
            )));
        };
        let range = numbers(&item, &last).or_else(|| letters(&item, &last));
        let Some((low, high)) = range else {
            let span = item.span().to(last.span());
            return Err(Some(Box::new(
                Diagnostic::error(
                    Code::BadProperty,
                    span,
                    format!("there is no range from `{}` to `{}`", shown(&item), shown(&last)),
                )
                .help(
                    "a range goes up from number to number or from letter to letter: `(1 to 6)`, `(A to D)`",
                ),
            )));
        };
        let is_number = matches!(item, Item::Number(_));
        if (high - low) as usize >= left.saturating_sub(out.len()) {
            return Err(None);
        }
        out.extend((low..=high).map(|n| made(n, is_number, item.span())));
    }
    let count = out.len();
    group.items = out;
    Ok(count)
}

fn made(n: u32, is_number: bool, span: Span) -> Item {
    if is_number {
        let text = n.to_string();
        let decimal = text.clone();
        return Item::Number(Number {
            span,
            text,
            decimal,
            digits: f64::from(n),
            suffix: String::new(),
            tolerance: None,
        });
    }
    let text = char::from_u32(n).map_or_else(String::new, String::from);
    Item::Word(Word { span, text })
}

fn numbers(first: &Item, last: &Item) -> Option<(u32, u32)> {
    let read = |item: &Item| match item {
        Item::Number(n) if n.tolerance.is_none() => n.text.parse::<u32>().ok(),
        _ => None,
    };
    Some((read(first)?, read(last)?)).filter(|(low, high)| low <= high)
}

fn letters(first: &Item, last: &Item) -> Option<(u32, u32)> {
    let read = |item: &Item| match item {
        Item::Word(w) => match w.text.as_bytes() {
            [letter] if letter.is_ascii_alphabetic() => Some(*letter),
            _ => None,
        },
        _ => None,
    };
    let (low, high) = (read(first)?, read(last)?);
    (low <= high && low.is_ascii_uppercase() == high.is_ascii_uppercase())
        .then_some((u32::from(low), u32::from(high)))
}
