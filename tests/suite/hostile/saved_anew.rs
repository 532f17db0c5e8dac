//! What spreadsheets and editors make of a file when they save it: taken where that is safe, else told what it is and what to do.

use crate::support::program::{example, pedalproof, program, stderr};
use std::path::Path;

fn utf16(text: &str, mark: bool) -> Vec<u8> {
    let mark = if mark { "\u{feff}" } else { "" };
    let wide = format!("{mark}{text}");
    wide.encode_utf16().flat_map(u16::to_le_bytes).collect()
}

fn big_endian(text: &str) -> Vec<u8> {
    let wide = format!("\u{feff}{text}");
    wide.encode_utf16().flat_map(u16::to_be_bytes).collect()
}

/// The dial's capture under another name, table and metadata as given.
fn saved(dir: &Path, name: &str, table: &[u8], metadata: &[u8]) {
    std::fs::write(dir.join(format!("{name}.csv")), table).unwrap();
    std::fs::write(dir.join(format!("{name}.csv-metadata.json")), metadata).unwrap();
}

fn text(path: &Path) -> String {
    std::fs::read_to_string(path).unwrap()
}

/// A change of the whole text.
type Change = fn(&str) -> Vec<u8>;

#[test]
fn a_table_is_taken_or_it_is_told_how_it_was_saved() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let csv = example("T1-dial");
    let (table, metadata) = (
        text(&csv),
        text(Path::new(&format!("{}-metadata.json", csv.display()))),
    );
    let with = |by: &str| table.replace(',', by);
    let quoted = |line: &str| format!("\"{}\"\r\n", line.replace(',', "\",\""));
    let first = |line: &str, new: &str| table.replacen(line, new, 1).into_bytes();
    let second = table.lines().nth(1).unwrap();
    let (time, rest) = second.split_once(',').unwrap();
    for (name, saved_as) in [
        ("marked", format!("\u{feff}{table}").into_bytes()),
        ("wide", utf16(&table, true)),
        ("big-endian", big_endian(&table)),
        (
            "marked-quoted",
            format!("\u{feff}{}", table.lines().map(quoted).collect::<String>()).into_bytes(),
        ),
        (
            "quoted",
            table.lines().map(quoted).collect::<String>().into_bytes(),
        ),
        ("unix", table.replace("\r\n", "\n").into_bytes()),
    ] {
        saved(dir, name, &saved_as, metadata.as_bytes());
        let output = pedalproof(dir, &["assess", &format!("{name}.csv")]);
        assert_eq!(output.status.code(), Some(0), "{name}: {}", stderr(&output));
    }
    for (name, saved_as, says) in [
        ("semicolons", with(";").into_bytes(), "parted by semicolons"),
        ("tabs", with("\t").into_bytes(), "parted by tabs"),
        (
            "sep",
            format!("sep=;\r\n{}", with(";")).into_bytes(),
            "`sep=` stands ahead",
        ),
        (
            "sep-capitals",
            format!("SEP=;\r\n{}", with(";")).into_bytes(),
            "`sep=` stands ahead",
        ),
        ("blanks", with(" ").into_bytes(), "parted by blanks"),
        (
            "title",
            format!("Dial of the trolley, May\r\n\r\n{table}").into_bytes(),
            "the header stands in line 3",
        ),
        (
            "comment",
            format!("# taken by hand\r\n{}", with(";")).into_bytes(),
            "the header stands in line 2",
        ),
        (
            "trailing",
            table.replace("\r\n", ",\r\n").into_bytes(),
            "ends with a comma, which makes an empty column",
        ),
        ("bare-wide", utf16(&table, false), "UTF-16 without the mark"),
        (
            "capitals",
            first("t_us", "T_us"),
            "`T_us` is written otherwise",
        ),
        (
            "exponent",
            first(second, &format!("1.2E+06,{rest}")),
            "as a spreadsheet writes",
        ),
        (
            "decimal",
            first(second, &format!("{time}.0,{rest}")),
            "as a spreadsheet writes",
        ),
        (
            "thousands",
            first(second, &format!("\"1,{time}\",{rest}")),
            "as a spreadsheet writes",
        ),
    ] {
        saved(dir, name, &saved_as, metadata.as_bytes());
        let output = pedalproof(dir, &["assess", &format!("{name}.csv")]);
        let said = stderr(&output);
        assert_eq!(output.status.code(), Some(2), "{name}: {said}");
        let way_out = said.contains("pedalproof import")
            || said.contains("as it was recorded")
            || name == "capitals";
        assert!(said.contains(says) && way_out, "{name}: {said}");
        assert!(
            !said.contains("no column `t_us`:"),
            "{name}: it stands there: {said}"
        );
    }
}

