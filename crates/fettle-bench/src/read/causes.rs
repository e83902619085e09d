//! The causes found at a visit.

use rusqlite::Connection;

use super::row::{term, word};
use crate::{ids::VisitId, term::Term, words::FaultIs};

/// The causes found at a visit, the damages where no cause was found.
pub(crate) fn causes(connection: &Connection, visit: VisitId) -> rusqlite::Result<Vec<Term>> {
    let found: Vec<(FaultIs, Term)> = connection
        .prepare_cached(
            "SELECT term_id, words, fault_is FROM fault WHERE visit_id = ?1 AND found = 'found' ORDER BY id",
        )?
        .query_map([visit.get()], |row| {
            Ok((word(row, 2, FaultIs::from_text)?, term(row, 0)?))
        })?
        .collect::<rusqlite::Result<_>>()?;
    let any = found.iter().any(|(is, _)| *is == FaultIs::Cause);
    let wanted = if any { FaultIs::Cause } else { FaultIs::Damage };
    let causes = found.into_iter().filter(|(is, _)| *is == wanted);
    Ok(causes.map(|(_, term)| term).collect())
}
