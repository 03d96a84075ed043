//! Two-level designs for screening settings: full and fractional factorials, and the designs of
//! Plackett and Burman for 12 and 20 runs. A run is a row of levels, -1 for the lower one and
//! +1 for the upper one; every setting is at each level in half of the runs, and any two of them
//! are balanced against each other.
//!
//! What a design cannot tell apart is worked out from its columns: see [`Design::aliases`].

use std::fmt::Write;

/// Most settings of a design.
pub const SETTINGS_MAX: usize = 19;
/// Numbers of runs that designs have.
pub const RUNS: [usize; 6] = [4, 8, 12, 16, 20, 32];
/// Settings are lettered so; I stands for the mean.
const LETTERS: [char; SETTINGS_MAX] =
    ['A', 'B', 'C', 'D', 'E', 'F', 'G', 'H', 'J', 'K', 'L', 'M', 'N', 'O', 'P', 'Q', 'R', 'S', 'T'];

/// Generators of fractional factorials of least aberration: settings, runs, and each further
/// setting as a product of the first ones. Box, G.E.P., Hunter, W.G. and Hunter, J.S. (1978),
/// Statistics for Experimenters, table 12.15; the same in the table of fractional factorial
/// designs of the NIST/SEMATECH e-Handbook of Statistical Methods, section 5.3.3.4.7 (both from
/// memory; that each has the resolution printed there is checked by algebra).
const GENERATORS: &[(usize, usize, &[&str])] = &[
    (3, 4, &["C=AB"]),
    (4, 8, &["D=ABC"]),
    (5, 8, &["D=AB", "E=AC"]),
    (6, 8, &["D=AB", "E=AC", "F=BC"]),
    (7, 8, &["D=AB", "E=AC", "F=BC", "G=ABC"]),
    (5, 16, &["E=ABCD"]),
    (6, 16, &["E=ABC", "F=BCD"]),
    (7, 16, &["E=ABC", "F=BCD", "G=ACD"]),
    (8, 16, &["E=BCD", "F=ACD", "G=ABC", "H=ABD"]),
    (9, 16, &["E=ABC", "F=BCD", "G=ACD", "H=ABD", "J=ABCD"]),
    (6, 32, &["F=ABCDE"]),
    (7, 32, &["F=ABCD", "G=ABDE"]),
    (8, 32, &["F=ABC", "G=ABD", "H=BCDE"]),
];

/// First rows of the cyclic designs: Plackett, R.L. and Burman, J.P. (1946), The design of optimum
/// multifactorial experiments, Biometrika 33:305.
const FIRST_ROWS: [(usize, &str); 2] = [(12, "++-+++---+-"), (20, "++--++++-+-+----++-")];

/// A design.
#[derive(Debug, Clone, PartialEq)]
pub struct Design {
    /// Levels of each run in the standard order.
    pub rows: Vec<Vec<i8>>,
    /// The generators; none of a full factorial or of Plackett and Burman.
    pub generators: Vec<String>,
    /// Letters in the shortest word of the defining relation. None of a full factorial, in which
    /// nothing is mixed, and of Plackett and Burman, whose main effects are mixed with parts of
    /// interactions (resolution III).
    pub resolution: Option<usize>,
    /// Whether it is one of Plackett and Burman.
    pub cyclic: bool,
}

/// The letter of a setting.
#[must_use]
pub fn letter(setting: usize) -> Option<char> {
    LETTERS.get(setting).copied()
}

/// Fewest runs of a design for so many settings that tells all main effects apart, were there no
/// interactions.
#[must_use]
pub fn fewest_runs(settings: usize) -> Option<usize> {
    RUNS.into_iter().find(|runs| design(settings, *runs).is_some())
}

/// The design for so many settings in so many runs; none where there is none.
#[must_use]
pub fn design(settings: usize, runs: usize) -> Option<Design> {
    if let Some((_, first)) = FIRST_ROWS.iter().find(|(size, _)| *size == runs) {
        return ((2..runs).contains(&settings)).then(|| cyclic(settings, first));
    }
    if !(2..=5).contains(&settings) && settings > 9 || settings < 2 {
        return None;
    }
    if 1 << settings == runs {
        return Some(Design {
            rows: factorial(settings, runs),
            generators: Vec::new(),
            resolution: None,
            cyclic: false,
        });
    }
    let (_, _, generators) =
        GENERATORS.iter().find(|(k, size, _)| (*k, *size) == (settings, runs))?;
    let basic = settings - generators.len();
    let mut rows = factorial(basic, runs);
    for generator in *generators {
        let parents = word(generator.get(2..)?)?;
        for row in &mut rows {
            let level = (0..basic).filter(|s| parents >> s & 1 == 1).map(|s| row[s]).product();
            row.push(level);
        }
    }
    let words = defining_words(generators)?;
    Some(Design {
        rows,
        generators: generators.iter().map(|g| (*g).to_owned()).collect(),
        resolution: words.iter().map(|w| w.count_ones() as usize).min(),
        cyclic: false,
    })
}

