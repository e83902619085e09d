//! The views on a part's sheet.

use fettle_measure::gear::part::{GearDimensions, Part, RackDimensions, Shape};
use fettle_measure::gear::{Curve, Point};

use super::decimal;
use super::office::{LETTERS, Line, Office};
use super::scene::{Placing, path};
use super::sheet::{letter, placed_openings};
use crate::svg::Anchor;

/// Scales of ISO 5455, largest first.
const SCALES: [(f64, f64); 14] = [
    (50.0, 1.0),
    (20.0, 1.0),
    (10.0, 1.0),
    (5.0, 1.0),
    (2.0, 1.0),
    (1.0, 1.0),
    (1.0, 2.0),
    (1.0, 5.0),
    (1.0, 10.0),
    (1.0, 20.0),
    (1.0, 50.0),
    (1.0, 100.0),
    (1.0, 200.0),
    (1.0, 1000.0),
];
/// The paper on which views stand.
const LEFT: f64 = 26.0;
const RIGHT: f64 = 203.0;
const MIDDLE_Y: f64 = 88.0;
/// A curve on paper may be off this far.
const OFF_PAPER_MM: f64 = 0.01;
const CAPTION: f64 = 2.5;

/// The largest scale at which something no greater than `least` on paper comes out, and how it is written.
fn scale(fits: impl Fn(f64) -> bool) -> (f64, String) {
    let (of, to) = SCALES
        .into_iter()
        .find(|(of, to)| fits(of / to))
        .unwrap_or((1.0, 1000.0));
    (of / to, format!("{of}:{to}"))
}

fn placing(scale: f64, origin: Point) -> Placing {
    Placing {
        scale,
        origin,
        places: 3,
    }
}

fn draw_part(office: &mut Office, part: &Part, at: Placing) {
    let off = OFF_PAPER_MM / at.scale;
    office.path(&path(&part.outer.curves, off, at, true), Line::Wide);
    for opening in &part.inner {
        office.path(&path(&opening.outline.curves, off, at, true), Line::Wide);
    }
    for (n, shape) in placed_openings(part).iter().enumerate() {
        let radius = shape.radius_mm() * at.scale + 1.5;
        let ends = shape.ends().map(|end| at.at(end));
        let ends = if matches!(shape, Shape::Slot(_)) {
            &ends[..]
        } else {
            &ends[..1]
        };
        for [x, y] in ends {
            office.line([x - radius, *y], [x + radius, *y], Line::Chain);
            office.line([*x, y - radius], [*x, y + radius], Line::Chain);
        }
        let [x, y] = at.at(shape.ends()[1]);
        let aside = shape.radius_mm() * at.scale * 0.75 + 0.8;
        office.text([x + aside, y - aside], Anchor::Start, LETTERS, &letter(n));
    }
}

fn mm(value: f64) -> String {
    decimal(value, 3)
}

/// Front view and section of a gear; the scale as it is written.
pub(super) fn gear_views(office: &mut Office, part: &Part, of: &GearDimensions) -> String {
    let tip = of.tip_diameter_mm;
    let thick = part.thickness_mm;
    let (scale, written) = scale(|s| tip * s <= 112.0 && (tip + thick) * s <= 128.0);
    let room = RIGHT - LEFT - (tip + thick) * scale;
    let gap = (room / 3.0).clamp(16.0, 28.0);
    let left = LEFT + ((room - gap - 14.0) / 2.0).max(0.0);
    let at = placing(scale, [left + tip * scale / 2.0, MIDDLE_Y]);
    draw_part(office, part, at);
    let [x, y] = at.origin;
    let reach = tip * scale / 2.0 + 4.0;
    office.line([x - reach, y], [x + reach, y], Line::Chain);
    office.line([x, y - reach], [x, y + reach], Line::Chain);
    office.circle(at.origin, of.pitch_diameter_mm * scale / 2.0, Line::Chain);
    let caption_y = MIDDLE_Y + tip * scale / 2.0 + 18.0;
    office.text([x, caption_y], Anchor::Middle, CAPTION, "front");

    let from = left + tip * scale + gap;
    let to = from + thick * scale;
    let half = |diameter: f64| diameter * scale / 2.0;
    office.rect([from, y - half(tip)], [to, y + half(tip)], Line::Wide);
    let bore = part.options.bore_mm.unwrap_or(0.0);
    for side in [-1.0, 1.0] {
        let root = y + side * half(of.root_diameter_mm);
        office.line([from, root], [to, root], Line::Wide);
        let pitch = y + side * half(of.pitch_diameter_mm);
        office.line([from - 2.0, pitch], [to + 2.0, pitch], Line::Chain);
        let inner = y + side * half(bore);
        if bore > 0.0 {
            office.line([from, inner], [to, inner], Line::Wide);
        }
        office.hatch([from, root.min(inner)], [to, root.max(inner)]);
    }
    office.line([from - 3.0, y], [to + 3.0, y], Line::Chain);
    let below = y + half(tip) + 8.0;
    office.across(
        [from, y + half(tip)],
        [to, y + half(tip)],
        below,
        &mm(thick),
    );
    office.upright(
        [to, y - half(tip)],
        [to, y + half(tip)],
        to + 10.0,
        &format!("Ø {}", mm(tip)),
    );
    if bore > 0.0 {
        office.upright(
            [from, y - half(bore)],
            [from, y + half(bore)],
            from - 6.0,
            &format!("Ø {}", mm(bore)),
        );
    }
    let middle = f64::midpoint(from, to);
    office.text([middle, caption_y], Anchor::Middle, CAPTION, "section");
    written
}

