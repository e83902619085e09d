//! How long what is kept lasts, reckoned from its use.

mod reckoned;

use std::{collections::HashMap, sync::Arc};

use fettle_reason::demand::{
    Forecast, History, Kept, Kind, Prior, Until, Visits, forecast, forecast_by_visits, keep, pieces,
};
use jiff::{civil::Date, tz::TimeZone};

use crate::{
    bench::Bench,
    error::BenchError,
    ids::PartId,
    read,
    term::Term,
    view::{LikePart, PartLine, Use},
};

pub(crate) use self::reckoned::Reckoned;

/// The chance with which a drawer is to last when it is asked how many to buy.
pub const SERVICE: f64 = 0.95;

/// Which parts are like one: the model, and which half of its parts.
pub(crate) type Like = (String, bool);

/// Parts are like one another when they belong to the same model. Each is believed from those of the other half, by their number, so
/// that none stands for itself and a whole page of parts asks for few priors.
fn like(line: &PartLine) -> Like {
    let of = &line.of;
    let model = of.notes_id.as_ref().unwrap_or(&of.model).clone();
    (model, line.id.get() % 2 == 0)
}

/// The use of a part from the day since when it is kept until today.
fn history(since: Date, uses: &[Use], today: Date) -> Option<History> {
    let watched = [(since.min(today), 0)];
    let used = uses
        .iter()
        .map(|it| (it.on.clamp(since.min(today), today), it.quantity));
    History::of_rows(watched.into_iter().chain(used), Some(today)).ok()
}

