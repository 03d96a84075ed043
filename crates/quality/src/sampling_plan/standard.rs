//! Code letters and single plans for normal inspection by attributes: MIL-STD-105E (1989),
//! Tables I and II-A, in the public domain; the same values are in ISO 2859-1:1999, Tables 1
//! and 2-A, and ANSI/ASQ Z1.4. Tightened and reduced inspection and the rules to switch are
//! not here.

use super::attributes::Plan;

/// Inspection level: how large a sample is against the lot.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Level {
    /// Special level S-1, the smallest samples.
    S1,
    /// Special level S-2.
    S2,
    /// Special level S-3.
    S3,
    /// Special level S-4.
    S4,
    /// General level I.
    I,
    /// General level II, used unless something else is agreed.
    II,
    /// General level III, the largest samples.
    III,
}

/// Largest lots of the first fourteen rows; the fifteenth has no end.
const LOTS: [u64; 14] =
    [8, 15, 25, 50, 90, 150, 280, 500, 1200, 3200, 10_000, 35_000, 150_000, 500_000];
/// Code letters, and the sample size of each.
const SIZES: [(char, u64); 16] = [
    ('A', 2),
    ('B', 3),
    ('C', 5),
    ('D', 8),
    ('E', 13),
    ('F', 20),
    ('G', 32),
    ('H', 50),
    ('J', 80),
    ('K', 125),
    ('L', 200),
    ('M', 315),
    ('N', 500),
    ('P', 800),
    ('Q', 1250),
    ('R', 2000),
];
/// Acceptable quality levels that are percentages, in percent.
const AQLS: [f64; 16] = [
    0.010, 0.015, 0.025, 0.040, 0.065, 0.10, 0.15, 0.25, 0.40, 0.65, 1.0, 1.5, 2.5, 4.0, 6.5, 10.0,
];
/// Acceptance numbers down a column from its first one; where there is none, an arrow leads
/// to the plan above and then to the plan below.
const ACCEPT: [Option<u64>; 11] = [
    Some(0),
    None,
    None,
    Some(1),
    Some(2),
    Some(3),
    Some(5),
    Some(7),
    Some(10),
    Some(14),
    Some(21),
];

impl Level {
    fn letters(self) -> &'static str {
        match self {
            Self::S1 => "AAAABBBBCCCCDDD",
            Self::S2 => "AAABBBCCCDDDEEE",
            Self::S3 => "AABBCCDDEEFFGGH",
            Self::S4 => "AABCCDEEFGGHJJK",
            Self::I => "AABCCDEFGHJKLMN",
            Self::II => "ABCDEFGHJKLMNPQ",
            Self::III => "BCDEFGHJKLMNPQR",
        }
    }
}

/// Code letter of a lot; none for a lot of fewer than two.
#[must_use]
pub fn code_letter(lot: u64, level: Level) -> Option<char> {
    let row = LOTS.iter().filter(|most| lot > **most).count();
    if lot < 2 { None } else { level.letters().chars().nth(row) }
}

/// Sample size of a code letter.
#[must_use]
pub fn sample_size(letter: char) -> Option<u64> {
    SIZES.iter().find(|(code, _)| *code == letter).map(|(_, n)| *n)
}

/// A plan with the letter it belongs to once arrows are followed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LetterPlan {
    /// Letter of the plan.
    pub letter: char,
    /// The plan.
    pub plan: Plan,
}

/// Single plan for normal inspection, of a code letter and an acceptable quality level in
/// percent bad items, 0.010 to 10: where an arrow stands, the first plan in its direction
/// with its own sample size. None for another letter or level.
///
/// The columns follow one law: the first Ac = 0 stands one letter higher for each larger
/// level, and the same numbers follow. Columns 0.65 to 4.0 were held against the printed
/// table; the others are that law, as remembered.
#[must_use]
pub fn normal_plan(letter: char, aql_percent: f64) -> Option<LetterPlan> {
    let row = SIZES.iter().position(|(code, _)| *code == letter)?;
    let column = AQLS.iter().position(|aql| (aql_percent / aql - 1.0).abs() < 1e-9)?;
    // The row of Ac = 0, above the table in the last column.
    let first = 14 - i64::try_from(column).ok()?;
    let depth = i64::try_from(row).ok()? - first;
    let choices: [i64; 2] = match depth {
        ..=1 => [0, 3],
        2 => [3, 0],
        _ => [depth.min(10), depth.min(10)],
    };
    choices.into_iter().find_map(|depth| {
        let (letter, n) = SIZES.get(usize::try_from(first + depth).ok()?)?;
        let accept = (*ACCEPT.get(usize::try_from(depth).ok()?)?)?;
        Some(LetterPlan { letter: *letter, plan: Plan { n: *n, accept } })
    })
}

/// The plan for a lot.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LotPlan {
    /// Code letter of the lot, before arrows are followed.
    pub letter: char,
    /// The plan with its own letter.
    pub normal: LetterPlan,
    /// The sample is as large as the lot or larger: check every item.
    pub all_inspected: bool,
}

/// Single plan for normal inspection of a lot. None for a lot of fewer than two or a level
/// that is not in the table.
#[must_use]
pub fn lot_plan(lot: u64, level: Level, aql_percent: f64) -> Option<LotPlan> {
    let letter = code_letter(lot, level)?;
    let normal = normal_plan(letter, aql_percent)?;
    Some(LotPlan { letter, normal, all_inspected: normal.plan.n >= lot })
}
