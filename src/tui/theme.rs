//! Glyphs and styles: one place for both, so that no screen picks its own.

use crate::bench::StepState;
use measure::judge::{Outcome, Verdict};
use ratatui::style::{Color, Modifier, Style};

/// Characters that the terminal can show.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Charset {
    /// Block elements and Braille patterns are there.
    #[default]
    Unicode,
    /// Only 0x20 ..= 0x7e.
    Ascii,
}

/// Colours that the terminal can show.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Colour {
    /// None, or none wanted (`NO_COLOR`): bold, dim and reversed only.
    None,
    #[default]
    Sixteen,
    /// The fixed 240 of the 256 that terminals share.
    Many,
    /// 24 bits.
    True,
}

/// What a piece of text or a line is meant to say. Never the only carrier of that: a word or a shape goes with it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tone {
    Plain,
    /// In the background: labels, rules.
    Quiet,
    /// To be read first.
    Strong,
    /// The thing to do now.
    Now,
    /// Inside its limit, done, connected.
    Good,
    /// Outside its limit, broken.
    Bad,
    /// Open: not decided, waiting.
    Open,
    Band,
    /// What counts as a wiring fault.
    Fault,
    /// The row or choice under the cursor.
    Chosen,
    Lane(usize),
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Theme {
    pub charset: Charset,
    pub colour: Colour,
}

/// Marks that are drawn one cell wide.
#[derive(Debug, Clone, Copy)]
pub struct Glyphs {
    pub band: &'static str,
    /// Fill of what counts as a wiring fault.
    pub fault: &'static str,
    /// Outside of the band.
    pub outside: &'static str,
    pub interval: &'static str,
    pub value: &'static str,
    /// Off the scale to the left and to the right.
    pub off: [&'static str; 2],
    /// Filled and empty part of a progress bar.
    pub bar: [&'static str; 2],
    pub spine: &'static str,
    pub rule: &'static str,
    /// A rule down.
    pub upright: &'static str,
    /// What is chosen or current.
    pub pointer: &'static str,
    /// The edge of a step on the step strip.
    pub edge: &'static str,
    /// A bar that grows from below: an eighth (or a third) full, and so on, up to full.
    pub fill: &'static [&'static str],
    pub worn: &'static str,
    /// A dropout towards ground, and towards supply.
    pub dropout: [&'static str; 2],
    /// A position on the curve: halfway, going up, coming down.
    pub curve: [&'static str; 3],
    /// A figure that went up, and one that went down, by more than the uncertainties explain.
    pub changed: [&'static str; 2],
}

const UNICODE: Glyphs = Glyphs {
    band: "░",
    fault: "╱",
    outside: "·",
    interval: "━",
    value: "◆",
    off: ["◂", "▸"],
    bar: ["▰", "▱"],
    spine: "▌",
    rule: "─",
    upright: "│",
    pointer: "▸",
    edge: "╵",
    fill: &["▁", "▂", "▃", "▄", "▅", "▆", "▇", "█"],
    worn: "▔",
    dropout: ["▾", "▴"],
    curve: ["●", "╱", "╲"],
    changed: ["↑", "↓"],
};

const ASCII: Glyphs = Glyphs {
    band: ":",
    fault: "/",
    outside: ".",
    interval: "=",
    value: "O",
    off: ["<", ">"],
    bar: ["#", "-"],
    spine: "|",
    rule: "-",
    upright: "|",
    pointer: ">",
    edge: "'",
    fill: &[".", ":", "#"],
    worn: "w",
    dropout: ["v", "^"],
    curve: ["o", "/", "\\"],
    changed: ["^", "v"],
};

/// What the surroundings say of the terminal: the values of environment variables, and the user's options.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Surroundings<'a> {
    /// `NO_COLOR`: no colour when set and not empty.
    pub no_color: Option<&'a str>,
    /// `COLORTERM`: `truecolor` or `24bit`.
    pub colorterm: Option<&'a str>,
    pub term: Option<&'a str>,
    /// The first that is set and not empty of `LC_ALL`, `LC_CTYPE`, `LANG`.
    pub locale: Option<&'a str>,
    /// The user asks for the plain set.
    pub ascii: bool,
}

impl Theme {
    /// What fits the surroundings. No word of UTF-8 in the locale, or the bare Linux console, gives the plain set.
    pub fn fitting(around: Surroundings<'_>) -> Self {
        let term = around.term.unwrap_or_default();
        let locale = around.locale.unwrap_or_default().to_ascii_lowercase();
        let utf8 = locale.contains("utf-8") || locale.contains("utf8") || cfg!(windows);
        let bare = matches!(term, "dumb" | "linux" | "vt100" | "vt220");
        let charset = if around.ascii || !utf8 || bare {
            Charset::Ascii
        } else {
            Charset::Unicode
        };
        let unwanted = around.no_color.is_some_and(|value| !value.is_empty());
        let colour = match around.colorterm {
            _ if unwanted || matches!(term, "dumb" | "vt100" | "vt220") => Colour::None,
            Some("truecolor" | "24bit") => Colour::True,
            _ if term.contains("256color") => Colour::Many,
            _ => Colour::Sixteen,
        };
        Self { charset, colour }
    }

    pub fn glyphs(self) -> Glyphs {
        match self.charset {
            Charset::Unicode => UNICODE,
            Charset::Ascii => ASCII,
        }
    }

    pub fn style(self, tone: Tone) -> Style {
        let plain = Style::new();
        match self.colour {
            Colour::None => plain,
            Colour::Sixteen => sixteen(tone).map_or(plain, |colour| plain.fg(colour)),
            Colour::Many => full(tone).map_or(plain, |rgb| plain.fg(Color::Indexed(nearest(rgb)))),
            Colour::True => full(tone).map_or(plain, |(r, g, b)| plain.fg(Color::Rgb(r, g, b))),
        }
        .add_modifier(weight(tone, self.colour))
    }

    /// The mark of an outcome; its word goes with it.
    pub fn outcome_mark(self, outcome: Outcome) -> &'static str {
        let [unicode, ascii] = match outcome {
            Outcome::Pass => ["●", "+"],
            Outcome::Fail => ["✖", "!"],
            Outcome::Undecided => ["◐", "?"],
            Outcome::NotMeasured => ["○", "-"],
        };
        self.either(unicode, ascii)
    }

    /// The mark of a verdict; its word goes with it.
    pub fn verdict_mark(self, verdict: Verdict) -> &'static str {
        self.outcome_mark(match verdict {
            Verdict::Pass => Outcome::Pass,
            Verdict::Fail => Outcome::Fail,
            Verdict::Undecided => Outcome::Undecided,
        })
    }

    /// The mark of a step; its word goes with it where there is room.
    pub fn step_mark(self, state: StepState) -> &'static str {
        let [unicode, ascii] = match state {
            StepState::Done => ["●", "+"],
            StepState::Current => ["▸", ">"],
            StepState::Waiting => ["○", "."],
            StepState::Skipped => ["╌", "-"],
        };
        self.either(unicode, ascii)
    }

