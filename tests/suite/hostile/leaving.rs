//! A sent file does not choose what the person reads: whatever stands in a text field, no output has a character in it that
//! nobody sees, and no line that the program did not write.

use crate::support::program::{example, program};
use proptest::prelude::*;
use proptest::test_runner::{Config, TestRunner};
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

/// A line that only the hostile text would begin.
const FORGED: &str = "PASS: fit it, says the file";

/// Characters that are not seen or that move others: controls, C1, bidirectional controls, zero width; from the Unicode Standard,
/// general category Cc and the property `Default_Ignorable_Code_Point` (`DerivedCoreProperties.txt`), written from memory.
const UNSEEN: &[char] = &[
    '\0',
    '\u{1}',
    '\u{7}',
    '\u{8}',
    '\t',
    '\n',
    '\u{b}',
    '\r',
    '\u{1b}',
    '\u{7f}',
    '\u{80}',
    '\u{85}',
    '\u{9b}',
    '\u{9d}',
    '\u{ad}',
    '\u{61c}',
    '\u{200b}',
    '\u{200d}',
    '\u{200e}',
    '\u{202a}',
    '\u{202e}',
    '\u{2028}',
    '\u{2029}',
    '\u{2060}',
    '\u{2066}',
    '\u{2069}',
    '\u{fe0f}',
    '\u{feff}',
    '\u{e0041}',
];

/// Of these, what no output may hold anywhere; a line end is the program's own.
fn is_unseen(c: char) -> bool {
    UNSEEN.contains(&c) && !matches!(c, '\n' | '\t') || c.is_control() && !matches!(c, '\n' | '\t')
}

/// A text with what a terminal obeys, and a line of its own.
fn text() -> impl Strategy<Value = String> {
    let bit = prop_oneof![
        2 => prop::sample::select(UNSEEN).prop_map(String::from),
        1 => prop::sample::select(vec![
            "\u{1b}[2J\u{1b}[H", "\u{1b}]52;c;cm0gLXJm\u{7}", "\u{9b}2J", "\r\u{1b}[K", "T1", "<b>", "`|*", "\"", "é",
        ]).prop_map(str::to_owned),
        1 => Just(format!("\n{FORGED}\n")),
        1 => Just(format!("\r{FORGED}\r")),
    ];
    prop::collection::vec(bit, 1..8).prop_map(|bits| bits.concat())
}

/// What is wrong with an output, if anything.
fn leaked(what: &str, bytes: &[u8]) -> Option<String> {
    let text = String::from_utf8_lossy(bytes);
    // CR LF ends the lines of CSV and Intel HEX.
    let text = text.replace("\r\n", "\n");
    if let Some(c) = text.chars().find(|c| is_unseen(*c)) {
        return Some(format!("{what}: {c:?} in {text:.2000}"));
    }
    let line = text
        .lines()
        .find(|line| line.trim_start().starts_with(FORGED))?;
    Some(format!("{what}: the line {line:?} is the file's"))
}

/// Everything that a command told and wrote; what lay there before is left out.
fn outputs(
    dir: &Path,
    before: &[PathBuf],
    line: &str,
    output: &std::process::Output,
) -> Option<String> {
    let told = leaked(&format!("{line}: stdout"), &output.stdout)
        .or_else(|| leaked(&format!("{line}: stderr"), &output.stderr));
    told.or_else(|| {
        let new = files(dir).into_iter().filter(|file| !before.contains(file));
        new.into_iter().find_map(|file| {
            leaked(
                &format!("{line}: {}", file.display()),
                &std::fs::read(&file).unwrap(),
            )
        })
    })
}

fn files(dir: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(dir).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            found.extend(files(&path));
        } else {
            found.push(path);
        }
    }
    found
}

/// The words of `line`, `HOSTILE` among them replaced.
fn run(dir: &Path, line: &str, hostile: &str) -> Option<String> {
    let before = files(dir);
    let words = line
        .split(' ')
        .map(|word| word.replace("HOSTILE", &hostile.replace('\0', "")));
    let output = program(dir).args(words).output().unwrap();
    let code = output.status.code();
    if !matches!(code, Some(0..=3)) {
        return Some(format!("{line}: ended with {code:?}"));
    }
    outputs(dir, &before, line, &output)
}

/// Puts a text at a place of a JSON file.
fn put(value: &mut Value, place: &str, text: &str) {
    *value.pointer_mut(place).unwrap() = json!(text);
}

fn read(path: &Path) -> Value {
    serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap()
}

/// A short lever capture `c.csv` in which every text field is hostile.
fn capture(dir: &Path, hostile: &str) {
    let from = example("T3-lever-2022");
    let mut meta = read(Path::new(&format!("{}-metadata.json", from.display())));
    for place in [
        "/pedalproof/unit/tag",
        "/pedalproof/board/name",
        "/pedalproof/started",
        "/pedalproof/note",
    ] {
        put(&mut meta, place, hostile);
    }
    meta["pedalproof"]["stream"]["rejected"] = json!({ hostile: 3 });
    let ours = meta["pedalproof"].as_object_mut().unwrap();
    let channels = ours["channels"].as_object_mut().unwrap();
    let (name, lever) = channels
        .iter()
        .next()
        .map(|(name, lever)| (name.clone(), lever.clone()))
        .unwrap();
    channels.clear();
    // A channel's name stands in both files.
    let channel = format!("lever{}", hostile.trim_matches(|c: char| c.is_whitespace()));
    channels.insert(channel.clone(), lever);
    ours.insert(format!("key {hostile}"), json!(hostile));
    let table = std::fs::read_to_string(&from).unwrap();
    let table: String = table.split_inclusive("\r\n").step_by(8).collect();
    let (header, rows) = table.split_once("\r\n").unwrap();
    let quoted = format!("\"{}\"", channel.replace('"', "\"\""));
    let table = format!("{}\r\n{rows}", header.replace(&name, &quoted));
    std::fs::write(dir.join("c.csv"), table).unwrap();
    std::fs::write(dir.join("c.csv-metadata.json"), meta.to_string()).unwrap();
}

