//! Which warnings a file means: the one rule for what an `intend` or a `mute` holds back, for the compiler and for the bench.

use std::cell::RefCell;

use crate::diagnostic::{Code, Diagnostic};
use crate::harness::{Intent, Meant, PartId, Place};

/// A part and what in it a warning is about; an empty name is the part as a whole.
pub(crate) type Thing<'n> = (PartId, &'n str);

/// The intents of a file, with a book of those that held something back.
#[derive(Debug)]
pub(crate) struct Intents<'a> {
    list: &'a [Intent],
    used: RefCell<Vec<bool>>,
}

impl<'a> Intents<'a> {
    pub(crate) fn new(list: &'a [Intent]) -> Self {
        Intents { list, used: RefCell::new(vec![false; list.len()]) }
    }

    /// Whether a warning is meant: of that code, about these things (an intent may name some of them or none), in a place that `here`
    /// accepts.
    pub(crate) fn hold(&self, code: Code, about: &[Thing<'_>], here: impl Fn(&Place) -> bool) -> bool {
        self.hold_if(code, |intent| {
            let named = |subject: &crate::harness::Subject| {
                about.iter().any(|&(part, inside)| subject.covers(part, inside))
            };
            intent.of.iter().all(named) && here(&intent.place)
        })
    }

    /// The same by a rule of the caller's. Every intent that fits is of use, the second of two equal ones too.
    pub(crate) fn hold_if(&self, code: Code, fits: impl Fn(&Intent) -> bool) -> bool {
        let mut held = false;
        for (intent, used) in self.list.iter().zip(self.used.borrow_mut().iter_mut()) {
            if is_of(intent.what, code) && fits(intent) {
                (held, *used) = (true, true);
            }
        }
        held
    }

    /// Complaints of those that held nothing back, of the codes that `own` accepts.
    pub(crate) fn idle(&self, own: impl Fn(Meant) -> bool) -> Vec<Diagnostic> {
        let used = self.used.borrow();
        let idle = self.list.iter().zip(used.iter()).filter(|(intent, used)| !**used && own(intent.what));
        idle.map(|(intent, _)| complaint(intent)).collect()
    }
}

/// The codes that the compiler itself warns of; all others need the circuit.
pub(crate) fn is_compilers(code: Code) -> bool {
    matches!(code, Code::UnwiredLug | Code::CrowdedLug | Code::UnusualValue | Code::DoubtfulReading)
}

/// A mute is silent, and its switch is on the way to silence.
fn is_of(what: Meant, code: Code) -> bool {
    match what {
        Meant::Warning(meant) => meant == code,
        Meant::Mute => matches!(code, Code::DeadPosition | Code::HotAtGround | Code::MovingSwitch),
    }
}

fn complaint(intent: &Intent) -> Diagnostic {
    let (message, label) = match intent.what {
        Meant::Warning(code) => (
            format!("`intend {}` holds nothing back", code.word().unwrap_or_default()),
            "without it, no such warning would be given",
        ),
        Meant::Mute => ("this mute is not silent".to_owned(), "there is sound in each of its positions"),
    };
    Diagnostic::warning(Code::IdleIntent, intent.span, message)
        .label(label)
        .help("check its names and its place, or take it out")
}

/// Advice that ends with the statement that says "I mean it".
pub(crate) fn or_meant(advice: &str, statement: &str) -> String {
    if advice.is_empty() {
        format!("if it is meant: `{statement}`")
    } else {
        format!("{advice}; if it is meant: `{statement}`")
    }
}
