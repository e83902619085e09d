//! Between meter, register and rangefinder and the record: limits of the notes as options, reports as readings.

use fettle_measure::{Verdict as Decided, meter, rangefinder, register, teeth};
use fettle_notes::{MeterLimit, RangefinderLimit, RegisterLimit, TeethLimit, Toothed};
use serde::{Deserialize, Serialize, de::DeserializeOwned};

use crate::{
    change::{ReadingRow, ReadingTaken},
    error::BenchError,
    ids::VisitId,
    words::{Instrument, Phase},
};

/// What the instrument kept whole with a reading.
#[derive(Clone, Debug, PartialEq)]
pub enum InstrumentReport {
    /// Of an exposure meter.
    Meter(Box<meter::Report>),
    /// Of a register.
    Register(Box<register::Report>),
    /// Of a rangefinder.
    Rangefinder(Box<rangefinder::Report>),
    /// Of teeth.
    Teeth(Box<TeethProof>),
}

/// Teeth, and the photograph that tells of them.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TeethProof {
    /// The photograph's content, by its hash.
    pub photo: String,
    /// What it tells.
    pub report: teeth::Report,
}

/// The whole report kept with a reading; `None` for one that was typed in, or is of another instrument.
///
/// # Errors
/// [`BenchError::Report`] when there is one that this program cannot read.
pub fn instrument_report(reading: &ReadingTaken) -> Result<Option<InstrumentReport>, BenchError> {
    let Some(detail) = &reading.detail else {
        return Ok(None);
    };
    match reading.instrument {
        Instrument::Meter => kept(detail, InstrumentReport::Meter),
        Instrument::Register => kept(detail, InstrumentReport::Register),
        Instrument::Rangefinder => kept(detail, InstrumentReport::Rangefinder),
        Instrument::Teeth => kept(detail, InstrumentReport::Teeth),
        _ => Ok(None),
    }
}

fn kept<R: DeserializeOwned>(
    detail: &serde_json::Value,
    of: fn(Box<R>) -> InstrumentReport,
) -> Result<Option<InstrumentReport>, BenchError> {
    match R::deserialize(detail) {
        Ok(report) => Ok(Some(of(Box::new(report)))),
        Err(error) => Err(unreadable(&error)),
    }
}

fn unreadable(error: &serde_json::Error) -> BenchError {
    BenchError::Report {
        why: error.to_string(),
    }
}

/// What a register is held to.
#[must_use]
pub fn register_options(limit: &RegisterLimit) -> register::Options {
    let place = |&[x_mm, y_mm]: &[f64; 2]| register::Place { x_mm, y_mm };
    register::Options {
        frame_mm: limit.frame_mm.into(),
        seats: limit.seats_mm.iter().map(place).collect(),
        ..register::Options::new(limit.target_mm, limit.limit_mm)
    }
}

/// What a rangefinder is held to.
#[must_use]
pub fn rangefinder_options(limit: &RangefinderLimit) -> rangefinder::Options {
    let mut options = rangefinder::Options::new(limit.focal_mm, limit.f, limit.coc_mm);
    options.limit_depths = limit.limit_depths;
    options.base_mm = limit.base_mm;
    options.magnification = limit.magnification.unwrap_or(options.magnification);
    options.nodal_mm = limit.nodal_mm.unwrap_or(options.nodal_mm);
    options.eye_arcsec = limit.eye_arcsec.unwrap_or(options.eye_arcsec);
    options
}

/// What an exposure meter is held to.
#[must_use]
pub fn meter_options(limit: &MeterLimit) -> meter::Options {
    let mut options = meter::Options::default();
    // What the notes' own checks let through but no meter has stays as it is by default.
    if let Ok(held) = options.with_limit(limit.limit_stops) {
        options = held;
    }
    if let Some(Ok(held)) = limit.click_stops.map(|click| options.with_click(click)) {
        options = held;
    }
    options
}

/// What teeth are held to.
#[must_use]
pub fn teeth_options(limit: &TeethLimit) -> teeth::Options {
    let kind = match limit.form {
        Toothed::Rack => teeth::Kind::Rack,
        Toothed::Gear => teeth::Kind::Gear,
    };
    teeth::Options {
        teeth: limit.teeth,
        limit_mm: Some(limit.wear_mm),
        angle_rad: limit.angle_deg.to_radians(),
        ..teeth::Options::new(kind, teeth::Scale::PitchMm(limit.pitch_mm))
    }
}

