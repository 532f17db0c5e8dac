//! Captures: written, read back, cut, refused. Contract: DESIGN 4.2.

use crate::support::recording::signal;
use measure::units::{Code, Step, Track};
use pedalproof::capture::{
    BoardMeta, CaptureWriter, Disk, LooksTaken, Metadata, RealDisk, RefMeta, StreamCounts,
    TableFile, UnitMeta, metadata_path, open,
};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

fn meta() -> Metadata {
    Metadata {
        unit: UnitMeta {
            tag: Some("T1".into()),
            profile: None,
        },
        reference: Some(RefMeta {
            unit: "deg".into(),
            low: Some(0.0),
            high: Some(40.0),
            u: Some(0.1),
        }),
        started: Some("2026-11-25T09:00:00Z".into()),
        looks: Some(LooksTaken {
            taken: 2,
            planned: 4,
        }),
        ..Metadata::new(
            BoardMeta::new("bench board", 10, 5000.0, 1000.0),
            vec![
                ("pedal_b".into(), signal(Track::Two)),
                ("pedal_a".into(), signal(Track::One)),
            ],
        )
    }
}

/// A folder with a capture of these CSV bytes.
fn laid(csv: &str) -> (tempfile::TempDir, PathBuf) {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("c.csv");
    std::fs::write(&path, csv).unwrap();
    std::fs::write(metadata_path(&path), meta().to_json("c.csv")).unwrap();
    (dir, path)
}

fn refused(csv: &str) -> String {
    let (_dir, path) = laid(csv);
    let message = open(&path).unwrap_err().to_string();
    assert!(message.contains("c.csv"), "names no file: {message}");
    message
}

#[test]
fn what_is_written_reads_back() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("T1.csv");
    let mut writer = CaptureWriter::create(&path, meta()).unwrap();
    let rows = [
        (4_294_967_290, Step::Rest, [82, 164], Some(0.0)),
        (4_294_967_390, Step::Rest, [82, 165], None),
        (4_294_968_290, Step::Idle, [300, 600], Some(12.25)),
        (4_294_969_290, Step::Rest, [81, 163], Some(0.125)),
    ];
    for (t, step, codes, position) in rows {
        writer
            .push(t, step, codes.into_iter().map(Code), position)
            .unwrap();
    }
    let counts = StreamCounts {
        lines: 6,
        samples: 4,
        rejected: [("bad sum".to_owned(), 2)].into(),
        missing: 3,
        restarts: 1,
        away: 2,
    };
    writer.finish(&counts).unwrap();

    let text = std::fs::read_to_string(&path).unwrap();
    assert!(
        text.starts_with("t_us,step,pedal_b,pedal_a,ref\r\n4294967290,rest,82,164,0\r\n"),
        "{text}"
    );
    let opened = open(&path).unwrap();
    let capture = opened.capture;
    assert_eq!(capture.t_us, rows.map(|r| r.0));
    assert_eq!(capture.codes[0], [82, 82, 300, 81].map(Code));
    assert_eq!(capture.codes[1], [164, 165, 600, 163].map(Code));
    let reference = capture.reference.as_ref().unwrap();
    assert!(reference[1].is_nan() && (reference[2] - 12.25).abs() < 1e-12);
    let steps: Vec<_> = capture
        .passages
        .iter()
        .map(|p| (p.step, p.range.clone()))
        .collect();
    assert_eq!(
        steps,
        [(Step::Rest, 0..2), (Step::Idle, 2..3), (Step::Rest, 3..4)]
    );
    assert_eq!(capture.meta.stream, counts);
    assert_eq!(
        capture.meta.channels,
        meta().channels,
        "column order is the file's, not the alphabet's"
    );
    assert!(capture.lost.is_none());
    if cfg!(not(unix)) {
        return;
    }
    // The digest, from outside: sha256sum.
    let sum = std::process::Command::new("sha256sum")
        .arg(&path)
        .output()
        .unwrap();
    assert!(
        String::from_utf8(sum.stdout)
            .unwrap()
            .starts_with(&opened.sha256)
    );
}

#[test]
fn a_capture_is_never_overwritten() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("T1.csv");
    CaptureWriter::create(&path, meta())
        .unwrap()
        .finish(&StreamCounts::default())
        .unwrap();
    let message = CaptureWriter::create(&path, meta())
        .unwrap_err()
        .to_string();
    assert!(
        message.contains("T1.csv") && message.contains("never overwritten"),
        "{message}"
    );
    std::fs::remove_file(&path).unwrap();
    let message = CaptureWriter::create(&path, meta())
        .unwrap_err()
        .to_string();
    assert!(message.contains("T1.csv-metadata.json"), "{message}");
}

