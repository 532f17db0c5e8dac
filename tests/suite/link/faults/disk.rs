//! The disk fails at its first operation while recording, its second, and so on until the run completes: once or for
//! good, refusing, taking half, or saying that the file is gone. What the words say is on the disk is on the disk.

use crate::link::setting::{HEADER, at_once, header, names, numbered, samples, taken};
use crate::support::recording::{failure, timed};
use measure::units::Step;
use pedalproof::bench::start_on;
use pedalproof::capture::{Disk, RealDisk, TableFile};
use pedalproof::link::{LinkError, Received, Source};
use std::io::{self, ErrorKind, Write};
use std::path::Path;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex};
use std::time::Duration;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum How {
    /// The disk is full.
    Full,
    /// Half of what was to be written is there, then the disk is full.
    Half,
    /// The medium answers with an error.
    Broken,
}

/// Which operation fails, how, and whether every later one does, too.
#[derive(Debug, Clone, Copy)]
struct Plot {
    at: u64,
    how: How,
    for_good: bool,
}

/// The real disk, until the plot sets in. Counts its operations.
#[derive(Debug, Clone)]
struct Failing {
    plot: Plot,
    done: Arc<AtomicU64>,
    failed: Arc<Mutex<Vec<&'static str>>>,
}

impl Failing {
    fn new(plot: Plot) -> Self {
        Self {
            plot,
            done: Arc::default(),
            failed: Arc::default(),
        }
    }

    fn error(&self) -> io::Error {
        match self.plot.how {
            How::Full | How::Half => ErrorKind::StorageFull.into(),
            How::Broken => io::Error::other("the medium does not answer"),
        }
    }

    /// One operation: an error when it is its turn.
    fn turn(&self, what: &'static str) -> io::Result<()> {
        let n = self.done.fetch_add(1, Ordering::SeqCst) + 1;
        let fails = n == self.plot.at || (self.plot.for_good && n > self.plot.at);
        if fails {
            self.failed.lock().unwrap().push(what);
            return Err(self.error());
        }
        Ok(())
    }
}

#[derive(Debug)]
struct FailingTable {
    disk: Failing,
    file: Box<dyn TableFile>,
    /// Half was taken: the rest is refused.
    then: bool,
}

impl Write for FailingTable {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        if std::mem::take(&mut self.then) {
            return Err(self.disk.error());
        }
        if let Err(e) = self.disk.turn("rows") {
            if self.disk.plot.how == How::Half {
                self.then = true;
                return self.file.write(&bytes[..bytes.len().div_ceil(2)]);
            }
            return Err(e);
        }
        self.file.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.flush()
    }
}

impl TableFile for FailingTable {
    fn sync(&mut self) -> io::Result<()> {
        self.disk.turn("sync")?;
        self.file.sync()
    }
}

impl Disk for Failing {
    fn exists(&mut self, path: &Path) -> io::Result<bool> {
        self.turn("exists")?;
        RealDisk.exists(path)
    }

    fn length(&mut self, path: &Path) -> io::Result<u64> {
        self.turn("length")?;
        RealDisk.length(path)
    }

    fn create_new(&mut self, path: &Path, first: &[u8]) -> io::Result<Box<dyn TableFile>> {
        self.turn("create")?;
        let file = RealDisk.create_new(path, first)?;
        let disk = self.clone();
        Ok(Box::new(FailingTable {
            disk,
            file,
            then: false,
        }))
    }

    fn write(&mut self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        if let Err(e) = self.turn("metadata") {
            if self.plot.how == How::Half {
                RealDisk.write(path, &bytes[..bytes.len() / 2])?;
            }
            return Err(e);
        }
        RealDisk.write(path, bytes)
    }

    fn rename(&mut self, from: &Path, to: &Path) -> io::Result<()> {
        self.turn("rename")?;
        RealDisk.rename(from, to)
    }

    fn remove(&mut self, path: &Path) -> io::Result<()> {
        self.turn("remove")?;
        RealDisk.remove(path)
    }
}

/// A board that takes its time, so that the run flushes twice before its end.
struct Slow {
    lines: std::vec::IntoIter<(u64, Vec<u8>)>,
}

impl Source for Slow {
    fn receive(&mut self, buffer: &mut [u8], _: Duration) -> Result<Received, LinkError> {
        std::thread::sleep(Duration::from_millis(10));
        let mut n = 0;
        for (_, line) in self.lines.by_ref().take(10) {
            buffer[n..n + line.len()].copy_from_slice(&line);
            n += line.len();
        }
        Ok(if n == 0 {
            Received::Ended
        } else {
            Received::Bytes(n)
        })
    }

