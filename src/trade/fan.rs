//! Fan laws: how flow, pressure and power change with speed, size and density.

use uom::si::f64::{AngularVelocity, Length, MassDensity, Power, Pressure, Ratio, VolumeRate};
use uom::si::ratio::ratio;

use super::formula::CannotWorkOut;

pub(crate) mod formulas;

/// How one fan compares with a similar one, or with itself at another speed or density.
///
/// Each factor is the second state over the first, above zero. Flow ∝ N·D³, pressure ∝ N²·D²·ρ,
/// power ∝ N³·D⁵·ρ: the fan laws of ASHRAE Handbook, HVAC Systems and Equipment (2016), ch. 21,
/// table 2. They hold for geometrically similar fans at the same point of their curves, that
/// is, on a system whose resistance goes with the square of the flow.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Similarity {
    speed: f64,
    diameter: f64,
    density: f64,
}

impl Similarity {
    /// The fan compared with itself: all factors one.
    pub const SAME: Self = Self {
        speed: 1.0,
        diameter: 1.0,
        density: 1.0,
    };

    /// The same, with the speed going from `first` to `second`.
    ///
    /// # Errors
    /// When either is not above zero.
    pub fn speed(
        self,
        first: AngularVelocity,
        second: AngularVelocity,
    ) -> Result<Self, CannotWorkOut> {
        let speed = self.speed * factor(first.value, second.value, "speed", "1550 rpm")?;
        Ok(Self { speed, ..self })
    }

    /// The same, with the diameter going from `first` to `second`.
    ///
    /// # Errors
    /// When either is not above zero.
    pub fn diameter(self, first: Length, second: Length) -> Result<Self, CannotWorkOut> {
        let diameter = self.diameter * factor(first.value, second.value, "diameter", "14 in")?;
        Ok(Self { diameter, ..self })
    }

    /// The same, with the air density going from `first` to `second`.
    ///
    /// # Errors
    /// When either is not above zero.
    pub fn density(self, first: MassDensity, second: MassDensity) -> Result<Self, CannotWorkOut> {
        let density =
            self.density * factor(first.value, second.value, "air density", "0.075 lb/ft³")?;
        Ok(Self { density, ..self })
    }

    /// The way back: from the second state to the first.
    #[must_use]
    pub fn inverse(self) -> Self {
        Self {
            speed: self.speed.recip(),
            diameter: self.diameter.recip(),
            density: self.density.recip(),
        }
    }

    /// This change followed by `next`.
    #[must_use]
    pub fn then(self, next: Self) -> Self {
        Self {
            speed: self.speed * next.speed,
            diameter: self.diameter * next.diameter,
            density: self.density * next.density,
        }
    }

    /// Flow of the second state over the first: N·D³.
    pub fn flow_factor(self) -> Ratio {
        Ratio::new::<ratio>(self.speed * self.diameter.powi(3))
    }

    /// Pressure of the second state over the first: N²·D²·ρ.
    pub fn pressure_factor(self) -> Ratio {
        Ratio::new::<ratio>((self.speed * self.diameter).powi(2) * self.density)
    }

    /// Shaft power of the second state over the first: N³·D⁵·ρ.
    pub fn power_factor(self) -> Ratio {
        Ratio::new::<ratio>(self.speed.powi(3) * self.diameter.powi(5) * self.density)
    }

    /// Air density of the second state over the first.
    pub fn density_factor(self) -> Ratio {
        Ratio::new::<ratio>(self.density)
    }

    /// The flow of the second state, from that of the first.
    pub fn flow(self, first: VolumeRate) -> VolumeRate {
        first * self.flow_factor()
    }

    /// The pressure of the second state, from that of the first.
    pub fn pressure(self, first: Pressure) -> Pressure {
        first * self.pressure_factor()
    }

    /// The shaft power of the second state, from that of the first.
    pub fn power(self, first: Power) -> Power {
        first * self.power_factor()
    }
}

/// The speed at which the same fan moves `second` instead of `first`: N₂ = N₁·Q₂/Q₁.
///
/// # Errors
/// When a value is not above zero.
pub fn speed_for_flow(
    speed: AngularVelocity,
    first: VolumeRate,
    second: VolumeRate,
) -> Result<AngularVelocity, CannotWorkOut> {
    Ok(speed * factor(first.value, second.value, "air flow", "1200 cfm")?)
}

/// The speed at which the same fan makes `second` instead of `first`: N₂ = N₁·√(p₂/p₁).
///
/// # Errors
/// When a value is not above zero.
pub fn speed_for_pressure(
    speed: AngularVelocity,
    first: Pressure,
    second: Pressure,
) -> Result<AngularVelocity, CannotWorkOut> {
    let factor = factor(first.value, second.value, "pressure", "0.25 in wg")?;
    Ok(speed * factor.sqrt())
}

/// The speed at which the same fan takes `second` instead of `first`: N₂ = N₁·∛(P₂/P₁).
///
/// # Errors
/// When a value is not above zero.
pub fn speed_for_power(
    speed: AngularVelocity,
    first: Power,
    second: Power,
) -> Result<AngularVelocity, CannotWorkOut> {
    let factor = factor(first.value, second.value, "shaft power", "50 W")?;
    Ok(speed * factor.cbrt())
}

/// The shaft power at which the same fan on the same system moves `second` instead of `first`:
/// P₂ = P₁·(Q₂/Q₁)³.
///
/// # Errors
/// When a value is not above zero.
pub fn power_for_flow(
    power: Power,
    first: VolumeRate,
    second: VolumeRate,
) -> Result<Power, CannotWorkOut> {
    let factor = factor(first.value, second.value, "air flow", "1200 cfm")?;
    Ok(power * factor.powi(3))
}

/// The flow of the same fan on the same system when the shaft power goes from `first` to
/// `second`: Q₂ = Q₁·∛(P₂/P₁).
///
/// # Errors
/// When a value is not above zero.
pub fn flow_for_power(
    flow: VolumeRate,
    first: Power,
    second: Power,
) -> Result<VolumeRate, CannotWorkOut> {
    let factor = factor(first.value, second.value, "shaft power", "50 W")?;
    Ok(flow * factor.cbrt())
}

/// `second / first`, both above zero.
fn factor(first: f64, second: f64, what: &str, example: &str) -> Result<f64, CannotWorkOut> {
    let factor = second / first;
    if first > 0.0 && second > 0.0 && factor.is_finite() && factor > 0.0 {
        return Ok(factor);
    }
    Err(CannotWorkOut(format!(
        "Each {what} must be above zero, such as {example}."
    )))
}