#[test]
fn a_file_cut_at_any_byte_opens_with_whole_rows_only() {
    let whole = "t_us,step,pedal_a,pedal_b,ref\r\n1000,rest,164,82,0\r\n2000,rest,165,83,1.5\r\n3000,full,860,430,40\r\n";
    let rows = [(1000, 164, 82), (2000, 165, 83), (3000, 860, 430)];
    let header = whole.find('\n').unwrap() + 1;
    for cut in header..=whole.len() {
        let (_dir, path) = laid(&whole[..cut]);
        let capture = open(&path)
            .unwrap_or_else(|e| panic!("cut at {cut}: {e}"))
            .capture;
        // Rows whose line end (LF, or the CR before it) is there.
        let ends: Vec<usize> = whole
            .match_indices('\r')
            .map(|(at, _)| at + 1)
            .filter(|end| *end > header)
            .collect();
        let kept = ends.iter().filter(|end| **end <= cut).count();
        let got: Vec<_> = (0..capture.t_us.len())
            .map(|i| {
                (
                    capture.t_us[i],
                    capture.codes[0][i].0,
                    capture.codes[1][i].0,
                )
            })
            .collect();
        assert_eq!(got, rows[..kept], "cut at {cut}");
        let clean = cut == header || ends.contains(&cut) || ends.contains(&(cut - 1));
        assert_eq!(
            capture.lost.is_none(),
            clean,
            "cut at {cut}: {:?}",
            capture.lost
        );
    }
}

#[test]
fn bad_tables_are_refused_with_their_place() {
    let head = "t_us,step,pedal_a,pedal_b,ref\n";
    let row = |text: &str| format!("{head}1000,rest,164,82,0\n{text}\n");
    for (csv, words) in [
        (String::new(), "empty"),
        ("t_us,pedal_a,pedal_b\n".into(), "no column `step`"),
        ("t_us,step,pedal_a\n".into(), "`pedal_b`"),
        (
            "t_us,step,pedal_a,pedal_b,knob\n".into(),
            "`knob` is not described",
        ),
        ("t_us,step,pedal_a,pedal_b,pedal_a\n".into(), "twice"),
        (
            row("2000,rest,164"),
            "line 3: has 3 fields, the header has 5",
        ),
        (row("2000,sweep,164,82,0"), "line 3, column `step`: `sweep`"),
        (
            row("2000,rest,1024,82,0"),
            "line 3, column `pedal_a`: code 1024 is above 1023",
        ),
        (
            row("2000,rest,16.4,82,0"),
            "line 3, column `pedal_a`: `16.4`",
        ),
        (row("2000,rest,-1,82,0"), "column `pedal_a`: `-1`"),
        (row("2000,rest,,82,0"), "column `pedal_a`: ``"),
        (
            row("999,rest,164,82,0"),
            "line 3, column `t_us`: time goes back from 1000 to 999",
        ),
        (row("2000,rest,164,82,left"), "column `ref`: `left`"),
        (row("99999999999999999999,rest,164,82,0"), "column `t_us`"),
    ] {
        let message = refused(&csv);
        assert!(message.contains(words), "{words:?} not in {message:?}");
    }
}

#[test]
fn a_csv_without_metadata_says_what_is_missing() {
    let (_dir, path) = laid("t_us,step,pedal_a,pedal_b,ref\n");
    std::fs::remove_file(metadata_path(&path)).unwrap();
    let message = open(&path).unwrap_err().to_string();
    assert!(
        message.contains("c.csv-metadata.json is missing") && message.contains("import"),
        "{message}"
    );
    let message = open(Path::new("/nowhere/at/all.csv"))
        .unwrap_err()
        .to_string();
    assert!(message.contains("/nowhere/at/all.csv"), "{message}");
}

#[test]
fn bad_metadata_is_refused_with_its_place() {
    let (_dir, path) = laid("t_us,step,pedal_a,pedal_b,ref\n");
    let beside = metadata_path(&path);
    let good = std::fs::read_to_string(&beside).unwrap();
    for (from, to, words) in [
        (
            "\"capture/1\"",
            "\"capture/2\"",
            "`capture/2` is not `capture/1`",
        ),
        ("\"bits\": 10", "\"bits\": 60", "60 bits"),
        (
            "\"rate_hz\": 1000.0",
            "\"rate_hz\": 0",
            "pedalproof.board.rate_hz",
        ),
        ("\"track\": 1", "\"track\": 3", "track"),
        ("\"role\": \"signal\"", "\"role\": \"noise\"", "noise"),
        (
            "\"pedalproof\"",
            "\"elsewhere\"",
            "`pedalproof`: is missing",
        ),
        ("\"low\": 0.0", "\"low\": 40.0", "two different positions"),
        ("\"taken\": 2", "\"taken\": 5", "pedalproof.looks"),
        ("\"planned\": 4", "\"planned\": 40", "at most 6"),
        ("{", "[", "expected an object with `format`"),
        (
            "\"bits\": 10",
            "\"bits\": \"ten\"",
            "at `pedalproof.board.bits`",
        ),
        ("\"url\"", "url", "line"),
    ] {
        assert!(good.contains(from), "the fixture has no {from}");
        std::fs::write(&beside, good.replacen(from, to, 1)).unwrap();
        let message = open(&path).unwrap_err().to_string();
        assert!(
            message.contains(words) && message.contains("metadata.json"),
            "{words:?} not in {message:?}"
        );
    }
    std::fs::write(&beside, good + "{}\n").unwrap();
    let message = open(&path).unwrap_err().to_string();
    assert!(message.contains("trailing characters"), "{message}");
}

