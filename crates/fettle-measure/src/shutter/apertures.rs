//! Effective times at smaller stops.

use super::channel::{Channel, Raw};
use super::expose;
use super::size::Times;
use super::{Aperture, Options, Shot, Speed};
use crate::Seconds;

/// `(1/a) ∫ min(A, a) dt` of one shot for each stop asked for.
pub(super) fn of_shot(
    channel: &Channel<'_>,
    raw: &Raw,
    times: &Times,
    options: &Options,
) -> Vec<f64> {
    let (Some(open), Some(e0)) = (options.fully_open_f, times.e0) else {
        return Vec::new();
    };
    options
        .stops_f
        .iter()
        .map(|f| {
            let a = (open / f).powi(2).min(1.0);
            let late = channel.form.as_ref().map_or(0.0, |form| form.late_at(a));
            (expose::stopped_down(&raw.light, e0, a, channel.signal.noise, channel.signal.dt)
                + raw.open
                - late)
                * times.clock_factor
        })
        .collect()
}

/// Means over each mark's shots, for each stop asked for; `stopped` holds each shot's times.
pub(super) fn table(
    shots: &[Shot],
    stopped: &[Vec<f64>],
    speeds: &[Speed],
    options: &Options,
) -> Vec<Aperture> {
    let mut apertures = Vec::new();
    for speed in speeds {
        for (index, f) in options.stops_f.iter().enumerate() {
            let times: Vec<f64> = shots
                .iter()
                .zip(stopped)
                .filter(|(shot, _)| shot.marked == Some(speed.marked) && !shot.struck)
                .filter_map(|(_, stopped)| stopped.get(index).copied())
                .collect();
            let mean = Seconds::s(times.iter().sum::<f64>() / times.len() as f64);
            let errors = mean
                .error_against(speed.nominal_s)
                .zip(mean.error_against(speed.mean_s));
            if let Some((error_stops, over_full_open_stops)) = errors {
                apertures.push(Aperture {
                    marked: speed.marked,
                    f: *f,
                    effective_s: mean,
                    error_stops,
                    over_full_open_stops,
                });
            }
        }
    }
    apertures
}
