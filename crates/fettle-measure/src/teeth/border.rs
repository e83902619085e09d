//! The borders between dark and bright, to a part of a pixel.
//!
//! Pixels darker than half of the local levels are dark. Borders are walked along the cracks between a dark and a bright pixel, the dark one on the
//! right hand; on each crack the border lies where the light between both pixels' middles crosses the half, by straight interpolation.

use super::TeethError;
use super::levels::Levels;
use crate::photograph::Photograph;

/// Cracks, as a part of the pixels, beyond which there are no areas but noise.
const MOST_CRACKS: f64 = 0.06;
/// A border that encloses fewer pixels than this is not kept.
const LEAST_AREA: f64 = 60.0;
/// Cracks over which a tangent is taken, to either side.
const TANGENT: usize = 5;

/// Light within this part of its level is dark, or bright.
const CLEAR: f64 = 0.25;

const DARK: u8 = 1;
const SEEN: u8 = 2;

/// One closed border. Outside the photograph all is bright; cracks at its edge have no point.
#[derive(Clone, Debug, Default)]
pub(super) struct Border {
    /// Where dark meets bright; pixel (0, 0) has its middle at (0.5, 0.5).
    pub(super) points: Vec<[f64; 2]>,
    /// Towards the bright, of length 1.
    pub(super) normals: Vec<[f64; 2]>,
    /// Enclosed pixels, positive round dark, negative round bright.
    pub(super) area: f64,
    /// Cracks that lie on the photograph's edge: left, upper, right, lower.
    pub(super) at_edge: [usize; 4],
}

impl Border {
    /// Where it is dark `reach` pixels inside and bright as far outside: elsewhere oil, shine or dirt lies on the border, or another edge is near.
    pub(super) fn clear(&self, photo: &Photograph, levels: &Levels, reach: f64) -> Vec<bool> {
        self.points
            .iter()
            .zip(&self.normals)
            .map(|(p, n)| {
                let (dark, bright) = levels.at(p[0], p[1]);
                let part = |t: f64| {
                    (photo.between(p[0] + t * n[0], p[1] + t * n[1]) - dark) / (bright - dark)
                };
                part(-reach) < CLEAR && part(reach) > 1.0 - CLEAR
            })
            .collect()
    }
}

/// All borders of a photograph.
#[derive(Clone, Debug)]
pub(super) struct Borders {
    /// The larger ones, largest first.
    pub(super) kept: Vec<Border>,
    /// Dark specks that are too small.
    pub(super) specks: usize,
    /// Pixels between a quarter and three quarters.
    pub(super) grey: f64,
    /// Mean deviation of the dark pixels from their level, over the way to the bright one.
    pub(super) texture: f64,
}

impl Borders {
    /// # Errors
    /// [`TeethError`] for a photograph that is not mostly dark or bright.
    pub(super) fn of(photo: &Photograph, levels: &Levels) -> Result<Self, TeethError> {
        let (width, height) = (photo.width(), photo.height());
        let (mut map, grey, texture) = classed(photo, levels);
        let mut left = (MOST_CRACKS * (width * height) as f64) as usize;
        let mut kept: Vec<Border> = Vec::new();
        let mut specks = 0;
        for start in 0..map.len() {
            let is_top = |map: &[u8], i: usize| {
                map[i] & DARK != 0 && (i < width || map[i - width] & DARK == 0)
            };
            if map[start] & SEEN != 0 || !is_top(&map, start) {
                continue;
            }
            let walk =
                walk(&mut map, width, height, start, &mut left).ok_or(TeethError::NoSilhouette)?;
            if walk.area.abs() < LEAST_AREA {
                specks += usize::from(walk.area > 0.0);
            } else {
                kept.push(measured(photo, levels, &walk));
            }
        }
        kept.sort_by(|a, b| b.area.abs().total_cmp(&a.area.abs()));
        Ok(Self {
            kept,
            specks,
            grey,
            texture,
        })
    }
}

/// Which pixels are dark, what part is neither dark nor bright, and how far the dark ones are off their level.
fn classed(photo: &Photograph, levels: &Levels) -> (Vec<u8>, f64, f64) {
    let (width, height) = (photo.width(), photo.height());
    let mut map = Vec::with_capacity(width * height);
    let (mut dark, mut bright) = (vec![0.0_f32; width], vec![0.0_f32; width]);
    let (mut grey, mut all_dark, mut off) = (0_u64, 0_u64, 0.0_f64);
    for (y, row) in photo.rows().enumerate() {
        levels.along_row(y, &mut dark, &mut bright);
        let (mut row_grey, mut row_dark, mut row_off) = (0_u32, 0_u32, 0.0_f32);
        map.extend(row.iter().zip(dark.iter().zip(&bright)).map(|(v, (d, b))| {
            let (v, span) = (f32::from(*v) - d, (b - d).max(1.0));
            let part = v / span;
            row_grey += u32::from(part > 0.25 && part < 0.75);
            let is_dark = part < 0.5;
            row_dark += u32::from(is_dark);
            row_off += if is_dark { part.abs() } else { 0.0 };
            u8::from(is_dark)
        }));
        grey += u64::from(row_grey);
        all_dark += u64::from(row_dark);
        off += f64::from(row_off);
    }
    let all = (width * height) as f64;
    (map, grey as f64 / all, off / all_dark.max(1) as f64)
}

