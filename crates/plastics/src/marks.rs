//! Marks on plastic parts and names of materials: ISO 1043, ISO 11469 and the resin
//! identification code (ASTM D7611).

use crate::cards::{Card, all, card};

/// What a mark or a name says.
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
    /// Something in it that is neither a polymer, a filler nor a flame retardant, and may be anything.
    pub not_understood: Option<String>,
    /// Every word of it, in capitals.
    words: Vec<String>,
    /// The words without anything between them.
    letters: String,
}

/// Symbols of fillers (ISO 1043-2).
const FILLERS: [&str; 11] = ["GF", "CF", "MD", "GB", "TD", "GX", "MX", "KD", "WD", "NF", "AF"];

/// Reads a mark such as `>PA66-(GF25+MD15)<`, `>PC+ABS-FR(40)<`, `ABS`, `05` or a name of a
/// material.
#[must_use]
pub fn read(mark: &str) -> Mark {
    let mark: String = mark.chars().map(plain).collect();
    let inner = mark.trim().trim_start_matches('>').trim_end_matches('<').trim();
    if let Ok(code @ 1..=7) = inner.parse::<u8>() {
        return Mark { code: Some(code), ..Mark::default() };
    }
    let words: Vec<String> = inner
        .split(|c: char| !c.is_alphanumeric())
        .filter(|word| !word.is_empty())
        .map(str::to_uppercase)
        .collect();
    // Numbers stand close to symbols: GF25, FR17, GF20FR.
    fn symbols(word: &str) -> impl Iterator<Item = &str> {
        word.split(|c: char| c.is_ascii_digit())
    }
    let mut read = Mark {
        // Glued to the name as well: ABSFR.
        flame_retarded: words.iter().any(|word| {
            symbols(word).any(|symbol| symbol.ends_with("FR")) || tells_of_retardant(word)
        }),
        letters: words.concat(),
        words: words.clone(),
        ..Mark::default()
    };
    for part in parts(inner) {
        // Where the polymer's own name has a hyphen (PE-HD) or a space, the longest known
        // name wins.
        let before = part.split('(').next().unwrap_or(part).trim();
        let ends = before.match_indices(['-', ' ']).map(|(at, _)| at).chain([before.len()]);
        let ends: Vec<usize> = ends.collect();
        let end = ends.iter().rev().copied().find(|&end| card(&before[..end]).is_some());
        let end = end.unwrap_or(ends[0]);
        let name = before[..end].trim();
        let further = part[end..].to_uppercase();
        let further = || further.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty());
        let known = |word: &str| {
            let symbols = || symbols(word).filter(|symbol| !symbol.is_empty());
            symbols().all(|symbol| FILLERS.contains(&symbol) || symbol == "FR")
                && (symbols().next().is_some() || before.len() < part.len())
        };
        read.filled |= further().flat_map(symbols).any(|symbol| FILLERS.contains(&symbol));
        let strange = further().find(|word| !known(word)).map(str::to_owned);
        read.not_understood = read.not_understood.take().or(strange);
        if !name.is_empty() && !name.to_ascii_uppercase().starts_with("FR") {
            read.polymers.push(name.to_owned());
        }
    }
    if read.letters.is_empty() {
        read.polymers.clear();
    }
    if read.polymers.is_empty() && !read.flame_retarded {
        read.not_understood = read.not_understood.take().or_else(|| Some(inner.to_owned()));
    }
    read
}

/// A character as it is meant: full width letters are letters, and the signs of the recycling
/// codes are numbers.
fn plain(c: char) -> char {
    match u32::from(c) {
        full @ 0xFF01..=0xFF5E => char::from_u32(full - 0xFEE0).unwrap_or(c),
        code @ 0x2673..=0x2679 => char::from_u32(code - 0x2673 + 0x31).unwrap_or(c),
        _ => c,
    }
}

/// Whether a word tells of a flame retardant: classes of burning tests (UL 94, IEC 60695-11-10), and what such
/// plastics are called.
fn tells_of_retardant(word: &str) -> bool {
    const STEMS: [&str; 6] = ["FLAM", "RETARD", "BROM", "EXTINGUISH", "TBBP", "SELBSTVERL"];
    matches!(word, "V0" | "V1" | "V2" | "VTM0" | "UL94" | "BR" | "5VA" | "5VB")
        || STEMS.iter().any(|stem| word.starts_with(stem))
}

