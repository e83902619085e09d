//! The proof sheet and the correction card: what a visit measured.

use fettle_bench::{
    BenchError, Instrument, InstrumentReport, Phase, Reading, ReadingRow, Stage, VisitLine,
    VisitView, instrument_report, shutter_report,
};
use fettle_draw::Sheet;
use fettle_measure::meter;
use fettle_measure::shutter::{
    FlashAtMark, FrameAtMark, Mean, Report, flash_by_mark, frames_by_mark,
};
use fettle_measure::{Marked, Seconds, Stops, Verdict as Decided};
use fettle_notes::ServiceNotes;
use fettle_papers::{
    ChartProof, CorrectionCard, Exposure, InstrumentProof, Limit, Measured, Pdf, ProofSheet,
    ReadingProof, SpeedProof, TraceProof,
};
use jiff::civil::Date;
use jiff::tz::TimeZone;

use super::From;
use crate::drawings;
use crate::error::sentence;
use crate::number;

pub(super) fn proof_sheet(from: &From<'_>) -> Result<Pdf, String> {
    let sheet = gather(from).map_err(|error| error.to_string())?;
    fettle_papers::proof_sheet(&sheet, from.size).map_err(|error| error.to_string())
}

/// The paper with the correction card, from the last reading of the meter that has a card.
pub(super) fn correction_card(from: &From<'_>) -> Result<Pdf, String> {
    let view = from.view;
    let report = meter_report(view).map_err(|error| error.to_string())?.ok_or(
        "there is no card to make: take a run of the meter’s readings first, under “Settings and proof”",
    )?;
    let camera = from.camera();
    let name = format!("{} {}", camera.maker, camera.model);
    let mut remarks: Vec<String> = report
        .findings
        .iter()
        .map(|it| sentence(&it.describe()))
        .collect();
    if let (Some(first), Some(last)) = (report.usable_from_ev, report.usable_to_ev) {
        remarks.push(format!(
            "Without the card it is right within {} stops from EV {first:.1} to EV {last:.1}.",
            report.limit_stops
        ));
    }
    let serial = view.camera.details.serial();
    let of = format!("{} {serial}, {}", name.trim(), number::date(from.today));
    let drawn = fettle_draw::CorrectionCard::of_meter(&report, "meter correction", &of);
    let card = CorrectionCard {
        language: from.language,
        bench: from.bench(),
        visit: from.visit(),
        card_svg: fettle_draw::correction_card(&drawn, Sheet::Light),
        camera,
        issued: from.today,
        width_mm: fettle_draw::CorrectionCard::WIDTH_MM,
        remarks,
    };
    fettle_papers::correction_card(&card, from.size).map_err(|error| error.to_string())
}

/// The report of the last reading of the meter with a card, as the camera goes home before as it came.
pub(crate) fn meter_report(view: &VisitView) -> Result<Option<meter::Report>, BenchError> {
    for phase in [Phase::After, Phase::Before] {
        let of = |reading: &Reading| reading.what.instrument == Instrument::Meter;
        let Some(reading) = last(view, phase, of) else {
            continue;
        };
        if let Some(InstrumentReport::Meter(report)) = instrument_report(&reading.what)?
            && !report.card.is_empty()
        {
            return Ok(Some(*report));
        }
    }
    Ok(None)
}

fn gather(from: &From<'_>) -> Result<ProofSheet, BenchError> {
    let (view, notes) = (from.view, from.notes);
    let shutter = |phase| {
        let of = |reading: &Reading| reading.what.instrument == Instrument::Shutter;
        last(view, phase, of).map(Session::of).transpose()
    };
    let (before, after) = (shutter(Phase::Before)?, shutter(Phase::After)?);
    let report = |session: &Option<Session<'_>>| session.as_ref().and_then(|s| s.report.clone());
    let (before_report, after_report) = (report(&before), report(&after));
    let latest = latest_readings(view);
    Ok(ProofSheet {
        language: from.language,
        bench: from.bench(),
        visit: from.visit(),
        owner: view.owner.details.name.clone(),
        camera: from.camera(),
        arrived: Some(view.arrival.arrived),
        proved: proved_on(&latest, from.zone).filter(|_| is_proved(&view.line)),
        issued: from.today,
        signed_by: String::new(),
        done: from.done(),
        speeds: speeds(before.as_ref(), after.as_ref()),
        traces: TraceProof::of_reports(before_report.as_ref(), after_report.as_ref()),
        instruments: frame_proofs(before_report.as_ref(), after_report.as_ref())
            .into_iter()
            .chain(instruments(view, notes)?)
            .collect(),
        not_brought_back: from.not_brought_back(),
        cautions: from.cautions(),
        methods: latest
            .iter()
            .filter_map(|reading| method(reading, notes))
            .collect(),
        remarks: remarks(&latest),
    })
}