/// A reading of one instrument, its report kept whole.
struct Taken<'a, R> {
    visit: VisitId,
    phase: Phase,
    instrument: Instrument,
    limit_id: Option<&'a str>,
    report: &'a R,
    rows: Vec<ReadingRow>,
    findings: Vec<String>,
    method: String,
}

impl<R: Serialize> Taken<'_, R> {
    fn reading(self) -> Result<ReadingTaken, BenchError> {
        let detail = serde_json::to_value(self.report).map_err(|error| unreadable(&error))?;
        Ok(ReadingTaken {
            visit: self.visit,
            phase: self.phase,
            instrument: self.instrument,
            limit_id: self.limit_id.map(str::to_owned),
            rows: self.rows,
            findings: self.findings,
            recording: None,
            method: self.method,
            detail: Some(detail),
        })
    }
}

/// A deviation in `unit` with the verdict that the instrument gave.
fn row(
    name: String,
    unit: &str,
    off: f64,
    u: Option<f64>,
    limit: Option<f64>,
    verdict: Option<Decided>,
) -> ReadingRow {
    ReadingRow {
        name,
        unit: unit.to_owned(),
        error: Some(off),
        error_unit: unit.to_owned(),
        uncertainty: u,
        limit,
        verdict: verdict.map(Into::into),
        ..ReadingRow::default()
    }
}

/// The reading that keeps a register's report: the middle, the worst corner that is judged, and the tilt.
///
/// # Errors
/// [`BenchError::Report`] when the report cannot be written down whole.
pub fn register_reading(
    visit: VisitId,
    phase: Phase,
    report: &register::Report,
    limit_id: Option<&str>,
) -> Result<ReadingTaken, BenchError> {
    let asked = &report.options;
    let middle = ReadingRow {
        nominal: Some(asked.target_mm),
        value: Some(report.mean_mm),
        ..row(
            "at the middle".to_owned(),
            "mm",
            report.error_mm,
            report.error_mm_u,
            None,
            None,
        )
    };
    let worst = row(
        "at the worst corner".to_owned(),
        "mm",
        report.worst_mm,
        report.worst_mm_u,
        Some(asked.limit_mm),
        Some(report.verdict),
    );
    let tilt = row(
        "tilt, corner to corner".to_owned(),
        "mm",
        report.frame_tilt_mm,
        report.frame_tilt_mm_u,
        None,
        None,
    );
    Taken {
        visit,
        phase,
        instrument: Instrument::Register,
        limit_id,
        report,
        rows: vec![middle, worst, tilt],
        findings: report
            .findings
            .iter()
            .map(register::Finding::describe)
            .collect(),
        method: format!("a plane through {} depths", report.readings.len()),
    }
    .reading()
}

/// The reading that keeps a rangefinder's report: one row a distance, as found.
///
/// # Errors
/// [`BenchError::Report`] when the report cannot be written down whole.
pub fn rangefinder_reading(
    visit: VisitId,
    phase: Phase,
    report: &rangefinder::Report,
    limit_id: Option<&str>,
) -> Result<ReadingTaken, BenchError> {
    let limit = report.options.limit_depths;
    let mut rows: Vec<ReadingRow> = Vec::new();
    for it in &report.residuals {
        let place = if it.distance_m.is_finite() {
            format!("{} m", it.distance_m)
        } else {
            "infinity".to_owned()
        };
        let before = rows
            .iter()
            .filter(|row| row.name.split(" (").next() == Some(&place))
            .count();
        let name = if before == 0 {
            place
        } else {
            format!("{place} ({})", before + 1)
        };
        let verdict = it
            .residual_depths_u
            .map(|u| Decided::of(it.residual_depths, u, limit));
        rows.push(row(
            name,
            "depths",
            it.residual_depths,
            it.residual_depths_u,
            Some(limit),
            verdict,
        ));
    }
    if let Some(vertical) = &report.vertical {
        rows.push(row(
            "one image above the other".to_owned(),
            "arcmin",
            vertical.mean_arcmin,
            vertical.mean_arcmin_u,
            Some(vertical.limit_arcmin),
            Some(vertical.verdict),
        ));
    }
    Taken {
        visit,
        phase,
        instrument: Instrument::Rangefinder,
        limit_id,
        report,
        rows,
        findings: report
            .findings
            .iter()
            .map(rangefinder::Finding::describe)
            .collect(),
        method: format!("a line through {} taped distances", report.residuals.len()),
    }
    .reading()
}

