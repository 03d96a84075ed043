//! What a lot may be, and whether it may be melted at all.

use crate::book::{Book, Feed};
use secondmelt_plastics::cards::{self, Card};
use secondmelt_plastics::identify::{Candidate, candidates, holds, parted_by};
use secondmelt_plastics::marks::{self, Mark};
use secondmelt_record::findings::{Caution, Decision, Verdict};
use secondmelt_record::{Fraction, Number, Out};

/// Standard uncertainty of a density by immersion in a small lab, in g/cm3: clinging bubbles
/// and the scale (common practice, no source; a bubble of 5 mm3 on 1 g moves it by 0.005).
const U_G_CM3: f64 = 0.0025;
/// A lab's own density stands for lots within this of it, in g/cm3 (common practice).
const OWN_G_CM3: f64 = 0.01;

const LOCAL: &str =
    "the safety data sheet, local rules on fumes and waste, and people licensed for them";

pub(crate) fn write(book: &Book, lot: &str, feed: &Feed, out: &mut Out) {
    let read: Vec<Mark> = feed.marks.iter().map(|mark| marks::read(mark)).collect();
    let verdict = |check: &'static str, result, rule: &'static str, why: String| Verdict {
        check: check.into(),
        result,
        lot: Some(lot.into()),
        rule: rule.into(),
        why: why.into(),
        ..Verdict::default()
    };
    if let Some(why) = refused(feed, &read) {
        out.write(&verdict(
            "never-melted",
            Decision::Fails,
            "some plastics are never melted in a small lab, whatever else holds",
            format!("{why}: set it aside, and do not shred, dry or melt it"),
        ));
        out.write(&Caution {
            lot: Some(lot.into()),
            danger: format!("Toxic or corrosive gases, fire or dust may come of this lot: {why}.")
                .into(),
            defer_to: LOCAL.into(),
            ..Caution::default()
        });
    }
    if let Some(name) = feed.material.as_deref().filter(|name| unknown(book, name)) {
        out.write(&verdict(
            "known-plastic",
            Decision::Undecided,
            "a material has a card of the programs or of the lab",
            format!(
                "{name} has no card: write its abbreviation after ISO 1043-1 (check-feed --card PP shows a \
                 card), or give a `material` record of your own"
            ),
        ));
    }
    if let Some((result, why)) = mixture(feed, &read) {
        let rule = "polymers that the cards call incompatible are not melted together";
        out.write(&verdict("mixture", result, rule, why));
    }
    let Some(density) = Density::of(feed) else { return };
    let found = candidates(density.mean, 2.0 * density.u, density.u);
    let rule = "unfilled polymers whose density range, widened by twice the standard uncertainty, holds \
                the density by immersion (ISO 1183-1, method A); shares take each card as equally likely";
    out.write(&Verdict {
        value: Number::new(density.mean),
        unit: Some("g/cm3".into()),
        probability: found.first().and_then(|c| Fraction::new(c.share)),
        ..verdict("candidates", settled(&found), rule, named(&density, &found))
    });
    let (claim, claimed) = claim(feed, &read);
    if !claimed.is_empty() {
        let filled = read.iter().any(|mark| mark.filled);
        let (result, why) = against(book, feed, &density, &claim, &claimed, filled, &found);
        let rule = "the density by immersion lies within the range of what the lot is marked or named, \
                    widened by twice its standard uncertainty";
        out.write(&Verdict {
            value: Number::new(density.mean),
            unit: Some("g/cm3".into()),
            ..verdict("mark-and-density", result, rule, why)
        });
    }
}

/// The density of a lot.
struct Density {
    mean: f64,
    u: f64,
    pieces: usize,
}

impl Density {
    #[expect(clippy::cast_precision_loss, reason = "a few specimens")]
    fn of(feed: &Feed) -> Option<Self> {
        let pieces = feed.densities_g_cm3.len();
        let n = pieces as f64;
        let mean = feed.densities_g_cm3.iter().sum::<f64>() / n;
        let squares: f64 = feed.densities_g_cm3.iter().map(|d| (d - mean).powi(2)).sum();
        let scatter = if pieces > 1 { (squares / (n - 1.0) / n).sqrt() } else { 0.0 };
        (pieces > 0).then_some(Self { mean, u: U_G_CM3.max(scatter), pieces })
    }
}

fn settled(found: &[Candidate]) -> Decision {
    if found.len() == 1 { Decision::Conforms } else { Decision::Undecided }
}

fn named(density: &Density, found: &[Candidate]) -> String {
    let Density { mean, u, pieces } = density;
    let start = format!("{mean:.3} ± {u:.4} g/cm3 on {pieces} specimen(s)");
    let list: Vec<_> = found
        .iter()
        .map(|c| format!("{} ({:.0} %)", c.card.abbreviation, 100.0 * c.share))
        .collect();
    match found {
        [] => format!(
            "{start} fits no unfilled polymer of the cards: it may be filled, foamed, a blend, or hold air"
        ),
        [_] => {
            format!("{start} fits {} alone among unfilled polymers of the cards", list.join(", "))
        }
        _ => format!(
            "{start} fits {}: their densities overlap, so density alone does not tell them apart",
            list.join(", ")
        ),
    }
}

