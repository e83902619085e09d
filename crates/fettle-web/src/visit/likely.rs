//! What is likely wrong, what speaks for it, and what to look at or do next.

use std::sync::Arc;

use fettle_bench::{Change, FaultIs, Found, Seen, SignObserved, StripOrdered, Term, known};
use fettle_notes::{FaultKind, PartId, ServiceNotes};
use fettle_reason::cause::{
    ComesBack, Diagnosis, Evidence, Finding, Network, Next, NextLook, NextWork, NoDiagnosis,
    Question, Suspect, Weighed, diagnose, weigh,
};
use maud::{Markup, html};

use super::context::{Context, or_wrong};
use super::deed::Deed;
use super::section::Section;
use super::way::off;
use crate::error::sentence;
use crate::form::Wrong;
use crate::kept::{Same, Weighing};
use crate::upload::Upload;
use crate::{graphs, named, number, urls};

/// Faults, looks and works shown before the rest is folded away.
const SHOWN: usize = 6;
/// Answers that the drawn plan goes ahead.
const PLAN_ANSWERS: u32 = 3;

/// The whole of it; only worked out while the stretch stands open.
pub(crate) fn draw(context: &Context<'_>, notes: &Arc<ServiceNotes>) -> Markup {
    if !context.is_open(Section::Cause) {
        return html! {
            div.acts { a.button href=(urls::cause(context.visit(), &Show::of(context), "cause")) { "Weigh the causes" } }
        };
    }
    let lessons = context.lessons();
    let author;
    let network = match &lessons {
        Some(lessons) => &lessons.chances.network,
        None => {
            author = Network::of(notes);
            &author
        }
    };
    let evidence = known(&context.view, notes, network);
    let show = Show::of(context);
    let hangs_on = Weighing {
        notes: Same(Arc::clone(notes)),
        lessons: lessons.clone().map(Same),
        evidence: evidence.clone(),
        off: off(&context.view),
        full_strip: context.view.full_strip,
        plan_depth: if show.plan { PLAN_ANSWERS } else { 0 },
    };
    let diagnosis = context.shelves.diagnoses.get(hangs_on, |it| {
        Arc::new(diagnose(Question {
            notes,
            network,
            evidence: &it.evidence,
            off: &it.off,
            full_strip: it.full_strip,
            plan_depth: it.plan_depth,
            successes: lessons.as_ref().map_or(&[], |it| it.successes.as_slice()),
        }))
    });
    match &*diagnosis {
        Ok(diagnosis) => Told {
            context,
            notes,
            network,
            evidence: &evidence,
            show,
            cameras: lessons.as_ref().map_or(0, |it| it.chances.cameras),
        }
        .draw(diagnosis),
        Err(why) => cannot(why),
    }
}

fn cannot(why: &NoDiagnosis) -> Markup {
    html! {
        div.problems {
            p { strong { "The causes cannot be weighed." } }
            p { (sentence(&why.to_string())) }
        }
    }
}

/// Records that the owner ordered a full strip, or took the order back.
pub(crate) fn strip(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = Wrong::default();
    let ordered = sent.fields.text("ordered") == "yes";
    if !ordered && sent.fields.text("ordered") != "no" {
        wrong.note(
            "",
            "say with one of the buttons whether a full strip is ordered",
        );
    }
    let visit = context.visit();
    or_wrong(vec![StripOrdered { visit, ordered }.into()], wrong)
}

/// What the address asks of this stretch, to be kept in its links.
#[derive(Clone, Debug, Default)]
pub(crate) struct Show {
    pub(crate) why: Option<String>,
    pub(crate) plan: bool,
}

impl Show {
    fn of(context: &Context<'_>) -> Self {
        Self {
            why: context.asked.why.clone(),
            plan: context.asked.plan.is_some(),
        }
    }
}

/// A diagnosis with the words for it.
struct Told<'a> {
    context: &'a Context<'a>,
    notes: &'a ServiceNotes,
    network: &'a Network,
    evidence: &'a Evidence,
    show: Show,
    /// How many finished visits the chances were learned from.
    cameras: usize,
}