/// A capture, profile, configuration and block each, with one field that cannot be, so that an error tells of it.
fn refused(dir: &Path, hostile: &str) -> Vec<&'static str> {
    let meta = read(&dir.join("c.csv-metadata.json"));
    for (name, place) in [
        ("format", "/pedalproof/format"),
        ("profile", "/pedalproof/unit/profile"),
    ] {
        let mut meta = meta.clone();
        put(&mut meta, place, hostile);
        std::fs::copy(dir.join("c.csv"), dir.join(format!("{name}.csv"))).unwrap();
        std::fs::write(
            dir.join(format!("{name}.csv-metadata.json")),
            meta.to_string(),
        )
        .unwrap();
    }
    let table = format!(
        "t_us,step,\"{0}\"\r\n\"{0}\",rest,1\r\n",
        hostile.replace('"', "")
    );
    std::fs::write(dir.join("table.csv"), table).unwrap();
    std::fs::copy(
        dir.join("c.csv-metadata.json"),
        dir.join("table.csv-metadata.json"),
    )
    .unwrap();
    let mut profile: Value =
        serde_json::from_str(include_str!("../../../profiles/lever-shunting.json")).unwrap();
    for (name, place) in [("kind", "/kind"), ("name", "/name")] {
        let mut wrong = profile.clone();
        put(&mut wrong, place, hostile);
        std::fs::write(dir.join(format!("{name}.json")), wrong.to_string()).unwrap();
    }
    profile
        .as_object_mut()
        .unwrap()
        .insert(hostile.to_owned(), json!(1));
    std::fs::write(dir.join("key.json"), profile.to_string()).unwrap();
    std::fs::write(
        dir.join("block.json"),
        json!({ "format": hostile }).to_string(),
    )
    .unwrap();
    std::fs::write(
        dir.join("block.h"),
        format!("/* {hostile} */\nconst unsigned char b[] = {{ {hostile} }};\n"),
    )
    .unwrap();
    vec![
        "assess format.csv",
        "assess profile.csv",
        "assess table.csv",
        "profile check kind.json",
        "profile check name.json",
        "profile check key.json",
        "wiring name.json",
        "blend --block block.json",
        "blend --block block.h",
        "constants --read block.h",
    ]
}

/// Runs everything over files in which every text is `hostile`.
fn over_everything(hostile: &str) {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    capture(dir, hostile);
    let mut lines = refused(dir, hostile);
    lines.extend([
        "assess c.csv",
        "assess c.csv --profile lever-shunting --json",
        "assess c.csv c.csv --profile lever-shunting --keep",
        "assess . --profile lever-shunting",
        "assess c.csv --explain rest_code",
        "report c.csv --profile lever-shunting --out r.html",
        "report c.csv --profile lever-shunting --format md --out r.md",
        "constants c.csv --profile lever-shunting --accept HOSTILE --format c",
        "constants c.csv --profile lever-shunting --accept HOSTILE --format json --out b.json",
        "constants --read b.json",
        "blend --block b.json",
        "history",
        "history HOSTILE",
        "history --json",
        "record --port HOSTILE --out x --steps rest=1",
        "record --port /dev/null --out x --steps HOSTILE",
        "assess HOSTILE.csv",
        "wiring HOSTILE",
        "HOSTILE",
    ]);
    for line in lines {
        let leaked = run(dir, line, hostile);
        assert!(leaked.is_none(), "{}", leaked.unwrap_or_default());
    }
    std::fs::write(
        dir.join("config.toml"),
        format!("records = \"{}\nx", hostile.replace('\n', "\u{2028}")),
    )
    .unwrap();
    let output = program(dir)
        .env("PEDALPROOF_CONFIG", dir.join("config.toml"))
        .arg("history")
        .output()
        .unwrap();
    let told = leaked("config", &output.stderr);
    assert!(
        told.is_none() && output.status.code() == Some(2),
        "{told:?}"
    );
}

#[test]
fn no_text_of_a_file_reaches_a_person_as_more_than_text() {
    over_everything(&format!(
        "T1\u{1b}[2J\u{1b}]52;c;cm0=\u{7}\u{9b}2J\u{7f}\u{85}\u{202e}\u{200b}\u{feff}\u{2028}\u{e0041}\0\r\n{FORGED}\n\r{FORGED}\r<b>`|*\""
    ));
}

/// Twenty texts by chance, some minutes: `cargo test --test suite hostile::leaving -- --ignored`.
#[test]
#[ignore = "minutes"]
fn no_text_by_chance_does() {
    let mut runner = TestRunner::new(Config {
        cases: 20,
        max_shrink_iters: 20,
        failure_persistence: None,
        ..Config::default()
    });
    let ran = runner.run(&text(), |hostile| {
        over_everything(&hostile);
        Ok(())
    });
    ran.unwrap();
}
