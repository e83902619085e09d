//! The part's sheet: views to a stated scale, dimensions, gear data and what to take care of, on A4.

use fettle_measure::gear::mesh::{self, Mate};
use fettle_measure::gear::part::{Dimensions, Form, Part, Shape};

use super::decimal;
use super::office::{Line, Office};
use super::views::{gear_views, rack_views};
use crate::lettering::wrapped;
use crate::sheet::{Sheet, Tone};
use crate::svg::{Anchor, escape};
use crate::written::signed_off;

/// Width and height of the sheet: A4 across.
pub const SHEET_MM: [f64; 2] = [WIDTH, HEIGHT];
const WIDTH: f64 = 297.0;
const HEIGHT: f64 = 210.0;
/// The frame: broad on the left, where sheets are filed.
const FRAME: [[f64; 2]; 2] = [[20.0, 10.0], [287.0, 200.0]];
const TABLE_LEFT: f64 = 207.0;
const CORNER: [f64; 2] = [187.0, 170.0];
const ROW: f64 = 4.7;
const SMALL: f64 = 2.5;
/// Openings that the table has room for.
const MOST_OPENINGS: usize = 8;
/// Lines of notes that the sheet has room for.
const NOTES: usize = 9;

/// The words in the sheet's corner; what is empty is left to fill in by hand.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Corner {
    /// What the part is.
    pub title: String,
    /// The sheet's number.
    pub number: String,
    /// What it is made of, and how hard.
    pub material: String,
    /// When the sheet was drawn.
    pub date: String,
}

/// The part's sheet, A4 across, drawn in millimetres. With the pair in which a gear runs its span's limits are the pair's.
#[must_use]
pub fn sheet(part: &Part, corner: &Corner, pair: Option<&mesh::Report>) -> String {
    let paper = Sheet::Light;
    let mut office = Office::new(paper);
    office.rect(FRAME[0], FRAME[1], Line::Wide);
    let scale = match part.dimensions {
        Dimensions::Gear(of) => gear_views(&mut office, part, &of),
        Dimensions::Rack(of) => rack_views(&mut office, part, &of),
    };
    let below = table(&mut office, FRAME[0][1], &data(part, pair));
    openings(&mut office, below, part);
    notes(&mut office, part);
    title_corner(&mut office, part, corner, &scale);
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{WIDTH}mm\" height=\"{HEIGHT}mm\" viewBox=\"0 0 {WIDTH} {HEIGHT}\" role=\"img\" \
         aria-label=\"{name}\" font-family=\"{}\" fill=\"{}\">\n<title>{name}</title>\n{}</svg>\n",
        paper.font(),
        paper.tone(Tone::Ink),
        office.into_body(),
        name = escape(&super::name(part)),
    )
}

fn fine(mm: f64) -> String {
    signed_off(mm, 3)
}

fn short(value: f64) -> String {
    decimal(value, 4)
}

