//! Whether an unattended job may go on.

use crate::collect::{Collected, Decided};
use secondmelt_record::Gate;
use secondmelt_record::contract::visible;

/// What the gate says: shut where a verdict failed, where there are problems, where nothing
/// was decided at all and, where `undecided` is asked for, where a verdict is undecided. Verdicts of the
/// checks in `ignored` do not count.
pub(crate) fn gate(collected: &Collected, undecided: bool, ignored: &[String]) -> Gate {
    let f = &collected.findings;
    let mut decided = f.decided;
    let left_out = |check: &str| ignored.iter().any(|ignored| ignored == check);
    for (_, of) in f.by_check.iter().filter(|(check, _)| left_out(check)) {
        decided.fails -= of.fails;
        decided.undecided -= of.undecided;
        decided.conforms -= of.conforms;
    }
    let by_check = |of: fn(&Decided) -> u64| -> String {
        let counted = f.by_check.iter().filter(|(check, d)| of(d) > 0 && !left_out(check));
        let names: Vec<_> =
            counted.map(|(check, d)| format!("{} {}", of(d), visible(check))).collect();
        format!(" ({})", names.join(", "))
    };
    let mut why = Vec::new();
    let mut add = |n: u64, one: &str, which: &str| {
        if n > 0 {
            why.push(format!("{n} {one}{}{which}", if n == 1 { "" } else { "s" }));
        }
    };
    add(decided.fails, "failed verdict", &by_check(|d| d.fails));
    add(collected.problems_total(), "problem", "");
    if undecided {
        add(decided.undecided, "undecided verdict", &by_check(|d| d.undecided));
    }
    if decided.total() == 0 {
        why.push("no verdict at all".to_owned());
    }
    if why.is_empty() {
        Gate::Open
    } else {
        Gate::Shut(format!("the gate says no: {}", why.join(", ")))
    }
}