/// All levels of so many settings, the first one changing fastest.
fn factorial(settings: usize, runs: usize) -> Vec<Vec<i8>> {
    let level = |run: usize, s: usize| if run >> s & 1 == 1 { 1 } else { -1 };
    (0..runs).map(|run| (0..settings).map(|s| level(run, s)).collect()).collect()
}

/// The first row turned round one place at a time, and a run with every setting low.
fn cyclic(settings: usize, first: &str) -> Design {
    let first: Vec<i8> = first.bytes().map(|b| if b == b'+' { 1 } else { -1 }).collect();
    let n = first.len();
    let turned = |run: usize| (0..settings).map(|s| first[(s + n - run) % n]).collect();
    let rows = (0..n).map(turned).chain(std::iter::once(vec![-1; settings])).collect();
    Design { rows, generators: Vec::new(), resolution: None, cyclic: true }
}

/// A product of settings as one bit for each.
fn word(letters: &str) -> Option<u32> {
    let bit = |c| LETTERS.iter().position(|letter| *letter == c).map(|at| 1_u32 << at);
    letters.chars().try_fold(0, |word, c| Some(word ^ bit(c)?))
}

/// All products of the generators' words: each equals the mean in the design.
fn defining_words(generators: &[&str]) -> Option<Vec<u32>> {
    let words: Vec<u32> = generators
        .iter()
        .map(|g| Some(word(g.get(..1)?)? ^ word(g.get(2..)?)?))
        .collect::<Option<_>>()?;
    let product = |some: u32| {
        let chosen = words.iter().enumerate().filter(|(i, _)| some >> i & 1 == 1);
        chosen.fold(0, |product, (_, word)| product ^ word)
    };
    Some((1..1_u32 << words.len()).map(product).collect())
}

impl Design {
    /// Number of settings.
    #[must_use]
    pub fn settings(&self) -> usize {
        self.rows.first().map_or(0, Vec::len)
    }

    /// How the column of a product of settings goes with another, from -1 to 1: mean product of
    /// the two columns.
    #[must_use]
    pub fn together(&self, one: &[usize], other: &[usize]) -> f64 {
        let product =
            |row: &[i8], of: &[usize]| of.iter().map(|s| i32::from(row[*s])).product::<i32>();
        let sum: i32 = self.rows.iter().map(|row| product(row, one) * product(row, other)).sum();
        f64::from(sum) / self.rows.len() as f64
    }

    /// What cannot be told apart among main effects and interactions of two, by letter: "A = BD"
    /// where they are one column, "A = 1/3 (BC - BD ...)" with the part of each where they are
    /// mixed in part, which is left to a sentence for more than five settings.
    #[must_use]
    pub fn aliases(&self) -> Vec<String> {
        if self.cyclic {
            return self.parts();
        }
        let k = self.settings();
        let mut effects: Vec<Vec<usize>> = (0..k).map(|s| vec![s]).collect();
        effects.extend((0..k).flat_map(|a| (a + 1..k).map(move |b| vec![a, b])));
        let mut told = vec![false; effects.len()];
        let mut aliases = Vec::new();
        for (i, one) in effects.iter().enumerate() {
            if told[i] {
                continue;
            }
            let mut text = named(one);
            for (j, other) in effects.iter().enumerate().skip(i + 1) {
                let part = self.together(one, other);
                if part.abs() > 0.5 {
                    told[j] = true;
                    let sign = if part < 0.0 { " = -" } else { " = " };
                    text.push_str(sign);
                    text.push_str(&named(other));
                }
            }
            if text.contains('=') {
                aliases.push(text);
            }
        }
        aliases
    }

    /// The parts of interactions in each main effect.
    fn parts(&self) -> Vec<String> {
        let k = self.settings();
        if k > 5 {
            let most = (0..k)
                .flat_map(|s| self.mixed(s))
                .fold(0.0_f64, |most, (_, part)| most.max(part.abs()));
            let parts = if (most - 1.0 / 3.0).abs() < 1e-9 {
                "a third".to_owned()
            } else {
                format!("up to {most:.1}")
            };
            return vec![format!(
                "each main effect is mixed with {parts} of every interaction of two others"
            )];
        }
        let of = |s: usize| {
            let mut text = format!("{} =", named(&[s]));
            for (pair, part) in self.mixed(s) {
                let _ = write!(
                    text,
                    " {} {:.2} {}",
                    if part < 0.0 { '-' } else { '+' },
                    part.abs(),
                    named(&pair)
                );
            }
            text
        };
        (0..k).filter(|s| !self.mixed(*s).is_empty()).map(of).collect()
    }

    /// Interactions of two others in a main effect, and how much of each.
    fn mixed(&self, setting: usize) -> Vec<([usize; 2], f64)> {
        let k = self.settings();
        let pairs = (0..k).flat_map(|a| (a + 1..k).map(move |b| [a, b]));
        let parts = pairs.map(|pair| (pair, self.together(&[setting], &pair)));
        parts.filter(|(_, part)| part.abs() > 1e-9).collect()
    }
}

fn named(settings: &[usize]) -> String {
    settings.iter().filter_map(|s| letter(*s)).collect()
}
