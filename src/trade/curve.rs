//! A fan's curve at each speed, the resistance it meets, and where the two agree.

use uom::si::f64::{AngularVelocity, MassDensity, Power, Pressure, Ratio, VolumeRate};
use uom::si::power::watt;
use uom::si::pressure::pascal;
use uom::si::volume_rate::cubic_meter_per_second;

use super::coil_drop::CoilDrop;
use super::fan::Similarity;
use super::formula::CannotWorkOut;
use super::monotone::Monotone;
use super::root;

pub(crate) mod formulas;

/// One point of a published fan curve.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CurvePoint {
    /// Air flow `Q`, zero or more.
    pub flow: VolumeRate,
    /// Static pressure `p` that the fan makes at this flow, zero or more.
    pub pressure: Pressure,
    /// Electric power `P` taken at this flow, where the sheet gives it.
    pub input_power: Option<Power>,
}

/// A fan's pressure over its flow at one speed.
///
/// Between the published points it follows a monotone cubic (Fritsch and Carlson, 1980), which
/// never shows a peak or a dip that the sheet does not show.
#[derive(Clone, Debug, PartialEq)]
pub struct FanCurve {
    pressure: Monotone,
    power: Option<Monotone>,
    /// kg/m³ of the air in which the curve was measured.
    density: f64,
    drive_efficiency: Option<f64>,
}

/// A fan curve at one speed setting.
#[derive(Clone, Debug, PartialEq)]
pub struct SpeedStep {
    /// The speed that the setting stands for.
    pub speed: AngularVelocity,
    /// The curve at this speed.
    pub curve: FanCurve,
}

/// The pressure that the air path takes at a flow through *one* fan.
#[derive(Clone, Debug, PartialEq)]
pub struct SystemCurve {
    /// Pa per (m³/s)² of one fan's flow.
    square: f64,
    coil: Option<CoilDrop>,
    fans: f64,
}

/// Where on its curve a fan works.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Place {
    /// On the part that falls steadily: a stable working point.
    Steady,
    /// Left of the last peak: the blade stalls, air pulses and the motor is loud and hot.
    StallSide,
    /// The curve meets the resistance more than once: the fan may hunt between the points.
    MayHunt,
    /// To the right of the last published point; the flow is at least that of this point.
    BeyondLastPoint,
}

impl Place {
    /// What a technician should know about this place, if anything.
    pub fn warning(self) -> Option<&'static str> {
        match self {
            Self::Steady => None,
            Self::StallSide => Some(
                "The fan would work on the stall side of its curve: expect pulsing air and \
                 noise. Look for ice, dirt or a wrong blade before choosing this speed.",
            ),
            Self::MayHunt => Some(
                "The fan curve meets this coil at more than one flow: the fan may hunt. \
                 Choose another speed or another assembly.",
            ),
            Self::BeyondLastPoint => Some(
                "The coil resists less than the last point of the fan curve shows: \
                 the true air flow is at least the one given.",
            ),
        }
    }
}

/// The flow at which a fan and its resistance agree.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OperatingPoint {
    /// Flow of one fan.
    pub flow: VolumeRate,
    /// Static pressure of the fan there.
    pub pressure: Pressure,
    /// Electric power there, in the air of the box, where the curve gives power.
    pub input_power: Option<Power>,
    /// Power on the shaft, where the efficiency of the drive is known too.
    pub shaft_power: Option<Power>,
    /// Where on the curve this lies.
    pub place: Place,
}

/// How finely the scan for crossings looks between two published points.
const LOOKS_PER_PIECE: u32 = 4;

