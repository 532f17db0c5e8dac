//! No file over 450 lines of code, no folder of more than 18 files: what is larger holds more than one idea.

use super::source::{PACKAGES, files, named, project};
use std::collections::BTreeMap;

/// Lines of code, tests, comments and empty lines apart.
const LONGEST: usize = 450;
const FULLEST: usize = 18;

#[test]
fn no_file_and_no_folder_is_too_large() {
    let (mut larger, mut folders) = (Vec::new(), BTreeMap::<String, usize>::new());
    for (folder, _) in PACKAGES {
        for file in files(&project(folder)) {
            let lines = file.code.lines().filter(|line| !line.trim().is_empty());
            let lines = lines.count();
            if lines > LONGEST {
                larger.push((named(&file.path), format!("{lines} lines of code")));
            }
            *folders
                .entry(named(file.path.parent().unwrap()))
                .or_default() += 1;
        }
    }
    folders.retain(|_, files| *files > FULLEST);
    larger.extend(
        folders
            .into_iter()
            .map(|(folder, n)| (folder, format!("{n} files"))),
    );
    assert!(larger.is_empty(), "too large: {larger:#?}");
}
