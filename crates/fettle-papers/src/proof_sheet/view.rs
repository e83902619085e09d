//! The proof sheet as its template sets it: every figure written out, every drawing drawn.

use fettle_draw::{
    Mark, Sheet, SpeedChart, SpeedColumn, SpeedReading, WrittenTime, shortest_decimals,
    speed_chart, trace_pair, verdict_mark, verdict_word, written_stops,
};
use fettle_measure::Verdict;
use jiff::civil::Date;
use serde::Serialize;

use super::{
    Exposure, InstrumentProof, Limit, Measured, ProofSheet, ReadingProof, SpeedProof,
    exposure_correction,
};
use crate::figure::{Figure, NOTHING, align, decimals_of, written};
use crate::paper_size::PaperSize;

#[derive(Debug, Serialize)]
pub(super) struct View {
    paper: &'static str,
    year: i16,
    month: i8,
    day: i8,
    bench: String,
    lines: Vec<String>,
    foot: String,
    visit: String,
    owner: String,
    camera: String,
    serials: Vec<(String, String)>,
    arrived: Option<String>,
    proved: Option<String>,
    issued: String,
    signed_by: String,
    done: Vec<String>,
    speeds: Vec<SpeedRow>,
    speed_chart: Option<String>,
    traces: Vec<String>,
    instruments: Vec<Instrument>,
    not_brought_back: Vec<Fallen>,
    cautions: Vec<String>,
    methods: Vec<String>,
    remarks: Vec<String>,
    has_verdicts: bool,
}

#[derive(Debug, Serialize)]
struct SpeedRow {
    marked: String,
    before: Reading,
    after: Reading,
    limit: Figure,
    verdict: Option<Judged>,
}

/// One reading's figures: the value, its unit where it changes from row to row, the error, the uncertainty.
#[derive(Debug, Serialize)]
struct Reading {
    measured: bool,
    value: Figure,
    unit: &'static str,
    error: Figure,
    uncertainty: Figure,
}

#[derive(Debug, Serialize)]
struct Judged {
    word: &'static str,
    mark: String,
}

#[derive(Debug, Serialize)]
struct Instrument {
    name: String,
    rows: Vec<ReadingRow>,
    charts: Vec<Chart>,
}

#[derive(Debug, Serialize)]
struct Chart {
    svg: String,
    alt: String,
}

#[derive(Debug, Serialize)]
struct ReadingRow {
    name: String,
    unit: String,
    before: Reading,
    after: Reading,
    limit: String,
    verdict: Option<Judged>,
}

#[derive(Debug, Serialize)]
struct Fallen {
    what: String,
    correction: Option<String>,
}

impl View {
    pub(super) fn new(sheet: &ProofSheet, size: PaperSize) -> Self {
        let speeds = speed_rows(&sheet.speeds);
        let instruments: Vec<Instrument> = sheet.instruments.iter().map(Instrument::new).collect();
        let has_verdicts = speeds.iter().any(|r| r.verdict.is_some())
            || instruments
                .iter()
                .flat_map(|i| &i.rows)
                .any(|r| r.verdict.is_some());
        let camera = format!("{} {}", sheet.camera.maker, sheet.camera.model);
        let foot = [
            shortened(&sheet.bench.name, 48),
            format!("proof sheet, visit {}", shortened(&sheet.visit, 16)),
            shortened(camera.trim(), 48),
        ];
        Self {
            paper: size.name(),
            year: sheet.issued.year(),
            month: sheet.issued.month(),
            day: sheet.issued.day(),
            bench: sheet.bench.name.clone(),
            lines: sheet.bench.lines.clone(),
            foot: foot.join("  ·  "),
            visit: sheet.visit.clone(),
            owner: sheet.owner.clone(),
            camera: camera.trim().to_owned(),
            serials: sheet.camera.serials.clone(),
            arrived: sheet.arrived.map(day_in_words),
            proved: sheet.proved.map(day_in_words),
            issued: day_in_words(sheet.issued),
            signed_by: sheet.signed_by.clone(),
            done: sheet.done.clone(),
            speeds,
            speed_chart: (!sheet.speeds.is_empty())
                .then(|| speed_chart(&chart_of(&sheet.speeds), Sheet::Light)),
            traces: sheet
                .traces
                .iter()
                .map(|t| {
                    let label = format!("{} s", t.marked);
                    trace_pair(&label, t.before.as_ref(), t.after.as_ref(), Sheet::Light)
                })
                .collect(),
            instruments,
            not_brought_back: fallen(sheet),
            cautions: sheet.cautions.clone(),
            methods: sheet.methods.clone(),
            remarks: sheet.remarks.clone(),
            has_verdicts,
        }
    }
}

