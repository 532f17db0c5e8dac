//! A sent file does not choose what the person reads: whatever stands in a text field, no output has a character in it that
//! nobody sees, and no line that the program did not write.

mod made;

use crate::support::program::program;
use proptest::prelude::*;
use proptest::test_runner::{Config, TestRunner};
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
    let message = leaked(&format!("{line}: stdout"), &output.stdout)
        .or_else(|| leaked(&format!("{line}: stderr"), &output.stderr));
    message.or_else(|| {
        let new = files(dir).into_iter().filter(|file| !before.contains(file));
        new.into_iter().find_map(|file| {
            leaked(
                &format!("{line}: {}", file.display()),
                &std::fs::read(&file).unwrap(),
            )
        })
    })
}

/// Every file below a folder.
pub fn files(dir: &Path) -> Vec<PathBuf> {
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

/// Runs everything over files in which every text is `hostile`.
fn over_everything(hostile: &str) {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    made::capture(dir, hostile);
    let mut lines = made::refused(dir, hostile);
    lines.extend(made::foreign(dir, hostile));
    lines.extend(made::proof(dir, hostile));
    lines.extend(made::machine(dir, hostile));
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
        "profile new --from c.csv --name HOSTILE --kind lever --base lever-shunting --out own.json",
        "profile check own.json",
        "profile write HOSTILE",
        "schema HOSTILE",
        "board own --profile name.json",
        "board own --profile HOSTILE",
        "board own --block block.json",
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
    let message = leaked("config", &output.stderr);
    assert!(
        message.is_none() && output.status.code() == Some(2),
        "{message:?}"
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
