//! A root between two places where a function has different signs.

/// Where `f` changes its sign in [a, b], to 1e-14, by Chandrupatla's method: inverse quadratic steps where they are safe, halving where
/// they are not (T. R. Chandrupatla, Advances in Engineering Software 28, 145–149, 1997). The signs of `fa` and `fb` differ.
///
/// # Errors
/// Those of `f`.
pub(crate) fn root<E>(
    (a, fa): (f64, f64),
    (b, fb): (f64, f64),
    mut f: impl FnMut(f64) -> Result<f64, E>,
) -> Result<f64, E> {
    // x1 is the newest place, x2 the other end of the bracket, x3 what x1 replaced.
    let (mut x1, mut f1, mut x2, mut f2) = (b, fb, a, fa);
    let mut t = 0.5;
    for _ in 0..120 {
        let x = x1 + t * (x2 - x1);
        let y = f(x)?;
        let (x3, f3);
        if (y > 0.0) == (f1 > 0.0) {
            (x3, f3) = (x1, f1);
        } else {
            (x3, f3) = (x2, f2);
            (x2, f2) = (x1, f1);
        }
        (x1, f1) = (x, y);
        let (best, least) = if f1.abs() < f2.abs() { (x1, f1) } else { (x2, f2) };
        let tolerance = 1e-14;
        let width = (x2 - x1).abs();
        if least == 0.0 || width <= tolerance {
            return Ok(best);
        }
        let xi = (x1 - x2) / (x3 - x2);
        let phi = (f1 - f2) / (f3 - f2);
        t = 0.5;
        if phi * phi < xi && (1.0 - phi) * (1.0 - phi) < 1.0 - xi {
            t = f1 / (f2 - f1) * (f3 / (f2 - f3))
                + (x3 - x1) / (x2 - x1) * (f1 / (f3 - f1)) * (f2 / (f3 - f2));
        }
        let least_step = 0.5 * tolerance / width;
        t = t.clamp(least_step, 1.0 - least_step);
    }
    Ok(x1)
}

#[cfg(test)]
mod tests {
    use super::root;

    #[test]
    fn finds_roots_of_easy_and_flat_functions() {
        let mut calls = 0;
        let x = root::<()>((0.0, -1.0), (2.0, 6.0), |x| {
            calls += 1;
            Ok(x * x * x - 1.0 + (x - 1.0) * 0.1)
        });
        assert!((x.unwrap() - 1.0).abs() < 1e-14);
        assert!(calls < 15, "{calls}");
        let flat = root::<()>((-1.0, -1.0), (2.0, 512.0), |x| Ok(x.powi(9)));
        assert!(flat.unwrap().abs() < 1e-2);
    }
}
