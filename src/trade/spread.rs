//! A value that is not known exactly: low, likely and high, carried through every step.

use super::formula::CannotWorkOut;

/// A low, a likely and a high value, in this order.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread<T> {
    low: T,
    likely: T,
    high: T,
}

impl<T: Copy + PartialOrd> Spread<T> {
    /// A spread of three values.
    ///
    /// # Errors
    /// When they are not in order, or one of them is not a number.
    pub fn new(low: T, likely: T, high: T) -> Result<Self, CannotWorkOut> {
        if low <= likely && likely <= high {
            Ok(Self { low, likely, high })
        } else {
            Err(CannotWorkOut(
                "The low value must not be above the likely one, nor the likely one above the \
                 high one."
                    .into(),
            ))
        }
    }

    /// A value that is known exactly.
    pub fn exactly(value: T) -> Self {
        Self {
            low: value,
            likely: value,
            high: value,
        }
    }

    /// The lowest value that is still believable.
    pub fn low(&self) -> T {
        self.low
    }

    /// The best single guess.
    pub fn likely(&self) -> T {
        self.likely
    }

    /// The highest value that is still believable.
    pub fn high(&self) -> T {
        self.high
    }

    /// The spread of `f`, which must only rise or only fall over this spread.
    pub fn map<U: Copy + PartialOrd>(&self, f: impl Fn(T) -> U) -> Spread<U> {
        let likely = f(self.likely);
        widest(likely, &[f(self.low), f(self.high)])
    }

    /// The spread of `f` over two independent spreads; in each of its arguments `f` must only
    /// rise or only fall.
    pub fn with<U: Copy + PartialOrd, V: Copy + PartialOrd>(
        &self,
        other: &Spread<U>,
        f: impl Fn(T, U) -> V,
    ) -> Spread<V> {
        let corners = [
            f(self.low, other.low),
            f(self.low, other.high),
            f(self.high, other.low),
            f(self.high, other.high),
        ];
        widest(f(self.likely, other.likely), &corners)
    }
}

fn widest<T: Copy + PartialOrd>(likely: T, corners: &[T]) -> Spread<T> {
    let mut spread = Spread::exactly(likely);
    for corner in corners {
        if *corner < spread.low {
            spread.low = *corner;
        }
        if *corner > spread.high {
            spread.high = *corner;
        }
    }
    spread
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_out_of_order_are_refused() {
        assert!(Spread::new(1.0, 2.0, 3.0).is_ok());
        assert!(Spread::new(2.0, 1.0, 3.0).is_err());
        assert!(Spread::new(1.0, f64::NAN, 3.0).is_err());
    }

    #[test]
    fn a_falling_function_swaps_low_and_high() {
        let spread = Spread::new(1.0, 2.0, 4.0).unwrap().map(|x: f64| 1.0 / x);
        assert_eq!(
            (spread.low(), spread.likely(), spread.high()),
            (0.25, 0.5, 1.0)
        );
    }

    #[test]
    fn a_product_over_zero_keeps_its_widest_corners() {
        let a = Spread::new(-1.0, 0.5, 2.0).unwrap();
        let b = Spread::new(1.0, 2.0, 3.0).unwrap();
        let product = a.with(&b, |x, y| x * y);
        assert_eq!(
            (product.low(), product.likely(), product.high()),
            (-3.0, 1.0, 6.0)
        );
    }
}