/// A disk with room for so many bytes of rows.
#[derive(Debug)]
struct Full(usize);

#[derive(Debug)]
struct FullTable(Box<dyn TableFile>, usize);

impl Write for FullTable {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let n = self.1.min(bytes.len());
        self.1 -= n;
        if n == 0 {
            return Err(io::ErrorKind::StorageFull.into());
        }
        self.0.write(&bytes[..n])
    }

    fn flush(&mut self) -> io::Result<()> {
        self.0.flush()
    }
}

impl TableFile for FullTable {
    fn sync(&mut self) -> io::Result<()> {
        self.0.sync()
    }
}

impl Disk for Full {
    fn exists(&mut self, path: &Path) -> io::Result<bool> {
        RealDisk.exists(path)
    }

    fn length(&mut self, path: &Path) -> io::Result<u64> {
        RealDisk.length(path)
    }

    fn create_new(&mut self, path: &Path, first: &[u8]) -> io::Result<Box<dyn TableFile>> {
        let file = RealDisk.create_new(path, first)?;
        Ok(Box::new(FullTable(file, self.0)))
    }

    fn write(&mut self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        RealDisk.write(path, bytes)
    }

    fn rename(&mut self, from: &Path, to: &Path) -> io::Result<()> {
        RealDisk.rename(from, to)
    }

    fn remove(&mut self, path: &Path) -> io::Result<()> {
        RealDisk.remove(path)
    }
}

/// Wherever the disk is full, also between the two characters that end a row, what is said to be there is what reads back.
#[test]
fn a_table_cut_at_every_byte_holds_the_samples_that_are_told() {
    let dir = tempfile::tempdir().unwrap();
    let mut message = Vec::new();
    for room in 1..60 {
        let path = dir.path().join(format!("{room}.csv"));
        let mut writer = CaptureWriter::create_on(Box::new(Full(room)), &path, meta()).unwrap();
        for t in 0..4 {
            let codes = [100, 200].into_iter().map(Code);
            writer.push(1000 * t, Step::Rest, codes, None).unwrap();
        }
        writer.flush(&StreamCounts::default()).unwrap_err();
        let on_disk = writer.leave();
        let read = open(&path).unwrap().capture.t_us.len() as u64;
        assert_eq!(on_disk.samples, read, "room for {room} bytes");
        message.push(read);
    }
    // `0,rest,100,200,` and its end are 17 bytes, the next ones 20.
    assert_eq!(
        (message[14], message[15], message[58]),
        (0, 1, 3),
        "{message:?}"
    );
}

/// A foreign recording need not say which of two signals is which track: the first column is the first, as in a stream.
#[test]
fn two_signals_that_state_no_track_are_first_and_second() {
    use crate::support::program::{pedalproof, stdout};
    let dir = tempfile::tempdir().unwrap();
    pedalproof(dir.path(), "examples .");
    let answers = || {
        [
            "assess T1-pedal.csv",
            "constants T1-pedal.csv T1-dial.csv --json",
        ]
        .map(|command| stdout(&pedalproof(dir.path(), command)))
    };
    let stated = answers();
    assert!(
        stated[0].starts_with("FIT IT") && stated[1].contains("pedal_b"),
        "{stated:?}"
    );
    let path = dir.path().join("T1-pedal.csv-metadata.json");
    let text = std::fs::read_to_string(&path).unwrap();
    let mut json: serde_json::Value = serde_json::from_str(&text).unwrap();
    for channel in ["pedal_a", "pedal_b"] {
        let channel = json["pedalproof"]["channels"][channel].as_object_mut();
        assert!(channel.unwrap().remove("track").is_some());
    }
    std::fs::write(&path, json.to_string()).unwrap();
    assert_eq!(answers(), stated);
}

/// "All checks passed" does not speak for a track of which the profile says nothing.
#[test]
fn a_signal_that_the_profile_does_not_know_is_said_to_be_not_judged() {
    use crate::support::program::{pedalproof, stderr};
    let dir = tempfile::tempdir().unwrap();
    pedalproof(dir.path(), "examples .");
    let told = |profile: &str| {
        let command = format!("assess T1-pedal.csv --profile {profile}");
        stderr(&pedalproof(dir.path(), &command)).contains("pedal_b was not judged")
    };
    assert!(told("pedal-hall-one-track") && !told("pedal-hall-two-track"));
}
