//! The connections that are open, and which of them makes room when there are too many.

use std::collections::HashMap;
use std::net::IpAddr;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use tokio::sync::Notify;

use super::limits::Limits;

/// The connections of one listener.
#[derive(Debug)]
pub(super) struct Crowd {
    most: usize,
    most_of_one: usize,
    seats: Mutex<Seats>,
}

#[derive(Debug, Default)]
struct Seats {
    /// Counts arrivals and answers, so that it is known who waits longest without asking a clock.
    tick: u64,
    taken: HashMap<u64, Taken>,
}

#[derive(Debug)]
struct Taken {
    by: IpAddr,
    /// Since when nothing was asked; `None` while a request is being answered.
    waits_since: Option<u64>,
    leave: Arc<Notify>,
}

/// The place of one connection, free again when the connection and what it asked are gone.
#[derive(Debug)]
pub(crate) struct Seat {
    crowd: Arc<Crowd>,
    number: u64,
    leave: Arc<Notify>,
}

/// While it is held the connection is at work and is not sent away. The socket of a page holds it too.
#[derive(Debug)]
pub(crate) struct AtWork(Arc<Seat>);

impl Crowd {
    pub(super) fn new(limits: &Limits) -> Self {
        Self {
            most: limits.connections,
            most_of_one: limits.of_one_address,
            seats: Mutex::default(),
        }
    }

    /// A seat for a connection from `by`; where none is free, the one that has waited longest goes, and `None` is
    /// given when all are at work.
    pub(super) fn enter(self: &Arc<Self>, by: IpAddr) -> Option<Arc<Seat>> {
        let by = neighbourhood(by);
        let mut seats = self.seats();
        let of_one = seats.taken.values().filter(|taken| taken.by == by).count();
        if of_one >= self.most_of_one {
            seats.send_away(|taken| taken.by == by)?;
        } else if seats.taken.len() >= self.most {
            seats.send_away(|_| true)?;
        }
        seats.tick += 1;
        let number = seats.tick;
        let leave = Arc::new(Notify::new());
        let taken = Taken {
            by,
            waits_since: Some(number),
            leave: Arc::clone(&leave),
        };
        seats.taken.insert(number, taken);
        Some(Arc::new(Seat {
            crowd: Arc::clone(self),
            number,
            leave,
        }))
    }

    fn seats(&self) -> MutexGuard<'_, Seats> {
        self.seats.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Seats {
    fn send_away(&mut self, among: impl Fn(&Taken) -> bool) -> Option<()> {
        let waiting = self.taken.iter().filter(|(_, taken)| among(taken));
        let (_, longest) = waiting
            .filter_map(|(&number, taken)| Some((taken.waits_since?, number)))
            .min()?;
        let gone = self.taken.remove(&longest)?;
        gone.leave.notify_one();
        Some(())
    }
}

impl Seat {
    /// A request has come.
    pub(super) fn work(self: &Arc<Self>) -> AtWork {
        if let Some(taken) = self.crowd.seats().taken.get_mut(&self.number) {
            taken.waits_since = None;
        }
        AtWork(Arc::clone(self))
    }

    /// Done when the connection is to make room.
    pub(super) async fn sent_away(&self) {
        self.leave.notified().await;
    }
}

impl Drop for Seat {
    fn drop(&mut self) {
        self.crowd.seats().taken.remove(&self.number);
    }
}

impl Drop for AtWork {
    fn drop(&mut self) {
        let mut seats = self.0.crowd.seats();
        seats.tick += 1;
        let now = seats.tick;
        if let Some(taken) = seats.taken.get_mut(&self.0.number) {
            taken.waits_since = Some(now);
        }
    }
}

/// What counts as one sender: an address, and of the long ones the network that one household has whole.
pub(crate) fn neighbourhood(address: IpAddr) -> IpAddr {
    match address.to_canonical() {
        IpAddr::V6(six) => {
            let network = six.to_bits() & !u128::from(u64::MAX);
            IpAddr::V6(std::net::Ipv6Addr::from_bits(network))
        }
        four @ IpAddr::V4(_) => four,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn crowd(connections: usize, of_one_address: usize) -> Arc<Crowd> {
        let limits = Limits {
            connections,
            of_one_address,
            ..Limits::default()
        };
        Arc::new(Crowd::new(&limits))
    }

    fn address(last: u8) -> IpAddr {
        [192, 0, 2, last].into()
    }

    fn is_sent_away(seat: &Seat) -> bool {
        let mut told = std::pin::pin!(seat.sent_away());
        let waker = std::task::Waker::noop();
        told.as_mut()
            .poll(&mut std::task::Context::from_waker(waker))
            .is_ready()
    }

    #[test]
    fn who_waits_longest_makes_room() {
        let crowd = crowd(2, 2);
        let (first, second) = (
            crowd.enter(address(1)).unwrap(),
            crowd.enter(address(1)).unwrap(),
        );
        drop(first.work());
        let third = crowd.enter(address(1)).unwrap();
        assert!(is_sent_away(&second));
        assert!(!is_sent_away(&first) && !is_sent_away(&third));
    }

    #[test]
    fn who_is_at_work_stays_and_a_newcomer_is_turned_away_when_all_are() {
        let crowd = crowd(2, 2);
        let seats = [
            crowd.enter(address(1)).unwrap(),
            crowd.enter(address(2)).unwrap(),
        ];
        let work = seats.each_ref().map(Seat::work);
        assert!(crowd.enter(address(3)).is_none());
        drop(work);
        assert!(crowd.enter(address(3)).is_some());
        assert!(is_sent_away(&seats[0]));
    }

    #[test]
    fn one_address_only_crowds_itself() {
        let crowd = crowd(10, 2);
        let other = crowd.enter(address(2)).unwrap();
        let many: Vec<_> = (0..5).map(|_| crowd.enter(address(1)).unwrap()).collect();
        assert_eq!(many.iter().filter(|seat| is_sent_away(seat)).count(), 3);
        assert!(!is_sent_away(&other));
    }

    #[test]
    fn a_seat_is_free_when_the_connection_and_its_work_are_gone() {
        let crowd = crowd(1, 1);
        let seat = crowd.enter(address(1)).unwrap();
        let work = seat.work();
        drop(seat);
        assert!(crowd.enter(address(1)).is_none());
        drop(work);
        assert!(crowd.enter(address(1)).is_some());
    }

    #[test]
    fn a_household_of_long_addresses_counts_as_one() {
        let of = |text: &str| neighbourhood(text.parse().unwrap());
        assert_eq!(of("2001:db8:1:2::7"), of("2001:db8:1:2:ffff::9"));
        assert_ne!(of("2001:db8:1:2::7"), of("2001:db8:1:3::7"));
        assert_eq!(of("::ffff:192.0.2.1"), address(1));
    }
}
