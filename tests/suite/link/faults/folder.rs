//! The real binary when its folder fills up, may not be written, or goes away while it records.

use crate::link::setting::{
    board, ended, names, numbered, recording, stderr, steady, taken, to_its_end, to_record,
    wait_for_bytes,
};
use crate::support::program::{line, program, started_by};
use crate::support::terminal::Terminal;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

/// The program started by a shell that has set something up.
fn by_shell(dir: &Path, first: &str) -> Command {
    let mut shell = Command::new("sh");
    shell.arg("-c").arg(format!("{first}; exec \"$0\" \"$@\""));
    started_by(shell, dir)
}

/// No file may be longer than so many blocks of 512 bytes, and the system says so instead of killing (POSIX `ulimit -f`).
fn limit(blocks: u32) -> String {
    format!("trap '' XFSZ; ulimit -f {blocks}")
}

/// Ended with code 2 and these words; what they say is in the file is what opens.
fn assert_told(ran: &Output, csv: &Path, parts: &[&str]) {
    let words = stderr(ran);
    assert_eq!(ran.status.code(), Some(2), "{words}");
    for part in parts {
        assert!(words.contains(part), "`{part}`: {words}");
    }
    let kept = taken(csv).1;
    assert!(
        kept.iter()
            .copied()
            .eq((0..kept.len() as u64).map(numbered))
    );
    assert!(kept.len() > 1000);
    assert!(
        words.contains(&format!("the first {} are in", kept.len())),
        "{}: {words}",
        kept.len()
    );
}

#[test]
fn a_file_that_may_not_grow_ends_the_run_in_words() {
    let dir = tempfile::tempdir().unwrap();
    let board = board(steady(60), 4.0);
    let shell = by_shell(dir.path(), &limit(64));
    let ran = to_its_end(to_record(shell, board.path(), "rest=60"));
    assert_told(
        &ran,
        &dir.path().join("x.csv"),
        &["File too large", "Make room", "x.csv", "are lost"],
    );
}

/// A small disk of its own, unmounted at the end. Needs the right to mount.
struct SmallDisk(PathBuf);

impl SmallDisk {
    fn new(under: &Path) -> Option<Self> {
        let at = under.join("small");
        std::fs::create_dir(&at).unwrap();
        let mount = Command::new("mount")
            .args(["-t", "tmpfs", "-o", "size=64k", "tmpfs"])
            .arg(&at)
            .output();
        if mount.is_ok_and(|mount| mount.status.success()) {
            return Some(Self(at));
        }
        eprintln!(
            "SKIPPED: no right to mount a small disk; the same is tried with a limit on the file's length"
        );
        None
    }
}

impl Drop for SmallDisk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg("-l").arg(&self.0).status();
    }
}

#[test]
fn a_full_disk_ends_the_run_in_words() {
    let dir = tempfile::tempdir().unwrap();
    let Some(small) = SmallDisk::new(dir.path()) else {
        return;
    };
    let board = board(steady(60), 4.0);
    let ran = to_its_end(recording(&small.0, board.path(), "rest=60"));
    assert_told(
        &ran,
        &small.0.join("x.csv"),
        &["No space left on device", "Make room", "x.csv", "are lost"],
    );
    assert_eq!(names(&small.0), ["x.csv", "x.csv-metadata.json"]);
}

/// Live on the screen: the words stand there, the terminal is given back, the exit code is 2.
#[test]
fn the_screen_tells_of_a_full_disk_and_gives_the_terminal_back() {
    let dir = tempfile::tempdir().unwrap();
    let board = board(steady(600), 4.0);
    let program = line(&format!("--port {}", board.path().display()));
    let command = format!("{}; {program}", limit(64));
    let Some(screen) = Terminal::start(dir.path(), 100, 30, &command) else {
        return;
    };
    screen.wait_for("What shall we measure?");
    screen.press("Enter");
    screen.wait_for("Name this part");
    screen.press("Enter");
    let message = screen.wait_for("The run cannot go on");
    for part in ["File too large", "Make room", "the first"] {
        assert!(message.contains(part), "{part}: {message}");
    }
    screen.press("q");
    std::thread::sleep(std::time::Duration::from_millis(300));
    if !screen.shown().contains("ended=") {
        screen.press("q"); // what is not saved is told of once
    }
    let ended = screen.wait_for("ended=2");
    assert!(
        ended.contains("File too large"),
        "the words stay on the terminal: {ended}"
    );
    assert!(!ended.contains('▌'), "the screen is gone: {ended}");
    let csv = names(dir.path())
        .into_iter()
        .find(|name| Path::new(name).extension().is_some_and(|end| end == "csv"))
        .unwrap();
    assert!(taken(&dir.path().join(csv)).1.len() > 1000);
}

