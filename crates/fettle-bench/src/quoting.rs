//! What a quote would say: lines with minutes and amounts, from the service notes, what was learned, and the drawers.
//!
//! A draft is a proposal: the mechanic alters it before it becomes a quote.

use fettle_notes::{PartId, ServiceNotes, Work, WorkId};
use fettle_reason::{LearnedMinutes, NoWay, Taking, take_together, way};
use jiff::{ToSpan, civil::Date};
use rust_decimal::{Decimal, prelude::ToPrimitive};
use serde::Serialize;

use crate::{
    bench::Bench,
    change::{BenchSettings, QuoteLine, QuoteMade},
    error::BenchError,
    ids::{LotId, VisitId},
    lessons::Lessons,
    money::{Currency, Totals},
    term::Term,
    view::{Lot, VisitView},
    words::{Found, Grade, LineFor, QuoteKind, Seen},
};

/// A proposal for a quote.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct QuoteDraft {
    /// For which visit.
    pub visit: VisitId,
    /// Which of the ways open to the owner it is for.
    pub kind: QuoteKind,
    /// Its lines.
    pub lines: Vec<DraftLine>,
    /// How long all of it takes, in minutes: less than the sum of what will do for each.
    pub takes: Taking,
    /// What it is reckoned in.
    pub currency: Currency,
    /// The bench's tax, in percent; `None` when it charges none.
    pub tax_percent: Option<Decimal>,
    /// What the tax is called.
    pub tax_name: String,
    /// What cannot be said, or was assumed, in sentences without a full stop.
    pub remarks: Vec<String>,
    deposit_percent: Option<Decimal>,
    quote_days: Option<u32>,
}

/// A line of a proposal.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DraftLine {
    /// Work or part.
    pub line_for: LineFor,
    /// Which.
    pub what: Term,
    /// The part's grade; `None` for work, or when no drawer has enough.
    pub grade: Option<Grade>,
    /// How many; `None` for work.
    pub quantity: Option<u32>,
    /// Whole minutes that it takes; `None` for a part.
    pub takes: Option<Taking>,
    /// The price of the line; `None` when the hourly rate or the part's price is not known.
    pub amount: Option<Decimal>,
    /// The lot that has enough, the cheapest of them.
    pub lot: Option<LotId>,
    /// What the line is for, or why it has no price; may be empty.
    pub why: String,
}

impl QuoteDraft {
    /// The lines that have a price added up, with the tax on them; `None` when exact decimals cannot hold it.
    #[must_use]
    pub fn totals(&self) -> Option<Totals> {
        let amounts = self.lines.iter().filter_map(|line| line.amount);
        Totals::of(
            amounts.map(|amount| (amount, self.tax_percent)),
            self.currency,
        )
    }

    /// The quote as it stands, made on this day: a line without a price comes in at nothing. The door refuses one without lines.
    #[must_use]
    pub fn quote(&self, on: Date) -> QuoteMade {
        let lines = self.lines.iter().map(DraftLine::quoted).collect();
        let quote = QuoteMade {
            kind: self.kind,
            tax_percent: self.tax_percent,
            tax_name: self.tax_name.clone(),
            valid_until: last_day(on, self.quote_days),
            ..QuoteMade::new(self.visit, lines, self.currency, "")
        };
        quote.with_deposit(self.deposit_percent)
    }
}

impl DraftLine {
    fn quoted(&self) -> QuoteLine {
        QuoteLine {
            line_for: self.line_for,
            what: self.what.clone(),
            grade: self.grade,
            quantity: self.quantity,
            minutes_likely: self.takes.map(|it| it.likely),
            minutes_nine_in_ten: self.takes.map(|it| it.nine_in_ten),
            amount: self.amount.unwrap_or_default(),
        }
    }
}

/// The last day on which a quote can be agreed to that is made on this day; `None` when it has no end.
pub(crate) fn last_day(on: Date, days: Option<u32>) -> Option<Date> {
    on.checked_add(i64::from(days?).days()).ok()
}

