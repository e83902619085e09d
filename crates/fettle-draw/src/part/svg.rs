//! The part as SVG, for a laser: nothing but the edges to be cut.

use fettle_measure::gear::part::{Part, Shape};

use super::scene::{Bounds, Placing, path};
use super::{OFF_MM, decimal, name};

/// Room about the part, so that no stroke is cut off.
const MARGIN_MM: f64 = 1.0;
/// Width of the strokes, which mark an edge and have no meaning.
const STROKE_MM: f64 = 0.05;
const PLACES: usize = 5;

/// The part's edges, 1:1: a unit of the drawing is a millimetre. Lines and arcs are themselves, other curves cubics within 1 µm.
#[must_use]
pub fn svg(part: &Part) -> String {
    let bounds = Bounds::of(&part.outer);
    let placing = Placing {
        scale: 1.0,
        origin: [MARGIN_MM - bounds.least[0], MARGIN_MM + bounds.most[1]],
        places: PLACES,
    };
    let width = decimal(bounds.width() + 2.0 * MARGIN_MM, PLACES);
    let height = decimal(bounds.height() + 2.0 * MARGIN_MM, PLACES);
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}mm\" height=\"{height}mm\" viewBox=\"0 0 {width} {height}\" \
         fill=\"none\" stroke=\"#000000\" stroke-width=\"{STROKE_MM}\">\n<title>{}</title>\n",
        name(part)
    );
    let mut edge = |class: &str, data: &str| {
        svg.push_str(&format!("<path class=\"{class}\" d=\"{data}\"/>\n"));
    };
    edge("outline", &path(&part.outer.curves, OFF_MM, placing, true));
    for opening in &part.inner {
        let class = match opening.shape {
            Shape::Bore(_) => "bore",
            Shape::Hole(_) => "hole",
            Shape::Slot(_) => "slot",
        };
        edge(class, &path(&opening.outline.curves, OFF_MM, placing, true));
    }
    svg.push_str("</svg>\n");
    svg
}
