//! Every address of the site: functions that make one, and the pattern that the router matches.

use fettle_bench::{
    CameraId, DonorId, DrawerId, OwnerId, PaperId, PhotoId, PieceId, ReadingId, RecordingId,
    VisitId,
};
use fettle_notes::PartId;
use percent_encoding::{AsciiSet, NON_ALPHANUMERIC, utf8_percent_encode};

use crate::recorded;
use crate::visit::Show;

const KEPT: &AsciiSet = &NON_ALPHANUMERIC
    .remove(b'-')
    .remove(b'.')
    .remove(b'_')
    .remove(b'~');

pub(crate) const BENCH: &str = "/";
pub(crate) const ARRIVE: &str = "/arrive";
pub(crate) const CAMERAS: &str = "/cameras";
pub(crate) const OWNERS: &str = "/owners";
pub(crate) const SETTINGS: &str = "/settings";
pub(crate) const BACKUP: &str = "/backup";
/// Making one at once.
pub(crate) const BACKUP_NOW: &str = "/backup/now";
pub(crate) const IMPORT: &str = "/import";
pub(crate) const LEARNED: &str = "/learned";
pub(crate) const CALENDAR: &str = "/calendar.ics";
pub(crate) const TRIP: &str = "/going-home/sent";
pub(crate) const MODELS: &str = "/models";
pub(crate) const DRAWERS: &str = "/drawers";
/// Putting parts away.
pub(crate) const STORE: &str = "/drawers/store";
/// Labels of drawers, to print.
pub(crate) const LABELS: &str = "/drawers/labels";
pub(crate) const LABELS_PDF: &str = "/drawers/labels.pdf";
pub(crate) const DONORS: &str = "/donors";
pub(crate) const INSTRUMENTS: &str = "/instruments";
pub(crate) const METER: &str = "/meter";
/// Exposure values from luminance, illuminance or a reference meter.
pub(crate) const LIGHT: &str = "/meter/light";
pub(crate) const REGISTER: &str = "/register";
/// How far infinity is off, and how far to turn.
pub(crate) const INFINITY: &str = "/register/infinity";
pub(crate) const RANGEFINDER: &str = "/rangefinder";
pub(crate) const MESH: &str = "/mesh";
/// A rack or gear drawn to have it made.
pub(crate) const DRAW: &str = "/draw";
/// Wear of teeth from a photograph.
pub(crate) const TEETH: &str = "/teeth";
pub(crate) const SHUTTER: &str = "/shutter";
/// The socket of the shutter page while it listens.
pub(crate) const LIVE: &str = "/shutter/live";
pub(crate) const SHUTTER_CHECK: &str = "/shutter/check";
pub(crate) const GOING_HOME: &str = "/going-home";
pub(crate) const FIND: &str = "/find";
pub(crate) const UNDO: &str = "/undo";
/// The door.
pub(crate) const ENTER: &str = "/enter";
/// Pairing a tablet.
pub(crate) const PAIR: &str = "/pair";
/// Bench-hands, and who is in.
pub(crate) const HANDS: &str = "/hands";
pub(crate) const HANDBOOK: &str = "/handbook";