fn last(view: &VisitView, phase: Phase, is: impl Fn(&Reading) -> bool) -> Option<&Reading> {
    view.readings
        .iter()
        .rev()
        .find(|reading| reading.what.phase == phase && is(reading))
}

/// What tells the readings of one thing from those of another.
fn subject(reading: &Reading) -> (Instrument, Option<&str>) {
    (reading.what.instrument, reading.what.limit_id.as_deref())
}

/// The last reading of each phase of each thing: those that the sheet shows.
fn latest_readings(view: &VisitView) -> Vec<&Reading> {
    let mut latest: Vec<&Reading> = Vec::new();
    for reading in view.readings.iter().rev() {
        let is_known = latest.iter().any(|known| {
            known.what.phase == reading.what.phase && subject(known) == subject(reading)
        });
        if !is_known {
            latest.push(reading);
        }
    }
    latest.reverse();
    latest
}

/// Whether it stands proved or went on from there; one that goes back unrepaired is packed too.
const fn is_proved(line: &VisitLine) -> bool {
    matches!(line.stage, Stage::Proved | Stage::Packed | Stage::Home) && !line.unrepaired
}

fn proved_on(latest: &[&Reading], zone: &TimeZone) -> Option<Date> {
    let after = latest
        .iter()
        .filter(|reading| reading.what.phase == Phase::After);
    let at = after.map(|reading| reading.at).max()?;
    Some(at.to_zoned_datetime(zone.clone()).date())
}

/// Exposure times of one phase: what was read, and the report behind it where they were recorded.
struct Session<'v> {
    rows: &'v [ReadingRow],
    report: Option<Report>,
}

impl<'v> Session<'v> {
    fn of(reading: &'v Reading) -> Result<Self, BenchError> {
        Ok(Self {
            rows: &reading.what.rows,
            report: shutter_report(&reading.what)?,
        })
    }

    fn row(&self, mark: Marked) -> Option<&'v ReadingRow> {
        self.rows.iter().find(|row| mark_of(row) == Some(mark))
    }

    fn exposure(&self, mark: Marked) -> Option<Exposure> {
        let row = self.row(mark)?;
        let speeds = self.report.iter().flat_map(|report| &report.speeds);
        let shots = speeds.filter(|speed| speed.marked == mark).map(|s| s.shots);
        Some(Exposure {
            effective_s: row.value?,
            error_stops: row.error?,
            uncertainty_stops: row.uncertainty,
            releases: shots.max().unwrap_or(1),
        })
    }
}

fn mark_of(row: &ReadingRow) -> Option<Marked> {
    row.name.parse().ok()
}

/// Every mark that was read, slowest first; recorded or typed in.
fn speeds(before: Option<&Session<'_>>, after: Option<&Session<'_>>) -> Vec<SpeedProof> {
    let rows = [before, after].into_iter().flatten().flat_map(|s| s.rows);
    let mut marks: Vec<Marked> = rows.filter_map(mark_of).collect();
    marks.sort_by(|a, b| b.cmp(a));
    marks.dedup();
    let proof = |mark: Marked| {
        let row = |session: Option<&Session<'_>>| session?.row(mark).cloned();
        let last = row(after).or_else(|| row(before)).unwrap_or_default();
        SpeedProof {
            marked: mark.to_string(),
            before: before.and_then(|session| session.exposure(mark)),
            after: after.and_then(|session| session.exposure(mark)),
            limit_stops: last.limit,
            verdict: last.verdict.map(Decided::from),
        }
    };
    marks.into_iter().map(proof).collect()
}

