//! Comparing with what is committed. UPDATE_GOLDEN=1 writes it anew; read the
//! difference before committing it.

#![allow(dead_code, reason = "not every test needs all")]
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use std::fs;
use std::path::{Path, PathBuf};

/// Where goldens are committed.
fn goldens() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/golden")
}

/// Where it is committed.
pub fn committed(name: &str) -> PathBuf {
    goldens().join("report").join(name)
}

/// Whether it is written anew.
pub fn updating() -> bool {
    std::env::var_os("UPDATE_GOLDEN").is_some_and(|v| v == "1")
}

/// The text is the one that is committed under this name.
pub fn same(name: &str, found: &str) {
    same_in("report", name, found);
}

/// The same in a folder of goldens.
pub fn same_in(folder: &str, name: &str, found: &str) {
    let path = goldens().join(folder).join(name);
    if updating() {
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(&path, found).unwrap();
    }
    let wanted = fs::read_to_string(&path).unwrap_or_default();
    assert!(
        wanted == found,
        "{name} differs (- committed, + found); UPDATE_GOLDEN=1 writes it anew\n{}",
        difference(&wanted, found)
    );
}

/// The lines that one text has and the other has not, from the first to the last that differ.
fn difference(wanted: &str, found: &str) -> String {
    let (wanted, found): (Vec<&str>, Vec<&str>) =
        (wanted.split('\n').collect(), found.split('\n').collect());
    let same =
        |pairs: &mut dyn Iterator<Item = (&&str, &&str)>| pairs.take_while(|(a, b)| a == b).count();
    let start = same(&mut wanted.iter().zip(&found));
    let rest = wanted.len().min(found.len()) - start;
    let end = same(&mut wanted.iter().rev().zip(found.iter().rev())).min(rest);
    let shown = |sign: &str, lines: &[&str]| -> String {
        let middle = &lines[start..lines.len() - end];
        middle.iter().map(|line| format!("{sign} {:?}\n", line)).collect()
    };
    format!("from line {}:\n{}{}", start + 1, shown("-", &wanted), shown("+", &found))
}
