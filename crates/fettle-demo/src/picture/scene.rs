//! What stands on the table.

use super::Body;
use super::canvas::{Canvas, Light};
use super::paint::{glass, knurled, leather, metal, noise, plain, turned_metal};
use super::shape::Shape;

const BLACK: Light = [0.035, 0.035, 0.038];
const INK: Light = [0.03, 0.03, 0.04];
const BRASS: Light = [0.52, 0.40, 0.15];

/// Leather of different examples: black, black, dark brown, grey green.
const LEATHERS: [Light; 4] = [
    [0.06, 0.06, 0.06],
    [0.08, 0.075, 0.07],
    [0.11, 0.07, 0.05],
    [0.08, 0.09, 0.075],
];

/// Digits as rows of three points.
const DIGITS: [[u8; 5]; 10] = [
    [7, 5, 5, 5, 7],
    [2, 6, 2, 2, 7],
    [7, 1, 7, 4, 7],
    [7, 1, 3, 1, 7],
    [5, 5, 7, 1, 1],
    [7, 4, 7, 1, 7],
    [7, 4, 7, 5, 7],
    [7, 1, 2, 2, 2],
    [7, 5, 7, 5, 7],
    [7, 5, 7, 1, 7],
];

/// The camera from the front, standing over a rule.
pub(super) fn front(canvas: &mut Canvas, body: Body, seed: u64) {
    rule(canvas, 548.0);
    let skin = LEATHERS[(seed / 16 % 4) as usize];
    match body {
        Body::Twin => twin_front(canvas, skin, seed),
        Body::Half => small_front(
            canvas,
            skin,
            seed,
            Shape::block(400.0, 320.0, 165.0, 118.0, 26.0),
        ),
        Body::Rangefinder => wide_front(canvas, skin, seed),
        Body::Box => {
            small_front(
                canvas,
                skin,
                seed,
                Shape::block(400.0, 300.0, 150.0, 170.0, 10.0),
            );
        }
    }
}

fn twin_front(canvas: &mut Canvas, skin: Light, seed: u64) {
    let body = Shape::block(400.0, 300.0, 132.0, 200.0, 14.0);
    canvas.shadow(&body, 34.0, 0.75);
    knob(canvas, 548.0, 230.0, 26.0, 34.0, seed);
    knob(canvas, 252.0, 318.0, 26.0, 40.0, seed + 1);
    canvas.fill(&body, leather(seed, skin));
    let hood = Shape::block(400.0, 96.0, 118.0, 22.0, 6.0);
    canvas.fill(&hood, metal(seed, 74.0, 118.0, 0.30));
    for x in [276.0, 524.0] {
        canvas.fill(
            &Shape::block(x, 300.0, 4.0, 196.0, 3.0),
            metal(seed, 104.0, 496.0, 0.7),
        );
    }
    let board = Shape::block(400.0, 318.0, 92.0, 156.0, 40.0);
    canvas.shadow(&board, 14.0, 0.6);
    canvas.fill(&board, metal(seed + 3, 162.0, 474.0, 0.50));
    lens(canvas, 400.0, 236.0, 62.0);
    lens(canvas, 400.0, 384.0, 72.0);
    plate(canvas, 400.0, 306.0, seed);
    for (x, y) in [
        (325.0, 186.0),
        (475.0, 186.0),
        (325.0, 450.0),
        (475.0, 450.0),
    ] {
        screw(canvas, x, y, 6.0, seed);
    }
}

