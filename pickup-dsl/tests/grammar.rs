//! What tree a text becomes, written in one line: clauses end with `;`, blocks stand in braces, `!` marks what is broken.

use pickup_dsl::syntax::parse;
use pickup_dsl::syntax::tree::{Item, Statement};

fn item(item: &Item) -> String {
    match item {
        Item::Word(word) => word.text.clone(),
        Item::Number(number) => {
            let tolerance = number.tolerance.map_or(String::new(), |t| format!("±{}", t.up));
            format!("<{}{}{tolerance}>", number.decimal, number.suffix)
        }
        Item::Text(text) => format!("{:?}", text.value),
        Item::Group(group) => {
            format!("({})", group.items.iter().map(self::item).collect::<Vec<_>>().join(" "))
        }
        Item::Error(_) => "!".to_owned(),
    }
}

fn statement(statement: &Statement) -> String {
    let mut out = String::from(if statement.broken { "!" } else { "" });
    for clause in &statement.clauses {
        out += &clause.items.iter().map(item).collect::<Vec<_>>().join(" ");
        out += ";";
    }
    if let Some(block) = &statement.block {
        out += &format!("{{{}}}", block.statements.iter().map(self::statement).collect::<Vec<_>>().join(" "));
    }
    out
}

fn tree(text: &str) -> (String, Vec<&'static str>) {
    let parsed = parse(0, text);
    let statements: Vec<_> = parsed.tree.statements.iter().map(statement).collect();
    (statements.join(" | "), parsed.diagnostics.iter().map(|d| d.code.text()).collect())
}

fn good(text: &str, expected: &str) {
    assert_eq!(tree(text), (expected.to_owned(), vec![]), "{text}");
}

fn bad(text: &str, expected: &str, codes: &[&str]) {
    assert_eq!(tree(text), (expected.to_owned(), codes.to_vec()), "{text}");
}

#[test]
fn statements_end_with_their_line() {
    good("jack out\nstrings tailpiece", "jack out; | strings tailpiece;");
    good("\r\n\n  jack out -- here\r\n\t\n", "jack out;");
    good("", "");
    good("-- only a comment", "");
    good("\u{feff}jack out\n", "jack out;");
}

#[test]
fn commas_divide_clauses() {
    good("coil lead 6.5k 2.8H, pole south", "coil lead <6.5k> <2.8H>;pole south;");
    good(
        "position \"Neck, \\\"split\\\"\" lever 1, mode up",
        "position \"Neck, \\\"split\\\"\" lever <1>;mode up;",
    );
}

#[test]
fn brackets_go_over_lines() {
    good(
        "wire a.case to (b.1,\n  c.2 -- sleeve\n\n  d)\njack out",
        "wire a.case to (b.1 c.2 d); | jack out;",
    );
    good("loss chain (60% 400k) (40% 90k)", "loss chain (<60%> <400k>) (<40%> <90k>);");
    good("lugs (A.common A.1 (B))", "lugs (A.common A.1 (B));");
    good("throw off", "throw off;");
    good("hears (1, 2, 3)", "hears (<1> <2> <3>);");
    good("a ()", "a ();");
}

#[test]
fn braces_hold_statements() {
    let one_line = "coil lead { dcr 6.5k, pole south }";
    good(one_line, "coil lead;{dcr <6.5k>;pole south;}");
    good("coil lead { dcr 6.5k\n  pole south }\njack out", "coil lead;{dcr <6.5k>; pole south;} | jack out;");
    good(
        "pickup neck {\n  coil slug 4k 2H {\n    pole south\n  }\n  stacked\n}",
        "pickup neck;{coil slug <4k> <2H>;{pole south;} stacked;}",
    );
    good("a { }", "a;{}");
    good("a {\n}\n", "a;{}");
    // A comma does there what a new line does, and a line may end with one.
    good("a {\n  b 1,\n  c 2,\n}", "a;{b <1>; c <2>;}");
}

#[test]
fn words_are_names_in_one_piece() {
    good("lever.A.3 to volume.2 mode.1-2 größe ギター_2", "lever.A.3 to volume.2 mode.1-2 größe ギター_2;");
    good("a--b", "a;");
    good("pot wire 250k audio", "pot wire <250k> audio;");
}

#[test]
fn one_cause_gives_one_message_and_breaks_one_statement() {
    bad("wire a to (b, c\njack out", "!wire a to (b c); | jack out;", &["T104"]);
    bad("wire a to b)\njack out", "!wire a to b !; | jack out;", &["T105"]);
    bad("}\njack out", "!!; | jack out;", &["T105"]);
    bad("a { b } c\njack out", "!a;{b;} | jack out;", &["S307"]);
    bad("guitar \"Lantern\njack out", "!guitar !; | jack out;", &["T103"]);
    bad("pickup neck\n{ coil a }\njack out", "!pickup neck;{coil a;} | jack out;", &["S307"]);
    bad("{ coil a }\njack out", "!{coil a;} | jack out;", &["S307"]);
    bad("a,, b\njack out", "!a;b; | jack out;", &["S307"]);
    bad(", b", "!b;", &["S307"]);
    bad("a (b,, c)", "!a (b c);", &["S307"]);
    bad("a @@@ b\njack out", "!a ! b; | jack out;", &["T101"]);
    bad("a 1.2.3\njack out", "!a !; | jack out;", &["V201"]);
}

#[test]
fn a_broken_part_leaves_what_is_around_it_whole() {
    bad("a {\n  b @\n  c 1\n}\nd", "a;{!b !; c <1>;} | d;", &["T101"]);
    // The inner brace was forgotten, as the indentation shows.
    bad("a {\n  b {\n    c\n}\nd", "a;{!b;{c;}} | d;", &["T104"]);
    bad("a {\n  b\nc", "!a;{b; c;}", &["T104"]);
}

#[test]
fn what_is_mended_is_not_broken() {
    bad("resistor R1 4,7k", "resistor R1 <4.7k>;", &["V202"]);
    bad("capacitor C1 0.022 mfd", "capacitor C1 <0.022uF>;", &["V204"]);
    bad("capacitor C1 22nF ±5", "capacitor C1 <22nF>;", &["V207"]);
}

/// The language's description shows nothing that can't be parsed.
#[test]
fn examples_of_the_language_parse() {
    let document = include_str!("../LANGUAGE.md");
    let blocks: Vec<&str> = document.split("```").skip(1).step_by(2).collect();
    let mut tried = 0;
    for block in blocks {
        let (_, text) = block.split_once('\n').unwrap_or_default();
        // The grammar itself, and sketches with an ellipsis.
        if text.contains("statement =") || text.contains('…') {
            continue;
        }
        let parsed = parse(0, text);
        assert_eq!(parsed.diagnostics, [], "{text}");
        assert!(!parsed.tree.statements.is_empty());
        tried += 1;
    }
    assert!(tried >= 5, "{tried}");
}
