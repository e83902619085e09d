//! What the page shows while it listens, drawn from the session's report.

use fettle_bench::finding_in_words;
use fettle_measure::shutter::live::Level;
use fettle_measure::shutter::{FindingKind, Options, Report, Shot, Speed, at_centre};
use fettle_measure::{Seconds, Verdict};
use maud::{Markup, PreEscaped, html};

use super::message::{Fresh, Html};
use crate::error::sentence;
use crate::said::{dial, mark_of};
use crate::shutter::{doubt, shot_time, verdict};
use crate::{drawings, frame, number, urls, words};

/// Noise above this part of full scale is worth a word.
const NOISY: f64 = 0.01;

/// How loud the input is, in words, and what is wrong with it.
pub(super) fn level(level: &Level, lost: u64) -> (String, String) {
    let peak = level.peak.iter().copied().fold(0.0, f64::max);
    let noise = level.noise.iter().copied().fold(0.0, f64::max);
    let decibels = |part: f64| {
        format!(
            "{} dB",
            number::figure((20.0 * part.log10()).round(), None, "")
        )
    };
    let mut words = if peak > 0.0 {
        format!("Level {} of full scale", decibels(peak))
    } else {
        "No level".to_owned()
    };
    if noise > 0.0 {
        words.push_str(&format!(", noise {}", decibels(noise)));
    }
    words.push_str(if level.open {
        "; the light has changed and not come back"
    } else {
        "; at rest"
    });
    let mut wrong = Vec::new();
    if level.clipped {
        wrong.push("the input reaches the end of its range: turn the level down".to_owned());
    }
    if level.restless {
        wrong.push("the input is never at rest, so no shot can be told: use a steady lamp and look for a loose cable".to_owned());
    }
    if peak == 0.0 {
        wrong.push(
            "nothing comes from the input, not even noise: choose another input, or check the plug"
                .to_owned(),
        );
    } else if noise > NOISY && !level.restless {
        wrong.push("there is much noise: more light, or a better cable".to_owned());
    }
    if lost > 0 {
        wrong.push(format!(
            "{lost} samples were lost on the way; shots they touch are not counted"
        ));
    }
    (
        words,
        wrong
            .iter()
            .map(|it| sentence(it))
            .collect::<Vec<_>>()
            .join(" "),
    )
}

/// The tone and sentence for the shot that starts there.
pub(super) fn fresh(report: &Report, options: &Options, start: Seconds) -> Option<Fresh> {
    let apart = |shot: &Shot| (shot.start_s.to_s() - start.to_s()).abs();
    let first = report
        .shots
        .iter()
        .min_by(|a, b| apart(a).total_cmp(&apart(b)))?;
    let centre = at_centre(report, options);
    let shot = centre
        .into_iter()
        .find(|shot| shot.release == first.release)
        .unwrap_or(first);
    let verdict = shot.verdict(options);
    let tone = match verdict {
        Some(Verdict::In) => "good",
        Some(Verdict::Out) => "out",
        _ => "unclear",
    };
    Some(Fresh {
        tone,
        sentence: format!("Shot {}: {}", shot.release, spoken(shot, verdict)),
    })
}

fn spoken(shot: &Shot, judged: Option<Verdict>) -> String {
    let Some(time) = shot.effective_s else {
        return "the time cannot be told".to_owned();
    };
    let mut words = number::exposure(time.to_s(), None);
    if let Some(mark) = shot.marked {
        words.push_str(&format!(" at {mark}"));
    }
    if let Some(error) = shot.error_stops {
        words.push_str(&format!(", {} stops", number::stops(error.to_stops())));
    }
    let judged = match judged {
        Some(Verdict::In) => "in tolerance",
        Some(Verdict::Out) => "out of tolerance",
        _ => verdict(judged).1,
    };
    format!("{words}, {judged}")
}

/// The parts of the page that change.
pub(super) fn html(report: &Report, options: &Options, token: &str) -> Html {
    Html {
        latest: latest(report, options, token).into_string(),
        dial: dial_table(report, options).into_string(),
        shots: shots(report, options, token).into_string(),
    }
}

fn latest(report: &Report, options: &Options, token: &str) -> Markup {
    let centre = at_centre(report, options);
    let Some(shot) = centre.into_iter().max_by_key(|shot| shot.release) else {
        return html! { p.empty { "No shot yet. Cock and release the shutter; begin with a slow speed, which shows how bright the lamp is." } };
    };
    let (class, word) = verdict(shot.verdict(options));
    html! {
        p.reading {
            span.n { "Shot " (shot.release) " at" }
            span.mark-fired { (mark_of(shot)) }
            span.time { (shot_time(shot)) }
            @if let Some(error) = shot.error_stops { span { (off_by(shot, error.to_stops())) } }
            @if shot.struck { span.what { "struck" } } @else { span class={ "verdict " (class) } { (word) } }
        }
        (beside(report, shot))
        @if !shot.flags.is_empty() { p.aside { (sentence(&words::flags(&shot.flags))) } }
        div.chart { (PreEscaped(drawings::trace(shot))) }
        p { a.button target="_blank" href=(urls::live_trace(token, shot.n)) { "Look closely" span.unseen { " at shot " (shot.n) ", in a new tab" } } }
    }
}

