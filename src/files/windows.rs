//! Names that Windows takes for something else than a file: what is written there would be gone.

use std::io;
use std::path::Path;

/// Whether this system makes a file of that name; the words of the error say what to change.
pub fn takes_name(path: &Path) -> io::Result<()> {
    if !cfg!(windows) {
        return Ok(()); // what is no name elsewhere is refused there by the system itself
    }
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    refusal(&name).map_or(Ok(()), |words| {
        Err(io::Error::new(io::ErrorKind::InvalidInput, words))
    })
}

/// Names of devices, with any ending, and what no name may hold (Microsoft, "Naming Files, Paths, and Namespaces", from
/// memory). `T1:a.csv` would be a hidden stream of a file `T1`, `CON.csv` the console.
fn refusal(name: &str) -> Option<String> {
    if let Some(c) = name.chars().find(|c| "<>:\"/\\|?*".contains(*c)) {
        return Some(format!(
            "Windows takes no `{c}` in a file's name: choose another one"
        ));
    }
    if name.ends_with(['.', ' ']) {
        return Some(
            "Windows drops a dot or a space at the end of a name: choose another one".to_owned(),
        );
    }
    let stem = name.split('.').next().unwrap_or_default().trim_end();
    let stem = stem.to_ascii_uppercase();
    let numbered = |device| {
        let number = stem.strip_prefix(device);
        number.is_some_and(|n| n.len() == 1 && n.as_bytes()[0].is_ascii_digit() && n != "0")
    };
    let device =
        ["CON", "PRN", "AUX", "NUL"].contains(&stem.as_str()) || numbered("COM") || numbered("LPT");
    device.then(|| {
        format!("{stem} is the name of a device on Windows, with any ending: choose another one")
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn devices_and_signs_of_windows_are_no_names() {
        for name in [
            "CON.csv",
            "con",
            "Nul.block.json",
            "com3.csv",
            "LPT9",
            "a:b.csv",
            "what?.csv",
            "T1.",
            "CON .csv",
        ] {
            assert!(refusal(name).is_some(), "{name}");
        }
        for name in [
            "T1-pedal.csv",
            "CONtrol.csv",
            "com0.csv",
            "com12.csv",
            "COM.csv",
            "lptx.h",
            ".config",
            "T1 left.csv",
        ] {
            assert!(refusal(name).is_none(), "{name}");
        }
    }

    #[test]
    fn here_such_a_name_is_refused_on_windows_alone() {
        assert_eq!(
            takes_name(Path::new("folder/CON.csv")).is_err(),
            cfg!(windows)
        );
        assert!(takes_name(Path::new("T1.csv")).is_ok());
    }
}
