//! A rack or gear drawn to have it made: files for the one who makes it, and the sheet that goes with them.

use axum::extract::{Path, Query, State};
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};
use fettle_draw::part::{self as files, Corner};
use fettle_measure::gear::mesh::{self, Mate};
use fettle_measure::gear::part::{Finding, Form as PartForm, Hole, Options, Part, Slot};
use fettle_papers::{PartSheet, part_sheet};
use maud::{Markup, PreEscaped, html};

use super::{figures, findings, needed, optional};
use crate::error::PageError;
use crate::form::{Fields, Form, Wrong};
use crate::layout::{Page, Room};
use crate::number;
use crate::state::AppState;
use crate::urls;

const ID: &str = "draw";

/// The page; what is asked stands in the address.
pub(crate) async fn show(
    State(state): State<AppState>,
    Query(asked): Query<Vec<(String, String)>>,
) -> Markup {
    let fields = Fields::new(asked.clone());
    let is_asked = fields.ticked("asked");
    let mut wrong = Wrong::default();
    let drawing = if is_asked {
        Drawn::asked(&fields, &mut wrong)
    } else {
        None
    };
    let form = if asked.is_empty() {
        Form::fresh(ID)
    } else {
        Form::returned(ID, fields, wrong)
    };
    let forms = [("gear", "a gear"), ("rack", "a rack")];
    let forms = forms.map(|(id, name)| (id.to_owned(), name.to_owned()));
    let mates = [("", "not told"), ("rack", "a rack"), ("gear", "a gear")];
    let mates = mates.map(|(id, name)| (id.to_owned(), name.to_owned()));
    let body = html! {
        h1 { "Draw a part" }
        p.lead { "A rack or spur gear as files for the one who makes it, with the sheet that says what to measure." }
        @if let Some(drawing) = &drawing { section { h2 { "The part" } (drawing.draw(&asked)) } }
        form method="get" id=(ID) action=(urls::DRAW) novalidate {
            (form.problems())
            input type="hidden" name="asked" value="1";
            div.fields {
                (form.choice("form", "What", forms.to_vec()).class("third").draw())
                (form.line("module", "Module").unit("mm").needed().hint("pitch divided by π").class("third").draw())
                (form.line("teeth", "Teeth").needed().class("third").draw())
                (form.line("angle", "Pressure angle").unit("degrees").hint("empty: 20").class("third").draw())
                (form.line("thickness", "Thickness").unit("mm").needed().class("third").draw())
                (form.line("bore", "Bore").unit("mm").hint("of a gear; empty: none").class("third").draw())
                (form.line("shift", "Profile shift").unit("modules").hint("of a gear; empty: none").class("third").draw())
                (form.line("backlash", "Teeth thinner by").unit("mm").hint("for backlash at the standard distance; empty: 0").class("third").draw())
                (form.line("relief", "Flanks eased at the tips by").unit("mm").hint("empty: 0").class("third").draw())
                (form.line("height", "Body below the gaps").unit("mm").hint("of a rack; empty: 3 modules").class("third").draw())
                (form.line("material", "Material").hint("for the sheet").class("third").draw())
                (form.line("holes", "Holes").hint("diameter@x,y in mm, apart by blanks: 1.7@4,-2 1.7@24,-2").class("wide").draw())
                (form.choice("mate", "A gear runs with", mates.to_vec()).class("third").draw())
                (form.line("mate-teeth", "The mate’s teeth").hint("of a gear").class("third").draw())
                (form.line("mate-shift", "The mate’s profile shift").unit("modules").hint("empty: none").class("third").draw())
                (form.line("apart", "The pair is pulled apart by").unit("mm").hint("from the distance without backlash; empty: 0").class("third").draw())
                (form.line("slots", "Slots").hint("length x width@x,y in mm: 4x1.7@12,-2").class("wide").draw())
            }
            div.acts { button.first { "Draw it" } }
        }
        p.quiet-text { "Places are told from a gear’s centre, or from the left end of a rack and its pitch line, upwards. The module of a part at hand: " a href=(urls::MESH) { "Mesh" } " from a caliper, or " a href=(urls::TEETH) { "Teeth" } " from a photograph." }
    };
    state.draw(
        &Page::new("Draw a part", body)
            .room(Room::Instruments)
            .about("drawing"),
    )
}

