//! Where the pickups sit under the strings.

use super::PartId;
use crate::source::Span;

/// Strings over pickups.
#[derive(Debug, Clone, PartialEq)]
pub struct Geometry {
    /// Sounding length of an open string, m.
    pub scale: f64,
    /// Fundamentals of the open strings, Hz, string 1 first; as many as there are strings.
    pub notes: Vec<f64>,
    /// Coils that hear strings.
    pub seats: Vec<Seat>,
    /// The statement.
    pub span: Span,
}

/// One coil's place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seat {
    /// Its pickup.
    pub pickup: PartId,
    /// Index of the coil in it.
    pub coil: usize,
    /// From the bridge to its middle under string 1 and under the last string, m.
    pub distance: (f64, f64),
    /// Length of string that it senses, m; 0 is a point.
    pub aperture: f64,
}

impl Geometry {
    /// The place of a coil.
    #[must_use]
    pub fn seat(&self, pickup: PartId, coil: usize) -> Option<&Seat> {
        self.seats.iter().find(|seat| seat.pickup == pickup && seat.coil == coil)
    }
}

impl Seat {
    /// From the bridge to its middle under a string, m; strings are evenly spaced.
    #[must_use]
    pub fn under(&self, string: u32, strings: u32) -> f64 {
        let (first, last) = self.distance;
        if strings < 2 {
            return first;
        }
        first + (last - first) * f64::from(string - 1) / f64::from(strings - 1)
    }
}