impl FanCurve {
    /// The curve through published points, measured in air of `density`.
    ///
    /// # Errors
    /// When there are fewer than three points, flows do not rise from point to point, a pressure
    /// is negative, the density is not above zero, or power is given for some points only.
    pub fn new(points: &[CurvePoint], density: MassDensity) -> Result<Self, CannotWorkOut> {
        let pressures: Vec<(f64, f64)> = points
            .iter()
            .map(|point| (point.flow.value, point.pressure.value))
            .collect();
        if points.len() < 3 {
            return Err(CannotWorkOut(
                "A fan curve needs three points or more.".into(),
            ));
        }
        if pressures
            .iter()
            .any(|(flow, pressure)| *flow < 0.0 || *pressure < 0.0)
        {
            return Err(CannotWorkOut(
                "A fan curve's flows and pressures must be zero or more.".into(),
            ));
        }
        let pressure = Monotone::through(&pressures).ok_or_else(|| {
            CannotWorkOut(
                "A fan curve's points must be numbers with the air flow rising from each to the \
                 next."
                    .into(),
            )
        })?;
        if !density.value.is_finite() || density.value <= 0.0 {
            return Err(CannotWorkOut(
                "A fan curve needs the density of its air, such as 0.075 lb/ft³.".into(),
            ));
        }
        let power = power_over_flow(points)?;
        Ok(Self {
            pressure,
            power,
            density: density.value,
            drive_efficiency: None,
        })
    }

    /// The same curve with the share of its electric power that reaches the shaft, 0 to 1.
    ///
    /// # Errors
    /// When the efficiency is not above 0 and at most 1.
    pub fn with_drive_efficiency(self, efficiency: Ratio) -> Result<Self, CannotWorkOut> {
        if efficiency.value > 0.0 && efficiency.value <= 1.0 {
            return Ok(Self {
                drive_efficiency: Some(efficiency.value),
                ..self
            });
        }
        Err(CannotWorkOut(
            "An efficiency lies above 0 and at most at 100 %.".into(),
        ))
    }

    /// The lowest and the highest flow of the published points.
    pub fn flows(&self) -> (VolumeRate, VolumeRate) {
        let (low, high) = self.pressure.range();
        let flow = VolumeRate::new::<cubic_meter_per_second>;
        (flow(low), flow(high))
    }

    /// Static pressure at `flow` in air of `density`: p·ρ/ρ₁ (fan laws, same speed and flow).
    /// Outside the published flows, the pressure of the nearer end.
    pub fn pressure(&self, flow: VolumeRate, density: MassDensity) -> Pressure {
        Pressure::new::<pascal>(self.pressure.at(flow.value) * density.value / self.density)
    }

    /// Electric power at `flow` in air of `density`: P·ρ/ρ₁, taking the efficiency of the drive
    /// as unchanged; `None` where the sheet gives no power.
    pub fn input_power(&self, flow: VolumeRate, density: MassDensity) -> Option<Power> {
        let power = self.power.as_ref()?.at(flow.value) * density.value / self.density;
        Some(Power::new::<watt>(power))
    }

    /// Shaft power at `flow` in air of `density`; `None` unless power and efficiency are known.
    pub fn shaft_power(&self, flow: VolumeRate, density: MassDensity) -> Option<Power> {
        Some(self.input_power(flow, density)? * self.drive_efficiency?)
    }

    /// The curve of a similar fan, or of this one at another speed.
    ///
    /// # Errors
    /// When the change is so large that the numbers leave their range.
    pub fn similar(&self, change: Similarity) -> Result<Self, CannotWorkOut> {
        let scaled = |curve: &Monotone, factor: f64| {
            let flow_factor = change.flow_factor().value;
            let points: Vec<(f64, f64)> = curve
                .points()
                .map(|(x, y)| (x * flow_factor, y * factor))
                .collect();
            Monotone::through(&points)
        };
        let too_far = || CannotWorkOut("That change of speed or size is too large.".into());
        // Pressure and power stay referred to the curve's own density.
        let same_air = change.density_factor().value;
        let pressure = scaled(&self.pressure, change.pressure_factor().value / same_air)
            .ok_or_else(too_far)?;
        let power = match &self.power {
            Some(power) => {
                Some(scaled(power, change.power_factor().value / same_air).ok_or_else(too_far)?)
            }
            None => None,
        };
        Ok(Self {
            pressure,
            power,
            ..self.clone()
        })
    }

