//! The forms of fasteners in their usual proportions, in millimetres.

use crate::fastener::FastenerKind;
use crate::svg::{Point, at};

/// The form of a screw's head.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ScrewHead {
    /// Flat top, straight sides, slotted.
    Cheese,
    /// Flush, a cone below.
    Countersunk,
    /// Low, with rounded edges.
    Pan,
    /// Half a ball.
    Round,
    /// A hexagon.
    Hexagon,
    /// A flat head with two holes.
    FaceSpanner,
    /// No head: a slot in the thread's end.
    Headless,
}

/// The form of a nut.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum NutForm {
    /// A hexagon.
    Hexagon,
    /// Round, a slot across it.
    Slotted,
    /// Round, two holes.
    FaceSpanner,
}

impl ScrewHead {
    pub(crate) fn noun(self, one: bool) -> &'static str {
        match (self, one) {
            (Self::Cheese, true) => "cheese-head screw",
            (Self::Cheese, false) => "cheese-head screws",
            (Self::Countersunk, true) => "countersunk screw",
            (Self::Countersunk, false) => "countersunk screws",
            (Self::Pan, true) => "pan-head screw",
            (Self::Pan, false) => "pan-head screws",
            (Self::Round, true) => "round-head screw",
            (Self::Round, false) => "round-head screws",
            (Self::Hexagon, true) => "hexagon-head screw",
            (Self::Hexagon, false) => "hexagon-head screws",
            (Self::FaceSpanner, true) => "face-spanner screw",
            (Self::FaceSpanner, false) => "face-spanner screws",
            (Self::Headless, true) => "headless screw",
            (Self::Headless, false) => "headless screws",
        }
    }

    /// Width and height of the head in thread diameters.
    const fn proportions(self) -> (f64, f64) {
        match self {
            Self::Cheese => (1.9, 0.65),
            Self::Countersunk => (1.9, 0.45),
            Self::Pan => (2.0, 0.6),
            Self::Round => (1.8, 0.75),
            Self::Hexagon => (2.0, 0.7),
            Self::FaceSpanner => (2.2, 0.5),
            Self::Headless => (1.0, 0.0),
        }
    }
}

impl NutForm {
    pub(crate) fn noun(self, one: bool) -> &'static str {
        match (self, one) {
            (Self::Hexagon, true) => "hexagon nut",
            (Self::Hexagon, false) => "hexagon nuts",
            (Self::Slotted, true) => "slotted nut",
            (Self::Slotted, false) => "slotted nuts",
            (Self::FaceSpanner, true) => "face-spanner nut",
            (Self::FaceSpanner, false) => "face-spanner nuts",
        }
    }
}

/// A piece of a view; x along the axis in a side view, the origin on the axis.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum FormPart {
    Outline(Vec<Point>),
    Thin(Vec<Point>),
    Circle(Point, f64),
    Hole(Point, f64),
}

/// One fastener's sizes in millimetres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Form {
    kind: FastenerKind,
    thread: f64,
    head_width: f64,
    head_height: f64,
    /// From under the head to the tip.
    shank: f64,
}

impl Form {
    /// Without a length a screw is drawn three diameters long.
    pub(crate) fn new(kind: FastenerKind, thread: f64, length: Option<f64>) -> Self {
        let usual = length.unwrap_or(3.0 * thread);
        let (head_width, head_height, shank) = match kind {
            FastenerKind::Screw(head) => {
                let (width, height) = head.proportions();
                let height = height * thread;
                let shank = if head == ScrewHead::Countersunk {
                    (usual - height).max(0.0)
                } else {
                    usual
                };
                (width * thread, height, shank)
            }
            FastenerKind::Nut(_) => (2.0 * thread, length.unwrap_or(0.8 * thread), 0.0),
            FastenerKind::Ring => (thread, length.unwrap_or((0.12 * thread).max(1.0)), 0.0),
            FastenerKind::Pin => (thread, 0.0, usual),
        };
        Self {
            kind,
            thread,
            head_width,
            head_height,
            shank,
        }
    }

    /// Height of both views.
    pub(crate) fn end_mm(&self) -> f64 {
        match self.kind {
            FastenerKind::Screw(ScrewHead::Hexagon) | FastenerKind::Nut(NutForm::Hexagon) => {
                self.across_corners()
            }
            _ => self.head_width,
        }
    }

    /// Width of the side view.
    pub(crate) fn side_mm(&self) -> f64 {
        self.head_height + self.shank
    }

    /// Whether a length is needed to draw it to scale.
    pub(crate) fn has_length(&self) -> bool {
        self.shank > 0.0
    }

    /// Where the written length is measured from, along the side view.
    pub(crate) fn length_from_mm(&self) -> f64 {
        match self.kind {
            FastenerKind::Screw(ScrewHead::Countersunk)
            | FastenerKind::Nut(_)
            | FastenerKind::Ring => 0.0,
            FastenerKind::Screw(_) | FastenerKind::Pin => self.head_height,
        }
    }

    fn across_corners(&self) -> f64 {
        self.head_width * 2.0 / 3f64.sqrt()
    }