impl BenchSettings {
    /// What so many minutes cost at the hourly rate, rounded up to a multiple of [`round_to`](Self::round_to), else of the smallest
    /// coin. Minutes are whole; `None` when there is no rate or exact decimals cannot hold it.
    #[must_use]
    pub fn price_of(&self, minutes: u32) -> Option<Decimal> {
        let step = self.round_to.unwrap_or_else(|| self.currency.coin());
        let hundreds = self.hourly_rate?.checked_mul(Decimal::from(minutes))?;
        let of_step = step.checked_mul(Decimal::from(60))?;
        let over = hundreds.checked_rem(of_step)?;
        let whole = hundreds.checked_sub(over)?.checked_div(of_step)?;
        let steps = if over.is_zero() {
            whole
        } else {
            whole.checked_add(Decimal::ONE)?
        };
        steps.checked_mul(step)
    }
}

impl Bench {
    /// Proposes a quote for a visit: the works that its faults ask for, the way in and back, and the parts with their prices, from the
    /// service notes, what finished visits taught, and the drawers.
    ///
    /// # Errors
    /// When there is no such visit, or the database cannot be read.
    pub fn quote_draft(&self, visit: VisitId, kind: QuoteKind) -> Result<QuoteDraft, BenchError> {
        let (view, settings) = (self.visit(visit)?, self.settings()?);
        let notes_id = view.camera.details.notes_id.as_deref();
        let notes = notes_id.and_then(|id| self.notes(id));
        let lessons = notes_id.map(|id| self.lessons(id)).transpose()?.flatten();
        let fitting = notes_id.map(|id| self.fitting(id)).unwrap_or_default();
        let given = Given {
            lots: &self.lots_for(&view.camera.details)?,
            view: &view,
            settings: &settings,
            notes: notes.as_deref(),
            lessons: lessons.as_deref(),
            fitting: &fitting,
        };
        Ok(draft(&given, kind))
    }
}

/// What a draft is made from.
pub(crate) struct Given<'g> {
    pub(crate) view: &'g VisitView,
    pub(crate) settings: &'g BenchSettings,
    pub(crate) notes: Option<&'g ServiceNotes>,
    pub(crate) lessons: Option<&'g Lessons>,
    /// Lots that fit the camera.
    pub(crate) lots: &'g [Lot],
    /// Parts of other models that fit it: each model's id with the part's.
    pub(crate) fitting: &'g [(String, String)],
}

/// Proposes a quote.
pub(crate) fn draft(given: &Given<'_>, kind: QuoteKind) -> QuoteDraft {
    let mut draft = Drafting {
        given,
        lines: Vec::new(),
        remarks: Vec::new(),
    };
    match given.notes {
        None => draft
            .remarks
            .push("this camera has no service notes: write the lines by hand".to_owned()),
        Some(notes) if kind == QuoteKind::ReturnUnrepaired => draft.looking_over(notes),
        Some(notes) => draft.works(notes, kind),
    }
    if given.settings.hourly_rate.is_none() {
        let remark = "the bench has no hourly rate: work has no price until it is settled";
        draft.remarks.push(remark.to_owned());
    }
    let each: Vec<Taking> = draft.lines.iter().filter_map(|line| line.takes).collect();
    let whole = take_together(&each);
    QuoteDraft {
        visit: given.view.line.visit,
        kind,
        takes: whole_minutes(whole),
        lines: draft.lines,
        remarks: draft.remarks,
        currency: given.settings.currency,
        tax_percent: given.settings.tax_percent,
        tax_name: given.settings.tax_name.clone(),
        deposit_percent: given.settings.deposit_percent,
        quote_days: given.settings.quote_days,
    }
}

struct Drafting<'g> {
    given: &'g Given<'g>,
    lines: Vec<DraftLine>,
    remarks: Vec<String>,
}

/// A work that is proposed, and for what.
struct Wanted<'n> {
    id: &'n WorkId,
    work: &'n Work,
    why: String,
}

