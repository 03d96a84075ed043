//! What is never melted in a small lab.

use crate::book::Feed;
use crate::say::verdict;
use secondmelt_plastics::marks::{self, Mark};
use secondmelt_record::Out;
use secondmelt_record::findings::{Caution, Decision};

/// Whose word comes before ours.
pub(crate) const LOCAL: &str =
    "the safety data sheet, local rules on fumes and waste, and people licensed for them";

/// Why a lot is never melted by its own name or marks; none where nothing is known against it.
pub(crate) fn of_itself(feed: &Feed, read: &[Mark]) -> Option<String> {
    let by_name = feed.material.iter().find_map(|name| {
        let why = marks::never_melted(name)?;
        Some(format!("{name}: {why}"))
    });
    let by_mark = || {
        let mut marks = read.iter().zip(&feed.marks);
        marks.find_map(|(mark, text)| Some(format!("marked {text}: {}", mark.never_melted()?)))
    };
    by_name.or_else(by_mark)
}

/// Refuses a lot that is never melted, by itself or by a lot that is in it; whether it is.
pub(crate) fn write(
    lot: &str,
    feed: &Feed,
    read: &[Mark],
    has_in_it: Option<&str>,
    out: &mut Out,
) -> bool {
    let inherited = || Some(format!("lot {} is in it, which is never melted", has_in_it?));
    let Some(why) = of_itself(feed, read).or_else(inherited) else { return false };
    out.write(&verdict(
        "never-melted",
        lot,
        Decision::Fails,
        "some plastics are never melted in a small lab, whatever else holds",
        format!("{why}: set it aside, and do not shred, dry or melt it"),
    ));
    out.write(&Caution {
        lot: Some(lot.to_owned().into()),
        danger: format!("Toxic or corrosive gases, fire or dust may come of this lot: {why}.")
            .into(),
        defer_to: LOCAL.into(),
        ..Caution::default()
    });
    true
}