/// What the part is measured by, row by row: a name and a figure. With the pair in which a gear runs its span's limits are the pair's.
#[must_use]
pub fn data(part: &Part, pair: Option<&mesh::Report>) -> Vec<(String, String)> {
    let of = &part.options;
    let mut rows: Vec<(String, String)> = Vec::new();
    let mut row = |name: &str, value: String| rows.push((name.to_owned(), value));
    row("module m, mm", short(of.module_mm));
    row("teeth z", of.teeth.to_string());
    row(
        "pressure angle",
        format!("{}°", decimal(of.angle_rad.to_degrees(), 3)),
    );
    match part.dimensions {
        Dimensions::Gear(gear) => {
            row("profile shift x", short(of.shift));
            row("form", "involute, addendum 1 m, dedendum 1.25 m".to_owned());
            row("pitch diameter", fine(gear.pitch_diameter_mm));
            row("base diameter", fine(gear.base_diameter_mm));
            row("root diameter", fine(gear.root_diameter_mm));
            row("flanks begin at diameter", fine(gear.form_diameter_mm));
            row(
                "tooth thickness, pitch circle",
                fine(gear.tooth_thickness_mm),
            );
            let told = pair.and_then(|pair| Some((pair, part.span_in(pair)?)));
            let span = told.map(|(_, span)| span).or(gear.span);
            if let Some(span) = span {
                row(
                    &format!("span over {} teeth", span.teeth),
                    fine(span.limits.mm),
                );
                row(
                    "span, least to most",
                    format!(
                        "{} … {}",
                        fine(span.limits.least_mm),
                        fine(span.limits.most_mm)
                    ),
                );
            }
            if let Some((pair, _)) = told {
                let mate = match pair.options.mate {
                    Mate::Rack => "a rack".to_owned(),
                    Mate::Gear { teeth } => format!("{} and {teeth} teeth", pair.options.teeth),
                };
                row("pair", mate);
                row("its distance", fine(pair.distance_mm));
                row("its backlash", fine(pair.backlash_mm + of.backlash_mm));
            }
        }
        Dimensions::Rack(rack) => {
            row(
                "form",
                "straight flanks, addendum 1 m, dedendum 1.25 m".to_owned(),
            );
            row("pitch", fine(rack.pitch_mm));
            row(
                &format!("over {} pitches", rack.over_pitches),
                fine(rack.over_mm),
            );
            row("tooth height", fine(rack.tooth_height_mm));
            row("tooth thickness, pitch line", fine(rack.tooth_thickness.mm));
            row(
                "thickness, least to most",
                format!(
                    "{} … {}",
                    fine(rack.tooth_thickness.least_mm),
                    fine(rack.tooth_thickness.most_mm)
                ),
            );
            row("root fillet", format!("R {}", fine(rack.fillet_mm)));
        }
    }
    row("thinned for backlash by", short(of.backlash_mm));
    row("tips eased by", short(of.tip_relief_mm));
    rows
}

/// Rows from `top` down in the column on the right; where they end.
fn table(office: &mut Office, top: f64, rows: &[(String, String)]) -> f64 {
    let right = FRAME[1][0];
    let mut y = top;
    for (name, value) in rows {
        let lines = wrapped(value, SMALL, right - TABLE_LEFT - 42.0, 2);
        let high = ROW + 3.0 * (lines.len().saturating_sub(1) as f64);
        office.text([TABLE_LEFT + 1.5, y + 3.3], Anchor::Start, SMALL, name);
        for (n, line) in lines.iter().enumerate() {
            let down = 3.3 + 3.0 * n as f64;
            office.text([right - 1.5, y + down], Anchor::End, SMALL, line);
        }
        y += high;
        office.line([TABLE_LEFT, y], [right, y], Line::Narrow);
    }
    office.line([TABLE_LEFT, top], [TABLE_LEFT, y], Line::Narrow);
    y
}

/// The letter by which an opening is told.
pub(super) fn letter(n: usize) -> String {
    u8::try_from(n)
        .ok()
        .filter(|n| *n < 26)
        .map_or_else(|| (n + 1).to_string(), |n| char::from(b'A' + n).to_string())
}

/// Openings with their measures and places; a gear's bore stands on the section.
fn openings(office: &mut Office, top: f64, part: &Part) {
    let shapes: Vec<Shape> = placed_openings(part);
    if shapes.is_empty() {
        return;
    }
    let right = FRAME[1][0];
    let columns = [
        TABLE_LEFT + 1.5,
        TABLE_LEFT + 34.0,
        TABLE_LEFT + 54.0,
        right - 1.5,
    ];
    let mut y = top + 2.5;
    let mut row = |office: &mut Office, cells: [&str; 4]| {
        let anchors = [Anchor::Start, Anchor::End, Anchor::End, Anchor::End];
        for ((x, anchor), words) in columns.iter().zip(anchors).zip(cells) {
            office.text([*x, y + 3.3], anchor, SMALL, words);
        }
        y += ROW;
        office.line([TABLE_LEFT, y], [right, y], Line::Narrow);
    };
    let (x_from, y_from, back) = match part.dimensions {
        Dimensions::Gear(_) => ("x", "y", 0.0),
        Dimensions::Rack(of) => (
            "from left end",
            "from back",
            of.over_all_mm - of.addendum_mm,
        ),
    };
    row(office, ["opening", "size", x_from, y_from]);
    for (n, shape) in shapes.iter().enumerate().take(MOST_OPENINGS) {
        let size = match shape {
            Shape::Bore(hole) | Shape::Hole(hole) => format!("Ø {}", short(hole.diameter_mm)),
            Shape::Slot(slot) => {
                format!("{} × {}", short(slot.length_mm), short(slot.width_mm))
            }
        };
        let [x, y] = shape.middle();
        row(office, [&letter(n), &size, &fine(x), &fine(y + back)]);
    }
    if let Some(more) = shapes.len().checked_sub(MOST_OPENINGS).filter(|n| *n > 0) {
        row(
            office,
            [&format!("and {more} more, as in the file"), "", "", ""],
        );
    }
}

