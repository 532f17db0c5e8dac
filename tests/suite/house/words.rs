//! What a person reads is in plain words: no old pattern, no word of the workshop where a plainer one stands for it.
//!
//! Read are the sentences in the sources (string literals with a blank in them), not keys of files, not comments, not tests;
//! and help and handbook as the program prints them. DESIGN 2 has the words: part, recording, test, result, constants file, checked as.

use std::path::{Path, PathBuf};

/// Old patterns, in lower case: a piece of a sentence that must stand nowhere.
const PATTERNS: &[&str] = &[
    "all of it is",
    "the limit lies in it",
    "has no evidence for it",
    "held against",
    "hold it against",
    "it takes strokes slow and many enough",
    "decide it in 4 of 5 cases",
    "the chance that it is outside",
    "risk of being outside",
    "code, between ",
    "most of the interval is what the board cannot tell",
    "lines rejected: ",
    "is made when it is not there",
    "is written anew",
    "an option counts before",
    "makes it all the same",
    "in spite of what stands against",
    "first bytes: ",
    "gone through again",
    "where do the samples come from",
    "lay an earlier run",
    "the units kept",
    "its story",
    "leave this step out",
    "do this step again",
    "whole ruler",
    "against the full stop",
    "no record is kept yet",
    "everything taken so far",
    "to be told of as well",
    "what could be a board, and",
    "turned half-way",
    "limits broken",
    "one lines",
    "the the ",
];

/// Words of the workshop and what may stand around them all the same.
const WORDS: &[(&str, &[&str])] = &[
    ("capture", &["assess captures "]),
    ("captures", &["assess captures "]),
    ("card", &[]),
    (
        "block",
        &[
            "block=",
            "constants block, version",
            "--block",
            "{block}",
            "block means",
            "block variance",
            "version 2: see core/block.md",
            ".block.json",
        ],
    ),
    (
        "blocks",
        &[
            "gauge blocks",
            "blocks of ",
            "in {} blocks",
            "median over blocks",
        ],
    ),
];

fn sources(folder: &Path, into: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            if path
                .file_name()
                .is_none_or(|name| name != "tests" && name != "firmware")
            {
                sources(&path, into);
            }
        } else if path.extension().is_some_and(|end| end == "rs")
            && !path.to_string_lossy().ends_with("tests.rs")
        {
            into.push(path);
        }
    }
}

/// The sentences of a source with their lines: literals with a blank.
fn sentences(text: &str) -> Vec<(usize, String)> {
    let text = text.split("#[cfg(test)]\nmod tests").next().unwrap();
    let (mut found, mut rest, mut line) = (Vec::new(), text, 1);
    while !rest.is_empty() {
        let end = match rest.as_bytes() {
            [b'/', b'/', ..] => rest.find('\n').unwrap_or(rest.len()),
            [b'\'', b'\\', ..] => rest[2..]
                .find('\'')
                .map_or(1, |at| at + 3)
                .max(4)
                .min(rest.len()),
            [b'\'', b'"', b'\'', ..] => 3,
            [b'"', ..] => {
                let mut escaped = false;
                let close = rest[1..].char_indices().find(|(_, c)| {
                    let closes = *c == '"' && !escaped;
                    escaped = *c == '\\' && !escaped;
                    closes
                });
                let end = close.map_or(rest.len(), |(at, _)| at + 2);
                if rest[..end].contains(' ') {
                    found.push((line, rest[..end].to_owned()));
                }
                end
            }
            _ => rest.chars().next().map_or(1, char::len_utf8),
        };
        line += rest[..end].matches('\n').count();
        rest = &rest[end..];
    }
    found
}

/// Whether a word stands in a sentence by itself.
fn has_word(sentence: &str, word: &str) -> bool {
    let letter = |c: char| c.is_alphanumeric() || matches!(c, '_' | '{' | '}' | '/' | '.');
    sentence.match_indices(word).any(|(at, _)| {
        let before = sentence[..at].chars().next_back();
        let mut behind = sentence[at + word.len()..].chars();
        let (next, then) = (behind.next(), behind.next());
        let ends = match next {
            // The end of a sentence is no file's ending.
            Some('.') => then.is_none_or(|c| !c.is_alphanumeric()),
            Some(c) => !letter(c),
            None => true,
        };
        before.is_none_or(|c| !letter(c)) && ends
    })
}