    /// One of two texts by the character set.
    pub fn either(self, unicode: &'static str, ascii: &'static str) -> &'static str {
        match self.charset {
            Charset::Unicode => unicode,
            Charset::Ascii => ascii,
        }
    }
}

pub fn outcome_tone(outcome: Outcome) -> Tone {
    match outcome {
        Outcome::Pass => Tone::Good,
        Outcome::Fail => Tone::Bad,
        Outcome::Undecided => Tone::Open,
        Outcome::NotMeasured => Tone::Quiet,
    }
}

pub fn verdict_tone(verdict: Verdict) -> Tone {
    match verdict {
        Verdict::Pass => Tone::Good,
        Verdict::Fail => Tone::Bad,
        Verdict::Undecided => Tone::Open,
    }
}

fn weight(tone: Tone, colour: Colour) -> Modifier {
    match tone {
        Tone::Strong | Tone::Now => Modifier::BOLD,
        Tone::Good | Tone::Bad | Tone::Open if colour == Colour::None => Modifier::BOLD,
        Tone::Quiet | Tone::Band | Tone::Fault
            if matches!(colour, Colour::None | Colour::Sixteen) =>
        {
            Modifier::DIM
        }
        Tone::Chosen => Modifier::REVERSED,
        _ => Modifier::empty(),
    }
}

fn sixteen(tone: Tone) -> Option<Color> {
    match tone {
        Tone::Plain | Tone::Strong | Tone::Quiet | Tone::Chosen => None,
        Tone::Now => Some(Color::Cyan),
        Tone::Good | Tone::Band => Some(Color::Green),
        Tone::Bad | Tone::Fault => Some(Color::Red),
        Tone::Open => Some(Color::Yellow),
        Tone::Lane(lane) => {
            Some([Color::Blue, Color::Magenta, Color::Cyan, Color::Yellow][lane % 4])
        }
    }
}

/// Of middling lightness, to be read on a dark and on a light ground; those that stand beside each other are told apart by
/// people who lack one of the three kinds of cones, too (see the test).
fn full(tone: Tone) -> Option<(u8, u8, u8)> {
    Some(match tone {
        Tone::Plain | Tone::Strong | Tone::Chosen => return None,
        Tone::Quiet => (132, 130, 124),
        Tone::Now => (214, 125, 28),
        Tone::Good => (77, 154, 90),
        Tone::Bad => (177, 47, 51),
        Tone::Open => (164, 123, 49),
        Tone::Band => (121, 154, 142),
        Tone::Fault => (168, 104, 98),
        Tone::Lane(lane) => [
            (38, 125, 180),
            (177, 93, 141),
            (63, 166, 131),
            (150, 120, 60),
        ][lane % 4],
    })
}

