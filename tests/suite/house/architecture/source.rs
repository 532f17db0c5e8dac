//! The source as these checks read it: code without comments, string literals and tests.

use std::path::{Path, PathBuf};

/// The folder of a package's source, and the name by which the other packages know it.
pub const PACKAGES: [(&str, &str); 3] = [
    ("src", "pedalproof"),
    ("crates/measure/src", "measure"),
    ("crates/simulator/src", "simulator"),
];

/// A path below the repository.
pub fn project(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

/// A path as it is told: from the repository on.
pub fn named(path: &Path) -> String {
    let path = path.strip_prefix(project("")).unwrap_or(path);
    path.display().to_string()
}

/// One file of Rust: its place, and its code.
pub struct File {
    pub path: PathBuf,
    pub code: String,
}

/// Every file below a folder that is not there for tests only.
pub fn files(folder: &Path) -> Vec<File> {
    let mut found = Vec::new();
    gather(folder, &mut found, &mut Vec::new());
    found
}

fn gather(folder: &Path, found: &mut Vec<File>, of_tests: &mut Vec<PathBuf>) {
    let entries = std::fs::read_dir(folder).unwrap();
    let mut paths: Vec<PathBuf> = entries.map(|entry| entry.unwrap().path()).collect();
    // Files first: they say which folders and files beside them are for tests.
    paths.sort_by_key(|path| (path.is_dir(), path.clone()));
    for path in &paths {
        if path.extension().is_some_and(|end| end == "rs") {
            let text = std::fs::read_to_string(path).unwrap();
            of_tests.extend(test_modules(&text, path));
        }
    }
    for path in paths {
        if of_tests.contains(&path.with_extension("")) {
            continue;
        }
        if path.is_dir() {
            gather(&path, found, of_tests);
        } else if path.extension().is_some_and(|end| end == "rs") {
            let code = code(&std::fs::read_to_string(&path).unwrap());
            found.push(File { path, code });
        }
    }
}

/// The files, without `.rs`, that a file declares for tests only: `#[cfg(test)] mod NAME;`, attributes between.
fn test_modules(text: &str, file: &Path) -> Vec<PathBuf> {
    let beside = file.parent().unwrap();
    let stem = file.file_stem().unwrap().to_str().unwrap();
    let below = match stem {
        "mod" | "lib" | "main" => beside.to_owned(),
        stem => beside.join(stem),
    };
    let mut found = Vec::new();
    let mut lines = text.lines().map(str::trim);
    while lines.any(|line| line == "#[cfg(test)]") {
        let mut path = None;
        for line in lines.by_ref() {
            if let Some(name) = line.strip_prefix("#[path = \"") {
                path = name.strip_suffix(".rs\"]").map(|name| beside.join(name));
            } else if !line.starts_with("#[") {
                let name = line
                    .split_once("mod ")
                    .and_then(|(_, rest)| rest.strip_suffix(';'));
                found.extend(name.map(|name| path.unwrap_or_else(|| below.join(name))));
                break;
            }
        }
    }
    found
}

/// Code without comments, string literals and what comes from the first `#[cfg(test)]` of a module on.
pub fn code(text: &str) -> String {
    let lines: Vec<&str> = text.lines().collect();
    let tests = lines.windows(2).position(|pair| {
        let for_tests = ["#[cfg(test)]", "#[cfg(all(test,"];
        for_tests.iter().any(|start| pair[0].starts_with(start))
            && pair[1].starts_with("mod ")
            && pair[1].ends_with('{')
    });
    let mut code = String::new();
    let mut skip = false;
    for line in &lines[..tests.unwrap_or(lines.len())] {
        let line = line.split('"').step_by(2).collect::<Vec<_>>().join("\"\"");
        let line = line.split("//").next().unwrap_or_default().trim_end();
        // What `#[cfg(test)]` stands before is for tests: a declaration of a module, a `use`.
        if line.trim() == "#[cfg(test)]" {
            skip = true;
        } else if !std::mem::take(&mut skip) {
            code.push_str(line);
            code.push('\n');
        }
    }
    code
}

/// Every path that code names, as its parts, `use` trees taken apart; `*` is a part, too.
pub fn paths(code: &str) -> Vec<Vec<String>> {
    let bytes = code.as_bytes();
    let (mut found, mut at) = (Vec::new(), 0);
    while at < bytes.len() {
        if is_word(bytes[at]) && !bytes[at].is_ascii_digit() {
            at = path(code, at, &[], &mut found);
        } else {
            // A number with its suffix is no name.
            at += 1;
            while bytes[at - 1].is_ascii_digit() && at < bytes.len() && is_word(bytes[at]) {
                at += 1;
            }
        }
    }
    found
}

fn is_word(byte: u8) -> bool {
    byte.is_ascii_alphanumeric() || byte == b'_'
}

/// Reads the path that begins at `at`; gives where it ends.
fn path(code: &str, mut at: usize, before: &[String], found: &mut Vec<Vec<String>>) -> usize {
    let mut parts = before.to_vec();
    loop {
        let rest = &code[at..];
        let length = rest.bytes().take_while(|byte| is_word(*byte)).count();
        if length > 0 {
            parts.push(rest[..length].to_owned());
            at += length;
        } else if rest.starts_with('*') {
            parts.push("*".to_owned());
            at += 1;
        } else if rest.starts_with('{') {
            return tree(code, at + 1, &parts, found);
        } else {
            break; // `::<`
        }
        if !code[at..].starts_with("::") {
            break;
        }
        at += 2;
    }
    if parts.len() > 1 {
        found.push(parts);
    }
    at
}

/// Reads the branches of a `use` tree up to its `}`.
fn tree(code: &str, mut at: usize, before: &[String], found: &mut Vec<Vec<String>>) -> usize {
    while at < code.len() {
        match code.as_bytes()[at] {
            b'}' => return at + 1,
            byte if is_word(byte) || byte == b'*' => {
                at = path(code, at, before, found);
                // `as OTHER`
                if code[at..].starts_with(" as ") {
                    at += " as ".len();
                    at += code[at..].bytes().take_while(|b| is_word(*b)).count();
                }
            }
            _ => at += 1,
        }
    }
    at
}

#[test]
fn paths_are_read_out_of_use_trees_and_code() {
    let code =
        "use crate::{a::{B, c::D}, e};\nfn f() -> measure::units::Code { super::g::<u8>(2.5e-3) }";
    let told: Vec<String> = paths(code).iter().map(|path| path.join("::")).collect();
    assert_eq!(
        told,
        [
            "crate::a::B",
            "crate::a::c::D",
            "crate::e",
            "measure::units::Code",
            "super::g"
        ]
    );
}

#[test]
fn comments_strings_and_tests_are_no_code() {
    let text = "//! crate::a\nlet a = \"crate::b\"; // crate::c\n#[cfg(test)]\nuse crate::d;\nfn f() {}\n#[cfg(test)]\nmod tests {\n use crate::e;\n}";
    assert_eq!(code(text).trim(), "let a = \"\";\nfn f() {}");
}