    /// The flow from which the curve only falls: left of it the blade stalls.
    fn stall_flow(&self) -> f64 {
        let points: Vec<(f64, f64)> = self.pressure.points().collect();
        let mut stall = points[points.len() - 1].0;
        for pair in points.windows(2).rev() {
            if pair[1].1 >= pair[0].1 {
                break;
            }
            stall = pair[0].0;
        }
        stall
    }
}

fn power_over_flow(points: &[CurvePoint]) -> Result<Option<Monotone>, CannotWorkOut> {
    let powers: Vec<(f64, f64)> = points
        .iter()
        .filter_map(|point| {
            point
                .input_power
                .map(|power| (point.flow.value, power.value))
        })
        .collect();
    if powers.is_empty() {
        return Ok(None);
    }
    let usable = powers.len() == points.len() && powers.iter().all(|(_, power)| *power >= 0.0);
    match Monotone::through(&powers) {
        Some(curve) if usable => Ok(Some(curve)),
        _ => Err(CannotWorkOut(
            "A fan curve gives power at every point or at none, zero or more.".into(),
        )),
    }
}

impl SystemCurve {
    /// A resistance that goes with the square of the flow, through one known point:
    /// p = p₁·(Q/Q₁)². The flow is that of one fan, the air that of the box.
    ///
    /// # Errors
    /// When the flow is not above zero or the pressure is negative.
    pub fn through(flow: VolumeRate, pressure: Pressure) -> Result<Self, CannotWorkOut> {
        Ok(Self {
            square: square(flow, pressure)?,
            coil: None,
            fans: 1.0,
        })
    }

    /// The resistance of a coil whose air `fans` equal fans share.
    ///
    /// # Errors
    /// When there is no fan.
    pub fn of_coil(coil: CoilDrop, fans: u32) -> Result<Self, CannotWorkOut> {
        if fans == 0 {
            return Err(CannotWorkOut("A coil needs one fan or more.".into()));
        }
        Ok(Self {
            square: 0.0,
            coil: Some(coil),
            fans: f64::from(fans),
        })
    }

    /// The same with guard, grille or duct added, known at one point as in
    /// [`SystemCurve::through`].
    ///
    /// # Errors
    /// As [`SystemCurve::through`].
    pub fn and(self, flow: VolumeRate, pressure: Pressure) -> Result<Self, CannotWorkOut> {
        Ok(Self {
            square: self.square + square(flow, pressure)?,
            ..self
        })
    }

    /// The pressure that the path takes at the flow of one fan.
    pub fn pressure(&self, flow: VolumeRate) -> Pressure {
        Pressure::new::<pascal>(self.at(flow.value))
    }

    fn at(&self, flow: f64) -> f64 {
        let coil = self
            .coil
            .as_ref()
            .map_or(0.0, |coil| coil.at(flow * self.fans));
        self.square * flow * flow + coil
    }
}

fn square(flow: VolumeRate, pressure: Pressure) -> Result<f64, CannotWorkOut> {
    let square = pressure.value / (flow.value * flow.value);
    if flow.value > 0.0 && pressure.value >= 0.0 && square.is_finite() {
        return Ok(square);
    }
    Err(CannotWorkOut(
        "A resistance needs a flow above zero and its pressure, such as 1200 cfm at 0.2 in wg."
            .into(),
    ))
}

