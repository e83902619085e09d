//! How often one may try to come in: pure, with the time passed in.

use std::collections::HashMap;
use std::net::IpAddr;

use jiff::{SignedDuration, Timestamp};

/// Addresses remembered at once; the one that has been quiet longest is forgotten.
const MOST_ADDRESSES: usize = 1000;
/// A failure is forgotten after so long without another.
const FORGOTTEN: SignedDuration = SignedDuration::from_hours(1);

/// How the wait grows: nothing for the first failures, then a second, doubled by each further one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Growth {
    pub(crate) free: u32,
    pub(crate) most: SignedDuration,
}

impl Growth {
    fn wait(self, failures: u32) -> SignedDuration {
        let Some(doublings) = failures.checked_sub(self.free) else {
            return SignedDuration::ZERO;
        };
        let seconds = 1i64.checked_shl(doublings.min(40)).unwrap_or(i64::MAX);
        SignedDuration::from_secs(seconds).min(self.most)
    }
}

/// The failures of each address and of all together.
#[derive(Debug)]
pub(crate) struct Attempts {
    of_each: Growth,
    of_all: Growth,
    all: Tally,
    each: HashMap<IpAddr, Tally>,
}

#[derive(Clone, Copy, Debug, Default)]
struct Tally {
    failures: u32,
    last: Option<Timestamp>,
}

impl Tally {
    /// Until when nothing is tried.
    fn until(&self, growth: Growth) -> Option<Timestamp> {
        let wait = growth.wait(self.failures);
        self.last?.checked_add(wait).ok()
    }

    /// Forgets what is old. A failure that lies ahead was counted before the clock was set back: its wait begins anew, so that it is
    /// neither shortened nor lasts until the clock has caught up.
    fn follow(&mut self, now: Timestamp) {
        match self.last {
            Some(last) if now.duration_since(last) > FORGOTTEN => *self = Self::default(),
            Some(last) if last > now => self.last = Some(now),
            _ => {}
        }
    }

    fn count(&mut self, now: Timestamp) {
        self.failures = self.failures.saturating_add(1);
        self.last = Some(now);
    }
}

impl Attempts {
    pub(crate) fn new(of_each: Growth, of_all: Growth) -> Self {
        Self {
            of_each,
            of_all,
            all: Tally::default(),
            each: HashMap::new(),
        }
    }

    /// Begins a try, which counts as failed until [`succeeded`](Self::succeeded), so that many at once gain nothing.
    ///
    /// # Errors
    /// How long to wait before the next try; that one then does not count.
    pub(crate) fn begin(&mut self, from: IpAddr, now: Timestamp) -> Result<(), SignedDuration> {
        self.all.follow(now);
        if let Some(own) = self.each.get_mut(&from) {
            own.follow(now);
        }
        let mut own = self.each.get(&from).copied().unwrap_or_default();
        let until = own.until(self.of_each).max(self.all.until(self.of_all));
        if let Some(until) = until
            && now < until
        {
            return Err(until.duration_since(now));
        }
        own.count(now);
        self.all.count(now);
        if self.each.len() >= MOST_ADDRESSES && !self.each.contains_key(&from) {
            self.forget_quietest();
        }
        self.each.insert(from, own);
        Ok(())
    }

    /// The try that this address began last was a good one.
    pub(crate) fn succeeded(&mut self, from: IpAddr) {
        self.each.remove(&from);
        self.all.failures = self.all.failures.saturating_sub(1);
    }

    fn forget_quietest(&mut self) {
        let quietest = self
            .each
            .iter()
            .min_by_key(|(_, tally)| tally.last)
            .map(|(&address, _)| address);
        if let Some(address) = quietest {
            self.each.remove(&address);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const EACH: Growth = Growth {
        free: 3,
        most: SignedDuration::from_mins(15),
    };
    const ALL: Growth = Growth {
        free: 10,
        most: SignedDuration::from_secs(30),
    };

    fn at(seconds: i64) -> Timestamp {
        Timestamp::from_second(1_700_000_000 + seconds).unwrap()
    }

    fn address(n: u32) -> IpAddr {
        IpAddr::V4((0xC000_0200 + n).into())
    }

    #[test]
    fn the_wait_doubles_after_three_free_tries_up_to_its_most() {
        let mut attempts = Attempts::new(EACH, Growth { free: 1000, ..ALL });
        let mut now = 0;
        for _ in 0..3 {
            assert_eq!(attempts.begin(address(1), at(now)), Ok(()));
        }
        for expected in [1, 2, 4, 8, 16, 32, 64, 128, 256, 512, 900, 900] {
            let wait = attempts.begin(address(1), at(now)).unwrap_err();
            assert_eq!(wait, SignedDuration::from_secs(expected));
            assert!(attempts.begin(address(1), at(now + expected - 1)).is_err());
            now += expected;
            assert_eq!(
                attempts.begin(address(1), at(now)),
                Ok(()),
                "after {expected}"
            );
        }
    }

    #[test]
    fn another_address_is_not_held_up_until_all_together_fail_often() {
        let mut attempts = Attempts::new(EACH, ALL);
        for n in 0..10 {
            assert_eq!(attempts.begin(address(n), at(0)), Ok(()));
        }
        assert_eq!(
            attempts.begin(address(77), at(0)),
            Err(SignedDuration::from_secs(1))
        );
        assert_eq!(attempts.begin(address(77), at(1)), Ok(()));
    }

    #[test]
    fn tries_at_once_count_before_they_are_judged() {
        let mut attempts = Attempts::new(EACH, ALL);
        let begun = (0..50)
            .filter(|_| attempts.begin(address(1), at(0)).is_ok())
            .count();
        assert_eq!(begun, 3);
    }

    #[test]
    fn success_and_an_hour_of_quiet_forgive() {
        let mut attempts = Attempts::new(EACH, ALL);
        for _ in 0..3 {
            attempts.begin(address(1), at(0)).unwrap();
        }
        assert!(attempts.begin(address(1), at(0)).is_err());
        attempts.succeeded(address(1));
        assert_eq!(attempts.begin(address(1), at(0)), Ok(()));
        for _ in 0..2 {
            attempts.begin(address(1), at(0)).unwrap();
        }
        assert!(attempts.begin(address(1), at(0)).is_err());
        assert_eq!(attempts.begin(address(1), at(3601)), Ok(()));
        assert_eq!(attempts.begin(address(1), at(3601)), Ok(()));
    }

    #[test]
    fn a_clock_set_back_begins_the_wait_anew() {
        let mut attempts = Attempts::new(EACH, ALL);
        for seconds in [0, 0, 0, 1, 3] {
            attempts.begin(address(1), at(50_000 + seconds)).unwrap();
        }
        // Five failures: four seconds, of which none has passed.
        let four = Err(SignedDuration::from_secs(4));
        assert_eq!(attempts.begin(address(1), at(50_003)), four);
        assert_eq!(attempts.begin(address(1), at(0)), four);
        assert!(attempts.begin(address(1), at(3)).is_err());
        assert_eq!(attempts.begin(address(1), at(4)), Ok(()));
    }

    #[test]
    fn only_so_many_addresses_are_remembered() {
        let mut attempts = Attempts::new(
            EACH,
            Growth {
                free: u32::MAX,
                ..ALL
            },
        );
        for n in 0..2000 {
            attempts.begin(address(n), at(i64::from(n))).unwrap();
        }
        assert_eq!(attempts.each.len(), MOST_ADDRESSES);
        assert!(attempts.each.contains_key(&address(1999)));
    }
}