/// The curtains and the flash, mark by mark, where they were recorded.
fn frame_proofs(before: Option<&Report>, after: Option<&Report>) -> Vec<InstrumentProof> {
    let proof = |name: &str, rows: fn(&Report) -> Vec<Row>| {
        let (before, after) = (
            before.map(rows).unwrap_or_default(),
            after.map(rows).unwrap_or_default(),
        );
        let mut names: Vec<(String, &'static str)> = Vec::new();
        for row in before.iter().chain(&after) {
            let key = (row.name.clone(), row.unit);
            if !names.contains(&key) {
                names.push(key);
            }
        }
        let of = |rows: &[Row], name: &str| {
            let row = rows.iter().find(|row| row.name == name)?;
            Some(row.figure)
        };
        let readings = names.into_iter().map(|(name, unit)| ReadingProof {
            before: of(&before, &name),
            after: of(&after, &name),
            unit: unit.to_owned(),
            name,
            limit: None,
            verdict: None,
        });
        InstrumentProof {
            name: name.to_owned(),
            readings: readings.collect(),
            charts: Vec::new(),
        }
    };
    let proofs = [
        proof("Curtains, over the whole gate", curtain_rows),
        proof("Flash contact", flash_rows),
    ];
    proofs
        .into_iter()
        .filter(|proof| !proof.readings.is_empty())
        .collect()
}

/// One figure of the curtains or the flash.
struct Row {
    name: String,
    unit: &'static str,
    figure: Measured,
}

impl Row {
    fn ms(marked: Marked, name: &str, figure: Option<Mean<Seconds>>) -> Option<Self> {
        let figure = figure?;
        Some(Self {
            name: format!("{marked} s, {name}"),
            unit: "ms",
            figure: Measured {
                value: figure.mean.to_ms(),
                uncertainty: figure.uncertainty.map(Seconds::to_ms),
            },
        })
    }
}

fn curtain_rows(report: &Report) -> Vec<Row> {
    let of = |frame: FrameAtMark| {
        let marked = frame.marked;
        let evenness = frame.evenness.map(|it| Row {
            name: format!("{marked} s, far edge against near"),
            unit: "stops",
            figure: Measured {
                value: it.mean.to_stops(),
                uncertainty: it.uncertainty.map(Stops::to_stops),
            },
        });
        let capped = frame.capped_from_mm.map(|from| Row {
            name: format!("{marked} s, slit closed from"),
            unit: "mm",
            figure: Measured {
                value: from.to_mm(),
                uncertainty: None,
            },
        });
        [
            Row::ms(marked, "first curtain’s travel", frame.first_travel),
            Row::ms(marked, "second curtain’s travel", frame.second_travel),
            evenness,
            capped,
        ]
    };
    frames_by_mark(report)
        .into_iter()
        .flat_map(of)
        .flatten()
        .collect()
}

fn flash_rows(report: &Report) -> Vec<Row> {
    let of = |flash: FlashAtMark| {
        [
            Row::ms(flash.marked, "contact to fully open", flash.delay),
            Row::ms(flash.marked, "open after the contact", flash.open_after),
        ]
    };
    flash_by_mark(report)
        .into_iter()
        .flat_map(of)
        .flatten()
        .collect()
}

fn instruments(
    view: &VisitView,
    notes: Option<&ServiceNotes>,
) -> Result<Vec<InstrumentProof>, BenchError> {
    let mut subjects: Vec<(Instrument, Option<&str>)> = Vec::new();
    for reading in &view.readings {
        let subject = subject(reading);
        if subject.0 != Instrument::Shutter && !subjects.contains(&subject) {
            subjects.push(subject);
        }
    }
    let proof = |wanted: (Instrument, Option<&str>)| {
        let of = |phase| last(view, phase, |reading| subject(reading) == wanted);
        instrument(name(wanted, notes), of(Phase::Before), of(Phase::After))
    };
    subjects.into_iter().map(proof).collect()
}

fn name((instrument, limit): (Instrument, Option<&str>), notes: Option<&ServiceNotes>) -> String {
    let limit = limit
        .zip(notes)
        .and_then(|(id, notes)| notes.limits.get(id));
    limit.map_or_else(|| instrument.to_string(), |limit| limit.name().to_owned())
}

fn instrument(
    name: String,
    before: Option<&Reading>,
    after: Option<&Reading>,
) -> Result<InstrumentProof, BenchError> {
    let mut charts = Vec::new();
    // As it goes home is what its owner asks; as it came stands in the table.
    if let Some(reading) = after.or(before)
        && let Some(chart) = drawings::of_instrument(&reading.what, Sheet::Light)?
    {
        charts.push(ChartProof {
            svg: chart.svg,
            alt: chart.alt.to_owned(),
        });
    }
    let rows =
        |reading: Option<&Reading>| reading.map(|it| it.what.rows.clone()).unwrap_or_default();
    let (before, after) = (rows(before), rows(after));
    let mut names: Vec<&str> = Vec::new();
    for row in before.iter().chain(&after) {
        if !names.contains(&row.name.as_str()) {
            names.push(&row.name);
        }
    }
    let reading = |name: &str| {
        let of = |rows: &[ReadingRow]| rows.iter().find(|row| row.name == name).cloned();
        let (b, a) = (of(&before), of(&after));
        let last = a.clone().or_else(|| b.clone()).unwrap_or_default();
        ReadingProof {
            name: name.to_owned(),
            unit: last.unit.clone(),
            before: b.as_ref().and_then(measured),
            after: a.as_ref().and_then(measured),
            limit: last.limit.map(|deviation| Limit::Within {
                target: last.nominal.unwrap_or(0.0),
                deviation,
            }),
            verdict: last.verdict.map(Decided::from),
        }
    };
    Ok(InstrumentProof {
        readings: names.iter().map(|name| reading(name)).collect(),
        charts,
        name,
    })
}

/// The value; or, where only the deviation was read, that.
fn measured(row: &ReadingRow) -> Option<Measured> {
    let value = row.value.or(row.error)?;
    Some(Measured {
        value,
        uncertainty: row.uncertainty,
    })
}

fn method(reading: &Reading, notes: Option<&ServiceNotes>) -> Option<String> {
    let what = &reading.what;
    let name = name(subject(reading), notes);
    (!what.method.is_empty())
        .then(|| sentence(&format!("{name}, {}: {}", what.phase.as_str(), what.method)))
}

fn remarks(latest: &[&Reading]) -> Vec<String> {
    let of = |reading: &&Reading| {
        let phase = reading.what.phase.as_str();
        let remark = move |finding: &String| sentence(&format!("{phase}: {finding}"));
        reading.what.findings.iter().map(remark).collect::<Vec<_>>()
    };
    latest.iter().flat_map(of).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_typed_in_stand_on_the_sheet_slowest_first() {
        let row = |mark: &str, time_s: f64, nominal_s: f64| {
            ReadingRow::of_exposure(mark, time_s, Some(0.01 * time_s), nominal_s, Some(0.25))
                .unwrap_or_default()
        };
        let before = [row("1/500", 0.004, 0.002), row("1/2", 0.5, 0.5)];
        let after = [row("1/500", 0.002, 0.002)];
        let session = |rows| Session { rows, report: None };
        let sheet = speeds(Some(&session(&before)), Some(&session(&after)));
        let marks: Vec<&str> = sheet.iter().map(|speed| speed.marked.as_str()).collect();
        assert_eq!(marks, ["1/2", "1/500"]);
        assert_eq!(sheet[0].after, None);
        assert_eq!(sheet[1].verdict, Some(Decided::In));
        let was = sheet[1].before.map(|exposure| exposure.error_stops);
        assert!(
            was.is_some_and(|stops| (stops - 1.0).abs() < 1e-9),
            "{was:?}"
        );
    }
}
