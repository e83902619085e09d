//! The part as a solid in STEP (ISO 10303-21, AP214), for milling and printing.
//!
//! A closed shell: flat bottom and top, and a side for every edge: planes, cylinders, and where the edge is an involute or a root's trochoid the surface
//! that its B-spline sweeps. Nothing is broken into facets. A flank and its root stay two faces although they join without a kink: in one spline their
//! parameters would run so unevenly that common readers reckon the solid's volume wrong by half a hundredth.

use std::collections::BTreeMap;

use fettle_measure::gear::part::Part;
use fettle_measure::gear::{Curve, Outline, Point};

use super::decimal;
use super::spline::Spline;

/// How far a spline may be off its curve.
const SPLINE_OFF_MM: f64 = 2e-4;
/// Coordinates are written this finely.
const PLACES: usize = 7;
/// Directions and knots.
const FINE_PLACES: usize = 12;
/// No file holds the time at which it was made.
const NO_TIME: &str = "2000-01-01T00:00:00";

/// The part as a solid, bottom at height 0; `name` is the product's.
#[must_use]
pub fn step(part: &Part, name: &str) -> String {
    let mut step = Step::default();
    let name = text(name);
    let solid = solid(&mut step, part);
    product(&mut step, &name, solid);
    format!(
        "ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION(({}),'2;1');\nFILE_NAME({name},'{NO_TIME}',(''),(''),'fettle','fettle','');\n\
         FILE_SCHEMA(('AUTOMOTIVE_DESIGN {{ 1 0 10303 214 1 1 1 1 }}'));\nENDSEC;\nDATA;\n{}ENDSEC;\nEND-ISO-10303-21;\n",
        text(&super::name(part)),
        step.lines
    )
}

fn product(step: &mut Step, name: &str, solid: u32) {
    let context =
        step.put("APPLICATION_CONTEXT('core data for automotive mechanical design processes')");
    step.put(&format!(
        "APPLICATION_PROTOCOL_DEFINITION('international standard','automotive_design',2000,#{context})"
    ));
    let of = step.put(&format!("PRODUCT_CONTEXT('',#{context},'mechanical')"));
    let product = step.put(&format!("PRODUCT({name},{name},'',(#{of}))"));
    step.put(&format!(
        "PRODUCT_RELATED_PRODUCT_CATEGORY('part',$,(#{product}))"
    ));
    let formation = step.put(&format!("PRODUCT_DEFINITION_FORMATION('','',#{product})"));
    let of = step.put(&format!(
        "PRODUCT_DEFINITION_CONTEXT('part definition',#{context},'design')"
    ));
    let definition = step.put(&format!(
        "PRODUCT_DEFINITION('design','',#{formation},#{of})"
    ));
    let shape = step.put(&format!("PRODUCT_DEFINITION_SHAPE('','',#{definition})"));
    let length = step.put("(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT(.MILLI.,.METRE.))");
    let angle = step.put("(NAMED_UNIT(*)PLANE_ANGLE_UNIT()SI_UNIT($,.RADIAN.))");
    let solid_angle = step.put("(NAMED_UNIT(*)SI_UNIT($,.STERADIAN.)SOLID_ANGLE_UNIT())");
    let within = step.put(&format!(
        "UNCERTAINTY_MEASURE_WITH_UNIT(LENGTH_MEASURE(1.E-6),#{length},'distance_accuracy_value','')"
    ));
    let units = step.put(&format!(
        "(GEOMETRIC_REPRESENTATION_CONTEXT(3)GLOBAL_UNCERTAINTY_ASSIGNED_CONTEXT((#{within}))\
         GLOBAL_UNIT_ASSIGNED_CONTEXT((#{length},#{angle},#{solid_angle}))REPRESENTATION_CONTEXT('',''))"
    ));
    let axes = step.axes([0.0; 3], [0.0, 0.0, 1.0], [1.0, 0.0, 0.0]);
    let representation = step.put(&format!(
        "ADVANCED_BREP_SHAPE_REPRESENTATION('',(#{axes},#{solid}),#{units})"
    ));
    step.put(&format!(
        "SHAPE_DEFINITION_REPRESENTATION(#{shape},#{representation})"
    ));
}

fn solid(step: &mut Step, part: &Part) -> u32 {
    let height = part.thickness_mm;
    let inner = part.inner.iter().map(|opening| &opening.outline);
    let walls: Vec<Wall> = std::iter::once(&part.outer)
        .chain(inner)
        .map(|outline| wall(step, outline, height))
        .collect();
    let mut faces: Vec<u32> = walls
        .iter()
        .flat_map(|wall| wall.faces.iter().copied())
        .collect();
    faces.push(end(step, &walls, |wall| &wall.bottom, 0.0, false));
    faces.push(end(step, &walls, |wall| &wall.top, height, true));
    let shell = step.put(&format!("CLOSED_SHELL('',({}))", list(&faces)));
    step.put(&format!("MANIFOLD_SOLID_BREP('',#{shell})"))
}

