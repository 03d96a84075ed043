//! Readings and samples to take of a batch.

use crate::book::Book;
use crate::target::Target;
use crate::words::{amount, up};
use secondmelt_quality::distributions::normal;
use secondmelt_quality::sampling_plan::{Risks, attributes, variables};
use secondmelt_record::findings::ReadingPlan;
use secondmelt_record::{Count, Name, Out, Text};

/// Shares of readings outside the tolerance of a good and of a bad spool, and the risks of calling
/// either wrong.
const GOOD: f64 = 0.01;
const BAD: f64 = 0.10;
const PRODUCER: f64 = 0.05;
const CONSUMER: f64 = 0.10;
/// How closely the mean melt flow of a batch is to be known at 95 %, in per cent.
const WITHIN_PCT: f64 = 5.0;
/// Fillings where a lab has not shown how well it repeats them.
const FILLINGS: f64 = 3.0;
/// Plastic for one filling with its cut-offs, in g: ISO 1133-1 charges the barrel with 3 to 8 g by
/// flow rate (table of the standard, from memory).
const FILLING_G: f64 = 8.0;

/// Writes what to read of each spool and of the batch.
pub(crate) fn write(book: &Book, target: &Target, out: &mut Out) {
    let spools = target.spools.unwrap_or(1);
    if let Some(risks) = Risks::new(GOOD, PRODUCER, BAD, CONSUMER) {
        let mut plan = |what: &'static str, n: u64, basis: &'static str| {
            out.write(&ReadingPlan {
                what: Name::from(what),
                each: Count(n),
                in_all: Count(n.saturating_mul(spools)),
                basis: Text::from(basis),
                ..ReadingPlan::default()
            });
        };
        if let Some(design) = variables::smallest(risks) {
            plan(
                "diameter by hand, judged by mean and spread",
                design.n,
                "sampling by variables (noncentral t, as in ISO 3951-1): a \
                 spool with 1 % of readings outside is refused in 5 %, one with 10 % accepted in 10 %; readings over the whole \
                 spool, taken as independent and normal. A gauge that logs the whole spool needs none",
            );
        }
        if let Some(design) = attributes::smallest(risks) {
            plan(
                "diameter by hand, judged by counting",
                design.n,
                "sampling by attributes (binomial, as in ISO 2859): the same risks \
                 without a law for the readings",
            );
        }
    }
    let sd =
        target.material.as_deref().and_then(|material| book.repeatability.get(material)).copied();
    let (fillings, basis) = match sd.filter(|sd| *sd > 0.0) {
        Some(sd) => {
            let z = normal::quantile_below(0.975).unwrap_or(1.96);
            ((z * sd / WITHIN_PCT).powi(2).max(1.0), format!(
                "the lab repeats a filling to {sd:.2} % (standard deviation): so many put the mean within {WITHIN_PCT} % at 95 %, one at \
                 least; three cut-offs each"
            ))
        }
        None => (FILLINGS, "common practice, no source: three fillings of three cut-offs, until the lab has shown how well it repeats \
                            them".to_owned()),
    };
    let Some(fillings) = up(fillings) else { return };
    out.write(&ReadingPlan {
        what: Name::from("melt flow, fillings"),
        each: fillings,
        in_all: fillings,
        #[expect(clippy::cast_precision_loss, reason = "a few fillings")]
        mass_g: amount(FILLING_G * fillings.0 as f64),
        basis: Text::from(basis),
        ..ReadingPlan::default()
    });
}
