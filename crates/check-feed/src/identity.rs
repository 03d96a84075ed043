//! What a lot may be: its name, its marks and its density against one another.

use crate::book::{Book, Feed};
use crate::mixture;
use crate::own::card_of;
use crate::refusal;
use crate::say::verdict;
use crate::weighed::Density;
use secondmelt_plastics::cards::{self, Card};
use secondmelt_plastics::identify::{holds, shares};
use secondmelt_plastics::marks::{self, Mark};
use secondmelt_record::findings::{self, Caution, Decision, Verdict};
use secondmelt_record::{Fraction, Number, Out, Positive};

/// A plastic with chlorine or fluorine of at least this share of the likelihood is warned of.
const SUSPECT: f64 = 0.01;

/// Where a lot stands before its moisture and size are looked at.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Standing {
    /// Nothing against it.
    Open,
    /// It is not melted, whatever else holds.
    Refused,
    /// It is not settled what it is.
    Contradicted(String),
}

/// A plastic that a density allows.
#[derive(Debug, Clone)]
pub(crate) struct Candidate {
    pub(crate) name: String,
    range: (f64, f64),
    share: f64,
    claimed: bool,
    card: Option<&'static Card>,
}

/// `has_in_it` is a lot that is never melted and went into this one.
pub(crate) fn write(
    book: &Book,
    lot: &str,
    feed: &Feed,
    read: &[Mark],
    has_in_it: Option<&str>,
    out: &mut Out,
) -> Standing {
    let mut standing = Standing::Open;
    if refusal::write(lot, feed, read, has_in_it, out) {
        standing = Standing::Refused;
    } else if let Some(name) = feed.material.as_deref().filter(|name| unknown(book, name)) {
        let why = format!(
            "{name} has no card: write its abbreviation after ISO 1043-1 (check-feed --card PP shows a \
             card), or give a `material` record of your own"
        );
        let rule = "a material has a card of the programs or of the lab";
        out.write(&verdict("known-plastic", lot, Decision::Undecided, rule, why));
    }
    if let Some((result, why)) = name_against_marks(book, feed, read) {
        if result != Decision::Conforms && standing == Standing::Open {
            standing = Standing::Contradicted(why.clone());
        }
        let rule = "every mark names the plastic that the lot is named after";
        out.write(&verdict("name-and-mark", lot, result, rule, why));
    }
    mixture::write(lot, feed, read, out);
    if let Some(density) = Density::of(book, feed)
        && let Some(why) = by_density(book, lot, feed, read, &density, out)
        && standing == Standing::Open
    {
        standing = Standing::Contradicted(why);
    }
    standing
}

fn unknown(book: &Book, name: &str) -> bool {
    card_of(name).is_none() && book.own(name).is_none()
}

/// Whether name and marks agree; none where one of them is missing.
fn name_against_marks(book: &Book, feed: &Feed, read: &[Mark]) -> Option<(Decision, String)> {
    let name = feed.material.as_deref()?;
    let one = cards::one_name(name);
    let of_name = marks::read(name);
    let mut parts: Vec<String> = of_name.polymers.iter().map(|p| cards::one_name(p)).collect();
    parts.sort();
    let mut worst: Option<(Decision, String)> = None;
    for (mark, text) in read.iter().zip(&feed.marks) {
        let mut marked: Vec<String> = match mark.code {
            Some(_) => mark.cards().iter().map(|card| card.abbreviation.clone()).collect(),
            None => mark.polymers.iter().map(|p| cards::one_name(p)).collect(),
        };
        marked.sort();
        let (result, why) = if let Some(strange) = &mark.not_understood {
            let why = format!(
                "it is marked {text}, of which {strange:?} is not understood and may be anything: find out what it says"
            );
            (Decision::Undecided, why)
        } else if mark.code.is_some_and(|code| code < 7) {
            if marked.contains(&one) {
                (Decision::Conforms, format!("the mark {text} allows {name}"))
            } else if unknown(book, name) {
                (
                    Decision::Undecided,
                    format!("{name} has no card, so that the mark {text} says nothing of it"),
                )
            } else {
                (
                    Decision::Fails,
                    format!(
                        "it is named {name}, but marked {text}, which is {}",
                        marked.join(" or ")
                    ),
                )
            }
        } else if mark.code.is_some() {
            let other = cards::card(name).is_some_and(|card| card.marking.resin_code != Some(7));
            if other {
                (
                    Decision::Fails,
                    format!(
                        "it is named {name}, which has a code of its own, but marked {text} (other)"
                    ),
                )
            } else {
                (Decision::Conforms, format!("the mark {text} (other) allows {name}"))
            }
        } else if marked == parts || marked == [one.clone()] {
            (Decision::Conforms, format!("it is named {name} and marked {text}"))
        } else if marked.iter().any(|m| unknown(book, m)) {
            (Decision::Undecided, format!("it is named {name}, and the mark {text} is not known"))
        } else if marked.len() > 1 && marked.contains(&one) {
            (Decision::Undecided, format!("it is named {name}, but marked {text}, a blend of it"))
        } else if unknown(book, name) {
            (
                Decision::Undecided,
                format!("{name} has no card, so that it cannot be held against the mark {text}"),
            )
        } else {
            (Decision::Fails, format!("it is named {name}, but marked {text}"))
        };
        let rank = |d: Decision| match d {
            Decision::Conforms => 0,
            Decision::Undecided => 1,
            Decision::Fails => 2,
        };
        if worst.as_ref().is_none_or(|(before, _)| rank(result) > rank(*before)) {
            worst = Some((result, why));
        }
    }
    worst.map(|(result, why)| match result {
        Decision::Fails => (
            result,
            why + ": a contradiction; find out which holds (weigh a piece in water, look for another mark) before it \
                   is dried or mixed",
        ),
        _ => (result, why),
    })
}

