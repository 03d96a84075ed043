//! How filters word what they found.

/// "1 trial", "2 trials".
#[must_use]
pub fn plural(n: u64, one: &str) -> String {
    if n == 1 { format!("1 {one}") } else { format!("{n} {one}s") }
}

/// Names that a sentence lists.
const NAMES: usize = 12;

/// "a", "a and b", "a, b and c"; of many the first, and how many more.
#[must_use]
pub fn joined(parts: &[String]) -> String {
    match parts {
        [first @ .., _] if parts.len() > NAMES => {
            let first = &first[..NAMES - 1];
            format!("{} and {} more", first.join(", "), parts.len() - first.len())
        }
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}
