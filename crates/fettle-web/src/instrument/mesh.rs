//! A pinion and what it turns: engagement, the play that the drive bears, and what gear a worn one was.

use axum::extract::{Query, State};
use fettle_draw::{Sheet, mesh_drawing};
use fettle_measure::OptionError;
use fettle_measure::gear::Cutter;
use fettle_measure::gear::identify::{self, IdentifyError, Over};
use fettle_measure::gear::mesh::{self, Mate, Options};
use maud::{Markup, PreEscaped, html};

use super::{figures, findings, needed, optional};
use crate::assets::Asset;
use crate::form::{Fields, Form, Wrong};
use crate::layout::{Page, Room};
use crate::number;
use crate::state::AppState;
use crate::urls;

/// What is asked, as far as it was filled in.
#[derive(Default)]
struct Answer {
    identified: Option<identify::Report>,
    mesh: Option<mesh::Report>,
}

/// The page; what is asked stands in the address.
pub(crate) async fn show(
    State(state): State<AppState>,
    Query(asked): Query<Vec<(String, String)>>,
) -> Markup {
    let mut wrong = Wrong::default();
    let fields = Fields::new(asked);
    let answer = if fields.ticked("asked") {
        answer(&fields, &mut wrong)
    } else {
        Answer::default()
    };
    let form = if fields.ticked("asked") {
        Form::returned("mesh", fields, wrong)
    } else {
        Form::fresh("mesh")
    };
    let body = html! {
        h1 { "Mesh" }
        p.lead { "How does a pinion drive its rack or gear, how far may the two stand apart, and how much play of a bearing or screw does the drive bear?" }
        @if let Some(report) = &answer.identified { section { h2 { "What gear it is" } (identified(report)) } }
        @if let Some(report) = &answer.mesh { section { h2 { "What the pair does" } (meshed(report)) } }
        form method="get" id="mesh" action=(urls::MESH) novalidate {
            (form.problems())
            input type="hidden" name="asked" value="1";
            (asked_pair(&form))
            (asked_readings(&form))
            (asked_play(&form))
            div.acts { button.first { "Work it out" } }
        }
        p.quiet-text { "Involute teeth in standard proportions are meant: addendum one module, dedendum 1.25. Instrument gearing is not always involute: hold a tooth against the drawn form first. All " a href=(urls::INSTRUMENTS) { "instruments" } "." }
    };
    let page = Page::new("Mesh", body)
        .room(Room::Instruments)
        .about("instruments");
    state.draw(&page.script(Asset::Mesh))
}

fn asked_pair(form: &Form) -> Markup {
    let mates = [("rack", "a rack"), ("gear", "a gear")];
    let mates = mates.map(|(id, name)| (id.to_owned(), name.to_owned()));
    let cutters = [("sharp", "a sharp cutter"), ("none", "none that undercuts")];
    let cutters = cutters.map(|(id, name)| (id.to_owned(), name.to_owned()));
    html! {
        fieldset.group {
            legend { "The pair" }
            div.fields {
                (form.line("module", "Module").unit("mm").hint("pitch divided by π; empty: from readings below").class("third").draw())
                (form.line("teeth", "Pinion’s teeth").needed().class("third").draw())
                (form.line("angle", "Pressure angle").unit("degrees").hint("empty: 20, or as the readings tell").class("third").draw())
                (form.choice("mate", "It drives", mates.to_vec()).class("third").draw())
                (form.line("mate-teeth", "The gear’s teeth").hint("for a gear").class("third").draw())
                (form.choice("cutter", "Cut by", cutters.to_vec()).class("third").draw())
                (form.line("shift", "Pinion’s profile shift").unit("modules").hint("empty: none").class("third").draw())
                (form.line("mate-shift", "The gear’s profile shift").unit("modules").hint("empty: none").class("third").draw())
                (form.line("apart", "Pulled apart by").unit("mm").hint("from the distance without backlash; empty: 0").class("third").draw())
            }
        }
    }
}

fn asked_readings(form: &Form) -> Markup {
    let open = READINGS
        .iter()
        .any(|name| !form.value(name, "").trim().is_empty());
    html! {
        details.more open[open] {
            summary { "The module is not known: measure the pinion" }
            p.quiet-text { "With a caliper: over the tips, over k teeth and over k + 1, and along the rack from a flank to the like flank." }
            div.fields {
                (form.line("tip", "Over the tips").unit("mm").class("third").draw())
                (form.line("rack-pitches", "Rack: pitches spanned").class("third").draw())
                (form.line("rack", "Rack: their length").unit("mm").class("third").draw())
                (form.line("span-teeth", "Span: k teeth").hint("the second span is over one more").class("third").draw())
                (form.line("span", "Span over k").unit("mm").class("third").draw())
                (form.line("span-next", "Span over k + 1").unit("mm").class("third").draw())
                (form.line("caliper", "The caliper is good to").unit("mm").hint("empty: 0.02").class("third").draw())
            }
        }
    }
}

const READINGS: [&str; 5] = ["tip", "span", "span-next", "rack", "rack-pitches"];

