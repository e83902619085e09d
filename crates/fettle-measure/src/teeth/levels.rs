//! How bright the ground and how dark the part is, place by place.
//!
//! On the photograph averaged over small cells, a quadratic surface is fitted to the logarithm of the bright cells and a plane to the dark
//! ones, cells being told apart by the surfaces of the round before; what the bright surface leaves is smoothed over sure cells. Half of both
//! is where an edge lies.

use super::TeethError;
use crate::photograph::{Photograph, WHITE};
use crate::spread::Fit;

/// About how many cells the photograph is averaged to.
const CELLS: usize = 60_000;
const ROUNDS: usize = 4;
/// Dark over bright beyond which there is no contrast to measure in.
const MOST_DARK: f64 = 0.45;
/// And nowhere is the dark taken for more of the bright than this.
const MOST_DARK_HERE: f64 = 0.7;
/// Bright light, of white, below which a sensor tells nothing.
const LEAST_BRIGHT: f64 = 0.01;
/// Fewer cells of one kind are no ground and no part.
const LEAST_SHARE: f64 = 0.003;
/// Light of white from which a sensor is at its end.
const AT_END: f64 = 0.985;

/// Levels at the middles of a grid of cells.
#[derive(Clone, Debug)]
pub(super) struct Levels {
    cell: usize,
    columns: usize,
    rows: usize,
    /// In units of the photograph.
    bright: Vec<f32>,
    dark: Vec<f32>,
    /// The brightest place of the ground over its darkest.
    pub(super) unevenness: f64,
    /// Part of the ground that is at the sensor's end.
    pub(super) too_bright: f64,
}

struct Cells {
    size: usize,
    columns: usize,
    rows: usize,
    light: Vec<f32>,
}

impl Cells {
    fn of(photo: &Photograph) -> Self {
        let pixels = photo.width() * photo.height();
        let size = ((pixels / CELLS) as f64).sqrt().ceil().max(2.0) as usize;
        let columns = (photo.width() / size).max(1);
        let rows = (photo.height() / size).max(1);
        let mut sums = vec![0_u32; columns];
        let mut light = Vec::with_capacity(columns * rows);
        let mut taken = 0_usize;
        for (y, row) in photo.rows().enumerate() {
            if y / size >= rows {
                break;
            }
            for (sum, cell) in sums.iter_mut().zip(row.chunks(size)) {
                *sum += cell.iter().map(|v| u32::from(*v)).sum::<u32>();
            }
            taken += 1;
            if taken == size {
                let per = (size * size) as f32;
                light.extend(sums.iter().map(|sum| *sum as f32 / per));
                sums.fill(0);
                taken = 0;
            }
        }
        Self {
            size,
            columns,
            rows: light.len() / columns,
            light,
        }
    }

    /// Place of a cell, both -1 to 1.
    fn place(&self, index: usize) -> (f64, f64) {
        let (i, j) = (index % self.columns, index / self.columns);
        let part = |i: usize, n: usize| (2.0 * i as f64 + 1.0) / n as f64 - 1.0;
        (part(i, self.columns), part(j, self.rows))
    }
}

impl Levels {
    /// # Errors
    /// [`TeethError`] where there are no two levels.
    pub(super) fn of(photo: &Photograph) -> Result<Self, TeethError> {
        let cells = Cells::of(photo);
        let count = cells.light.len();
        let split = halves(&cells.light).ok_or(TeethError::NoSilhouette)?;
        let mut bright = vec![0.0_f64; count];
        let mut dark = vec![0.0_f64; count];
        let mut limit: Vec<f64> = vec![split; count];
        for round in 0..ROUNDS {
            // The first split is rough: later ones take only cells that are surely of a kind.
            let sure = if round == 0 { 0.0 } else { 0.5 };
            let (over, under): (Vec<f64>, Vec<f64>) = (0..count)
                .map(|i| {
                    (
                        limit[i] + sure * (bright[i] - limit[i]),
                        limit[i] - sure * (limit[i] - dark[i]),
                    )
                })
                .unzip();
            let is_bright = |i: usize| f64::from(cells.light[i]) > over[i];
            let is_dark = |i: usize| f64::from(cells.light[i]) < under[i];
            surface(&cells, is_bright, true, &mut bright)?;
            surface(&cells, is_dark, false, &mut dark)?;
            for i in 0..count {
                dark[i] = dark[i].clamp(0.0, MOST_DARK_HERE * bright[i]);
                limit[i] = 0.5 * (bright[i] + dark[i]);
            }
        }
        smooth_rest(&cells, &limit, &mut bright);
        let mean = |of: &[f64]| of.iter().sum::<f64>() / count as f64;
        let (mean_bright, mean_dark) = (mean(&bright), mean(&dark));
        if mean_bright < LEAST_BRIGHT * f64::from(WHITE) || mean_dark > MOST_DARK * mean_bright {
            return Err(TeethError::LowContrast {
                ratio: mean_dark / mean_bright.max(1.0),
            });
        }
        let ground = || (0..count).filter(|i| f64::from(cells.light[*i]) > 1.3 * limit[*i]);
        let (mut low, mut high, mut at_end, mut all) = (f64::INFINITY, 0.0_f64, 0_u32, 0_u32);
        for i in ground() {
            low = low.min(bright[i]);
            high = high.max(bright[i]);
            all += 1;
            at_end += u32::from(f64::from(cells.light[i]) > AT_END * f64::from(WHITE));
        }
        let whole = |v: &[f64]| v.iter().map(|v| *v as f32).collect();
        Ok(Self {
            cell: cells.size,
            columns: cells.columns,
            rows: cells.rows,
            bright: whole(&bright),
            dark: whole(&dark),
            unevenness: if low > 0.0 { high / low } else { 1.0 },
            too_bright: f64::from(at_end) / f64::from(all.max(1)),
        })
    }

