//! `*.csv` where the shell hands it on as it stands, as those of Windows do.

use std::ffi::OsString;
use std::path::{Path, PathBuf};

/// The arguments with the files that a pattern stands for in its place. One that fits no file stays, and is told as a file
/// that is not there.
pub(super) fn expanded(arguments: impl Iterator<Item = OsString>) -> Vec<OsString> {
    arguments
        .flat_map(|argument| {
            let found = argument.to_str().map(files_of).unwrap_or_default();
            if found.is_empty() {
                vec![argument]
            } else {
                found.into_iter().map(PathBuf::into_os_string).collect()
            }
        })
        .collect()
}

/// Files that a pattern stands for, in order; a pattern is a file's name with an ending that this program writes, with `*` or
/// `?` in it. A reason or a tag is none.
fn files_of(pattern: &str) -> Vec<PathBuf> {
    let path = Path::new(pattern);
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    let ours = [".csv", ".json", ".hex", ".h"]
        .iter()
        .any(|end| name.ends_with(end));
    if !ours || !name.contains(['*', '?']) || pattern.starts_with('-') || path.exists() {
        return Vec::new();
    }
    let folder = path
        .parent()
        .filter(|folder| !folder.as_os_str().is_empty());
    let entries = std::fs::read_dir(folder.unwrap_or(Path::new(".")));
    let mut found: Vec<PathBuf> = entries
        .into_iter()
        .flatten()
        .filter_map(Result::ok)
        .map(|entry| entry.file_name())
        .filter(|file| {
            file.to_str()
                .is_some_and(|file| fits(name.as_bytes(), file.as_bytes()))
        })
        .map(|file| folder.map_or_else(|| PathBuf::from(&file), |folder| folder.join(&file)))
        .collect();
    found.sort();
    found
}

/// Whether a name fits: `*` is any part, `?` one byte; large and small letters are the same.
fn fits(pattern: &[u8], name: &[u8]) -> bool {
    let (mut p, mut n) = (0, 0);
    let mut star = None; // the last one, and how far the name was there
    while n < name.len() {
        match pattern.get(p) {
            Some(b'*') => {
                star = Some((p, n));
                p += 1;
            }
            Some(sign) if *sign == b'?' || sign.eq_ignore_ascii_case(&name[n]) => {
                p += 1;
                n += 1;
            }
            _ => match star {
                // The star takes one more.
                Some((at, from)) => {
                    star = Some((at, from + 1));
                    (p, n) = (at + 1, from + 1);
                }
                None => return false,
            },
        }
    }
    pattern[p..].iter().all(|sign| *sign == b'*')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn patterns_fit_as_people_mean_them() {
        for (pattern, name, wanted) in [
            ("*.csv", "T1.csv", true),
            ("*.csv", "T1.csv-metadata.json", false),
            ("T?-*.csv", "t3-lever-2026.CSV", true),
            ("T?.csv", "T12.csv", false),
            ("*a*b*.csv", "xaab.csv", true),
            ("*a*b*.csv", "xba.csv", false),
            ("*", "", true),
            ("?", "", false),
        ] {
            assert_eq!(
                fits(pattern.as_bytes(), name.as_bytes()),
                wanted,
                "{pattern} {name}"
            );
        }
    }

    #[test]
    fn files_stand_where_the_pattern_stood() {
        let folder = tempfile::tempdir().unwrap();
        for name in ["b.csv", "a.csv", "a.csv-metadata.json"] {
            std::fs::write(folder.path().join(name), "").unwrap();
        }
        let inside = |name: &str| folder.path().join(name).into_os_string();
        let given = [
            "pedalproof".into(),
            "assess".into(),
            inside("*.csv"),
            inside("*.hex"),
            "why?".into(),
        ];
        let got = expanded(given.into_iter());
        let wanted = [
            "pedalproof".into(),
            "assess".into(),
            inside("a.csv"),
            inside("b.csv"),
            inside("*.hex"),
            "why?".into(),
        ];
        assert_eq!(got, wanted);
    }
}