/// The levels of the cube of 6 x 6 x 6 colours from index 16 on: common practice of terminals, no source.
const CUBE: [u8; 6] = [0, 95, 135, 175, 215, 255];

/// The colour of an index from 16 on.
fn indexed(index: u8) -> (u8, u8, u8) {
    match index.saturating_sub(16) {
        at @ 0..216 => {
            let level = |at: u8| CUBE[usize::from(at % 6)];
            (level(at / 36), level(at / 6), level(at))
        }
        at => {
            let grey = 8 + 10 * (at - 216);
            (grey, grey, grey)
        }
    }
}

/// The index, from 16 on, whose colour is nearest.
fn nearest(wanted: (u8, u8, u8)) -> u8 {
    let off = |index: &u8| {
        let there = indexed(*index);
        let square = |a: u8, b: u8| u32::from(a.abs_diff(b)).pow(2);
        square(wanted.0, there.0) + square(wanted.1, there.1) + square(wanted.2, there.2)
    };
    (16..=255).min_by_key(off).unwrap_or(16)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The theme of a full terminal of which something is otherwise.
    fn fitting(change: fn(&mut Surroundings<'_>)) -> (Charset, Colour) {
        let mut around = Surroundings {
            colorterm: Some("truecolor"),
            term: Some("xterm-256color"),
            locale: Some("en_US.UTF-8"),
            ..Surroundings::default()
        };
        change(&mut around);
        let theme = Theme::fitting(around);
        (theme.charset, theme.colour)
    }

    #[test]
    fn the_theme_fits_the_surroundings() {
        use {Charset::Ascii, Charset::Unicode, Colour::Many, Colour::Sixteen, Colour::True};
        assert_eq!(fitting(|_| {}), (Unicode, True));
        assert_eq!(fitting(|a| a.colorterm = None), (Unicode, Many));
        let plain = fitting(|a| (a.term, a.colorterm) = (Some("xterm"), None));
        assert_eq!(plain, (Unicode, Sixteen));
        assert_eq!(fitting(|a| a.no_color = Some("1")).1, Colour::None);
        // no-color.org: an empty value does not count.
        assert_eq!(fitting(|a| a.no_color = Some("")).1, True);
        assert_eq!(fitting(|a| a.ascii = true).0, Ascii);
        let without_utf8 = if cfg!(windows) { Unicode } else { Ascii };
        assert_eq!(fitting(|a| a.locale = Some("C")).0, without_utf8);
        let console = fitting(|a| (a.term, a.colorterm) = (Some("linux"), None));
        assert_eq!(console, (Ascii, Sixteen));
        assert_eq!(fitting(|a| a.term = Some("dumb")), (Ascii, Colour::None));
    }

    #[test]
    fn indexed_colours_are_those_of_terminals() {
        // By hand: 16 + 36 r + 6 g + b; the greys from 232 on.
        assert_eq!(indexed(16), (0, 0, 0));
        assert_eq!(indexed(196), (255, 0, 0));
        assert_eq!(indexed(16 + 36 + 12 + 3), (95, 135, 175));
        assert_eq!(indexed(244), (128, 128, 128));
        assert_eq!(nearest((255, 0, 0)), 196);
        assert_eq!(nearest((129, 127, 128)), 244);
    }

    type Rgb = (u8, u8, u8);

    /// What people see who lack a kind of cones: red, green, blue, in linear RGB. Machado, Oliveira and Fernandes, A
    /// Physiologically-based Model for Simulation of Color Vision Deficiency, IEEE TVCG 15 (2009) 1291, severity 1.0; the
    /// numbers from memory, checked by what they must do: white stays white (each row sums to 1).
    const LACKING: [[[f64; 3]; 3]; 3] = [
        [
            [0.152_286, 1.052_583, -0.204_868],
            [0.114_503, 0.786_281, 0.099_216],
            [-0.003_882, -0.048_116, 1.051_998],
        ],
        [
            [0.367_322, 0.860_646, -0.227_968],
            [0.280_085, 0.672_501, 0.047_413],
            [-0.011_820, 0.042_940, 0.968_881],
        ],
        [
            [1.255_528, -0.076_749, -0.178_779],
            [-0.078_411, 0.930_809, 0.147_602],
            [0.004_733, 0.691_367, 0.303_900],
        ],
    ];
    const NONE_LACKING: [[f64; 3]; 3] = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];

    /// IEC 61966-2-1.
    fn linear((r, g, b): Rgb) -> [f64; 3] {
        [r, g, b].map(|value| {
            let value = f64::from(value) / 255.0;
            if value <= 0.040_45 {
                value / 12.92
            } else {
                ((value + 0.055) / 1.055).powf(2.4)
            }
        })
    }

    fn times(matrix: &[[f64; 3]; 3], of: [f64; 3]) -> [f64; 3] {
        matrix.map(|row| row.iter().zip(of).map(|(a, b)| a * b).sum())
    }

    /// L*a*b* of CIE 1976 under D65.
    fn lab(linear: [f64; 3]) -> [f64; 3] {
        const XYZ: [[f64; 3]; 3] = [
            [0.412_456_4, 0.357_576_1, 0.180_437_5],
            [0.212_672_9, 0.715_152_2, 0.072_175_0],
            [0.019_333_9, 0.119_192_0, 0.950_304_1],
        ];
        let xyz = times(&XYZ, linear.map(|value| value.clamp(0.0, 1.0)));
        let white = [0.950_47, 1.0, 1.088_83];
        let f: Vec<f64> = xyz
            .iter()
            .zip(white)
            .map(|(value, white)| match value / white {
                t if t > 0.008_856 => t.cbrt(),
                t => 7.787 * t + 16.0 / 116.0,
            })
            .collect();
        [
            116.0 * f[1] - 16.0,
            500.0 * (f[0] - f[1]),
            200.0 * (f[1] - f[2]),
        ]
    }

    fn apart(a: Rgb, b: Rgb, eyes: &[[f64; 3]; 3]) -> f64 {
        let [a, b] = [a, b].map(|rgb| lab(times(eyes, linear(rgb))));
        let squares: f64 = a.iter().zip(b).map(|(a, b)| (a - b).powi(2)).sum();
        squares.sqrt()
    }

    /// Ratio of contrast after WCAG 2.2 (1.4.11 asks 3 : 1 of what is no text).
    fn contrast(rgb: Rgb, ground: f64) -> f64 {
        let [r, g, b] = linear(rgb);
        let light = 0.2126 * r + 0.7152 * g + 0.0722 * b;
        (light.max(ground) + 0.05) / (light.min(ground) + 0.05)
    }

    #[test]
    fn the_simulation_is_the_published_one() {
        for lacking in LACKING {
            for row in lacking {
                assert!((row.iter().sum::<f64>() - 1.0).abs() < 2e-6, "{row:?}");
            }
        }
        // Red and green of one lightness are nearly one colour without the green cones, and far apart with them.
        let (red, green) = ((200, 80, 80), (110, 140, 70));
        assert!(apart(red, green, &LACKING[1]) < 0.5 * apart(red, green, &NONE_LACKING));
    }

    /// What may stand side by side is told apart by everybody: at least 10 apart (a just noticeable difference is about 2.3:
    /// Mahy, Van Eycken and Oosterlinck, Color Research and Application 19 (1994) 105), though colour never carries a meaning alone.
    #[test]
    fn colours_are_told_apart_by_everybody_on_light_and_dark_grounds() {
        use Tone::{Bad, Band, Fault, Good, Lane, Now, Open, Quiet};
        let beside = [
            (Good, Bad),
            (Good, Open),
            (Bad, Open),
            (Now, Good),
            (Now, Bad),
            (Now, Open),
            (Band, Fault),
            (Lane(0), Lane(1)),
            (Lane(0), Lane(2)),
            (Lane(1), Lane(2)),
            (Lane(0), Lane(3)),
            (Lane(1), Lane(3)),
            (Lane(2), Lane(3)),
        ];
        let of = |tone| full(tone).unwrap();
        let eyes = LACKING.iter().chain([&NONE_LACKING]);
        for (a, b) in beside {
            for eyes in eyes.clone() {
                let far = apart(of(a), of(b), eyes);
                assert!(far >= 10.0, "{a:?} {b:?}: {far:.1}");
            }
        }
        for tone in [
            Quiet,
            Now,
            Good,
            Bad,
            Open,
            Band,
            Fault,
            Lane(0),
            Lane(1),
            Lane(2),
            Lane(3),
        ] {
            let among_256 = indexed(nearest(of(tone)));
            for (rgb, least) in [(of(tone), 3.0), (among_256, 2.5)] {
                let [dark, light] = [0.0, 1.0].map(|ground| contrast(rgb, ground));
                assert!(
                    dark >= least && light >= least,
                    "{tone:?} {rgb:?}: {dark:.2} {light:.2}"
                );
            }
        }
    }
}
