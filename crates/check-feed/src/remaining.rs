//! How many hours of drying are left, and what is said of it.

use crate::book::{Feed, Moisture};
use crate::drying::Plastic;
use crate::own::Own;
use crate::say::{short, verdict};
use secondmelt_plastics::drying::{Curve, Granule, Outlook, bounded_confidence, outlook};
use secondmelt_record::facts::PieceShape;
use secondmelt_record::findings::{Adjustment, Decision, DryingCurve, Verdict};
use secondmelt_record::{Celsius, Fraction, NonNegative, Number, Out, Percent, Positive};

const BASIS: &str = "diffusion out of the pieces (Crank) fitted by weighted least squares, readings scattering by the \
                     same share of their value; 95 % interval by the profile of the sum of squares; it belongs to this \
                     dryer and these pieces";

/// What the readings say of the hours that are left.
pub(crate) struct Remaining {
    outlook: Outlook,
    readings: usize,
    shape: Option<Granule>,
    size_mm: Option<f64>,
    end_known: bool,
}

impl Remaining {
    pub(crate) fn of(feed: &Feed, own: &Own, last: &Moisture, limit: f64) -> Self {
        // A curve is one of one temperature.
        let same = |r: &&Moisture| r.dry_c.map(f64::to_bits) == last.dry_c.map(f64::to_bits);
        let readings = feed.moisture.iter().filter(same);
        let points: Vec<_> = readings.filter_map(|r| Some((r.dried_h?, r.wet_pct))).collect();
        let shape = feed.granule();
        let outlook = match last.dried_h {
            Some(_) => outlook(shape, &points, own.dry_end_pct, limit),
            None => Outlook::Unknown,
        };
        let end_known = own.dry_end_pct.is_some();
        Self { outlook, readings: points.len(), shape, size_mm: feed.size_mm(), end_known }
    }

    /// What would help most, for a time that is not known well.
    fn help(&self) -> String {
        let mut help = Vec::new();
        if !self.end_known {
            help.push(
                "what the dryer leaves in it after a day (`dry_end_pct` of a `material` record)",
            );
        }
        if self.shape.is_none() {
            help.push("the shape of its pieces (`piece` of the lot)");
        }
        help.push("more readings at different hours, late ones above all");
        format!("what would help most: {}", help.join(", then "))
    }

    pub(crate) fn words(&self, plastic: &Plastic<'_>, last: &Moisture) -> String {
        let dried = last.dried_h.unwrap_or(0.0);
        let left = |hours: f64| format!("{:.1}", (hours - dried).max(0.0));
        match &self.outlook {
            Outlook::Unknown => usual(plastic),
            Outlook::Misfit => {
                "its readings follow no curve of drying: were they taken in one dryer, at one \
                                temperature, of one lot, and are their hours right?"
                    .to_owned()
            }
            Outlook::Never { end_low_pct, .. } => format!(
                "this dryer will not get it there: its readings level off at {} % or more; drier air or a \
                 hotter dryer within the card's window would",
                short(*end_low_pct)
            ),
            Outlook::Hours { best: Some(best), low, high: Some(high), .. } => {
                format!("dry it {} h more ({} to {} h)", left(*best), left(*low), left(*high))
            }
            Outlook::Hours { low, .. } => format!(
                "it needs {} h more at least, and its readings do not say how many at most; {}",
                left(*low),
                self.help()
            ),
        }
    }

