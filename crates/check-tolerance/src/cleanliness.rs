//! Inclusions for a length that was looked over.

use secondmelt_quality::poisson_rate::{count_lower, rate_upper};
use secondmelt_record::facts::{Inclusion, Inspection, Limit};
use secondmelt_record::findings::{Cleanliness, Decision, Verdict};
use secondmelt_record::{Count, Name, NonNegative, Number, Out, Positive, Text};
use std::collections::BTreeMap;

/// Level of each one-sided limit.
const CONFIDENCE: f64 = 0.95;
/// What a `limit` record names.
const WHAT: &str = "inclusions_per_m";

const RULE: &str = "one-sided 95 % limits of a Poisson rate (Garwood 1936): conforms where the upper one is \
not above the limit, fails where the lower one is; inclusions taken as independent and of one rate";

/// What was found on each lot.
#[derive(Debug, Default)]
pub struct Finds {
    lots: BTreeMap<String, Found>,
    /// Largest rates allowed: of one lot, or of all.
    limits: Vec<(Option<String>, f64)>,
}

#[derive(Debug, Default)]
struct Found {
    inclusions: u64,
    length_m: f64,
}

impl Finds {
    /// Takes an inclusion.
    pub fn inclusion(&mut self, inclusion: &Inclusion<'_>) {
        self.lots.entry(inclusion.lot.to_string()).or_default().inclusions += 1;
    }

    /// Takes a length that was looked over.
    pub fn inspection(&mut self, inspection: &Inspection<'_>) {
        self.lots.entry(inspection.lot.to_string()).or_default().length_m +=
            inspection.length_m.get();
    }

    /// Takes a limit, where it is one of inclusions and not of a machine or material only.
    pub fn limit(&mut self, limit: &Limit<'_>) {
        if limit.what.as_str() == WHAT
            && limit.machine.is_none()
            && limit.material.is_none()
            && let Some(max) = limit.max
        {
            self.limits.push((limit.lot.as_ref().map(ToString::to_string), max.get()));
        }
    }

    /// Writes what is known of each lot. Inclusions without a length that was looked over
    /// are no rate.
    pub fn write(&self, cut: bool, out: &mut Out) {
        for (lot, found) in &self.lots {
            let Some(rate) = found.rate(lot) else { continue };
            out.write(&rate);
            if let Some(limit) = self.limit_of(lot) {
                out.write(&verdict(&rate, limit, cut));
            }
        }
    }

    /// The last limit of the lot itself, else of all lots.
    fn limit_of(&self, lot: &str) -> Option<f64> {
        let of =
            |name: Option<&str>| self.limits.iter().rev().find(|(of, _)| of.as_deref() == name);
        of(Some(lot)).or_else(|| of(None)).map(|(_, max)| *max)
    }
}

impl Found {
    fn rate(&self, lot: &str) -> Option<Cleanliness<'static>> {
        let length_m = Positive::new(self.length_m)?;
        #[expect(clippy::cast_precision_loss, reason = "a count")]
        let per_m = self.inclusions as f64 / self.length_m;
        let low = count_lower(self.inclusions, CONFIDENCE)? / self.length_m;
        Some(Cleanliness {
            lot: Name::from(lot.to_owned()),
            inclusions: Count(self.inclusions),
            length_m,
            per_m: NonNegative::new(per_m)?,
            low_per_m: NonNegative::new(low)?,
            high_per_m: NonNegative::new(rate_upper(self.inclusions, self.length_m, CONFIDENCE)?)?,
            ..Cleanliness::default()
        })
    }
}

fn verdict(rate: &Cleanliness<'_>, limit: f64, cut: bool) -> Verdict<'static> {
    let (low, high) = (rate.low_per_m.get(), rate.high_per_m.get());
    let found = match rate.inclusions.0 {
        0 => format!("None was found in {} m", rate.length_m.get()),
        1 => format!("1 was found in {} m", rate.length_m.get()),
        n => format!("{n} were found in {} m", rate.length_m.get()),
    };
    let shown = format!("{found}, which shows between {low:.3} and {high:.3} per metre");
    let (result, why) = if low > limit {
        (Decision::Fails, format!("{shown}: more than the {limit} allowed."))
    } else if high > limit {
        (
            Decision::Undecided,
            format!("{shown}: that neither keeps nor breaks the limit of {limit}; look over more."),
        )
    } else if cut {
        (Decision::Undecided, format!("{shown}, but the input was cut short."))
    } else {
        (Decision::Conforms, format!("{shown}: no more than the {limit} allowed."))
    };
    Verdict {
        check: Name::from("cleanliness"),
        result,
        lot: Some(rate.lot.clone().into_owned()),
        value: Number::new(rate.per_m.get()),
        limit: Number::new(limit),
        unit: Some(Text::from("1/m")),
        rule: Text::from(RULE),
        why: Text::from(why),
        ..Verdict::default()
    }
}