fn asked_play(form: &Form) -> Markup {
    let open = ["play", "arm", "mesh-arm"]
        .iter()
        .any(|name| !form.value(name, "").trim().is_empty());
    html! {
        details.more open[open] {
            summary { "A bearing or screw has play" }
            p.quiet-text { "The part tilts about one place; play at another place parts the teeth by as much as the arms say." }
            div.fields {
                (form.line("play", "Play").unit("mm").hint("end to end, in the direction in which the teeth part").class("third").draw())
                (form.line("arm", "Tilting place to the play").unit("mm").class("third").draw())
                (form.line("mesh-arm", "Tilting place to the mesh").unit("mm").class("third").draw())
            }
        }
    }
}

fn answer(fields: &Fields, wrong: &mut Wrong) -> Answer {
    let teeth = wrong.whole(fields, "teeth", "the pinion’s teeth");
    let mut module = None;
    optional(wrong, fields, "module", "the module", &mut module);
    let mut angle = None;
    optional(wrong, fields, "angle", "the pressure angle", &mut angle);
    let is_read = READINGS.iter().any(|name| !fields.text(name).is_empty());
    if is_read && module.is_some() {
        wrong.note(
            "module",
            "a module and readings to find it are given: leave one of them empty",
        );
    }
    if is_read && !fields.text("shift").is_empty() {
        wrong.note(
            "shift",
            "a profile shift and readings to find it are given: leave one of them empty",
        );
    }
    let identified = if is_read {
        identify(fields, teeth, angle, wrong)
    } else {
        None
    };
    let mesh = pair(
        fields,
        teeth,
        module,
        angle,
        identified.as_ref(),
        is_read,
        wrong,
    );
    Answer { identified, mesh }
}

fn identify(
    fields: &Fields,
    teeth: Option<u32>,
    angle: Option<f64>,
    wrong: &mut Wrong,
) -> Option<identify::Report> {
    let mut read = identify::Options::new(teeth);
    read.angle_deg = angle;
    optional(wrong, fields, "tip", "the tip diameter", &mut read.tip_mm);
    if let Some(mm) = wrong.number(fields, "caliper", "what the caliper is good to") {
        read.caliper_mm = mm;
    }
    let k = wrong.whole(fields, "span-teeth", "the teeth spanned");
    for (name, more) in [("span", 0), ("span-next", 1)] {
        if let Some(mm) = wrong.number(fields, name, "the span") {
            match k {
                Some(k) => read.spans.push(Over {
                    teeth: k.saturating_add(more),
                    mm,
                }),
                None => wrong.note("span-teeth", "the number of teeth spanned is missing"),
            }
        }
    }
    if !fields.text("rack").is_empty() || !fields.text("rack-pitches").is_empty() {
        let mm = needed(wrong, fields, "rack", "the rack’s length");
        let pitches = wrong.whole(fields, "rack-pitches", "the pitches of the rack");
        match (mm, pitches) {
            (Some(mm), Some(teeth)) => read.rack = Some(Over { teeth, mm }),
            (Some(_), None) if fields.text("rack-pitches").is_empty() => {
                wrong.note("rack-pitches", "the number of pitches is missing");
            }
            _ => {}
        }
    }
    if !wrong.is_empty() {
        return None;
    }
    match identify::analyse(&read) {
        Ok(report) => Some(report),
        Err(IdentifyError::Option(error)) => {
            tell(wrong, error);
            None
        }
        Err(counts @ IdentifyError::Count { .. }) => {
            wrong.note("teeth", counts.to_string());
            None
        }
    }
}

fn pair(
    fields: &Fields,
    teeth: Option<u32>,
    module: Option<f64>,
    angle: Option<f64>,
    identified: Option<&identify::Report>,
    is_read: bool,
    wrong: &mut Wrong,
) -> Option<mesh::Report> {
    if teeth.is_none() && fields.text("teeth").is_empty() && identified.is_none() {
        wrong.note("teeth", "the pinion’s teeth are missing");
    }
    if module.is_none() && fields.text("module").is_empty() && !is_read {
        wrong.note("module", "the module is missing; or give readings below");
    }
    let mate = match fields.text("mate") {
        "gear" => {
            if fields.text("mate-teeth").is_empty() {
                wrong.note("mate-teeth", "the gear’s teeth are missing");
            }
            wrong
                .whole(fields, "mate-teeth", "the gear’s teeth")
                .map(|teeth| Mate::Gear { teeth })
        }
        _ => Some(Mate::Rack),
    };
    let settled = identified.and_then(identify::Report::settled);
    // A rack alone tells its module and no more; what it meshes with needs a count.
    let module = module.or(settled.as_ref().map(|gear| gear.module_mm));
    let known = module.zip(teeth).zip(mate);
    // What else is wrong is said together with what is missing.
    let ((module, teeth), mate) = known.unwrap_or(((1.0, 20), Mate::Rack));
    let mut options = Options::new(module, teeth, mate);
    options.angle_deg = angle.unwrap_or(options.angle_deg);
    if fields.text("cutter") == "none" {
        options.cutter = Cutter::None;
    }
    let numbers: [(&str, &str, &mut f64); 4] = [
        ("shift", "the profile shift", &mut options.shift),
        (
            "mate-shift",
            "the gear’s profile shift",
            &mut options.mate_shift,
        ),
        ("apart", "the withdrawal", &mut options.apart_mm),
        ("play", "the play", &mut options.play_mm),
    ];
    for (name, what, into) in numbers {
        if let Some(value) = wrong.number(fields, name, what) {
            *into = value;
        }
    }
    optional(wrong, fields, "arm", "the arm", &mut options.arm_mm);
    optional(
        wrong,
        fields,
        "mesh-arm",
        "the arm",
        &mut options.mesh_arm_mm,
    );
    if !wrong.is_empty() || known.is_none() {
        return None;
    }
    if let Some(gear) = &settled {
        options = options.of(gear);
    }
    mesh::analyse(&options)
        .map_err(|error| tell(wrong, error))
        .ok()
}