impl Told<'_> {
    fn draw(&self, diagnosis: &Diagnosis) -> Markup {
        html! {
            @for finding in &diagnosis.findings { (Self::finding(finding)) }
            (self.next(diagnosis))
            (self.faults(diagnosis))
            @for back in &diagnosis.comes_back { (self.comes_back(back)) }
            (self.looks(diagnosis))
            (self.works(&diagnosis.works))
            (self.plan(diagnosis))
        }
    }

    fn finding(finding: &Finding) -> Markup {
        match finding {
            Finding::SomethingElse { part } => html! {
                div.caution { p {
                    strong { "Something else may be going on" } " – of cameras as the notes know them, only " (number::chance(*part))
                    " give answers that fit together as badly as these. Look again at what was answered, and think of faults that the notes do not have; take the figures below as a list, not as a finding."
                } }
            },
            Finding::Sampled { error } => html! {
                p.quiet-text {
                    "The causes hang together too closely to be reckoned exactly here: the chances are estimated from drawn cameras, with a standard error up to "
                    (number::figure(100.0 * error, None, "%")) "."
                }
            },
        }
    }

    fn href(&self, show: &Show, place: &str) -> String {
        urls::cause(self.context.visit(), show, place)
    }

    fn opens(&self, opens: &[PartId]) -> Markup {
        html! {
            @if !opens.is_empty() {
                div.aside { "takes off first: " (named::parts(self.notes, opens)) }
            }
        }
    }

    /// The one thing to do now, large.
    fn next(&self, diagnosis: &Diagnosis) -> Markup {
        let total = html! {
            dt { "To be reckoned with" }
            dd {
                (number::minutes(diagnosis.expected_minutes)) " until everything is found and cured, removals included"
                @if diagnosis.without_looking_minutes > diagnosis.expected_minutes + 0.5 {
                    "; " (number::minutes(diagnosis.without_looking_minutes)) " without another look"
                }
            }
        };
        match &diagnosis.next {
            Next::Look(id) => {
                let look = diagnosis.looks.iter().find(|look| look.id == *id);
                html! {
                    section.step aria-label="What to do next" {
                        p.step-title { "Look next: " (named::sign(self.notes, id)) }
                        dl.facts {
                            @if let Some(sign) = self.notes.signs.get(id.as_str()) { dt { "Seen at" } dd { (sign.at) } }
                            @if let Some(look) = look {
                                dt { "Takes about" } dd { (number::minutes(look.cost_minutes)) (self.opens(&look.opens)) }
                                dt { "Yes points to" } dd { (self.points(look.if_yes.as_deref())) ", and is to be expected in " (number::chance(look.probability)) }
                                dt { "No points to" } dd { (self.points(look.if_no.as_deref())) }
                            }
                            (total)
                        }
                        @if let Some(look) = look.filter(|look| !look.opens.is_empty()) {
                            div.acts { a.button href=(urls::way_to(self.context.visit(), &look.opens)) { "The way there" } }
                        }
                        (self.answer(id, true))
                    }
                }
            }
            Next::Work(id) => {
                let work = diagnosis.works.iter().find(|work| work.id == *id);
                html! {
                    section.step aria-label="What to do next" {
                        p.step-title { "Do next: " (named::work(self.notes, id)) }
                        dl.facts {
                            @if let Some(work) = work {
                                dt { "It cures" } dd { (work.cures.iter().map(|id| named::cause(self.notes, id)).collect::<Vec<_>>().join(", ")) ", there with a chance of " (number::chance(work.probability)) }
                                dt { "Takes about" } dd { (number::minutes(work.cost_minutes)) (self.opens(&work.opens)) }
                            }
                            (total)
                        }
                        p.quiet-text { "No further look is worth its minutes before this work; it shows whether the fault is there." }
                        @if let Some(caution) = self.notes.works.get(id.as_str()).and_then(|work| work.caution.as_ref()) {
                            div.caution { p { strong { "Caution" } " – " (caution) } }
                        }
                        @if let Some(work) = work.filter(|work| !work.opens.is_empty()) {
                            div.acts { a.button href=(urls::way_to(self.context.visit(), &work.opens)) { "The way there" } }
                        }
                    }
                }
            }
            Next::Stop => html! {
                section.step aria-label="What to do next" {
                    p.step-title { "Nothing more pays" }
                    dl.facts { (total) }
                    p.quiet-text { "By the service notes, no look and no work is worth its minutes against the chance that the camera comes back. Note what was found below, or look where the notes do not." }
                }
            },
        }
    }

    fn points<'s>(&'s self, id: Option<&'s str>) -> &'s str {
        id.map_or("nothing new by the notes", |id| {
            named::cause(self.notes, id)
        })
    }

    /// Yes and no to one sign.
    fn answer(&self, id: &str, large: bool) -> Markup {
        let form = self.context.form_keyed(Deed::Look, id);
        let class = if large { "next large" } else { "" };
        self.context.around(Deed::Look, &form, &html! {
            input type="hidden" name="sign" value=(id);
            div.acts {
                button class=(class) name="seen" value=(Seen::Yes.as_str()) { "Yes" span.unseen { ": " (named::sign(self.notes, id)) } }
                button class=(class) name="seen" value=(Seen::No.as_str()) { "No" span.unseen { ": " (named::sign(self.notes, id)) } }
            }
        })
    }

    fn faults(&self, diagnosis: &Diagnosis) -> Markup {
        let (shown, folded) = diagnosis.faults.split_at(SHOWN.min(diagnosis.faults.len()));
        html! {
            section #likely {
                h3 { "What is likely" }
                p.quiet-text {
                    "Chances from the service notes"
                    @if self.cameras > 0 { ", brought up to date by " (number::count(self.cameras, "finished visit", "finished visits")) }
                    ", with what was answered so far."
                }
                (self.fault_table(shown))
                details.more {
                    summary { "All " (diagnosis.faults.len()) " faults of the notes" }
                    (self.fault_table(folded))
                }
                @if let Some(why) = &self.show.why { (self.why(diagnosis, why)) }
            }
        }
    }

    fn fault_table(&self, faults: &[Suspect]) -> Markup {
        html! {
            div.table-wrap { table {
                thead { tr { th { "Fault" } th { "It is" } th.num { "Chance" } th { span.unseen { "What to do with it" } } } }
                tbody { @for suspect in faults { (self.fault_row(suspect)) } }
            } }
        }
    }

    fn fault_row(&self, suspect: &Suspect) -> Markup {
        let fault = self.notes.faults.get(suspect.id.as_str());
        let said = self.context.view.faults.iter().rev().find(|fault| {
            fault.what.fault.id.as_deref() == Some(suspect.id.as_str())
                && fault.what.found != Found::Suspected
        });
        let asked = Show {
            why: Some(suspect.id.clone()),
            ..self.show.clone()
        };
        let form = self.context.form_named(&format!("settle-{}", suspect.id));
        html! {
            tr {
                th scope="row" { (named::cause(self.notes, &suspect.id)) }
                td { @if let Some(fault) = fault { (fault.is) } }
                td.num { (number::chance(suspect.probability)) }
                td.row-acts {
                    a href=(self.href(&asked, "cause-why")) { "Why" span.unseen { ": " (named::cause(self.notes, &suspect.id)) } }
                    @if let Some(said) = said { span.aside { (said.what.found) } }
                    @else {
                        (self.context.around(Deed::Fault, &form, &html! {
                            input type="hidden" name="fault" value=(suspect.id);
                            button.quiet name="found" value=(Found::Found.as_str()) { "Found" span.unseen { ": " (named::cause(self.notes, &suspect.id)) } }
                            button.quiet name="found" value=(Found::RuledOut.as_str()) { "Ruled out" span.unseen { ": " (named::cause(self.notes, &suspect.id)) } }
                        }))
                    }
                }
            }
        }
    }

    /// What speaks for a fault and against it, and which looks would change the ranking.
    fn why(&self, diagnosis: &Diagnosis, fault: &str) -> Markup {
        let title = html! { h4 #cause-why { "Why “" (named::cause(self.notes, fault)) "”" } };
        let weighed = match weigh(self.network, self.evidence, fault) {
            Ok(weighed) => weighed,
            Err(why) => return html! { (title) p { (sentence(&why.to_string())) } },
        };
        let (speaking, silent): (Vec<_>, Vec<_>) =
            weighed.into_iter().partition(|it| it.weight.abs() >= 0.05);
        let first = diagnosis.faults.first().map(|first| first.id.as_str());
        let turning: Vec<&NextLook> = diagnosis
            .looks
            .iter()
            .filter(|look| {
                [&look.if_yes, &look.if_no]
                    .into_iter()
                    .any(|to| to.as_deref().is_some_and(|to| Some(to) != first))
            })
            .collect();
        html! {
            div.group {
                (title)
                @if speaking.is_empty() { p { "Nothing that was answered speaks for or against it; its chance is that of the notes, with the other faults in view." } }
                ul.lines { @for it in &speaking { li { (self.weighed(it)) } } }
                @if !silent.is_empty() {
                    p.aside { "Says nothing of it: " (silent.iter().map(|it| self.named(it)).collect::<Vec<_>>().join("; ")) }
                }
                @if !turning.is_empty() {
                    p { "What would change the order:" }
                    ul.lines {
                        @for look in turning.into_iter().take(SHOWN) {
                            li {
                                (named::sign(self.notes, &look.id)) " "
                                span.aside { "yes points to " (self.points(look.if_yes.as_deref())) ", no to " (self.points(look.if_no.as_deref())) }
                            }
                        }
                    }
                }
            }
        }
    }

    fn named(&self, it: &Weighed) -> String {
        let name = if self.notes.signs.contains(it.id.as_str()) {
            named::sign(self.notes, &it.id)
        } else {
            named::cause(self.notes, &it.id)
        };
        format!("{name} {}", if it.there { "yes" } else { "no" })
    }

    fn weighed(&self, it: &Weighed) -> Markup {
        let times = it.weight.abs().exp2();
        let said = if times.is_finite() {
            format!(
                "{} the odds {} times",
                if it.weight > 0.0 { "raises" } else { "lowers" },
                number::figure(two_digits(times), None, "")
            )
        } else {
            "settles it".to_owned()
        };
        html! {
            div.row {
                span.what { (self.named(it)) }
                span {
                    strong { (if it.weight > 0.0 { "for" } else { "against" }) } ": " (said)
                    span.aside { " (" (bits(it.weight)) ")" }
                }
            }
        }
    }

    fn comes_back(&self, back: &ComesBack) -> Markup {
        html! {
            div.caution { p {
                strong { "It would come back" } " – “" (named::cause(self.notes, &back.damage)) "” is damage. Mended alone, with “"
                (named::cause(self.notes, &back.cause)) "” left in, it is done again by the same cause; that cause is there with a chance of "
                (number::chance(back.probability)) "."
            } }
        }
    }

    fn looks(&self, diagnosis: &Diagnosis) -> Markup {
        let (shown, folded) = diagnosis.looks.split_at(SHOWN.min(diagnosis.looks.len()));
        html! {
            section #looks {
                h3 { "The next looks" }
                @if diagnosis.looks.is_empty() { p { "No look that is left can save its own minutes." } }
                @else { (self.look_table(shown)) }
                @if !folded.is_empty() {
                    details.more { summary { (number::count(folded.len(), "look", "looks")) " more" } (self.look_table(folded)) }
                }
                p.quiet-text {
                    "What a look saves is counted for it alone; the order looks further, at what can be done after its answer. "
                    @if self.context.view.full_strip { "A full strip is ordered: openings are counted as free. " }
                    @else { "Openings are counted once for all that lies behind them. " }
                }
                (self.strip_form())
            }
        }
    }

    /// The order for a full strip, given or taken back.
    fn strip_form(&self) -> Markup {
        let form = self.context.form(Deed::Strip);
        self.context.around(Deed::Strip, &form, &html! {
            div.acts {
                @if self.context.view.full_strip { button.quiet name="ordered" value="no" { "No full strip after all" } }
                @else { button.quiet name="ordered" value="yes" { "The owner ordered a full strip" } }
            }
        })
    }

    fn look_table(&self, looks: &[NextLook]) -> Markup {
        html! {
            div.table-wrap { table {
                thead { tr { th { "Look" } th.num { "Saves" } th.num { "Costs" } th { span.unseen { "Answer" } } } }
                tbody {
                    @for look in looks {
                        tr {
                            th scope="row" {
                                (named::sign(self.notes, &look.id))
                                div.aside { "yes (" (number::chance(look.probability)) ") points to " (self.points(look.if_yes.as_deref())) "; no to " (self.points(look.if_no.as_deref())) }
                                (self.opens(&look.opens))
                            }
                            td.num { (saved(look.value_minutes)) }
                            td.num { (number::minutes(look.cost_minutes)) }
                            td.row-acts { (self.answer(&look.id, false)) }
                        }
                    }
                }
            } }
        }
    }

    fn works(&self, works: &[NextWork]) -> Markup {
        html! {
            @if !works.is_empty() {
                section #worth {
                    h3 { "Work that pays as it stands" }
                    div.table-wrap { table {
                        thead { tr { th { "Work" } th { "Cures" } th.num { "Chance" } th.num { "Costs" } } }
                        tbody {
                            @for work in works {
                                tr {
                                    th scope="row" { (named::work(self.notes, &work.id)) (self.opens(&work.opens)) }
                                    td { @for id in &work.cures { div { (named::cause(self.notes, id)) } } }
                                    td.num { (number::chance(work.probability)) }
                                    td.num { (number::minutes(work.cost_minutes)) }
                                }
                            }
                        }
                    } }
                }
            }
        }
    }

    fn plan(&self, diagnosis: &Diagnosis) -> Markup {
        let other = Show {
            plan: !self.show.plan,
            ..self.show.clone()
        };
        html! {
            section #plan {
                h3 { "The plan" }
                @match &diagnosis.plan {
                    None => p { a href=(self.href(&other, "plan")) { "Draw the plan " (PLAN_ANSWERS) " answers ahead" } },
                    Some(plan) => {
                        div.chart.graph { (graphs::plan(self.notes, plan)) }
                        p { a href=(self.href(&other, "plan")) { "Put the plan away" } }
                    }
                }
            }
        }
    }
}