pub(super) fn placed_openings(part: &Part) -> Vec<Shape> {
    let shapes = part.inner.iter().map(|opening| opening.shape);
    shapes
        .filter(|shape| !matches!(shape, Shape::Bore(_)))
        .collect()
}

fn notes(office: &mut Office, part: &Part) {
    let check = match (part.options.form, part.dimensions) {
        (Form::Gear, Dimensions::Gear(of)) if of.span.is_some() => {
            "Measure the span before the part is fitted: a gear over its limit binds and breaks what it drives."
        }
        (Form::Gear, _) => {
            "Measure the part over rollers before it is fitted: thick teeth bind and break what they drive."
        }
        (Form::Rack, _) => {
            "Measure pitch and tooth thickness before the part is fitted: teeth over their limit bind and break what drives them."
        }
    };
    let general = "Dimensions without limits ISO 2768-f. Edges free of burr, flanks left as cut.";
    let mut words = vec![check.to_owned(), general.to_owned()];
    words.extend(part.findings.iter().map(|finding| {
        let told = finding.describe();
        let mut letters = told.chars();
        letters.next().map_or_else(String::new, |c| {
            c.to_uppercase().chain(letters).chain(['.']).collect()
        })
    }));
    let (left, width) = (FRAME[0][0] + 3.0, CORNER[0] - FRAME[0][0] - 6.0);
    let lines: Vec<String> = words
        .iter()
        .flat_map(|note| wrapped(note, SMALL, width, 4))
        .collect();
    let mut y = CORNER[1] + 4.0;
    let left_out = lines.len() > NOTES;
    let shown = if left_out { NOTES - 1 } else { NOTES };
    for line in lines.iter().take(shown) {
        office.text([left, y], Anchor::Start, SMALL, line);
        y += 3.1;
    }
    if left_out {
        let more = "More is noticed: see the findings that go with the part.";
        office.text([left, y], Anchor::Start, SMALL, more);
    }
}

fn title_corner(office: &mut Office, part: &Part, corner: &Corner, scale: &str) {
    let [left, top] = CORNER;
    let [right, bottom] = FRAME[1];
    let middle = f64::midpoint(left, right);
    office.rect([left, top], [right, bottom], Line::Wide);
    let mut cell = |from: [f64; 2], to: f64, name: &str, words: &str, size: f64| {
        office.text([from[0] + 1.5, from[1] + 2.8], Anchor::Start, 1.9, name);
        let line = wrapped(words, size, to - from[0] - 3.0, 1);
        let words = line.first().map_or("", String::as_str);
        office.text(
            [from[0] + 1.5, from[1] + 3.4 + size],
            Anchor::Start,
            size,
            words,
        );
    };
    let title = if corner.title.is_empty() {
        super::name(part)
    } else {
        corner.title.clone()
    };
    cell([left, top], right, "part", &title, 4.0);
    cell(
        [left, top + 10.0],
        middle,
        "material",
        &corner.material,
        3.0,
    );
    cell([middle, top + 10.0], right, "number", &corner.number, 3.0);
    cell([left, top + 20.0], middle, "date", &corner.date, 3.0);
    cell([middle, top + 20.0], right, "scale; all in mm", scale, 3.0);
    for y in [10.0, 20.0] {
        office.line([left, top + y], [right, top + y], Line::Narrow);
    }
    office.line([middle, top + 10.0], [middle, bottom], Line::Narrow);
}