    /// Dark and bright along a row of pixels, written to `dark` and `bright`.
    pub(super) fn along_row(&self, y: usize, dark: &mut [f32], bright: &mut [f32]) {
        let at = (y as f32 + 0.5) / self.cell as f32 - 0.5;
        let top = (at.floor().max(0.0) as usize).min(self.rows - 1);
        let below = (top + 1).min(self.rows - 1);
        let down = (at - top as f32).clamp(0.0, 1.0);
        for (levels, out) in [(&self.dark, dark), (&self.bright, bright)] {
            let row = |j: usize| levels.get(j * self.columns..(j + 1) * self.columns);
            let (Some(upper), Some(lower)) = (row(top), row(below)) else {
                continue;
            };
            let node = |i: usize| upper[i] + (lower[i] - upper[i]) * down;
            let half = self.cell / 2;
            let mut last = node(0);
            let mut x = 0;
            for i in 0..=self.columns {
                let next = if i < self.columns { node(i) } else { last };
                let end = if i < self.columns {
                    i * self.cell + half
                } else {
                    out.len()
                };
                let step = (next - last) / self.cell as f32;
                let mut value = if i == 0 { next } else { last };
                while x < end.min(out.len()) {
                    value += if i == 0 { 0.0 } else { step };
                    out[x] = value;
                    x += 1;
                }
                last = next;
            }
        }
    }

    /// Dark and bright at a place.
    pub(super) fn at(&self, x: f64, y: f64) -> (f64, f64) {
        let place = |v: f64, n: usize| {
            let at = (v / self.cell as f64 - 0.5).clamp(0.0, (n - 1) as f64);
            let low = at.floor();
            (low as usize, (low as usize + 1).min(n - 1), at - low)
        };
        let (left, right, across) = place(x, self.columns);
        let (top, below, down) = place(y, self.rows);
        let of = |levels: &[f32]| {
            let get = |i: usize, j: usize| {
                levels
                    .get(j * self.columns + i)
                    .map_or(0.0, |v| f64::from(*v))
            };
            let upper = get(left, top) + (get(right, top) - get(left, top)) * across;
            let lower = get(left, below) + (get(right, below) - get(left, below)) * across;
            upper + (lower - upper) * down
        };
        (of(&self.dark), of(&self.bright))
    }
}

/// The light that parts the cells into two kinds with the greatest variance between them (Otsu 1979); `None` when all are alike.
fn halves(light: &[f32]) -> Option<f64> {
    const BINS: usize = 512;
    let top = light.iter().copied().fold(0.0, f32::max);
    if top <= 0.0 {
        return None;
    }
    let mut bins = [0_u32; BINS];
    for v in light {
        bins[((v / top * (BINS - 1) as f32) as usize).min(BINS - 1)] += 1;
    }
    let all = light.len() as f64;
    let total: f64 = bins
        .iter()
        .enumerate()
        .map(|(i, n)| i as f64 * f64::from(*n))
        .sum();
    let (mut below, mut sum) = (0.0, 0.0);
    let (mut best, mut from, mut to) = (0.0, 0.0, 0.0);
    for (i, n) in bins.iter().enumerate() {
        below += f64::from(*n);
        sum += i as f64 * f64::from(*n);
        let above = all - below;
        if below == 0.0 || above == 0.0 {
            continue;
        }
        let between = below * above * (sum / below - (total - sum) / above).powi(2);
        if between > best {
            (best, from, to) = (between, i as f64, i as f64);
        } else if between >= best {
            to = i as f64;
        }
    }
    (best > 0.0).then(|| (f64::midpoint(from, to) + 0.5) / (BINS - 1) as f64 * f64::from(top))
}

