//! The pictures of README and docs are the real screen, light and dark: made by `.ci/pictures`, held against a fresh run here. Needs tmux.
#![cfg(unix)]

use crate::support::program::line;
use crate::support::terminal::Terminal;
use anstyle::RgbColor;
use anstyle_svg::{Palette, Term};
use std::path::{Path, PathBuf};

/// A terminal's colours: what is written on what, and the eight that programs name (bright ones alike).
struct Theme {
    name: &'static str,
    text: RgbColor,
    ground: RgbColor,
    named: [RgbColor; 8],
}

const fn rgb(of: u32) -> RgbColor {
    let [_, red, green, blue] = of.to_be_bytes();
    RgbColor(red, green, blue)
}

/// Dark on light and light on dark.
const THEMES: [Theme; 2] = [
    Theme {
        name: "light",
        text: rgb(0x24_2424),
        ground: rgb(0xff_ffff),
        named: [
            rgb(0x24_2424),
            rgb(0xb4_201c),
            rgb(0x1c_752c),
            rgb(0x8a_5a00),
            rgb(0x1d_4eb8),
            rgb(0x8c_2f9c),
            rgb(0x0b_707d),
            rgb(0x66_6666),
        ],
    },
    Theme {
        name: "dark",
        text: rgb(0xe4_e4e4),
        ground: rgb(0x16_181c),
        named: [
            rgb(0x80_848c),
            rgb(0xff_7b72),
            rgb(0x5f_d075),
            rgb(0xe3_b341),
            rgb(0x79_b0ff),
            rgb(0xe0_98f0),
            rgb(0x4f_d1dc),
            rgb(0xe4_e4e4),
        ],
    },
];

impl Theme {
    fn draw(&self, screen: &str) -> String {
        Term::new()
            .palette(Palette(std::array::from_fn(|k| self.named[k % 8])))
            .fg_color(self.text.into())
            .bg_color(self.ground.into())
            .render_svg(screen)
    }
}

/// The end of the demo of a worn lever, with its colours: its trace, and its noise along the travel.
fn screens() -> Option<[(&'static str, String); 2]> {
    let dir = tempfile::tempdir().unwrap();
    let run = line("demo T3-lever --out T3-lever --speed 3");
    let terminal = Terminal::start(dir.path(), 80, 24, &run)?;
    terminal.wait_for("DO NOT FIT");
    terminal.wait_for("before the end");
    let trace = terminal.coloured();
    terminal.press("t");
    terminal.wait_for("noise along the travel");
    Some([("trace", trace), ("travel", terminal.coloured())])
}

fn file(name: &str, theme: &Theme) -> PathBuf {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/pictures");
    folder.join(format!("{name}-{}.svg", theme.name))
}

/// The text of a picture, row by row.
fn text(svg: &str) -> String {
    let (mut text, mut inside) = (String::new(), false);
    for letter in svg.chars() {
        match letter {
            '<' => inside = true,
            '>' => inside = false,
            _ if !inside => text.push(letter),
            _ => {}
        }
    }
    text
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
fn the_pictures_show_the_screen_as_it_is() {
    let Some(screens) = screens() else { return };
    let again = std::env::var_os("PEDALPROOF_PICTURES").is_some();
    for (name, screen) in &screens {
        for theme in &THEMES {
            let (file, fresh) = (file(name, theme), theme.draw(screen));
            if again {
                std::fs::write(file, fresh).unwrap();
                continue;
            }
            let kept = std::fs::read_to_string(&file).unwrap();
            let [old, new] = [&kept, &fresh].map(|svg| said(&text(svg)));
            assert!(!new.is_empty());
            assert_eq!(old, new, "run .ci/pictures: {} is old", file.display());
        }
    }
}

/// Contrast to the ground of 4.5 to 1 at least (WCAG 2.2, success criterion 1.4.3; relative luminance as defined there).
#[test]
fn every_colour_of_a_picture_can_be_read() {
    let linear = |part: u8| {
        let part = f64::from(part) / 255.0;
        if part <= 0.04045 {
            part / 12.92
        } else {
            ((part + 0.055) / 1.055).powf(2.4)
        }
    };
    let luminance =
        |RgbColor(r, g, b): RgbColor| 0.2126 * linear(r) + 0.7152 * linear(g) + 0.0722 * linear(b);
    for theme in &THEMES {
        for colour in theme.named.iter().chain([&theme.text]) {
            let [a, b] = [luminance(*colour), luminance(theme.ground)];
            let contrast = (a.max(b) + 0.05) / (a.min(b) + 0.05);
            assert!(contrast >= 4.5, "{}: {colour:?}: {contrast:.2}", theme.name);
        }
    }
}