/// A folder that may not be written, also by root, who then goes without the right to overlook that.
#[test]
fn a_folder_that_may_not_be_written_is_told_of_at_once() {
    use std::os::unix::fs::PermissionsExt;
    let dir = tempfile::tempdir().unwrap();
    let shut = dir.path().join("shut");
    std::fs::create_dir(&shut).unwrap();
    std::fs::set_permissions(&shut, std::fs::Permissions::from_mode(0o555)).unwrap();
    let board = board(steady(60), 4.0);
    let mut command = recording(&shut, board.path(), "rest=60");
    if std::fs::write(shut.join("probe"), "").is_ok() {
        std::fs::remove_file(shut.join("probe")).unwrap();
        let mut setpriv = Command::new("setpriv");
        setpriv.args([
            "--bounding-set",
            "-dac_override",
            "--inh-caps",
            "-dac_override",
        ]);
        command = to_record(started_by(setpriv, &shut), board.path(), "rest=60");
    }
    let ran = to_its_end(command);
    let words = stderr(&ran);
    assert_eq!(ran.status.code(), Some(2), "{words}");
    for part in [
        "Permission denied",
        "a folder that you may write to",
        "x.csv",
        "No sample was recorded",
    ] {
        assert!(words.contains(part), "`{part}`: {words}");
    }
    assert!(names(&shut).is_empty());
}

#[test]
fn a_folder_that_is_not_there_is_told_of() {
    let dir = tempfile::tempdir().unwrap();
    let board = board(steady(60), 4.0);
    let mut command = program(dir.path());
    command.args([
        "record",
        "--steps",
        "rest=60",
        "--out",
        "none/such/x",
        "--port",
    ]);
    command.arg(board.path());
    let ran = to_its_end(command);
    let words = stderr(&ran);
    assert_eq!(ran.status.code(), Some(2), "{words}");
    for part in ["none/such/x.csv", "No such file", "mkdir"] {
        assert!(words.contains(part), "`{part}`: {words}");
    }
    assert!(!dir.path().join("none").exists());
}

/// What somebody does to the folder while the program records into it; gives the end of it.
fn while_recording(harm: impl Fn(&Path)) -> (Output, tempfile::TempDir) {
    let dir = tempfile::tempdir().unwrap();
    let folder = dir.path().join("runs");
    std::fs::create_dir(&folder).unwrap();
    let board = board(steady(60), 1.0);
    let mut command = program(dir.path());
    command.args(["record", "--steps", "rest=20", "--out", "runs/x", "--port"]);
    let child = command
        .arg(board.path())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    wait_for_bytes(&folder.join("x.csv"), 5000);
    harm(&folder);
    (ended(child), dir)
}

#[test]
fn what_is_taken_away_while_recording_is_told_of() {
    // A file that is written meanwhile keeps the folder.
    let remove: (&str, fn(&Path)) = ("the folder", |folder| {
        assert!((0..1000).any(|_| std::fs::remove_dir_all(folder).is_ok()));
    });
    let rename: (&str, fn(&Path)) = ("renamed", |folder| {
        std::fs::rename(folder, folder.with_file_name("elsewhere")).unwrap();
    });
    let table: (&str, fn(&Path)) = ("the table", |folder| {
        std::fs::remove_file(folder.join("x.csv")).unwrap();
    });
    let emptied: (&str, fn(&Path)) = ("emptied", |folder| {
        std::fs::write(folder.join("x.csv"), "").unwrap();
    });
    for (what, harm) in [remove, rename, table, emptied] {
        // The harm may come between the look whether the file is there and the writing of its metadata, which then fails in
        // other words: once more.
        let (words, dir) = (0..20)
            .find_map(|_| {
                let (ran, dir) = while_recording(harm);
                let words = stderr(&ran);
                assert_eq!(ran.status.code(), Some(2), "{what}: {words}");
                assert!(
                    words.contains("none of them is under the name runs/x.csv"),
                    "{what}: {words}"
                );
                let between = words.contains("cannot write runs/x.csv-metadata.json");
                (!between).then_some((words, dir))
            })
            .unwrap();
        assert!(
            words.contains("runs/x.csv is no longer the file"),
            "{what}: {words}"
        );
        assert!(words.contains("Leave the folder alone"), "{what}: {words}");
        if what == "renamed" {
            assert!(!taken(&dir.path().join("elsewhere/x.csv")).1.is_empty());
        }
    }
}
