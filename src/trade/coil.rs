//! The evaporator coil as a technician measures it: face, fins, rows.

use std::f64::consts::PI;

use uom::si::area::square_meter;
use uom::si::f64::{Area, Length, LinearNumberDensity, Velocity, VolumeRate};
use uom::si::length::meter;
use uom::si::linear_number_density::per_meter;

use super::formula::CannotWorkOut;
use super::rows::row_si;

pub(crate) mod formulas;

/// A finned coil. All its sizes are above zero.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Coil {
    height: f64,
    length: f64,
    depth: f64,
    fins: f64,
    rows: u32,
}

/// How close the face velocity is to blowing water off the coil.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CarryOver {
    /// Below the row `carry_over_caution`.
    Unlikely,
    /// Between the two rows: depends on the fins and how wet the coil is.
    Possible,
    /// Above the row `carry_over_limit`.
    Expected,
}

impl CarryOver {
    /// What a technician should know, if anything.
    pub fn warning(self) -> Option<&'static str> {
        match self {
            Self::Unlikely => None,
            Self::Possible => Some(
                "The face velocity is in the range where water may blow off a wet coil: \
                 look for drops in front of the fans after a defrost.",
            ),
            Self::Expected => Some(
                "The face velocity is so high that a wet coil blows water off: choose a lower \
                 speed.",
            ),
        }
    }
}

impl Coil {
    /// A coil of fin `height` × finned `length`, `depth` in the direction of the air, `fins`
    /// per length and tube `rows` deep.
    ///
    /// # Errors
    /// When a size is not above zero, or there is no row or more than 24.
    pub fn new(
        height: Length,
        length: Length,
        depth: Length,
        fins: LinearNumberDensity,
        rows: u32,
    ) -> Result<Self, CannotWorkOut> {
        if !(1..=24).contains(&rows) {
            return Err(CannotWorkOut(format!(
                "A coil has between 1 and 24 tube rows in depth, not {rows}."
            )));
        }
        Ok(Self {
            height: above_zero(height.value, "fin height", "15 in")?,
            length: above_zero(length.value, "finned length", "36 in")?,
            depth: above_zero(depth.value, "coil depth", "4 in")?,
            fins: above_zero(fins.value, "fin pitch", "6 fins per inch")?,
            rows,
        })
    }

    /// Fin height, at a right angle to the tubes and the air.
    pub fn height(&self) -> Length {
        Length::new::<meter>(self.height)
    }

    /// Finned length, along the tubes.
    pub fn length(&self) -> Length {
        Length::new::<meter>(self.length)
    }

    /// Depth in the direction of the air.
    pub fn depth(&self) -> Length {
        Length::new::<meter>(self.depth)
    }

    /// Fins per length.
    pub fn fins(&self) -> LinearNumberDensity {
        LinearNumberDensity::new::<per_meter>(self.fins)
    }

    /// Tube rows in the direction of the air.
    pub fn rows(&self) -> u32 {
        self.rows
    }

    /// Face area, as [`face_area`].
    pub fn face_area(&self) -> Area {
        Area::new::<square_meter>(self.height * self.length)
    }
}

/// The tubes and fin sheet of a coil, for the pressure drop.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tubes {
    pub(super) outside_diameter: f64,
    pub(super) across_pitch: f64,
    pub(super) fin_thickness: f64,
}

impl Tubes {
    /// Tubes of an outside diameter before expansion, with the pitch between tubes of one row
    /// and the thickness of the fins.
    ///
    /// # Errors
    /// When a size is not above zero or the tubes would touch.
    pub fn new(
        outside_diameter: Length,
        across_pitch: Length,
        fin_thickness: Length,
    ) -> Result<Self, CannotWorkOut> {
        let tubes = Self {
            outside_diameter: above_zero(outside_diameter.value, "tube diameter", "0.5 in")?,
            across_pitch: above_zero(across_pitch.value, "tube pitch", "1.25 in")?,
            fin_thickness: above_zero(fin_thickness.value, "fin thickness", "0.0075 in")?,
        };
        if tubes.across_pitch <= 1.05 * tubes.collar() {
            return Err(CannotWorkOut(
                "The tube pitch must be clearly larger than the tube: measure from centre to \
                 centre of two tubes one above the other."
                    .into(),
            ));
        }
        Ok(tubes)
    }

    /// The usual tubes of a unit cooler, half an inch, from the data rows `usual_tube_diameter`,
    /// `usual_tube_pitch` and `usual_fin_thickness`.
    ///
    /// # Errors
    /// Never, as long as the rows hold usable values.
    pub fn usual() -> Result<Self, CannotWorkOut> {
        let size = |name| Ok(Length::new::<meter>(row_si(name)?));
        Self::new(
            size("usual_tube_diameter")?,
            size("usual_tube_pitch")?,
            size("usual_fin_thickness")?,
        )
    }