/// What the lot is said to be: its marks, otherwise the name of its material.
fn claim(feed: &Feed, read: &[Mark]) -> (String, Vec<&'static Card>) {
    let marked: Vec<_> = read.iter().flat_map(Mark::cards).collect();
    if marked.is_empty() {
        let card: Vec<_> = feed.card().into_iter().collect();
        (format!("named {}", feed.material.as_deref().unwrap_or("nothing")), card)
    } else {
        (format!("marked {}", feed.marks.join(", ")), marked)
    }
}

fn against(
    book: &Book,
    feed: &Feed,
    density: &Density,
    claim: &str,
    claimed: &[&'static Card],
    filled: bool,
    found: &[Candidate],
) -> (Decision, String) {
    let mean = density.mean;
    if filled {
        let why = format!(
            "it is {claim}: a filler moves the density, so {mean:.3} g/cm3 does not decide"
        );
        return (Decision::Undecided, why);
    }
    let own = |card: &Card| book.own(&card.abbreviation).and_then(|own| own.density_g_cm3);
    let fits = |card: &&&'static Card| match own(card) {
        Some(own) => (mean - own).abs() <= OWN_G_CM3 + 2.0 * density.u,
        None => holds(card, mean, 2.0 * density.u),
    };
    if claimed.iter().any(|card| fits(&card)) {
        return (Decision::Conforms, format!("it is {claim}, and {mean:.3} g/cm3 agrees"));
    }
    let card = claimed[0];
    let range = &card.density_g_cm3;
    let mut why = format!(
        "it is {claim}, but {mean:.3} g/cm3 lies outside {:.2} to {:.2} g/cm3 of {}",
        range.min, range.max, card.abbreviation
    );
    if let Some(likely) = found.first() {
        why += &format!("; it would fit {}", likely.card.abbreviation);
        if feed.material.as_deref() == Some(likely.card.abbreviation.as_str()) {
            why += ", as the lot is named";
        }
        if let Some((liquid, _, up)) = parted_by(card, likely.card) {
            why += &format!(
                "; {liquid} parts the two: unfilled {} floats, wetted and stirred free of air",
                up.abbreviation
            );
        }
    }
    (
        Decision::Fails,
        why + ". Weigh another piece, free of bubbles, before it is mixed with others",
    )
}

/// Why a lot is never melted.
fn refused(feed: &Feed, read: &[Mark]) -> Option<String> {
    let names = feed.material.iter().chain(read.iter().flat_map(|mark| &mark.polymers));
    let by_name = names.into_iter().find_map(|name| {
        let why = marks::never_melted(name)?;
        Some(format!("{name}: {why}"))
    });
    let vinyl = read.iter().any(|mark| mark.code == Some(3));
    let unknown = |name: &String| {
        matches!(name.to_ascii_lowercase().as_str(), "unknown" | "other" | "mixed" | "?")
    };
    by_name
        .or_else(|| vinyl.then(|| format!("code 3: PVC: {}", marks::never_melted("PVC").unwrap_or_default())))
        .or_else(|| {
            read.iter().any(|mark| mark.flame_retarded).then(|| {
                "flame-retarded housing: brominated retardants give off hydrogen bromide and dioxins, and the \
                 law limits them"
                    .to_owned()
            })
        })
        .or_else(|| {
            feed.material
                .as_ref()
                .filter(|name| unknown(name))
                .map(|name| format!("{name}: unknown plastic gives off unknown gases and residues"))
        })
}

fn unknown(book: &Book, name: &str) -> bool {
    cards::card(name).is_none() && book.own(name).is_none() && marks::never_melted(name).is_none()
}

/// Whether differently marked plastics of one lot may be melted together.
fn mixture(feed: &Feed, read: &[Mark]) -> Option<(Decision, String)> {
    // A code 7 and a blend's own mark name no one polymer.
    let named = read.iter().filter(|m| m.polymers.len() == 1 || m.code.is_some_and(|c| c < 7));
    let mut kinds: Vec<&Card> = named.filter_map(|m| m.cards().first().copied()).collect();
    kinds.sort_by(|a, b| a.abbreviation.cmp(&b.abbreviation));
    kinds.dedup_by(|a, b| a.abbreviation == b.abbreviation);
    if kinds.len() < 2 {
        return None;
    }
    let mut bad = Vec::new();
    for (n, a) in kinds.iter().enumerate() {
        for b in kinds[n + 1..].iter().filter(|b| a.incompatible(b)) {
            let (x, y) = (&a.abbreviation, &b.abbreviation);
            bad.push(match parted_by(a, b) {
                Some((liquid, _, up)) => {
                    format!("{x} and {y} ({liquid} parts them: {} floats)", up.abbreviation)
                }
                None => format!(
                    "{x} and {y} (no sorting liquid parts them by their ranges: sort by hand)"
                ),
            });
            if matches!((x.as_str(), y.as_str()), ("PET", "PVC")) {
                bad.push(
                    "some 100 parts of PVC in a million already harm PET (from memory)".to_owned(),
                );
            }
        }
    }
    let marks = feed.marks.join(", ");
    Some(if bad.is_empty() {
        (
            Decision::Undecided,
            format!(
                "marks {marks}: the cards know nothing against melting them together, and nothing for it"
            ),
        )
    } else {
        (Decision::Fails, format!("marks {marks}: not to be melted together: {}", bad.join("; ")))
    })
}
