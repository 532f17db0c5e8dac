//! Files that are whole or not there: written under a hidden name, synced, then given their name. And files that are read: what
//! is none, or has no end, is refused before it is waited for.

mod windows;

pub use windows::takes_name;

use crate::outlet::{self, Shown, Visible};
use sha2::{Digest, Sha256};
use std::fmt::Write as _;
use std::fs::File;
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};
use tempfile::NamedTempFile;

/// Writes a file that must not exist yet: `AlreadyExists` when the name is taken. After an error nothing is left behind.
pub fn create_new(path: &Path, text: &Visible) -> io::Result<()> {
    create_copy(path, text.as_str().as_bytes())
}

/// The same of another file's bytes, as they are.
pub fn create_copy(path: &Path, mut content: impl Read) -> io::Result<()> {
    takes_name(path)?;
    // Before anything is written; a dangling link is there, too. Who comes in between is met below.
    if is_taken(path) {
        return Err(io::ErrorKind::AlreadyExists.into());
    }
    written(path, &mut content)?.persist_noclobber(path)?;
    outlet::did(|| format!("written: {}", path.shown()));
    sync_folder(path);
    Ok(())
}

/// Whether something has this name, be it a link to nowhere.
pub fn is_taken(path: &Path) -> bool {
    path.symlink_metadata().is_ok()
}

/// Writes a file in place of what had its name, which stays after an error. It may be read and changed by whom that could be, and a link
/// goes on leading to it. What is no ordinary file (`/dev/stdout`, a pipe) is written to.
pub fn replace(path: &Path, text: &Visible) -> io::Result<()> {
    let mut bytes = text.as_str().as_bytes();
    let special = |is: std::fs::Metadata| !is.is_file() && !is.is_dir();
    if path.metadata().is_ok_and(special) {
        return std::fs::write(path, bytes);
    }
    let path = &behind_links(path)?;
    takes_name(path)?;
    written(path, &mut bytes)?.persist(path)?;
    outlet::did(|| format!("written: {}", path.shown()));
    sync_folder(path);
    Ok(())
}

/// The file that a link leads to; what is no link is its own.
fn behind_links(path: &Path) -> io::Result<PathBuf> {
    if !path.is_symlink() {
        return Ok(path.to_owned());
    }
    path.canonicalize().map_err(|why| match why.kind() {
        io::ErrorKind::NotFound => {
            io::Error::other("it is a link to what is not there: remove it, or choose another name")
        }
        _ => why,
    })
}

fn written(path: &Path, content: &mut dyn Read) -> io::Result<NamedTempFile> {
    let mut file = hidden().tempfile_in(folder_of(path))?;
    #[cfg(unix)]
    if let Ok(before) = path.metadata() {
        file.as_file().set_permissions(before.permissions())?; // before anything is in it
    }
    io::copy(content, file.as_file_mut())?; // not through the name, which nobody knows
    file.as_file().sync_all()?;
    Ok(file)
}

/// How the names of files begin that are being written.
const HIDDEN: &str = ".writing-";

/// The longest file that a person writes or this program: profile, block, configuration, metadata. Bytes.
pub const LONGEST_TEXT: u64 = 16 << 20;

/// Opens a file that has an end: no pipe that nobody writes to, no device, no folder.
pub fn open(path: &Path) -> io::Result<File> {
    // Asked before it is opened: a pipe would be waited for.
    let is = path.metadata().map_err(|why| match why.kind() {
        io::ErrorKind::NotFound => io::Error::new(why.kind(), "there is no such file"),
        _ => why,
    })?;
    if is.is_file() {
        outlet::did(|| format!("read: {}, {} bytes", path.shown(), is.len()));
        return File::open(path);
    }
    Err(io::Error::other(if is.is_dir() {
        "it is a folder: name a file in it"
    } else {
        "it is no file but a pipe or a device, which may have no end: copy what comes from it to a file, or give `-` where that is taken"
    }))
}

/// The bytes of a file of at most `most`.
pub fn read(path: &Path, most: u64) -> io::Result<Vec<u8>> {
    let file = open(path)?;
    if file.metadata()?.len() > most {
        return Err(too_long(most)); // before anything is read
    }
    read_from(file, most)
}

fn too_long(most: u64) -> io::Error {
    io::Error::other(format!(
        "it is longer than {} MB, and nothing of this kind is: is it the right file?",
        most >> 20
    ))
}

/// The same of what is open already.
pub fn read_from(source: impl Read, most: u64) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    source.take(most + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > most {
        return Err(too_long(most));
    }
    Ok(bytes)
}

/// The text of a file of at most [`LONGEST_TEXT`].
pub fn read_text(path: &Path) -> io::Result<String> {
    text_of(read(path, LONGEST_TEXT)?)
}

