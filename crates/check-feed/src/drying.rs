//! Dry enough, or how long still.

use crate::book::{Book, Feed, Moisture};
use secondmelt_plastics::cards::Card;
use secondmelt_plastics::drying::{Granule, fit};
use secondmelt_quality::distributions::{Split, student_t};
use secondmelt_record::findings::{Adjustment, Caution, Decision, Verdict};
use secondmelt_record::{Fraction, Number, Out};

const LEVEL: f64 = 0.95;
const BASIS: &str = "diffusion out of a flake of even thickness (Crank), start and rate fitted by least squares on \
                     the logarithm, end moisture taken as 0, readings scattering by the same share of their value, \
                     Student's t; the rate belongs to this dryer and granulate";

pub(crate) fn write(book: &Book, lot: &str, feed: &Feed, out: &mut Out) {
    let card = feed.card();
    let own = feed.material.as_deref().and_then(|m| book.own(m)).unwrap_or_default();
    let name = feed.material.as_deref().unwrap_or("this plastic");
    let takes_up = own.hygroscopic.or(card.map(Card::takes_up_water));
    let verdict = |result, why: String| {
        Verdict {
        check: "drying".into(),
        result,
        lot: Some(lot.into()),
        unit: Some("%".into()),
        rule: "simple acceptance: the last reading is not above the limit; undecided where a step that dries took the lot in".into(),
        why: why.into(),
        ..Verdict::default()
    }
    };
    if takes_up == Some(false) && feed.looked_at() {
        out.write(&verdict(
            Decision::Conforms,
            format!("{name} takes up next to no water and needs no drying; only water on its surface must be gone"),
        ));
        return;
    }
    let Some(last) = latest(&feed.moisture) else { return };
    let limit = (book.limit("moisture_pct", lot, feed).map(|x| (x, "the lab's limit")))
        .or(own.moisture_max_pct.map(|x| (x, "the lab's card")))
        .or(card.map(|c| {
            (c.drying.max_moisture_pct, "the usual ceiling of the card, not of this grade")
        }));
    let Some((limit, whose)) = limit else {
        let why = format!(
            "{} % cannot be judged: give a `limit` of moisture_pct or a `material` record",
            last.wet_pct
        );
        return out.write(&verdict(Decision::Undecided, why));
    };
    let dry = last.wet_pct <= limit;
    let at = last.dried_h.map(|h| format!(" after {h} h")).unwrap_or_default();
    let mut why = format!("{:.3} %{at} against {limit} % ({whose})", last.wet_pct);
    // What goes into a dryer next may be wet; what comes out of it is judged.
    let before_drying = last.dried_h.unwrap_or(0.0) == 0.0;
    if !dry
        && before_drying
        && let Some(step) = book.dried_by(lot)
    {
        why += &format!(
            ": too wet to be melted; step {step} took it in to dry it, and what came out of that must be read"
        );
        return out.write(&verdict(Decision::Undecided, why));
    }
    let remaining = if dry { None } else { remaining(&feed.moisture, &last, limit) };
    if dry {
        why += ": dry enough";
    } else {
        if card.is_some_and(|c| c.hydrolyses_in_melt) {
            why += &format!("; {name} melted wet loses chain length by hydrolysis, for good");
        }
        why += &match &remaining {
            Some(left) => {
                format!("; dry it {:.1} h more ({:.1} to {:.1} h)", left.hours, left.low, left.high)
            }
            None => format!("; {}", usual(card, own.dry_h, own.dry_c)),
        };
    }
    out.write(&Verdict {
        value: Number::new(last.wet_pct),
        limit: Number::new(limit),
        ..verdict(if dry { Decision::Conforms } else { Decision::Fails }, why)
    });
    if let Some(left) = remaining {
        let dried = last.dried_h.unwrap_or(0.0);
        out.write(&Adjustment {
            what: "dry_h".into(),
            lot: Some(lot.into()),
            from: Number::new(dried),
            to: Number::new(dried + left.hours),
            low: Number::new(dried + left.low),
            high: Number::new(dried + left.high),
            unit: "h".into(),
            because: format!("{:.3} % is above {limit} %", last.wet_pct).into(),
            basis: BASIS.into(),
            confidence: Fraction::new(LEVEL),
            ..Adjustment::default()
        });
    }
    if !dry {
        out.write(&Caution {
            lot: Some(lot.into()),
            danger: "Dryers and hot plastic burn, and drying gives off vapours: stay below the temperature at \
                     which the plastic softens, air the room, never use an oven for food, and do not leave it \
                     alone overnight."
                .into(),
            defer_to: "the dryer's manual, the safety data sheet and local fire rules".into(),
            ..Caution::default()
        });
    }
}

/// The reading after the longest drying; where none says how long, the last of the stream.
fn latest(readings: &[Moisture]) -> Option<Moisture> {
    readings
        .iter()
        .copied()
        .max_by(|a, b| a.dried_h.unwrap_or(0.0).total_cmp(&b.dried_h.unwrap_or(0.0)))
}

struct Remaining {
    hours: f64,
    low: f64,
    high: f64,
}

/// Hours from the last reading to the limit; none where no curve can be fitted.
fn remaining(readings: &[Moisture], last: &Moisture, limit: f64) -> Option<Remaining> {
    // A curve is one of one temperature.
    let same = |r: &&Moisture| r.dry_c.map(f64::to_bits) == last.dry_c.map(f64::to_bits);
    let points: Vec<_> =
        readings.iter().filter(same).filter_map(|r| Some((r.dried_h?, r.wet_pct))).collect();
    let curve = fit(Granule::Plate, &points, 0.0)?;
    let (total, u) = curve.hours_to(limit)?;
    let t = student_t::quantile(f64::from(curve.freedom), Split::with_above((1.0 - LEVEL) / 2.0)?)?;
    let dried = last.dried_h?;
    let left = |factor: f64| (total * factor - dried).max(0.0);
    let far = (t * u).exp();
    let left = Remaining { hours: left(1.0), low: left(1.0 / far), high: left(far) };
    left.high.is_finite().then_some(left)
}

/// What is usual, and no more than that.
fn usual(card: Option<&Card>, own_h: Option<f64>, own_c: Option<f64>) -> String {
    let measure =
        "three readings at different drying times of one lot would give the time it still needs";
    let usual = match (own_h, card.and_then(|c| c.drying.time_h)) {
        (Some(hours), _) => format!("the lab's card says {hours} h in all"),
        (None, Some([from, to])) => format!("usual are {from} to {to} h in all"),
        (None, None) => return format!("how long is not known; {measure}"),
    };
    let at = match (own_c, card.and_then(|c| c.drying.temperature_c)) {
        (Some(c), _) => format!(" at {c} °C"),
        (None, Some([from, to])) => format!(" at {from} to {to} °C"),
        (None, None) => String::new(),
    };
    format!("{usual}{at}, which is usual only; {measure}")
}
