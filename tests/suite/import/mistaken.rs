//! Files that are easily taken for something else: each is read as a person would read it, or the person is asked.

use crate::support::program::{pedalproof, stderr, stdout};
use serde_json::Value;
use std::path::Path;

const ROWS: usize = 400;

/// A line of the codes of two tracks.
type Codes = fn((usize, usize)) -> String;
/// A time from seconds and milliseconds.
type Clock = fn(usize, usize) -> String;

/// Codes of a track at a row: from 102 up, and half of it on the other track.
fn code(k: usize) -> usize {
    102 + k % 300
}

/// A file of so many rows after its first lines.
fn write(dir: &Path, ahead: &str, row: impl Fn(usize) -> String) {
    let rows: Vec<String> = (0..ROWS).map(row).collect();
    std::fs::write(dir.join("x.csv"), format!("{ahead}{}\n", rows.join("\n"))).unwrap();
}

fn import(dir: &Path, more: &str) -> std::process::Output {
    for made in ["y.csv", "y.csv-metadata.json"] {
        let _ = std::fs::remove_file(dir.join(made));
    }
    let all = format!("import x.csv --vref-mv 5000 --bits 10 --out y {more}");
    pedalproof(dir, &all.split_whitespace().collect::<Vec<_>>())
}

/// The heading of the recording that was made, its last row and what it says was missing.
fn made(dir: &Path, more: &str) -> (String, String, Value) {
    let output = import(dir, more);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let table = std::fs::read_to_string(dir.join("y.csv")).unwrap();
    let lines: Vec<&str> = table.lines().collect();
    assert_eq!(lines.len(), ROWS + 1, "{}", stderr(&output));
    let meta = std::fs::read(dir.join("y.csv-metadata.json")).unwrap();
    let meta: Value = serde_json::from_slice(&meta).unwrap();
    let (heading, last) = (lines[0], lines[ROWS]);
    let codes = last.splitn(3, ',').nth(2).unwrap();
    (
        heading.trim_start_matches("t_us,step,").to_owned(),
        format!("{} {codes}", last.split(',').next().unwrap()),
        meta["pedalproof"]["stream"]["missing"].clone(),
    )
}

/// The last of the 400 rows, 4 ms apart, holds 102 + 99.
const LAST: &str = "1596000 201";
const BOTH: &str = "1596000 201,100";

#[test]
fn both_numbers_of_a_line_are_read() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let two = |k: usize| (code(k), code(k) / 2);
    let rows: [(&str, Codes, &str); 8] = [
        ("", |(a, b)| format!("A0: {a},A1: {b}"), "a0,a1"),
        ("", |(a, b)| format!("A0:{a},A1:{b}"), "a0,a1"),
        ("hello\n", |(a, b)| format!("A0={a} A1={b}"), "a0,a1"),
        ("", |(a, b)| format!("{{\"a\":{a},\"b\":{b}}}"), "a,b"),
        ("ready\n", |(a, b)| format!("{a},{b}"), "signal_1,signal_2"),
        ("", |(a, b)| format!("{a};{b}"), "signal_1,signal_2"),
        ("a,b\n", |(a, b)| format!("{a},{b}"), "a,b"),
        ("ready\n", |(a, b)| format!("{a}\t{b}"), "signal_1,signal_2"),
    ];
    for (ahead, row, heading) in rows {
        write(dir, ahead, |k| row(two(k)));
        let made = made(dir, "--rate-hz 250 --unit code");
        assert_eq!((&*made.0, &*made.1), (heading, BOTH), "{}", row((1, 2)));
    }
    // The time of day that a monitor writes ahead of a line.
    for (open, close) in [("", " -> "), ("[", "] ")] {
        write(dir, "", |k| {
            let (a, b) = two(k);
            let (s, ms) = (30 + k / 250, k % 250 * 4);
            format!("{open}11:59:{s:02}.{ms:03}{close}{a},{b}")
        });
        let made = made(dir, "--unit code");
        assert_eq!((&*made.0, &*made.1), ("signal_2,signal_3", BOTH));
    }
    // What cannot be told apart is refused.
    write(dir, "", |k| format!("{k} {},{},7", code(k), code(k) / 2));
    let refused = import(dir, "--rate-hz 250 --unit code");
    assert_eq!(refused.status.code(), Some(2), "{}", stderr(&refused));
    assert!(stderr(&refused).contains("cannot be told apart"));
}

#[test]
fn a_decimal_comma_is_told_from_two_numbers() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    // 0.498 V .. 1.960 V of 5 V on ten bits; the last row's 0.9814 V is code 201 (0.9814 / 5 * 1024 = 200.99).
    for heading in ["ready\n", "Hebel (V)\n", ""] {
        write(dir, heading, |k| {
            format!("{:.4}", code(k) as f64 * 5.0 / 1024.0 - 1e-4).replace('.', ",")
        });
        let made = made(dir, "--rate-hz 250 --unit V");
        assert_eq!(made.1, LAST, "{heading}");
    }
}

