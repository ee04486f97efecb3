//! Tokens → tree, in functions shaped like the grammar:
//!
//! ```text
//! file      = { statement }
//! statement = clause { "," clause } [ "{" { statement } "}" ] end-of-line
//! clause    = item { item }
//! item      = word | number | text | "(" { item [","] } ")"
//! ```
//!
//! No function fails on a whole file: what can't be read is reported once, becomes an [`Item::Error`], and its statement is marked
//! as broken. Time is linear in the text: brackets are paired beforehand, and nesting is bounded.

use crate::diagnostic::escape::is_hidden;
use crate::diagnostic::{Code, Diagnostic};
use crate::source::Span;
use crate::syntax::brackets::Close;
use crate::syntax::quantity::number;
use crate::syntax::stream::Tokens;
use crate::syntax::token::{Token, TokenKind};
use crate::syntax::tree::{Block, Clause, Group, Item, Statement, Text, Word};
use nom::branch::alt;
use nom::combinator::{map, opt, verify};
use nom::error::{Error, ErrorKind};
use nom::multi::{many0, many0_count, separated_list1};
use nom::{IResult, Input, Parser};

/// Deepest nesting of brackets and braces together.
pub const NESTING_LIMIT: usize = 64;

pub(crate) type Step<'a, T> = IResult<Tokens<'a>, T>;

/// The next token, whatever it is.
pub(crate) fn any(input: Tokens<'_>) -> Step<'_, Token> {
    match input.peek() {
        Some(token) => Ok((input.take_from(1), token)),
        None => Err(nom::Err::Error(Error::new(input, ErrorKind::Eof))),
    }
}

/// The next token if it is of that kind.
pub(crate) fn kind<'a>(
    kind: TokenKind,
) -> impl Parser<Tokens<'a>, Output = Token, Error = Error<Tokens<'a>>> {
    verify(any, move |token: &Token| token.kind == kind)
}

