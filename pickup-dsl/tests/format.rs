//! The canonical form: examples, and what holds for any text.

use pickup_dsl::format::format;
use pickup_dsl::resolve::{NoFiles, compile};
use pickup_dsl::syntax::lexer::lex;
use pickup_dsl::syntax::parse;
use pickup_dsl::syntax::token::TokenKind;
use pickup_dsl::syntax::tree::Statement;
use proptest::prelude::{prop_assert, prop_assert_eq, proptest};
use soup::any_text;

#[path = "properties/soup.rs"]
mod soup;

#[test]
fn blanks_commas_and_braces() {
    let text = "coilwright   1\r\n\r\n\r\n\r\npot  volume\t250 kΩ ,role volume\ncoil lead{dcr 6.5k,pole south}\nwire a to( b.1 ,c ) -- joint   \n\n\n";
    let formatted = "coilwright 1\n\npot volume 250 kΩ, role volume\ncoil lead { dcr 6.5k, pole south }\nwire a to (b.1, c)  -- joint\n";
    assert_eq!(format(text), formatted);
}

#[test]
fn names_and_comments_are_columns_of_lines_that_follow_each_other() {
    let text = "position \"A\" s 1\nposition \"Long\"   s 2 -- x\nposition \"B\" s 3, t 1 -- y\n\nposition \"C\" s 4\nwire a.1 to b\nwire aa.1 to b\n";
    let formatted = "position \"A\"    s 1\nposition \"Long\" s 2       -- x\nposition \"B\"    s 3, t 1  -- y\n\nposition \"C\" s 4\nwire a.1 to b\nwire aa.1 to b\n";
    assert_eq!(format(text), formatted);
}

#[test]
fn the_examples_are_in_canonical_form() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../examples");
    let files = |folder: &std::path::Path| {
        let entries: Vec<_> =
            std::fs::read_dir(folder).expect("a folder").map(|e| e.expect("an entry").path()).collect();
        entries.into_iter().filter(|path| path.extension().is_some_and(|e| e == "harness"))
    };
    let all: Vec<_> = files(&folder).chain(files(&folder.join("parts"))).collect();
    assert!(all.len() > 15);
    for path in all {
        let text = std::fs::read_to_string(&path).expect("text");
        assert_eq!(format(&text), text, "{}", path.display());
    }
}

#[test]
fn indentation_follows_braces_and_brackets() {
    let text = "pickup neck {\n\n      -- the two coils\n coil slug 4k 2H {\n pole south }\n\n\n\n   stacked\n\n}\nwire x to (\na\n      b\n)\nlast";
    let formatted = "pickup neck {\n  -- the two coils\n  coil slug 4k 2H {\n    pole south }\n\n  stacked\n}\nwire x to (\n  a\n  b\n)\nlast\n";
    assert_eq!(format(text), formatted);
}

#[test]
fn what_cannot_be_read_stays_byte_for_byte() {
    let text = "pot   a 5k\n  pot   b   @@  5k   -- odd\r\nwire a to ( b ,  c\npot   d 5k\n";
    let formatted = "pot a 5k\n  pot   b   @@  5k   -- odd\r\nwire a to ( b ,  c\npot d 5k\n";
    assert_eq!(format(text), formatted);
    let unbalanced = "a  {\n b   1\n";
    assert_eq!(format(unbalanced), unbalanced);
}

#[test]
fn nothing_and_comments_alone() {
    assert_eq!(format(""), "");
    assert_eq!(format("\n\n  \n"), "");
    assert_eq!(format("--a\n\n\n  --b"), "--a\n\n--b\n");
}

/// Tokens that carry meaning: kind and text. Line ends separate statements, which are compared as a tree.
fn tokens(text: &str) -> Vec<(TokenKind, String)> {
    let tokens = lex(0, text).tokens.into_iter();
    let tokens = tokens.filter(|token| !token.is_trivia() && token.kind != TokenKind::LineEnd);
    tokens.map(|token| (token.kind, token.text(text).to_owned())).collect()
}

fn comments(text: &str) -> Vec<String> {
    let tokens = lex(0, text).tokens.into_iter().filter(|token| token.kind == TokenKind::Comment);
    tokens.map(|token| token.text(text).trim_end().to_owned()).collect()
}

/// Sizes and brokenness of all statements.
fn shape(statements: &[Statement]) -> String {
    let one = |statement: &Statement| {
        let clauses: Vec<usize> = statement.clauses.iter().map(|clause| clause.items.len()).collect();
        let block = statement.block.as_ref().map(|block| shape(&block.statements));
        format!("{clauses:?}{}{block:?}", statement.broken)
    };
    statements.iter().map(one).collect::<Vec<_>>().join(";")
}

fn broken<'t>(statements: &[Statement], text: &'t str, out: &mut Vec<&'t str>) {
    for statement in statements {
        if statement.broken {
            out.push(&text[statement.span.start as usize..statement.span.end as usize]);
        } else if let Some(block) = &statement.block {
            broken(&block.statements, text, out);
        }
    }
}

proptest! {
    #[test]
    fn formatting_changes_no_token_and_no_statement(text in any_text()) {
        let formatted = format(&text);
        prop_assert_eq!(tokens(&text), tokens(&formatted), "{:?}", formatted);
        prop_assert_eq!(comments(&text), comments(&formatted));
        let (before, after) = (parse(0, &text), parse(0, &formatted));
        prop_assert_eq!(shape(&before.tree.statements), shape(&after.tree.statements), "{:?}", formatted);
        let codes = |list: &[pickup_dsl::diagnostic::Diagnostic]| list.iter().map(|d| d.code).collect::<Vec<_>>();
        prop_assert_eq!(codes(&before.diagnostics), codes(&after.diagnostics));
        let (mut kept, mut found) = (Vec::new(), Vec::new());
        broken(&before.tree.statements, &text, &mut kept);
        broken(&after.tree.statements, &formatted, &mut found);
        prop_assert_eq!(kept, found);
    }

    #[test]
    fn formatting_twice_is_formatting_once(text in any_text()) {
        let once = format(&text);
        let twice = format(&once);
        prop_assert!(once == twice, "{:?}\n{:?}", once, twice);
    }
}

/// What a text means, places left out.
fn meaning(text: &str) -> Option<String> {
    let shown = format!("{:?}", compile("text", text, &NoFiles).harness?);
    let mut parts = shown.split("Span {");
    let mut out = parts.next().unwrap_or("").to_owned();
    out.extend(parts.map(|part| part.split_once('}').map_or("", |(_, rest)| rest)));
    Some(out)
}

/// Whole files, however their blanks are changed, are the same harness before and after.
#[test]
fn meaning_stays() {
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let mut seen = 0;
    for folder in ["examples", "tests/reference/constructs"] {
        for entry in std::fs::read_dir(root.join(folder)).expect("a folder") {
            let path = entry.expect("an entry").path();
            if path.extension().is_none_or(|e| e != "harness") {
                continue;
            }
            let text = std::fs::read_to_string(&path).expect("text");
            let Some(before) = meaning(&text) else { continue };
            // Blanks inside quoted text are the text's own.
            let loosen = |line: &str| match line.contains('"') {
                true => format!("{line}  \n\n\n "),
                false => format!("{}  \n\n\n ", line.replace(", ", "  ,")),
            };
            let loose: String = text.lines().map(loosen).collect();
            for text in [text, loose] {
                assert_eq!(meaning(&format(&text)).as_ref(), Some(&before), "{}", path.display());
            }
            seen += 1;
        }
    }
    assert!(seen > 50, "{seen}");
}
