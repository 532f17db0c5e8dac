//! Files that are whole or not there: written under a hidden name, synced, then given their name.

use sha2::{Digest, Sha256};
use std::fmt::Write as _;
use std::fs::File;
use std::io::{self, Read};
use std::path::Path;
use tempfile::NamedTempFile;

/// Writes a file that must not exist yet: `AlreadyExists` when the name is taken. After an error nothing is left behind.
pub fn create_new(path: &Path, mut content: impl Read) -> io::Result<()> {
    // Before anything is written; a dangling link is there, too. Who comes in between is met below.
    if path.symlink_metadata().is_ok() {
        return Err(io::ErrorKind::AlreadyExists.into());
    }
    written(path, &mut content)?.persist_noclobber(path)?;
    sync_folder(path);
    Ok(())
}

/// Writes a file in place of what had its name, which stays after an error. What is no ordinary file (`/dev/stdout`, a pipe) is
/// written to.
pub fn replace(path: &Path, text: &str) -> io::Result<()> {
    let special = |is: std::fs::Metadata| !is.is_file() && !is.is_dir();
    if path.metadata().is_ok_and(special) {
        return std::fs::write(path, text);
    }
    written(path, &mut text.as_bytes())?.persist(path)?;
    sync_folder(path);
    Ok(())
}

fn written(path: &Path, content: &mut dyn Read) -> io::Result<NamedTempFile> {
    let mut file = hidden().tempfile_in(folder_of(path))?;
    io::copy(content, &mut file)?;
    file.as_file().sync_all()?;
    Ok(file)
}

/// SHA-256 in lower-case hex.
pub fn sha256(bytes: &[u8]) -> String {
    hex(&Sha256::digest(bytes))
}

pub fn hex(bytes: &[u8]) -> String {
    bytes.iter().fold(String::new(), |mut hex, byte| {
        let _ = write!(hex, "{byte:02x}");
        hex
    })
}

/// A hidden temporary file with the rights of an ordinary new one: for everybody to read, less the umask.
pub fn hidden() -> tempfile::Builder<'static, 'static> {
    let mut file = tempfile::Builder::new();
    file.prefix(".writing-");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        file.permissions(std::fs::Permissions::from_mode(0o666)); // less the umask
    }
    file
}

/// The folder in which a path lies; the working folder for a bare name.
pub fn folder_of(path: &Path) -> &Path {
    path.parent()
        .filter(|folder| !folder.as_os_str().is_empty())
        .unwrap_or(Path::new("."))
}

/// The new name on the disk, too. A folder that cannot be opened for that (Windows) is no loss of the file.
fn sync_folder(path: &Path) {
    if let Ok(folder) = File::open(folder_of(path)) {
        let _ = folder.sync_all();
    }
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
