//! What is on the shelf, and whether it makes the batch.

use crate::book::{Book, Held};
use crate::feed::need_of;
use crate::route::{Leg, Route, entry, yield_of};
use crate::target::Target;
use crate::words::{amount, joined, mass};
use secondmelt_record::facts::{Does, Form};
use secondmelt_record::findings::{Decision, FeedNeed, Verdict};
use secondmelt_record::{Name, Number, Out, Text};

const CONFIDENCE: f64 = 0.95;
const ENOUGH: &str = "feed-enough";
const ENOUGH_RULE: &str = "what the lots on the shelf make, each from its form on: conforms where the lower ends of their 95 % prediction \
                           intervals add up to the target, fails where the upper ends do not and every lot has a known mass, else undecided. \
                           A mass is known by a stock weighing after which nothing moved, else as made less used where all of it was weighed";
/// What a lot may be off by when nobody has weighed what is left of it, in g.
const CRUMBS_G: f64 = 1.0;

/// What a lot on the shelf makes, in g: typically, and the ends of its interval where they are known.
struct Makes {
    lot: String,
    typical: f64,
    /// Where the spread is not known, nothing and all of it.
    ends: (f64, f64),
    spread_is_known: bool,
}

/// What is left of a lot.
enum Left {
    Known(f64),
    /// Why it is not known.
    Unknown(&'static str),
}

/// Writes what each lot makes and, where a batch was asked for, whether it is enough.
pub(crate) fn write(book: &Book, target: &Target, route: &Route, asked: bool, out: &mut Out) {
    let put_out = book.spools.lots();
    let mut made = Vec::new();
    let mut open = Vec::new();
    let mut filament_g = 0.0;
    for (lot, held) in &book.held {
        let Some(fact) = book.lots.get(lot) else {
            // What only ever was a loss is no feed.
            let product = held.stock_g.is_some() || put_out.contains(lot);
            if product && !matches!(left(book, lot, held), Left::Known(g) if g <= CRUMBS_G) {
                open.push(format!("{lot} (no lot record)"));
            }
            continue;
        };
        if target.material.as_deref().is_some_and(|material| fact.material != material) {
            continue;
        }
        let have_g = match left(book, lot, held) {
            Left::Known(g) if g <= CRUMBS_G => continue,
            Left::Known(g) => g,
            Left::Unknown(why) => {
                if fact.form != Some(Form::Filament) {
                    open.push(format!("{lot} ({why})"));
                }
                continue;
            }
        };
        if fact.form == Some(Form::Filament) {
            filament_g += have_g;
            continue;
        }
        if book.is_never_melted(lot) {
            open.push(format!("{lot} (it is never to be melted)"));
            continue;
        }
        let Some((enters, form)) = entry(fact.form, fact.origin).zip(fact.form) else {
            open.push(format!("{lot} (its record names no form)"));
            continue;
        };
        let legs = route.after_maker(lot).unwrap_or_else(|| route.from(enters));
        let Some((need, makes)) = makes(target, lot, have_g, form, legs) else {
            open.push(format!("{lot} (a yield on its way is not known)"));
            continue;
        };
        out.write(&need);
        made.push(makes);
    }
    if asked && yield_of(route.from(Does::Dry)).is_some() {
        out.write(&enough(target, &made, &open, filament_g));
    }
}

fn makes<'t>(
    target: &'t Target,
    lot: &'t str,
    have_g: f64,
    form: Form,
    legs: &[Leg],
) -> Option<(FeedNeed<'t>, Makes)> {
    let (need, predicted) = need_of(target, form, legs).zip(yield_of(legs))?;
    let ends = predicted.interval(CONFIDENCE);
    let typical = have_g * predicted.typical();
    let need = FeedNeed {
        lot: Some(Name::from(lot)),
        have_g: amount(have_g),
        makes_g: amount(typical),
        makes_low_g: ends.and_then(|(low, _)| amount(have_g * low)),
        makes_high_g: ends.and_then(|(_, high)| amount(have_g * high)),
        ..need
    };
    let spread_is_known = ends.is_some();
    let ends = ends.map_or((0.0, have_g), |(low, high)| (have_g * low, have_g * high));
    Some((need, Makes { lot: lot.to_owned(), typical, ends, spread_is_known }))
}

/// Whether nothing is left of a lot.
pub(crate) fn is_gone(book: &Book, lot: &str) -> bool {
    let held = book.held.get(lot);
    held.is_some_and(|held| matches!(left(book, lot, held), Left::Known(g) if g <= CRUMBS_G))
}

/// What is left of a lot: as weighed where nothing has moved since, else made less used.
fn left(book: &Book, lot: &str, held: &Held) -> Left {
    if book.contradicts_itself(lot) {
        return Left::Unknown("its weighings contradict one another");
    }
    if let Some(stock_g) = held.stock_g {
        return if held.moved {
            Left::Unknown("it moved after its stock was weighed")
        } else {
            Left::Known(stock_g)
        };
    }
    if held.not_weighed {
        return Left::Unknown("not all of what went in and out of it was weighed");
    }
    if held.made_g <= 0.0 {
        return Left::Unknown("what is left of it was not weighed");
    }
    Left::Known(held.made_g - held.used_g)
}

/// Whether the lots on the shelf are enough.
fn enough<'t>(target: &'t Target, made: &[Makes], open: &[String], filament_g: f64) -> Verdict<'t> {
    // Sums of nothing are nought, not minus nought.
    let typical = made.iter().fold(0.0, |sum, makes| sum + makes.typical);
    let (low, high) =
        made.iter().fold((0.0, 0.0), |sum, makes| (sum.0 + makes.ends.0, sum.1 + makes.ends.1));
    let known = made.iter().all(|makes| makes.spread_is_known);
    let names: Vec<String> = made.iter().map(|makes| makes.lot.clone()).collect();
    let wanted = mass(target.grams);
    let make =
        |low: f64, high: f64| format!("{} make {} to {}", joined(&names), mass(low), mass(high));
    let enough = format!("{}, and {wanted} are wanted", make(low, high));
    let (result, said) = if made.is_empty() {
        let said = format!(
            "no lot on the shelf has a known mass: weigh what there is (role stock) before {wanted} are planned"
        );
        (Decision::Undecided, said)
    } else if low >= target.grams {
        (Decision::Conforms, enough)
    } else if high < target.grams && open.is_empty() {
        let make = make(low, high);
        (Decision::Fails, format!("{make} only, and {wanted} are wanted: collect more first"))
    } else if known {
        (Decision::Undecided, enough)
    } else {
        let said = format!(
            "{} make about {}, by how much more or less is not known, and {wanted} are wanted",
            joined(&names),
            mass(typical)
        );
        (Decision::Undecided, said)
    };
    Verdict {
        check: Name::from(ENOUGH),
        result,
        value: Number::new(typical.round()),
        limit: Number::new(target.grams.round()),
        unit: Some(Text::from("g")),
        rule: Text::from(ENOUGH_RULE),
        why: Text::from(format!("{said}{}{}", not_counted(open), ready(filament_g))),
        ..Verdict::default()
    }
}

/// Lots of which nobody knows what they make.
fn not_counted(open: &[String]) -> String {
    if open.is_empty() {
        return String::new();
    }
    format!("; not counted: {}; weigh what there is (role stock)", joined(open))
}

fn ready(filament_g: f64) -> String {
    if filament_g > 0.0 {
        format!("; {} of filament that is there already are not taken off", mass(filament_g))
    } else {
        String::new()
    }
}
