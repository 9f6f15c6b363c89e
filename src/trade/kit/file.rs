//! The shape of a kit file, and its way into typed assemblies.

use std::collections::BTreeMap;
use std::ops::RangeInclusive;

use indexmap::IndexMap;
use serde::Deserialize;
use serde_yaml::Spanned;
use uom::si::angle::radian;
use uom::si::angular_velocity::radian_per_second;
use uom::si::electric_potential::volt;
use uom::si::f64::{
    Angle, AngularVelocity, ElectricPotential, Length, LinearNumberDensity, Power, Pressure,
    ThermodynamicTemperature, Velocity, VolumeRate,
};
use uom::si::length::meter;
use uom::si::linear_number_density::per_meter;
use uom::si::power::watt;
use uom::si::pressure::pascal;
use uom::si::thermodynamic_temperature::kelvin;
use uom::si::velocity::meter_per_second;
use uom::si::volume_rate::cubic_meter_per_second;

use super::assembly::{
    AirDirection, Approval, Assembly, AssemblyKey, Blade, End, Rotation, SettingName, Speed, Spin,
};
use super::drain::{Drain, ShaftPosition};
use crate::trade::air::standard_density;
use crate::trade::curve::{CurvePoint, FanCurve};
use crate::trade::goods::{Problem, Reader, Window};
use crate::trade::motor::MotorType;
use crate::trade::protection::IpCode;
use crate::trade::quantity::Kind;
use crate::trade::window::CoilWindow;

type Text = Spanned<String>;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct KitFile {
    kit: Text,
    crew: Text,
    pub(super) assemblies: IndexMap<String, RawAssembly>,
}

impl KitFile {
    pub(super) fn titles(&self) -> Result<(String, String), Problem> {
        Ok((
            self.kit.some_text("The kit's name")?,
            self.crew.some_text("The crew's name")?,
        ))
    }

