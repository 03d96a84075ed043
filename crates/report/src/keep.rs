//! Keeping a bounded part of an unbounded stream: short names, capped lists,
//! the worst few.

use std::collections::HashMap;
use std::hash::Hash;
use std::ops::Deref;

/// Characters of a name that are kept.
const NAME_MAX: usize = 100;
/// Characters of a sentence that are kept.
const TEXT_MAX: usize = 500;
/// Names of a list that are kept.
const LIST_MAX: usize = 40;

/// A name, short enough to keep. Long names that differ stay different: what is cut
/// off leaves its length and a hash behind.
pub(crate) fn name(full: &str) -> String {
    match full.char_indices().nth(NAME_MAX) {
        None => full.to_owned(),
        Some((end, _)) => {
            format!("{}... ({} bytes, hash {:08x})", &full[..end], full.len(), hash(full))
        }
    }
}

/// A sentence, short enough to keep.
pub(crate) fn text(full: &str) -> String {
    start(full, TEXT_MAX)
}

/// The first of a list, short enough to keep, and how many more there are.
pub(crate) fn list<T: Deref<Target = str>>(all: &[T]) -> String {
    let mut told = all.iter().take(LIST_MAX).map(|one| name(one)).collect::<Vec<_>>().join(", ");
    let more = all.len().saturating_sub(LIST_MAX);
    if more > 0 {
        told.push_str(&format!(" and {more} more"));
    }
    told
}

/// The start of a text, and how long it is where it is longer.
pub(crate) fn start(full: &str, max: usize) -> String {
    match full.char_indices().nth(max) {
        None => full.to_owned(),
        Some((end, _)) => format!("{}... ({} bytes)", &full[..end], full.len()),
    }
}

/// FNV-1a, 32 bits: the same in every run, unlike the hashes of the standard library.
fn hash(text: &str) -> u32 {
    text.bytes().fold(0x811c_9dc5, |h, b| (h ^ u32::from(b)).wrapping_mul(0x0100_0193))
}

/// A map that remembers the order of first appearance and takes no more than `max` keys.
#[derive(Debug)]
pub(crate) struct Ordered<K, V> {
    index: HashMap<K, usize>,
    entries: Vec<(K, V)>,
    max: usize,
    refused: u64,
}

impl<K: Hash + Eq + Clone, V: Default> Ordered<K, V> {
    pub(crate) fn new(max: usize) -> Self {
        Self { index: HashMap::new(), entries: Vec::new(), max, refused: 0 }
    }

    /// The value of a key, made where there is none; none where the map is full.
    pub(crate) fn entry(&mut self, key: &K) -> Option<&mut V> {
        let at = match self.index.get(key) {
            Some(at) => *at,
            None if self.entries.len() < self.max => {
                self.index.insert(key.clone(), self.entries.len());
                self.entries.push((key.clone(), V::default()));
                self.entries.len() - 1
            }
            None => {
                self.refused += 1;
                return None;
            }
        };
        self.entries.get_mut(at).map(|(_, value)| value)
    }

    pub(crate) fn get(&self, key: &K) -> Option<&V> {
        self.entries.get(*self.index.get(key)?).map(|(_, value)| value)
    }

    /// Which key it is, counted from 1 in order of first appearance.
    pub(crate) fn number(&self, key: &K) -> Option<usize> {
        self.index.get(key).map(|at| at + 1)
    }

    pub(crate) fn iter(&self) -> impl Iterator<Item = (&K, &V)> {
        self.entries.iter().map(|(key, value)| (key, value))
    }

    pub(crate) fn len(&self) -> usize {
        self.entries.len()
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.entries.is_empty()
    }

    /// Records that found no room.
    pub(crate) fn refused(&self) -> u64 {
        self.refused
    }
}

/// The first `max` of a list, and how long it is.
#[derive(Debug)]
pub(crate) struct Capped<T> {
    items: Vec<T>,
    max: usize,
    total: u64,
}

impl<T> Capped<T> {
    pub(crate) fn new(max: usize) -> Self {
        Self { items: Vec::new(), max, total: 0 }
    }

    /// Counts one, and keeps it where there is room.
    pub(crate) fn push(&mut self, make: impl FnOnce() -> T) {
        self.total += 1;
        if self.items.len() < self.max {
            self.items.push(make());
        }
    }

    pub(crate) fn items(&self) -> &[T] {
        &self.items
    }

    /// All of them, kept or not.
    pub(crate) fn total(&self) -> u64 {
        self.total
    }
}

/// The worst few of many, worst first; the earlier first among equals.
#[derive(Debug)]
pub(crate) struct Worst<T> {
    items: Vec<(f64, T)>,
    total: u64,
}

/// How many of the worst are kept.
pub(crate) const WORST: usize = 10;

impl<T> Default for Worst<T> {
    fn default() -> Self {
        Self { items: Vec::new(), total: 0 }
    }
}

impl<T> Worst<T> {
    pub(crate) fn add(&mut self, badness: f64, item: T) {
        self.total += 1;
        let at = self.items.partition_point(|(b, _)| *b >= badness);
        if at < WORST {
            self.items.insert(at, (badness, item));
            self.items.truncate(WORST);
        }
    }

    pub(crate) fn items(&self) -> impl Iterator<Item = &T> {
        self.items.iter().map(|(_, item)| item)
    }

    pub(crate) fn total(&self) -> u64 {
        self.total
    }

    /// Those that are not kept.
    pub(crate) fn more(&self) -> u64 {
        self.total - self.items.len() as u64
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_names_that_differ_at_the_end_stay_different_and_short() {
        let (a, b) = ("x".repeat(10_000) + "a", "x".repeat(10_000) + "b");
        assert_ne!(name(&a), name(&b));
        assert!(name(&a).len() < 150);
        assert_eq!(name("spool 7"), "spool 7");
    }

    #[test]
    fn a_long_list_is_told_by_its_first_names_and_how_many_more() {
        let names: Vec<String> = (1..=42).map(|i| format!("print {i}")).collect();
        let names: Vec<&str> = names.iter().map(String::as_str).collect();
        assert_eq!(list(&names[..2]), "print 1, print 2");
        assert!(list(&names).ends_with("print 40 and 2 more"));
        assert_eq!(list::<&str>(&[]), "");
    }

    #[test]
    fn the_hash_is_fnv_1a() {
        // From the test vectors published with FNV-1a, 32 bits (from memory).
        assert_eq!(hash(""), 0x811c_9dc5);
        assert_eq!(hash("a"), 0xe40c_292c);
        assert_eq!(hash("foobar"), 0xbf9c_f968);
    }

    #[test]
    fn of_many_the_ten_worst_are_kept_in_order_and_all_are_counted() {
        let mut worst = Worst::default();
        for i in 0..1000_u32 {
            worst.add(f64::from(i * 7919 % 1000), i);
        }
        let kept: Vec<u32> = worst.items().map(|i| i * 7919 % 1000).collect();
        assert_eq!(kept, (990..1000).rev().collect::<Vec<_>>());
        assert_eq!((worst.total(), worst.more()), (1000, 990));
    }

    #[test]
    fn a_full_map_refuses_new_keys_and_still_knows_the_old() {
        let mut map: Ordered<u8, u8> = Ordered::new(2);
        for key in [3, 1, 2, 3] {
            if let Some(n) = map.entry(&key) {
                *n += 1;
            }
        }
        assert_eq!(map.iter().map(|(k, n)| (*k, *n)).collect::<Vec<_>>(), [(3, 2), (1, 1)]);
        assert_eq!(map.refused(), 1);
    }
}
