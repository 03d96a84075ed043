//! Marks on plastic parts: ISO 11469 and the resin identification code (ASTM D7611).

use crate::cards::{Card, all, card};

/// What a mark says.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Mark {
    /// Abbreviations of the polymers, a blend's in order.
    pub polymers: Vec<String>,
    /// Resin identification code, 1 to 7.
    pub code: Option<u8>,
    /// Whether it names a filler, so that density says little.
    pub filled: bool,
    /// Whether it names a flame retardant.
    pub flame_retarded: bool,
}

/// Reads a mark such as `>PA66-(GF25+MD15)<`, `>PC+ABS-FR(40)<`, `ABS` or `05`.
#[must_use]
pub fn read(mark: &str) -> Mark {
    let inner = mark.trim().trim_start_matches('>').trim_end_matches('<').trim();
    if let Ok(code @ 1..=7) = inner.parse::<u8>() {
        return Mark { code: Some(code), ..Mark::default() };
    }
    let mut read = Mark::default();
    // Where the polymer's own name has a hyphen (PE-HD), the longest known name wins.
    for part in split_outside_brackets(inner) {
        let before = part.split('(').next().unwrap_or(part);
        let mut ends: Vec<usize> = before.match_indices('-').map(|(at, _)| at).collect();
        ends.push(before.len());
        let end = ends.iter().rev().copied().find(|&end| card(&before[..end]).is_some());
        let end = end.unwrap_or(ends[0]);
        let rest = part[end..].to_ascii_uppercase();
        read.flame_retarded |= rest.contains("FR");
        let fillers = ["GF", "CF", "MD", "GB", "TD", "GX", "MX"];
        read.filled |= fillers.iter().any(|filler| rest.contains(filler));
        read.polymers.push(before[..end].trim().to_owned());
    }
    read
}

fn split_outside_brackets(text: &str) -> Vec<&str> {
    let (mut depth, mut from, mut parts) = (0_u32, 0, Vec::new());
    for (at, c) in text.char_indices() {
        match c {
            '(' => depth += 1,
            ')' => depth = depth.saturating_sub(1),
            '+' if depth == 0 => {
                parts.push(&text[from..at]);
                from = at + 1;
            }
            _ => {}
        }
    }
    parts.push(&text[from..]);
    parts
}

impl Mark {
    /// Cards that the mark allows: those of its names, or all of its code.
    #[must_use]
    pub fn cards(&self) -> Vec<&'static Card> {
        match self.code {
            Some(code) => all().iter().filter(|c| c.marking.resin_code == Some(code)).collect(),
            None => self.polymers.iter().filter_map(|name| card(name)).collect(),
        }
    }
}

/// Why plastic of a name is never melted in a small lab; none where nothing is known
/// against it. Names outside the cards are answered, too.
#[must_use]
pub fn never_melted(name: &str) -> Option<&'static str> {
    let name = name.trim().to_ascii_uppercase();
    match name.as_str() {
        "PVC" | "PVC-U" | "PVC-P" | "V" | "PVC-C" | "CPVC" | "PVDC" => Some(
            "chlorinated plastic gives off hydrogen chloride when it is melted, corrodes the machine and breaks down PET",
        ),
        "PTFE" | "PVDF" | "FEP" | "PFA" | "ETFE" | "PCTFE" => Some(
            "fluoropolymers give off hydrogen fluoride and other toxic gases, and fumes that bring on fever",
        ),
        "CN" => Some("cellulose nitrate burns and explodes"),
        "PUR" | "EP" | "UP" | "MF" | "PF" | "UF" | "SBR" | "NR" | "NBR" | "EPDM" => {
            Some("thermosets and rubber do not melt: they char and block the machine")
        }
        _ => None,
    }
}