fn small_front(canvas: &mut Canvas, skin: Light, seed: u64, body: Shape) {
    canvas.shadow(&body, 30.0, 0.75);
    let (left, top, right, bottom) = body.bounds(0.0);
    canvas.fill(&body, metal(seed, top, bottom, 0.62));
    let (x, y) = (0.5 * (left + right), 0.5 * (top + bottom));
    let (w, h) = (0.5 * (right - left), 0.5 * (bottom - top));
    canvas.fill(
        &Shape::block(x, y + 0.15 * h, w - 1.0, 0.66 * h, 4.0),
        leather(seed, skin),
    );
    // The meter's cell: honeycomb glass over the lens.
    let cell = Shape::block(x - 0.1 * w, top + 0.17 * h, 0.42 * w, 0.10 * h, 4.0);
    canvas.fill(&cell, |px, py| {
        let comb = 0.5 + 0.5 * (0.9 * px).sin() * (0.9 * py).sin();
        [0.20 + 0.35 * comb, 0.22 + 0.35 * comb, 0.16 + 0.25 * comb]
    });
    finder(canvas, x + 0.68 * w, top + 0.18 * h, 0.15 * w, 0.11 * h);
    lens(canvas, x, y + 0.12 * h, 0.52 * h);
    screw(canvas, left + 18.0, top + 16.0, 5.0, seed);
    screw(canvas, right - 18.0, top + 16.0, 5.0, seed + 2);
}

fn wide_front(canvas: &mut Canvas, skin: Light, seed: u64) {
    let body = Shape::block(400.0, 330.0, 250.0, 128.0, 46.0);
    canvas.shadow(&body, 34.0, 0.75);
    knob(canvas, 190.0, 196.0, 34.0, 20.0, seed);
    knob(canvas, 590.0, 192.0, 40.0, 22.0, seed + 1);
    canvas.fill(&body, metal(seed, 202.0, 458.0, 0.60));
    canvas.fill(
        &Shape::block(400.0, 352.0, 249.0, 84.0, 8.0),
        leather(seed, skin),
    );
    finder(canvas, 545.0, 234.0, 30.0, 18.0);
    finder(canvas, 330.0, 234.0, 14.0, 12.0);
    lens(canvas, 400.0, 346.0, 92.0);
    for x in [215.0, 585.0] {
        screw(canvas, x, 234.0, 6.0, seed);
    }
}

/// The camera from above: dials, finder hood, shoe.
pub(super) fn top(canvas: &mut Canvas, body: Body, seed: u64) {
    rule(canvas, 548.0);
    let (w, h) = match body {
        Body::Twin | Body::Box => (150.0, 150.0),
        Body::Half => (190.0, 74.0),
        Body::Rangefinder => (270.0, 78.0),
    };
    let outline = Shape::block(400.0, 300.0, w, h, 0.4 * h.min(90.0));
    canvas.shadow(&outline, 30.0, 0.75);
    canvas.fill(&outline, metal(seed, 300.0 - h, 300.0 + h, 0.6));
    if h > 100.0 {
        let screen = Shape::block(400.0, 300.0, 96.0, 96.0, 4.0);
        canvas.fill(&Shape::block(400.0, 300.0, 108.0, 108.0, 6.0), plain(BLACK));
        canvas.fill(&screen, |x, y| {
            let line = (x - 400.0).abs().min((y - 300.0).abs()) < 0.8;
            let light =
                0.34 - 0.0018 * (x - 400.0).hypot(y - 300.0) - if line { 0.12 } else { 0.0 };
            [0.9 * light, light, 0.92 * light]
        });
        knob(canvas, 590.0, 250.0, 36.0, 30.0, seed);
        knob(canvas, 214.0, 330.0, 34.0, 26.0, seed + 1);
    } else {
        dial(canvas, 400.0 + 0.62 * w, 300.0, 0.52 * h, 11);
        dial(canvas, 400.0 - 0.70 * w, 300.0, 0.44 * h, 7);
        let shoe = Shape::block(400.0, 300.0, 40.0, 34.0, 3.0);
        canvas.fill(&shoe, metal(seed + 5, 266.0, 334.0, 0.8));
        canvas.fill(
            &Shape::block(400.0, 300.0, 26.0, 34.0, 1.0),
            plain([0.16, 0.16, 0.16]),
        );
        canvas.fill(
            &Shape::disc(400.0 + 0.3 * w, 300.0 - 0.3 * h, 11.0),
            turned_metal(400.0, 290.0, 0.95),
        );
    }
    scratches(canvas, seed, w, h);
}

