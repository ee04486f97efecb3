//! A canvas of braille dots: two across, four down in each character (Unicode block U+2800, dot order of ISO/TR 11548-1).

/// Bits of the dots by [row][column].
const BITS: [[u8; 2]; 4] = [[0x01, 0x08], [0x02, 0x10], [0x04, 0x20], [0x40, 0x80]];

/// Dots.
#[derive(Debug, Clone)]
pub(crate) struct Canvas {
    columns: usize,
    rows: usize,
    cells: Vec<u8>,
}

impl Canvas {
    /// An empty canvas of that many characters.
    pub(crate) fn new(columns: usize, rows: usize) -> Self {
        Canvas { columns, rows, cells: vec![0; columns * rows] }
    }

    /// The dots of a character.
    pub(crate) fn dots(&self, column: usize, row: usize) -> u8 {
        self.cells[row * self.columns + column]
    }

    /// Sets one dot; outside the canvas, none.
    fn set(&mut self, x: i64, y: i64) {
        let (w, h) = (self.columns as i64 * 2, self.rows as i64 * 4);
        if (0..w).contains(&x) && (0..h).contains(&y) {
            let (x, y) = (x as usize, y as usize);
            self.cells[y / 4 * self.columns + x / 2] |= BITS[y % 4][x % 2];
        }
    }

    /// Joins points (shares of width and height, origin at the top left); a gap where there is none. Dashed: three dot columns on, three off.
    pub(crate) fn path(&mut self, points: &[Option<(f64, f64)>], dashed: bool) {
        let (w, h) = (self.columns as f64 * 2.0, self.rows as f64 * 4.0);
        // The far edge belongs to the last dot.
        let dot = |(x, y): (f64, f64)| {
            (
                ((x * w).floor() as i64).min(w as i64 - 1),
                ((y * h).clamp(-4.0 * h, 4.0 * h).floor() as i64).min(if y <= 1.0 {
                    h as i64 - 1
                } else {
                    i64::MAX
                }),
            )
        };
        let mut last: Option<(i64, i64)> = None;
        for point in points {
            let here = point.map(dot);
            if let (Some(a), Some(b)) = (last, here) {
                self.segment(a, b, dashed);
            } else if let Some((x, y)) = here {
                self.ink(x, y, dashed);
            }
            last = here;
        }
    }

    fn ink(&mut self, x: i64, y: i64, dashed: bool) {
        if !dashed || x.rem_euclid(6) < 3 {
            self.set(x, y);
        }
    }

    fn segment(&mut self, a: (i64, i64), b: (i64, i64), dashed: bool) {
        let steps = (b.0 - a.0).abs().max((b.1 - a.1).abs()).max(1);
        for i in 0..=steps {
            let x = a.0 + (b.0 - a.0) * i / steps;
            let y = a.1 + (b.1 - a.1) * i / steps;
            self.ink(x, y, dashed);
        }
    }
}

/// The character with these dots.
#[must_use]
pub(crate) fn character(dots: u8) -> char {
    char::from_u32(0x2800 + u32::from(dots)).unwrap_or(' ')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn corners_are_the_corner_dots() {
        let mut c = Canvas::new(1, 1);
        c.path(&[Some((0.0, 0.0))], false);
        assert_eq!(character(c.dots(0, 0)), '⠁');
        let mut c = Canvas::new(1, 1);
        c.path(&[Some((1.0, 1.0))], false);
        assert_eq!(character(c.dots(0, 0)), '⢀');
    }

    #[test]
    fn a_flat_line_fills_one_dot_row_and_a_gap_stays_open() {
        let mut c = Canvas::new(3, 1);
        c.path(&[Some((0.0, 0.0)), Some((1.0, 0.0))], false);
        assert_eq!((0..3).map(|i| character(c.dots(i, 0))).collect::<String>(), "⠉⠉⠉");
        let mut c = Canvas::new(3, 1);
        c.path(&[Some((0.0, 0.0)), None, Some((0.99, 0.0))], false);
        assert_eq!(c.dots(1, 0), 0);
    }

    #[test]
    fn points_far_outside_leave_no_mark_inside() {
        let mut c = Canvas::new(2, 1);
        c.path(&[Some((0.0, 9e9)), Some((1.0, 9e9))], false);
        assert_eq!((c.dots(0, 0), c.dots(1, 0)), (0, 0));
    }
}
