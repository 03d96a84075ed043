//! Whether a lot was made like the baseline whose limits judge it.

use super::judge::Judge;
use super::model::Unfit;
use crate::reading::rounded;
use secondmelt_quality::chart::{BASELINE_LEAST, Question};
use secondmelt_record::findings::{Decision, Verdict};
use secondmelt_record::{Fraction, Name, Number, Text};

/// Probability below which a lot is said to differ from its baseline.
const LEVEL: f64 = 0.01;
/// Fewest subgroups that can show that a lot is like its baseline (common practice, no source).
const FEWEST: u32 = 20;

const RULE: &str = "five comparisons with the baseline: mean (t, variance of a first-order autoregression), furthest residual \
(t of a prediction), all residuals (F), mean spread (t of logarithms), widest spread (t of a prediction). It differs where the \
smallest probability times five (Bonferroni) is below 1 %; readings taken as normal. The value is how far the means lie apart, the \
limit the lasting shift that would have been told. It warns and refuses nothing: how healthy lots differ from one another, rare lumps and a \
memory longer than the baseline are not in it, so that more of them than 1 % may be told";

/// The verdict on a lot that was judged.
pub(super) fn verdict<'a>(
    lot: &'a str,
    judge: &Judge,
    learned_from: &str,
    cut: bool,
) -> Verdict<'a> {
    let blank = Verdict {
        check: Name::from("like-baseline"),
        lot: Some(Name::from(lot)),
        unit: Some(Text::from("mm")),
        rule: Text::from(RULE),
        ..Verdict::default()
    };
    let judged =
        judge.likeness.as_ref().and_then(|likeness| Some((likeness, likeness.answer(LEVEL)?)));
    let Some((likeness, answer)) = judged else {
        let why =
            format!("Too few of its subgroups could be held against the baseline {learned_from}.");
        return Verdict { why: Text::from(why), ..blank };
    };
    let count = likeness.count();
    let differs = answer.p < LEVEL;
    let thin = likeness.baseline_counts_for() < BASELINE_LEAST;
    let unsure = thin || likeness.remembers_long();
    let found = format!("its {count} subgroups and the baseline {learned_from}");
    let (result, why) = if differs {
        let how = how(answer.question, likeness.shift());
        let but = if unsure {
            format!(
                " The means of the baseline follow one another so closely that it counts for {:.0} independent ones, too few to be \
                 sure: learn limits from a longer one.",
                likeness.baseline_counts_for()
            )
        } else {
            String::new()
        };
        (
            Decision::Undecided,
            format!("It may not have been made like the baseline {learned_from}: {how}.{but}"),
        )
    } else if cut || count < FEWEST || thin {
        let but = if cut {
            "the input was cut short".to_owned()
        } else if count < FEWEST {
            "they are too few to tell".to_owned()
        } else {
            "the means of the baseline follow one another so closely that it shows little: learn limits from a longer one".to_owned()
        };
        (Decision::Undecided, format!("Nothing sets apart {found}, but {but}."))
    } else {
        let told = answer.shift_told.map_or(String::new(), |mm| {
            format!(" A lasting shift of {mm:.3} mm would have been told.")
        });
        (Decision::Conforms, format!("Nothing sets apart {found}.{told}"))
    };
    Verdict {
        result,
        value: Number::new(rounded(likeness.shift())),
        limit: answer.shift_told.map(rounded).and_then(Number::new),
        probability: Fraction::new(answer.p),
        why: Text::from(why),
        ..blank
    }
}

fn how(question: Question, shift_mm: f64) -> String {
    match question {
        Question::Level => {
            let word = if shift_mm > 0.0 { "thicker" } else { "thinner" };
            format!("its mean is {:.3} mm {word}", shift_mm.abs())
        }
        Question::Jump => "one of its means jumped further than the baseline explains".to_owned(),
        Question::Unrest => {
            "its means move about more, or less, than those of the baseline".to_owned()
        }
        Question::Spread => {
            "the spread within its subgroups is another than within those of the baseline"
                .to_owned()
        }
        Question::Burst => {
            "the spread within one of its subgroups is wider than the baseline explains".to_owned()
        }
    }
}

/// The verdict on a lot that no limits fit.
pub(super) fn not_judged<'a>(lot: &'a str, unfit: &Unfit, learned_from: &str) -> Verdict<'a> {
    Verdict {
        check: Name::from("like-baseline"),
        lot: Some(Name::from(lot)),
        unit: Some(Text::from("mm")),
        rule: Text::from(RULE),
        why: Text::from(format!(
            "The limits learned from {learned_from} cannot judge it: they are {unfit}. Learn limits from a lot that was read like it."
        )),
        ..Verdict::default()
    }
}
