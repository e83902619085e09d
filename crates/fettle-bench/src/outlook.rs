//! How long what is kept lasts, reckoned from its use.

use std::collections::HashMap;

use fettle_reason::demand::{Forecast, History, Prior, Until, forecast, pieces};
use jiff::{civil::Date, tz::TimeZone};

use crate::{
    bench::Bench,
    error::BenchError,
    ids::PartId,
    view::{LikePart, PartLine, Use},
};

/// The chance with which a drawer is to last when it is asked how many to buy.
pub const SERVICE: f64 = 0.95;

/// Which parts are like one: the model, and which half of its parts.
type Like = (String, bool);

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
    /// once for [`SERVICE`]. `None` when the record tells of an absurd use or asks too far ahead.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn outlook(
        &self,
        line: &PartLine,
        uses: &[Use],
        today: Date,
        years: f64,
    ) -> Result<Option<Forecast>, BenchError> {
        let prior = self.prior(&like(line), today)?;
        let Some(history) = history(since(line), uses, today) else {
            return Ok(None);
        };
        let until = Until::Years(years);
        Ok(forecast(&history, &prior, line.quantity, until, SERVICE).ok())
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
        let ids: Vec<PartId> = lines.iter().map(|line| line.id).collect();
        let uses = self.uses(&ids)?;
        let mut priors: HashMap<Like, Prior> = HashMap::new();
        let mut lasting = HashMap::new();
        for line in lines {
            let like = like(line);
            let prior = match priors.get(&like) {
                Some(prior) => prior.clone(),
                None => {
                    let prior = self.prior(&like, today)?;
                    priors.insert(like, prior.clone());
                    prior
                }
            };
            let used = uses.get(&line.id).map(Vec::as_slice).unwrap_or_default();
            let needed = history(since(line), used, today)
                .and_then(|history| pieces(&history, &prior, years).ok());
            if let Some(needed) = needed {
                lasting.insert(line.id, needed.at_most(line.quantity));
            }
        }
        Ok(lasting)
    }

    /// What is believed of a part's use before any was seen: as like parts were used.
    fn prior(&self, (model, even): &Like, today: Date) -> Result<Prior, BenchError> {
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
        Ok(Prior::pooled(&histories.iter().collect::<Vec<_>>()))
    }
}

fn since(line: &PartLine) -> Date {
    line.since.to_zoned_datetime(TimeZone::UTC).date()
}