/// Patterns with a place for a number or name.
pub(crate) mod pattern {
    pub(crate) const HANDBOOK_PAGE: &str = "/handbook/{page}";
    pub(crate) const HANDBOOK_PICTURE: &str = "/handbook/pictures/{picture}";
    pub(crate) const ASSET: &str = "/assets/{file}";
    pub(crate) const CAMERA: &str = "/cameras/{camera}";
    pub(crate) const CAMERA_DEED: &str = "/cameras/{camera}/{deed}";
    pub(crate) const OWNER: &str = "/owners/{owner}";
    pub(crate) const OWNER_DEED: &str = "/owners/{owner}/{deed}";
    pub(crate) const MODEL: &str = "/models/{model}";
    pub(crate) const DRAWER: &str = "/drawers/{drawer}";
    pub(crate) const DRAWER_DEED: &str = "/drawers/{drawer}/{deed}";
    pub(crate) const PART: &str = "/drawers/parts/{part}";
    pub(crate) const PART_DEED: &str = "/drawers/parts/{part}/{deed}";
    pub(crate) const DONOR: &str = "/donors/{donor}";
    pub(crate) const DONOR_DEED: &str = "/donors/{donor}/{deed}";
    pub(crate) const VISIT: &str = "/visits/{visit}";
    pub(crate) const LEARNED_FILE: &str = "/learned/{table}";
    pub(crate) const PAPER_PREVIEW: &str = "/visits/{visit}/papers/{paper}";
    pub(crate) const PAPER_PDF: &str = "/visits/{visit}/papers/{paper}/pdf";
    pub(crate) const TAG: &str = "/visits/{visit}/tag";
    pub(crate) const PHOTO: &str = "/photos/{photo}/{size}";
    pub(crate) const RECORDING: &str = "/recordings/{recording}";
    pub(crate) const TRACE: &str = "/visits/{visit}/traces/{reading}";
    pub(crate) const SAMPLES: &str = "/recordings/{recording}/samples";
    pub(crate) const LIVE_TRACE: &str = "/shutter/live/{token}/trace";
    pub(crate) const LIVE_SAMPLES: &str = "/shutter/live/{token}/samples";
    pub(crate) const GIVEN_TRACE: &str = "/shutter/given/{token}/trace";
    pub(crate) const GIVEN_SAMPLES: &str = "/shutter/given/{token}/samples";
    pub(crate) const LIVE_RECORDING: &str = "/shutter/live/{token}/recording.wav";
    pub(crate) const PAPER: &str = "/papers/{paper}";
    pub(crate) const PART_FILE: &str = "/draw/{kind}";
    /// One thing done in a visit; the forms of its stages are sent here.
    pub(crate) const DEED: &str = "/visits/{visit}/{deed}";
}

/// The door, and where to go once inside.
pub(crate) fn enter(to: Option<&str>) -> String {
    asking(ENTER, &[("to", to.unwrap_or_default().to_owned())])
}

/// The door with a pairing code: what a tablet scans.
pub(crate) fn enter_with(code: &str) -> String {
    asking(ENTER, &[("code", code.to_owned())])
}

/// A place on this site that an address may lead back to: a path of its own, nothing that a browser takes for another site.
pub(crate) fn own_place(to: &str) -> Option<&str> {
    let leads_away = to.starts_with("//") || to.contains('\\') || to.chars().any(char::is_control);
    (to.starts_with('/') && !leads_away && to.len() <= 2000).then_some(to)
}

pub(crate) fn asset(file: &str) -> String {
    format!("/assets/{file}")
}

/// A page of the handbook.
pub(crate) fn handbook(page: &str) -> String {
    format!("{HANDBOOK}/{page}")
}

/// A picture of the handbook.
pub(crate) fn handbook_picture(picture: &str) -> String {
    format!("{HANDBOOK}/pictures/{picture}")
}

/// The page of a visit.
pub(crate) fn visit(visit: VisitId) -> String {
    format!("/visits/{visit}")
}

/// The page of a visit with a stretch open and what was just recorded.
pub(crate) fn visit_at(
    visit: VisitId,
    open: Option<&str>,
    recorded: Option<recorded::Range>,
) -> String {
    let mut url = with_recorded(&self::visit(visit), recorded);
    if let Some(open) = open {
        let join = if url.contains('?') { '&' } else { '?' };
        url.push_str(&format!("{join}open={open}#{open}"));
    }
    url
}

/// An address that leads to the place with this id on its page.
pub(crate) fn at_place(url: &str, id: &str) -> String {
    let page = url.split('#').next().unwrap_or_default();
    format!("{page}#{}", encoded(id))
}

