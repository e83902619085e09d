//! How much of each pixel is covered.
//!
//! The exact area of a polygon in each pixel: every edge adds, row by row, the area to its right in the pixels it crosses; the running sum along
//! the row is the coverage.

/// Covered parts of pixels, 0 to 1.
#[derive(Clone, Debug)]
pub(super) struct Cover {
    width: usize,
    height: usize,
    covered: Vec<f32>,
}

impl Cover {
    pub(super) fn new(width: usize, height: usize) -> Self {
        Self {
            width,
            height,
            covered: vec![0.0; width * height],
        }
    }

    pub(super) fn values(&self) -> &[f32] {
        &self.covered
    }

    /// Covers a closed polygon; where something covers already, the greater counts.
    pub(super) fn add(&mut self, polygon: &[[f64; 2]]) {
        let (low, high) = polygon
            .iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), p| {
                (l.min(p[1]), h.max(p[1]))
            });
        let first = low.floor().max(0.0) as usize;
        let last = (high.ceil().max(0.0) as usize).min(self.height);
        if first >= last {
            return;
        }
        let stride = self.width + 2;
        let mut sums = vec![0.0_f32; stride * (last - first)];
        let next = polygon.iter().cycle().skip(1);
        for (a, b) in polygon.iter().zip(next) {
            self.edge(*a, *b, first, &mut sums);
        }
        for (row, sums) in self
            .covered
            .chunks_exact_mut(self.width)
            .skip(first)
            .zip(sums.chunks_exact(stride))
        {
            let mut sum = 0.0;
            for (pixel, step) in row.iter_mut().zip(sums) {
                sum += step;
                *pixel = pixel.max(sum.abs().min(1.0));
            }
        }
    }

    fn edge(&self, a: [f64; 2], b: [f64; 2], first: usize, sums: &mut [f32]) {
        let (hand, top, bottom) = if a[1] < b[1] {
            (1.0, a, b)
        } else {
            (-1.0, b, a)
        };
        let slope = (bottom[0] - top[0]) / (bottom[1] - top[1]);
        if !slope.is_finite() {
            return;
        }
        let stride = self.width + 2;
        let rows = sums.len() / stride;
        let from = (top[1].floor().max(first as f64)) as usize;
        for y in from..first + rows {
            let (upper, lower) = (top[1].max(y as f64), bottom[1].min(y as f64 + 1.0));
            if lower <= upper {
                break;
            }
            let height = hand * (lower - upper);
            let at = |v: f64| (top[0] + slope * (v - top[1])).clamp(0.0, self.width as f64);
            let (left, right) = {
                let (p, q) = (at(upper), at(lower));
                (p.min(q), p.max(q))
            };
            let row = &mut sums[(y - first) * stride..(y - first + 1) * stride];
            let mut x = left.floor() as usize;
            // Area of the strip to the right of the edge, pixel by pixel, as differences.
            loop {
                let (l, r) = (left.max(x as f64), right.min(x as f64 + 1.0));
                let part = if right > left {
                    (r - l).max(0.0) / (right - left)
                } else {
                    1.0
                };
                let middle = f64::midpoint(l, r.max(l));
                let inside = (x as f64 + 1.0 - middle) * part * height;
                row[x] += inside as f32;
                row[x + 1] += (part * height - inside) as f32;
                x += 1;
                if right <= x as f64 || x > self.width {
                    break;
                }
            }
        }
    }

    /// A round soft spot of a value, the greater counting.
    pub(super) fn blob(&mut self, at: [f64; 2], radius: f64, value: f64) {
        let reach = 2.5 * radius;
        let range = |c: f64, n: usize| {
            let from = (c - reach).floor().max(0.0) as usize;
            let to = ((c + reach).ceil().max(0.0) as usize).min(n);
            from..to
        };
        for y in range(at[1], self.height) {
            for x in range(at[0], self.width) {
                let (dx, dy) = (x as f64 + 0.5 - at[0], y as f64 + 0.5 - at[1]);
                let here = value * (-0.5 * (dx * dx + dy * dy) / (radius * radius)).exp();
                let pixel = &mut self.covered[y * self.width + x];
                *pixel = pixel.max(here as f32);
            }
        }
    }

    pub(super) fn blurred(mut self, sd: f64) -> Vec<f32> {
        self.blur(sd);
        self.covered
    }

    /// Gaussian blur, rows then columns; beyond the edge as at the edge.
    pub(super) fn blur(&mut self, sd: f64) {
        if sd <= 0.0 || self.covered.iter().all(|v| *v == 0.0) {
            return;
        }
        let reach = (4.0 * sd).ceil() as i64;
        let weights: Vec<f32> = {
            let raw: Vec<f64> = (-reach..=reach)
                .map(|i| (-0.5 * (i as f64 / sd).powi(2)).exp())
                .collect();
            let sum: f64 = raw.iter().sum();
            raw.iter().map(|w| (w / sum) as f32).collect()
        };
        let (w, h) = (self.width, self.height);
        let pad = reach as usize;
        let mut line = vec![0.0_f32; w + 2 * pad];
        for row in self.covered.chunks_exact_mut(w) {
            line[pad..pad + w].copy_from_slice(row);
            line[..pad].fill(row[0]);
            line[pad + w..].fill(row[w - 1]);
            for (x, out) in row.iter_mut().enumerate() {
                *out = line[x..].iter().zip(&weights).map(|(v, k)| v * k).sum();
            }
        }
        let source = self.covered.clone();
        for y in 0..h {
            let out = &mut self.covered[y * w..(y + 1) * w];
            out.fill(0.0);
            for (i, k) in weights.iter().enumerate() {
                let from = (y as i64 + i as i64 - reach).clamp(0, h as i64 - 1) as usize;
                for (out, v) in out.iter_mut().zip(&source[from * w..(from + 1) * w]) {
                    *out += v * k;
                }
            }
        }
    }
}
