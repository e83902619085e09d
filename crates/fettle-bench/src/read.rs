//! Fills the views from the tables.

mod bill;
mod causes;
mod donor;
mod find;
mod index;
mod journal;
mod line;
mod lists;
mod out;
mod row;
mod stock;
mod sums;
mod today;
mod touched;
mod used_for;
mod visit;

pub(crate) use self::{
    bill::{Charged, charged, not_added},
    donor::{donor, donors},
    find::{find, query_words},
    index::index,
    journal::{Told, after as journal_after, all as journal, one as entry, told as journal_entry},
    lists::{camera, cameras, going_home, owner, owners, visits},
    out::out,
    row::{settings, word},
    stock::{drawer, drawers, like_parts, lot, lots_for, part, parts, uses},
    sums::sums_of,
    today::{days_ahead, today},
    touched::{last_entry, models_touched, visits_touched},
    used_for::{UseInVisit, uses_in_visits, visits_since},
    visit::{file_of, paper_title, visit},
};
