//! What went in: records, runs, sources, and whether the stream is whole.

use super::{Depth, plural};
use crate::collect::{Collected, Ended, Run};
use crate::document::{Cell, Column, Document, Tone};
use crate::numbers::count;
use secondmelt_record::{Class, Kind};

pub(super) fn section(document: &mut Document, c: &Collected, ended: &Ended, depth: Depth) {
    document.heading(2, "What went in");
    document.paragraph(whole(c, ended));
    kinds(document, ended);
    runs(document, c, depth);
    sources(document, c, depth);
}

fn whole(c: &Collected, ended: &Ended) -> Cell {
    match &ended.cut {
        Some(why) => Cell::new(format!("Cut short: {why}."), Tone::Bad),
        None if c.frame.runs.is_empty() => {
            "No run signed these records, so nothing tells whether all arrived.".into()
        }
        None => "Whole: every run that began has ended.".into(),
    }
}

fn kinds(document: &mut Document, ended: &Ended) {
    let columns = vec![Column::text("kind"), Column::text("class"), Column::count("records")];
    let class = |name: &str| match Kind::from_name(name).map(Kind::class) {
        Some(Class::Fact) => (0, "recorded by the lab"),
        Some(Class::Finding) => (1, "worked out"),
        Some(Class::Frame) => (2, "about the stream"),
        None if name.starts_with('(') => (4, "counted only"),
        None => (3, "not ours, counted only"),
    };
    let mut kinds: Vec<_> = ended.read.0.iter().map(|(k, n)| (class(k), k, n)).collect();
    kinds.sort();
    let rows = kinds.into_iter().map(|((_, class), kind, n)| {
        vec![crate::keep::name(kind).into(), class.into(), count(*n).into()]
    });
    document.captioned("Records by kind", columns, rows.collect());
}

fn runs(document: &mut Document, c: &Collected, depth: Depth) {
    let columns = vec![
        Column::text("run"),
        Column::text("program"),
        Column::text("version"),
        Column::text("state"),
        Column::count("problems"),
        Column::text("options"),
    ];
    let rows = c.frame.runs.iter().map(|(id, run)| {
        vec![
            id.as_str().into(),
            run.program.as_str().into(),
            run.version.as_str().into(),
            state(run),
            if run.problems > 0 { count(run.problems).into() } else { Cell::default() },
            run.options.as_str().into(),
        ]
    });
    let shown = rows.take(depth.rows).collect::<Vec<_>>();
    let more = c.frame.runs.refused() > 0 || c.frame.runs.iter().count() > shown.len();
    document.captioned("Runs of programs", columns, shown);
    if more {
        document.paragraph("There are more runs than this report shows.");
    }
}

fn state(run: &Run) -> Cell {
    if run.begun > run.ended {
        Cell::new("did not end", Tone::Bad)
    } else if run.ended > run.begun {
        Cell::new("start is missing", Tone::Bad)
    } else if run.cut_short.is_some() {
        Cell::new("its input was cut", Tone::Bad)
    } else {
        "ended".into()
    }
}

fn sources(document: &mut Document, c: &Collected, depth: Depth) {
    let columns = vec![
        Column::text("source"),
        Column::count("records"),
        Column::count("bytes"),
        Column::text("SHA-256 begins"),
    ];
    let mut rows = Vec::new();
    let mut more = 0;
    for (_, run) in c.frame.runs.iter() {
        more += run.more_sources;
        rows.extend(run.sources.iter().map(|s| {
            vec![
                s.file.as_str().into(),
                count(s.records).into(),
                count(s.bytes).into(),
                s.sha256.as_str().into(),
            ]
        }));
    }
    more += rows.len().saturating_sub(depth.rows) as u64;
    rows.truncate(depth.rows);
    document.captioned("Files", columns, rows);
    if more > 0 {
        document.paragraph(format!("and {}.", plural(more, "more source")));
    }
}
