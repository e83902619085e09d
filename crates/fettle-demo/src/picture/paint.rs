//! What surfaces look like: leather, metal, glass.

use super::canvas::Light;

/// A figure from 0 to 1 that looks like chance, fixed by place and seed.
pub(super) fn noise(x: i32, y: i32, seed: u64) -> f32 {
    let mut bits =
        u64::from(x as u32) ^ (u64::from(y as u32) << 32) ^ seed.wrapping_mul(0x9e37_79b9);
    bits = (bits ^ (bits >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    bits = (bits ^ (bits >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    ((bits ^ (bits >> 31)) & 0xffff) as f32 / 65_535.0
}

/// Noise that runs smoothly over patches of the given size.
pub(super) fn smooth(x: f32, y: f32, size: f32, seed: u64) -> f32 {
    let (x, y) = (x / size, y / size);
    let (left, top) = (x.floor(), y.floor());
    let ease = |t: f32| t * t * (3.0 - 2.0 * t);
    let (u, v) = (ease(x - left), ease(y - top));
    let at = |dx: i32, dy: i32| noise(left as i32 + dx, top as i32 + dy, seed);
    let upper = at(0, 0) + u * (at(1, 0) - at(0, 0));
    let lower = at(0, 1) + u * (at(1, 1) - at(0, 1));
    upper + v * (lower - upper)
}

/// Pressed leather lit from the upper left, rubbed bare in patches.
pub(super) fn leather(seed: u64, tone: Light) -> impl Fn(f32, f32) -> Light {
    move |x, y| {
        let slope = smooth(x + 1.2, y + 1.2, 5.0, seed) - smooth(x, y, 5.0, seed);
        let rubbed = (smooth(x, y, 90.0, seed + 1) - 0.62).max(0.0) * 0.5;
        tone.map(|light| (light * (1.0 + 1.6 * slope) + 0.10 * rubbed).clamp(0.0, 1.0))
    }
}

/// Satin metal between two edges: bright band towards the light, brushed along its length.
pub(super) fn metal(seed: u64, top: f32, bottom: f32, bright: f32) -> impl Fn(f32, f32) -> Light {
    move |x, y| {
        let part = ((y - top) / (bottom - top).max(1.0)).clamp(0.0, 1.0);
        let band = 0.5 + 0.5 * (std::f32::consts::PI * (0.15 + 1.2 * part)).sin();
        let brushed = 0.05 * (smooth(x, 7.0 * y, 26.0, seed) - 0.5);
        let light = bright * (0.42 + 0.58 * band) + brushed;
        [light, 0.99 * light, 0.96 * light].map(|light| light.clamp(0.0, 1.0))
    }
}

/// Turned metal: spokes of light round the centre.
pub(super) fn turned_metal(x0: f32, y0: f32, bright: f32) -> impl Fn(f32, f32) -> Light {
    move |x, y| {
        let angle = (y - y0).atan2(x - x0);
        let spoke = 0.55 + 0.45 * (2.0 * angle + 1.1).cos();
        let light = bright * (0.5 + 0.5 * spoke);
        [light, light, 0.97 * light]
    }
}

/// A knurled rim: fine teeth of light and shade round the centre.
pub(super) fn knurled(x0: f32, y0: f32, teeth: f32, bright: f32) -> impl Fn(f32, f32) -> Light {
    move |x, y| {
        let angle = (y - y0).atan2(x - x0);
        let tooth = 0.5 + 0.5 * (teeth * angle).sin();
        let lamp = 0.7 - 0.3 * (angle - 0.9).cos();
        let light = bright * lamp * (0.35 + 0.65 * tooth);
        [light, light, 0.97 * light]
    }
}

/// A coated lens: dark, with two reflections of the lamp and a rim of colour.
pub(super) fn glass(x0: f32, y0: f32, r: f32) -> impl Fn(f32, f32) -> Light {
    move |x, y| {
        let (dx, dy) = ((x - x0) / r, (y - y0) / r);
        let out = dx.hypot(dy);
        let spot = |cx: f32, cy: f32, size: f32| {
            let away = (dx - cx).hypot(dy - cy) / size;
            (1.0 - away).clamp(0.0, 1.0).powi(2)
        };
        let (warm, cool) = (spot(-0.35, -0.4, 0.42), spot(0.32, 0.38, 0.55));
        let rim = (out - 0.72).max(0.0) * 0.5;
        [
            0.02 + 0.85 * warm + 0.16 * cool + 0.5 * rim,
            0.02 + 0.72 * warm + 0.10 * cool + 0.28 * rim,
            0.04 + 0.62 * warm + 0.34 * cool + 0.62 * rim,
        ]
        .map(|light| light.clamp(0.0, 1.0))
    }
}

/// One even colour.
pub(super) fn plain(light: Light) -> impl Fn(f32, f32) -> Light {
    move |_, _| light
}