fn part(fields: &Fields, wrong: &mut Wrong) -> Option<Part> {
    let form = match fields.text("form") {
        "rack" => PartForm::Rack,
        _ => PartForm::Gear,
    };
    let module = needed(wrong, fields, "module", "the module");
    let thickness = needed(wrong, fields, "thickness", "the thickness");
    if fields.text("teeth").is_empty() {
        wrong.note("teeth", "the count of teeth is missing");
    }
    let teeth = wrong.whole(fields, "teeth", "the count of teeth");
    let mut options = Options::new(form, module?, teeth?, thickness?);
    if let Some(deg) = wrong.number(fields, "angle", "the pressure angle") {
        options.angle_rad = deg.to_radians();
    }
    optional(wrong, fields, "bore", "the bore", &mut options.bore_mm);
    let numbers: [(&str, &str, &mut f64); 4] = [
        ("shift", "the profile shift", &mut options.shift),
        ("backlash", "the backlash", &mut options.backlash_mm),
        (
            "relief",
            "the easing of the tips",
            &mut options.tip_relief_mm,
        ),
        ("height", "the height of the body", &mut options.height_mm),
    ];
    for (name, what, into) in numbers {
        if let Some(value) = wrong.number(fields, name, what) {
            *into = value;
        }
    }
    if form == PartForm::Gear && !fields.text("height").is_empty() {
        wrong.note(
            "height",
            "a gear has no body below its gaps: leave it empty",
        );
    }
    options.holes = read_all(fields, "holes", "1.7@4,-2", wrong, Hole::read);
    options.slots = read_all(fields, "slots", "4x1.7@12,-2", wrong, Slot::read);
    if !wrong.is_empty() {
        return None;
    }
    options
        .part()
        .map_err(|error| wrong.note(field_of(error.option), error.reason))
        .ok()
}

fn read_all<T>(
    fields: &Fields,
    name: &str,
    example: &str,
    wrong: &mut Wrong,
    read: fn(&str) -> Option<T>,
) -> Vec<T> {
    let mut all = Vec::new();
    for text in fields.text(name).replace(" x ", "x").split_whitespace() {
        match read(text) {
            Some(it) => all.push(it),
            None => wrong.note(name, format!("“{text}” cannot be read: write {example}")),
        }
    }
    all
}

fn field_of(option: &str) -> &'static str {
    match option {
        "--teeth" => "teeth",
        "--angle-deg" => "angle",
        "--thickness-mm" => "thickness",
        "--bore-mm" => "bore",
        "--shift" => "shift",
        "--backlash-mm" => "backlash",
        "--tip-relief-mm" => "relief",
        "--height-mm" => "height",
        "--hole-mm" => "holes",
        "--slot-mm" => "slots",
        "--mate-teeth" => "mate-teeth",
        "--mate-shift" => "mate-shift",
        "--apart-mm" => "apart",
        _ => "module",
    }
}

/// A part, and the pair that a gear runs in where its mate was told.
struct Drawn {
    part: Part,
    pair: Option<mesh::Report>,
}

impl Drawn {
    fn asked(fields: &Fields, wrong: &mut Wrong) -> Option<Self> {
        let part = part(fields, wrong)?;
        let pair = pair(fields, &part, wrong);
        wrong.is_empty().then_some(Self { part, pair })
    }

    fn sheet(&self, corner: &Corner) -> String {
        files::sheet(&self.part, corner, self.pair.as_ref())
    }

