//! Square codes (ISO/IEC 18004), drawn.

use qrcode::render::svg;
use qrcode::{EcLevel, QrCode};

/// The side of the drawing, in pixels.
const SIDE: u32 = 200;

/// The drawing of a text, as SVG with the quiet zone around it; empty if the text does not fit.
pub(super) fn drawn(text: &str) -> String {
    let Ok(code) = QrCode::with_error_correction_level(text, EcLevel::M) else {
        return String::new();
    };
    let drawn = code
        .render::<svg::Color<'_>>()
        .min_dimensions(SIDE, SIDE)
        .dark_color(svg::Color("#000000"))
        .light_color(svg::Color("#ffffff"))
        .build();
    // What stands before the element has no place inside a page.
    drawn
        .find("<svg")
        .and_then(|start| drawn.get(start..))
        .unwrap_or_default()
        .to_owned()
}
