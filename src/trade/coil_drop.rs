//! What a dry, clean finned coil takes from the fan: its air-side pressure drop.
//!
//! Wang, C.-C., Chi, K.-Y. and Chang, C.-J. (2000), "Heat transfer and friction characteristics
//! of plain fin-and-tube heat exchangers, part II: Correlation", *International Journal of Heat
//! and Mass Transfer* 43(15), 2693–2700; also Shah, R. K. and Sekulić, D. P. (2003),
//! *Fundamentals of Heat Exchanger Design*, §7.5.4.2:
//!
//! f = 0.0267·Re^F₁·(P_t/P_l)^F₂·(F_p/D_c)^F₃ with
//! F₁ = −0.764 + 0.739·P_t/P_l + 0.177·F_p/D_c − 0.00758/N,
//! F₂ = −15.689 + 64.021/ln Re, F₃ = 1.696 − 15.695/ln Re; Δp = f·(A/A_c)·ρ·V_c²/2.
//!
//! `Re` is on the collar diameter `D_c` and the velocity `V_c` in the narrowest section `A_c`;
//! `P_t`, `P_l` are the tube pitches across and along the air, `F_p` the fin pitch, `N` the
//! rows, `A` the whole outside surface. Tubes staggered, fins flat. The authors' 74 samples:
//! 83 % of friction factors within 15 %. Frost, dirt and water come on top.

use uom::si::f64::{Pressure, Ratio, VolumeRate};
use uom::si::pressure::pascal;
use uom::si::ratio::ratio;

use super::air::MoistAir;
use super::coil::{Coil, Tubes, surface_per_face};
use super::formula::CannotWorkOut;

/// The Reynolds numbers of the samples behind the correlation.
const REYNOLDS: (f64, f64) = (300.0, 20_000.0);

/// The air-side pressure drop of one coil in one state of air.
#[derive(Clone, Debug, PartialEq)]
pub struct CoilDrop {
    /// m² of face.
    face: f64,
    /// Narrowest free area over face area.
    free_share: f64,
    /// Whole surface over narrowest free area.
    surface_over_free: f64,
    /// kg/m³.
    density: f64,
    /// Pa·s.
    viscosity: f64,
    shape: Shape,
}

/// The lengths that the correlation asks for, in metres.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Shape {
    collar: f64,
    across_pitch: f64,
    row_pitch: f64,
    fin_pitch: f64,
    rows: f64,
}

impl CoilDrop {
    /// Prepares the drop of `coil` with these tubes in `air`. The pitch along the air is the
    /// depth over the rows.
    ///
    /// # Errors
    /// When the fins are thicker than their pitch or tubes of two rows would touch.
    pub fn new(coil: &Coil, tubes: &Tubes, air: &MoistAir) -> Result<Self, CannotWorkOut> {
        let shape = Shape {
            collar: tubes.collar(),
            across_pitch: tubes.across_pitch,
            row_pitch: coil.depth().value / f64::from(coil.rows()),
            fin_pitch: coil.fins().value.recip(),
            rows: f64::from(coil.rows()),
        };
        if tubes.fin_thickness >= 0.9 * shape.fin_pitch {
            return Err(CannotWorkOut(
                "The fins leave no gap for air: check the fins per inch and their thickness."
                    .into(),
            ));
        }
        // Staggered rows: the air passes between tubes of one row, or through the two slanted
        // gaps to the next row where those are narrower.
        let straight = shape.across_pitch - shape.collar;
        let slanted = 2.0 * ((0.5 * shape.across_pitch).hypot(shape.row_pitch) - shape.collar);
        let gap = straight.min(slanted);
        if gap <= 0.0 {
            return Err(CannotWorkOut(
                "Tubes of this size do not fit into this depth: check the depth and the number \
                 of tube rows."
                    .into(),
            ));
        }
        let free_share =
            gap * (shape.fin_pitch - tubes.fin_thickness) / (shape.across_pitch * shape.fin_pitch);
        Ok(Self {
            face: coil.face_area().value,
            free_share,
            surface_over_free: surface_per_face(coil, tubes) / free_share,
            density: air.density().value,
            viscosity: viscosity(air.temperature().value),
            shape,
        })
    }