/// Where `curve` meets `system` in air of `density`: the highest flow at which the fan makes
/// what the path takes.
///
/// The crossing is bracketed by a scan over the published points and closed by Brent's method.
///
/// # Errors
/// When the density is not above zero, or the path resists so much that the flow lies below the
/// first published point.
pub fn operating_point(
    curve: &FanCurve,
    system: &SystemCurve,
    density: MassDensity,
) -> Result<OperatingPoint, CannotWorkOut> {
    if !density.value.is_finite() || density.value <= 0.0 {
        return Err(CannotWorkOut("An air density must be above zero.".into()));
    }
    let thickness = density.value / curve.density;
    let surplus = |flow: f64| curve.pressure.at(flow) * thickness - system.at(flow);
    let (low, high) = curve.pressure.range();
    if surplus(high) > 0.0 {
        return Ok(point_at(curve, high, density, Place::BeyondLastPoint));
    }
    let crossings = crossings(curve, &surplus);
    let Some(&(left, right)) = crossings.last() else {
        return Err(CannotWorkOut(format!(
            "The coil resists more than this fan can push at the lowest flow of its curve, {}: \
             check the coil's data, or choose a stronger assembly.",
            super::quantity::shown("cfm", low)
        )));
    };
    let flow = root::between(surplus, left, right, 1e-10 * high).unwrap_or(left);
    let place = if flow < curve.stall_flow() {
        Place::StallSide
    } else if crossings.len() > 1 {
        Place::MayHunt
    } else {
        Place::Steady
    };
    Ok(point_at(curve, flow, density, place))
}

/// The brackets in which the surplus pressure changes sign, by rising flow.
fn crossings(curve: &FanCurve, surplus: &impl Fn(f64) -> f64) -> Vec<(f64, f64)> {
    let mut brackets = Vec::new();
    let knots: Vec<f64> = curve.pressure.points().map(|(flow, _)| flow).collect();
    let mut left = knots[0];
    let mut has = surplus(left) >= 0.0;
    for pair in knots.windows(2) {
        for look in 1..=LOOKS_PER_PIECE {
            let share = f64::from(look) / f64::from(LOOKS_PER_PIECE);
            let right = pair[0] + share * (pair[1] - pair[0]);
            let still = surplus(right) >= 0.0;
            if has != still {
                brackets.push((left, right));
            }
            (left, has) = (right, still);
        }
    }
    // A surplus of exactly zero at the last look is a crossing as well.
    if has {
        brackets.push((left, left));
    }
    brackets
}

fn point_at(curve: &FanCurve, flow: f64, density: MassDensity, place: Place) -> OperatingPoint {
    let flow = VolumeRate::new::<cubic_meter_per_second>(flow);
    OperatingPoint {
        flow,
        pressure: curve.pressure(flow, density),
        input_power: curve.input_power(flow, density),
        shaft_power: curve.shaft_power(flow, density),
        place,
    }
}

/// What each speed setting gives on this coil, in the order given.
pub fn at_each_speed<'a>(
    steps: &'a [SpeedStep],
    system: &'a SystemCurve,
    density: MassDensity,
) -> impl Iterator<Item = (AngularVelocity, Result<OperatingPoint, CannotWorkOut>)> + 'a {
    steps
        .iter()
        .map(move |step| (step.speed, operating_point(&step.curve, system, density)))
}

/// The speed at which the fan of `step` would move `flow` through `system`, by the fan laws.
///
/// # Errors
/// When no speed between a tenth and five times the known one does it, or the flow or density
/// is not above zero.
pub fn speed_for(
    step: &SpeedStep,
    system: &SystemCurve,
    density: MassDensity,
    flow: VolumeRate,
) -> Result<AngularVelocity, CannotWorkOut> {
    let wanted = system.at(flow.value);
    let thickness = density.value / step.curve.density;
    let (low, high) = step.curve.pressure.range();
    if !(flow.value > 0.0 && thickness > 0.0 && wanted.is_finite() && thickness.is_finite()) {
        return Err(CannotWorkOut(
            "The wanted air flow must be above zero.".into(),
        ));
    }
    // The wanted flow must fall inside the published points once they are scaled.
    let slowest = (flow.value / high).max(0.1);
    let fastest = if low > 0.0 {
        (flow.value / low).min(5.0)
    } else {
        5.0
    };
    let surplus = |factor: f64| {
        step.curve.pressure.at(flow.value / factor) * factor * factor * thickness - wanted
    };
    let factor = root::between(surplus, slowest, fastest, 1e-9).ok_or_else(|| {
        CannotWorkOut(format!(
            "This fan does not move {} through this coil at any speed its curve allows.",
            super::quantity::shown("cfm", flow.value)
        ))
    })?;
    Ok(step.speed * factor)
}
