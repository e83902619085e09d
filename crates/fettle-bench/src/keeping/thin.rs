//! Which states of the record a backup keeps, and which it lets go.

use std::collections::HashSet;

use jiff::{Timestamp, tz::TimeZone};

/// So many of the newest are always kept.
const NEWEST: usize = 3;
/// The last of so many of the latest days on which there was one.
const DAYS: usize = 7;
/// The same by weeks.
const WEEKS: usize = 4;
/// The same by months; of every year the last is kept for good.
const MONTHS: usize = 12;

/// One state, as far as it matters here.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Aged {
    pub(crate) number: u32,
    pub(crate) made_at: Timestamp,
    /// Whether the newest state holds all that it holds.
    pub(crate) is_in_newest: bool,
}

/// The numbers of the states that can go, from all of them, oldest first. It goes by their order, not by any clock of today; what the
/// newest does not hold stays.
pub(crate) fn can_go(states: &[Aged]) -> Vec<u32> {
    let mut days = Latest::new(DAYS);
    let mut weeks = Latest::new(WEEKS);
    let mut months = Latest::new(MONTHS);
    let mut years = Latest::new(usize::MAX);
    let mut gone = Vec::new();
    for (from_end, state) in states.iter().rev().enumerate() {
        let day = TimeZone::UTC.to_datetime(state.made_at).date();
        let week = day.iso_week_date();
        let kept = [
            days.is_new((day.year(), i64::from(day.day_of_year()))),
            weeks.is_new((week.year(), i64::from(week.week()))),
            months.is_new((day.year(), i64::from(day.month()))),
            years.is_new((day.year(), 0)),
        ];
        let kept = kept.contains(&true) || from_end < NEWEST || !state.is_in_newest;
        if !kept {
            gone.push(state.number);
        }
    }
    gone.reverse();
    gone
}

/// The latest few days, weeks or months that were met.
struct Latest {
    met: HashSet<(i16, i64)>,
    most: usize,
}

impl Latest {
    fn new(most: usize) -> Self {
        Self {
            met: HashSet::new(),
            most,
        }
    }

    /// Whether it is met for the first time, and is one of the latest few.
    fn is_new(&mut self, which: (i16, i64)) -> bool {
        self.met.len() < self.most && self.met.insert(which)
    }
}

#[cfg(test)]
mod tests {
    use jiff::ToSpan;

    use super::*;

    fn daily(days: i64, is_in_newest: bool) -> Vec<Aged> {
        let first: Timestamp = "2020-01-01T12:00:00Z".parse().unwrap();
        (0..days)
            .map(|day| Aged {
                number: u32::try_from(day).unwrap() + 1,
                made_at: first + (24 * day).hours(),
                is_in_newest,
            })
            .collect()
    }

    #[test]
    fn of_ten_years_of_daily_states_some_thirty_are_kept_and_the_newest_are_among_them() {
        let states = daily(3_653, true);
        let gone: HashSet<u32> = can_go(&states).into_iter().collect();
        let kept: Vec<u32> = (1..=3_653)
            .filter(|number| !gone.contains(number))
            .collect();
        assert!((25..=33).contains(&kept.len()), "{kept:?}");
        assert!(
            (3_647..=3_653).all(|number| kept.contains(&number)),
            "{kept:?}"
        );
        // The last of each year.
        assert!(kept.contains(&366), "{kept:?}");
    }

    #[test]
    fn thinned_day_by_day_as_much_is_left_as_thinned_at_once() {
        let all = daily(800, true);
        let mut states: Vec<Aged> = Vec::new();
        for state in &all {
            states.push(*state);
            let gone = can_go(&states);
            states.retain(|state| !gone.contains(&state.number));
        }
        let at_once = can_go(&all);
        let left: Vec<u32> = states.iter().map(|state| state.number).collect();
        let want: Vec<u32> = all
            .iter()
            .map(|state| state.number)
            .filter(|number| !at_once.contains(number))
            .collect();
        assert_eq!(left, want);
    }

    #[test]
    fn what_the_newest_does_not_hold_stays() {
        assert_eq!(can_go(&daily(400, false)), Vec::<u32>::new());
        assert_eq!(can_go(&daily(2, true)), Vec::<u32>::new());
        assert_eq!(can_go(&[]), Vec::<u32>::new());
    }

    #[test]
    fn a_clock_set_back_takes_no_newest_state_away() {
        let mut states = daily(30, true);
        let early: Timestamp = "2001-01-01T00:00:00Z".parse().unwrap();
        states.extend((31..=33).map(|number| Aged {
            number,
            made_at: early,
            is_in_newest: true,
        }));
        let gone = can_go(&states);
        assert!(gone.iter().all(|number| *number < 31), "{gone:?}");
    }
}