impl Drafting<'_> {
    /// Looking over costs what the looks cost that were made, and what already lies apart must go back.
    fn looking_over(&mut self, notes: &ServiceNotes) {
        let view = self.given.view;
        let made = |id: &str| {
            let mut signs = view.signs.iter();
            signs.any(|kept| {
                kept.what.seen != Seen::NotLooked && kept.what.sign.id.as_deref() == Some(id)
            })
        };
        let any = notes.signs.ids().any(|id| made(id.as_str()));
        let looks = notes.signs.iter().filter(|(id, sign)| {
            if any {
                made(id.as_str())
            } else {
                sign.needs_apart.is_empty()
            }
        });
        let minutes: f64 = looks.map(|(_, sign)| sign.minutes.to_f64()).sum();
        let takes = Taking {
            likely: minutes,
            nine_in_ten: minutes,
        };
        self.work(Term::own("looking over"), takes, String::new());
        self.way(notes, &[], QuoteKind::ReturnUnrepaired);
    }

    fn works(&mut self, notes: &ServiceNotes, kind: QuoteKind) {
        let wanted = self.wanted(notes, kind);
        if wanted.is_empty() {
            let remark = match kind {
                QuoteKind::Extra => "no fault is found that what was agreed to does not cure",
                _ => "no fault of the service notes is found or suspected yet",
            };
            self.remarks.push(remark.to_owned());
            return;
        }
        let mut apart: Vec<PartId> = Vec::new();
        let mut uses: Vec<(&PartId, u32)> = Vec::new();
        for Wanted { id, work, why } in wanted {
            let usual = self.given.lessons.and_then(|lessons| lessons.work(id));
            let takes = usual.map_or_else(|| untimed(work.minutes.to_f64()), Taking::from);
            self.work(Term::known(id.as_str(), &work.name), takes, why);
            for part in &work.needs_apart {
                if notes.removals.contains(part) && !apart.contains(part) {
                    apart.push(part.clone());
                }
            }
            for part in &work.parts {
                match uses.iter_mut().find(|(known, _)| *known == &part.part) {
                    Some((_, count)) => *count = count.saturating_add(part.count),
                    None => uses.push((&part.part, part.count)),
                }
            }
        }
        self.way(notes, &apart, kind);
        for (part, count) in uses {
            self.part(notes, part, count);
        }
    }

    /// The first work that cures each fault found, or suspected where none is found; in an overhaul also all that an overhaul does.
    /// What is done or agreed to already is left out.
    fn wanted<'n>(&self, notes: &'n ServiceNotes, kind: QuoteKind) -> Vec<Wanted<'n>> {
        let view = self.given.view;
        let settled = |id: &WorkId| {
            let done = view.works.iter().map(|kept| &kept.what.work);
            let agreed = view.agreed().into_iter();
            let agreed = agreed.filter(|_| kind == QuoteKind::Extra);
            let agreed = agreed.flat_map(|quote| &quote.what.lines);
            done.chain(agreed.map(|line| &line.what))
                .any(|term| term.id.as_deref() == Some(id.as_str()))
        };
        let there = |found: Found| view.faults.iter().any(|it| it.what.found == found);
        let looked_for = if there(Found::Found) {
            Found::Found
        } else {
            Found::Suspected
        };
        let mut wanted: Vec<Wanted<'n>> = Vec::new();
        let faults = view.faults.iter();
        for fault in faults.filter(|fault| fault.what.found == looked_for) {
            let known = fault.what.fault.id.as_deref();
            let Some(known) = known.and_then(|id| notes.faults.get(id)) else {
                continue;
            };
            let cures = &known.cured_by;
            let chosen = |id: &WorkId| wanted.iter().any(|it| it.id == id);
            if cures.iter().any(|id| settled(id) || chosen(id)) {
                continue;
            }
            let first = cures.first().and_then(|id| notes.works.entry(id));
            if let Some((id, work)) = first {
                let why = match looked_for {
                    Found::Suspected => format!("suspected: {}", fault.what.fault.words),
                    _ => fault.what.fault.words.clone(),
                };
                wanted.push(Wanted { id, work, why });
            }
        }
        if kind == QuoteKind::Overhaul {
            for (id, work) in notes.works.iter() {
                if work.overhaul && !settled(id) && wanted.iter().all(|it| it.id != id) {
                    let why = String::new();
                    wanted.push(Wanted { id, work, why });
                }
            }
        }
        wanted
    }

    /// The way in to these parts and back, with what already lies apart, as one line. A part goes back in the time that it comes off in.
    fn way(&mut self, notes: &ServiceNotes, wanted: &[PartId], kind: QuoteKind) {
        let pieces = self.given.view.tray();
        let off: Vec<PartId> = pieces
            .filter_map(|piece| PartId::new(piece.what.piece.id.as_deref()?).ok())
            .filter(|part| notes.removals.contains(part))
            .collect();
        let found = match way(notes, wanted, &off) {
            Ok(found) => found,
            Err(no_way) => {
                self.remarks.push(told(&no_way));
                return;
            }
        };
        let lessons = self.given.lessons;
        let legs: Vec<Taking> = found
            .way_back
            .iter()
            // What already lies apart is put back by what was agreed to.
            .filter(|leg| {
                kind != QuoteKind::Extra || found.way_in.iter().any(|it| it.part == leg.part)
            })
            .map(|leg| {
                let usual = lessons.and_then(|lessons| lessons.removal(leg.part));
                let author = leg.removal.minutes.to_f64();
                let once = usual.map_or_else(|| untimed(author), Taking::from);
                let both_ways = found.way_in.iter().any(|it| it.part == leg.part);
                once.times(if both_ways { 2.0 } else { 1.0 })
            })
            .collect();
        if !legs.is_empty() {
            let words = if found.way_in.is_empty() {
                "putting back"
            } else {
                "taking apart and putting back"
            };
            self.work(Term::own(words), take_together(&legs), String::new());
        }
    }

    fn work(&mut self, what: Term, takes: Taking, why: String) {
        let takes = whole_minutes(takes);
        let amount = takes.likely.to_u32();
        let amount = amount.and_then(|minutes| self.given.settings.price_of(minutes));
        self.lines.push(DraftLine {
            line_for: LineFor::Work,
            what,
            grade: None,
            quantity: None,
            takes: Some(takes),
            amount,
            lot: None,
            why,
        });
    }

    /// Pieces of a part from the cheapest lot that has enough of them.
    fn part(&mut self, notes: &ServiceNotes, part: &PartId, count: u32) {
        let name = notes.parts.get(part).map_or(part.as_str(), |it| &it.name);
        let enough = self
            .given
            .lots
            .iter()
            .filter(|lot| self.given.is_of(lot, part))
            .filter(|lot| lot.quantity >= count);
        let currency = self.given.settings.currency;
        let price = |lot: &Lot| {
            lot.price
                .filter(|price| price.currency == currency)
                .map(|price| price.amount)
        };
        let chosen = enough.min_by_key(|lot| (price(lot).is_none(), price(lot), lot.id));
        let each = chosen.and_then(price);
        let amount = each.and_then(|each| each.checked_mul(Decimal::from(count)));
        let why = match chosen {
            None => "no lot in the drawers has enough: no price",
            Some(_) if amount.is_none() => "what it cost is not written of its lot: no price",
            Some(_) => "",
        };
        self.lines.push(DraftLine {
            line_for: LineFor::Part,
            what: Term::known(part.as_str(), name),
            grade: chosen.map(|lot| lot.grade),
            quantity: Some(count),
            takes: None,
            amount,
            lot: chosen.map(|lot| lot.id),
            why: why.to_owned(),
        });
    }
}

