//! Quantities in SI base units. They exist so that ohms cannot be passed for henries; inside the kernel everything is plain `f64`.

macro_rules! quantity {
    ($($(#[$doc:meta])* $name:ident)*) => {
        $($(#[$doc])* #[derive(Debug, Clone, Copy, PartialEq, PartialOrd)] pub struct $name(pub f64);)*
    };
}

quantity! {
    /// Resistance, Ω.
    Ohms
    /// Inductance, H.
    Henries
    /// Capacitance, F.
    Farads
    /// Conductance or transconductance, S.
    Siemens
    /// Frequency, Hz (not rad/s).
    Hertz
    /// Absolute temperature, K.
    Kelvin
}
