//! Shapes by their signed distance: negative inside, in pixels.

/// A plane figure.
#[derive(Clone, Copy, Debug)]
pub(super) enum Shape {
    /// A box with rounded corners: centre, half width, half height, radius, turned by an angle.
    Block {
        x: f32,
        y: f32,
        w: f32,
        h: f32,
        r: f32,
        turn: f32,
    },
    /// A disc.
    Disc { x: f32, y: f32, r: f32 },
    /// A ring of this half width.
    Ring { x: f32, y: f32, r: f32, half: f32 },
    /// A toothed wheel.
    Gear {
        x: f32,
        y: f32,
        r: f32,
        teeth: f32,
        depth: f32,
        turn: f32,
    },
    /// A coil spring from one point to another.
    Coil {
        x: f32,
        y: f32,
        long: f32,
        half: f32,
        turn: f32,
    },
}

impl Shape {
    /// An upright box with rounded corners.
    pub(super) const fn block(x: f32, y: f32, w: f32, h: f32, r: f32) -> Self {
        Self::Block {
            x,
            y,
            w,
            h,
            r,
            turn: 0.0,
        }
    }

    /// A disc.
    pub(super) const fn disc(x: f32, y: f32, r: f32) -> Self {
        Self::Disc { x, y, r }
    }

    /// A ring.
    pub(super) const fn ring(x: f32, y: f32, r: f32, half: f32) -> Self {
        Self::Ring { x, y, r, half }
    }

    /// The same figure elsewhere.
    pub(super) fn moved(mut self, dx: f32, dy: f32) -> Self {
        match &mut self {
            Self::Block { x, y, .. }
            | Self::Disc { x, y, .. }
            | Self::Ring { x, y, .. }
            | Self::Gear { x, y, .. }
            | Self::Coil { x, y, .. } => {
                *x += dx;
                *y += dy;
            }
        }
        self
    }

    /// Left, top, right and bottom of all points nearer than `margin`.
    pub(super) fn bounds(&self, margin: f32) -> (f32, f32, f32, f32) {
        let (x, y, w, h) = match *self {
            Self::Block {
                x, y, w, h, turn, ..
            } => {
                let (sin, cos) = (turn.sin().abs(), turn.cos().abs());
                (x, y, w * cos + h * sin, w * sin + h * cos)
            }
            Self::Disc { x, y, r } => (x, y, r, r),
            Self::Ring { x, y, r, half } => (x, y, r + half, r + half),
            Self::Gear { x, y, r, depth, .. } => (x, y, r + depth, r + depth),
            Self::Coil {
                x, y, long, half, ..
            } => (x, y, long + half, long + half),
        };
        (
            x - w - margin,
            y - h - margin,
            x + w + margin,
            y + h + margin,
        )
    }

    /// Signed distance of a point from the edge, near the edge at least.
    pub(super) fn distance(&self, px: f32, py: f32) -> f32 {
        match *self {
            Self::Block {
                x,
                y,
                w,
                h,
                r,
                turn,
            } => {
                let (dx, dy) = turned(px - x, py - y, turn);
                let (ax, ay) = (dx.abs() - w + r, dy.abs() - h + r);
                ax.max(0.0).hypot(ay.max(0.0)) + ax.max(ay).min(0.0) - r
            }
            Self::Disc { x, y, r } => (px - x).hypot(py - y) - r,
            Self::Ring { x, y, r, half } => ((px - x).hypot(py - y) - r).abs() - half,
            Self::Gear {
                x,
                y,
                r,
                teeth,
                depth,
                turn,
            } => {
                let angle = (py - y).atan2(px - x) + turn;
                let tooth = (2.5 * (teeth * angle).sin()).clamp(-1.0, 1.0);
                (px - x).hypot(py - y) - r - 0.5 * depth * tooth
            }
            Self::Coil {
                x,
                y,
                long,
                half,
                turn,
            } => {
                let (along, across) = turned(px - x, py - y, turn);
                let wave = half * (along * 1.1).sin();
                ((across - wave).abs() * 0.6 - 1.2).max(along.abs() - long)
            }
        }
    }
}

fn turned(x: f32, y: f32, turn: f32) -> (f32, f32) {
    let (sin, cos) = turn.sin_cos();
    (x * cos + y * sin, y * cos - x * sin)
}
