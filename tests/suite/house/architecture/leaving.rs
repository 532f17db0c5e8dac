//! Text leaves through `outlet` and files through `files`: nothing else writes to a person or names a file to one.

use super::source::{File, files, named, project};

/// What only these files may mention: a piece of code, and where it may stand.
const ONLY: [(&str, &[&str]); 6] = [
    (
        "stdout()",
        &["src/outlet/standard.rs", "src/tui/terminal.rs"],
    ),
    ("stderr()", &["src/outlet/standard.rs"]),
    ("println!", &[]),
    ("print!(", &[]),
    // A path as it is could begin a line, or rule a terminal: `Shown::shown`.
    (".display()", &[]),
    (
        "fs::write(",
        &["src/files/mod.rs", "src/cli/screen/recent_profiles.rs"],
    ),
];

fn faults(file: &File) -> Vec<String> {
    let name = named(&file.path);
    // To ask what it is is not to write to it.
    // Nor is to ask clap where it would write.
    let code = file
        .code
        .replace("stdout().is_terminal()", "")
        .replace("stderr().is_terminal()", "")
        .replace("use_stderr()", "");
    let only = ONLY
        .iter()
        .filter(|(piece, may)| code.contains(piece) && !may.contains(&name.as_str()));
    only.map(|(piece, _)| format!("{name}: `{piece}`"))
        .collect()
}

#[test]
fn text_leaves_through_one_room() {
    let files = files(&project("src"));
    let found: Vec<String> = files.iter().flat_map(faults).collect();
    assert!(
        files.len() > 100 && found.is_empty(),
        "not through `outlet` or `files`: {found:#?}"
    );
}

#[test]
fn the_check_can_fail() {
    let file = |code: &str| File {
        path: project("src/cli/mod.rs"),
        code: code.to_owned(),
    };
    assert_eq!(faults(&file("let x = path.display();")).len(), 1);
    assert_eq!(faults(&file("io::stderr().lock()")).len(), 1);
    assert!(faults(&file("io::stderr().is_terminal()")).is_empty());
}
