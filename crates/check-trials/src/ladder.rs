//! Whether harder parts may be tried: only when the easier ones are proven.

use crate::book::{Known, Told};
use crate::evidence::Cell;
use crate::group::{self, Group};
use crate::lab::Lab;
use crate::windows::holds;
use crate::words::plural;
use secondmelt_quality::sequential::Standing;
use secondmelt_record::findings::{Decision, Verdict};
use secondmelt_record::{Name, Number, Text};

const CHECK: &str = "next-difficulty";
const RULE: &str = "the next difficulty is open where every lower one, from 1 on, is proven by its own trials, all with the same \
                    settings; good trials of harder parts do not stand in for those of easier ones";

/// The verdict; none where no trial names a difficulty.
pub(crate) fn verdict<'g>(group: &'g Group, cells: &[Cell<'_>], lab: &Lab) -> Option<Verdict<'g>> {
    let top = cells.iter().filter_map(|cell| cell.complexity).max()?;
    let at = |level: u64| cells.iter().find(|cell| cell.complexity == Some(level));
    let proven = |level: u64| at(level).filter(|cell| cell.standing == Standing::Proven);
    // One that is missing ends the count, so it is no longer than the list of cells.
    let first = proven(1).map(|cell| cell.last);
    let inside = |told: &Told| {
        told.settings.values.iter().all(|(name, value)| holds(group.window(name, lab), *value))
    };
    let same = |level: &u64| {
        proven(*level)
            .zip(first)
            .is_some_and(|(cell, first)| group::same(cell.last, first) && inside(first))
    };
    let reached = (1..=top).take_while(same).last().unwrap_or(0);
    let next = reached + 1;
    let (result, said) = match at(next) {
        _ if reached == top && top > 0 => (
            Decision::Conforms,
            format!("every difficulty up to {top} is proven: step up to {next}"),
        ),
        None => (
            Decision::Undecided,
            format!("no trial of difficulty {next} is recorded: prove it before harder parts"),
        ),
        Some(cell) if cell.standing == Standing::Refuted => (
            Decision::Fails,
            format!("difficulty {next} is refuted: step back and change something there"),
        ),
        Some(cell) if cell.standing == Standing::Proven && !inside(cell.last) => (
            Decision::Undecided,
            format!(
                "difficulty {next} is proven with a setting outside its window: prove it inside, or correct the window"
            ),
        ),
        Some(cell) if cell.standing == Standing::Proven => (
            Decision::Undecided,
            format!(
                "difficulty {next} is proven with other settings than {} below it ({}): nothing shows that one set of them \
                 serves both; prove either with the settings of the other before harder parts",
                if reached == 1 { "difficulty 1" } else { "those" },
                first.map_or_else(String::new, |first| unlike(cell.last, first))
            ),
        ),
        Some(cell) => {
            let more = cell.more_good.map_or_else(String::new, |more| {
                format!(" ({} in a row would prove it)", plural(more, "more good trial"))
            });
            (Decision::Undecided, format!("stay at difficulty {next} until it is proven{more}"))
        }
    };
    let ahead = if top > next {
        format!("; parts of difficulty {top} have been tried already, and do not count before that")
    } else {
        String::new()
    };
    Some(Verdict {
        check: Name::from(CHECK),
        result,
        machine: group.machine_name(),
        material: group.material_name(),
        #[expect(clippy::cast_precision_loss, reason = "a difficulty")]
        value: Number::new(reached as f64),
        unit: Some(Text::from("1")),
        rule: Text::from(RULE),
        why: Text::from(format!("{}: {said}{ahead}", group.named())),
        ..Verdict::default()
    })
}

/// "bed_c 75, not 60".
fn unlike(here: &Told, there: &Told) -> String {
    let noted =
        (here.era != there.era).then(|| "something else was noted to have changed".to_owned());
    let (here, there) = (&here.settings, &there.settings);
    let told = |value: Option<f64>| value.map_or("not recorded".to_owned(), |x| x.to_string());
    let mut names: Vec<&String> = here.all().chain(there.all()).map(|(name, _)| name).collect();
    names.sort();
    names.dedup();
    let of = |known: &Known, name: &str| {
        known.all().find(|(other, _)| *other == name).map(|(_, value)| value)
    };
    let unlike = names.into_iter().filter_map(|name| {
        let (here, there) = (of(here, name), of(there, name));
        (here != there).then(|| format!("{name} {}, not {}", told(here), told(there)))
    });
    unlike.chain(noted).collect::<Vec<_>>().join("; ")
}