/// The page of a visit with one removal in hand, on the way to some parts when they are named.
pub(crate) fn step(visit: VisitId, part: &str, to: Option<&str>) -> String {
    let to = to.map_or_else(String::new, |to| format!("&to={}", encoded(to)));
    format!(
        "/visits/{visit}?open=apart{to}&step={}#apart",
        encoded(part)
    )
}

/// The page of a visit with one piece in hand to go back.
pub(crate) fn back(visit: VisitId, piece: PieceId) -> String {
    format!("/visits/{visit}?open=put-back&step={piece}#put-back")
}

/// The page of a visit with the causes weighed, at a place in it.
pub(crate) fn cause(visit: VisitId, show: &Show, place: &str) -> String {
    let mut url = format!("/visits/{visit}?open=cause");
    if let Some(why) = &show.why {
        url.push_str(&format!("&why={}", encoded(why)));
    }
    if show.plan {
        url.push_str("&plan=1");
    }
    url.push('#');
    url.push_str(place);
    url
}

/// The page of a visit with the way to some parts.
pub(crate) fn way_to(visit: VisitId, parts: &[PartId]) -> String {
    let parts: Vec<&str> = parts.iter().map(PartId::as_str).collect();
    format!(
        "/visits/{visit}?open=apart&to={}#apart",
        encoded(&parts.join(","))
    )
}

/// Where a form of the visit's page is sent.
pub(crate) fn deed(visit: VisitId, deed: &str) -> String {
    format!("/visits/{visit}/{deed}")
}

/// A paper of a visit, looked at before it is kept.
pub(crate) fn paper_preview(visit: VisitId, paper: &str) -> String {
    format!("/visits/{visit}/papers/{paper}")
}

/// The same as a file.
pub(crate) fn paper_pdf(visit: VisitId, paper: &str) -> String {
    format!("/visits/{visit}/papers/{paper}/pdf")
}

/// The page of a visit with a quote of some kind drafted.
pub(crate) fn quote_draft(visit: VisitId, kind: &str) -> String {
    format!("/visits/{visit}?open=quote&draft={kind}#make-quote")
}

/// The page of a visit with a mail of some wording drafted.
pub(crate) fn mail(visit: VisitId, wording: &str) -> String {
    format!("/visits/{visit}?open=papers&mail={wording}#mail")
}

pub(crate) fn tag(visit: VisitId) -> String {
    format!("/visits/{visit}/tag")
}

pub(crate) fn camera(camera: CameraId) -> String {
    format!("/cameras/{camera}")
}

pub(crate) fn camera_deed(camera: CameraId, deed: &str) -> String {
    format!("/cameras/{camera}/{deed}")
}

pub(crate) fn owner_deed(owner: OwnerId, deed: &str) -> String {
    format!("/owners/{owner}/{deed}")
}

pub(crate) fn owner(owner: OwnerId) -> String {
    format!("/owners/{owner}")
}

pub(crate) fn model(id: &str) -> String {
    format!("/models/{}", encoded(id))
}

/// The page of a model with its causal network drawn around one thing, or at a glance.
pub(crate) fn model_of(id: &str, place: Option<&str>) -> String {
    let place = place.map_or_else(String::new, |place| format!("?of={}", encoded(place)));
    format!("{}{place}#causes", model(id))
}

pub(crate) fn drawer(drawer: DrawerId) -> String {
    format!("{DRAWERS}/{drawer}")
}

/// Where a form of a drawer's page is sent.
pub(crate) fn drawer_deed(drawer: DrawerId, deed: &str) -> String {
    format!("{DRAWERS}/{drawer}/{deed}")
}

/// A part that is kept.
pub(crate) fn part(part: fettle_bench::PartId) -> String {
    format!("{DRAWERS}/parts/{part}")
}

/// Where a form of a part's page is sent.
pub(crate) fn part_deed(part: fettle_bench::PartId, deed: &str) -> String {
    format!("{DRAWERS}/parts/{part}/{deed}")
}

pub(crate) fn donor(donor: DonorId) -> String {
    format!("{DONORS}/{donor}")
}