/// Bottom or top: the first wall bounds it, the others are openings.
fn end(
    step: &mut Step,
    walls: &[Wall],
    edges: fn(&Wall) -> &Vec<u32>,
    z: f64,
    is_top: bool,
) -> u32 {
    let mut bounds = Vec::new();
    for (n, wall) in walls.iter().enumerate() {
        let mut edges: Vec<(u32, bool)> = edges(wall).iter().map(|edge| (*edge, is_top)).collect();
        if !is_top {
            edges.reverse();
        }
        bounds.push(step.bound(n == 0, &edges));
    }
    let up = if is_top { 1.0 } else { -1.0 };
    let axes = step.axes([0.0, 0.0, z], [0.0, 0.0, up], [1.0, 0.0, 0.0]);
    let plane = step.put(&format!("PLANE('',#{axes})"));
    step.put(&format!(
        "ADVANCED_FACE('',({}),#{plane},.T.)",
        list(&bounds)
    ))
}

/// The faces over one outline, and its edges at bottom and top in the outline's order.
struct Wall {
    faces: Vec<u32>,
    bottom: Vec<u32>,
    top: Vec<u32>,
}

fn wall(step: &mut Step, outline: &Outline, height: f64) -> Wall {
    let sides = sides(outline);
    let levels = [0.0, height];
    let up = step.vector([0.0, 0.0, 1.0]);
    let posts: Vec<Post> = sides
        .iter()
        .map(|side| {
            let points = levels.map(|z| step.point(side.from(), z));
            let corners = points.map(|point| step.put(&format!("VERTEX_POINT('',#{point})")));
            let line = step.put(&format!("LINE('',#{},#{up})", points[0]));
            let edge = step.edge(corners, line, true);
            Post { corners, edge }
        })
        .collect();
    let mut wall = Wall {
        faces: Vec::new(),
        bottom: Vec::new(),
        top: Vec::new(),
    };
    let next = posts.iter().cycle().skip(1);
    for ((side, from), to) in sides.iter().zip(&posts).zip(next) {
        let forward = side.is_forward();
        let curves = levels.map(|z| side.curve(step, z));
        let bottom = step.edge([from.corners[0], to.corners[0]], curves[0], forward);
        let top = step.edge([from.corners[1], to.corners[1]], curves[1], forward);
        let bound = step.bound(
            true,
            &[
                (bottom, true),
                (to.edge, true),
                (top, false),
                (from.edge, false),
            ],
        );
        let surface = side.surface(step, curves[0], up);
        wall.faces.push(step.put(&format!(
            "ADVANCED_FACE('',(#{bound}),#{surface},{})",
            flag(forward)
        )));
        wall.bottom.push(bottom);
        wall.top.push(top);
    }
    wall
}

/// An upright edge with its ends.
struct Post {
    corners: [u32; 2],
    edge: u32,
}

/// One edge of an outline as the format knows it.
enum Side {
    Line {
        from: Point,
        to: Point,
    },
    Arc {
        centre: Point,
        radius: f64,
        from: Point,
        against_clock: bool,
    },
    Spline(Spline),
}

fn sides(outline: &Outline) -> Vec<Side> {
    let side = |curve: &Curve| match *curve {
        Curve::Line { from, to } => Some(Side::Line { from, to }),
        Curve::Arc {
            centre,
            radius_mm,
            from_rad,
            to_rad,
        } => Some(Side::Arc {
            centre,
            radius: radius_mm,
            from: curve.at(0.0),
            against_clock: to_rad > from_rad,
        }),
        _ => Spline::joined(&curve.cubics(SPLINE_OFF_MM)).map(Side::Spline),
    };
    outline.curves.iter().filter_map(side).collect()
}

impl Side {
    fn from(&self) -> Point {
        match self {
            Self::Line { from, .. } | Self::Arc { from, .. } => *from,
            Self::Spline(spline) => spline.from(),
        }
    }

    /// Whether the curve runs as the outline does, and the surface's normal points out of the material: a circle runs against the clock, and its
    /// cylinder's normal outwards.
    const fn is_forward(&self) -> bool {
        match self {
            Self::Line { .. } | Self::Spline(_) => true,
            Self::Arc { against_clock, .. } => *against_clock,
        }
    }

    fn curve(&self, step: &mut Step, z: f64) -> u32 {
        match self {
            Self::Line { from, to } => {
                let point = step.point(*from, z);
                let [x, y] = along(*from, *to);
                let vector = step.vector([x, y, 0.0]);
                step.once(&format!("LINE('',#{point},#{vector})"))
            }
            Self::Arc { centre, radius, .. } => {
                let [x, y] = *centre;
                let axes = step.axes([x, y, z], [0.0, 0.0, 1.0], [1.0, 0.0, 0.0]);
                step.once(&format!("CIRCLE('',#{axes},{})", real(*radius, PLACES)))
            }
            Self::Spline(spline) => {
                let points: Vec<u32> = spline.points.iter().map(|p| step.point(*p, z)).collect();
                let last = spline.knots.len().saturating_sub(1);
                let times: Vec<&str> = (0..=last)
                    .map(|n| if n == 0 || n == last { "4" } else { "2" })
                    .collect();
                let knots: Vec<String> = spline
                    .knots
                    .iter()
                    .map(|knot| real(*knot, FINE_PLACES))
                    .collect();
                step.put(&format!(
                    "B_SPLINE_CURVE_WITH_KNOTS('',3,({}),.UNSPECIFIED.,.F.,.F.,({}),({}),.UNSPECIFIED.)",
                    list(&points),
                    times.join(","),
                    knots.join(",")
                ))
            }
        }
    }

