//! A number in its statement: the unit that stands apart and the tolerance that follows are joined to it here.

use crate::diagnostic::{Code, Diagnostic, escape};
use crate::source::Span;
use crate::syntax::number::{self, Shape};
use crate::syntax::parser::{Step, kind};
use crate::syntax::stream::Tokens;
use crate::syntax::token::{Token, TokenKind};
use crate::syntax::tree::{Item, Number, Tolerance};
use crate::syntax::unit;
use nom::{Input, Parser};

/// `number [unit] [tolerance]`
pub(crate) fn number(input: Tokens<'_>) -> Step<'_, Item> {
    let (rest, token) = kind(TokenKind::Number).parse(input)?;
    let state = input.state;
    let digits = token.text(state.text);
    let (rest, span, written) = match unit_apart(rest, digits) {
        Some((unit, text)) => {
            (rest.take_from(1), state.span(token).to(state.span(unit)), format!("{digits}{text}"))
        }
        None => (rest, state.span(token), digits.to_owned()),
    };
    let (shape, slip) = number::shape(&written, span);
    if let Some(slip) = slip {
        if shape.is_some() { state.report(slip) } else { state.fail(slip) }
    }
    let Some(shape) = shape.map(|shape| without_old_mark(input, shape, span)) else {
        return Ok((rest, Item::Error(span)));
    };
    let after_code = input.at > 0 && state.tokens[input.at - 1].text(state.text) == "code";
    let (rest, span, tolerance) = match tolerance(rest, &shape, after_code) {
        Followed::No => (rest, span, None),
        Followed::By { rest, end, tolerance } => (rest, span.to(end), Some(tolerance)),
        Followed::Unclear { rest, end } => {
            state.fail(two_readings(&shape, input, span.to(end)));
            return Ok((rest, Item::Error(span.to(end))));
        }
        Followed::Unreadable { rest, report } => {
            state.report(report);
            (rest, span, None)
        }
    };
    let Shape { text, decimal, suffix } = shape;
    let Ok(digits) = decimal.parse::<f64>() else {
        state.broken.set(true);
        return Ok((rest, Item::Error(span)));
    };
    Ok((rest, Item::Number(Number { span, text, decimal, digits, suffix, tolerance })))
}

/// The unit after a blank, as in `250 kΩ`, where no name would be written so.
fn unit_apart<'a>(rest: Tokens<'a>, digits: &str) -> Option<(Token, &'a str)> {
    let bare = digits.bytes().all(|b| b.is_ascii_digit() || matches!(b, b'.' | b'-' | b'+' | b','));
    if let Some(found) = rest.peek_text(TokenKind::Percent) {
        return bare.then_some(found);
    }
    if let Some(found) = rest.peek_text(TokenKind::UnitRatio) {
        return bare.then_some(found);
    }
    let (token, word) = rest.peek_text(TokenKind::Word)?;
    let suffix = digits.trim_start_matches(|c: char| c.is_ascii_digit() || c == '.');
    let joins = if bare {
        unit::is_apart_unit(word) || (unit::is_apart_letter(word) && !rest.in_brackets)
    } else {
        // `250k ohm`: the multiplier is there, the unit follows.
        unit::is_multiplier(suffix) && unit::is_ohms(word)
    };
    joins.then_some((token, word))
}

/// `mfd` and its kin meant microfarads; today's reader takes the `m` for milli.
fn without_old_mark(input: Tokens<'_>, shape: Shape, span: Span) -> Shape {
    let Some((suffix, true)) = unit::corrected(&shape.suffix) else { return shape };
    let text = format!("{}{suffix}", shape.decimal);
    input.state.report(
        Diagnostic::error(Code::WrongUnit, span, format!("`{}` is no unit", escape(&shape.suffix)))
            .help(format!("write `{text}`"))
            .fix(span, text.clone()),
    );
    Shape { text, suffix, ..shape }
}

