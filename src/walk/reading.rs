//! stub
use super::refusal::Refusal;
use crate::trade::quantity::{Kind, Quantity, Unit};
/// stub
pub struct Wanted {
    kind: Kind,
    unit: &'static Unit,
    plausible: Option<(f64, f64)>,
}
impl Wanted {
    /// stub
    pub fn new(kind: Kind) -> Self {
        Self {
            kind,
            unit: kind.usual_unit(),
            plausible: None,
        }
    }
    /// stub
    pub fn plausible(mut self, low: f64, high: f64) -> Self {
        self.plausible = Some((low, high));
        self
    }
    /// stub
    pub fn shown_in(mut self, unit: &'static Unit) -> Self {
        self.unit = unit;
        self
    }
}
/// stub
pub struct Typed {
    /// s
    pub quantity: Quantity,
    /// s
    pub unit: &'static Unit,
}
/// stub
pub type Trouble = String;
/// stub
pub fn refusal(t: Trouble) -> Refusal {
    Refusal::NotUnderstood(t)
}
/// stub
pub fn parse(text: &str, w: &Wanted) -> Result<Typed, Trouble> {
    let _ = (w.kind, w.plausible);
    let n: f64 = text
        .split_whitespace()
        .next()
        .unwrap_or("")
        .parse()
        .map_err(|_| "no".to_owned())?;
    Ok(Typed {
        quantity: w.unit.of(n),
        unit: w.unit,
    })
}
/// stub
pub fn parse_count(text: &str, _noun: &str, _from: u32, _to: u32) -> Result<u32, Trouble> {
    text.parse().map_err(|_| "no".to_owned())
}
/// stub
pub fn parse_number(text: &str, _noun: &str) -> Result<f64, Trouble> {
    text.parse().map_err(|_| "no".to_owned())
}