fn tell(wrong: &mut Wrong, error: OptionError) {
    let field = match error.option {
        "--module-mm" => "module",
        "--angle-deg" => "angle",
        "--mate-teeth" => "mate-teeth",
        "--shift" => "shift",
        "--mate-shift" => "mate-shift",
        "--apart-mm" => "apart",
        "--play-mm" => "play",
        "--arm-mm" => "arm",
        "--mesh-arm-mm" => "mesh-arm",
        "--tip-mm" => "tip",
        "--span-mm" => "span",
        "--rack-mm" => "rack",
        "--caliper-mm" => "caliper",
        _ => "teeth",
    };
    wrong.note(field, error.reason);
}

fn identified(report: &identify::Report) -> Markup {
    let mut rows = vec![(
        "Module",
        number::figure(report.module_mm, Some(report.module_mm_u), "mm"),
    )];
    rows.extend(report.angle_deg.map(|deg| {
        (
            "Pressure angle",
            number::figure(deg, report.angle_deg_u, "degrees"),
        )
    }));
    rows.extend(report.shift.map(|shift| {
        (
            "Profile shift",
            number::deviation(shift, report.shift_u, "modules"),
        )
    }));
    html! {
        (figures(&rows))
        @if report.options.angle_deg.is_none() && !report.usual.is_empty() {
            div.table-wrap { table {
                thead { tr { th.num { "Usual angle" } th.num { "Module, mm" } th.num { "Profile shift" } } }
                tbody { @for usual in &report.usual { tr {
                    th.num scope="row" { (usual.angle_deg) "°" }
                    td.num { (number::figure(usual.module_mm, Some(usual.module_mm_u), "")) }
                    td.num { (number::deviation(usual.shift, Some(usual.shift_u), "")) }
                } } }
            } }
        }
        (findings(report.findings.iter().map(identify::Finding::describe)))
        @if report.settled().is_none() && report.angle_deg.is_some() {
            p { "For the pair, write the pressure angle above." }
        }
    }
}

fn meshed(report: &mesh::Report) -> Markup {
    let mm = |value: f64| number::figure(value, None, "mm");
    let mut rows = vec![
        (
            "Contact ratio",
            format!(
                "{:.2}; {:.2} without undercut",
                report.contact_ratio, report.contact_ratio_no_undercut
            ),
        ),
        ("Backlash", mm(report.backlash_mm)),
        ("Working depth", mm(report.working_depth_mm)),
        (
            "Pulled apart by",
            format!(
                "{}, distance {}",
                mm(report.apart_mm),
                mm(report.distance_mm)
            ),
        ),
        (
            "Drive is continuous to",
            report.apart_limit_mm.map_or_else(
                || "no distance".to_owned(),
                |limit| format!("{} apart", mm(limit)),
            ),
        ),
        (
            "Teeth ride over from",
            format!("{} apart", mm(report.ride_over_mm)),
        ),
    ];
    if let Some(play) = report.play_limit_mm {
        rows.push(("Play that the drive bears", mm(play)));
    }
    if let Some(play) = report.play_ride_over_mm {
        rows.push(("Play at which teeth ride over", mm(play)));
    }
    html! {
        div.chart data-mesh { (PreEscaped(mesh_drawing(report, Sheet::Inherit))) }
        (figures(&rows))
        (findings(report.findings.iter().map(mesh::Finding::describe)))
        div.acts { a.button href=(drawing_of(report)) { "Draw this pinion to have it made" } }
    }
}

/// The page that draws the pinion, with its mate for the limits on the sheet.
fn drawing_of(report: &mesh::Report) -> String {
    let pair = &report.options;
    let teeth = usize::try_from(pair.teeth).unwrap_or(usize::MAX);
    let pinion = urls::draw_part("gear", pair.module_mm, teeth, pair.angle_deg, pair.shift);
    let mate = match pair.mate {
        Mate::Rack => "rack".to_owned(),
        Mate::Gear { teeth } => {
            format!("gear&mate-teeth={teeth}&mate-shift={:.3}", pair.mate_shift)
        }
    };
    format!("{pinion}&mate={mate}&apart={:.4}", pair.apart_mm)
}