    /// Outside diameter of the fin collar: tube plus twice the fin.
    pub(super) fn collar(&self) -> f64 {
        self.outside_diameter + 2.0 * self.fin_thickness
    }
}

/// Finned surface of one face area of coil: fins both sides and bare tube between them.
pub(super) fn surface_per_face(coil: &Coil, tubes: &Tubes) -> f64 {
    let pitch = coil.fins.recip();
    let row_depth = coil.depth / f64::from(coil.rows);
    let collar = tubes.collar();
    let fin = 2.0 * (tubes.across_pitch * row_depth - 0.25 * PI * collar * collar);
    let tube = PI * collar * (pitch - tubes.fin_thickness);
    f64::from(coil.rows) * (fin + tube) / (tubes.across_pitch * pitch)
}

/// Face area `A` = fin height × finned length.
///
/// # Errors
/// When a length is not above zero.
pub fn face_area(height: Length, length: Length) -> Result<Area, CannotWorkOut> {
    let height = above_zero(height.value, "fin height", "15 in")?;
    let length = above_zero(length.value, "finned length", "36 in")?;
    Ok(Area::new::<square_meter>(height * length))
}

/// Face velocity `V` = air flow / face area.
///
/// # Errors
/// When the flow is negative or the area is not above zero.
pub fn face_velocity(flow: VolumeRate, area: Area) -> Result<Velocity, CannotWorkOut> {
    above_zero(area.value, "face area", "3.75 ft²")?;
    if !flow.value.is_finite() || flow.value < 0.0 {
        return Err(CannotWorkOut(
            "The air flow must be zero or more, such as 1500 cfm.".into(),
        ));
    }
    Ok(flow / area)
}

/// The air flow that gives a face velocity, the inverse of [`face_velocity`].
///
/// # Errors
/// When the velocity is negative or the area is not above zero.
pub fn flow_for_velocity(velocity: Velocity, area: Area) -> Result<VolumeRate, CannotWorkOut> {
    above_zero(area.value, "face area", "3.75 ft²")?;
    if !velocity.value.is_finite() || velocity.value < 0.0 {
        return Err(CannotWorkOut(
            "The velocity must be zero or more, such as 400 fpm.".into(),
        ));
    }
    Ok(velocity * area)
}

/// How likely water blows off a wet coil at this face velocity (rows `carry_over_caution` and
/// `carry_over_limit`).
///
/// # Errors
/// When the velocity is not a number.
pub fn carry_over(velocity: Velocity) -> Result<CarryOver, CannotWorkOut> {
    if !velocity.value.is_finite() {
        return Err(CannotWorkOut(
            "A face velocity must be a number, such as 400 fpm.".into(),
        ));
    }
    Ok(if velocity.value > row_si("carry_over_limit")? {
        CarryOver::Expected
    } else if velocity.value > row_si("carry_over_caution")? {
        CarryOver::Possible
    } else {
        CarryOver::Unlikely
    })
}

/// Number of fins on a finned length, to the nearest whole fin.
///
/// # Errors
/// When the pitch or the length is not above zero.
pub fn fin_count(fins: LinearNumberDensity, length: Length) -> Result<u32, CannotWorkOut> {
    let fins = above_zero(fins.value, "fin pitch", "6 fins per inch")?;
    let length = above_zero(length.value, "finned length", "36 in")?;
    let count = (fins * length).round();
    if count > f64::from(u32::MAX) {
        return Err(CannotWorkOut(
            "That is more fins than a coil can have.".into(),
        ));
    }
    Ok(count as u32)
}

/// Distance from fin to fin: one over the fins per length.
///
/// # Errors
/// When the pitch is not above zero.
pub fn fin_spacing(fins: LinearNumberDensity) -> Result<Length, CannotWorkOut> {
    let spacing = above_zero(fins.value, "fin pitch", "6 fins per inch")?.recip();
    Ok(Length::new::<meter>(spacing))
}

/// The narrowest and the widest fin spacing in use, from a compact air conditioner to a
/// low-temperature cold room (rows `narrowest_fin_spacing` and `widest_fin_spacing`).
///
/// # Errors
/// When a row is missing.
pub fn usual_fin_spacings() -> Result<(Length, Length), CannotWorkOut> {
    let spacing = |name| Ok(Length::new::<meter>(row_si(name)?));
    Ok((
        spacing("narrowest_fin_spacing")?,
        spacing("widest_fin_spacing")?,
    ))
}

pub(super) fn above_zero(value: f64, what: &str, example: &str) -> Result<f64, CannotWorkOut> {
    if value.is_finite() && value > 0.0 {
        return Ok(value);
    }
    Err(CannotWorkOut(format!(
        "The {what} must be above zero, such as {example}."
    )))
}
