//! Fills the views from the tables.

mod find;
mod journal;
mod line;
mod lists;
mod row;
mod today;
mod visit;

pub(crate) use self::{
    find::{find, query_words},
    journal::{Told, after as journal_after, all as journal, one as entry},
    lists::{camera, cameras, finished, going_home, owner, owners, visits},
    row::{settings, word},
    today::today,
    visit::{file_of, paper_title, visit},
};
