//! What is said of a puller speed, as records.

use super::{Change, Puller};
use secondmelt_quality::mean_interval::CONFIDENCE;
use secondmelt_record::findings::{Adjustment, Caution, Decision, Verdict};
use secondmelt_record::{Fraction, Name, Number};

const CHECK: &str = "puller-speed";
const RULE: &str = "by the 95 % interval of the diameter of the mean area: conforms where all of it is \
                    within the tolerance and it holds the target, or where all of it is within a \
                    quarter of the tolerance of the target (the lab's own, common practice, no source); \
                    a change where it does not hold the target; else undecided. The tolerance is \
                    that of the extruder's machine record, else of the tightest printer near the target";
const BASIS: &str = "mass continuity at constant output: v2 = v1 (d / target)^2, d the diameter of the mean \
                     area; interval from the standard error of the mean with n (1 - r) / (1 + r) readings \
                     for lag-1 autocorrelation r (Bayley and Hammersley 1946) and Student t";
const SCREW_BASIS: &str = "mass continuity at a constant puller speed, output taken as proportional to screw speed, which \
                           holds over a small range only: n2 = n1 (target / d)^2; interval as for the puller";
const NIP_POINTS: &str = "the nip points of puller and winder draw in fingers, sleeves, hair and cord, slowly \
                          but with full force: change the speed in small steps with hands clear, thread \
                          only at crawl speed, and keep a stop within reach";
const NIP_DEFER: &str = "the machine's manual; standards for guards and for emergency stops (ISO 14120, \
                         ISO 13850); local machinery-safety law";
const LIMIT_DEFER: &str = "the machine's manual and its rated limits; local machinery-safety law";

impl<'a> Puller<'a> {
    /// The change as a record.
    pub(crate) fn adjustment(&self, change: &'a Change) -> Adjustment<'a> {
        Adjustment {
            what: "line_speed_m_min".into(),
            lot: Some(Name::from(self.lot)),
            step: self.step().map(Name::from),
            machine: self.machine().map(Name::from),
            from: Some(change.from),
            to: Some(change.to),
            low: Some(change.low),
            high: Some(change.high),
            unit: "m/min".into(),
            because: change.because.as_str().into(),
            basis: BASIS.into(),
            confidence: Fraction::new(CONFIDENCE),
            ..Adjustment::default()
        }
    }

    /// The change of the screw speed that takes its place.
    pub(crate) fn screw_adjustment(&self, change: &'a Change) -> Adjustment<'a> {
        Adjustment {
            what: "screw_rpm".into(),
            unit: "1/min".into(),
            basis: SCREW_BASIS.into(),
            ..self.adjustment(change)
        }
    }

    fn verdict(&self, result: Decision, why: &'a str) -> Verdict<'a> {
        Verdict {
            check: CHECK.into(),
            result,
            lot: Some(Name::from(self.lot)),
            step: self.step().map(Name::from),
            machine: self.machine().map(Name::from),
            rule: RULE.into(),
            why: why.into(),
            ..Verdict::default()
        }
    }

    /// A decision by the diameter of the mean area and an end of its tolerance.
    fn by_diameter(&self, result: Decision, limit_mm: Option<f64>, why: &'a str) -> Verdict<'a> {
        Verdict {
            value: Number::new(self.measured.area_mm),
            limit: limit_mm.and_then(Number::new),
            unit: Some("mm".into()),
            ..self.verdict(result, why)
        }
    }

    /// That the speed may stay.
    pub(crate) fn conforms(&self, limit_mm: Option<f64>, why: &'a str) -> Verdict<'a> {
        self.by_diameter(Decision::Conforms, limit_mm, why)
    }

    /// That the diameter is not known well enough.
    pub(crate) fn wide(&self, limit_mm: Option<f64>, why: &'a str) -> Verdict<'a> {
        self.by_diameter(Decision::Undecided, limit_mm, why)
    }

    /// That something is missing.
    pub(crate) fn undecided(&self, why: &'a str) -> Verdict<'a> {
        self.verdict(Decision::Undecided, why)
    }

    /// That the speed it takes, in m/min, is beyond the limit of the machine.
    pub(crate) fn beyond_machine(&self, speed: f64, limit: f64, why: &'a str) -> Verdict<'a> {
        Verdict {
            value: Number::new(speed),
            limit: Number::new(limit),
            unit: Some("m/min".into()),
            ..self.undecided(why)
        }
    }

    fn caution(&self, danger: &'a str, defer_to: &'static str) -> Caution<'a> {
        Caution {
            machine: self.machine().map(Name::from),
            danger: danger.into(),
            defer_to: defer_to.into(),
            ..Caution::default()
        }
    }

    /// The danger that comes with any change of the puller speed.
    pub(crate) fn nip_points(&self) -> Caution<'a> {
        self.caution(NIP_POINTS, NIP_DEFER)
    }

    /// The danger of a speed beyond the machine.
    pub(crate) fn beyond_limit(&self, danger: &'a str) -> Caution<'a> {
        Caution {
            lot: Some(Name::from(self.lot)),
            step: self.step().map(Name::from),
            ..self.caution(danger, LIMIT_DEFER)
        }
    }
}