/// The shutter with its cover off: rings, wheels, springs, blades.
pub(super) fn open(canvas: &mut Canvas, body: Body, seed: u64) {
    let shade = if body == Body::Rangefinder {
        0.34
    } else {
        0.44
    };
    let case = Shape::disc(400.0, 300.0, 262.0);
    canvas.shadow(&case, 34.0, 0.8);
    canvas.fill(&case, knurled(400.0, 300.0, 120.0, 0.6));
    canvas.fill(
        &Shape::disc(400.0, 300.0, 246.0),
        metal(seed, 54.0, 546.0, shade),
    );
    canvas.fill(
        &Shape::ring(400.0, 300.0, 226.0, 9.0),
        turned_metal(400.0, 300.0, 0.75),
    );
    blades(canvas);
    let place = |n: u64| {
        let turn = std::f32::consts::TAU * (n as f32 / 6.0 + 0.04 * noise(n as i32, 0, seed));
        (400.0 + 168.0 * turn.cos(), 300.0 + 168.0 * turn.sin(), turn)
    };
    for n in 0..6 {
        let (x, y, turn) = place(n);
        if n % 3 == 2 {
            let coil = Shape::Coil {
                x,
                y,
                long: 40.0,
                half: 6.0,
                turn: turn + 1.4,
            };
            canvas.shadow(&coil, 6.0, 0.5);
            canvas.fill(&coil, plain([0.72, 0.70, 0.66]));
        } else {
            wheel(
                canvas,
                x,
                y,
                24.0 + 12.0 * noise(n as i32, 1, seed),
                turn,
                seed + n,
            );
        }
    }
    for n in 0..5 {
        let turn = std::f32::consts::TAU * (n as f32 + 0.5) / 5.0;
        screw(
            canvas,
            400.0 + 234.0 * turn.cos(),
            300.0 + 234.0 * turn.sin(),
            7.0,
            seed + n,
        );
    }
}

/// Cells with the pieces that came off, in their order.
pub(super) fn tray(canvas: &mut Canvas, seed: u64) {
    let outline = Shape::block(400.0, 300.0, 372.0, 270.0, 14.0);
    canvas.shadow(&outline, 26.0, 0.7);
    canvas.fill(&outline, plain([0.30, 0.33, 0.31]));
    for cell in 0..12_u64 {
        let (column, row) = (cell % 4, cell / 4);
        let (x, y) = (125.0 + 183.0 * column as f32, 128.0 + 172.0 * row as f32);
        canvas.fill(
            &Shape::block(x, y, 82.0, 76.0, 8.0),
            plain([0.52, 0.55, 0.52]),
        );
        number(canvas, cell as u32 + 1, x - 74.0, y - 68.0, 3.0);
        let lies = |k: i32| {
            let dx = 90.0 * (noise(cell as i32, 2 * k, seed) - 0.5);
            let dy = 80.0 * (noise(cell as i32, 2 * k + 1, seed) - 0.5);
            (x + dx, y + dy + 6.0, 6.2 * noise(cell as i32, 90 + k, seed))
        };
        let (px, py, turn) = lies(0);
        match (cell + seed / 16) % 5 {
            0 => wheel(canvas, px, py, 26.0, turn, seed),
            1 => part_plate(canvas, px, py, turn, seed),
            2 => {
                let ring = Shape::ring(px, py, 30.0, 6.0);
                canvas.shadow(&ring, 8.0, 0.5);
                canvas.fill(&ring, turned_metal(px, py, 0.8));
            }
            3 => {
                let coil = Shape::Coil {
                    x: px,
                    y: py,
                    long: 34.0,
                    half: 7.0,
                    turn,
                };
                canvas.shadow(&coil, 6.0, 0.5);
                canvas.fill(&coil, plain([0.74, 0.72, 0.68]));
            }
            _ => {}
        }
        for k in 1..4 {
            let (sx, sy, _) = lies(k);
            screw(canvas, sx, sy, 7.0, seed + k as u64);
        }
    }
}

