//! Masses added up with their uncertainty.

use crate::book::{Book, Weighing};
use std::collections::BTreeSet;

/// Decimals of a gram that are kept in sums: a nanogram, below any scale in a lab.
const PER_GRAM: f64 = 1e9;
/// Coverage factor of a decision: about 95 % of a normal distribution (JCGM 100:2008, 6.3.3).
pub(crate) const COVERAGE: f64 = 2.0;

/// The sum of a set of weighings. Masses add up as whole nanograms, so that no sum
/// depends on the order of the records.
#[derive(Debug, Clone, Default)]
pub(crate) struct Flow<'a> {
    nanograms: i128,
    variances_g2: Vec<f64>,
    /// Weighings used.
    pub(crate) weighed: Vec<&'a Weighing>,
    /// Streams that flowed and were not weighed.
    pub(crate) not_weighed: Vec<&'a Weighing>,
    /// Weighings whose uncertainty is not known.
    pub(crate) unsure: Vec<&'a Weighing>,
}

impl<'a> Flow<'a> {
    /// Adds a weighing.
    pub(crate) fn add(&mut self, weighing: &'a Weighing, book: &Book) {
        let Some(mass_g) = weighing.mass_g else {
            self.not_weighed.push(weighing);
            return;
        };
        self.weighed.push(weighing);
        self.nanograms += nanograms(mass_g);
        match book.u_g(weighing) {
            Some(u_g) => self.variances_g2.push(u_g * u_g),
            None => self.unsure.push(weighing),
        }
    }

    /// Whether nothing flowed, weighed or not.
    pub(crate) fn is_empty(&self) -> bool {
        self.weighed.is_empty() && self.not_weighed.is_empty()
    }

    /// Every weighing and every stream that was not weighed.
    pub(crate) fn all(&self) -> impl Iterator<Item = &'a Weighing> + '_ {
        self.weighed.iter().chain(&self.not_weighed).copied()
    }

    /// The mass that was weighed, in g.
    pub(crate) fn mass_g(&self) -> f64 {
        grams(self.nanograms)
    }

    /// Its standard uncertainty in g: root sum of squares of independent weighings
    /// (JCGM 100:2008, 5.1.2). None where one of them is unknown.
    pub(crate) fn u_g(&self) -> Option<f64> {
        let mut sorted = self.variances_g2.clone();
        sorted.sort_by(f64::total_cmp);
        self.unsure.is_empty().then(|| sorted.iter().sum::<f64>().sqrt())
    }

    /// Scales it was weighed on of which the display step is all that is known, by name.
    pub(crate) fn display_scales<'b>(&self, book: &'b Book) -> BTreeSet<&'b str> {
        self.weighed.iter().filter_map(|weighing| book.display_scale(weighing)).collect()
    }

    /// What is left of this when others have gone out of it. Uncertainties add up.
    pub(crate) fn minus<'b>(mut self, others: impl IntoIterator<Item = &'b Self>) -> Self
    where
        Self: 'b,
    {
        for other in others {
            self.nanograms -= other.nanograms;
            self.variances_g2.extend(&other.variances_g2);
            self.weighed.extend(&other.weighed);
            self.not_weighed.extend(&other.not_weighed);
            self.unsure.extend(&other.unsure);
        }
        self
    }
}

#[expect(clippy::cast_possible_truncation, reason = "a mass is at most 1e9 g")]
fn nanograms(mass_g: f64) -> i128 {
    (mass_g * PER_GRAM).round() as i128
}

#[expect(clippy::cast_precision_loss, reason = "sixteen digits are more than a scale has")]
fn grams(nanograms: i128) -> f64 {
    nanograms as f64 / PER_GRAM
}

/// A yield and its standard uncertainty, in per cent, from two independent masses by
/// the law of propagation (JCGM 100:2008, 5.1.2). None where nothing went in.
pub(crate) fn yield_pct(good: &Flow<'_>, fed: &Flow<'_>) -> Option<(f64, Option<f64>)> {
    let (out_g, in_g) = (good.mass_g(), fed.mass_g());
    let whole = fed.not_weighed.is_empty() && good.not_weighed.is_empty();
    if !whole || good.is_empty() || in_g <= 0.0 {
        return None;
    }
    let share = 100.0 * out_g / in_g;
    let u = good.u_g().zip(fed.u_g());
    Some((share, u.map(|(u_out, u_in)| (100.0 * u_out).hypot(share * u_in) / in_g)))
}
