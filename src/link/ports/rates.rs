//! At which rate a board speaks, when nobody has said: the usual ones in turn, judged by what can be read.
//!
//! Belongs here: which rate is next, and whether what was heard at one is text. Does not belong here: the port itself.

use crate::link::MAX_LINE;
use std::time::Duration;

/// Rates that boards are commonly set to, likeliest first; the board's program that comes with this one has the first. Common
/// practice, no source; the divisor tables of `tests/reference/17-serial-stream.json` show which of them an 8-bit board hits.
pub(super) const USUAL_BAUDS: [u32; 12] = [
    1_000_000, 115_200, 9_600, 250_000, 500_000, 57_600, 230_400, 38_400, 460_800, 921_600,
    2_000_000, 19_200,
];
/// Fewer bytes than this are no ground for a judgement.
const ENOUGH: usize = 16;
/// Lines of numbers that settle it.
const LINES: usize = 2;
/// Clean text that has no lines of numbers is taken for the right rate after this long.
const CLEAN: Duration = Duration::from_secs(1);
/// Longest stay at one rate that gives hardly anything.
const LONGEST: Duration = Duration::from_secs(2);
/// Of what was let through already, so much is looked at.
const LOOKED_AT: usize = 64;

/// What was heard at a rate.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Heard {
    /// Not enough to tell.
    Little,
    /// Text, and not (yet) lines of numbers: a board that starts up says such things.
    Text,
    /// Lines of numbers, or a header.
    Numbers,
    /// What no board prints: another rate.
    Garbage,
}

/// Tries the usual rates in turn.
#[derive(Debug, Clone, Default)]
pub(super) struct Rates {
    at: usize,
    /// Rates left because of what was heard.
    left: usize,
    heard: Vec<u8>,
}

impl Rates {
    pub fn baud(&self) -> u32 {
        USUAL_BAUDS[self.at % USUAL_BAUDS.len()]
    }

    /// What the bytes heard at this rate look like, `since` after the first of them.
    pub fn hear(&mut self, bytes: &[u8], since: Duration) -> Heard {
        self.heard.extend_from_slice(bytes);
        match judge(&self.heard, since) {
            // At half the speed bits fall together in pairs, and what is heard can be letters without end.
            Heard::Text if !self.heard.contains(&b'\n') && self.left < USUAL_BAUDS.len() => {
                Heard::Garbage
            }
            heard => heard,
        }
    }

    /// Bytes that were heard at this rate, to be passed on.
    pub fn take(&mut self) -> Vec<u8> {
        std::mem::take(&mut self.heard)
    }

    /// What comes after text that was passed on already.
    pub fn hear_on(&mut self, bytes: &[u8]) -> Heard {
        self.heard.extend_from_slice(bytes);
        let beyond = self.heard.len().saturating_sub(LOOKED_AT.max(bytes.len()));
        self.heard.drain(..beyond);
        judge(&self.heard, Duration::ZERO)
    }

    /// Goes on to the next rate.
    pub fn next(&mut self) -> u32 {
        self.at = (self.at + 1) % USUAL_BAUDS.len();
        self.left += 1;
        self.heard.clear();
        self.baud()
    }

    /// What is being tried, in words; `None` as long as the first rate is listened at.
    pub fn describe(&self) -> Option<String> {
        let baud = self.baud();
        match self.left {
            0 => None,
            left if left < USUAL_BAUDS.len() => Some(format!(
                "The board speaks at another speed. Trying {baud} baud ..."
            )),
            _ => Some(format!(
                "No usual speed fits yet; trying again, now {baud} baud. If this goes on, look up the speed in the board's program and state it with --baud."
            )),
        }
    }
}

fn judge(heard: &[u8], since: Duration) -> Heard {
    let odd = heard.iter().filter(|byte| !is_text(**byte)).count();
    let garbage = odd * 10 > heard.len();
    match heard.len() {
        _ if garbage && (heard.len() >= ENOUGH || since >= LONGEST) => Heard::Garbage,
        _ if garbage => Heard::Little,
        _ if lines_of_numbers(heard) >= LINES => Heard::Numbers,
        n if odd == 0 && since >= if n >= ENOUGH { CLEAN } else { LONGEST } => Heard::Text,
        n if n > 4 * MAX_LINE => Heard::Text,
        _ if odd > 0 && since >= LONGEST => Heard::Garbage,
        _ => Heard::Little,
    }
}

/// Whether a line of a stream could hold it.
pub(in crate::link) fn is_text(byte: u8) -> bool {
    byte.is_ascii_graphic() || matches!(byte, b' ' | b'\t' | b'\r' | b'\n')
}