/// Where a form of a donor's page is sent.
pub(crate) fn donor_deed(donor: DonorId, deed: &str) -> String {
    format!("{DONORS}/{donor}/{deed}")
}

/// An address with what it asks for; what is empty is left out.
pub(crate) fn asking(path: &str, pairs: &[(&str, String)]) -> String {
    let pairs: Vec<String> = pairs
        .iter()
        .filter(|(_, value)| !value.is_empty())
        .map(|(name, value)| format!("{name}={}", encoded(value)))
        .collect();
    if pairs.is_empty() {
        path.to_owned()
    } else {
        format!("{path}?{}", pairs.join("&"))
    }
}

/// The page that draws a part like the one measured.
pub(crate) fn draw_part(
    form: &str,
    module_mm: f64,
    teeth: usize,
    angle_deg: f64,
    shift: f64,
) -> String {
    format!(
        "{DRAW}?form={form}&module={module_mm:.4}&teeth={teeth}&angle={angle_deg:.2}&shift={shift:.3}"
    )
}

/// A file of the part that is asked for: `svg`, `dxf`, `step` or `pdf`.
pub(crate) fn part_file(kind: &str, asked: &[(String, String)]) -> String {
    let pairs: Vec<(&str, String)> = asked
        .iter()
        .map(|(name, value)| (name.as_str(), value.clone()))
        .collect();
    asking(&format!("{DRAW}/{kind}"), &pairs)
}

/// A photograph of the size named: `original`, `display` or `thumb`.
pub(crate) fn photo(photo: PhotoId, size: &str) -> String {
    format!("/photos/{photo}/{size}")
}

pub(crate) fn recording(recording: RecordingId) -> String {
    format!("/recordings/{recording}")
}

/// The recording of a session of listening.
pub(crate) fn live_recording(token: &str) -> String {
    format!("/shutter/live/{}/recording.wav", encoded(token))
}

/// What a recording given on the shutter's own page says.
pub(crate) fn given(token: &str) -> String {
    format!("{SHUTTER}?given={}", encoded(token))
}

/// Its shots, to be looked at closely.
pub(crate) fn given_traces(token: &str) -> String {
    format!("/shutter/given/{}/trace", encoded(token))
}

/// Its samples.
pub(crate) fn given_samples(token: &str) -> String {
    format!("/shutter/given/{}/samples", encoded(token))
}

/// The shots of a session of listening, to be looked at closely.
pub(crate) fn live_traces(token: &str) -> String {
    format!("/shutter/live/{}/trace", encoded(token))
}

/// One of them.
pub(crate) fn live_trace(token: &str, shot: u32) -> String {
    with_shot(&live_traces(token), shot)
}

/// The samples of a session of listening.
pub(crate) fn live_samples(token: &str) -> String {
    format!("/shutter/live/{}/samples", encoded(token))
}

/// The shots of a reading, to be looked at closely.
pub(crate) fn trace(visit: VisitId, reading: ReadingId) -> String {
    format!("/visits/{visit}/traces/{}", reading.get())
}

/// The samples of a kept recording.
pub(crate) fn samples(recording: RecordingId) -> String {
    format!("/recordings/{recording}/samples")
}

/// A page of traces that begins with this shot.
pub(crate) fn with_shot(traces: &str, shot: u32) -> String {
    format!("{traces}?shot={shot}")
}

pub(crate) fn paper(paper: PaperId) -> String {
    format!("/papers/{paper}")
}

/// A page that then says what was just recorded.
pub(crate) fn with_recorded(path: &str, recorded: Option<recorded::Range>) -> String {
    match recorded {
        Some(range) => {
            let join = if path.contains('?') { '&' } else { '?' };
            format!("{path}{join}recorded={}", range.to_text())
        }
        None => path.to_owned(),
    }
}

fn encoded(text: &str) -> String {
    utf8_percent_encode(text, KEPT).to_string()
}
