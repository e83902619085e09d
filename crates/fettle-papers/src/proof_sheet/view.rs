//! The proof sheet as its template sets it: every figure written out, every drawing drawn.

use fettle_draw::{
    Mark, Sheet, SpeedChart, SpeedColumn, SpeedReading, WrittenTime, shortest_decimals,
    speed_chart, trace_pair, verdict_mark, written_stops,
};
use fettle_measure::Verdict;
use serde::Serialize;

use super::{
    Exposure, InstrumentProof, Limit, Measured, ProofSheet, ReadingProof, SpeedProof,
    exposure_correction,
};
use crate::drawn::in_language;
use crate::figure::{Figure, NOTHING, align, decimals_of, written};
use crate::language::Language;
use crate::paper_size::PaperSize;
use crate::setup::{Setup, Titles};
use crate::words::Words;

#[derive(Debug, Serialize)]
pub(super) struct View<'a> {
    #[serde(flatten)]
    setup: Setup<'a>,
    visit: String,
    owner: String,
    camera: String,
    serials: Vec<(String, String)>,
    arrived: Option<String>,
    proved: Option<String>,
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
    out: bool,
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

impl<'a> View<'a> {
    pub(super) fn new(sheet: &'a ProofSheet, size: PaperSize) -> Self {
        let language = sheet.language;
        let words = Words::of(language);
        let speeds = speed_rows(&sheet.speeds, language);
        let instruments: Vec<Instrument> = sheet
            .instruments
            .iter()
            .map(|proof| Instrument::new(proof, language))
            .collect();
        let has_verdicts = speeds.iter().any(|r| r.verdict.is_some())
            || instruments
                .iter()
                .flat_map(|i| &i.rows)
                .any(|r| r.verdict.is_some());
        let camera = sheet.camera.name();
        let titles = Titles::new(
            words,
            ("proof.document", "proof.foot"),
            &sheet.bench.name,
            &sheet.visit,
            &camera,
        );
        Self {
            setup: Setup::new(
                language,
                size,
                sheet.issued,
                &sheet.bench,
                titles,
                &["proof"],
            ),
            visit: sheet.visit.clone(),
            owner: sheet.owner.clone(),
            camera,
            serials: sheet.camera.serials.clone(),
            arrived: sheet.arrived.map(|day| language.day(day)),
            proved: sheet.proved.map(|day| language.day(day)),
            signed_by: sheet.signed_by.clone(),
            done: sheet.done.clone(),
            speeds,
            speed_chart: (!sheet.speeds.is_empty())
                .then(|| speed_chart(&chart_of(&sheet.speeds, words), Sheet::Light))
                .map(|chart| in_language(chart, language)),
            traces: sheet
                .traces
                .iter()
                .map(|t| {
                    let label = words.fill("proof.trace_of", &[("marked", t.marked.clone())]);
                    let (before, after) = (t.before.as_ref(), t.after.as_ref());
                    in_language(trace_pair(&label, before, after, Sheet::Light), language)
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

fn speed_rows(speeds: &[SpeedProof], language: Language) -> Vec<SpeedRow> {
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
            verdict: speed.verdict.map(|verdict| Judged::new(verdict, language)),
        })
        .collect();
    align_readings(rows.iter_mut().map(|r| &mut r.before));
    align_readings(rows.iter_mut().map(|r| &mut r.after));
    align(rows.iter_mut().map(|r| &mut r.limit));
    for row in &mut rows {
        row.before.localise(language);
        row.after.localise(language);
        row.limit.localise(language);
    }
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

    fn localise(&mut self, language: Language) {
        for figure in [&mut self.value, &mut self.error, &mut self.uncertainty] {
            figure.localise(language);
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
    fn new(verdict: Verdict, language: Language) -> Self {
        let word = match verdict {
            Verdict::In => "proof.verdict_in",
            Verdict::Out => "proof.verdict_out",
            Verdict::Undecided => "proof.verdict_undecided",
        };
        Self {
            word: Words::of(language).say(word),
            out: verdict == Verdict::Out,
            mark: verdict_mark(verdict, Sheet::Light),
        }
    }
}

impl Instrument {
    fn new(proof: &InstrumentProof, language: Language) -> Self {
        let mut rows: Vec<ReadingRow> = proof
            .readings
            .iter()
            .map(|reading| ReadingRow::new(reading, language))
            .collect();
        align_readings(rows.iter_mut().map(|r| &mut r.before));
        align_readings(rows.iter_mut().map(|r| &mut r.after));
        for row in &mut rows {
            row.before.localise(language);
            row.after.localise(language);
        }
        Self {
            name: proof.name.clone(),
            rows,
            charts: proof
                .charts
                .iter()
                .map(|it| Chart {
                    svg: in_language(it.svg.clone(), language),
                    alt: it.alt.clone(),
                })
                .collect(),
        }
    }
}

impl ReadingRow {
    fn new(proof: &ReadingProof, language: Language) -> Self {
        let width = proof.limit.map(|limit| match limit {
            Limit::Within { deviation, .. } => deviation,
            Limit::AtMost(bound) | Limit::AtLeast(bound) => bound.abs(),
        });
        Self {
            name: proof.name.clone(),
            unit: proof.unit.clone(),
            before: Reading::of_measured(proof.before, width),
            after: Reading::of_measured(proof.after, width),
            limit: proof.limit.map_or_else(
                || NOTHING.to_owned(),
                |it| language.figure(&limit_in_words(it)),
            ),
            verdict: proof.verdict.map(|verdict| Judged::new(verdict, language)),
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

fn chart_of(speeds: &[SpeedProof], words: &Words) -> SpeedChart {
    let any_before = speeds.iter().any(|s| s.before.is_some());
    let any_after = speeds.iter().any(|s| s.after.is_some());
    let mut series = Vec::new();
    if any_before {
        series.push((words.say("proof.before").to_owned(), Mark::OpenCircle));
    }
    if any_after {
        series.push((words.say("proof.after").to_owned(), Mark::FilledSquare));
    }
    let reading = |exposure: Option<Exposure>| {
        exposure.map(|e| SpeedReading {
            error_stops: e.error_stops,
            uncertainty_stops: e.uncertainty_stops,
        })
    };
    SpeedChart {
        title: words.say("proof.chart").to_owned(),
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
    let language = sheet.language;
    let words = Words::of(language);
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
        let way = match exposure.error_stops {
            error if !error.is_finite() => "proof.outside",
            error if error > 0.0 => "proof.runs_longer",
            _ => "proof.runs_shorter",
        };
        let amount = written(exposure.error_stops.abs(), 2);
        let with = [
            ("marked", speed.marked.clone()),
            ("stops", language.figure(&amount)),
        ];
        Some(Fallen {
            what: words.fill(way, &with),
            correction: exposure_correction(language, &speed.marked, exposure.error_stops),
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