/// `{ statement }`, to the end of the file or block.
pub(crate) fn statements(mut input: Tokens<'_>) -> Step<'_, Vec<Statement>> {
    let mut list: Vec<Statement> = Vec::new();
    loop {
        input = many0_count(kind(TokenKind::LineEnd)).parse(input)?.0;
        let (rest, found) = match input.peek_kind() {
            None => return Ok((input, list)),
            Some(TokenKind::OpenBrace) => stray_block(input, &mut list)?,
            Some(TokenKind::CloseBrace) if adopt(input, &mut list) => {
                map(end_of_statement, |()| None).parse(input.take_from(1))?
            }
            Some(_) => map(statement, Some).parse(input)?,
        };
        debug_assert!(rest.at > input.at, "each round takes at least a token");
        list.extend(found);
        input = rest;
    }
}

/// `clause { "," clause } [ block ] end-of-line`
fn statement(input: Tokens<'_>) -> Step<'_, Statement> {
    let around = input.state.broken.replace(false);
    let (rest, clauses) = separated_list1(kind(TokenKind::Comma), clause).parse(input)?;
    let (rest, block) = opt(block).parse(rest)?;
    let (rest, ()) = end_of_statement(rest)?;
    let last = last_span(input, rest);
    let span = input.peek().map_or(last, |first| input.state.span(first)).to(last);
    let mut clauses: Vec<Clause> = clauses.into_iter().flatten().collect();
    clauses.shrink_to_fit();
    let broken = input.state.broken.replace(around);
    Ok((rest, Statement { span, clauses, block, broken }))
}

/// `item { item }`; `None`, reported if need be, where a comma has nothing beside it.
fn clause(input: Tokens<'_>) -> Step<'_, Option<Clause>> {
    let (rest, mut items) = many0(item).parse(input)?;
    // Most clauses are short, and a hostile file has very many.
    items.shrink_to_fit();
    if let (Some(first), Some(last)) = (items.first(), items.last()) {
        let span = first.span().to(last.span());
        return Ok((rest, Some(Clause { span, items })));
    }
    // In braces a comma does the same as a new line, and a new line may be left empty.
    let ends_line = matches!(input.peek_kind(), None | Some(TokenKind::LineEnd));
    if !(ends_line && input.depth > 0) {
        let (comma, side) = match input.peek_text(TokenKind::Comma) {
            Some((comma, _)) => (comma, "before"),
            None => (input.state.tokens[input.at.saturating_sub(1)], "after"),
        };
        let report = Diagnostic::error(
            Code::BadStatement,
            input.state.span(comma),
            format!("nothing stands {side} this comma"),
        );
        input.state.fail(if ends_line {
            report.help(
                "a statement ends with its line; to go on over several lines, put its properties in `{ }`",
            )
        } else {
            report.help("take the comma out")
        });
    }
    Ok((rest, None))
}

fn item(input: Tokens<'_>) -> Step<'_, Item> {
    alt((map(word, Item::Word), number, map(text, Item::Text), group, stray)).parse(input)
}

fn word(input: Tokens<'_>) -> Step<'_, Word> {
    let (rest, token) = kind(TokenKind::Word).parse(input)?;
    let mut text = token.text(input.state.text).to_owned();
    // Reported by the lexer.
    text.retain(|c| !is_hidden(c));
    Ok((rest, Word { span: input.state.span(token), text }))
}

fn text(input: Tokens<'_>) -> Step<'_, Text> {
    let (rest, token) = kind(TokenKind::Text).parse(input)?;
    let quoted = token.text(input.state.text);
    let inner = quoted.get(1..quoted.len().saturating_sub(1)).unwrap_or("");
    let mut value = String::with_capacity(inner.len());
    let mut chars = inner.chars();
    while let Some(c) = chars.next() {
        match c {
            '\\' => match chars.next() {
                Some(plain @ ('"' | '\\')) => value.push(plain),
                other => {
                    // Reported by the lexer.
                    value.push('\\');
                    value.extend(other);
                }
            },
            c => value.push(c),
        }
    }
    Ok((rest, Text { span: input.state.span(token), value }))
}

/// `"(" { item [","] } ")"`; line ends inside don't count.
fn group(input: Tokens<'_>) -> Step<'_, Item> {
    let (_, open) = kind(TokenKind::OpenBracket).parse(input)?;
    let state = input.state;
    let (end, after) = match state.pairs[input.at] {
        Some(Close::At(close)) => (close, close + 1),
        _ => {
            let end = line_end(input.take_from(1));
            state.fail(
                Diagnostic::error(Code::OpenBracket, state.span(open), "a `(` that is not closed")
                    .label("opened here")
                    .help("close it with `)`"),
            );
            (end, end)
        }
    };
    let rest = input.from(after);
    let span = state.span(open).to(last_span(input, rest));
    if input.depth >= NESTING_LIMIT {
        too_deep(input, open);
        return Ok((rest, Item::Error(span)));
    }
    let (_, items) =
        many0(alt((map(item, Some), map(separator, |()| None)))).parse(input.inside(end, true))?;
    Ok((rest, Item::Group(Group { span, items: items.into_iter().flatten().collect() })))
}

/// A comma or line end between the items of a group. A comma stands after an item, so two in a row are a slip.
fn separator(input: Tokens<'_>) -> Step<'_, ()> {
    let (rest, token) = alt((kind(TokenKind::Comma), kind(TokenKind::LineEnd))).parse(input)?;
    let opens = || {
        let before = input.state.tokens[..input.at].iter().rev().find(|t| t.kind != TokenKind::LineEnd);
        before.is_some_and(|t| matches!(t.kind, TokenKind::Comma | TokenKind::OpenBracket))
    };
    if token.kind == TokenKind::Comma && opens() {
        let span = input.state.span(token);
        input.state.fail(
            Diagnostic::error(Code::BadStatement, span, "nothing stands before this comma")
                .help("take the comma out"),
        );
    }
    Ok((rest, ()))
}

/// `"{" { statement } "}"`
fn block(input: Tokens<'_>) -> Step<'_, Block> {
    let (_, open) = kind(TokenKind::OpenBrace).parse(input)?;
    let state = input.state;
    let (end, after) = match state.pairs[input.at] {
        Some(Close::At(close)) => (close, close + 1),
        Some(Close::Missing(end)) => (end, end),
        None => (input.end, input.end),
    };
    if end == after {
        state.fail(
            Diagnostic::error(Code::OpenBracket, state.span(open), "a `{` that is not closed")
                .label("opened here")
                .help("close it with `}`"),
        );
    }
    let rest = input.from(after);
    let span = state.span(open).to(last_span(input, rest));
    if input.depth >= NESTING_LIMIT {
        too_deep(input, open);
        return Ok((rest, Block { span, statements: Vec::new() }));
    }
    let (_, statements) = statements(input.inside(end, false))?;
    Ok((rest, Block { span, statements }))
}

fn too_deep(input: Tokens<'_>, open: Token) {
    let text = format!("brackets and braces nested more than {NESTING_LIMIT} deep");
    input.state.fail(Diagnostic::error(Code::TooLarge, input.state.span(open), text));
}

/// A brace that starts a line belongs to the statement before it, if there is one to take it.
fn stray_block<'a>(input: Tokens<'a>, list: &mut [Statement]) -> Step<'a, Option<Statement>> {
    let state = input.state;
    let around = state.broken.replace(false);
    let owner = list.last_mut().filter(|statement| statement.block.is_none());
    let open = input.peek().map_or(Span { file: state.file, start: 0, end: 0 }, |token| state.span(token));
    let report = Diagnostic::error(Code::BadStatement, open, "a `{` with no statement before it on its line");
    state.fail(match &owner {
        Some(owner) => report
            .also(owner.span, "the statement before")
            .help("put the `{` at the end of the line of its statement"),
        None => report.help("braces hold the properties of a statement, as in `pickup neck { … }`"),
    });
    let (rest, block) = block(input)?;
    let (rest, ()) = end_of_statement(rest)?;
    state.broken.set(around);
    let span = block.span.to(last_span(input, rest));
    Ok((
        rest,
        match owner {
            Some(owner) => {
                owner.span = owner.span.to(span);
                owner.block = Some(block);
                owner.broken = true;
                None
            }
            None => Some(Statement { span, clauses: Vec::new(), block: Some(block), broken: true }),
        },
    ))
}

/// How many statements before a stray brace are looked at.
const LOOK_BACK: usize = 1_000;

/// A `}` that closes nothing: when the lines before it are set in under a statement without a block, its `{` was forgotten, and they are
/// that block.
fn adopt(input: Tokens<'_>, list: &mut Vec<Statement>) -> bool {
    let state = input.state;
    let Some(brace) = input.peek().map(|token| state.span(token)) else { return false };
    let indent = |at: u32| {
        let before = state.text.get(..at as usize).unwrap_or("");
        let line = &before[before.rfind('\n').map_or(0, |i| i + 1)..];
        line.chars().all(char::is_whitespace).then_some(line.len())
    };
    let Some(closing) = indent(brace.start) else { return false };
    let is_outside = |statement: &Statement| indent(statement.span.start).is_none_or(|i| i <= closing);
    let outside = list.iter().rev().take(LOOK_BACK).position(is_outside);
    let Some(inside) = outside.filter(|inside| *inside > 0) else { return false };
    let at = list.len() - inside;
    if list[at - 1].block.is_some() {
        return false;
    }
    let statements = list.split_off(at);
    let owner = &mut list[at - 1];
    let end = Span { start: owner.span.end, ..owner.span };
    state.report(
        Diagnostic::error(Code::StrayBracket, brace, "a `}` that closes nothing")
            .also(owner.span, "a `{` was probably forgotten at the end of this line")
            .help("open the brace where its statement ends")
            .fix(end, " {"),
    );
    let span = statements.first().map_or(brace, |first| first.span).to(brace);
    owner.span = owner.span.to(brace);
    owner.block = Some(Block { span, statements });
    owner.broken = true;
    true
}

/// What no item starts with: reported here, or by the lexer already.
fn stray(input: Tokens<'_>) -> Step<'_, Item> {
    let (rest, token) = verify(any, |token: &Token| {
        !matches!(token.kind, TokenKind::Comma | TokenKind::LineEnd | TokenKind::OpenBrace)
    })
    .parse(input)?;
    let state = input.state;
    let span = state.span(token);
    let written = crate::diagnostic::escape(token.text(state.text));
    match token.kind {
        TokenKind::CloseBracket | TokenKind::CloseBrace => state.fail(
            Diagnostic::error(Code::StrayBracket, span, format!("a `{written}` that closes nothing"))
                .help("take it out, or open it before"),
        ),
        TokenKind::Tolerance => state.fail(
            Diagnostic::error(Code::BadTolerance, span, format!("`{written}` does not follow a value"))
                .help("a tolerance stands right after its value, as in `22nF 5%`"),
        ),
        TokenKind::Percent | TokenKind::UnitRatio => state.fail(
            Diagnostic::error(Code::StrayCharacter, span, format!("`{written}` does not follow a number"))
                .help("write the number before its unit"),
        ),
        _ => state.broken.set(true),
    }
    Ok((rest, Item::Error(span)))
}

/// The line end, or the end of the block. Anything else is passed over to the end of its line.
fn end_of_statement(input: Tokens<'_>) -> Step<'_, ()> {
    let Some(token) = input.peek() else { return Ok((input, ())) };
    if token.kind != TokenKind::LineEnd {
        input.state.fail(
            Diagnostic::error(
                Code::BadStatement,
                input.state.span(token),
                "a statement goes on after its `}`",
            )
            .help("start a new line after the `}`"),
        );
    }
    let end = line_end(input);
    if end < input.end {
        input.state.ends.borrow_mut()[end] = true;
    }
    Ok((input.from(end + 1), ()))
}

/// The next line end outside all that is closed, or the end of the run.
fn line_end(input: Tokens<'_>) -> usize {
    let mut at = input.at;
    while at < input.end {
        let token = input.state.tokens[at];
        match (token.kind, input.state.pairs[at]) {
            (TokenKind::LineEnd, _) => return at,
            (_, Some(Close::At(close))) => at = close + 1,
            // An unclosed bracket ends no later than the brace that cut it off.
            (TokenKind::OpenBrace, Some(Close::Missing(end))) => at = end,
            _ => at += 1,
        }
    }
    input.end
}

/// The place of the last token that was taken between two states of the input.
fn last_span(from: Tokens<'_>, to: Tokens<'_>) -> Span {
    let state = from.state;
    let taken = &state.tokens[from.at..to.at];
    let last = taken.iter().rev().find(|token| token.kind != TokenKind::LineEnd);
    last.or(state.tokens.get(from.at)).map_or(Span { file: state.file, start: 0, end: 0 }, |t| state.span(*t))
}