impl Bench {
    /// What the use of a part says of so many years to come: the chance that what is there lasts, when it runs out, how many to buy
    /// once for [`SERVICE`]; by the visits of its models where so many are expected in a year. `None` when the record tells of an
    /// absurd use or asks too far ahead.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn outlook(
        &self,
        line: &PartLine,
        uses: &[Use],
        today: Date,
        years: f64,
        visits_per_year: Option<f64>,
    ) -> Result<Option<Forecast>, BenchError> {
        let prior = self.prior(&like(line), today)?;
        let Some(history) = history(since(line), uses, today) else {
            return Ok(None);
        };
        let (until, on_hand) = (Until::Years(years), line.quantity);
        let Some(per_year) = visits_per_year else {
            return Ok(forecast(&history, &prior, on_hand, until, SERVICE).ok());
        };
        let seen = self.visits_wanting(line)?;
        let visits = Visits {
            seen,
            per_year,
            worth: f64::from(seen.max(1)),
        };
        Ok(forecast_by_visits(&history, &visits, &prior, on_hand, until, SERVICE).ok())
    }

    /// The visits of cameras that this part goes into, by the service notes, since it is kept.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn visits_wanting(&self, line: &PartLine) -> Result<u32, BenchError> {
        let Some(notes_id) = &line.of.notes_id else {
            return Ok(0);
        };
        let mut models = vec![notes_id.clone()];
        let notes = self.notes(notes_id);
        let part = line.of.part.id.as_deref();
        let fits = notes
            .as_ref()
            .zip(part)
            .and_then(|(notes, id)| notes.parts.get(id));
        models.extend(
            fits.iter()
                .flat_map(|it| &it.fits)
                .map(|id| id.as_str().to_owned()),
        );
        self.read(|connection| read::visits_since(connection, &models, since(line)))
    }

    /// What the part went into, most used first: the works of visits that took a piece, each with its uses. Where a visit had several
    /// works, the pieces count for the first that wants the part by the notes, else for the first.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn used_for(&self, line: &PartLine) -> Result<Vec<(Term, Vec<Use>)>, BenchError> {
        let uses = self.read(|connection| read::uses_in_visits(connection, line.id))?;
        let notes = line.of.notes_id.as_deref().and_then(|id| self.notes(id));
        let wants = |work: &&Term| {
            let part = line.of.part.id.as_deref();
            let known = notes.as_ref().zip(work.id.as_deref());
            let known = known.and_then(|(notes, id)| notes.works.get(id));
            known.is_some_and(|known| known.parts.iter().any(|it| Some(it.part.as_str()) == part))
        };
        let mut works: Vec<(Term, Vec<Use>)> = Vec::new();
        for read::UseInVisit { used, works: done } in uses {
            let Some(work) = done.iter().find(wants).or(done.first()) else {
                continue;
            };
            match works
                .iter_mut()
                .find(|(known, _)| known.key() == work.key())
            {
                Some((_, uses)) => uses.push(used),
                None => works.push((work.clone(), vec![used])),
            }
        }
        works.sort_by_key(|(_, uses)| std::cmp::Reverse(uses.len()));
        Ok(works)
    }

    /// For which works the pieces that are there should be kept over so many years, each with what a piece is worth to it and its uses
    /// so far. `None` when a worth or the years make no sense.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn kept_for(
        &self,
        line: &PartLine,
        works: &[(String, f64, Vec<Use>)],
        today: Date,
        years: f64,
    ) -> Result<Option<Vec<Kept>>, BenchError> {
        let prior = self.prior(&like(line), today)?;
        let kind = |(name, value, uses): &(String, f64, Vec<Use>)| {
            let history = history(since(line), uses, today)?;
            Some(Kind {
                name: name.clone(),
                value: *value,
                demand: pieces(&history, &prior, years).ok()?,
            })
        };
        let kinds: Option<Vec<Kind>> = works.iter().map(kind).collect();
        Ok(kinds.and_then(|kinds| keep(&kinds, line.quantity).ok()))
    }

    /// The chance that each of these parts lasts for so many years.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn lasting(
        &self,
        lines: &[PartLine],
        today: Date,
        years: f64,
    ) -> Result<HashMap<PartId, f64>, BenchError> {
        let at = self.reckoned.catch_up(&self.store, today)?;
        let mut lasting = HashMap::new();
        let known = |line: &PartLine| self.reckoned.pieces(line.id, years);
        let new: Vec<PartId> = lines
            .iter()
            .filter(|line| known(line).is_none())
            .map(|line| line.id)
            .collect();
        let uses = self.uses(&new)?;
        for line in lines {
            let needed = match known(line) {
                Some(needed) => needed,
                None => {
                    let prior = self.prior(&like(line), today)?;
                    let used = uses.get(&line.id).map(Vec::as_slice).unwrap_or_default();
                    let needed = history(since(line), used, today)
                        .and_then(|history| pieces(&history, &prior, years).ok())
                        .map(Arc::new);
                    let model = like(line).0;
                    self.reckoned
                        .keep_pieces(at, (line.id, years), model, &needed);
                    needed
                }
            };
            if let Some(needed) = needed {
                lasting.insert(line.id, needed.at_most(line.quantity));
            }
        }
        Ok(lasting)
    }

    /// What is believed of a part's use before any was seen: as like parts were used.
    fn prior(&self, like: &Like, today: Date) -> Result<Prior, BenchError> {
        let at = self.reckoned.catch_up(&self.store, today)?;
        if let Some(prior) = self.reckoned.prior(like) {
            return Ok(prior);
        }
        let (model, even) = like;
        let others = self.like_parts(model, !even)?;
        let ids: Vec<PartId> = others.iter().map(|it| it.id).collect();
        let uses = self.uses(&ids)?;
        let histories: Vec<History> = others
            .iter()
            .filter_map(|it: &LikePart| {
                let used = uses.get(&it.id).map(Vec::as_slice).unwrap_or_default();
                history(it.since, used, today)
            })
            .collect();
        let prior = Prior::pooled(&histories.iter().collect::<Vec<_>>());
        self.reckoned.keep_prior(at, like.clone(), &prior);
        Ok(prior)
    }
}

fn since(line: &PartLine) -> Date {
    line.since.to_zoned_datetime(TimeZone::UTC).date()
}
