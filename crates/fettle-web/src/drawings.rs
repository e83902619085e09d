//! Charts and drawings for the pages, from the types that hold their figures.

use fettle_bench::{BenchError, InstrumentReport, ReadingTaken, instrument_report};
use fettle_draw::{
    Fastener, FastenerKind, NutForm, ScrewHead, Sheet, SpeedChart, StockFan, StockFanPoint, Trace,
    meter_chart, rangefinder_chart, register_chart, speed_chart, stock_fan, teeth_overlay,
    trace_chart, trace_pair,
};
use fettle_measure::Marked;
use fettle_measure::shutter::{Report, Shot};
use fettle_notes::{Hand, Head, Removal};
use fettle_reason::demand::Forecast;
use jiff::civil::Date;
use maud::{Markup, PreEscaped, html};

use crate::words;

/// The marks that either report has figures for, slowest first.
pub(crate) fn marks(before: Option<&Report>, after: Option<&Report>) -> Vec<Marked> {
    let speeds = [before, after]
        .into_iter()
        .flatten()
        .flat_map(|report| &report.speeds);
    let mut marks: Vec<Marked> = speeds.map(|speed| speed.marked).collect();
    marks.sort_by(|a, b| b.cmp(a));
    marks.dedup();
    marks
}

/// Errors of the speeds against their limits: of one session, or before and after the work.
pub(crate) fn speeds(before: Option<&Report>, after: Option<&Report>) -> String {
    let chart = match (before, after) {
        (Some(before), Some(after)) => SpeedChart::before_and_after(&before.speeds, &after.speeds),
        (Some(only), None) | (None, Some(only)) => SpeedChart::of_session(&only.speeds),
        (None, None) => SpeedChart::default(),
    };
    speed_chart(&chart, Sheet::Inherit)
}

/// What is left of a part in the time to come.
pub(crate) fn outlook(part: &str, forecast: &Forecast) -> String {
    let points = forecast.fan.iter().map(|point| StockFanPoint {
        year: year(point.date),
        p10: f64::from(point.p10),
        p25: f64::from(point.p25),
        p50: f64::from(point.p50),
        p75: f64::from(point.p75),
        p90: f64::from(point.p90),
    });
    let out = forecast.runs_out;
    let fan = StockFan {
        title: part.to_owned(),
        points: points.collect(),
        until: Some((year(forecast.until), forecast.lasts_probability)),
        runs_out: [out.p10, out.p50, out.p90].map(|date| date.map(year)),
    };
    stock_fan(&fan, Sheet::Inherit)
}

/// A day as a year with its fraction.
fn year(date: Date) -> f64 {
    let through = f64::from(date.day_of_year() - 1) / f64::from(date.days_in_year());
    f64::from(date.year()) + through
}

/// One shot's opening against time.
pub(crate) fn trace(shot: &Shot) -> String {
    let marked = shot
        .marked
        .map_or_else(|| "no mark".to_owned(), |mark| format!("{mark} s"));
    trace_chart(
        &format!("Shot {}, {marked}", shot.n),
        &Trace::from(shot),
        Sheet::Inherit,
    )
}

/// A shot at one mark before and after the work.
pub(crate) fn traces(mark: Marked, before: Option<&Report>, after: Option<&Report>) -> String {
    let shot = |report: Option<&Report>| report?.typical_shot(mark).map(Trace::from);
    let (before, after) = (shot(before), shot(after));
    trace_pair(
        &format!("{mark} s"),
        before.as_ref(),
        after.as_ref(),
        Sheet::Inherit,
    )
}

/// The fasteners of a removal, each drawn to scale with its note, or in words where it has no drawing.
pub(crate) fn fasteners(removal: &Removal) -> Markup {
    html! {
        @if !removal.fasteners.is_empty() {
            div.fasteners {
                @for noted in &removal.fasteners {
                    figure {
                        @if let Some(svg) = fastener(noted) {
                            div.drawing { (PreEscaped(svg)) }
                            @if let Some(note) = &noted.note { figcaption { (note) } }
                        } @else {
                            figcaption { (words::fastener(noted)) }
                        }
                    }
                }
            }
        }
    }
}

/// A fastener drawn to scale; `None` for kinds that have no drawing, such as glue.
fn fastener(noted: &fettle_notes::Fastener) -> Option<String> {
    let kind = match noted.kind {
        fettle_notes::FastenerKind::Screw => FastenerKind::Screw(screw_head(noted.head)),
        fettle_notes::FastenerKind::Nut => FastenerKind::Nut(nut_form(noted.head)),
        fettle_notes::FastenerKind::Ring => FastenerKind::Ring,
        fettle_notes::FastenerKind::Pin => FastenerKind::Pin,
        _ => return None,
    };
    let fastener = Fastener {
        kind,
        thread: noted.thread.clone().unwrap_or_default(),
        length_mm: noted.length_mm,
        count: noted.count,
        left_hand: noted.handed == Hand::Left,
    };
    Some(fettle_draw::fastener(&fastener, Sheet::Inherit))
}

/// The notes may leave the head out; a cheese head is the commonest in cameras.
fn screw_head(head: Option<Head>) -> ScrewHead {
    match head {
        Some(Head::Countersunk) => ScrewHead::Countersunk,
        Some(Head::Pan) => ScrewHead::Pan,
        Some(Head::Round) => ScrewHead::Round,
        Some(Head::Hexagon) => ScrewHead::Hexagon,
        Some(Head::FaceSpanner) => ScrewHead::FaceSpanner,
        Some(Head::Headless) => ScrewHead::Headless,
        Some(Head::Cheese | Head::Slotted) | None => ScrewHead::Cheese,
    }
}

fn nut_form(head: Option<Head>) -> NutForm {
    match head {
        Some(Head::FaceSpanner) => NutForm::FaceSpanner,
        Some(Head::Slotted) => NutForm::Slotted,
        _ => NutForm::Hexagon,
    }
}

/// A chart with the words for it.
pub(crate) struct Chart {
    pub(crate) svg: String,
    pub(crate) alt: &'static str,
}

/// The chart of a reading that came from a run; `None` for one that was typed in.
///
/// # Errors
/// When the stored report cannot be read.
pub(crate) fn of_instrument(
    reading: &ReadingTaken,
    sheet: Sheet,
) -> Result<Option<Chart>, BenchError> {
    let chart = instrument_report(reading)?.map(|report| match report {
        InstrumentReport::Meter(report) => Chart {
            svg: meter_chart(&report, sheet),
            alt: "Errors of the exposure meter over the light.",
        },
        InstrumentReport::Register(report) => Chart {
            svg: register_chart(&report, sheet),
            alt: "The film gate with the depths read and the plane through them.",
        },
        InstrumentReport::Rangefinder(report) => Chart {
            svg: rangefinder_chart(&report, sheet),
            alt: "Errors of the rangefinder in depths over the distance.",
        },
        InstrumentReport::Teeth(kept) => Chart {
            svg: teeth_overlay(&kept.report, None, sheet),
            alt: "The teeth as photographed, with what each has lost.",
        },
    });
    Ok(chart)
}
