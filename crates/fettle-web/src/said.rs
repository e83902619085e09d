//! What the mechanic says of shots that were measured already: at which mark they were fired, and which do not count.

use fettle_measure::Marked;
use fettle_measure::shutter::{Options, Report, Said, Shot};
use maud::{Markup, html};

use crate::form::{Fields, Form, Wrong};
use crate::shutter::shot_time;
use crate::{number, words};

/// The marks that can have been fired, slowest first: the dial's, or the common ones when it is not known.
pub(crate) fn dial(options: &Options) -> Vec<Marked> {
    if options.speeds.is_empty() {
        return Marked::common_dial();
    }
    let mut dial = options.speeds.clone();
    dial.sort_by(|a, b| b.cmp(a));
    dial.dedup();
    dial
}

/// Every release with what was measured and, where it is known how the recording was read, its [`word`]; `closely` gives
/// the address of a shot's samples.
pub(crate) fn shots(
    form: &Form,
    report: &Report,
    options: Option<&Options>,
    closely: impl Fn(&Shot) -> String,
) -> Markup {
    let marks = options.map(dial).unwrap_or_default();
    html! {
        ol.lines.shots-heard {
            @for release in releases(report) {
                li.release {
                    div.of-release { @for shot in release { (line(shot, &closely(shot))) } }
                    @if let (Some(first), Some(_)) = (release.first(), options) { (word(form, first, &marks)) }
                }
            }
        }
    }
}

/// The mark a shot was at, and whether the mechanic said so.
pub(crate) fn mark_of(shot: &Shot) -> String {
    match shot.marked {
        Some(mark) if shot.told => format!("{mark} s (said)"),
        Some(mark) => format!("{mark} s"),
        None => "no mark".to_owned(),
    }
}

fn line(shot: &Shot, closely: &str) -> Markup {
    html! {
        div.row {
            span {
                span class=[shot.struck.then_some("struck")] {
                    span.what {
                        @if let Some(x) = shot.x_mm { "Release " (shot.release) " at " (number::figure(x.to_mm(), None, "mm")) } @else { "Shot " (shot.n) }
                        ", " (mark_of(shot))
                    }
                    "  " (shot_time(shot))
                }
                @if shot.struck { " " span.what { "struck, not counted" } }
                @if !shot.flags.is_empty() { div.aside { (words::flags(&shot.flags)) } }
            }
            a.button.quiet href=(closely) { "Look closely" span.unseen { " at shot " (shot.n) } }
        }
    }
}

/// The fields of the release that `shot` is the first of.
pub(crate) fn word(form: &Form, shot: &Shot, marks: &[Marked]) -> Markup {
    let release = shot.release;
    let (mark, strike) = (name(MARK, release), name(STRIKE, release));
    let id = form.field_id(&mark);
    let told = shot.marked.filter(|_| shot.told).map(|it| it.to_string());
    let chosen = form.value(&mark, told.as_deref().unwrap_or_default());
    let struck = if form.is_returned() {
        !form.value(&strike, "").is_empty()
    } else {
        shot.struck
    };
    html! {
        div.said-of {
            label for=(id) { "Fired at" span.unseen { ", shot " (release) } }
            select id=(id) name=(mark) {
                option value="" { "as recognised" }
                @for mark in marks { @let mark = mark.to_string(); option value=(mark) selected[mark == chosen] { (mark) " s" } }
            }
            label.tick { input type="checkbox" name=(strike) value="yes" checked[struck]; span { "does not count" span.unseen { ", shot " (release) } } }
        }
    }
}

/// What is to be said of each release of `report` by its fields ([`word`]), where they say anything.
///
/// # Errors
/// What is wrong with them; also when they say what was said already.
pub(crate) fn read(
    fields: &Fields,
    report: &Report,
    options: &Options,
) -> Result<Vec<Said>, Wrong> {
    let mut wrong = Wrong::default();
    let marks = dial(options);
    let mut said = Vec::new();
    for shot in releases(report).filter_map(<[Shot]>::first) {
        let field = name(MARK, shot.release);
        let marked = match fields.some(&field).map(|text| text.parse::<Marked>()) {
            None => None,
            Some(Ok(mark)) if marks.contains(&mark) => Some(mark),
            Some(_) => {
                let why = format!(
                    "shot {} was fired at no such mark: choose one of the dial's",
                    shot.release
                );
                wrong.note(field, why);
                continue;
            }
        };
        let struck = fields.ticked(&name(STRIKE, shot.release));
        if marked.is_some() || struck {
            said.push(Said {
                start_s: shot.start_s,
                struck,
                marked,
            });
        }
    }
    if wrong.is_empty() && said == options.said {
        wrong.note(
            "",
            "nothing was changed: say at which mark a shot was fired, or that it does not count",
        );
    }
    if wrong.is_empty() {
        Ok(said)
    } else {
        Err(wrong)
    }
}

const MARK: &str = "mark";
const STRIKE: &str = "strike";

fn name(what: &str, release: u32) -> String {
    format!("{what}-{release}")
}

/// The shots, release by release.
pub(crate) fn releases(report: &Report) -> impl Iterator<Item = &[Shot]> {
    report.shots.chunk_by(|a, b| a.release == b.release)
}