fn lens(canvas: &mut Canvas, x: f32, y: f32, r: f32) {
    let rim = Shape::disc(x, y, r);
    canvas.shadow(&rim, 0.3 * r, 0.7);
    canvas.fill(&rim, knurled(x, y, (0.9 * r).round(), 0.75));
    canvas.fill(&Shape::disc(x, y, 0.88 * r), turned_metal(x, y, 0.72));
    canvas.fill(&Shape::disc(x, y, 0.76 * r), plain(BLACK));
    for part in [0.70, 0.62] {
        canvas.fill(&Shape::ring(x, y, part * r, 1.2), plain([0.20, 0.20, 0.21]));
    }
    canvas.fill(&Shape::disc(x, y, 0.55 * r), glass(x, y, 0.55 * r));
}

fn finder(canvas: &mut Canvas, x: f32, y: f32, w: f32, h: f32) {
    canvas.fill(
        &Shape::block(x, y, w + 4.0, h + 4.0, 4.0),
        plain([0.12, 0.12, 0.12]),
    );
    canvas.fill(&Shape::block(x, y, w, h, 2.0), glass(x, y, w.max(h)));
}

fn knob(canvas: &mut Canvas, x: f32, y: f32, w: f32, h: f32, seed: u64) {
    let knob = Shape::block(x, y, w, h, 5.0);
    canvas.shadow(&knob, 16.0, 0.6);
    let body = metal(seed, y - h, y + h, 0.75);
    canvas.fill(&knob, move |px, py| {
        let tooth = 0.7 + 0.3 * (1.3 * py).sin();
        body(px, py).map(|light| light * tooth)
    });
}

fn dial(canvas: &mut Canvas, x: f32, y: f32, r: f32, marks: u32) {
    let rim = Shape::disc(x, y, r);
    canvas.shadow(&rim, 12.0, 0.6);
    canvas.fill(&rim, knurled(x, y, 48.0, 0.8));
    canvas.fill(&Shape::disc(x, y, 0.84 * r), turned_metal(x, y, 0.85));
    for n in 0..marks {
        let turn = std::f32::consts::TAU * n as f32 / marks as f32;
        let (px, py) = (x + 0.68 * r * turn.cos(), y + 0.68 * r * turn.sin());
        let mark = Shape::Block {
            x: px,
            y: py,
            w: 0.10 * r,
            h: 1.3,
            r: 1.0,
            turn,
        };
        canvas.fill(&mark, plain(INK));
    }
}

fn wheel(canvas: &mut Canvas, x: f32, y: f32, r: f32, turn: f32, seed: u64) {
    let teeth = (0.9 * r).round();
    let gear = Shape::Gear {
        x,
        y,
        r,
        teeth,
        depth: 6.0,
        turn,
    };
    canvas.shadow(&gear, 10.0, 0.55);
    let shade = 0.85 + 0.3 * noise(3, 5, seed);
    canvas.fill(&gear, move |px, py| {
        let lamp = 0.8 + 0.35 * ((py - y).atan2(px - x) * 2.0 + 0.7).cos();
        BRASS.map(|light| (light * shade * lamp).clamp(0.0, 1.0))
    });
    canvas.fill(&Shape::disc(x, y, 0.28 * r), turned_metal(x, y, 0.8));
    canvas.fill(&Shape::disc(x, y, 0.10 * r), plain(BLACK));
}

fn part_plate(canvas: &mut Canvas, x: f32, y: f32, turn: f32, seed: u64) {
    let plate = Shape::Block {
        x,
        y,
        w: 46.0,
        h: 17.0,
        r: 9.0,
        turn,
    };
    canvas.shadow(&plate, 8.0, 0.55);
    canvas.fill(&plate, metal(seed, y - 20.0, y + 20.0, 0.7));
    for side in [-30.0, 30.0] {
        canvas.fill(
            &Shape::disc(x + side * turn.cos(), y + side * turn.sin(), 5.0),
            plain(BLACK),
        );
    }
}

