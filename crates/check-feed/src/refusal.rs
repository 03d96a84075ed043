//! What is never melted in a small lab.

use crate::book::Feed;
use crate::say::verdict;
use secondmelt_plastics::marks::{self, Mark};
use secondmelt_record::Out;
use secondmelt_record::findings::{Caution, Decision};

/// Whose word comes before ours.
pub(crate) const LOCAL: &str =
    "the safety data sheet, local rules on fumes and waste, and people licensed for them";

/// Refuses a lot that is never melted; whether it is.
pub(crate) fn write(lot: &str, feed: &Feed, read: &[Mark], out: &mut Out) -> bool {
    let by_name = feed.material.iter().find_map(|name| {
        let why = marks::never_melted(name)?;
        Some(format!("{name}: {why}"))
    });
    let by_mark = || {
        let mut marks = read.iter().zip(&feed.marks);
        marks.find_map(|(mark, text)| Some(format!("marked {text}: {}", mark.never_melted()?)))
    };
    let Some(why) = by_name.or_else(by_mark) else { return false };
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