    /// The drop at a flow through the whole coil.
    ///
    /// # Errors
    /// When the flow is negative or not a number.
    pub fn pressure(&self, flow: VolumeRate) -> Result<Pressure, CannotWorkOut> {
        if !flow.value.is_finite() || flow.value < 0.0 {
            return Err(CannotWorkOut(
                "The air flow must be zero or more, such as 1500 cfm.".into(),
            ));
        }
        Ok(Pressure::new::<pascal>(self.at(flow.value)))
    }

    /// The Reynolds number on the collar diameter at a flow through the whole coil.
    pub fn reynolds(&self, flow: VolumeRate) -> Ratio {
        let velocity = flow.value / (self.face * self.free_share);
        Ratio::new::<ratio>(self.reynolds_at(velocity))
    }

    /// What of this coil and flow lies outside the samples behind the correlation, in words;
    /// empty where all is inside. Outside, the drop is a rough guide.
    pub fn outside_samples(&self, flow: VolumeRate) -> Vec<String> {
        let Shape {
            collar,
            across_pitch,
            row_pitch,
            fin_pitch,
            rows,
        } = self.shape;
        let checks = [
            ("tube diameter", collar * 1e3, (6.9, 13.6), "mm"),
            (
                "tube pitch across the air",
                across_pitch * 1e3,
                (20.4, 31.8),
                "mm",
            ),
            (
                "tube pitch along the air",
                row_pitch * 1e3,
                (12.7, 32.0),
                "mm",
            ),
            ("fin pitch", fin_pitch * 1e3, (1.0, 8.7), "mm"),
            ("number of rows", rows, (1.0, 6.0), ""),
            ("Reynolds number", self.reynolds(flow).value, REYNOLDS, ""),
        ];
        checks
            .into_iter()
            .filter(|(_, value, (low, high), _)| !(*low..=*high).contains(value))
            .map(|(what, value, (low, high), unit)| {
                let text = format!("{what} {value:.1} {unit}");
                format!("{} is outside {low} to {high} {unit}", text.trim_end())
                    .trim_end()
                    .into()
            })
            .collect()
    }

    /// Pa at m³/s.
    pub(super) fn at(&self, flow: f64) -> f64 {
        let velocity = flow / (self.face * self.free_share);
        let reynolds = self.reynolds_at(velocity);
        if reynolds < REYNOLDS.0 {
            // Below the samples the flow creeps: the drop goes with the velocity, and meets the
            // correlation at its lowest Reynolds number.
            let lowest = velocity_at(REYNOLDS.0, self);
            return self.drop_at(REYNOLDS.0, lowest) * velocity / lowest;
        }
        self.drop_at(reynolds.min(REYNOLDS.1), velocity)
    }

    fn drop_at(&self, reynolds: f64, velocity: f64) -> f64 {
        self.shape.friction(reynolds)
            * self.surface_over_free
            * 0.5
            * self.density
            * velocity
            * velocity
    }

    fn reynolds_at(&self, velocity: f64) -> f64 {
        self.density * velocity * self.shape.collar / self.viscosity
    }
}

fn velocity_at(reynolds: f64, drop: &CoilDrop) -> f64 {
    reynolds * drop.viscosity / (drop.density * drop.shape.collar)
}

impl Shape {
    /// Fanning friction factor at a Reynolds number.
    fn friction(&self, reynolds: f64) -> f64 {
        let across = self.across_pitch / self.row_pitch;
        let fin = self.fin_pitch / self.collar;
        let log = reynolds.ln();
        let f1 = -0.764 + 0.739 * across + 0.177 * fin - 0.00758 / self.rows;
        let f2 = -15.689 + 64.021 / log;
        let f3 = 1.696 - 15.695 / log;
        0.0267 * reynolds.powf(f1) * across.powf(f2) * fin.powf(f3)
    }
}

/// Viscosity of air at `t` kelvin in Pa·s, by Sutherland's formula with the constants of the
/// US Standard Atmosphere, 1976: 1.458·10⁻⁶·T^1.5/(T + 110.4).
fn viscosity(t: f64) -> f64 {
    1.458e-6 * t.powf(1.5) / (t + 110.4)
}
