//! One replacement assembly: motor, blade, electronics and what its sheet says about them.

use std::fmt;

use uom::si::f64::{
    Angle, AngularVelocity, ElectricPotential, Length, Power, ThermodynamicTemperature, Velocity,
};

use super::drain::Drain;
use crate::trade::curve::FanCurve;
use crate::trade::goods::Window;
use crate::trade::motor::MotorType;
use crate::trade::protection::IpCode;
use crate::trade::window::CoilWindow;

/// The key of an assembly in its kit: `ec-a-small`.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct AssemblyKey(pub(super) String);

impl AssemblyKey {
    /// The key as written in the kit.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for AssemblyKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// What a speed setting is called on the assembly: `3`, `medium`.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct SettingName(pub(super) String);

impl SettingName {
    /// The name as the sheet has it.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for SettingName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// Which way something turns.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Spin {
    /// As the hands of a clock.
    Clockwise,
    /// Against them.
    Counterclockwise,
}

impl Spin {
    /// Words of a file or flow with their values.
    pub const WORDS: &'static [(&'static str, Self)] = &[
        ("clockwise", Self::Clockwise),
        ("counterclockwise", Self::Counterclockwise),
    ];

    fn other(self) -> Self {
        match self {
            Self::Clockwise => Self::Counterclockwise,
            Self::Counterclockwise => Self::Clockwise,
        }
    }
}

/// The end of the motor that one looks at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum End {
    /// The end where the leads come out, opposite the shaft.
    Lead,
    /// The end where the shaft and the blade are.
    Shaft,
}

impl End {
    /// Words of a file or flow with their values.
    pub const WORDS: &'static [(&'static str, Self)] =
        &[("lead_end", Self::Lead), ("shaft_end", Self::Shaft)];
}

/// A direction of rotation; without the end it is seen from it would mean nothing.
#[derive(Clone, Copy, Debug)]
pub struct Rotation {
    /// Which way.
    pub spin: Spin,
    /// Seen from which end.
    pub seen_from: End,
}

impl Rotation {
    /// Which way it turns as seen from the shaft end.
    pub fn from_shaft_end(self) -> Spin {
        match self.seen_from {
            End::Shaft => self.spin,
            End::Lead => self.spin.other(),
        }
    }
}

/// Two rotations are equal when the shaft turns the same way, from whichever end it was seen.
impl PartialEq for Rotation {
    fn eq(&self, other: &Self) -> bool {
        self.from_shaft_end() == other.from_shaft_end()
    }
}

/// Where the air leaves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AirDirection {
    /// Away from the motor: it leaves on the blade side.
    AwayFromMotor,
    /// Over the motor: it leaves on the motor side.
    TowardsMotor,
}

impl AirDirection {
    /// Words of a file or flow with their values.
    pub const WORDS: &'static [(&'static str, Self)] = &[
        ("away_from_motor", Self::AwayFromMotor),
        ("towards_motor", Self::TowardsMotor),
    ];
}

/// The blade that belongs to the assembly.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Blade {
    /// Diameter over the tips.
    pub diameter: Length,
    /// Pitch of the blades, where the sheet tells it.
    pub pitch: Option<Angle>,
    /// How many blades.
    pub count: Option<u8>,
    /// Bore of the hub.
    pub bore: Option<Length>,
}

/// One speed that can be set.
#[derive(Clone, Debug, PartialEq)]
pub struct Speed {
    /// What the setting is called.
    pub setting: SettingName,
    /// How fast it turns.
    pub speed: AngularVelocity,
    /// Electrical input at that speed.
    pub input: Power,
    /// Its curve in standard air, where the sheet has one.
    pub curve: Option<FanCurve>,
}

/// What the maker lets the assembly be used with.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Approval {
    /// Safety groups of ASHRAE 34 that any evaporator may have: `A1`.
    pub groups: Vec<String>,
    /// Evaporator models that the maker confirmed by name, for A2L and A3.
    pub confirmed_models: Vec<String>,
}

/// One replacement assembly. What differs from one to the next is by its sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Assembly {
    /// Its key in the kit.
    pub key: AssemblyKey,
    /// What it is called.
    pub title: String,
    /// How many are on the truck.
    pub on_truck: u32,
    /// Its kind of motor.
    pub motor: MotorType,
    /// Rated power at the shaft.
    pub shaft_power: Power,
    /// Supply volts that it accepts.
    pub volts: Window<ElectricPotential>,
    /// Its speeds, slowest first; at least one.
    pub speeds: Vec<Speed>,
    /// The setting that it leaves the box at; one of `speeds`.
    pub leaves_box_at: SettingName,
    /// How the speed is set, by its sheet.
    pub set_by: String,
    /// Mounting patterns that it fits, as the crew calls them.
    pub mounting: Vec<String>,
    /// The coils that it suits.
    pub coil: CoilWindow,
    /// Speed of the air over the coil's face that it suits.
    pub face_velocity: Option<Window<Velocity>>,
    /// Its direction of rotation.
    pub rotation: Rotation,
    /// Its direction of air.
    pub air: AirDirection,
    /// Its blade.
    pub blade: Blade,
    /// Space that it takes from the mounting plane.
    pub depth: Option<Length>,
    /// Its protection class.
    pub protection: IpCode,
    /// Temperatures of the air around it.
    pub ambient: Window<ThermodynamicTemperature>,
    /// Its plug, as the crew calls it; none where it has bare leads.
    pub plug: Option<String>,
    /// Its drain openings.
    pub drain: Drain,
    /// What refrigerants it may be used with.
    pub refrigerant: Approval,
}

impl Assembly {
    /// The place of `setting` among the speeds.
    pub fn place_of(&self, setting: &SettingName) -> Option<usize> {
        self.speeds
            .iter()
            .position(|speed| speed.setting == *setting)
    }
}