/// UTF-8, or UTF-16 where a mark says so, as some editors save it; without the mark.
pub fn text_of(bytes: Vec<u8>) -> io::Result<String> {
    let wide = |of: fn([u8; 2]) -> u16| {
        let (pairs, _) = bytes[2..].as_chunks::<2>();
        String::from_utf16(&pairs.iter().map(|pair| of(*pair)).collect::<Vec<_>>()).ok()
    };
    let text = match bytes[..] {
        [0xff, 0xfe, ..] => wide(u16::from_le_bytes),
        [0xfe, 0xff, ..] => wide(u16::from_be_bytes),
        _ => String::from_utf8(bytes).ok(),
    };
    let text = text.ok_or_else(|| io::Error::other("it is no text in UTF-8: save it as that"))?;
    Ok(match text.strip_prefix('\u{feff}') {
        Some(bare) => bare.to_owned(),
        None => text,
    })
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

/// A name for a temporary file that nobody else takes.
pub fn hidden_name() -> String {
    static COUNT: AtomicU32 = AtomicU32::new(0);
    let count = COUNT.fetch_add(1, Ordering::Relaxed);
    let now = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH);
    let nanos = now.map_or(0, |now| now.as_nanos());
    format!("{HIDDEN}{:x}-{nanos:x}-{count:x}", std::process::id())
}

/// A hidden temporary file with the rights of an ordinary new one: for everybody to read, less the umask.
pub fn hidden() -> tempfile::Builder<'static, 'static> {
    let mut file = tempfile::Builder::new();
    file.prefix(HIDDEN);
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
    fn texts_of_editors_are_read_and_what_has_no_end_is_refused() {
        let wide = |of: fn(u16) -> [u8; 2]| "\u{feff}{}".encode_utf16().flat_map(of).collect();
        for bytes in [
            b"{}".to_vec(),
            "\u{feff}{}".as_bytes().to_vec(),
            wide(u16::to_le_bytes),
            wide(u16::to_be_bytes),
        ] {
            assert_eq!(text_of(bytes).unwrap(), "{}");
        }
        assert!(text_of(b"\xff\xfe\x00\xd8".to_vec()).is_err() && text_of(vec![0xc0]).is_err());
        assert!(read_from(io::repeat(b'x'), 100).is_err());
        assert_eq!(read_from(&b"xx"[..], 2).unwrap(), b"xx");
        let folder = tempfile::tempdir().unwrap();
        let message = read_text(folder.path()).unwrap_err().to_string();
        assert!(message.contains("folder"), "{message}");
        let none = read_text(&folder.path().join("none")).unwrap_err();
        assert_eq!(
            (none.kind(), none.to_string().as_str()),
            (io::ErrorKind::NotFound, "there is no such file")
        );
    }

    #[cfg(unix)]
    #[test]
    fn what_is_replaced_keeps_its_permissions_and_its_links() {
        use std::os::unix::fs::{PermissionsExt, symlink};
        let folder = tempfile::tempdir().unwrap();
        let [file, link, nowhere] =
            ["file", "link", "nowhere"].map(|name| folder.path().join(name));
        let text = |text: &str| Visible::of(text);
        for mode in [0o600, 0o644, 0o664] {
            std::fs::write(&file, "before").unwrap();
            std::fs::set_permissions(&file, std::fs::Permissions::from_mode(mode)).unwrap();
            replace(&file, &text("after")).unwrap();
            assert_eq!(std::fs::read_to_string(&file).unwrap(), "after");
            assert_eq!(file.metadata().unwrap().permissions().mode() & 0o777, mode);
        }
        std::fs::create_dir(folder.path().join("deep")).unwrap();
        symlink("../file", folder.path().join("deep/link")).unwrap();
        symlink("deep/link", &link).unwrap();
        replace(&link, &text("through")).unwrap();
        assert!(link.is_symlink() && !file.is_symlink());
        assert_eq!(std::fs::read_to_string(&file).unwrap(), "through");
        symlink("no such file", &nowhere).unwrap();
        let why = replace(&nowhere, &text("lost")).unwrap_err().to_string();
        assert!(why.contains("not there") && nowhere.is_symlink(), "{why}");
        assert_eq!(
            std::fs::read_dir(folder.path()).unwrap().count(),
            4,
            "nothing is left behind"
        );
    }

    #[test]
    fn a_bare_name_lies_in_the_working_folder() {
        let folders = ["x.csv", "a/x.csv", "/x.csv"].map(|path| folder_of(Path::new(path)));
        assert_eq!(folders, [Path::new("."), Path::new("a"), Path::new("/")]);
    }
}
