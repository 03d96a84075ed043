//! Particle size by sieving.

use crate::book::{Book, Feed};
use secondmelt_plastics::sieve::{Between, Sieving, rrsb};
use secondmelt_record::Out;
use secondmelt_record::findings::{Decision, Verdict};

/// Largest loss of a sieving, in per cent (as in standards for aggregates, from memory).
const LOSS_PCT: f64 = 1.0;
/// Below this it is fines, above that oversize, in mm (common practice, no source).
const FINE_MM: f64 = 1.0;
const COARSE_MM: f64 = 5.6;
/// Undersize beyond which a point says little on the RRSB grid.
const NEAR_ONE: f64 = 0.98;

pub(crate) fn write(book: &Book, lot: &str, feed: &Feed, out: &mut Out) {
    let Some(sieving) = Sieving::new(&feed.sieves) else { return };
    let mut fails = Vec::new();
    let mut open = Vec::new();
    match feed.charge_g {
        Some(charge) => {
            let loss = sieving.loss_pct(charge);
            if loss.abs() > LOSS_PCT {
                let found = sieving.recovered_g();
                fails.push(format!(
                    "{found:.1} g found of {charge:.1} g ({loss:.1} % lost, at most {LOSS_PCT} % either way): weigh \
                     again, and look for a sieve left out"
                ));
            }
        }
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
    let held = [("fines_pct", fines, "fines"), ("oversize_pct", coarse, "oversize")];
    for (what, share, word) in held {
        match (share, book.limit(what, lot, feed)) {
            (Some(share), Some(max)) if share > max => {
                fails.push(format!("{share:.1} % {word}, at most {max} %"));
            }
            (None, Some(_)) => open.push(format!("the sieves do not reach where {word} begin")),
            _ => {}
        }
    }
    let result = match (fails.is_empty(), open.is_empty()) {
        (false, _) => Decision::Fails,
        (true, false) => Decision::Undecided,
        (true, true) => Decision::Conforms,
    };
    let mut why: Vec<String> = fails.into_iter().chain(open).collect();
    why.push(described(&sieving, fines, coarse));
    out.write(&Verdict {
        check: "particle-size".into(),
        result,
        lot: Some(lot.into()),
        rule: "sieving loss at most 1 % of the charge; fines below 1 mm and oversize above 5.6 mm within the \
               lab's limits fines_pct and oversize_pct where it set any; sizes on a straight line between sieves"
            .into(),
        why: why.join("; ").into(),
        ..Verdict::default()
    });
}

fn described(sieving: &Sieving, fines: Option<f64>, coarse: Option<f64>) -> String {
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
    let points: Vec<_> = sieving.undersize().into_iter().filter(|p| p.1 < NEAR_ONE).collect();
    if points.len() >= 3
        && let Some(law) = rrsb(&points)
    {
        text += &format!(
            "; RRSB n {:.2}, d63.2 {:.2} mm (r² {:.3})",
            law.n, law.d63_2_mm, law.r_squared
        );
    }
    text
}