/// The polymers of a blend: parts between plus signs outside brackets, or strokes where those
/// part names that are known (E/VAC is one polymer).
fn parts(text: &str) -> Vec<&str> {
    let known =
        |name: &str| card(name).is_some() || of_any_part(&name.to_ascii_uppercase()).is_some();
    let strokes = text.split('/').any(|part| known(part.trim()));
    let (mut depth, mut from, mut parts) = (0_u32, 0, Vec::new());
    for (at, c) in text.char_indices() {
        match c {
            '(' => depth += 1,
            ')' => depth = depth.saturating_sub(1),
            '+' if depth == 0 => {
                parts.push(&text[from..at]);
                from = at + 1;
            }
            '/' if depth == 0 && strokes => {
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

    /// Why what it names is never melted in a small lab; none where nothing is known against it.
    #[must_use]
    pub fn never_melted(&self) -> Option<&'static str> {
        let halogen = match self.code {
            Some(_) => self.cards().iter().all(|card| card.contains_halogen),
            None => self.cards().iter().any(|card| card.contains_halogen),
        };
        if self.letters.is_empty() && self.code.is_none() {
            return self
                .not_understood
                .as_deref()
                .filter(|text| text.contains('?'))
                .map(|_| UNKNOWN);
        }
        if halogen {
            return Some(CHLORINE);
        }
        if self.flame_retarded {
            return Some(RETARDED);
        }
        // Whatever stands before, behind or between its letters: rPVC, P.V.C., polyvinyl chloride.
        if ["PVC", "VINYLCHLOR", "VINYLIDENCHLOR", "VINYLIDENECHLOR"]
            .iter()
            .any(|w| self.letters.contains(w))
        {
            return Some(CHLORINE);
        }
        let whole = self.words.join("-");
        let in_part = self.words.iter().find_map(|word| of_any_part(word));
        of_whole(&whole).or(in_part).or_else(|| of_any_part(&whole)).or_else(|| {
            // Rubber toughens plastics that melt: only rubber all through is refused.
            let through = |name: &String| of_whole(&name.to_ascii_uppercase()) == Some(NO_MELT);
            let all = !self.polymers.is_empty() && self.polymers.iter().all(through);
            all.then_some(NO_MELT)
        })
    }
}

const CHLORINE: &str = "chlorinated plastic gives off hydrogen chloride when it is melted, corrodes the machine and \
                        breaks down PET";
const FLUORINE: &str = "fluoropolymers give off hydrogen fluoride and other toxic gases, and fumes that bring on fever";
const RETARDED: &str = "flame-retarded housing: brominated retardants give off hydrogen bromide and dioxins, and \
                        the law limits them";
const NO_MELT: &str =
    "thermosets, rubber and silicone do not melt: they char and block the machine";
const NITRATE: &str = "cellulose nitrate burns and explodes";
const UNKNOWN: &str = "unknown plastic gives off unknown gases and residues";

/// Why plastic is never melted that has a word in any part of its name (ISO 1043-1 and
/// ISO 1629).
fn of_any_part(word: &str) -> Option<&'static str> {
    match word {
        "PVC" | "UPVC" | "PVC-U" | "PVC-P" | "PVC-HI" | "PVC-C" | "CPVC" | "PVCC" | "PVDC"
        | "PE-C" | "CPE" | "CSM" | "VINYL" | "VC" => Some(CHLORINE),
        "PTFE" | "PVDF" | "PVF" | "FEP" | "PFA" | "MFA" | "ETFE" | "E-TFE" | "ECTFE" | "E-CTFE"
        | "PCTFE" | "CTFE" | "TFE" | "THV" | "FKM" | "FFKM" | "FPM" | "FLUOROPOLYMER" => {
            Some(FLUORINE)
        }
        "CELLULOID" => Some(NITRATE),
        "UNKNOWN" | "UNBEKANNT" | "MIXED" | "MISCELLANEOUS" => Some(UNKNOWN),
        "SILICONE" | "SILICONES" | "SILIKON" | "VMQ" | "MVQ" | "LSR" => Some(NO_MELT),
        _ => None,
    }
}

/// Why plastic of a whole name in capitals is never melted.
fn of_whole(name: &str) -> Option<&'static str> {
    match name {
        "V" | "VC" | "CM" => Some(CHLORINE),
        "CN" => Some(NITRATE),
        "PUR" | "EP" | "UP" | "MF" | "MP" | "PF" | "UF" | "PDAP" | "SBR" | "NR" | "IR" | "IIR"
        | "BR" | "NBR" | "EPDM" | "CR" | "SI" | "SIR" | "SILICON" | "RUBBER" | "THERMOSET" => {
            Some(NO_MELT)
        }
        "UNKNOWN" | "OTHER" | "MIXED" => Some(UNKNOWN),
        _ => None,
    }
}

/// Why plastic of a name is never melted in a small lab; none where nothing is known
/// against it. Names outside the cards are answered, too.
#[must_use]
pub fn never_melted(name: &str) -> Option<&'static str> {
    read(name).never_melted()
}