/// What the lot is said to be: its marks, otherwise its name.
fn claim(book: &Book, feed: &Feed, read: &[Mark]) -> (String, Vec<String>) {
    let marked: Vec<String> = read
        .iter()
        .flat_map(|mark| match mark.code {
            Some(_) => mark.cards().iter().map(|card| card.abbreviation.clone()).collect(),
            None => mark.polymers.clone(),
        })
        .filter(|name| book.range(name).is_some())
        .collect();
    if marked.is_empty() {
        let named = feed.material.iter().filter(|name| book.range(name).is_some());
        let said = format!("named {}", feed.material.as_deref().unwrap_or("nothing"));
        (said, named.cloned().collect())
    } else {
        (format!("marked {}", feed.marks.join(", ")), marked)
    }
}

/// Every plastic that a density allows, the likeliest first.
fn candidates(book: &Book, density: &Density, claimed: &[String]) -> Vec<Candidate> {
    let names = cards::all().iter().map(|card| card.abbreviation.as_str()).chain(book.own_alone());
    let known: Vec<(&str, (f64, f64))> =
        names.filter_map(|name| Some((name, book.range(name)?))).collect();
    let ranges: Vec<(f64, f64)> = known.iter().map(|(_, range)| *range).collect();
    let found = shares(&ranges, density.mean, 2.0 * density.u, density.u);
    let same = |a: &str, b: &str| cards::one_name(a) == cards::one_name(b);
    let mut found: Vec<Candidate> = known
        .into_iter()
        .zip(found)
        .filter_map(|((name, range), share)| {
            let claimed = claimed.iter().any(|claim| same(claim, name));
            Some(Candidate {
                name: name.into(),
                range,
                share: share?,
                claimed,
                card: cards::card(name),
            })
        })
        .collect();
    found.sort_by(|a, b| b.share.total_cmp(&a.share));
    found
}

/// Writes what the density says; why it contradicts what the lot is said to be, where it does.
fn by_density(
    book: &Book,
    lot: &str,
    feed: &Feed,
    read: &[Mark],
    density: &Density,
    out: &mut Out,
) -> Option<String> {
    density.write(lot, out);
    let (claim, claimed) = claim(book, feed, read);
    let found = candidates(book, density, &claimed);
    for one in &found {
        let (Some(share), Some(from), Some(to)) =
            (Fraction::new(one.share), Positive::new(one.range.0), Positive::new(one.range.1))
        else {
            continue;
        };
        out.write(&findings::Candidate {
            lot: lot.into(),
            material: one.name.clone().into(),
            share,
            from_g_cm3: from,
            to_g_cm3: to,
            claimed: one.claimed,
            ..findings::Candidate::default()
        });
    }
    let rule = "unfilled plastics whose density range, widened by twice the standard uncertainty, holds \
                the density by immersion (ISO 1183-1, method A); shares take each card as equally likely";
    let (result, why) = named(density, &found);
    out.write(&Verdict {
        value: Number::new(density.mean),
        unit: Some("g/cm3".into()),
        probability: found.first().and_then(|c| Fraction::new(c.share)),
        ..verdict("candidates", lot, result, rule, why)
    });
    let against = (!claimed.is_empty()).then(|| {
        let filled = read.iter().any(|mark| mark.filled)
            || feed.material.as_deref().is_some_and(|name| marks::read(name).filled);
        against(book, feed, density, &claim, &claimed, filled, &found)
    });
    if let Some(against) = &against {
        let rule = "the density by immersion lies within the range of what the lot is marked or named, \
                    widened by twice its standard uncertainty";
        out.write(&Verdict {
            value: Number::new(density.mean),
            unit: Some("g/cm3".into()),
            ..verdict("mark-and-density", lot, against.result, rule, against.why.clone())
        });
        if let Some((one, other)) = against.parted {
            mixture::part(Some(lot), one, other, out);
        }
    }
    // A mark that agrees settles more than a density that overlaps.
    // The code 7 (other) settles nothing, as what is chlorinated may bear it.
    let names_one = !read.is_empty() && read.iter().all(|mark| mark.code != Some(7));
    let marked = names_one && against.as_ref().is_some_and(|a| a.result == Decision::Conforms);
    // A mark that names its plastic settles it even where a filler keeps the density from agreeing.
    let suspect = if marked { None } else { beware(lot, &found, out) }.filter(|_| !names_one);
    against.filter(|a| a.result == Decision::Fails).map(|a| a.why).or(suspect)
}