/// The beginning of a text that is too long for a line.
fn shortened(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        return text.to_owned();
    }
    let beginning: String = text.chars().take(most).collect();
    format!("{}…", beginning.trim_end())
}

/// `25 November 2026`.
pub(crate) fn day_in_words(day: Date) -> String {
    day.strftime("%-d %B %Y").to_string()
}

fn speed_rows(speeds: &[SpeedProof]) -> Vec<SpeedRow> {
    let mut rows: Vec<SpeedRow> = speeds
        .iter()
        .map(|speed| SpeedRow {
            marked: speed.marked.clone(),
            before: Reading::of_exposure(speed.before),
            after: Reading::of_exposure(speed.after),
            limit: speed
                .limit_stops
                .filter(|l| l.is_finite())
                .map_or_else(Figure::nothing, |l| {
                    let decimals = shortest_decimals(l, 2).max(2);
                    Figure::new(format!("±{}", written(l, decimals)))
                }),
            verdict: speed.verdict.map(Judged::new),
        })
        .collect();
    align_readings(rows.iter_mut().map(|r| &mut r.before));
    align_readings(rows.iter_mut().map(|r| &mut r.after));
    align(rows.iter_mut().map(|r| &mut r.limit));
    rows
}

/// Aligns the values, the errors and the uncertainties of a column of readings.
fn align_readings<'a>(column: impl Iterator<Item = &'a mut Reading>) {
    let mut column: Vec<&mut Reading> = column.collect();
    align(column.iter_mut().map(|r| &mut r.value));
    align(column.iter_mut().map(|r| &mut r.error));
    align(column.iter_mut().map(|r| &mut r.uncertainty));
}

impl Reading {
    fn nothing() -> Self {
        Self {
            measured: false,
            value: Figure::nothing(),
            unit: "",
            error: Figure::nothing(),
            uncertainty: Figure::nothing(),
        }
    }

    fn of_exposure(exposure: Option<Exposure>) -> Self {
        let Some(exposure) = exposure else {
            return Self::nothing();
        };
        // A small change in stops is a change of ln 2 times as much of the time itself.
        let uncertainty_s = exposure
            .uncertainty_stops
            .map(|u| u * std::f64::consts::LN_2 * exposure.effective_s);
        let Some(time) = WrittenTime::new(exposure.effective_s, uncertainty_s) else {
            return Self::nothing();
        };
        let error = if exposure.error_stops.is_finite() {
            written_stops(exposure.error_stops)
        } else {
            NOTHING.to_owned()
        };
        Self {
            measured: true,
            value: Figure::new(time.figure),
            unit: time.unit,
            error: Figure::new(error),
            uncertainty: Figure::new(
                exposure
                    .uncertainty_stops
                    .filter(|u| u.is_finite())
                    .map_or_else(|| NOTHING.to_owned(), written_uncertainty),
            ),
        }
    }

    fn of_measured(measured: Option<Measured>, limit: Option<f64>) -> Self {
        let Some(Measured { value, uncertainty }) = measured else {
            return Self::nothing();
        };
        let decimals = decimals_of(value, uncertainty, limit);
        Self {
            measured: true,
            value: Figure::new(written(value, decimals)),
            uncertainty: Figure::new(
                uncertainty
                    .filter(|u| u.is_finite())
                    .map_or_else(|| NOTHING.to_owned(), |u| written(u, decimals)),
            ),
            ..Self::nothing()
        }
    }
}

/// Two decimals, as the error has. A smaller uncertainty has three and is rounded up, never to nothing (GUM 7.2.6).
fn written_uncertainty(stops: f64) -> String {
    if stops.abs() < 0.005 {
        written((stops * 1e3).ceil() / 1e3, 3)
    } else {
        written(stops, 2)
    }
}

impl Judged {
    fn new(verdict: Verdict) -> Self {
        Self {
            word: verdict_word(verdict),
            mark: verdict_mark(verdict, Sheet::Light),
        }
    }
}

impl Instrument {
    fn new(proof: &InstrumentProof) -> Self {
        let mut rows: Vec<ReadingRow> = proof.readings.iter().map(ReadingRow::new).collect();
        align_readings(rows.iter_mut().map(|r| &mut r.before));
        align_readings(rows.iter_mut().map(|r| &mut r.after));
        Self {
            name: proof.name.clone(),
            rows,
            charts: proof
                .charts
                .iter()
                .map(|it| Chart {
                    svg: it.svg.clone(),
                    alt: it.alt.clone(),
                })
                .collect(),
        }
    }
}

