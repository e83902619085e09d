//! Fills the views from the tables.

mod bill;
mod donor;
mod find;
mod index;
mod journal;
mod learned;
mod line;
mod lists;
mod out;
mod row;
mod stock;
mod today;
mod used_for;
mod visit;

pub(crate) use self::{
    bill::{Charged, charged},
    donor::{donor, donors},
    find::{find, query_words},
    index::index,
    journal::{Told, after as journal_after, all as journal, one as entry, told as journal_entry},
    learned::learned,
    lists::{camera, cameras, finished, going_home, owner, owners, visits},
    out::out,
    row::{settings, word},
    stock::{drawer, drawers, like_parts, lot, lots_for, part, parts, uses},
    today::{days_ahead, today},
    used_for::{UseInVisit, uses_in_visits, visits_since},
    visit::{file_of, paper_title, visit},
};
