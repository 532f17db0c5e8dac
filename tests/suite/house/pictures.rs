//! The README's pictures are the real screen: made by `.ci/pictures`, held against a fresh run here. Needs tmux.
#![cfg(unix)]

use crate::support::program::line;
use crate::support::terminal::Terminal;

const README: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/README.md");

/// The end of the demo of a worn lever: its trace, and its noise along the travel.
fn pictures() -> Option<[(&'static str, String); 2]> {
    let dir = tempfile::tempdir().unwrap();
    let run = line("demo T3-lever --out T3-lever --speed 3");
    let terminal = Terminal::start(dir.path(), 80, 24, &run)?;
    terminal.wait_for("DO NOT FIT");
    terminal.press("t");
    let travel = terminal.wait_for("noise along the travel");
    terminal.press("t");
    let trace = terminal.wait_for("before the end");
    Some([("trace", trimmed(&trace)), ("travel", trimmed(&travel))])
}

fn trimmed(screen: &str) -> String {
    let rows: Vec<&str> = screen.lines().map(str::trim_end).collect();
    rows.join("\n").trim_end().to_owned()
}

/// Where a picture stands in the README: from after its marker's line to the end of its block.
fn place(readme: &str, name: &str) -> std::ops::Range<usize> {
    let begin = "```text\n";
    let marker = format!("<!-- picture: {name}, by .ci/pictures -->\n{begin}");
    let from = readme
        .find(&marker)
        .unwrap_or_else(|| panic!("no marker of the picture {name}"))
        + marker.len();
    let length = readme[from..].find("\n```").unwrap();
    from..from + length
}

/// What a picture says, without what differs from run to run: digits, the trace, where things lie.
fn said(picture: &str) -> Vec<String> {
    let outcomes = [
        "fail",
        "pass",
        "undecided",
        "not measured",
        "DO NOT FIT",
        "worn",
        "noise along",
    ];
    let rows = picture
        .lines()
        .filter(|row| outcomes.iter().any(|word| row.contains(word)));
    rows.map(|row| {
        let letters = row
            .chars()
            .map(|c| if c.is_ascii_alphabetic() { c } else { ' ' });
        letters
            .collect::<String>()
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" ")
    })
    .collect()
}

#[test]
fn the_readme_shows_the_screen_as_it_is() {
    let Some(pictures) = pictures() else { return };
    let mut readme = std::fs::read_to_string(README).unwrap();
    let again = std::env::var_os("PEDALPROOF_PICTURES").is_some();
    for (name, picture) in &pictures {
        let place = place(&readme, name);
        if again {
            readme.replace_range(place, picture);
        } else {
            assert_eq!(
                said(&readme[place]),
                said(picture),
                "run .ci/pictures: {name} is old:\n{picture}"
            );
        }
    }
    if again {
        std::fs::write(README, readme).unwrap();
    }
}
