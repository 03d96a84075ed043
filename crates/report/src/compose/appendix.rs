//! Findings of every kind as plain tables, the first of each.

use super::Depth;
use crate::collect::Collected;
use crate::document::Document;
use crate::numbers::count;

pub(super) fn section(document: &mut Document, c: &Collected, depth: Depth) {
    let Some(pictures) = &c.pictures else { return };
    let tables: Vec<_> = pictures.rows.tables().collect();
    if tables.is_empty() {
        return;
    }
    document.heading(2, "All findings");
    document.paragraph("One table for each kind, its columns named as in the records, with the unit at the end of the name.");
    for mut table in tables {
        table.rows.truncate(depth.of_kind);
        document.heading(3, table.kind.name());
        document.paragraph(table.kind.text());
        let shown = table.rows.len() as u64;
        document.captioned(
            format!("Findings of the kind {}", table.kind),
            table.columns,
            table.rows,
        );
        if table.total > shown {
            document.paragraph(format!(
                "and {} more (--csv and --xlsx write all of them).",
                count(table.total - shown)
            ));
        }
    }
}