/// What stands after a value.
enum Followed<'a> {
    /// No tolerance.
    No,
    /// A tolerance, up to `end`.
    By { rest: Tokens<'a>, end: Span, tolerance: Tolerance },
    /// A letter that may be a unit or a tolerance.
    Unclear { rest: Tokens<'a>, end: Span },
    /// A tolerance with a slip; the value itself is fine.
    Unreadable { rest: Tokens<'a>, report: Diagnostic },
}

fn tolerance<'a>(input: Tokens<'a>, shape: &Shape, after_code: bool) -> Followed<'a> {
    let state = input.state;
    let Some(token) = input.peek() else { return Followed::No };
    let text = token.text(state.text);
    let bare = shape.suffix.is_empty();
    // In brackets bare numbers are lugs, strings or throws, and what follows is the next of them.
    // `900m 5%`: no share ever follows a length.
    let may_follow = after_code
        || unit::takes_tolerance(&shape.suffix)
        || ((bare || shape.suffix == "m") && !input.in_brackets);
    match token.kind {
        TokenKind::Tolerance => read_tolerance(input, token),
        TokenKind::Number if may_follow && !text.starts_with('-') => {
            let percent = text.ends_with('%');
            let apart = text.bytes().all(|b| b.is_ascii_digit() || b == b'.')
                && input.take_from(1).peek_kind() == Some(TokenKind::Percent);
            if percent || apart { read_tolerance(input, token) } else { Followed::No }
        }
        TokenKind::Word => {
            let Some((up, down)) = unit::tolerance_letter(text) else { return Followed::No };
            let (rest, end) = (input.take_from(1), state.span(token));
            let clear =
                unit::takes_tolerance(&shape.suffix) && !unclear(&shape.suffix, text) && !of_pot(input);
            if after_code || clear {
                Followed::By { rest, end, tolerance: Tolerance { up, down } }
            } else if unclear(&shape.suffix, text) && (!bare || !input.in_brackets) {
                Followed::Unclear { rest, end }
            } else {
                Followed::No
            }
        }
        _ => Followed::No,
    }
}

/// After a pot's track a letter is its taper (`500k B`), which has to be said with its convention: that is for the resolver to say.
fn of_pot(input: Tokens<'_>) -> bool {
    let state = input.state;
    let line = state.tokens[..input.at].iter().rev().take_while(|token| token.kind != TokenKind::LineEnd);
    // A look back of bounded length keeps the parser linear; the track stands near its word.
    line.take(16).any(|token| matches!(token.text(state.text), "pot" | "gang" | "track"))
}

/// `510 K` is 510 kΩ or 510 Ω ± 10 %, `22n F` is 22 nF or 22 nF ± 1 %.
fn unclear(suffix: &str, letter: &str) -> bool {
    let farads = matches!(suffix, "n" | "p" | "u" | "m" | "\u{b5}" | "\u{3bc}");
    (suffix.is_empty() && matches!(letter, "K" | "M" | "G" | "F")) || (farads && letter == "F")
}

fn two_readings(shape: &Shape, input: Tokens<'_>, span: Span) -> Diagnostic {
    let place = span.start as usize..span.end as usize;
    let written = input.state.text.get(place).unwrap_or("");
    let letter = written.chars().last().unwrap_or(' ');
    let (up, _) = unit::tolerance_letter(&letter.to_string()).unwrap_or((0.0, 0.0));
    let unit = if letter == 'K' { 'k' } else { letter };
    let (value, percent) = (&shape.text, (up * 100.0).round());
    Diagnostic::error(Code::BadTolerance, span, format!("`{}` has two readings", escape(written)))
        .note(format!("`{letter}` may be part of the value or the code letter of ± {percent} %"))
        .help(format!("write `{value}{unit}` or `{value} {percent}%`"))
}

fn read_tolerance(input: Tokens<'_>, token: Token) -> Followed<'_> {
    let state = input.state;
    let mut rest = input.take_from(1);
    let mut end = state.span(token);
    let mut text = token.text(state.text).to_owned();
    if !text.ends_with('%')
        && let Some((percent, sign)) = rest.peek_text(TokenKind::Percent)
    {
        rest = rest.take_from(1);
        end = state.span(percent);
        text.push_str(sign);
    }
    match number::tolerance(&text, state.span(token).to(end)) {
        Ok(tolerance) => Followed::By { rest, end, tolerance },
        Err(report) => Followed::Unreadable { rest, report },
    }
}