#[test]
fn a_time_is_never_taken_for_another_unit() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let ms = |k: usize| format!("{},{}", 4 * k, code(k));
    for (heading, asks) in [
        (
            "t,lever\n",
            "in which unit is the time in column `t`? Most of its steps are 4",
        ),
        ("timestamp,lever\n", "--time-unit s, ms or us"),
        ("Time (min),lever\n", "says `min`"),
        ("Time (ns),lever\n", "says `ns`"),
        ("time,lever (kohm)\nms,\n", "says `kohm`"),
        ("Time (ms),lever (%)\n", "says `%`"),
    ] {
        write(dir, heading, ms);
        let unit = if asks.contains("says `k") || asks.contains("says `%") {
            ""
        } else {
            "--unit code"
        };
        let asked = import(dir, unit);
        assert_eq!(
            asked.status.code(),
            Some(2),
            "{heading}: {}",
            stderr(&asked)
        );
        assert!(
            stderr(&asked).contains(asks),
            "{heading}: {}",
            stderr(&asked)
        );
    }
    for (heading, more) in [
        ("millis,lever\n", ""),
        ("t_ms,lever\n", ""),
        ("Time,lever\nms,raw\n", ""),
        ("t,lever\n", "--time-unit ms"),
        ("Time (min),lever\n", "--time-unit ms"),
    ] {
        write(dir, heading, ms);
        let made = made(dir, &format!("--unit code {more}"));
        assert_eq!(made.1, LAST, "{heading}");
    }
    // A column that counts is no time, and a time is no signal.
    write(dir, "Sample,lever\n", |k| format!("{k},{}", code(k)));
    let counts = import(dir, "--unit code");
    assert!(
        stderr(&counts).contains("`Sample` counts"),
        "{}",
        stderr(&counts)
    );
    write(dir, "t_ms,lever\n", ms);
    assert_eq!(made(dir, "--rate-hz 250 --unit code").0, "lever");
}

#[test]
fn times_of_day_in_every_dress() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let rows: [(&str, Clock); 4] = [
        ("Date,Time,lever", |s, ms| {
            format!("04/11/2026,11:59:{s:02}.{ms:03} AM")
        }),
        ("Stamp,lever", |s, ms| {
            format!("2026-04-11T11:59:{s:02}.{ms:03}+02:00")
        }),
        ("Time,lever", |s, ms| format!("61:{s:02}.{ms:03}")),
        ("Time,lever", |s, ms| {
            format!("11.04.2026 23:59:{s:02}.{ms:03}")
        }),
    ];
    for (heading, time) in rows {
        write(dir, &format!("{heading}\n"), |k| {
            format!("{},{}", time(30 + k / 250, k % 250 * 4), code(k))
        });
        assert_eq!(made(dir, "--unit code").1, LAST, "{heading}");
    }
    write(dir, "Time,lever\n", |k| format!("day {k},{}", code(k)));
    let unread = import(dir, "--unit code");
    assert!(
        stderr(&unread).contains("`Time` holds no time that can be read"),
        "{}",
        stderr(&unread)
    );
}

#[test]
fn a_board_that_starts_again_is_no_midnight_and_a_counter_that_overflows_is() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    // 50 s of milliseconds, then from 0 on: a fall of more than 43 200.
    write(dir, "t_ms,lever\n", |k| {
        let ms = if k < 200 {
            49_200 + 4 * k
        } else {
            4 * (k - 200)
        };
        format!("{ms},{}", code(k))
    });
    let back = import(dir, "--unit code");
    assert!(
        stderr(&back).contains("goes back at its row 201, from 49996 to 0"),
        "{}",
        stderr(&back)
    );
    write(dir, "t_us,lever\n", |k| {
        let us = (4_294_967_000_u64 + 4000 * k as u64) % (1 << 32);
        format!("{us},{}", code(k))
    });
    assert_eq!(made(dir, "--unit code").1, LAST);
}

#[test]
fn columns_that_few_rows_fill_take_no_headings_away() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    for (separator, end) in [(",", ","), ("\t", "\t"), (",", "")] {
        let heading = ["Time (ms)", "lever (mV)", "Note"].join(separator);
        write(dir, &format!("{heading}\n"), |k| {
            let mv = code(k) as f64 * 5000.0 / 1024.0;
            let note = if k % 50 == 0 {
                format!("{separator}pressed")
            } else {
                end.to_owned()
            };
            format!("{}{separator}{mv:.2}{note}", 4 * k)
        });
        let made = made(dir, "");
        assert_eq!(
            (&*made.0, &*made.1),
            ("lever", LAST),
            "{separator:?} {end:?}"
        );
    }
    write(dir, "Time (ms),a,b\n", |k| {
        let few = if k % 10 == 0 { "51" } else { "" };
        format!("{},{},{few}", 4 * k, code(k))
    });
    let output = import(dir, "--unit code");
    assert!(
        stderr(&output).contains("column `b` has a number in 40 of 400 rows"),
        "{}",
        stderr(&output)
    );
}

#[test]
fn lines_that_arrived_late_are_not_lost_ones() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    write(dir, "t_ms,lever\n", |k| {
        let late = [0, 3, 1, 0, 2][k % 5];
        format!("{},{}", 4 * k + late, code(k))
    });
    assert_eq!(made(dir, "--unit code").2, 0);
    // Values that the logger had not: told as what is missing in the file.
    write(dir, "t_ms,lever\n", |k| match k % 20 {
        3 => format!("{},****", 4 * k),
        _ => format!("{},{}", 4 * k, code(k)),
    });
    let output = import(dir, "--unit code --profile lever-shunting");
    assert!(
        stderr(&output).contains("20 lines without a sample, 0 samples missing"),
        "{}",
        stderr(&output)
    );
    let assessed = pedalproof(dir, "assess y.csv");
    let said = stdout(&assessed);
    assert!(
        said.contains("have no value in the file") && !said.contains("cable"),
        "{said}"
    );
}
