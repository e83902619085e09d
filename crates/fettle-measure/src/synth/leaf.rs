//! How a leaf shutter uncovers its opening.

use std::f64::consts::PI;

use super::Opening;
use crate::Seconds;

/// Steps of the integrals over a flank: 4 MHz and finer for flanks of a few milliseconds.
const FLANK_STEPS: usize = 16_384;
/// Where total time is counted from and to, ISO 516.
const TOTAL_AT: f64 = 0.01;

/// What blades leave open of a round opening as they swing out of it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Leaves {
    /// A regular polygon: their edges are straight.
    #[default]
    Polygon,
    /// A round hole.
    Round,
    /// As much again in every part of their way.
    Even,
    /// Little at first and at last: `3 x² - 2 x³` with `x` the part of their way.
    Smooth,
}

/// The blades of a leaf shutter: they swing out of a round opening.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LeafShutter {
    /// How many blades, 3 or more; of those that leave a polygon.
    pub blades: u32,
    /// From first light to fully open.
    pub opening: Seconds,
    /// From fully open to dark.
    pub closing: Seconds,
    /// How the blades gather speed, 0 (even) to 1 (from rest).
    pub run_up: f64,
    /// The power that their way so gathered is raised to: 1 where what drives them pushes evenly.
    pub power: f64,
    /// What their edges leave open.
    pub leaves: Leaves,
}

impl Default for LeafShutter {
    fn default() -> Self {
        Self {
            blades: 5,
            opening: Seconds::ms(1.1),
            closing: Seconds::ms(1.3),
            run_up: 0.4,
            power: 1.0,
            leaves: Leaves::Polygon,
        }
    }
}

/// A second, partial opening after the blades hit their stop.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bounce {
    /// From closed to the second opening.
    pub after: Seconds,
    /// How long it lasts.
    pub lasting: Seconds,
    /// Its greatest open area as a part of the full area.
    pub height: f64,
}

/// One firing made definite: how long the blades stay open, how far they get.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Exposure {
    shutter: LeafShutter,
    /// How far along its travel each blade turns back, 1 when fully open.
    turn: f64,
    /// From fully open to the start of closing.
    dwell: f64,
    bounce: Option<Bounce>,
}

impl LeafShutter {
    /// Open area as a part of the full area with the blades `travel` along, 0 to 1.
    #[must_use]
    pub fn open_area(&self, travel: f64) -> f64 {
        let travel = travel.clamp(0.0, 1.0);
        let way = (travel * (1.0 - self.run_up + self.run_up * travel)).powf(self.power);
        match self.leaves {
            Leaves::Polygon => self.polygon(way),
            Leaves::Round => way * way,
            Leaves::Even => way,
            Leaves::Smooth => way * way * (3.0 - 2.0 * way),
        }
    }

    /// The common area of a regular polygon of inradius `r` and the round opening of radius 1.
    fn polygon(&self, r: f64) -> f64 {
        let sides = f64::from(self.blades.max(3));
        let half_angle = PI / sides;
        if r >= 1.0 {
            1.0
        } else if r <= half_angle.cos() {
            sides * half_angle.tan() * r * r / PI
        } else {
            1.0 - sides * (r.acos() - r * (1.0 - r * r).sqrt()) / PI
        }
    }

    /// `∫A` over a flank up to where the blades are `travel` along, in parts of the flank.
    fn flank_integral(&self, travel: f64) -> f64 {
        let step = travel / FLANK_STEPS as f64;
        let inner: f64 = (0..FLANK_STEPS)
            .map(|i| self.open_area((i as f64 + 0.5) * step))
            .sum();
        inner * step
    }

    /// How far along the blades are when `area` is open.
    fn travel_at(&self, area: f64) -> f64 {
        bisect(|travel| self.open_area(travel) - area)
    }

    /// The firing whose effective time, without a bounce, is `effective`.
    pub(crate) fn expose(&self, effective: Seconds, bounce: Option<Bounce>) -> Exposure {
        let flanks = (self.opening + self.closing).to_s();
        let full = flanks * self.flank_integral(1.0);
        let effective = effective.to_s().max(1e-6);
        let (turn, dwell) = if effective >= full {
            (1.0, effective - full)
        } else {
            (
                bisect(|turn| flanks * self.flank_integral(turn) - effective),
                0.0,
            )
        };
        Exposure {
            shutter: *self,
            turn,
            dwell,
            bounce,
        }
    }
}

impl Opening for Exposure {
    /// Open area `time` after the first light.
    fn area(&self, time: f64) -> f64 {
        let opening = self.shutter.opening.to_s();
        let closing = self.shutter.closing.to_s();
        let turned = opening * self.turn;
        let closes = turned + self.dwell;
        let dark = closes + closing * self.turn;
        if time <= 0.0 {
            0.0
        } else if time < turned {
            self.shutter.open_area(time / opening)
        } else if time <= closes {
            self.shutter.open_area(self.turn)
        } else if time < dark {
            self.shutter.open_area((dark - time) / closing)
        } else {
            self.bounce.map_or(0.0, |bounce| bounce.area(time - dark))
        }
    }

