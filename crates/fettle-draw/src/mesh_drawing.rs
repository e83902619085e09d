//! A pair of teeth in mesh, to scale, ready to be turned.

use fettle_measure::gear::mesh::{Placed, PlacedPair, Report, placed};
use fettle_measure::gear::{Curve, Point};

use crate::part::decimal;
use crate::part::scene::{Placing, path};
use crate::sheet::{Sheet, Tone};
use crate::svg::escape;

/// Width and height of the view, in modules about the pitch point: both pairs of flanks that touch, and their neighbours.
const VIEW: [f64; 2] = [18.0, 12.0];
/// Width of the drawing in CSS pixels.
const WIDE: f64 = 720.0;
/// A curve may be off by this part of the module: a hundredth of a pixel or so.
const OFF: f64 = 5e-4;
/// Teeth on either side of the view, so that turning by one brings none in from nowhere.
const SPARE: f64 = 1.5;
/// Where the pitch point stands in the view, from its top.
const PITCH_POINT: f64 = 0.55;

/// The pair of a report at its withdrawal. The groups of class `pinion` and `mate` say how they move together, as attributes: `data-cx` and `data-cy`, about
/// which a gear turns, `data-tooth-rad`, its turn with growing y downwards from one tooth to the next, and `data-tooth-mm`, a rack's travel
/// in the drawing's units for the same. After one tooth the picture is the same again.
///
/// Nothing is drawn but its frame when the report's options have no meaning.
#[must_use]
pub fn mesh_drawing(report: &Report, sheet: Sheet) -> String {
    let module = report.options.module_mm;
    let [width, height] = VIEW.map(|modules| modules * module);
    let rack_teeth = (VIEW[0] / std::f64::consts::PI + 2.0 * SPARE).ceil() as u32 + 1;
    let title = format!(
        "{} teeth in mesh, {:.3} mm apart from the distance without backlash",
        report.options.teeth, report.apart_mm
    );
    let view = |number: f64| decimal(number, 4);
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"mesh-drawing\" width=\"{WIDE}\" height=\"{}\" viewBox=\"0 0 {} {}\" role=\"img\" \
         aria-label=\"{name}\" font-family=\"{}\" fill=\"{}\">\n<title>{name}</title>\n",
        view(WIDE * VIEW[1] / VIEW[0]),
        view(width),
        view(height),
        sheet.font(),
        sheet.tone(Tone::Ink),
        name = escape(&title),
    );
    if let Ok(pair) = placed(&report.options, report.apart_mm, rack_teeth) {
        let [x, y] = pair.pitch_point;
        let placing = Placing {
            scale: 1.0,
            origin: [width / 2.0 - x, PITCH_POINT * height + y],
            places: 4,
        };
        let drawing = MeshDrawing {
            sheet,
            module,
            placing,
            reach: width.hypot(height),
        };
        drawing.draw(&mut svg, &pair, report);
    }
    svg.push_str("</svg>\n");
    svg
}

struct MeshDrawing {
    sheet: Sheet,
    module: f64,
    placing: Placing,
    reach: f64,
}

impl MeshDrawing {
    fn draw(&self, svg: &mut String, pair: &PlacedPair, report: &Report) {
        self.body(svg, "mate", &pair.mate, pair.pitch_point);
        self.body(svg, "pinion", &pair.pinion, pair.pitch_point);
        for placed in [&pair.mate, &pair.pinion] {
            self.circles(svg, placed);
        }
        if pair.mate.circles_mm.is_none() {
            let y = pair.pitch_point[1];
            let ends = [[-self.reach, y], [self.reach, y]];
            self.stroke(
                svg,
                "pitch-line",
                ends,
                0.02,
                Some("0.5 0.1 0.05 0.1"),
                Tone::Ink,
            );
        }
        self.stroke(
            svg,
            "line-of-action",
            pair.line_of_action,
            0.03,
            Some("0.25 0.12"),
            Tone::Ink,
        );
        if let Some(contact) = pair.contact {
            self.stroke(svg, "contact", contact, 0.09, None, Tone::Ink);
            for end in contact {
                self.dot(svg, end, 0.14);
            }
        }
        self.dot(svg, pair.pitch_point, 0.07);
        self.words(svg, report);
    }

    /// A length in modules as it is written.
    fn modules(&self, number: f64) -> String {
        decimal(number * self.module, 4)
    }

    fn body(&self, svg: &mut String, class: &str, placed: &Placed, near: Point) {
        let [cx, cy] = self.placing.at(placed.origin);
        svg.push_str(&format!(
            "<g class=\"{class}\" data-cx=\"{}\" data-cy=\"{}\" data-tooth-rad=\"{}\" data-tooth-mm=\"{}\">\n",
            decimal(cx, 6),
            decimal(cy, 6),
            // Downward y turns the other way.
            decimal(-placed.tooth_rad, 12),
            decimal(placed.tooth_mm, 9)
        ));
        let in_place = Placing {
            origin: [cx, cy],
            ..self.placing
        };
        let data = if placed.tooth_rad == 0.0 {
            path(&placed.outline.curves, OFF * self.module, in_place, true)
        } else {
            self.sector(placed, in_place, near)
        };
        let (ink, paper) = (self.sheet.tone(Tone::Ink), self.sheet.tone(Tone::Paper));
        // A gear is drawn in its own axes: what turns it into its place stands inside, so that the group may be turned about the same centre.
        let turn = decimal(-placed.turned_rad.to_degrees(), 9);
        let (x, y) = (decimal(cx, 6), decimal(cy, 6));
        svg.push_str(&format!(
            "<path d=\"{data}\" transform=\"rotate({turn} {x} {y})\" fill=\"{paper}\" fill-opacity=\"0.6\" stroke=\"{ink}\" stroke-width=\"{}\" stroke-linejoin=\"round\"/>\n</g>\n",
            self.modules(0.045)
        ));
    }