#[test]
fn a_spreadsheets_own_file_is_told_with_and_without_metadata() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let metadata = text(Path::new(&format!(
        "{}-metadata.json",
        example("T1-dial").display()
    )));
    for begins in [
        &b"PK\x03\x04\x14\0\x06\0"[..],
        b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1",
    ] {
        saved(dir, "beside", begins, metadata.as_bytes());
        std::fs::write(dir.join("alone.csv"), begins).unwrap();
        for name in ["beside.csv", "alone.csv"] {
            let output = pedalproof(dir, &format!("assess {name}"));
            let said = stderr(&output);
            assert_eq!(output.status.code(), Some(2), "{name}: {said}");
            assert!(
                said.contains("own file") && said.contains("save it as"),
                "{name}: {said}"
            );
        }
    }
}

#[test]
fn json_of_editors_is_taken_and_slips_are_told() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let profile = include_str!("../../../profiles/lever-shunting.json");
    let marked: Change = |text| format!("\u{feff}{text}").into_bytes();
    let wide: Change = |text| utf16(text, true);
    let trailing: Change = |text| {
        let end = text.trim_end().strip_suffix('}').unwrap().trim_end();
        format!("{end},\n}}\n").into_bytes()
    };
    let comment: Change = |text| format!("// mine\n{text}").into_bytes();
    let curly: Change = |text| {
        text.replacen("\"kind\"", "\u{201c}kind\u{201d}", 1)
            .into_bytes()
    };
    let csv = example("T1-dial");
    let metadata = text(Path::new(&format!("{}-metadata.json", csv.display())));
    for (change, code, says) in [
        (marked, 0, ""),
        (wide, 0, ""),
        (trailing, 2, "take it out"),
        (comment, 2, "JSON has no comments"),
        (curly, 2, "straight double quotes"),
    ] {
        std::fs::write(dir.join("p.json"), change(profile)).unwrap();
        let output = pedalproof(dir, "profile check p.json");
        let said = stderr(&output);
        assert_eq!(output.status.code(), Some(code), "{says}: {said}");
        assert!(
            said.contains(says) && (code == 0 || said.contains("line ")),
            "{said}"
        );
        if says.contains("quotes") {
            continue;
        }
        saved(dir, "c", text(&csv).as_bytes(), &change(&metadata));
        let output = pedalproof(dir, "assess c.csv");
        assert_eq!(
            output.status.code(),
            Some(code),
            "{says}: {}",
            stderr(&output)
        );
        assert!(stderr(&output).contains(says), "{}", stderr(&output));
    }
    for bytes in [marked("baud = 9600\n"), wide("baud = 9600\n")] {
        std::fs::write(dir.join("config.toml"), bytes).unwrap();
        let ran = program(dir)
            .env("PEDALPROOF_CONFIG", dir.join("config.toml"))
            .arg("history")
            .output()
            .unwrap();
        assert_eq!(ran.status.code(), Some(0), "{}", stderr(&ran));
    }
    let none = program(dir)
        .env("PEDALPROOF_CONFIG", "/dev/null")
        .arg("history")
        .output()
        .unwrap();
    assert!(
        cfg!(windows) || none.status.code() == Some(0),
        "{}",
        stderr(&none)
    );
}