    pub(super) fn kit_problem(&self, what: String) -> Problem {
        self.kit.problem(what)
    }
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawAssembly {
    title: Text,
    on_truck: u32,
    motor: Text,
    shaft_power: Text,
    volts: Text,
    speeds: Vec<RawSpeed>,
    leaves_box_at: Text,
    set_by: Text,
    mounting: Vec<Text>,
    #[serde(default)]
    coil: RawCoil,
    rotation: RawRotation,
    air: Text,
    blade: RawBlade,
    depth: Option<Text>,
    protection: Text,
    ambient: Text,
    plug: Option<Text>,
    #[serde(default)]
    drain: RawDrain,
    refrigerant: RawApproval,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawSpeed {
    setting: Text,
    speed: Text,
    input: Text,
    #[serde(default)]
    curve: Vec<Text>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawCoil {
    fins: Option<Text>,
    depth: Option<Text>,
    rows: Option<Text>,
    height: Option<Text>,
    face_velocity: Option<Text>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawRotation {
    turns: Text,
    seen_from: Text,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawBlade {
    diameter: Text,
    pitch: Option<Text>,
    count: Option<u8>,
    bore: Option<Text>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawDrain {
    #[serde(default)]
    openings: Vec<Text>,
    #[serde(default)]
    open: RawOpen,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawOpen {
    horizontal: Option<Vec<Text>>,
    up: Option<Vec<Text>>,
    down: Option<Vec<Text>>,
    tilted: Option<Vec<Text>>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawApproval {
    groups: Vec<Text>,
    #[serde(default)]
    confirmed_models: Vec<Text>,
}

impl RawAssembly {
    pub(super) fn assembly(&self, key: &str) -> Result<Assembly, Problem> {
        let speeds = self.speeds()?;
        let leaves_box_at = SettingName(self.leaves_box_at.some_text("The setting")?);
        if !speeds.iter().any(|speed| speed.setting == leaves_box_at) {
            let names: Vec<&str> = speeds.iter().map(|speed| speed.setting.as_str()).collect();
            return Err(self.leaves_box_at.problem(format!(
                "{key} has no setting \"{leaves_box_at}\"; it has {}.",
                names.join(", ")
            )));
        }
        if self.mounting.is_empty() {
            return Err(self
                .title
                .problem(format!("{key} needs at least one mounting pattern.")));
        }
        let length = |text: &Text| text.above_zero(Kind::Length, Length::new::<meter>);
        Ok(Assembly {
            key: AssemblyKey(key.to_owned()),
            title: self.title.some_text("The title")?,
            on_truck: self.on_truck,
            motor: motor(&self.motor)?,
            shaft_power: self
                .shaft_power
                .above_zero(Kind::Power, Power::new::<watt>)?,
            volts: self
                .volts
                .window(Kind::Voltage, ElectricPotential::new::<volt>)?,
            speeds,
            leaves_box_at,
            set_by: self.set_by.some_text("How the speed is set")?,
            mounting: texts(&self.mounting)?,
            coil: self.coil.window()?,
            face_velocity: self.coil.face_velocity()?,
            rotation: Rotation {
                spin: self.rotation.turns.word(Spin::WORDS)?,
                seen_from: self.rotation.seen_from.word(End::WORDS)?,
            },
            air: self.air.word(AirDirection::WORDS)?,
            blade: self.blade.blade()?,
            depth: self.depth.as_ref().map(length).transpose()?,
            protection: protection(&self.protection)?,
            ambient: self
                .ambient
                .window(Kind::Temperature, ThermodynamicTemperature::new::<kelvin>)?,
            plug: self
                .plug
                .as_ref()
                .map(|plug| plug.some_text("The plug"))
                .transpose()?,
            drain: self.drain.drain()?,
            refrigerant: Approval {
                groups: self.refrigerant.groups()?,
                confirmed_models: texts(&self.refrigerant.confirmed_models)?,
            },
        })
    }

    fn speeds(&self) -> Result<Vec<Speed>, Problem> {
        let mut speeds: Vec<Speed> = Vec::with_capacity(self.speeds.len());
        for raw in &self.speeds {
            let speed = raw.speed()?;
            if speeds.iter().any(|other| other.setting == speed.setting) {
                return Err(raw
                    .setting
                    .problem(format!("The setting \"{}\" is there twice.", speed.setting)));
            }
            if speeds
                .last()
                .is_some_and(|before| before.speed >= speed.speed)
            {
                return Err(raw
                    .speed
                    .problem("List the speeds from slowest to fastest."));
            }
            speeds.push(speed);
        }
        if speeds.is_empty() {
            return Err(self.title.problem("An assembly needs at least one speed."));
        }
        Ok(speeds)
    }
}

impl RawSpeed {
    fn speed(&self) -> Result<Speed, Problem> {
        let curve = self.curve()?;
        Ok(Speed {
            setting: SettingName(self.setting.some_text("The setting")?),
            speed: self.speed.above_zero(
                Kind::RotationalSpeed,
                AngularVelocity::new::<radian_per_second>,
            )?,
            input: self.input.above_zero(Kind::Power, Power::new::<watt>)?,
            curve,
        })
    }

    fn curve(&self) -> Result<Option<FanCurve>, Problem> {
        if self.curve.is_empty() {
            return Ok(None);
        }
        let mut points = self
            .curve
            .iter()
            .map(curve_point)
            .collect::<Result<Vec<_>, _>>()?;
        points.sort_by(|a, b| a.flow.value.total_cmp(&b.flow.value));
        FanCurve::new(&points, standard_density())
            .map(Some)
            .map_err(|why| self.curve[0].problem(why.to_string()))
    }
}

fn motor(text: &Text) -> Result<MotorType, Problem> {
    MotorType::named(&text.value).ok_or_else(|| {
        let words = MotorType::WORDS.join(", ");
        text.problem(format!("\"{}\" must be one of {words}.", text.value))
    })
}

fn curve_point(text: &Text) -> Result<CurvePoint, Problem> {
    let (flow, pressure) = text.value.split_once(" at ").ok_or_else(|| {
        text.problem(format!(
            "\"{}\" is not a point of a curve; write flow at pressure, such as 600 cfm at 0.12 \
             in wg.",
            text.value
        ))
    })?;
    let part = |part: &str| Spanned::new(part.to_owned(), text.referenced, text.defined);
    let point = CurvePoint {
        flow: part(flow).quantity(Kind::AirFlow, VolumeRate::new::<cubic_meter_per_second>)?,
        pressure: part(pressure).quantity(Kind::Pressure, Pressure::new::<pascal>)?,
        input_power: None,
    };
    Ok(point)
}

impl RawCoil {
    fn window(&self) -> Result<CoilWindow, Problem> {
        let length = |text: &Text| text.window(Kind::Length, Length::new::<meter>).map(range);
        let fins = |text: &Text| {
            text.window(Kind::FinPitch, LinearNumberDensity::new::<per_meter>)
                .map(range)
        };
        Ok(CoilWindow {
            fins: self.fins.as_ref().map(fins).transpose()?,
            depth: self.depth.as_ref().map(length).transpose()?,
            rows: self.rows.as_ref().map(rows).transpose()?,
            height: self.height.as_ref().map(length).transpose()?,
        })
    }

    fn face_velocity(&self) -> Result<Option<Window<Velocity>>, Problem> {
        let velocity = |text: &Text| text.window(Kind::Velocity, Velocity::new::<meter_per_second>);
        self.face_velocity.as_ref().map(velocity).transpose()
    }
}

fn range<T>(window: Window<T>) -> RangeInclusive<T> {
    window.from..=window.to
}

fn rows(text: &Text) -> Result<RangeInclusive<u32>, Problem> {
    let ends = text
        .value
        .split_once(" to ")
        .and_then(|(from, to)| Some((from.trim().parse().ok()?, to.trim().parse().ok()?)));
    match ends {
        Some((from, to)) if from <= to => Ok(from..=to),
        _ => Err(text.problem(format!(
            "\"{}\" is not a range of rows such as 2 to 6.",
            text.value
        ))),
    }
}

impl RawBlade {
    fn blade(&self) -> Result<Blade, Problem> {
        let length = |text: &Text| text.above_zero(Kind::Length, Length::new::<meter>);
        let angle = |text: &Text| text.above_zero(Kind::Angle, Angle::new::<radian>);
        Ok(Blade {
            diameter: length(&self.diameter)?,
            pitch: self.pitch.as_ref().map(angle).transpose()?,
            count: self.count,
            bore: self.bore.as_ref().map(length).transpose()?,
        })
    }
}

impl RawDrain {
    fn drain(&self) -> Result<Drain, Problem> {
        let openings = texts(&self.openings)?;
        let mut open = BTreeMap::new();
        for (position, names) in [
            (ShaftPosition::Horizontal, &self.open.horizontal),
            (ShaftPosition::Up, &self.open.up),
            (ShaftPosition::Down, &self.open.down),
            (ShaftPosition::Tilted, &self.open.tilted),
        ] {
            let Some(names) = names else { continue };
            for name in names {
                if !openings.contains(&name.value) {
                    return Err(name.problem(format!(
                        "There is no drain opening \"{}\"; list it under openings.",
                        name.value
                    )));
                }
            }
            open.insert(position, texts(names)?);
        }
        Ok(Drain { openings, open })
    }
}

impl RawApproval {
    fn groups(&self) -> Result<Vec<String>, Problem> {
        const GROUPS: &[(&str, &str)] = &[
            ("A1", "A1"),
            ("A2L", "A2L"),
            ("A2", "A2"),
            ("A3", "A3"),
            ("B1", "B1"),
        ];
        self.groups
            .iter()
            .map(|group| group.word(GROUPS).map(str::to_owned))
            .collect()
    }
}

/// A protection class such as `IP54` or `IPX4`.
fn protection(text: &Text) -> Result<IpCode, Problem> {
    IpCode::parse(&text.value).map_err(|why| text.problem(why.to_string()))
}

fn texts(list: &[Text]) -> Result<Vec<String>, Problem> {
    list.iter()
        .map(|text| text.some_text("An entry of a list"))
        .collect()
}
