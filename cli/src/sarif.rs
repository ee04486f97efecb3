//! What `check` finds, as SARIF 2.1.0 (OASIS Standard, 27 March 2020): a result for each error, warning, expectation that fails and change
//! since a record, with its place in the harness file.

use std::collections::BTreeSet;

use pickup_dsl::diagnostic::{Code, Diagnostic, Severity};
use pickup_dsl::source::Span;
use serde_json::{Value, json};

use crate::exit::Failure;
use crate::judged::Looked;
use crate::output::Sink;

/// Where the published schema is named, as the standard asks (§3.13.3).
const SCHEMA: &str =
    "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json";
/// Rule of a change since a record, which has no code of the language.
const CHANGED: &str = "changed-since-record";

/// Writes the log.
///
/// # Errors
/// If it can't be written.
pub(crate) fn write(sink: &mut Sink, all: &[Looked]) -> Result<(), Failure> {
    crate::json::write(sink, &log(all), true)
}

fn log(all: &[Looked]) -> Value {
    let mut results = Vec::new();
    let mut codes: BTreeSet<Code> = BTreeSet::new();
    let mut notes = Vec::new();
    for looked in all {
        let messages = looked.judged.iter().filter_map(|judged| judged.message.as_ref());
        for diagnostic in looked.found.iter().chain(messages) {
            codes.insert(diagnostic.code);
            results.push(result(looked, diagnostic));
        }
        for (position, text) in &looked.changes {
            results.push(json!({
                "ruleId": CHANGED,
                "level": "error",
                "message": { "text": format!("{position}: {text}") },
                "locations": [{ "physicalLocation": { "artifactLocation": { "uri": uri(&looked.name) } } }],
            }));
        }
        if let Some(failure) = &looked.failure {
            notes.push(json!({ "level": "error", "message": { "text": failure.to_string() } }));
        }
    }
    let mut rules: Vec<Value> = codes.iter().map(|code| rule(*code)).collect();
    if results.iter().any(|result| result["ruleId"] == CHANGED) {
        rules.push(json!({
            "id": CHANGED,
            "shortDescription": { "text": "a figure that has changed since the record" },
        }));
    }
    json!({
        "$schema": SCHEMA,
        "version": "2.1.0",
        "runs": [{
            "tool": { "driver": {
                "name": "coilwright",
                "version": env!("CARGO_PKG_VERSION"),
                "rules": rules,
            } },
            "columnKind": "unicodeCodePoints",
            "invocations": [{
                "executionSuccessful": notes.is_empty(),
                "toolExecutionNotifications": notes,
            }],
            "results": results,
        }],
    })
}

fn rule(code: Code) -> Value {
    json!({
        "id": code.text(),
        "shortDescription": { "text": code.title() },
        "fullDescription": { "text": code.title() },
        "help": { "text": code.explanation(), "markdown": code.explanation() },
    })
}

fn result(looked: &Looked, diagnostic: &Diagnostic) -> Value {
    let mut text = diagnostic.message.clone();
    let label = Some(&diagnostic.primary.text).filter(|text| !text.is_empty());
    for more in label.into_iter().chain(&diagnostic.notes).chain(&diagnostic.help) {
        text.push_str("; ");
        text.push_str(more);
    }
    let related: Vec<Value> = diagnostic
        .secondary
        .iter()
        .map(|label| {
            let mut place = location(looked, label.span);
            if !label.text.is_empty() {
                place["message"] = json!({ "text": label.text });
            }
            place
        })
        .collect();
    let mut result = json!({
        "ruleId": diagnostic.code.text(),
        "level": match diagnostic.severity {
            Severity::Error => "error",
            Severity::Warning => "warning",
        },
        "message": { "text": text },
        "locations": [location(looked, diagnostic.primary.span)],
    });
    if !related.is_empty() {
        result["relatedLocations"] = Value::Array(related);
    }
    result
}

fn location(looked: &Looked, span: Span) -> Value {
    let start = looked.sources.place(span);
    let end = looked.sources.place(Span { start: span.end, ..span });
    json!({ "physicalLocation": {
        "artifactLocation": { "uri": uri(&looked.sources.get(span.file).name) },
        "region": {
            "startLine": start.line,
            "startColumn": start.column,
            "endLine": end.line,
            "endColumn": end.column,
        },
    } })
}

/// A path as a relative URI reference (RFC 3986): what is not unreserved, and no `/`, in percent signs.
fn uri(path: &str) -> String {
    let mut out = String::new();
    for byte in path.replace('\\', "/").bytes() {
        match byte {
            b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' | b'/' => {
                out.push(byte as char)
            }
            byte => out.push_str(&format!("%{byte:02X}")),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::uri;

    #[test]
    fn paths_are_uris() {
        assert_eq!(uri("my guitars/ü.harness"), "my%20guitars/%C3%BC.harness");
    }
}