impl Given<'_> {
    /// Whether a lot holds this part of the camera's notes, or a part of another model that fits in its place: one of the same id.
    fn is_of(&self, lot: &Lot, part: &PartId) -> bool {
        let of = &lot.of;
        let same = of.part.id.as_deref() == Some(part.as_str());
        let ours = of.notes_id.as_deref() == self.view.line.notes_id.as_deref();
        let fits = || {
            self.fitting.iter().any(|(model, id)| {
                Some(model.as_str()) == of.notes_id.as_deref()
                    && of.part.id.as_deref() == Some(id.as_str())
            })
        };
        same && (ours || fits())
    }
}

/// A figure that nobody timed yet: the author's, with the scatter that is believed of it.
fn untimed(author: f64) -> Taking {
    let learned: Vec<LearnedMinutes> = fettle_reason::learn_minutes(&[(author, &[])]);
    learned.first().map_or_else(Taking::default, Taking::from)
}

/// Rounded to whole minutes, one at least for what takes any time.
fn whole_minutes(it: Taking) -> Taking {
    let whole = |minutes: f64| {
        if minutes.is_finite() && minutes > 0.0 {
            minutes.round().max(1.0)
        } else {
            0.0
        }
    };
    let likely = whole(it.likely);
    Taking {
        likely,
        nine_in_ten: whole(it.nine_in_ten).max(likely),
    }
}

fn told(no_way: &NoWay) -> String {
    format!("the way in cannot be reckoned: {no_way}")
}
