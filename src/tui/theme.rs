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
            Colour::True => full(tone).map_or(plain, |colour| plain.fg(colour)),
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
        Tone::Quiet | Tone::Band | Tone::Fault if colour != Colour::True => Modifier::DIM,
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

/// Of middling lightness, to be read on a dark and on a light ground.
fn full(tone: Tone) -> Option<Color> {
    let (r, g, b) = match tone {
        Tone::Plain | Tone::Strong | Tone::Chosen => return None,
        Tone::Quiet => (132, 130, 124),
        Tone::Now => (214, 126, 44),
        Tone::Good => (78, 152, 88),
        Tone::Bad => (206, 70, 60),
        Tone::Open => (184, 138, 36),
        Tone::Band => (118, 142, 112),
        Tone::Fault => (168, 104, 98),
        Tone::Lane(lane) => [
            (52, 132, 188),
            (176, 92, 140),
            (40, 148, 132),
            (150, 120, 60),
        ][lane % 4],
    };
    Some(Color::Rgb(r, g, b))
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
        use {Charset::Ascii, Charset::Unicode, Colour::Sixteen, Colour::True};
        assert_eq!(fitting(|_| {}), (Unicode, True));
        assert_eq!(fitting(|a| a.colorterm = None), (Unicode, Sixteen));
        assert_eq!(fitting(|a| a.no_color = Some("1")).1, Colour::None);
        // no-color.org: an empty value does not count.
        assert_eq!(fitting(|a| a.no_color = Some("")).1, True);
        assert_eq!(fitting(|a| a.ascii = true).0, Ascii);
        assert_eq!(fitting(|a| a.locale = Some("C")).0, Ascii);
        let console = fitting(|a| (a.term, a.colorterm) = (Some("linux"), None));
        assert_eq!(console, (Ascii, Sixteen));
        assert_eq!(fitting(|a| a.term = Some("dumb")), (Ascii, Colour::None));
    }
}
