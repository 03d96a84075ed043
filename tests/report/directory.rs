//! Comparing a whole directory with what is committed.

use crate::golden::{committed, same, updating};
use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

/// The directory holds the files that are committed under this name, and no others.
pub fn same_directory(name: &str, found: &Path) {
    let names = |dir: &Path| -> BTreeSet<String> {
        let entries = fs::read_dir(dir).into_iter().flatten();
        entries.map(|e| e.unwrap().file_name().into_string().unwrap()).collect()
    };
    let dir = committed(name);
    if updating() {
        let _ = fs::remove_dir_all(&dir);
    }
    for file in names(found) {
        same(&format!("{name}/{file}"), &fs::read_to_string(found.join(&file)).unwrap());
    }
    assert_eq!(names(found), names(&dir));
}