/// The times at the other sensors of the same release.
fn beside(report: &Report, shot: &Shot) -> Markup {
    let others: Vec<String> = report
        .shots
        .iter()
        .filter(|other| other.release == shot.release && other.x_mm != shot.x_mm)
        .filter_map(|other| {
            let place = number::figure(other.x_mm?.to_mm(), None, "mm");
            Some(format!("at {place} {}", shot_time(other)))
        })
        .collect();
    let place = shot.x_mm.map(|x| number::figure(x.to_mm(), None, "mm"));
    html! {
        @if let (Some(place), false) = (place, others.is_empty()) {
            p.beside { "This is the time at " (place) ", nearest the middle; " (others.join(", ")) "." }
        }
    }
}

fn off_by(shot: &Shot, error: f64) -> String {
    let relative = shot.uncertainty_s.zip(shot.effective_s);
    let uncertainty = relative.map(|(u, time)| u.to_s() / time.to_s() / std::f64::consts::LN_2);
    format!("{} stops", number::stops_off(error, uncertainty))
}

fn dial_table(report: &Report, options: &Options) -> Markup {
    let centre = at_centre(report, options);
    let mut marks = dial(options);
    if options.speeds.is_empty() {
        marks.retain(|mark| report.shots.iter().any(|shot| shot.marked == Some(*mark)));
    }
    let findings = report
        .findings
        .iter()
        .filter(|it| !matches!(it.what, FindingKind::Missing { .. }));
    html! {
        div.table-wrap { table.dial {
            thead { tr { th { "Mark" } th.num.means { "Means" } th { "Shots, off by stops" } th.num { "Mean" } th.num { "Off by, stops" } th.num { "Spread" } th { "Verdict" } } }
            tbody {
                @for mark in marks {
                    @let speed = report.speeds.iter().find(|speed| speed.marked == mark);
                    tr {
                        th scope="row" { (mark) }
                        td.num.means { (number::exposure(mark.nominal(options.series).to_s(), None)) }
                        td.shots-at { @for shot in centre.iter().filter(|shot| shot.marked == Some(mark)) { (shot_at(shot)) } }
                        (figures(speed, centre.iter().any(|shot| shot.marked == Some(mark))))
                    }
                }
            }
        } }
        (frame::tables(report))
        @if report.findings.iter().any(|it| !matches!(it.what, FindingKind::Missing { .. })) {
            ul.findings { @for finding in findings { li { (sentence(&finding_in_words(finding))) } } }
        }
    }
}

fn shot_at(shot: &Shot) -> Markup {
    let error = shot
        .error_stops
        .map(|error| number::stops(error.to_stops()))
        .unwrap_or_default();
    html! { span class=(if shot.struck { "at struck" } else { "at" }) title={ "shot " (shot.release) ", " (shot_time(shot)) } { (error) } " " }
}

fn figures(speed: Option<&Speed>, fired: bool) -> Markup {
    let Some(speed) = speed else {
        let word = if fired {
            "no shot counts"
        } else {
            "not fired yet"
        };
        return html! { td.num {} td.num {} td.num {} td { span.quiet-text { (word) } } };
    };
    let (class, word) = verdict(speed.verdict);
    html! {
        td.num { (number::exposure(speed.mean_s.to_s(), None)) }
        td.num { (number::stops_off(speed.error_stops.to_stops(), Some(speed.uncertainty_stops.to_stops()))) }
        td.num { @if let Some(spread) = speed.spread_s { (number::exposure(spread.to_s(), None)) } }
        td { span class={ "verdict " (class) } { (word) } (doubt(speed)) }
    }
}

fn shots(report: &Report, options: &Options, token: &str) -> Markup {
    html! {
        ol.lines.shots-heard.as-heard {
            @for shot in at_centre(report, options).into_iter().rev() {
                @let (class, word) = verdict(shot.verdict(options));
                li { div.row {
                    span.what.struck[shot.struck] { "Shot " (shot.release) ", " (mark_of(shot)) }
                    span.struck[shot.struck] { (shot_time(shot)) }
                    span.struck[shot.struck] { @if let Some(error) = shot.error_stops { (off_by(shot, error.to_stops())) } }
                    @if shot.struck { span.what { "struck" } } @else { span class={ "verdict " (class) } { (word) } }
                    div.more-of { (beside(report, shot)) @if !shot.flags.is_empty() { p.aside { (sentence(&words::flags(&shot.flags))) } } }
                    span.act {
                        a.button.quiet target="_blank" href=(urls::live_trace(token, shot.n)) { "Look closely" span.unseen { " at shot " (shot.n) ", in a new tab" } }
                        button type="button" id={ "strike-" (shot.n) } data-strike=(shot.start_s.to_s()) data-struck=(!shot.struck) {
                            @if shot.struck { "Count again" } @else { "Strike" }
                            span.unseen { " shot " (shot.release) }
                        }
                    }
                } }
            }
        }
    }
}