struct Walk {
    /// The dark pixel's index and the way to the bright one: 0 up, 1 right, 2 down, 3 left.
    cracks: Vec<(u32, u8)>,
    area: f64,
    at_edge: [usize; 4],
    width: usize,
}

/// Walks one border from the upper side of a dark pixel; `None` when the cracks run out.
fn walk(
    map: &mut [u8],
    width: usize,
    height: usize,
    start: usize,
    left: &mut usize,
) -> Option<Walk> {
    // Eastward along the upper side of the dark pixel: headings 0 east, 1 south, 2 west, 3 north.
    let (mut x, mut y, mut heading) = ((start % width) as i64, (start / width) as i64, 0_u8);
    let (x0, y0) = (x, y);
    let mut cracks = Vec::new();
    let mut doubled = 0_i64;
    let mut at_edge = [0; 4];
    let dark = |map: &[u8], x: i64, y: i64| {
        x >= 0
            && y >= 0
            && (x as usize) < width
            && (y as usize) < height
            && map[y as usize * width + x as usize] & DARK != 0
    };
    loop {
        // The dark pixel to the right hand of the crack that begins at the lattice point (x, y).
        let (px, py, dx, dy) = match heading {
            0 => (x, y, 1, 0),
            1 => (x - 1, y, 0, 1),
            2 => (x - 1, y - 1, -1, 0),
            _ => (x, y - 1, 0, -1),
        };
        let index = py as usize * width + px as usize;
        if heading == 0 {
            map[index] |= SEEN;
        }
        *left = left.checked_sub(1)?;
        let on_edge = match heading {
            0 => (py == 0).then_some(1),
            1 => (px == width as i64 - 1).then_some(2),
            2 => (py == height as i64 - 1).then_some(3),
            _ => (px == 0).then_some(0),
        };
        match on_edge {
            Some(side) => at_edge[side] += 1,
            None => cracks.push((index as u32, heading)),
        }
        doubled += x * dy - y * dx;
        x += dx;
        y += dy;
        let (right, front) = match heading {
            0 => ((x, y), (x, y - 1)),
            1 => ((x - 1, y), (x, y)),
            2 => ((x - 1, y - 1), (x - 1, y)),
            _ => ((x, y - 1), (x - 1, y - 1)),
        };
        if !dark(map, right.0, right.1) {
            heading = (heading + 1) % 4;
        } else if dark(map, front.0, front.1) {
            heading = (heading + 3) % 4;
        }
        if (x, y, heading) == (x0, y0, 0) {
            break;
        }
    }
    Some(Walk {
        cracks,
        area: doubled as f64 / 2.0,
        at_edge,
        width,
    })
}

/// The border's points between the pixels' middles.
fn measured(photo: &Photograph, levels: &Levels, walk: &Walk) -> Border {
    let points: Vec<[f64; 2]> = walk
        .cracks
        .iter()
        .map(|&(index, heading)| {
            let (i, j) = (
                (index as usize % walk.width) as i64,
                (index as usize / walk.width) as i64,
            );
            let (dx, dy) = [(0, -1), (1, 0), (0, 1), (-1, 0)][usize::from(heading % 4)];
            let (x, y) = (i as f64 + 0.5, j as f64 + 0.5);
            let (dark, bright) = levels.at(x + 0.5 * dx as f64, y + 0.5 * dy as f64);
            let half = 0.5 * (dark + bright);
            let (from, to) = (
                f64::from(photo.at(i, j)) - half,
                f64::from(photo.at(i + dx, j + dy)) - half,
            );
            let part = if to > from {
                (-from / (to - from)).clamp(0.0, 1.0)
            } else {
                0.5
            };
            [x + part * dx as f64, y + part * dy as f64]
        })
        .collect();
    let count = points.len();
    let normals = (0..count)
        .map(|i| {
            let before = points[(i + count - TANGENT.min(count)) % count];
            let after = points[(i + TANGENT) % count];
            let (dx, dy) = (after[0] - before[0], after[1] - before[1]);
            let length = dx.hypot(dy).max(1e-9);
            [dy / length, -dx / length]
        })
        .collect();
    Border {
        points,
        normals,
        area: walk.area,
        at_edge: walk.at_edge,
    }
}
