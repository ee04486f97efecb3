//! What is sampled along ln f.

use super::panel::POINTS;

/// Gives samples at a place (ln f), or at several at a time, which may cost no more.
pub(crate) trait Sampler<S: Copy, E> {
    fn one(&mut self, u: f64) -> Result<S, E>;

    fn some<const N: usize>(&mut self, places: &[f64; N]) -> Result<[S; N], E> {
        let mut samples = [self.one(places[0])?; N];
        for (sample, &u) in samples.iter_mut().zip(places).skip(1) {
            *sample = self.one(u)?;
        }
        Ok(samples)
    }

    /// The points of a panel.
    fn panel(&mut self, points: &[f64; POINTS]) -> Result<[S; POINTS], E> {
        self.some(points)
    }
}

/// One after the other.
pub(crate) struct Each<F>(pub(crate) F);

impl<S: Copy, E, F: FnMut(f64) -> Result<S, E>> Sampler<S, E> for Each<F> {
    fn one(&mut self, u: f64) -> Result<S, E> {
        (self.0)(u)
    }
}