/// Whole lines behind the first line end that are a header, numbers, or numbers with names.
fn lines_of_numbers(heard: &[u8]) -> usize {
    let Some(first_end) = memchr::memchr(b'\n', heard) else {
        return 0;
    };
    let lines = heard[first_end + 1..].split_inclusive(|byte| *byte == b'\n');
    let whole = lines.filter(|line| line.ends_with(b"\n"));
    whole.filter(|line| could_be_sample(line)).count()
}

fn could_be_sample(line: &[u8]) -> bool {
    let line = line.trim_ascii();
    if line.starts_with(b"# pedalproof ") {
        return line.iter().all(|byte| is_text(*byte));
    }
    let numbers = |byte: &u8| byte.is_ascii_hexdigit() || b",;\t .*-+\r".contains(byte);
    let named = line.iter().any(|byte| matches!(byte, b':' | b'='));
    let plain = line.iter().all(numbers)
        && line
            .first()
            .is_some_and(|byte| byte.is_ascii_digit() || b"-+".contains(byte));
    let ends_so = line.last().is_some_and(u8::is_ascii_digit);
    line.len() <= MAX_LINE
        && line.iter().any(u8::is_ascii_digit)
        && line.iter().all(|byte| is_text(*byte))
        && (plain || (named && ends_so))
}

#[cfg(test)]
mod tests {
    use super::*;

    const AT_ONCE: Duration = Duration::ZERO;

    fn heard(bytes: &[u8], since: Duration) -> Heard {
        Rates::default().hear(bytes, since)
    }

    #[test]
    fn lines_of_numbers_settle_it() {
        for text in [
            "4,5\n1,2,3\n4,5,6\n",
            "x\n# pedalproof 1 bits=10\n1 2\n",
            "\r\n12;13*2F\r\n14;15\r\n",
            "7\na:1,b:2\na:3,b:4\n",
            "7\n1.25 3.30\n-1.25 3.30\n",
        ] {
            assert_eq!(heard(text.as_bytes(), AT_ONCE), Heard::Numbers, "{text:?}");
        }
        assert_eq!(heard(b"1,2\n3,4\n", AT_ONCE), Heard::Little);
    }

    #[test]
    fn a_board_that_starts_up_talks_first() {
        let boot = b"ets Jul 29 2019 12:21:46\r\nrst:0x1 (POWERON_RESET)\r\n";
        assert_eq!(heard(boot, AT_ONCE), Heard::Little);
        assert_eq!(heard(boot, CLEAN), Heard::Text);
        // Letters without a line are another rate, until every rate was tried.
        let endless = [b'K'; 700];
        assert_eq!(heard(&endless, AT_ONCE), Heard::Garbage);
        let mut all = Rates::default();
        for _ in USUAL_BAUDS {
            all.next();
        }
        assert_eq!(all.hear(&endless, AT_ONCE), Heard::Text);
        let mut rates = Rates::default();
        assert_eq!(rates.hear(boot, CLEAN), Heard::Text);
        assert_eq!(rates.take(), boot);
        assert_eq!(rates.hear_on(b"ready\r\n"), Heard::Little);
        assert_eq!(rates.hear_on(&[0xfe, 0x00].repeat(40)), Heard::Garbage);
    }

    #[test]
    fn what_is_no_text_is_another_rate() {
        let garbage = [0xf8, b'1', b'x', 0].repeat(8);
        assert_eq!(heard(&garbage, AT_ONCE), Heard::Garbage);
        assert_eq!(heard(&garbage[..8], AT_ONCE), Heard::Little);
        assert_eq!(heard(&garbage[..8], LONGEST), Heard::Garbage);
    }

    #[test]
    fn every_rate_has_its_turn_and_the_person_is_told() {
        let mut rates = Rates::default();
        assert_eq!(rates.describe(), None);
        let mut seen = vec![rates.baud()];
        for _ in 1..USUAL_BAUDS.len() {
            let baud = rates.next();
            let words = rates.describe().unwrap();
            assert!(words.contains(&format!("Trying {baud} baud")), "{words}");
            seen.push(baud);
        }
        assert_eq!(seen, USUAL_BAUDS);
        assert_eq!(rates.next(), USUAL_BAUDS[0]);
        assert!(rates.describe().unwrap().contains("--baud"));
    }

    #[test]
    fn published_rates_are_tried() {
        let text = include_str!("../../../tests/reference/17-serial-stream.json");
        let file: serde_json::Value = serde_json::from_str(text).unwrap();
        for baud in file["expected"]["rates"].as_object().unwrap().keys() {
            assert!(USUAL_BAUDS.contains(&baud.parse().unwrap()), "{baud}");
        }
    }
}
