//! What helped: the settings that changed between a failed trial and a good one.

use crate::change::{Change, Feature, last_changes};
use crate::group::Group;
use crate::lab::Lab;
use crate::next_trial;
use crate::options::{Factor, Settled};
use crate::screen;
use crate::windows::{holds, told};
use crate::words::{joined, plural, rounded};
use secondmelt_quality::contingency::Table;
use secondmelt_quality::running_difference::running_difference;
use secondmelt_quality::separating::{SETTINGS_MAX, Weighed, weigh};
use secondmelt_record::findings::{Decision, Verdict};
use secondmelt_record::{Name, Out, Text};

const CHECK: &str = "what-helped";
const RULE: &str = "conforms where one setting alone changed between the failed trial and the good one and the trials with either \
                    value, alike in part, lot, difficulty and every other setting, differ by running evidence (beta-binomial over the \
                    largest likelihood of one chance for both, Ville 1939; universal inference, 2020), which keeps its error of 5 % however \
                    often one looks: half of it for the first change of a step, half of the rest for each further one; or where of several \
                    that changed at once such trials leave one with a probability of 95 % of having made a difference, alone or with \
                    others (explanations by every set of them and by none, beta-binomial); else undecided. What changed at once is \
                    confounded until trials part it. p is that of Fisher's exact test, two-sided, for one look";
/// Error of all changes of a step together.
const ERROR: f64 = 0.05;
/// Probability from which on it stands that something made a difference, or that none did.
const STANDS: f64 = 0.95;
/// From so many settings on a screening design is proposed, too.
const SCREEN_FROM: usize = 3;

/// Writes what is known of what helped, for each part.
pub(crate) fn write(group: &Group, lab: &Lab, settled: &Settled, out: &mut Out) {
    let (changes, unordered): (Vec<Change<'_>>, Vec<Change<'_>>) =
        last_changes(group).into_iter().partition(|change| change.ordered);
    for change in &unordered {
        let said = "which came first is not known: say when each trial was (`at`)".to_owned();
        out.write(&verdict(group, change, (Decision::Undecided, said)));
    }
    for change in &changes {
        if let Some(table) = change.table() {
            out.write(&verdict(group, change, one(change, table)));
            continue;
        }
        let weighed = match change.changed.len() {
            0 | 1 => None,
            n => weigh(n, &change.tried()),
        };
        let (result, mut said) = several(change, weighed.as_ref());
        if result != Decision::Undecided || change.changed.len() < 2 {
            out.write(&verdict(group, change, (result, said)));
            continue;
        }
        let outside = outside(group, change, lab);
        if !outside.is_empty() {
            said += &format!("; no next trial is proposed, since {}", outside.join(" and "));
            out.write(&verdict(group, change, (result, said)));
            continue;
        }
        out.write(&verdict(group, change, (result, said)));
        let next = weighed.and_then(|weighed| next_trial::record(group, change, &weighed, lab));
        if let Some(next) = next {
            out.write(&next);
        }
        let factors = factors(group, change, lab);
        if factors.len() >= SCREEN_FROM {
            let about = (group.machine.as_deref(), group.material.as_deref(), change.part);
            screen::write(&factors, about, None, settled.seed, out);
        }
    }
}

/// Settings of the good trial outside their windows that no trial near it would mend: those that did
/// not change.
fn outside(group: &Group, change: &Change<'_>, lab: &Lab) -> Vec<String> {
    let changed: Vec<String> = change.changed.iter().map(|one| one.name()).collect();
    let left = change.good.settings.values.iter().filter_map(|(name, value)| {
        let window = group.window(name, lab);
        (!changed.contains(name) && !holds(window, *value)).then(|| {
            format!(
                "{name} of the good trial, {}, is outside its window, {}",
                rounded(*value),
                told(window)
            )
        })
    });
    left.collect()
}

/// Changed settings with both values inside their windows, as factors of a design.
fn factors(group: &Group, change: &Change<'_>, lab: &Lab) -> Vec<Factor> {
    let factor = |one: &Feature<'_>| {
        let (failed, good) = change.values(*one)?;
        let name = one.name();
        let window = group.window(&name, lab);
        let inside = holds(window, failed) && holds(window, good);
        inside.then(|| Factor { name, low: failed.min(good), high: failed.max(good) })
    };
    change.changed.iter().filter_map(factor).collect()
}

/// How many trials of the part say nothing here.
fn aside(change: &Change<'_>) -> String {
    if change.unlike == 0 {
        return String::new();
    }
    format!(
        " ({} of the part differ in something else and say nothing here)",
        plural(change.unlike as u64, "other trial")
    )
}