    fn describe(&self) -> String {
        "slow board".into()
    }
}

const SAMPLES: u64 = 1199;

/// Runs 1.2 s onto the disk; gives the words of its failure.
fn record(csv: &Path, disk: &Failing) -> Option<String> {
    let lines: Vec<_> = std::iter::once(header(0, HEADER))
        .chain(samples(0..SAMPLES, 0, numbered))
        .collect();
    let source = Box::new(Slow {
        lines: lines.into_iter(),
    });
    let setup = timed(source, Step::Rest, 600.0, csv);
    failure(&start_on(setup, Box::new(disk.clone())))
}

/// The number before some words.
fn before(words: &str, mark: &str) -> Option<u64> {
    let head = &words[..words.find(mark)?];
    head.split_whitespace().last()?.parse().ok()
}

/// Holds what the words say of the disk against the disk.
fn hold(words: &str, csv: &Path, told: &str) {
    assert!(words.contains(csv.to_str().unwrap()), "{told}: {words}");
    assert!(
        words.lines().count() >= 3,
        "{told}: what, what next, where: {words}"
    );
    if words.contains("No sample was recorded") {
        assert!(!csv.exists(), "{told}: {words}");
        return;
    }
    let (t_us, codes, _) = taken(csv);
    for (t, code) in t_us.iter().zip(&codes) {
        assert_eq!(*code, numbered(t / 1000), "{told}");
    }
    let kept = before(words, " samples, is in").or_else(|| before(words, " are in"));
    assert_eq!(kept, Some(codes.len() as u64), "{told}: {words}");
    if let Some(lost) = before(words, " are lost") {
        let all = before(words, " samples were taken").unwrap();
        assert_eq!(all, codes.len() as u64 + lost, "{told}: {words}");
    }
}

#[test]
fn a_disk_that_fails_at_every_operation_until_the_run_completes() {
    let folder = tempfile::tempdir().unwrap();
    let kinds = [How::Full, How::Half, How::Broken];
    let ways: Vec<(How, bool)> = kinds
        .into_iter()
        .flat_map(|how| [(how, false), (how, true)])
        .collect();
    let whole = Failing::new(Plot {
        at: u64::MAX,
        how: How::Full,
        for_good: false,
    });
    let csv = folder.path().join("whole.csv");
    assert_eq!(record(&csv, &whole), None);
    assert_eq!(taken(&csv).1.len() as u64, SAMPLES);
    let operations = whole.done.load(Ordering::SeqCst);
    assert!(operations >= 18, "{operations}: two flushes and an end");

    let seen = Mutex::new(std::collections::BTreeSet::new());
    let one = |case: u64| {
        let (how, for_good) = ways[usize::try_from(case).unwrap() % ways.len()];
        let at = 1 + case / ways.len() as u64;
        let plot = Plot { at, how, for_good };
        let dir = folder.path().join(case.to_string());
        std::fs::create_dir(&dir).unwrap();
        let (csv, disk) = (dir.join("x.csv"), Failing::new(plot));
        let ended = record(&csv, &disk);
        let failed = disk.failed.lock().unwrap().clone();
        let told = format!("{plot:?}, failed {failed:?}");
        seen.lock().unwrap().extend(failed.first().copied());
        let Some(words) = ended else {
            // To ask how long the file is was no use; that is no reason to end a run.
            assert!(failed.iter().all(|what| *what == "length"), "{told}");
            assert_eq!(taken(&csv).1.len() as u64, SAMPLES, "{told}");
            return;
        };
        hold(&words, &csv, &told);
        // With a disk that has only hiccuped nothing is left lying about, half or beside a name.
        if !for_good {
            let both = ["x.csv", "x.csv-metadata.json"];
            let expected = if csv.exists() { &both[..] } else { &[] };
            assert_eq!(names(&dir), expected, "{told}");
        }
    };
    let mut cases = (operations + 2) * ways.len() as u64;
    at_once(0..cases, 16, one);
    // The end lies further on where the machine was slower than in the whole run, and flushed more often.
    while !seen.lock().unwrap().contains("sync") {
        assert!(cases < 10 * operations * ways.len() as u64);
        one(cases);
        cases += 1;
    }
    let seen: Vec<_> = seen.into_inner().unwrap().into_iter().collect();
    assert_eq!(
        seen,
        [
            "create", "exists", "length", "metadata", "rename", "rows", "sync"
        ]
    );
}
