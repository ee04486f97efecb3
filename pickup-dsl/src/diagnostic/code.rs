//! The registry of codes: each has a title, and an explanation in `explain/CODE.md`.

macro_rules! codes {
    ($($(#[$doc:meta])* $name:ident = $text:literal, $title:literal;)*) => {
        /// Which rule a diagnostic reports. Texts are stable once released.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Code { $($(#[$doc])* #[doc = $title] $name,)* }
        impl Code {
            /// All codes, in order.
            pub const ALL: &[Code] = &[$(Code::$name,)*];
            /// The code as printed.
            #[must_use]
            pub fn text(self) -> &'static str { match self { $(Code::$name => $text,)* } }
            /// What the rule is, in a few words.
            #[must_use]
            pub fn title(self) -> &'static str { match self { $(Code::$name => $title,)* } }
            /// What it means, a wrong example, why it is wrong, and a right one; Markdown.
            #[must_use]
            pub fn explanation(self) -> &'static str {
                match self { $(Code::$name => include_str!(concat!("../../explain/", $text, ".md")),)* }
            }
        }
    };
}

// T1xx text and signs, V2xx values, S3xx statements and properties, N4xx names and lugs, W5xx wiring, P6xx positions,
// F7xx files and limits, B8xx what a bench notices (warnings), X9xx expectations, K9xx the circuit can't be solved.
codes! {
    StrayCharacter = "T101", "a character that has no place here";
    HiddenCharacter = "T102", "a control or bidirectional character";
    OpenText = "T103", "quoted text that does not end";
    OpenBracket = "T104", "a bracket or brace that is not closed";
    StrayBracket = "T105", "a closing bracket or brace without its opening";
    BadNumber = "V201", "a number that can't be read";
    DecimalComma = "V202", "a comma in a number";
    LetterFirst = "V203", "a value that starts with its letter";
    WrongUnit = "V204", "a unit that does not fit here";
    BareCapacitance = "V205", "a capacitor value with two readings";
    OutOfRange = "V206", "a value that can't be";
    BadTolerance = "V207", "a tolerance that can't be read";
    MissingVersion = "S301", "the version line is missing";
    UnknownVersion = "S302", "a version that this program does not know";
    UnknownStatement = "S303", "a statement that is not known";
    UnknownProperty = "S304", "a property that this part does not have";
    MissingValue = "S305", "a value that is missing";
    RepeatedProperty = "S306", "a property that is said twice";
    BadStatement = "S307", "a statement that can't be read";
    ReservedWord = "S308", "a statement kept for later";
    NotHere = "S309", "a statement in the wrong place";
    BadProperty = "S310", "a property whose value can't be read";
    SameName = "N401", "one name for two parts";
    UnknownName = "N402", "a name that no part has";
    UnknownLug = "N403", "a lug that the part does not have";
    NoLug = "N404", "a part named where a lug is needed";
    BadName = "N405", "a name that can't be used";
    UnknownPattern = "N406", "a pattern that is not known";
    SelfJoint = "W501", "a wire from a lug to itself";
    SameJoint = "W502", "the same wire twice";
    NoJack = "W503", "no jack, or more than one";
    BadChain = "W504", "something that can't follow the jack";
    UnknownThrow = "P601", "a throw that the switch does not have";
    SamePosition = "P602", "two names for one position";
    UnknownPosition = "P603", "a position name that is not known";
    TooManyPositions = "P604", "more positions than are compiled";
    BadCoupling = "P605", "couplings that no magnet could make";
    BadTap = "P606", "a tap that can't be";
    BadReading = "P607", "a reading that no coil gives";
    Contradiction = "P608", "values of one coil that contradict each other";
    BadPath = "F701", "a path that may not be used";
    CannotRead = "F702", "a file that can't be read";
    TooLarge = "F703", "a limit of the language is passed";
    CircularUse = "F704", "files that use each other in a circle";
    DeadPosition = "B801", "a dead position";
    HotAtGround = "B802", "hot joined to ground";
    HangingCoil = "B803", "a coil hanging from hot";
    OpposingCoils = "B804", "coils that oppose each other";
    NoHumCancelling = "B805", "no hum cancelling where two coils could";
    LevelStep = "B806", "a large level step between neighbours";
    Twins = "B807", "two positions that are the same network";
    UnwiredLug = "B808", "a part that no wire reaches";
    StringsNotGrounded = "B809", "strings that are not grounded";
    MetalNotGrounded = "B810", "a cover, base or braid that is not at ground";
    PartlyShortedWinding = "B811", "a part of a tapped winding is shorted";
    IdlePot = "B812", "a pot that no position uses";
    CapAcrossSignal = "B813", "a capacitor across the signal";
    CrowdedLug = "B814", "more than three wires on a lug";
    UnusualValue = "B815", "a value outside its usual range";
    IdleCoil = "B816", "a coil that sounds in no position";
    ReversedTone = "B817", "a tone control that is dark at 10";
    FlatTone = "B818", "a tone control that darkens nothing";
    MovingSwitch = "B819", "hot open or at ground while a switch moves";
    IdleIntent = "B820", "something meant that does not happen";
    Unpowered = "B821", "an active part that no battery reaches";
    DoubtfulReading = "B822", "a reading that does not fit, or says little";
    NotAsExpected = "X901", "an expectation that is not met";
    CannotSolve = "K901", "a network that has no solution";
}

impl Code {
    /// The code that is printed so, in any case.
    #[must_use]
    pub fn of(text: &str) -> Option<Code> {
        Code::ALL.iter().copied().find(|code| code.text().eq_ignore_ascii_case(text))
    }
}

/// How an `intend` statement calls each warning that can be meant.
const WORDS: &[(Code, &str)] = &[
    (Code::DeadPosition, "dead"),
    (Code::HotAtGround, "hot-at-ground"),
    (Code::HangingCoil, "hanging"),
    (Code::OpposingCoils, "opposing"),
    (Code::NoHumCancelling, "hum-adds"),
    (Code::LevelStep, "level-step"),
    (Code::Twins, "twins"),
    (Code::UnwiredLug, "unwired"),
    (Code::StringsNotGrounded, "strings-off-ground"),
    (Code::MetalNotGrounded, "metal-off-ground"),
    (Code::PartlyShortedWinding, "shorted-turns"),
    (Code::IdlePot, "idle-pot"),
    (Code::CapAcrossSignal, "capacitor-across"),
    (Code::CrowdedLug, "crowded-lug"),
    (Code::UnusualValue, "unusual"),
    (Code::IdleCoil, "idle-coil"),
    (Code::ReversedTone, "reversed-tone"),
    (Code::Unpowered, "unpowered"),
    (Code::FlatTone, "flat-tone"),
    (Code::MovingSwitch, "moving"),
    (Code::DoubtfulReading, "doubtful"),
];

impl Code {
    /// Its word in an `intend` statement; None for what can't be meant.
    #[must_use]
    pub fn word(self) -> Option<&'static str> {
        WORDS.iter().find(|(code, _)| *code == self).map(|(_, word)| *word)
    }

    /// The warning of that word.
    #[must_use]
    pub fn of_word(word: &str) -> Option<Code> {
        WORDS.iter().find(|(_, known)| *known == word).map(|(code, _)| *code)
    }

    /// All words of `intend`, in order of their codes.
    pub fn words() -> impl Iterator<Item = &'static str> {
        WORDS.iter().map(|(_, word)| *word)
    }
}