/// The reading that keeps a meter's report: one row a light, as found, and the worst after the setting of its scale.
///
/// # Errors
/// [`BenchError::Report`] when the report cannot be written down whole.
pub fn meter_reading(
    visit: VisitId,
    phase: Phase,
    report: &meter::Report,
    limit_id: Option<&str>,
) -> Result<ReadingTaken, BenchError> {
    let limit = report.limit_stops;
    let mut rows: Vec<ReadingRow> = Vec::new();
    for it in report.readings.iter().filter(|it| it.kept) {
        let name = format!("EV {}", it.true_ev);
        if rows.iter().any(|row| row.name == name) {
            continue;
        }
        let near = report.curve.iter().min_by(|a, b| {
            (a.true_ev - it.true_ev)
                .abs()
                .total_cmp(&(b.true_ev - it.true_ev).abs())
        });
        if let Some(at) = near {
            let verdict = at
                .error_stops_u
                .map(|u| Decided::of(at.error_stops, u, limit));
            rows.push(row(
                name,
                "stops",
                at.error_stops,
                at.error_stops_u,
                Some(limit),
                verdict,
            ));
        }
    }
    Taken {
        visit,
        phase,
        instrument: Instrument::Meter,
        limit_id,
        report,
        rows,
        findings: report
            .findings
            .iter()
            .map(meter::Finding::describe)
            .collect(),
        method: format!("a curve through {} readings", report.readings.len()),
    }
    .reading()
}

/// The reading that keeps what a photograph, known by the hash of its content, tells of teeth: the worst figure of each kind, and how many are worn, missing, not decided or sound.
///
/// # Errors
/// [`BenchError::Report`] when the report cannot be written down whole.
pub fn teeth_reading(
    visit: VisitId,
    phase: Phase,
    report: &teeth::Report,
    photo: &str,
    limit_id: Option<&str>,
) -> Result<ReadingTaken, BenchError> {
    type Figure = fn(&teeth::Tooth) -> Option<(f64, f64)>;
    let figures: [(&str, Figure); 4] = [
        ("the most worn flank", |tooth| {
            tooth.flank_mm.zip(tooth.flank_u_mm)
        }),
        ("the greatest loss of a tip", |tooth| {
            tooth.tip_loss_mm.zip(tooth.tip_loss_u_mm)
        }),
        ("the farthest out of its place", |tooth| {
            tooth.pitch_error_mm.zip(tooth.pitch_error_u_mm)
        }),
        ("the greatest lean", |tooth| {
            tooth.bend_mm.zip(tooth.bend_u_mm)
        }),
    ];
    let worst = |(name, figure): (&str, Figure)| {
        let figures = report.teeth.iter().filter_map(figure);
        let (mm, u) = figures.max_by(|(a, _), (b, _)| a.abs().total_cmp(&b.abs()))?;
        let limit = Some(report.limit_mm);
        Some(row(name.to_owned(), "mm", mm, Some(u), limit, None))
    };
    let mut rows: Vec<ReadingRow> = figures.into_iter().filter_map(worst).collect();
    // The teeth are judged one by one, so the verdict stands at their count.
    let counts = &report.counts;
    for (count, name, verdict) in [
        (counts.worn, "worn", Decided::Out),
        (counts.missing, "missing", Decided::Out),
        (counts.undecided, "not decided", Decided::Undecided),
        (counts.sound, "sound", Decided::In),
    ] {
        if count > 0 {
            rows.push(ReadingRow {
                name: name.to_owned(),
                unit: "teeth".to_owned(),
                value: Some(f64::from(count)),
                verdict: Some(verdict.into()),
                ..ReadingRow::default()
            });
        }
    }
    let proof = TeethProof {
        photo: photo.to_owned(),
        report: report.clone(),
    };
    Taken {
        visit,
        phase,
        instrument: Instrument::Teeth,
        limit_id,
        report: &proof,
        rows,
        findings: report
            .findings
            .iter()
            .map(teeth::Finding::describe)
            .collect(),
        method: format!(
            "a photograph of {} teeth, {:.0} pixels for a millimetre",
            report.teeth.len(),
            report.px_per_mm
        ),
    }
    .reading()
}
