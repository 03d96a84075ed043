//! Questions that need no input: the kinds, their schemas, examples and fields.

use crate::{Options, examples, step};
use secondmelt_record::runtime::failure;
use secondmelt_record::{Class, Kind, Out, schema};
use std::io;
use std::process::ExitCode;

/// The answer to what the options ask; none where they ask nothing.
pub(crate) fn answer(options: &Options, out: &mut Out) -> Option<ExitCode> {
    if let Some(command) = &options.step {
        return Some(step::verdict(command, options.patience_s, out));
    }
    let text = if options.list {
        list()
    } else if let Some(kind) = options.schema {
        format!("{:#}\n", schema::of_kind(kind))
    } else if let Some(kind) = options.fields {
        fields(kind)
    } else {
        let kind = options.example?;
        match examples::of(kind) {
            Some(example) => example.to_owned(),
            None => return Some(failure(out.program(), &format!("there is no example of {kind}"))),
        }
    };
    Some(printed(&text, out))
}

/// Prints a text; the exit status for it. A reader that closes is no failure.
pub(crate) fn printed(text: &str, out: &mut Out) -> ExitCode {
    match out.print(text) {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => {
            failure(out.program(), &format!("standard output could not be written: {error}"))
        }
        _ => ExitCode::SUCCESS,
    }
}

fn list() -> String {
    let rows = Kind::ALL
        .iter()
        .map(|kind| [kind.name().to_owned(), class(kind.class()).to_owned(), kind.text()]);
    table(["kind", "class", "what it is"], rows.collect())
}

fn class(class: Class) -> &'static str {
    match class {
        Class::Fact => "fact",
        Class::Finding => "finding",
        Class::Frame => "frame",
    }
}

fn fields(kind: Kind) -> String {
    let rows = kind.fields().iter().map(|field| {
        let needed = if field.required { "needed" } else { "may be absent" };
        [field.name.to_owned(), needed.to_owned(), field.shape.to_string(), field.text()]
    });
    let text = table(["field", "needed", "holds", "meaning"], rows.collect());
    format!("{kind}: {}\n\n{text}", kind.text())
}

/// Rows in columns, the last one as long as it likes.
fn table<const N: usize>(heads: [&str; N], rows: Vec<[String; N]>) -> String {
    let heads = heads.map(str::to_owned);
    let all: Vec<_> = std::iter::once(&heads).chain(&rows).collect();
    let width = |column: usize| all.iter().map(|row| row[column].chars().count()).max();
    let widths: Vec<usize> = (0..N).map(|column| width(column).unwrap_or(0)).collect();
    let line = |row: &[String; N]| {
        let cells = row.iter().zip(&widths).map(|(cell, width)| format!("{cell:<width$}  "));
        format!("{}\n", cells.collect::<String>().trim_end())
    };
    all.into_iter().map(line).collect()
}
