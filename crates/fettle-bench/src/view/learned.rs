//! What the finished visits of the bench, or of one model, add up to.

use fettle_reason::Share;
use jiff::civil::Date;
use rust_decimal::Decimal;
use serde::Serialize;

use crate::{
    ids::VisitId,
    money::Currency,
    term::Term,
    words::{FaultIs, Grade},
};

/// Which visits to learn from; every condition given must hold.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct LearnedFilter {
    /// Only cameras with these service notes.
    pub notes_id: Option<String>,
    /// Only what arrived on this day or later; of income, what was billed then or later.
    pub from: Option<Date>,
    /// Only what arrived on this day or earlier; of income, what was billed then or earlier.
    pub to: Option<Date>,
}

/// What finished visits add up to: those proved, packed, home or to be returned unrepaired.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Learned {
    /// How many are finished.
    pub visits: u64,
    /// Faults found, most frequent first.
    pub faults: Vec<FaultShare>,
    /// Whether quotes held.
    pub quotes: QuotesHeld,
    /// Parts fitted, by grade, most pieces first.
    pub parts: Vec<PartUsed>,
    /// What came back under guarantee.
    pub came_back: CameBack,
    /// Days from arrival to sending.
    pub days_home: DaysHome,
    /// What was billed, by currency and month.
    pub income: Vec<Income>,
}

/// How often a fault was found.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FaultShare {
    /// Which.
    pub fault: Term,
    /// Damage or cause.
    pub is: FaultIs,
    /// In how many of the visits, with the 90 % interval of that share.
    #[serde(flatten)]
    pub share: Share,
}

/// Whether the nine-in-ten figure of what was agreed to held.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct QuotesHeld {
    /// How many took no longer than their nine-in-ten figure, with the 90 % interval of that share.
    #[serde(flatten)]
    pub within_nine_in_ten: Share,
    /// Each visit, oldest first.
    pub points: Vec<QuotePoint>,
}

/// What was agreed to and what it took, of the works of one visit whose minutes were counted.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct QuotePoint {
    /// Which visit.
    pub visit: VisitId,
    /// The likely minutes.
    pub likely: f64,
    /// What was to do nine times in ten.
    pub nine_in_ten: f64,
    /// The minutes it took.
    pub took: f64,
}

/// Pieces of a part that were fitted.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PartUsed {
    /// What it is called.
    pub words: String,
    /// Its grade.
    pub grade: Grade,
    /// How many pieces.
    pub quantity: u64,
}

/// What came back under guarantee.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CameBack {
    /// How many of the cameras sent home repaired came back under guarantee, with the 90 % interval of that share.
    #[serde(flatten)]
    pub share: Share,
    /// How many of them with a cause that was found the first time too.
    pub same_cause: u64,
    /// How many with none of those causes.
    pub other_cause: u64,
    /// Each, oldest first.
    pub points: Vec<BackPoint>,
}

/// A camera that came back under guarantee.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct BackPoint {
    /// The visit whose work is guaranteed.
    pub earlier: VisitId,
    /// The visit under the guarantee.
    pub later: VisitId,
    /// Whether a cause of the first was found again; `None` while one of the two has none found.
    pub same: Option<bool>,
    /// The causes found at the later visit, the damages where no cause was found.
    pub causes: Vec<Term>,
}

/// Days from arrival to sending.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct DaysHome {
    /// One in ten went home within so many days; `None` when none went home.
    pub p10: Option<i64>,
    /// Half of them within so many.
    pub p50: Option<i64>,
    /// Nine in ten within so many.
    pub p90: Option<i64>,
    /// Each, fewest first.
    pub days: Vec<i64>,
}

/// What was billed in a month, less credit notes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Income {
    /// In which currency.
    pub currency: Currency,
    /// Its first day.
    pub month: Date,
    /// Before tax.
    pub net: Decimal,
    /// The tax.
    pub tax: Decimal,
    /// Both.
    pub gross: Decimal,
}

/// A visit under the guarantee of an earlier one.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Returned {
    /// The visit whose work is guaranteed.
    pub earlier: VisitId,
    /// Whether it came back within that guarantee; `false` too when none was given.
    pub within: bool,
    /// The causes found then, the damages where no cause was found.
    pub earlier_causes: Vec<Term>,
    /// The same of this visit.
    pub these_causes: Vec<Term>,
    /// Whether a cause was found again; `None` while one of the two has none found.
    pub same: Option<bool>,
}

/// Whether one of these causes is among the earlier ones; `None` when one of the two has none.
pub(crate) fn same_cause(earlier: &[Term], later: &[Term]) -> Option<bool> {
    if earlier.is_empty() || later.is_empty() {
        return None;
    }
    let again = |it: &Term| earlier.iter().any(|before| before.key() == it.key());
    Some(later.iter().any(again))
}