/// Front and side view of a rack, and its teeth enlarged; the scale as it is written.
pub(super) fn rack_views(office: &mut Office, part: &Part, of: &RackDimensions) -> String {
    let (length, height) = (of.length_mm, of.over_all_mm);
    let (scale_front, written) = scale(|s| length * s <= 165.0 && height * s <= 42.0);
    let left = LEFT + (RIGHT - LEFT - length * scale_front) / 2.0;
    let pitch_line = 30.0 + of.addendum_mm * scale_front;
    let at = placing(scale_front, [left, pitch_line]);
    draw_part(office, part, at);
    let right = left + length * scale_front;
    office.line(
        [left - 3.0, pitch_line],
        [right + 3.0, pitch_line],
        Line::Chain,
    );
    let back = pitch_line + (height - of.addendum_mm) * scale_front;
    office.across([left, back], [right, back], back + 8.0, &mm(length));
    let first = left + of.pitch_mm / 2.0 * scale_front;
    let top = pitch_line - of.addendum_mm * scale_front;
    office.across(
        [first, top],
        [first + of.over_mm * scale_front, top],
        top - 8.0,
        &format!(
            "{} × {} = {}",
            of.over_pitches,
            mm(of.pitch_mm),
            mm(of.over_mm)
        ),
    );
    office.text([LEFT, back + 16.0], Anchor::Start, CAPTION, "front");

    let top = 104.0;
    let thick = part.thickness_mm;
    let (s, side_written) = scale(|s| height * s <= 44.0 && thick * s <= 30.0);
    let (from, to) = (LEFT + 16.0, LEFT + 16.0 + thick * s);
    let bottom = top + height * s;
    office.rect([from, top], [to, bottom], Line::Wide);
    let root = top + of.tooth_height_mm * s;
    office.line([from, root], [to, root], Line::Wide);
    let pitch = top + of.addendum_mm * s;
    office.line([from - 2.0, pitch], [to + 2.0, pitch], Line::Chain);
    office.across([from, bottom], [to, bottom], bottom + 7.0, &mm(thick));
    office.upright([to, top], [to, bottom], to + 17.0, &mm(height));
    office.upright([to, root], [to, bottom], to + 9.0, &mm(of.body_mm));
    let caption = format!("side {side_written}");
    office.text([from, top - 5.0], Anchor::Start, CAPTION, &caption);
    teeth(office, part, of, [to + 38.0, top]);
    written
}

/// Two teeth, enlarged, with what shapes them.
fn teeth(office: &mut Office, part: &Part, of: &RackDimensions, [left, top]: Point) {
    let wide = 2.0 * of.pitch_mm;
    let (s, written) = scale(|s| wide * s <= RIGHT - left - 26.0 && of.tooth_height_mm * s <= 32.0);
    let pitch_line = top + of.addendum_mm * s;
    let at = placing(s, [left, pitch_line]);
    let teeth: Vec<Curve> = part
        .outer
        .curves
        .iter()
        .copied()
        .filter(|curve| {
            let (from, to) = (curve.at(0.0), curve.at(1.0));
            let middle = f64::midpoint(from[0], to[0]);
            let high = from[1].min(to[1]) > -of.tooth_height_mm;
            high && middle < wide && (from[0] - to[0]).abs() < of.pitch_mm
        })
        .collect();
    office.path(&path(&teeth, OFF_PAPER_MM / s, at, false), Line::Wide);
    let right = left + wide.min(of.length_mm) * s;
    office.line(
        [left - 3.0, pitch_line],
        [right + 3.0, pitch_line],
        Line::Chain,
    );
    let bottom = top + of.tooth_height_mm * s;
    office.upright(
        [right, top],
        [right, bottom],
        right + 18.0,
        &mm(of.tooth_height_mm),
    );
    office.upright(
        [right, top],
        [right, pitch_line],
        right + 9.0,
        &mm(of.addendum_mm),
    );
    if part.options.teeth > 1 {
        let first = left + of.pitch_mm / 2.0 * s;
        office.across(
            [first, bottom],
            [first + of.pitch_mm * s, bottom],
            bottom + 8.0,
            &mm(of.pitch_mm),
        );
    }
    let words = format!(
        "teeth {written}: flanks {}° to the upright, roots R {}",
        decimal(part.options.angle_rad.to_degrees(), 3),
        mm(of.fillet_mm)
    );
    office.text([left, top - 5.0], Anchor::Start, CAPTION, &words);
}
