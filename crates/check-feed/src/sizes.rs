//! Particle size by sieving, and density as poured.

use crate::book::{Book, Feed};
use crate::say::{short, verdict};
use crate::weighed::Density;
use secondmelt_plastics::sieve::{Between, Rrsb, Sieving, rrsb};
use secondmelt_plastics::sieve_sizes::is_standard;
use secondmelt_record::findings::{BulkDensity, Decision, ParticleSize, Verdict};
use secondmelt_record::{Fraction, NonNegative, Number, Out, Percent, Positive};

/// Largest loss of a sieving, in per cent (as in standards for aggregates, from memory).
const LOSS_PCT: f64 = 1.0;
/// Below this it is fines, above that oversize, in mm (common practice, no source).
const FINE_MM: f64 = 1.0;
const COARSE_MM: f64 = 5.6;
/// Undersize beyond which a point says little on the RRSB grid.
const NEAR_ONE: f64 = 0.98;
/// Pieces poured loosely fill less of a space than this, in per cent: spheres of one size
/// fill 64 at most (random close packing), long or wide mixtures a little more.
const PACKED_PCT: f64 = 75.0;

pub(crate) fn write(book: &Book, lot: &str, feed: &Feed, out: &mut Out) {
    bulk(book, lot, feed, out);
    let Some(sieving) = Sieving::new(&feed.sieves) else { return };
    let mut fails = Vec::new();
    let mut open = Vec::new();
    let loss = feed.charge_g.map(|charge| (charge, sieving.loss_pct(charge)));
    match loss {
        Some((charge, loss)) if loss.abs() > LOSS_PCT => fails.push(format!(
            "{} g found of {} g ({loss:.1} % lost, at most {LOSS_PCT} % either way): weigh again, and look for a \
             sieve left out",
            short(sieving.recovered_g()),
            short(charge)
        )),
        Some(_) => {}
        None => open.push("without `charge_g` the loss is not known".to_owned()),
    }
    if !feed.sieves.iter().any(|(mm, _)| *mm == 0.0) {
        open.push(
            "no pan (`opening_mm` 0) was weighed, so what passed the finest sieve is missing"
                .to_owned(),
        );
    }
    let fines = sieving.below(FINE_MM).map(|share| 100.0 * share);
    let coarse = sieving.below(COARSE_MM).map(|share| 100.0 * (1.0 - share));
    for (what, share, word, from) in
        [("fines_pct", fines, "fines", FINE_MM), ("oversize_pct", coarse, "oversize", COARSE_MM)]
    {
        match (share, book.limit(what, lot, feed)) {
            (Some(share), Some(max)) if share > max => {
                fails.push(format!("{share:.1} % {word}, at most {} %", short(max)));
            }
            (None, Some(_)) => open.push(format!(
                "the sieves do not reach where {word} begin: sieve on either side of {from} mm, too"
            )),
            (_, None) => open.push(format!(
                "how much {word} the extruder bears is not said: set a `limit` of {what}, from what its feed throat \
                 and screw took so far"
            )),
            _ => {}
        }
    }
    let odd: Vec<String> = (feed.sieves.iter().map(|(mm, _)| *mm))
        .filter(|mm| *mm > 0.0 && !is_standard(*mm))
        .map(|mm| format!("{} mm", short(mm)))
        .collect();
    let result = match (fails.is_empty(), open.is_empty()) {
        (false, _) => Decision::Fails,
        (true, false) => Decision::Undecided,
        (true, true) => Decision::Conforms,
    };
    let law = law(&sieving);
    let mut why: Vec<String> = fails.into_iter().chain(open).collect();
    why.push(described(&sieving, fines, coarse, law.as_ref()));
    if !odd.is_empty() {
        why.push(format!("{} is no opening of ISO 565: a mesh number, or inches?", odd.join(", ")));
    }
    out.write(&verdict(
        "particle-size",
        lot,
        result,
        "sieving loss at most 1 % of the charge; fines below 1 mm and oversize above 5.6 mm within the lab's \
         limits fines_pct and oversize_pct, undecided without them; sizes on a straight line between sieves",
        why.join("; "),
    ));
    let percent = |x: f64| Percent::new(x.clamp(0.0, 100.0));
    let size = |share| sieving.size_mm(share, Between::Linear).and_then(Positive::new);
    let curve = sieving.undersize();
    out.write(&ParticleSize {
        lot: lot.to_owned().into(),
        recovered_g: NonNegative::new(sieving.recovered_g()).unwrap_or_default(),
        loss_pct: loss.and_then(|(_, loss)| Number::new(loss)),
        openings_mm: curve.iter().filter_map(|(mm, _)| Positive::new(*mm)).collect(),
        undersize_pct: curve.iter().filter_map(|(_, share)| percent(100.0 * share)).collect(),
        d10_mm: size(0.1),
        d50_mm: size(0.5),
        d90_mm: size(0.9),
        fines_pct: fines.and_then(percent),
        oversize_pct: coarse.and_then(percent),
        rrsb_n: law.and_then(|law| Positive::new(law.n)),
        rrsb_mm: law.and_then(|law| Positive::new(law.d63_2_mm)),
        rrsb_r2: law.and_then(|law| Fraction::new(law.r_squared.clamp(0.0, 1.0))),
        ..ParticleSize::default()
    });
}