/// Where one setting alone changed.
fn one(change: &Change<'_>, table: Table) -> (Decision, String) {
    let names = joined(&change.all_told());
    let Table { good1, bad1, good2, bad2 } = table;
    let evidence = running_difference(table).unwrap_or(0.0);
    let asked = -ERROR.ln() + f64::from(change.number) * std::f64::consts::LN_2;
    let p =
        table.fisher_two_sided().map_or_else(String::new, |p| format!(", p {p:.3} at one look"));
    let counts = format!(
        "{good2} of {} good with it as in the good trial, {good1} of {} as in the failed one, alike in all else{}{p}; \
         running evidence {}, and {:.0} is asked for",
        plural(good2 + bad2, "trial"),
        good1 + bad1,
        aside(change),
        ratio(evidence),
        asked.exp().min(1e9)
    );
    let with = u128::from(good2) * u128::from(good1 + bad1);
    let better = with > u128::from(good1) * u128::from(good2 + bad2);
    if evidence >= asked && better {
        let row = if change.in_a_row() {
            "; all trials with the one value came before those with the other, so that whatever else changed in that time goes \
             with it: one more with the old value would tell"
        } else {
            ""
        };
        let said = format!("{names} alone changed, and the trials bear it out: {counts}{row}");
        (Decision::Conforms, said)
    } else {
        let said = format!(
            "{names} alone changed; the trials are too few to tell it from chance: {counts}; repeat both"
        );
        (Decision::Undecided, said)
    }
}

/// A likelihood ratio by its logarithm, to two figures.
fn ratio(ln: f64) -> String {
    let x = ln.min(20.0).exp();
    if x >= 10.0 { format!("{x:.0}") } else { format!("{x:.1}") }
}

/// Where something else or several things changed.
fn several(change: &Change<'_>, weighed: Option<&Weighed>) -> (Decision, String) {
    let names = change.all_told();
    let n = names.len() as u64;
    if n == 0 {
        let said = change.good.changed.as_deref().map_or_else(
            || "no setting that is recorded changed".to_owned(),
            |words| {
                format!(
                    "only words say what changed (\"{words}\"): write it as settings with numbers"
                )
            },
        );
        return (Decision::Undecided, format!("{said}; nothing tells what helped"));
    }
    let settings = change.changed.iter().all(|one| change.values(*one).is_some());
    let all = if n == 1 {
        format!("nothing but {} changed that is recorded", names[0])
    } else {
        let what = if settings { "setting" } else { "thing" };
        format!("{} changed at once ({})", plural(n, what), joined(&names))
    };
    let Some(weighed) = weighed else {
        let said = if n > SETTINGS_MAX as u64 {
            format!(
                "{all}: more than {SETTINGS_MAX} at once are not parted, put most of them back first"
            )
        } else {
            format!("{all}: nothing tells what helped")
        };
        return (Decision::Undecided, said);
    };
    let alike = format!(
        "{} alike in all else{}",
        plural(change.alike.len() as u64, "trial"),
        aside(change)
    );
    if weighed.none() >= STANDS {
        let said = format!(
            "{all}, and by the {alike} none of them made the difference (probability {:.3}): look for another cause",
            weighed.none()
        );
        return (Decision::Undecided, said);
    }
    let (mut named, mut open) = (Vec::new(), Vec::new());
    for (at, told) in names.iter().enumerate() {
        let Some(made) = weighed.made(at) else { continue };
        let p = made.probability;
        if p >= STANDS && made.helps {
            named.push(format!("{told} (probability {p:.3})"));
        } else if p > 1.0 - STANDS {
            open.push(format!("{told} ({p:.3})"));
        }
    }
    if named.is_empty() {
        let said = format!(
            "{all}: they are confounded, and the {alike} do not tell which of them helped, or whether any did"
        );
        return (Decision::Undecided, said);
    }
    let open = if open.is_empty() {
        String::new()
    } else {
        format!("; whether it takes {}, too, is open", joined(&open))
    };
    (
        Decision::Conforms,
        format!("{all}; the {alike} leave {} as having made a difference{open}", joined(&named)),
    )
}

fn verdict<'g>(
    group: &'g Group,
    change: &Change<'_>,
    (result, said): (Decision, String),
) -> Verdict<'g> {
    let part = change.part.map(|part| format!(", {part}")).unwrap_or_default();
    let noted = match change.good.changed.as_deref() {
        Some(words) if !change.changed.is_empty() && !change.changed.contains(&Feature::Noted) => {
            format!("; noted with it: \"{words}\"")
        }
        _ => String::new(),
    };
    Verdict {
        check: Name::from(CHECK),
        result,
        machine: group.machine_name(),
        material: group.material_name(),
        rule: Text::from(RULE),
        why: Text::from(format!(
            "{}{part}: between the last failed trial that a good one followed and that good one {said}{noted}",
            group.named()
        )),
        ..Verdict::default()
    }
}