    /// The teeth of a gear that come into the view, or all where they are few, closed through the centre.
    fn sector(&self, placed: &Placed, in_place: Placing, near: Point) -> String {
        let off = OFF * self.module;
        let pitch = placed.tooth_rad.abs();
        let tip = placed.circles_mm.map_or(0.0, |circles| circles[0]);
        let half = (self.reach / 2.0 / tip.max(self.module)).min(1.0).asin() + SPARE * pitch;
        let all = half >= std::f64::consts::FRAC_PI_2;
        if all {
            return path(&placed.outline.curves, off, in_place, true);
        }
        // The pitch point's angle in the gear's own axes.
        let (dx, dy) = (near[0] - placed.origin[0], near[1] - placed.origin[1]);
        let towards = dy.atan2(dx) - placed.turned_rad;
        let near = |curve: &Curve| {
            let [x, y] = curve.at(0.5);
            let angle = y.atan2(x) - towards;
            let (sin, cos) = angle.sin_cos();
            sin.atan2(cos)
        };
        let mut seen: Vec<(f64, Curve)> = placed
            .outline
            .curves
            .iter()
            .map(|curve| (near(curve), *curve))
            .filter(|(angle, _)| angle.abs() <= half)
            .collect();
        seen.sort_by(|a, b| a.0.total_cmp(&b.0));
        let curves: Vec<Curve> = seen.into_iter().map(|(_, curve)| curve).collect();
        let open = path(&curves, off, in_place, false);
        let [x, y] = in_place.origin;
        format!("{open}L{} {}Z", decimal(x, 4), decimal(y, 4))
    }

    fn circles(&self, svg: &mut String, placed: &Placed) {
        let Some([tip, pitch, base, _]) = placed.circles_mm else {
            return;
        };
        let [cx, cy] = self.placing.at(placed.origin).map(|v| decimal(v, 4));
        for (class, radius, dashes) in [
            ("tip-circle", tip, "0.12 0.12"),
            ("pitch-circle", pitch, "0.5 0.1 0.05 0.1"),
            ("base-circle", base, "0.25 0.12"),
        ] {
            svg.push_str(&format!(
                "<circle class=\"{class}\" cx=\"{cx}\" cy=\"{cy}\" r=\"{}\" fill=\"none\" stroke=\"{}\" stroke-width=\"{}\" stroke-dasharray=\"{}\"/>\n",
                decimal(radius, 4),
                self.sheet.tone(Tone::Rule),
                self.modules(0.025),
                self.dashes(dashes)
            ));
        }
    }

    fn dashes(&self, modules: &str) -> String {
        let long = modules.split(' ').filter_map(|dash| dash.parse().ok());
        let long: Vec<String> = long.map(|dash: f64| self.modules(dash)).collect();
        long.join(" ")
    }

    fn stroke(
        &self,
        svg: &mut String,
        class: &str,
        ends: [Point; 2],
        width: f64,
        dashes: Option<&str>,
        tone: Tone,
    ) {
        let [[x0, y0], [x1, y1]] = ends.map(|end| self.placing.at(end).map(|v| decimal(v, 4)));
        let dashes = dashes.map_or_else(String::new, |dashes| {
            format!(" stroke-dasharray=\"{}\"", self.dashes(dashes))
        });
        svg.push_str(&format!(
            "<path class=\"{class}\" d=\"M{x0} {y0}L{x1} {y1}\" fill=\"none\" stroke=\"{}\" stroke-width=\"{}\"{dashes}/>\n",
            self.sheet.tone(tone),
            self.modules(width)
        ));
    }

    fn dot(&self, svg: &mut String, place: Point, radius: f64) {
        let [x, y] = self.placing.at(place).map(|v| decimal(v, 4));
        svg.push_str(&format!(
            "<circle cx=\"{x}\" cy=\"{y}\" r=\"{}\"/>\n",
            self.modules(radius)
        ));
    }

    /// What the lines mean, in the corner.
    fn words(&self, svg: &mut String, report: &Report) {
        let lines = [
            format!("contact ratio {:.2}", report.contact_ratio),
            format!(
                "apart {:.3} mm, backlash {:.3} mm",
                report.apart_mm, report.backlash_mm
            ),
            "thick: where flanks touch, on the line of action".to_owned(),
            "dashes: base circle; chain: pitch circle; dots: tips".to_owned(),
        ];
        for (n, words) in lines.iter().enumerate() {
            svg.push_str(&format!(
                "<text x=\"{}\" y=\"{}\" font-size=\"{}\">{}</text>\n",
                self.modules(0.25),
                self.modules(VIEW[1] - 1.65 + 0.48 * n as f64),
                self.modules(0.36),
                escape(words)
            ));
        }
    }
}