impl ReadingRow {
    fn new(proof: &ReadingProof) -> Self {
        let width = proof.limit.map(|limit| match limit {
            Limit::Within { deviation, .. } => deviation,
            Limit::AtMost(bound) | Limit::AtLeast(bound) => bound.abs(),
        });
        Self {
            name: proof.name.clone(),
            unit: proof.unit.clone(),
            before: Reading::of_measured(proof.before, width),
            after: Reading::of_measured(proof.after, width),
            limit: proof
                .limit
                .map_or_else(|| NOTHING.to_owned(), limit_in_words),
            verdict: proof.verdict.map(Judged::new),
        }
    }
}

fn limit_in_words(limit: Limit) -> String {
    let short = |value: f64| written(value, shortest_decimals(value, 2));
    match limit {
        Limit::Within { target, deviation } => {
            let decimals = shortest_decimals(deviation, 2).max(shortest_decimals(target, 4).min(4));
            if target == 0.0 {
                format!("±{}", written(deviation, decimals))
            } else {
                format!(
                    "{} ± {}",
                    written(target, decimals),
                    written(deviation, decimals)
                )
            }
        }
        Limit::AtMost(bound) => format!("≤ {}", short(bound)),
        Limit::AtLeast(bound) => format!("≥ {}", short(bound)),
    }
}

fn chart_of(speeds: &[SpeedProof]) -> SpeedChart {
    let any_before = speeds.iter().any(|s| s.before.is_some());
    let any_after = speeds.iter().any(|s| s.after.is_some());
    let mut series = Vec::new();
    if any_before {
        series.push(("before".to_owned(), Mark::OpenCircle));
    }
    if any_after {
        series.push(("after".to_owned(), Mark::FilledSquare));
    }
    let reading = |exposure: Option<Exposure>| {
        exposure.map(|e| SpeedReading {
            error_stops: e.error_stops,
            uncertainty_stops: e.uncertainty_stops,
        })
    };
    SpeedChart {
        title: "Errors of the marked speeds in stops, before and after, with their limits"
            .to_owned(),
        series,
        speeds: speeds
            .iter()
            .map(|s| SpeedColumn {
                marked: s.marked.clone(),
                limit_stops: s.limit_stops,
                readings: [(any_before, s.before), (any_after, s.after)]
                    .into_iter()
                    .filter(|(any, _)| *any)
                    .map(|(_, exposure)| reading(exposure))
                    .collect(),
            })
            .collect(),
    }
}

/// The speeds that are still out, with the correction to use, then what else could not be brought back. A speed that the mechanic
/// speaks of is left to the mechanic's words.
fn fallen(sheet: &ProofSheet) -> Vec<Fallen> {
    let said = |marked: &str| {
        sheet
            .not_brought_back
            .iter()
            .any(|shortfall| names_mark(&shortfall.what, marked))
    };
    let unsaid = sheet.speeds.iter().filter(|speed| !said(&speed.marked));
    let speeds = unsaid.filter_map(|speed| {
        let exposure = speed
            .after
            .filter(|_| speed.verdict == Some(Verdict::Out))?;
        let way = if exposure.error_stops > 0.0 {
            "longer"
        } else {
            "shorter"
        };
        let amount = written(exposure.error_stops.abs(), 2);
        Some(Fallen {
            what: if exposure.error_stops.is_finite() {
                format!("{} s runs {amount} stop {way} than marked", speed.marked)
            } else {
                format!("{} s is outside its limit", speed.marked)
            },
            correction: exposure_correction(&speed.marked, exposure.error_stops),
        })
    });
    let others = sheet.not_brought_back.iter().map(|shortfall| Fallen {
        what: shortfall.what.clone(),
        correction: shortfall.correction.clone(),
    });
    speeds.chain(others).collect()
}

/// Whether a text names a fraction of the dial such as `1/500`; whole seconds are not told from other numbers.
fn names_mark(text: &str, marked: &str) -> bool {
    let is_figure = |c: char| c.is_ascii_digit() || c == '/';
    marked.contains('/')
        && text
            .split(|c: char| !is_figure(c))
            .any(|word| word == marked)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mark_is_named_as_a_whole_word_only() {
        assert!(names_mark("1/500 is slower than marked", "1/500"));
        assert!(names_mark("both 1/250 and 1/500, alas", "1/250"));
        assert!(!names_mark("1/500 is slower", "1/50"));
        assert!(!names_mark("off by 1 stop", "1"));
    }

    #[test]
    fn a_small_uncertainty_is_never_written_as_nothing() {
        assert_eq!(written_uncertainty(0.000_2), "0.001");
        assert_eq!(written_uncertainty(0.0031), "0.004");
        assert_eq!(written_uncertainty(0.07), "0.07");
    }
}