    /// Whether the open area stands still from `from` to `to` after the first light.
    fn is_steady(&self, from: f64, to: f64) -> bool {
        let turned = self.shutter.opening.to_s() * self.turn;
        to <= 0.0 || from >= self.end() || (from >= turned && to <= turned + self.dwell)
    }

    /// From first light to the last.
    fn end(&self) -> f64 {
        self.dark()
            + self
                .bounce
                .map_or(0.0, |bounce| (bounce.after + bounce.lasting).to_s())
    }
}

impl Exposure {
    fn dark(&self) -> f64 {
        (self.shutter.opening + self.shutter.closing).to_s() * self.turn + self.dwell
    }

    /// The area at the widest moment.
    pub(crate) fn peak(&self) -> f64 {
        self.shutter.open_area(self.turn)
    }

    /// `∫E/E0`, a bounce included.
    pub(crate) fn effective(&self) -> f64 {
        let flanks = (self.shutter.opening + self.shutter.closing).to_s();
        flanks * self.shutter.flank_integral(self.turn)
            + self.dwell * self.peak()
            + self
                .bounce
                .map_or(0.0, |bounce| 0.5 * bounce.height * bounce.lasting.to_s())
    }

    /// When 1 % is first passed, and when last, after the first light.
    pub(crate) fn crossings(&self) -> (f64, f64) {
        let travel = self.shutter.travel_at(TOTAL_AT);
        let first = travel * self.shutter.opening.to_s();
        let last = match self.bounce {
            Some(bounce) if bounce.height > TOTAL_AT => {
                let phase = (TOTAL_AT / bounce.height).sqrt().asin() / PI;
                self.end() - phase * bounce.lasting.to_s()
            }
            _ => self.dark() - travel * self.shutter.closing.to_s(),
        };
        (first, last)
    }

    /// From when to when more than `area` is open, after the first light, a bounce left out; `None`
    /// when it never is.
    pub(crate) fn open_beyond(&self, area: f64) -> Option<(f64, f64)> {
        let travel = self.shutter.travel_at(area);
        let opens = travel * self.shutter.opening.to_s();
        let closes = self.dark() - travel * self.shutter.closing.to_s();
        (self.peak() > area).then_some((opens, closes))
    }

    /// Effective time with the lens stopped down so that a part `a` of the full area is used:
    /// `(1/a) ∫ min(A, a) dt`, without the bounce.
    pub(crate) fn effective_at(&self, a: f64) -> f64 {
        let steps = FLANK_STEPS;
        let flanks = (self.shutter.opening + self.shutter.closing).to_s();
        let step = self.turn / steps as f64;
        let seen = |travel: f64| self.shutter.open_area(travel).min(a);
        let integral: f64 = (0..steps).map(|i| seen((i as f64 + 0.5) * step)).sum();
        (flanks * integral * step + self.dwell * self.peak().min(a)) / a
    }
}

impl Bounce {
    fn area(&self, after_dark: f64) -> f64 {
        let phase = (after_dark - self.after.to_s()) / self.lasting.to_s();
        if (0.0..=1.0).contains(&phase) {
            self.height * (PI * phase).sin().powi(2)
        } else {
            0.0
        }
    }
}

/// The root of a rising function on 0 to 1.
fn bisect(rising: impl Fn(f64) -> f64) -> f64 {
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..50 {
        let middle = 0.5 * (low + high);
        if rising(middle) < 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(got: f64, want: f64, tolerance: f64) {
        assert!(
            (got - want).abs() <= tolerance,
            "{got} is not within {tolerance} of {want}"
        );
    }

    #[test]
    fn the_opening_grows_from_nothing_to_all() {
        let shutter = LeafShutter::default();
        let areas: Vec<f64> = (0..=100)
            .map(|i| shutter.open_area(f64::from(i) / 100.0))
            .collect();
        close(areas[0], 0.0, 0.0);
        close(areas[100], 1.0, 0.0);
        assert!(areas.windows(2).all(|pair| pair[0] < pair[1]));
    }

    #[test]
    fn an_exposure_has_the_effective_time_asked_for() {
        let shutter = LeafShutter::default();
        for seconds in [1.0, 0.1, 1.0 / 500.0, 1.0 / 1000.0] {
            close(
                shutter.expose(Seconds::s(seconds), None).effective(),
                seconds,
                1e-9,
            );
        }
    }

    #[test]
    fn the_integral_of_the_area_is_the_effective_time() {
        let bounce = Bounce {
            after: Seconds::ms(2.0),
            lasting: Seconds::ms(1.5),
            height: 0.3,
        };
        let exposure = LeafShutter::default().expose(Seconds::ms(3.0), Some(bounce));
        let step = 0.25e-6;
        let steps = (exposure.end() / step) as usize + 1;
        let sum: f64 = (0..steps)
            .map(|i| exposure.area((i as f64 + 0.5) * step))
            .sum();
        close(sum * step, exposure.effective(), 1e-9);
    }

    #[test]
    fn a_small_stop_sees_the_total_time_in_the_limit() {
        let exposure = LeafShutter::default().expose(Seconds::ms(2.0), None);
        close(exposure.effective_at(1.0), exposure.effective(), 1e-9);
        close(exposure.effective_at(1e-9), exposure.end(), 1e-6);
    }
}