    fn surface(&self, step: &mut Step, curve: u32, up: u32) -> u32 {
        match self {
            Self::Line { from, to } => {
                let [x, y] = along(*from, *to);
                // The material lies to the left.
                let axes = step.axes([from[0], from[1], 0.0], [y, -x, 0.0], [x, y, 0.0]);
                step.put(&format!("PLANE('',#{axes})"))
            }
            Self::Arc { centre, radius, .. } => {
                let axes = step.axes(
                    [centre[0], centre[1], 0.0],
                    [0.0, 0.0, 1.0],
                    [1.0, 0.0, 0.0],
                );
                step.once(&format!(
                    "CYLINDRICAL_SURFACE('',#{axes},{})",
                    real(*radius, PLACES)
                ))
            }
            Self::Spline(_) => step.put(&format!("SURFACE_OF_LINEAR_EXTRUSION('',#{curve},#{up})")),
        }
    }
}

fn along(from: Point, to: Point) -> Point {
    let (x, y) = (to[0] - from[0], to[1] - from[1]);
    let long = x.hypot(y);
    [x / long, y / long]
}

/// Writes entities, numbered from 1.
#[derive(Default)]
struct Step {
    lines: String,
    last: u32,
    known: BTreeMap<String, u32>,
}

impl Step {
    fn put(&mut self, entity: &str) -> u32 {
        self.last += 1;
        self.lines.push_str(&format!("#{}={entity};\n", self.last));
        self.last
    }

    /// The same entity as before, where there was one.
    fn once(&mut self, entity: &str) -> u32 {
        if let Some(known) = self.known.get(entity) {
            return *known;
        }
        let id = self.put(entity);
        self.known.insert(entity.to_owned(), id);
        id
    }

    fn point(&mut self, [x, y]: Point, z: f64) -> u32 {
        self.place([x, y, z])
    }

    fn place(&mut self, place: [f64; 3]) -> u32 {
        self.once(&format!("CARTESIAN_POINT('',({}))", reals(place, PLACES)))
    }

    fn direction(&mut self, direction: [f64; 3]) -> u32 {
        self.once(&format!(
            "DIRECTION('',({}))",
            reals(direction, FINE_PLACES)
        ))
    }

    fn vector(&mut self, direction: [f64; 3]) -> u32 {
        let direction = self.direction(direction);
        self.once(&format!("VECTOR('',#{direction},1.)"))
    }

    fn axes(&mut self, place: [f64; 3], axis: [f64; 3], side: [f64; 3]) -> u32 {
        let place = self.place(place);
        let (axis, side) = (self.direction(axis), self.direction(side));
        self.once(&format!("AXIS2_PLACEMENT_3D('',#{place},#{axis},#{side})"))
    }

    fn edge(&mut self, corners: [u32; 2], curve: u32, forward: bool) -> u32 {
        let [from, to] = corners;
        self.put(&format!(
            "EDGE_CURVE('',#{from},#{to},#{curve},{})",
            flag(forward)
        ))
    }

    fn bound(&mut self, is_outer: bool, edges: &[(u32, bool)]) -> u32 {
        let edges: Vec<u32> = edges
            .iter()
            .map(|(edge, forward)| {
                self.put(&format!("ORIENTED_EDGE('',*,*,#{edge},{})", flag(*forward)))
            })
            .collect();
        let edge_loop = self.put(&format!("EDGE_LOOP('',({}))", list(&edges)));
        let kind = if is_outer {
            "FACE_OUTER_BOUND"
        } else {
            "FACE_BOUND"
        };
        self.put(&format!("{kind}('',#{edge_loop},.T.)"))
    }
}

const fn flag(is: bool) -> &'static str {
    if is { ".T." } else { ".F." }
}

fn list(ids: &[u32]) -> String {
    let ids: Vec<String> = ids.iter().map(|id| format!("#{id}")).collect();
    ids.join(",")
}

fn reals(values: [f64; 3], places: usize) -> String {
    values.map(|value| real(value, places)).join(",")
}

/// A real number, which the format wants with a point.
fn real(value: f64, places: usize) -> String {
    let text = decimal(value, places);
    if text.contains('.') { text } else { text + "." }
}

/// A string: quotes and strokes doubled, what is not ASCII by its code point.
fn text(words: &str) -> String {
    let mut text = String::from("'");
    for c in words.chars() {
        match c {
            '\'' => text.push_str("''"),
            '\\' => text.push_str("\\\\"),
            ' '..='~' => text.push(c),
            _ if c.is_control() => text.push(' '),
            _ => text.push_str(&format!("\\X4\\{:08X}\\X0\\", u32::from(c))),
        }
    }
    text.push('\'');
    text
}