/// The RRSB law through the sieves, where three of them say something of it and its own size lies
/// between them.
fn law(sieving: &Sieving) -> Option<Rrsb> {
    let curve = sieving.undersize();
    let points: Vec<_> = curve.iter().copied().filter(|p| p.1 > 0.0 && p.1 < NEAR_ONE).collect();
    let (coarsest, finest) = (points.first()?.0, points.last()?.0);
    let law = if points.len() >= 3 { rrsb(&points)? } else { return None };
    law.is_between(finest, coarsest).then_some(law)
}

fn described(
    sieving: &Sieving,
    fines: Option<f64>,
    coarse: Option<f64>,
    law: Option<&Rrsb>,
) -> String {
    let size = |share| match sieving.size_mm(share, Between::Linear) {
        Some(mm) => format!("{mm:.2} mm"),
        None => "beyond the sieves".to_owned(),
    };
    let share = |pct: Option<f64>| pct.map_or("unknown".to_owned(), |pct| format!("{pct:.1} %"));
    let mut text = format!(
        "D10 {}, D50 {}, D90 {}; below {FINE_MM} mm {}, above {COARSE_MM} mm {}",
        size(0.1),
        size(0.5),
        size(0.9),
        share(fines),
        share(coarse)
    );
    if let Some(law) = law {
        text += &format!(
            "; RRSB n {:.2}, d63.2 {:.2} mm (r² {:.3})",
            law.n, law.d63_2_mm, law.r_squared
        );
    }
    text
}

/// The density as poured, what hoppers hold of it, and whether it can be.
#[expect(clippy::cast_precision_loss, reason = "a few fillings")]
fn bulk(book: &Book, lot: &str, feed: &Feed, out: &mut Out) {
    let n = feed.bulk_g_cm3.len() as f64;
    let mean = feed.bulk_g_cm3.iter().sum::<f64>() / n;
    let Some(density) = Positive::new(mean) else { return };
    let squares: f64 = feed.bulk_g_cm3.iter().map(|x| (x - mean).powi(2)).sum();
    let middle = |(low, high): (f64, f64)| f64::midpoint(low, high);
    let solid = Density::of(book, feed)
        .map(|density| density.mean)
        .or_else(|| feed.material.as_deref().and_then(|name| book.range(name)).map(middle));
    let packing = solid.map(|solid| 100.0 * mean / solid);
    let finding = || BulkDensity {
        lot: lot.to_owned().into(),
        fillings: feed.bulk_g_cm3.len().into(),
        bulk_g_cm3: density,
        sd_g_cm3: (n > 1.0).then(|| (squares / (n - 1.0)).sqrt()).and_then(NonNegative::new),
        packing_pct: packing.and_then(NonNegative::new),
        ..BulkDensity::default()
    };
    if book.hoppers.is_empty() {
        out.write(&finding());
    }
    for (machine, volume) in &book.hoppers {
        out.write(&BulkDensity {
            machine: Some(machine.as_str().into()),
            hopper_g: Positive::new(mean * volume),
            ..finding()
        });
    }
    let least = book.least("bulk_g_cm3", lot, feed);
    let (result, why) = match (packing, least) {
        (Some(packed), _) if packed > PACKED_PCT => (
            Decision::Fails,
            format!(
                "{} g/cm3 would fill {packed:.0} % of the space, more than loose pieces do: pour it again, level, and \
                 check the volume of the vessel",
                short(mean)
            ),
        ),
        (_, Some(least)) if mean < least => (
            Decision::Fails,
            format!(
                "{} g/cm3 as poured, at least {} g/cm3: it may bridge in the hopper; shred it again, or feed it by hand",
                short(mean),
                short(least)
            ),
        ),
        (_, Some(least)) => (
            Decision::Conforms,
            format!("{} g/cm3 as poured, at least {} g/cm3", short(mean), short(least)),
        ),
        (_, None) => return,
    };
    out.write(&Verdict {
        value: Number::new(mean),
        limit: least.and_then(Number::new),
        unit: Some("g/cm3".into()),
        ..verdict(
            "bulk-density",
            lot,
            result,
            "the density as poured (ISO 60) fills at most 75 % of the space, and is not below the lab's limit bulk_g_cm3",
            why,
        )
    });
}
