//! Whether an unattended job may go on.

use crate::collect::Collected;
use secondmelt_record::Gate;

/// What the gate says: shut where a verdict failed, where there are problems, where nothing
/// was decided at all and, where `undecided` is asked for, where a verdict is undecided.
pub(crate) fn gate(collected: &Collected, undecided: bool) -> Gate {
    let decided = collected.findings.decided;
    let mut why = Vec::new();
    let mut add = |n: u64, one: &str| {
        if n > 0 {
            why.push(format!("{n} {one}{}", if n == 1 { "" } else { "s" }));
        }
    };
    add(decided.fails, "failed verdict");
    add(collected.problems_total(), "problem");
    if undecided {
        add(decided.undecided, "undecided verdict");
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
