//! A bracketing root finder for the topics that have no closed form.

/// How often [`between`] halves or interpolates at most; bisection alone needs fewer.
const TURNS_MAX: usize = 200;

/// A root of `f` between `low` and `high`, to within `tolerance` in the argument.
///
/// Brent's method: Brent, R. P. (1973), *Algorithms for Minimization without Derivatives*,
/// ch. 4. It keeps the root bracketed, so it finds one whatever the shape of `f`.
///
/// `None` where `f` has the same sign at both ends or is not a number at either.
pub(crate) fn between(f: impl Fn(f64) -> f64, low: f64, high: f64, tolerance: f64) -> Option<f64> {
    let (mut a, mut b) = (low, high);
    let (mut fa, mut fb) = (f(a), f(b));
    if !fa.is_finite() || !fb.is_finite() || fa * fb > 0.0 {
        return None;
    }
    let (mut c, mut fc) = (a, fa);
    let mut step = b - a;
    let mut step_before = step;
    for _ in 0..TURNS_MAX {
        if fb * fc > 0.0 {
            (c, fc) = (a, fa);
            step = b - a;
            step_before = step;
        }
        if fc.abs() < fb.abs() {
            (a, b, c) = (b, c, b);
            (fa, fb, fc) = (fb, fc, fb);
        }
        let close = 2.0 * f64::EPSILON * b.abs() + 0.5 * tolerance;
        let middle = 0.5 * (c - b);
        if middle.abs() <= close || fb == 0.0 {
            return Some(b);
        }
        match guess(&[(a, fa), (b, fb), (c, fc)], middle) {
            Some(jump)
                if step_before.abs() >= close
                    && fa.abs() > fb.abs()
                    && jump.abs() < 1.5 * middle.abs() - 0.5 * close
                    && jump.abs() < 0.5 * step_before.abs() =>
            {
                step_before = step;
                step = jump;
            }
            _ => {
                step = middle;
                step_before = middle;
            }
        }
        (a, fa) = (b, fb);
        b += if step.abs() > close {
            step
        } else {
            close.copysign(middle)
        };
        fb = f(b);
    }
    Some(b)
}

/// How far the secant, or the inverse parabola, through the last points would jump from `b`;
/// `None` where it points away from the bracket.
fn guess(points: &[(f64, f64); 3], middle: f64) -> Option<f64> {
    let [(a, fa), (b, fb), (c, fc)] = *points;
    let s = fb / fa;
    let (p, q) = if a == c {
        (2.0 * middle * s, 1.0 - s)
    } else {
        let (q, r) = (fa / fc, fb / fc);
        let p = s * (2.0 * middle * q * (q - r) - (b - a) * (r - 1.0));
        (p, (q - 1.0) * (r - 1.0) * (s - 1.0))
    };
    let jump = -p / q;
    (jump.is_finite() && jump * middle > 0.0).then_some(jump)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_finds_the_root_of_smooth_and_of_kinked_functions() {
        let cube = between(|x| x * x * x - 2.0, 0.0, 10.0, 1e-12).unwrap();
        assert!((cube - 2.0_f64.cbrt()).abs() < 1e-11);
        let kink = between(|x: f64| if x < 3.0 { -1.0 } else { x }, 0.0, 1e6, 1e-9).unwrap();
        assert!((kink - 3.0).abs() < 1e-8);
        let flat = between(|x: f64| (x - 1.0).powi(9), -4.0, 7.0, 1e-12).unwrap();
        assert!((flat - 1.0).abs() < 1e-9);
    }

    #[test]
    fn a_root_at_an_end_is_found() {
        assert_eq!(between(|x| x, 0.0, 4.0, 1e-12), Some(0.0));
        assert_eq!(between(|x| x - 4.0, 0.0, 4.0, 1e-12), Some(4.0));
    }

    #[test]
    fn no_bracket_gives_no_root() {
        assert_eq!(between(|x| x + 1.0, 0.0, 4.0, 1e-12), None);
        assert_eq!(between(|_| f64::NAN, 0.0, 4.0, 1e-12), None);
    }
}