/// Minutes saved, with a sign: a look that costs more than it saves alone may still lead on.
fn saved(minutes: f64) -> String {
    if minutes < 0.0 {
        format!("−{}", number::minutes(-minutes))
    } else {
        number::minutes(minutes)
    }
}

/// A weight of evidence: `+6.4 bit`.
fn bits(weight: f64) -> String {
    let sign = if weight < 0.0 { '\u{2212}' } else { '+' };
    format!("{sign}{:.1}\u{a0}bit", weight.abs())
}

/// Rounded to two digits, as more means nothing to a weight of evidence.
fn two_digits(value: f64) -> f64 {
    let scale = 10_f64.powf(value.abs().max(1e-9).log10().floor() - 1.0);
    (value / scale).round() * scale
}

/// One answer to one look.
pub(crate) fn look(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = Wrong::default();
    let id = sent.fields.text("sign");
    let sign = context.notes().and_then(|notes| notes.signs.get(id));
    let seen = Seen::from_text(sent.fields.text("seen")).filter(|seen| *seen != Seen::NotLooked);
    let (Some(sign), Some(seen)) = (sign, seen) else {
        wrong.note(
            "",
            format!("the notes have no sign “{id}” with such an answer"),
        );
        return Err(wrong);
    };
    let observed = SignObserved {
        visit: context.visit(),
        sign: Term::known(id, &sign.question),
        seen,
        numbers: Vec::new(),
        note: String::new(),
    };
    or_wrong(vec![observed.into()], wrong)
}

/// Damage or cause, as the notes have it.
pub(crate) fn is_of(kind: FaultKind) -> FaultIs {
    if kind == FaultKind::Cause {
        FaultIs::Cause
    } else {
        FaultIs::Damage
    }
}
