//! A file that is whole or not there begins under a hidden name.
//!
//! Belongs here: that hidden file. Does not belong here: what is in it, its errors in words.

use std::path::Path;

/// A hidden temporary file, `prefix` before its name, with the rights of an ordinary new one: for everybody to read, less the umask.
#[must_use]
pub fn hidden(prefix: &'static str) -> tempfile::Builder<'static, 'static> {
    let mut file = tempfile::Builder::new();
    file.prefix(prefix);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        file.permissions(std::fs::Permissions::from_mode(0o666)); // less the umask
    }
    file
}

/// The folder in which a path lies; the working folder for a bare name.
#[must_use]
pub fn folder_of(path: &Path) -> &Path {
    path.parent()
        .filter(|folder| !folder.as_os_str().is_empty())
        .unwrap_or(Path::new("."))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bare_name_lies_in_the_working_folder() {
        let folders = ["x.csv", "a/x.csv", "/x.csv"].map(|path| folder_of(Path::new(path)));
        assert_eq!(folders, [Path::new("."), Path::new("a"), Path::new("/")]);
    }
}
