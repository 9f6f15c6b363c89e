//! A smooth curve through given points that never swings past them.

/// A piecewise cubic through points with rising abscissas.
///
/// Fritsch, F. N. and Carlson, R. E. (1980), "Monotone Piecewise Cubic Interpolation",
/// *SIAM Journal on Numerical Analysis* 17(2), 238–246. Between two points the curve stays
/// between their values, so it invents no peak and no dip.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Monotone {
    x: Vec<f64>,
    y: Vec<f64>,
    slope: Vec<f64>,
}

impl Monotone {
    /// The curve through `points`; `None` unless there are two or more, all finite, with
    /// strictly rising abscissas.
    pub(crate) fn through(points: &[(f64, f64)]) -> Option<Self> {
        let rising = points.windows(2).all(|pair| pair[0].0 < pair[1].0);
        let finite = points.iter().all(|(x, y)| x.is_finite() && y.is_finite());
        if points.len() < 2 || !rising || !finite {
            return None;
        }
        let (x, y): (Vec<f64>, Vec<f64>) = points.iter().copied().unzip();
        let slope = slopes(&x, &y);
        Some(Self { x, y, slope })
    }

    /// The first and the last abscissa.
    pub(crate) fn range(&self) -> (f64, f64) {
        (self.x[0], self.x[self.x.len() - 1])
    }

    /// The points, as given.
    pub(crate) fn points(&self) -> impl DoubleEndedIterator<Item = (f64, f64)> + ExactSizeIterator {
        self.x.iter().copied().zip(self.y.iter().copied())
    }

    /// The value at `x`; outside the range, the value at the nearer end.
    pub(crate) fn at(&self, x: f64) -> f64 {
        let (low, high) = self.range();
        let x = x.clamp(low, high);
        let piece = self
            .x
            .partition_point(|knot| *knot <= x)
            .clamp(1, self.x.len() - 1)
            - 1;
        let width = self.x[piece + 1] - self.x[piece];
        let t = (x - self.x[piece]) / width;
        let (t2, t3) = (t * t, t * t * t);
        self.y[piece] * (2.0 * t3 - 3.0 * t2 + 1.0)
            + self.slope[piece] * width * (t3 - 2.0 * t2 + t)
            + self.y[piece + 1] * (3.0 * t2 - 2.0 * t3)
            + self.slope[piece + 1] * width * (t3 - t2)
    }
}

/// The slope at each point: zero at a turn, elsewhere limited so that no piece overshoots.
fn slopes(x: &[f64], y: &[f64]) -> Vec<f64> {
    let secant: Vec<f64> = x
        .windows(2)
        .zip(y.windows(2))
        .map(|(x, y)| (y[1] - y[0]) / (x[1] - x[0]))
        .collect();
    let mut slope = Vec::with_capacity(x.len());
    slope.push(secant[0]);
    for pair in secant.windows(2) {
        slope.push(if pair[0] * pair[1] > 0.0 {
            0.5 * (pair[0] + pair[1])
        } else {
            0.0
        });
    }
    slope.push(secant[secant.len() - 1]);
    for (piece, &secant) in secant.iter().enumerate() {
        if secant == 0.0 {
            slope[piece] = 0.0;
            slope[piece + 1] = 0.0;
            continue;
        }
        let (alpha, beta) = (slope[piece] / secant, slope[piece + 1] / secant);
        let length = alpha.hypot(beta);
        if length > 3.0 {
            slope[piece] = 3.0 / length * alpha * secant;
            slope[piece + 1] = 3.0 / length * beta * secant;
        }
    }
    slope
}

#[cfg(test)]
mod tests {
    use super::*;

    use proptest::prelude::*;

    /// The data set of Table 1 of the paper (RPN 14), whose spline interpolant overshoots.
    const RPN_14: &[(f64, f64)] = &[
        (7.99, 0.0),
        (8.09, 2.764_29e-5),
        (8.19, 4.374_98e-2),
        (8.7, 0.169_183),
        (9.2, 0.469_428),
        (10.0, 0.943_740),
        (12.0, 0.998_636),
        (15.0, 0.999_919),
        (20.0, 0.999_994),
    ];

    #[test]
    fn the_published_hard_case_stays_monotone() {
        let curve = Monotone::through(RPN_14).unwrap();
        let values: Vec<f64> = (0..=12_010)
            .map(|i| curve.at(7.99 + f64::from(i) * 1e-3))
            .collect();
        assert!(values.windows(2).all(|pair| pair[1] >= pair[0] - 1e-15));
        assert!(values.iter().all(|value| (0.0..=1.0).contains(value)));
    }

    #[test]
    fn bad_points_give_no_curve() {
        assert!(Monotone::through(&[(1.0, 1.0)]).is_none());
        assert!(Monotone::through(&[(1.0, 1.0), (1.0, 2.0)]).is_none());
        assert!(Monotone::through(&[(1.0, 1.0), (2.0, f64::NAN)]).is_none());
    }

    proptest! {
        #[test]
        fn it_meets_its_points_and_stays_between_neighbours(
            steps in prop::collection::vec((0.01_f64..10.0, -50.0_f64..50.0), 2..12),
            share in 0.0_f64..1.0,
        ) {
            let mut x = 0.0;
            let points: Vec<(f64, f64)> =
                steps.iter().map(|(dx, y)| { x += dx; (x, *y) }).collect();
            let curve = Monotone::through(&points).unwrap();
            for pair in points.windows(2) {
                prop_assert!((curve.at(pair[0].0) - pair[0].1).abs() < 1e-9);
                let value = curve.at(pair[0].0 + share * (pair[1].0 - pair[0].0));
                let (low, high) = (pair[0].1.min(pair[1].1), pair[0].1.max(pair[1].1));
                prop_assert!(low - 1e-9 <= value && value <= high + 1e-9);
            }
        }
    }
}