/// What is wrong with a sentence.
fn complaints(sentence: &str) -> Vec<String> {
    let small = sentence.to_lowercase();
    let flat = small.split_whitespace().collect::<Vec<_>>().join(" ");
    let patterns = PATTERNS.iter().filter(|pattern| flat.contains(**pattern));
    let words = WORDS.iter().filter(|(word, around)| {
        let mut bare = flat.clone();
        for allowed in *around {
            bare = bare.replace(allowed, "");
        }
        has_word(&bare, word)
    });
    patterns
        .map(|pattern| (*pattern).to_owned())
        .chain(words.map(|(word, _)| (*word).to_owned()))
        .collect()
}

#[test]
fn every_sentence_is_in_plain_words() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut files = Vec::new();
    sources(&root.join("src"), &mut files);
    sources(&root.join("crates/measure/src"), &mut files);
    let (mut read, mut wrong) = (0, Vec::new());
    for path in files {
        let text = std::fs::read_to_string(&path).unwrap();
        let shown = path.strip_prefix(root).unwrap().display().to_string();
        for (line, sentence) in sentences(&text) {
            read += 1;
            for complaint in complaints(&sentence) {
                wrong.push(format!(
                    "{shown}:{line}: `{complaint}` in {}",
                    sentence.trim()
                ));
            }
        }
    }
    assert!(read > 2000, "{read} sentences were read");
    assert!(
        wrong.is_empty(),
        "{} sentences:\n{}",
        wrong.len(),
        wrong.join("\n")
    );
}

/// Help as the program prints it, and the handbook.
#[test]
fn help_and_handbook_are_in_plain_words() {
    use crate::support::program::program;
    let dir = tempfile::tempdir().unwrap();
    let printed = |words: &[&str]| {
        let output = program(dir.path()).args(words).output().unwrap();
        assert_eq!(output.status.code(), Some(0), "{words:?}");
        String::from_utf8(output.stdout).unwrap()
    };
    let help = printed(&["--help"]);
    let commands = help.lines().skip_while(|line| *line != "Commands:").skip(1);
    let commands = commands.take_while(|line| !line.is_empty());
    let named = commands.filter(|line| line.starts_with("  ") && !line.starts_with("   "));
    let names: Vec<&str> = named
        .filter_map(|line| line.split_whitespace().next())
        .collect();
    assert!(names.len() > 15, "{names:?}");
    let mut texts = vec![
        ("--help".to_owned(), help.clone()),
        ("handbook".to_owned(), printed(&["handbook"])),
    ];
    for name in names.into_iter().filter(|name| *name != "help") {
        texts.push((format!("{name} --help"), printed(&[name, "--help"])));
    }
    let mut wrong = Vec::new();
    for (from, text) in &texts {
        let mut examples = false;
        let read = text.lines().filter(|line| {
            examples = line.starts_with("Examples:") || (examples && line.starts_with("  "));
            !examples
        });
        let found = complaints(&read.collect::<Vec<_>>().join(" "));
        wrong.extend(found.into_iter().map(|found| format!("{from}: `{found}`")));
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn the_reader_sees_what_it_is_to_see() {
    let text = "fn f() { say(\"the capture is cut\"); // a capture\n let c = '\"'; say(\"capture\"); say(\"a \\\"card\\\" here\"); }";
    let found: Vec<String> = sentences(text).into_iter().map(|(_, s)| s).collect();
    assert_eq!(found, ["\"the capture is cut\"", "\"a \\\"card\\\" here\""]);
    assert_eq!(complaints(&found[0]), ["capture"]);
    assert_eq!(complaints(&found[1]), ["card"]);
    assert_eq!(
        complaints("\"12: all of it\n   is above 4\""),
        ["all of it is"]
    );
    for good in [
        "\"{capture} is not there\"",
        "\"see capture.csv first\"",
        "\"discard it\"",
        "\"the block means of it\"",
    ] {
        assert_eq!(complaints(good), Vec::<String>::new(), "{good}");
    }
    assert_eq!(complaints("\"it is no capture.\""), ["capture"]);
}
