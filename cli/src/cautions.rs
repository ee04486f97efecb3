//! What is said where people take a soldering iron in hand.

/// Always.
pub(crate) const ALWAYS: [&str; 3] = [
    "Unplug the guitar before you open it. Never work inside an amp or anything else on the mains: valve \
     equipment holds lethal voltages after it is switched off, and is for licensed technicians under local codes.",
    "The string ground is a safety matter with faulty mains gear: play from tested outlets behind a \
     residual-current device.",
    "Solder burns, flux fumes and lead harm: ventilate, protect your eyes, and wash your hands.",
];

/// Where there is a battery or an active part.
pub(crate) const ACTIVE: &str = "Mind the battery's polarity: check it with a meter before it is connected, and solder with the battery out.";
