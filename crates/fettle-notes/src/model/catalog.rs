//! A map that keeps the file's order.

use std::borrow::Borrow;
use std::collections::HashMap;
use std::hash::Hash;

use serde::ser::{Serialize, SerializeMap, Serializer};

/// Entries by id, in the order in which the file gives them.
#[derive(Debug, Clone)]
pub struct Catalog<K, V> {
    entries: Vec<(K, V)>,
    place: HashMap<K, usize>,
}

impl<K, V> Default for Catalog<K, V> {
    fn default() -> Self {
        Self {
            entries: Vec::new(),
            place: HashMap::new(),
        }
    }
}

impl<K: PartialEq, V: PartialEq> PartialEq for Catalog<K, V> {
    fn eq(&self, other: &Self) -> bool {
        self.entries == other.entries
    }
}

impl<K: Hash + Eq + Clone, V> Catalog<K, V> {
    /// Adds an entry at the end; an entry of the same key keeps its place and is replaced.
    pub(crate) fn insert(&mut self, key: K, value: V) {
        if let Some(&at) = self.place.get(&key) {
            self.entries[at].1 = value;
        } else {
            self.place.insert(key.clone(), self.entries.len());
            self.entries.push((key, value));
        }
    }

    /// The entry of this id, given as the id or as its text.
    pub fn get<Q: Hash + Eq + ?Sized>(&self, key: &Q) -> Option<&V>
    where
        K: Borrow<Q>,
    {
        self.position(key).map(|at| &self.entries[at].1)
    }

    /// The catalog's own id and the entry, given as the id or as its text.
    pub fn entry<Q: Hash + Eq + ?Sized>(&self, key: &Q) -> Option<(&K, &V)>
    where
        K: Borrow<Q>,
    {
        self.position(key).map(|at| {
            let (id, value) = &self.entries[at];
            (id, value)
        })
    }

    /// Whether there is an entry of this id.
    pub fn contains<Q: Hash + Eq + ?Sized>(&self, key: &Q) -> bool
    where
        K: Borrow<Q>,
    {
        self.place.contains_key(key)
    }

    /// Where in the file's order the entry stands, from 0.
    pub fn position<Q: Hash + Eq + ?Sized>(&self, key: &Q) -> Option<usize>
    where
        K: Borrow<Q>,
    {
        self.place.get(key).copied()
    }
}

impl<K, V> Catalog<K, V> {
    /// How many entries there are.
    #[must_use]
    pub fn len(&self) -> usize {
        self.entries.len()
    }

    /// Whether there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.entries.is_empty()
    }

    /// Ids and entries in the file's order.
    pub fn iter(&self) -> impl ExactSizeIterator<Item = (&K, &V)> + DoubleEndedIterator + Clone {
        self.entries.iter().map(|(k, v)| (k, v))
    }

    /// Ids in the file's order.
    pub fn ids(&self) -> impl ExactSizeIterator<Item = &K> + DoubleEndedIterator + Clone {
        self.entries.iter().map(|(k, _)| k)
    }

    /// Entries in the file's order.
    pub fn values(&self) -> impl ExactSizeIterator<Item = &V> + DoubleEndedIterator + Clone {
        self.entries.iter().map(|(_, v)| v)
    }
}

impl<K: Serialize, V: Serialize> Serialize for Catalog<K, V> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(Some(self.entries.len()))?;
        for (key, value) in &self.entries {
            map.serialize_entry(key, value)?;
        }
        map.end()
    }
}