    fn draw(&self, asked: &[(String, String)]) -> Markup {
        html! {
            div.acts {
                @for (kind, name) in [("svg", "SVG, to print at its size"), ("dxf", "DXF, for wire erosion or laser"), ("step", "STEP, for milling or printing"), ("pdf", "The sheet with its measures")] {
                    a.button href=(urls::part_file(kind, asked)) download { (name) }
                }
            }
            div.chart.sheet { (PreEscaped(self.sheet(&Corner::default()))) }
            (figures(&files::data(&self.part, self.pair.as_ref())))
            (findings(self.part.findings.iter().map(Finding::describe)))
            p.quiet-text { "Before a made part is fitted, measure over the teeth that the sheet names; a worn mate may want more room than a new one." }
        }
    }
}

/// The pair that a gear runs in; `None` when no mate was told or something is wrong.
fn pair(fields: &Fields, part: &Part, wrong: &mut Wrong) -> Option<mesh::Report> {
    let mate = match fields.text("mate") {
        "" => return None,
        "gear" => {
            if fields.text("mate-teeth").is_empty() {
                wrong.note("mate-teeth", "the mate’s teeth are missing");
            }
            let teeth = wrong.whole(fields, "mate-teeth", "the mate’s teeth")?;
            Mate::Gear { teeth }
        }
        _ => Mate::Rack,
    };
    if part.options.form == PartForm::Rack {
        wrong.note(
            "mate",
            "only a gear’s span takes its limits from a mate: draw the gear with it",
        );
        return None;
    }
    let mut options = part.options.pair(mate);
    for (name, what, into) in [
        (
            "mate-shift",
            "the mate’s profile shift",
            &mut options.mate_shift,
        ),
        ("apart", "the withdrawal", &mut options.apart_mm),
    ] {
        if let Some(value) = wrong.number(fields, name, what) {
            *into = value;
        }
    }
    mesh::analyse(&options)
        .map_err(|error| wrong.note(field_of(error.option), error.reason))
        .ok()
}

/// One file of the part that the address asks for.
pub(crate) async fn file(
    State(state): State<AppState>,
    Path(kind): Path<String>,
    Query(asked): Query<Vec<(String, String)>>,
) -> Result<Response, PageError> {
    let mut wrong = Wrong::default();
    let fields = Fields::new(asked);
    let Some(drawn) = Drawn::asked(&fields, &mut wrong) else {
        return Err(PageError::not_understood(format!(
            "The part cannot be drawn: {}. Go back to its page and put it right.",
            wrong.in_words()
        )));
    };
    let part = &drawn.part;
    let of = &part.options;
    let form = if of.form == PartForm::Rack {
        "rack"
    } else {
        "gear"
    };
    let name = format!("{form}-{}-module-{}", of.teeth, of.module_mm);
    let (media, bytes) = match kind.as_str() {
        "svg" => ("image/svg+xml", files::svg(part).into_bytes()),
        "dxf" => ("image/vnd.dxf", files::dxf(part).into_bytes()),
        "step" => ("model/step", files::step(part, &name).into_bytes()),
        "pdf" => ("application/pdf", sheet(&state, drawn, &fields).await?),
        _ => {
            return Err(PageError::missing(
                "A part is drawn as svg, dxf, step or pdf.",
            ));
        }
    };
    let disposition = format!("attachment; filename=\"{name}.{kind}\"");
    Ok((
        [
            (CONTENT_TYPE, media.to_owned()),
            (CONTENT_DISPOSITION, disposition),
        ],
        bytes,
    )
        .into_response())
}

/// The sheet as a paper.
async fn sheet(state: &AppState, drawn: Drawn, fields: &Fields) -> Result<Vec<u8>, PageError> {
    let material = fields.text("material").to_owned();
    state
        .at_bench(move |desk| {
            let issued = desk.now.date();
            let title = files::name(&drawn.part);
            let corner = Corner {
                title: title.clone(),
                number: String::new(),
                material,
                date: number::date(issued),
            };
            let sheet = PartSheet {
                svg: drawn.sheet(&corner),
                title,
                bench: desk.bench.settings()?.name,
                issued,
                width_mm: files::SHEET_MM[0],
                height_mm: files::SHEET_MM[1],
            };
            let pdf = part_sheet(&sheet).map_err(|error| PageError::fault(&error.to_string()))?;
            Ok(pdf.bytes)
        })
        .await
}
