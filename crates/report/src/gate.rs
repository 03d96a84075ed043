//! Whether an unattended job may go on.

use crate::collect::{Collected, Decided};
use crate::options::Options;
use secondmelt_record::Gate;
use secondmelt_record::contract::visible;

/// Checks named in the reason.
const NAMED: usize = 4;

/// What the gate says: shut where a verdict of a check that counts failed, where there are
/// problems, where no such check decided anything and, where it is asked for, where a verdict is
/// undecided.
pub(crate) fn gate(collected: &Collected, options: &Options) -> Gate {
    let findings = &collected.findings;
    let chosen = !options.gate_only.is_empty() || !options.gate_ignore.is_empty();
    let checks: Vec<(&String, &Decided)> =
        findings.by_check.iter().filter(|(check, _)| options.counts(check)).collect();
    // Of checks beyond those that are told apart, only the sum is known; where all count, it does.
    let sum = |of: fn(&Decided) -> u64| match chosen {
        true => checks.iter().map(|(_, d)| of(d)).sum(),
        false => of(&findings.decided),
    };
    let mut why = Vec::new();
    let mut add = |of: fn(&Decided) -> u64, one: &str| {
        let n = sum(of);
        if n > 0 {
            why.push(format!("{} ({})", plural(n, one), by_check(&checks, of)));
        }
    };
    add(|d| d.fails, "failed verdict");
    if options.gate_undecided {
        add(|d| d.undecided, "undecided verdict");
    }
    let problems = collected.problems_total();
    if problems > 0 {
        why.push(plural(problems, "problem"));
    }
    for check in &options.gate_only {
        if !checks.iter().any(|(name, _)| *name == check) {
            why.push(format!("no verdict of the check {}", visible(check)));
        }
    }
    if options.gate_only.is_empty() && sum(|d| d.total()) == 0 {
        why.push("no verdict at all".to_owned());
    }
    if why.is_empty() {
        Gate::Open
    } else {
        Gate::Shut(format!("the gate says no: {}", why.join(", ")))
    }
}

fn plural(n: u64, one: &str) -> String {
    format!("{n} {one}{}", if n == 1 { "" } else { "s" })
}

/// "2 diameter-tolerance, 1 mass-balance".
fn by_check(checks: &[(&String, &Decided)], of: fn(&Decided) -> u64) -> String {
    let mut some: Vec<_> =
        checks.iter().map(|(name, d)| (of(d), *name)).filter(|(n, _)| *n > 0).collect();
    some.sort_by(|a, b| b.0.cmp(&a.0).then(a.1.cmp(b.1)));
    let more = some.len().saturating_sub(NAMED);
    let named = some.iter().take(NAMED).map(|(n, name)| format!("{n} {}", visible(name)));
    let mut parts: Vec<String> = named.collect();
    if more > 0 {
        parts.push(format!("{more} more checks"));
    }
    parts.join(", ")
}