/// Fits a surface to the cells of one kind and writes it for all: quadratic in the logarithm for the bright ones, a plane for the dark.
fn surface(
    cells: &Cells,
    is_kind: impl Fn(usize) -> bool,
    is_bright: bool,
    out: &mut [f64],
) -> Result<(), TeethError> {
    let members: Vec<usize> = (0..cells.light.len()).filter(|i| is_kind(*i)).collect();
    if (members.len() as f64) < LEAST_SHARE * cells.light.len() as f64 {
        return Err(TeethError::NoSilhouette);
    }
    let step = members.len().div_ceil(3000);
    let row = |i: usize| {
        let (x, y) = cells.place(i);
        if is_bright {
            vec![1.0, x, y, x * x, x * y, y * y]
        } else {
            vec![1.0, x, y]
        }
    };
    let mut used: Vec<usize> = members.iter().step_by(step).copied().collect();
    for _ in 0..2 {
        let rows: Vec<Vec<f64>> = used.iter().map(|i| row(*i)).collect();
        let values: Vec<f64> = used
            .iter()
            .map(|i| {
                let v = f64::from(cells.light[*i]);
                if is_bright { v.max(1.0).ln() } else { v }
            })
            .collect();
        let fit = Fit::new(&rows, &values, &vec![1.0; rows.len()]);
        let Some(fit) = fit else {
            // Cells in one line bear no surface: their mean does.
            let mean = values.iter().sum::<f64>() / values.len() as f64;
            out.fill(if is_bright { mean.exp() } else { mean });
            return Ok(());
        };
        // A plane through a part in the middle says nothing of the corners: never beyond what was seen.
        let (least, most) = values
            .iter()
            .fold((f64::INFINITY, 0.0_f64), |(l, m), v| (l.min(*v), m.max(*v)));
        for (i, v) in out.iter_mut().enumerate() {
            let at = fit.at(&row(i));
            *v = if is_bright {
                at.min(12.0).exp()
            } else {
                at.clamp(least, most)
            };
        }
        // Cells far off are edges, dust or shine.
        let scatter = fit.scatter().unwrap_or(0.0);
        used = used
            .iter()
            .zip(fit.residuals())
            .filter(|(_, r)| r.abs() <= 2.0 * scatter)
            .map(|(i, _)| *i)
            .collect();
        if used.len() < 12 {
            break;
        }
    }
    Ok(())
}

/// What the bright surface leaves in sure cells, smoothed over neighbours, and taken over.
fn smooth_rest(cells: &Cells, limit: &[f64], bright: &mut [f64]) {
    /// Cells far from any sure one keep the surface.
    const PRIOR: f32 = 0.05;
    let is_sure = |i: usize| {
        let v = f64::from(cells.light[i]);
        v > 1.3 * limit[i] && v > 0.8 * bright[i] && v < 1.25 * bright[i]
    };
    let mut weight: Vec<f32> = (0..bright.len())
        .map(|i| if is_sure(i) { 1.0 } else { 0.0 })
        .collect();
    let mut rest: Vec<f32> = (0..bright.len())
        .map(|i| {
            if weight[i] > 0.0 {
                cells.light[i] / bright[i] as f32 - 1.0
            } else {
                0.0
            }
        })
        .collect();
    let radius = (cells.columns.max(cells.rows) / 24).max(2);
    for _ in 0..2 {
        box_blur(&mut weight, cells.columns, cells.rows, radius);
        box_blur(&mut rest, cells.columns, cells.rows, radius);
    }
    for ((bright, rest), weight) in bright.iter_mut().zip(rest).zip(weight) {
        *bright *= f64::from(1.0 + rest / (weight + PRIOR)).clamp(0.5, 2.0);
    }
}

fn box_blur(values: &mut [f32], columns: usize, rows: usize, radius: usize) {
    let mut line = Vec::new();
    let mut run = |start: usize, step: usize, n: usize, values: &mut [f32]| {
        line.clear();
        let mut sum = 0.0_f32;
        line.push(0.0);
        for i in 0..n {
            sum += values[start + i * step];
            line.push(sum);
        }
        for i in 0..n {
            let (a, b) = (i.saturating_sub(radius), (i + radius + 1).min(n));
            values[start + i * step] = (line[b] - line[a]) / (2 * radius + 1) as f32;
        }
    };
    for j in 0..rows {
        run(j * columns, 1, columns, values);
    }
    for i in 0..columns {
        run(i, columns, rows, values);
    }
}