    pub(crate) fn end_view(&self) -> Vec<FormPart> {
        let r = self.head_width / 2.0;
        let centre = at(0.0, 0.0);
        let disc = FormPart::Circle(centre, r);
        match self.kind {
            FastenerKind::Screw(ScrewHead::Hexagon) => vec![self.hexagon()],
            FastenerKind::Screw(ScrewHead::FaceSpanner) => {
                vec![disc, hole(-0.58 * r, 0.14 * r), hole(0.58 * r, 0.14 * r)]
            }
            FastenerKind::Screw(_) => vec![disc, self.slot(r)],
            FastenerKind::Nut(form) => {
                let bore = FormPart::Circle(centre, self.thread / 2.0);
                match form {
                    NutForm::Hexagon => vec![self.hexagon(), bore],
                    NutForm::Slotted => vec![disc, self.slot(r), bore],
                    NutForm::FaceSpanner => {
                        vec![
                            disc,
                            bore,
                            hole(-0.76 * r, 0.12 * r),
                            hole(0.76 * r, 0.12 * r),
                        ]
                    }
                }
            }
            FastenerKind::Ring => {
                let inner = 0.84 * r;
                let notch = |side: f64| {
                    let (near, far) = (side * inner, side * (inner + 0.08 * self.head_width));
                    let half = 0.05 * r;
                    FormPart::Outline(vec![
                        at(near, -half),
                        at(far, -half),
                        at(far, half),
                        at(near, half),
                    ])
                };
                vec![
                    disc,
                    notch(-1.0),
                    notch(1.0),
                    FormPart::Circle(centre, inner),
                ]
            }
            FastenerKind::Pin => vec![disc],
        }
    }

    pub(crate) fn side_view(&self) -> Vec<FormPart> {
        let mut parts = Vec::new();
        let (k, w) = (self.head_height, self.head_width / 2.0);
        let d = self.thread / 2.0;
        let end = k + self.shank;
        if self.shank > 0.0 {
            let chamfer = (0.12 * self.thread).min(self.shank / 2.0);
            let tip = if self.kind == FastenerKind::Pin {
                d - chamfer / 2.0
            } else {
                d - chamfer
            };
            parts.push(FormPart::Outline(vec![
                at(k, -d),
                at(end - chamfer, -d),
                at(end, -tip),
                at(end, tip),
                at(end - chamfer, d),
                at(k, d),
            ]));
            if self.kind != FastenerKind::Pin {
                // The thread's root, thin, as ISO 6410-1 shows it.
                for root in [-0.8 * d, 0.8 * d] {
                    parts.push(FormPart::Thin(vec![at(k, root), at(end - chamfer, root)]));
                }
            }
        }
        match self.kind {
            FastenerKind::Screw(ScrewHead::Headless) => {
                let depth = (0.3 * self.thread).min(self.shank / 2.0);
                let half = 0.09 * self.thread;
                parts.push(FormPart::Thin(vec![
                    at(0.0, -half),
                    at(depth, -half),
                    at(depth, half),
                    at(0.0, half),
                ]));
            }
            FastenerKind::Screw(ScrewHead::Countersunk) => {
                parts.push(FormPart::Outline(vec![
                    at(0.0, -w),
                    at(k, -d),
                    at(k, d),
                    at(0.0, w),
                ]));
            }
            FastenerKind::Screw(ScrewHead::Round) => parts.push(dome(k, w, 90.0)),
            FastenerKind::Screw(ScrewHead::Pan) => parts.push(rounded(k, w, 0.5 * k)),
            FastenerKind::Screw(ScrewHead::Hexagon) | FastenerKind::Nut(NutForm::Hexagon) => {
                let corner = self.across_corners() / 2.0;
                parts.push(block(k, corner));
                for edge in [-corner / 2.0, corner / 2.0] {
                    parts.push(FormPart::Thin(vec![at(0.0, edge), at(k, edge)]));
                }
            }
            FastenerKind::Screw(ScrewHead::Cheese | ScrewHead::FaceSpanner)
            | FastenerKind::Nut(_)
            | FastenerKind::Ring => parts.push(block(k, w)),
            FastenerKind::Pin => {}
        }
        parts
    }

    fn hexagon(&self) -> FormPart {
        let r = self.across_corners() / 2.0;
        let corner = |i: i32| {
            let angle = f64::from(60 * i + 90).to_radians();
            at(r * angle.cos(), r * angle.sin())
        };
        FormPart::Outline((0..6).map(corner).collect())
    }

    fn slot(&self, r: f64) -> FormPart {
        let half = 0.13 * self.thread;
        let reach = (r * r - half * half).max(0.0).sqrt();
        FormPart::Outline(vec![
            at(-reach, -half),
            at(reach, -half),
            at(reach, half),
            at(-reach, half),
        ])
    }
}

fn hole(x: f64, r: f64) -> FormPart {
    FormPart::Hole(at(x, 0.0), r)
}

fn block(length: f64, half: f64) -> FormPart {
    FormPart::Outline(vec![
        at(0.0, -half),
        at(length, -half),
        at(length, half),
        at(0.0, half),
    ])
}

/// A head whose top is an arc from edge to edge.
fn dome(length: f64, half: f64, degrees: f64) -> FormPart {
    let points = (-12..=12).map(|i| {
        let angle = (degrees * f64::from(i) / 12.0).to_radians();
        at(length * (1.0 - angle.cos()), half * angle.sin())
    });
    FormPart::Outline(points.collect())
}

/// A head with the corners of its top rounded.
fn rounded(length: f64, half: f64, radius: f64) -> FormPart {
    let r = radius.min(length).min(half);
    let corner = |side: f64, i: i32| {
        let angle = f64::from(15 * i).to_radians();
        at(r * (1.0 - angle.cos()), side * (half - r + r * angle.sin()))
    };
    let mut points = vec![at(length, -half)];
    points.extend((0..=6).rev().map(|i| corner(-1.0, i)));
    points.extend((0..=6).map(|i| corner(1.0, i)));
    points.push(at(length, half));
    FormPart::Outline(points)
}
