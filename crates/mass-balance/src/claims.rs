//! What may be said of what a lot is made of.

use crate::book::Book;
use crate::custody::{Model, mark_pct};
use crate::names::Id;
use crate::trace::{Parts, Traced, recycled_share};
use secondmelt_record::facts::{Origin, Settings};
use secondmelt_record::findings::{
    Composition, Decision, Descent, RecycledContent, Verdict, origin_share,
};
use secondmelt_record::{Count, NonNegative, Number, Percent};
use std::collections::BTreeMap;

/// Steps of a marked content, in per cent.
const MARK_STEP_PCT: f64 = 1.0;
const RULE: &str = "ISO 14021: mass share of post-consumer and pre-consumer material; strict: \
                    in-process regrind counts in the mass and not as recycled; boundary: \
                    in-process regrind carries the content of what entered the loop; local \
                    consumer law decides what may be claimed";

/// A share as a per cent that a record holds, whatever the rounding.
fn percent(share: f64) -> Percent {
    // Adding zero takes the sign off a negative zero.
    Percent::new((100.0 * share).clamp(0.0, 100.0) + 0.0).unwrap_or_default()
}

fn by<K: Ord>(parts: &Parts, name: impl Fn(Origin, u64) -> K) -> BTreeMap<K, f64> {
    parts.iter().fold(BTreeMap::new(), |mut sums, ((origin, passes, _), part)| {
        *sums.entry(name(*origin, *passes)).or_default() += part;
        sums
    })
}

fn settings(shares: BTreeMap<String, f64>) -> Settings {
    Settings(shares.into_iter().filter_map(|(k, v)| Some((k, Number::new(100.0 * v)?))).collect())
}

/// What a model keeps.
fn kept(model: Model) -> &'static str {
    match model {
        Model::ControlledBlending => "the content of each lot is followed through every mixing",
        _ => "like with like only",
    }
}

/// Lots by name.
fn lots<'b>(book: &'b Book, traced: &'b Traced) -> impl Iterator<Item = (Id, &'b Parts)> {
    let named: BTreeMap<_, _> =
        traced.lots.iter().map(|(lot, parts)| (book.name(*lot), (*lot, parts))).collect();
    named.into_values()
}

/// Lots among their own ancestors, each explained.
pub(crate) fn loops(book: &Book, traced: &Traced) -> Vec<Verdict<'static>> {
    let named: BTreeMap<_, _> =
        traced.loops.iter().map(|(lot, step)| (book.name(*lot), *step)).collect();
    let told = |(lot, step): (&str, Id)| {
        Verdict {
        check: "genealogy".into(),
        result: Decision::Undecided,
        lot: Some(lot.to_owned().into()),
        rule: "no lot among its own ancestors, unless it was fed back; unrolled in order of time"
            .into(),
        why: format!(
            "lot {lot} is among its own ancestors: step {} fed it back into itself. Its composition \
             is a mean over what it held; give each filling a name of its own, or each weighing \
             its time",
            book.name(step)
        )
        .into(),
        ..Verdict::default()
    }
    };
    named.into_iter().map(told).collect()
}

/// Composition of each lot.
pub(crate) fn compositions<'b>(
    book: &'b Book,
    traced: &'b Traced,
) -> impl Iterator<Item = Composition<'b>> {
    lots(book, traced).filter_map(|(lot, parts)| {
        let mean = traced.mean_passes(lot);
        let passes = by(parts, |_, passes| passes);
        let (oldest, oldest_share) = passes.iter().next_back().map(|(n, part)| (*n, *part))?;
        let assumed = traced.assumed.get(&lot).copied().filter(|share| *share > 0.0);
        Some(Composition {
            lot: book.named(lot),
            origin: settings(by(parts, |origin, _| origin_share(origin))),
            passes: settings(by(parts, |_, passes| format!("passes_{passes}_pct"))),
            mean_passes: NonNegative::new(mean)?,
            oldest_passes: Count(oldest),
            oldest_pct: percent(oldest_share),
            passes_assumed_pct: assumed.map(percent),
            ..Composition::default()
        })
    })
}

/// Recycled content of each lot.
///
/// In-process plastic whose way through the lab is in the stream carries what entered; what
/// comes in under the origin `in-process` has no known content, and is left out of the
/// boundary reading's mass as internal.
pub(crate) fn recycled<'b>(
    book: &'b Book,
    traced: &'b Traced,
) -> impl Iterator<Item = RecycledContent<'b>> {
    lots(book, traced).map(|(lot, parts)| {
        let origins = by(parts, |origin, _| origin);
        let of = |origin| origins.get(&origin).copied().unwrap_or(0.0);
        let (post, pre) = (of(Origin::PostConsumer), of(Origin::PreConsumer));
        let strict = |origin| {
            let counts = parts.iter().filter(|((o, _, internal), _)| *o == origin && !internal);
            counts.map(|(_, part)| part).sum()
        };
        let entered = 1.0 - of(Origin::InProcess);
        let model = Model::of_shares(origins.values().copied());
        let strict_pct = percent(recycled_share(parts));
        RecycledContent {
            lot: book.named(lot),
            strict_pct,
            u_strict_pct: traced
                .variance
                .get(&lot)
                .and_then(|v| NonNegative::new(100.0 * v.sqrt())),
            boundary_pct: (entered > 1e-12).then(|| percent((post + pre) / entered)),
            post_consumer_pct: percent(strict(Origin::PostConsumer)),
            pre_consumer_pct: percent(strict(Origin::PreConsumer)),
            unknown_pct: percent(of(Origin::Unknown)),
            mark_pct: Percent::new(mark_pct(strict_pct.get(), MARK_STEP_PCT)),
            model: format!("{} (ISO 22095): {}", model.name(), kept(model)).into(),
            rule: RULE.into(),
            ..RecycledContent::default()
        }
    })
}

/// Each lot with each of its ancestors.
pub(crate) fn descents<'b>(
    book: &'b Book,
    traced: &'b Traced,
) -> impl Iterator<Item = Descent<'b>> {
    lots(book, traced).flat_map(move |(lot, _)| {
        let above = traced.from.get(&lot).into_iter().flatten();
        let named: BTreeMap<_, _> =
            above.map(|(id, found)| (book.name(*id), (id, found))).collect();
        named.into_values().map(move |(from, (steps, share))| Descent {
            lot: book.named(lot),
            from: book.named(*from),
            steps: Count(*steps),
            // A lot that a lot came through more than once counts once.
            share_pct: Some(percent(share.min(1.0))),
            ..Descent::default()
        })
    })
}
