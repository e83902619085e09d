//! The means of a channel's short blocks, in pages that copies share until they are altered.
//!
//! Ten minutes hold five million of them a channel: a copy with some clicks taken off must not take
//! all that room once more.

use std::borrow::Cow;
use std::ops::Range;
use std::sync::Arc;

/// Means a page; some 64 ms.
const PAGE: usize = 512;

/// Means of blocks in the order of time.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Means {
    /// All but the last are full.
    pages: Vec<Arc<Vec<f32>>>,
    length: usize,
}

impl Means {
    pub(crate) const fn len(&self) -> usize {
        self.length
    }

    pub(crate) fn get(&self, index: usize) -> Option<f32> {
        self.pages.get(index / PAGE)?.get(index % PAGE).copied()
    }

    pub(crate) fn last(&self) -> Option<f32> {
        self.get(self.length.checked_sub(1)?)
    }

    pub(crate) fn iter(&self) -> impl Iterator<Item = f32> {
        self.pages.iter().flat_map(|page| page.iter().copied())
    }

    /// Those of a range, if it lies wholly within; copied only where it runs over the end of a page.
    pub(crate) fn part(&self, range: Range<usize>) -> Option<Cow<'_, [f32]>> {
        if range.start > range.end || range.end > self.length {
            return None;
        }
        let (page, from) = (range.start / PAGE, range.start % PAGE);
        let here = self.pages.get(page).map_or([].as_slice(), |it| it);
        if let Some(part) = here.get(from..from + range.len()) {
            return Some(Cow::Borrowed(part));
        }
        let pages = self.pages.get(page..range.end.div_ceil(PAGE))?;
        let all = pages.iter().flat_map(|page| page.iter().copied());
        Some(all.skip(from).take(range.len()).collect())
    }

    /// What `see` makes of every `width` neighbours, in the order of time.
    pub(crate) fn windows<'a, T: 'a>(
        &'a self,
        width: usize,
        see: impl Fn(&[f32]) -> T + Copy + 'a,
    ) -> impl Iterator<Item = T> + 'a {
        let count = (self.length + 1).saturating_sub(width.max(1));
        (0..count).step_by(PAGE).flat_map(move |from| {
            let to = (from + PAGE).min(count);
            let near = self.part(from..to + width.max(1) - 1).unwrap_or_default();
            let seen: Vec<T> = near.windows(width.max(1)).map(see).collect();
            seen
        })
    }

    /// The least and the greatest.
    pub(crate) fn span(&self) -> (f32, f32) {
        self.iter().fold((f32::MAX, f32::MIN), |(low, high), mean| {
            (low.min(mean), high.max(mean))
        })
    }

    pub(crate) fn push(&mut self, mean: f32) {
        if self.length.is_multiple_of(PAGE) {
            self.pages.push(Arc::new(Vec::with_capacity(PAGE)));
        }
        if let Some(page) = self.pages.last_mut() {
            Arc::make_mut(page).push(mean);
            self.length += 1;
        }
    }

    /// Adds to one of them, if it is there.
    pub(crate) fn add(&mut self, index: usize, change: f32) {
        let page = self.pages.get_mut(index / PAGE).map(Arc::make_mut);
        if let Some(mean) = page.and_then(|page| page.get_mut(index % PAGE)) {
            *mean += change;
        }
    }
}

impl Extend<f32> for Means {
    fn extend<T: IntoIterator<Item = f32>>(&mut self, means: T) {
        for mean in means {
            self.push(mean);
        }
    }
}

impl FromIterator<f32> for Means {
    fn from_iter<T: IntoIterator<Item = f32>>(all: T) -> Self {
        let mut means = Self::default();
        means.extend(all);
        means
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn counted(count: usize) -> Means {
        (0..count).map(|n| n as f32).collect()
    }

    #[test]
    fn a_part_is_the_same_wherever_pages_end() {
        let means = counted(3 * PAGE + 7);
        for range in [
            0..0,
            3..9,
            PAGE - 1..PAGE,
            PAGE - 4..PAGE + 4,
            5..3 * PAGE + 7,
            3 * PAGE + 7..3 * PAGE + 7,
        ] {
            let want: Vec<f32> = range.clone().map(|n| n as f32).collect();
            assert_eq!(means.part(range).as_deref(), Some(want.as_slice()));
        }
        assert_eq!(means.part(3 * PAGE..3 * PAGE + 8), None);
        assert_eq!(means.part(counted(PAGE).len()..PAGE - 1), None);
        assert_eq!(
            counted(PAGE).part(PAGE..PAGE).as_deref(),
            Some([].as_slice())
        );
    }

    #[test]
    fn windows_are_the_parts_one_after_the_other() {
        for (count, width) in [
            (3 * PAGE + 7, 8),
            (PAGE, 1),
            (2 * PAGE, PAGE + 3),
            (5, 8),
            (8, 8),
        ] {
            let means = counted(count);
            let want: Vec<Vec<f32>> = (0..(count + 1).saturating_sub(width))
                .filter_map(|n| Some(means.part(n..n + width)?.into_owned()))
                .collect();
            let got: Vec<Vec<f32>> = means.windows(width, <[f32]>::to_vec).collect();
            assert_eq!(got, want, "{count} by {width}");
        }
    }

    #[test]
    fn a_copy_shares_all_but_the_page_that_is_altered() {
        let means = counted(4 * PAGE);
        let mut other = means.clone();
        other.add(2 * PAGE + 1, 0.5);
        other.add(4 * PAGE, 9.0);
        assert_eq!(other.get(2 * PAGE + 1), Some((2 * PAGE + 1) as f32 + 0.5));
        assert_eq!(means.get(2 * PAGE + 1), Some((2 * PAGE + 1) as f32));
        assert_eq!((other.len(), other.get(4 * PAGE)), (4 * PAGE, None));
        let shared = means.pages.iter().zip(&other.pages);
        let shared = shared.filter(|(a, b)| Arc::ptr_eq(a, b)).count();
        assert_eq!(shared, 3);
    }
}
