//! A sheet of light, filled shape by shape.

use super::paint::noise;
use super::shape::Shape;

/// Light of red, green and blue, 0 to 1.
pub(super) type Light = [f32; 3];

/// Pixels from the upper left corner.
pub(super) struct Canvas {
    width: usize,
    height: usize,
    pixels: Vec<Light>,
}

impl Canvas {
    /// A table top under a lamp: lighter in the middle.
    pub(super) fn new(width: usize, height: usize) -> Self {
        let (w, h) = (width as f32, height as f32);
        let pixels = (0..width * height)
            .map(|n| {
                let (x, y) = ((n % width) as f32 / w - 0.45, (n / width) as f32 / h - 0.35);
                let lamp = 0.80 - 0.42 * (x * x + y * y);
                [0.96 * lamp, 0.95 * lamp, 0.90 * lamp]
            })
            .collect();
        Self {
            width,
            height,
            pixels,
        }
    }

    /// Fills a shape with a paint; edges are smooth over one pixel.
    pub(super) fn fill(&mut self, shape: &Shape, paint: impl Fn(f32, f32) -> Light) {
        self.blend(shape, 1.0, |x, y, distance| {
            let cover = (0.5 - distance).clamp(0.0, 1.0);
            (paint(x, y), cover)
        });
    }

    /// Darkens what lies around a shape, below and to the right, as its shadow does.
    pub(super) fn shadow(&mut self, shape: &Shape, blur: f32, strength: f32) {
        let fallen = shape.moved(0.35 * blur, 0.5 * blur);
        self.blend(&fallen, blur, |_, _, distance| {
            let part = (0.5 - distance / (2.0 * blur)).clamp(0.0, 1.0);
            ([0.05, 0.05, 0.07], strength * part * part)
        });
    }

    fn blend(&mut self, shape: &Shape, margin: f32, paint: impl Fn(f32, f32, f32) -> (Light, f32)) {
        let (left, top, right, bottom) = shape.bounds(margin);
        let range = |from: f32, to: f32, most: usize| {
            (from.max(0.0) as usize).min(most)..(to.max(0.0) as usize + 1).min(most)
        };
        for row in range(top, bottom, self.height) {
            for column in range(left, right, self.width) {
                let (x, y) = (column as f32 + 0.5, row as f32 + 0.5);
                let distance = shape.distance(x, y);
                if distance > margin {
                    continue;
                }
                let (light, cover) = paint(x, y, distance);
                let pixel = &mut self.pixels[row * self.width + column];
                for (under, over) in pixel.iter_mut().zip(light) {
                    *under += cover * (over - *under);
                }
            }
        }
    }

    /// Red, green and blue bytes with a little of the sensor's noise.
    pub(super) fn to_rgb(&self, seed: u64) -> Vec<u8> {
        let mut bytes = Vec::with_capacity(self.pixels.len() * 3);
        for (n, pixel) in self.pixels.iter().enumerate() {
            let grain =
                0.012 * (noise((n % self.width) as i32, (n / self.width) as i32, seed) - 0.5);
            for light in pixel {
                // Display gamma of sRGB, near enough for a drawing.
                let shown = (light + grain).clamp(0.0, 1.0).powf(1.0 / 1.9);
                bytes.push((255.0 * shown) as u8);
            }
        }
        bytes
    }
}