    pub(crate) fn write(&self, lot: &str, last: &Moisture, limit: f64, out: &mut Out) {
        let dried = last.dried_h.unwrap_or(0.0);
        match &self.outlook {
            Outlook::Unknown | Outlook::Misfit => {}
            Outlook::Never { end_low_pct, end_high_pct } => {
                let why = format!(
                    "the readings level off between {} and {} %, above the limit of {} %: this dryer will not get there",
                    short(*end_low_pct),
                    short(*end_high_pct),
                    short(limit)
                );
                out.write(&Verdict {
                    value: Number::new(*end_low_pct),
                    limit: Number::new(limit),
                    unit: Some("%".into()),
                    ..time_verdict(lot, Decision::Fails, why)
                });
            }
            Outlook::Hours { best, low, high, curve, granule } => {
                self.write_curve(lot, last, limit, (*best, *low, *high), curve, *granule, out);
                let confidence = bounded_confidence(self.end_known, self.readings);
                if let (Some(best), Some(high), Some(confidence)) = (best, high, confidence) {
                    out.write(&Adjustment {
                        what: "dry_h".into(),
                        lot: Some(lot.to_owned().into()),
                        from: Number::new(dried),
                        to: Number::new(best.max(dried)),
                        low: Number::new(low.max(dried)),
                        high: Number::new(high.max(dried)),
                        unit: "h".into(),
                        because: format!("{:.3} % is above {} %", last.wet_pct, short(limit))
                            .into(),
                        basis: BASIS.into(),
                        confidence: Fraction::new(confidence),
                        ..Adjustment::default()
                    });
                } else {
                    let most =
                        high.map_or("the readings do not bound it above".to_owned(), |high| {
                            format!("perhaps {high:.1} h, which so few readings do not make sure")
                        });
                    let why =
                        format!("it takes {low:.1} h in all or more; {most}; {}", self.help());
                    out.write(&time_verdict(lot, Decision::Undecided, why));
                }
            }
        }
        if self.outlook == Outlook::Misfit {
            let why = "the readings follow no curve of diffusion: check their hours and temperature, and whether \
                       they are all of one lot in one dryer";
            out.write(&time_verdict(lot, Decision::Undecided, why.to_owned()));
        }
    }

    #[expect(clippy::too_many_arguments, reason = "one record's worth of figures")]
    fn write_curve(
        &self,
        lot: &str,
        last: &Moisture,
        limit: f64,
        (best, low, high): (Option<f64>, f64, Option<f64>),
        curve: &Curve,
        granule: Granule,
        out: &mut Out,
    ) {
        let (Some(start), Some(end), Some(rate), Some(limit)) = (
            Number::new(curve.start_pct),
            Number::new(curve.end_pct),
            Positive::new(curve.rate_h),
            Percent::new(limit),
        ) else {
            return;
        };
        let hours = |h: f64| NonNegative::new(h);
        out.write(&DryingCurve {
            lot: lot.to_owned().into(),
            piece: match granule {
                Granule::Plate => PieceShape::Flake,
                Granule::Sphere => PieceShape::Bead,
                Granule::Cylinder => PieceShape::Strand,
                Granule::Pellet { .. } => PieceShape::Pellet,
            },
            piece_known: self.shape.is_some(),
            dry_c: last.dry_c.and_then(Celsius::new),
            readings: self.readings.into(),
            start_pct: start,
            end_pct: end,
            end_known: self.end_known,
            rate_per_h: rate,
            diffusion_mm2_h: self.size_mm.and_then(|mm| Positive::new(curve.rate_h * mm * mm)),
            scatter_pct: NonNegative::new(100.0 * curve.scatter).unwrap_or_default(),
            limit_pct: limit,
            hours: best.and_then(hours),
            low_h: hours(low),
            high_h: high.and_then(hours),
            ..DryingCurve::default()
        });
    }
}

fn time_verdict(lot: &str, result: Decision, why: String) -> Verdict<'static> {
    let rule =
        "the 95 % interval of the time to the limit by a fitted curve of diffusion has two ends";
    verdict("drying-time", lot, result, rule, why)
}

/// What is usual, and no more than that.
fn usual(plastic: &Plastic<'_>) -> String {
    let measure = "four readings and more at different drying times of one lot would give the time it still needs";
    let own = &plastic.own;
    let usual = match (own.dry_h, plastic.card.and_then(|c| c.drying.time_h)) {
        (Some(hours), _) => format!("the lab's card says {} h in all", short(hours)),
        (None, Some([from, to])) => format!("usual are {from} to {to} h in all"),
        (None, None) => return format!("how long is not known; {measure}"),
    };
    let at = match (own.dry_c, plastic.card.and_then(|c| c.drying.temperature_c)) {
        (Some(c), _) => format!(" at {} °C", short(c)),
        (None, Some([from, to])) => format!(" at {from} to {to} °C"),
        (None, None) => String::new(),
    };
    format!("{usual}{at}, which is usual only; {measure}")
}