/// Warns of plastics with chlorine or fluorine among the candidates; what is not settled by that.
fn beware(lot: &str, found: &[Candidate], out: &mut Out) -> Option<String> {
    let halogen = |c: &&Candidate| c.share >= SUSPECT && c.card.is_some_and(|c| c.contains_halogen);
    let mut suspect = None;
    for one in found.iter().filter(halogen) {
        suspect = suspect.or_else(|| {
            Some(format!("its density also fits {}, and no mark rules that out", one.name))
        });
        out.write(&Caution {
            lot: Some(lot.to_owned().into()),
            danger: format!(
                "Its density also fits {} ({:.0} % of the likelihood), which gives off hydrogen chloride when \
                 melted: while no mark or test rules that out, do not melt it.",
                one.name,
                100.0 * one.share
            )
            .into(),
            defer_to: refusal::LOCAL.into(),
            ..Caution::default()
        });
    }
    suspect
}

fn named(density: &Density, found: &[Candidate]) -> (Decision, String) {
    let Density { mean, u, pieces, spread, .. } = density;
    let mut start = format!("{mean:.3} ± {u:.4} g/cm3 on {pieces} specimen(s)");
    if density.mixed() {
        let why = format!(
            "{start}, which differ by {spread:.3} g/cm3, more than the weighings explain: there may be several \
             plastics, or bubbles; weigh more pieces, and sort"
        );
        return (Decision::Undecided, why);
    }
    let list: Vec<_> =
        found.iter().map(|c| format!("{} ({:.0} %)", c.name, 100.0 * c.share)).collect();
    let list = list.join(", ");
    start += &match found {
        [] => {
            " fits no unfilled plastic of the cards: it may be filled, foamed, a blend, or hold air"
                .to_owned()
        }
        [_] => format!(" fits {list} alone among unfilled plastics of the cards"),
        _ => format!(
            " fits {list}: their densities overlap, so density alone does not tell them apart"
        ),
    };
    (if found.len() == 1 { Decision::Conforms } else { Decision::Undecided }, start)
}

/// What density and claim say of each other.
struct Against {
    result: Decision,
    why: String,
    /// Plastics that a liquid may part.
    parted: Option<(&'static Card, &'static Card)>,
}

fn against(
    book: &Book,
    feed: &Feed,
    density: &Density,
    claim: &str,
    claimed: &[String],
    filled: bool,
    found: &[Candidate],
) -> Against {
    let mean = density.mean;
    let plain = |result, why| Against { result, why, parted: None };
    if filled {
        let why = format!(
            "it is {claim}: a filler moves the density, so {mean:.3} g/cm3 does not decide"
        );
        return plain(Decision::Undecided, why);
    }
    let range = |name: &String| book.range(name).unwrap_or((f64::NAN, f64::NAN));
    if claimed.iter().any(|name| holds(range(name), mean, 2.0 * density.u)) {
        let why = format!("it is {claim}, and {mean:.3} g/cm3 agrees");
        return if density.mixed() {
            plain(
                Decision::Undecided,
                why + " on the mean, but its pieces differ too much for one plastic",
            )
        } else {
            plain(Decision::Conforms, why)
        };
    }
    let blend = claimed.len() > 1 && !feed.marks.is_empty();
    let lowest = claimed.iter().map(|n| range(n).0).fold(f64::INFINITY, f64::min);
    let highest = claimed.iter().map(|n| range(n).1).fold(0.0, f64::max);
    if blend && (lowest..=highest).contains(&mean) {
        let why =
            format!("it is {claim}: {mean:.3} g/cm3 lies between them, as that of a blend may");
        return plain(Decision::Undecided, why);
    }
    let first = &claimed[0];
    let mut why = format!(
        "it is {claim}, but {mean:.3} g/cm3 lies outside {:.3} to {:.3} g/cm3 of {first}",
        range(first).0,
        range(first).1,
    );
    let mut parted = None;
    if let Some(likely) = found.first() {
        why += &format!("; it would fit {}", likely.name);
        if feed.material.as_deref().map(cards::one_name) == Some(cards::one_name(&likely.name)) {
            why += ", as the lot is named";
        }
        if let Some((a, b)) = cards::card(first).zip(likely.card) {
            parted = Some((a, b));
            if let Some(words) = mixture::words(a, b) {
                why += &format!("; {words}");
            }
        }
    }
    why += ". Weigh another piece, free of bubbles, before it is mixed with others";
    Against { result: Decision::Fails, why, parted }
}
