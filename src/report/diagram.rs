//! A flow as a diagram for the wall: numbered cards on the ground of what may still be live.
//!
//! Four passes, each pure: what it says ([`model`]), which card stands where ([`order`]), the
//! sheet with every measure ([`place`]), and its text ([`svg()`] or [`dot()`]).

mod card;
mod dot;
mod energy;
mod legend;
mod measure;
mod model;
mod order;
mod place;
mod route;
mod svg;
mod words;

use crate::flow::library::Library;
use crate::flow::name::FlowName;

pub use card::{Line, Way, WayOut};
pub use dot::dot;
pub use energy::Energy;
pub use measure::{Weight, width};
pub use model::{Card, Diagram, Exit, Hands, Kind, diagram};
pub use order::{Row, rows};
pub use place::{PlacedCard, Rect, Region, Sheet, Strip, Wire, sheet};
pub use svg::svg;

/// The flow as SVG text; `None` without such a flow.
pub fn drawn(library: &Library, flow: &FlowName) -> Option<String> {
    let diagram = diagram(library, flow)?;
    Some(svg(&diagram, &sheet(&diagram)))
}