/// Five blades, nearly closed.
fn blades(canvas: &mut Canvas) {
    canvas.fill(&Shape::disc(400.0, 300.0, 112.0), plain([0.10, 0.10, 0.11]));
    for n in 0..5 {
        let turn = std::f32::consts::TAU * n as f32 / 5.0 + 0.35;
        let (x, y) = (400.0 + 52.0 * turn.cos(), 300.0 + 52.0 * turn.sin());
        let blade = Shape::Block {
            x,
            y,
            w: 52.0,
            h: 32.0,
            r: 26.0,
            turn: turn + 0.9,
        };
        canvas.shadow(&blade, 5.0, 0.5);
        let shade = 0.17 + 0.035 * n as f32;
        canvas.fill(&blade, plain([shade, shade, 1.06 * shade]));
    }
    canvas.fill(
        &Shape::ring(400.0, 300.0, 112.0, 5.0),
        turned_metal(400.0, 300.0, 0.6),
    );
}

fn screw(canvas: &mut Canvas, x: f32, y: f32, r: f32, seed: u64) {
    let head = Shape::disc(x, y, r);
    canvas.shadow(&head, 0.8 * r, 0.5);
    canvas.fill(&head, turned_metal(x, y, 0.9));
    let turn = 3.1 * noise(x as i32, y as i32, seed);
    canvas.fill(
        &Shape::Block {
            x,
            y,
            w: 0.85 * r,
            h: 0.14 * r,
            r: 0.5,
            turn,
        },
        plain(INK),
    );
}

/// A maker's plate with lines where the engraving is.
fn plate(canvas: &mut Canvas, x: f32, y: f32, seed: u64) {
    canvas.fill(
        &Shape::block(x, y, 44.0, 7.0, 3.0),
        metal(seed, y - 7.0, y + 7.0, 0.9),
    );
    for n in -5..=5 {
        let height = 2.0 + 2.0 * noise(n, 9, 4);
        canvas.fill(
            &Shape::block(x + 6.5 * n as f32, y, 1.6, height, 0.8),
            plain(INK),
        );
    }
}

/// Fine bright lines of long use.
fn scratches(canvas: &mut Canvas, seed: u64, w: f32, h: f32) {
    for n in 0..7 {
        let x = 400.0 + 1.6 * w * (noise(n, 40, seed) - 0.5);
        let y = 300.0 + 1.6 * h * (noise(n, 41, seed) - 0.5);
        let turn = 3.0 * noise(n, 42, seed);
        let long = 6.0 + 22.0 * noise(n, 43, seed);
        canvas.fill(
            &Shape::Block {
                x,
                y,
                w: long,
                h: 0.5,
                r: 0.4,
                turn,
            },
            plain([0.7, 0.69, 0.66]),
        );
    }
}

/// A steel rule: a stroke every millimetre, a figure every ten.
fn rule(canvas: &mut Canvas, y: f32) {
    let body = Shape::block(400.0, y, 360.0, 24.0, 2.0);
    canvas.shadow(&body, 10.0, 0.5);
    canvas.fill(&body, metal(11, y - 24.0, y + 24.0, 0.85));
    for mm in 0..=140_u32 {
        let x = 50.0 + 5.0 * mm as f32;
        let long = match mm {
            n if n % 10 == 0 => 11.0,
            n if n % 5 == 0 => 8.0,
            _ => 5.0,
        };
        canvas.fill(
            &Shape::block(x, y - 23.0 + long, 0.6, long, 0.3),
            plain(INK),
        );
        if mm % 10 == 0 && mm < 140 {
            number(canvas, mm, x + 3.0, y + 4.0, 2.0);
        }
    }
}

/// A whole number in points of the given size, from its upper left corner.
fn number(canvas: &mut Canvas, value: u32, x: f32, y: f32, point: f32) {
    for (place, digit) in value.to_string().bytes().enumerate() {
        let rows = DIGITS[usize::from(digit - b'0')];
        for (row, bits) in rows.into_iter().enumerate() {
            for column in 0..3 {
                if bits & (4 >> column) != 0 {
                    let px = x + point * (4 * place + column) as f32;
                    let py = y + point * row as f32;
                    let half = 0.5 * point;
                    canvas.fill(
                        &Shape::block(px + half, py + half, half, half, 0.2),
                        plain(INK),
                    );
                }
            }
        }
    }
}
