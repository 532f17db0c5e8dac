//! Bytes arrive but nothing decodes: what they look like, and what to try next.
//!
//! Belongs here: the first bytes and a judgement on them. Does not belong here: changing the port's settings.

use super::decode::{Cause, Counts, MAX_LINE};

/// Rates that boards are commonly set to, likeliest first. Common practice, no source; the divisor tables of
/// `tests/reference/17-serial-stream.json` show which of them an 8-bit board hits.
const COMMON_BAUDS: [u32; 12] = [
    115_200, 1_000_000, 9_600, 250_000, 500_000, 57_600, 230_400, 38_400, 460_800, 921_600,
    2_000_000, 19_200,
];
/// As many first bytes are kept.
const KEPT: usize = 512;
/// As many are shown.
const SHOWN: usize = 64;
/// Fewer bytes than this are no ground for a judgement.
const ENOUGH: usize = 16;

/// The first bytes that arrived from a board.
#[derive(Debug, Clone, Default)]
pub struct FirstBytes {
    kept: Vec<u8>,
}

/// What the bytes look like.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Diagnosis {
    TooFew,
    /// Bytes that no text has: another rate than the board's.
    WrongBaud,
    NoLines,
    /// Lines that are too long to be read, the header among them or not.
    TooLong,
    /// A header of a version that this program does not read.
    OtherVersion,
    /// Lines of numbers, but nothing says what they mean.
    BareNumbers {
        /// Numbers on a line.
        fields: usize,
        /// Fewest bits that hold the largest number that is not the first on its line.
        bits: Option<u32>,
    },
    /// A header came, but the lines do not fit it; this is why most of them were rejected.
    UnfitLines(Cause),
    OtherText,
}

impl FirstBytes {
    /// Takes the next bytes; keeps them while they are the first.
    pub fn add(&mut self, bytes: &[u8]) {
        let room = KEPT - self.kept.len();
        self.kept.extend_from_slice(&bytes[..bytes.len().min(room)]);
    }

    /// The first bytes with everything that is not printable escaped: `12,34\r\n\xff`.
    pub fn shown(&self) -> String {
        let shown = &self.kept[..self.kept.len().min(SHOWN)];
        let more = if self.kept.len() > SHOWN { " ..." } else { "" };
        format!("{}{more}", shown.escape_ascii())
    }

    /// What the bytes look like, given what the decoder counted; `None` when samples were decoded.
    fn diagnosis(&self, counts: &Counts) -> Option<Diagnosis> {
        if counts.samples > 0 {
            return None;
        }
        if self.kept.len() < ENOUGH {
            return Some(Diagnosis::TooFew);
        }
        let odd = self.kept.iter().filter(|byte| !is_text(**byte)).count();
        if odd * 10 > self.kept.len() {
            return Some(Diagnosis::WrongBaud);
        }
        let begins = |header: &[u8]| memchr::memmem::find(&self.kept, header).is_some();
        let ours_too_long = begins(b"# pedalproof 1 ") && counts.rejected(Cause::TooLong) > 0;
        if counts.headers == 0 && ours_too_long {
            return Some(Diagnosis::TooLong);
        }
        let Some(first_end) = memchr::memchr(b'\n', &self.kept) else {
            return Some(Diagnosis::NoLines);
        };
        if counts.headers > 0 {
            let worst = counts.rejected_by_cause().max_by_key(|(_, n)| *n);
            return Some(match worst {
                None => Diagnosis::TooFew,
                Some((Cause::TooLong, _)) => Diagnosis::TooLong,
                Some((cause, _)) => Diagnosis::UnfitLines(cause),
            });
        }
        if begins(b"# pedalproof ") {
            return Some(Diagnosis::OtherVersion);
        }
        // The first line may lack its beginning.
        let rest = &self.kept[first_end + 1..];
        let lines = rest.split_inclusive(|byte| *byte == b'\n');
        let mut whole = lines.filter(|line| line.ends_with(b"\n"));
        let Some(numbers) = whole.find_map(numbers) else {
            return Some(Diagnosis::OtherText);
        };
        let largest = numbers.iter().skip(1).max().or(numbers.first());
        Some(Diagnosis::BareNumbers {
            fields: numbers.len(),
            bits: largest.map(|n| (u32::BITS - n.leading_zeros()).clamp(8, 24)),
        })
    }

    /// The judgement and the next step in words; `None` when samples were decoded.
    ///
    /// `tried` are the rates that were listened at, the last one now.
    pub fn advice(&self, counts: &Counts, tried: &[u32]) -> Option<String> {
        let diagnosis = self.diagnosis(counts)?;
        let baud = tried.last().copied().unwrap_or(0);
        let next_baud = COMMON_BAUDS.iter().find(|rate| !tried.contains(rate));
        let try_baud = match next_baud {
            Some(rate) => format!("try --baud {rate}"),
            None => {
                "every common rate was tried: look up the rate in the board's program".to_owned()
            }
        };
        let next_step = match diagnosis {
            // No port of ours: its rate is set elsewhere.
            Diagnosis::TooFew if tried.is_empty() => "hardly anything arrives: look at the program that brings it".to_owned(),
            Diagnosis::WrongBaud if tried.is_empty() => "that is no text: set the port to the board's rate where the stream comes from, \
                 e.g. stty -F /dev/ttyUSB0 115200 raw".to_owned(),
            Diagnosis::TooFew => format!("hardly anything arrives: wait, or press the board's reset; then {try_baud}"),
            Diagnosis::WrongBaud => format!("that is no text: the board sends at another rate than {baud} baud; {try_baud}"),
            Diagnosis::NoLines => "text without line ends: let the board end each sample with a new line".to_owned(),
            Diagnosis::TooLong => format!(
                "lines of more than {MAX_LINE} bytes, the header's too, are not read: let the board send fewer channels, or shorter names"
            ),
            Diagnosis::OtherVersion => {
                "the board's header is of another version: this program reads `# pedalproof 1`".to_owned()
            }
            Diagnosis::BareNumbers { fields, bits } => bare_numbers(fields, bits),
            Diagnosis::UnfitLines(cause) => format!(
                "a header came, but no line fits it; most were rejected as `{cause}`: compare the board's lines with \
                 its header"
            ),
            Diagnosis::OtherText => {
                "text, but no lines of numbers: is the right program on the board? `pedalproof board` writes one out"
                    .to_owned()
            }
        };
        Some(format!("first bytes: {}\n  {next_step}", self.shown()))
    }
}

fn bare_numbers(fields: usize, bits: Option<u32>) -> String {
    let names: Vec<String> = match fields {
        1 => vec!["a".to_owned()],
        _ => std::iter::once("t_us".to_owned())
            .chain((1..fields).map(|n| format!("channel{n}")))
            .collect(),
    };
    let bits = bits.map_or(String::new(), |bits| {
        format!(" (the codes seen need {bits} or more)")
    });
    format!(
        "lines of {fields} numbers, but nothing says what they mean: state --bits{bits}, --vref-mv, and the columns \
         in their order, e.g. --columns {} (t_us: the board's microseconds, if it prints them)",
        names.join(",")
    )
}

fn is_text(byte: u8) -> bool {
    byte.is_ascii_graphic() || matches!(byte, b' ' | b'\t' | b'\r' | b'\n')
}

/// The numbers of a line that has nothing else, up to its sum.
fn numbers(line: &[u8]) -> Option<Vec<u32>> {
    let text = std::str::from_utf8(line).ok()?;
    let text = text.split('*').next()?.trim();
    let separator = |c: char| matches!(c, ',' | ';') || c.is_ascii_whitespace();
    let fields = text.split(separator).filter(|field| !field.is_empty());
    let numbers: Option<Vec<u32>> = fields.map(|field| field.parse().ok()).collect();
    numbers.filter(|numbers| !numbers.is_empty())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::link::{Decoder, StreamOptions};

    fn hear(bytes: &[u8]) -> (FirstBytes, Counts) {
        let mut first = FirstBytes::default();
        let mut decoder = Decoder::new(StreamOptions::default());
        for piece in bytes.chunks(7) {
            first.add(piece);
            decoder.feed(piece, 0, &mut |_| {});
        }
        (first, *decoder.counts())
    }

    fn diagnosis(bytes: &[u8]) -> Option<Diagnosis> {
        let (first, counts) = hear(bytes);
        first.diagnosis(&counts)
    }

    #[test]
    fn what_decodes_needs_no_advice() {
        let (first, counts) = hear(b"# pedalproof 1 bits=10 vref_mv=5000 cols=a\n1\n");
        assert_eq!(first.diagnosis(&counts), None);
        assert_eq!(first.advice(&counts, &[115_200]), None);
    }

    #[test]
    fn bytes_of_another_rate() {
        let garbage: Vec<u8> = (0..100)
            .map(|i| if i % 3 == 0 { 0 } else { 0xf8 })
            .collect();
        assert_eq!(diagnosis(&garbage), Some(Diagnosis::WrongBaud));
        let (first, counts) = hear(&garbage);
        let advice = first.advice(&counts, &[115_200]).unwrap();
        assert!(
            advice.contains("115200 baud; try --baud 1000000"),
            "{advice}"
        );
        assert!(advice.contains("\\x00\\xf8"), "{advice}");
        let advice = first.advice(&counts, &COMMON_BAUDS).unwrap();
        assert!(advice.contains("every common rate was tried"), "{advice}");
    }

    #[test]
    fn numbers_without_meaning() {
        let text = b"7,512\n100000,164,82\n101000,165,82*5F\n";
        let seen = Diagnosis::BareNumbers {
            fields: 3,
            bits: Some(8),
        };
        assert_eq!(diagnosis(text), Some(seen));
        let (first, counts) = hear(text);
        let advice = first.advice(&counts, &[9600]).unwrap();
        assert!(
            advice.contains("3 numbers") && advice.contains("--columns t_us,channel1,channel2"),
            "{advice}"
        );
        let seen = Diagnosis::BareNumbers {
            fields: 1,
            bits: Some(12),
        };
        assert_eq!(diagnosis(b"2048\n2049\n2050\n2051\n2052\n"), Some(seen));
    }

    #[test]
    fn other_things_that_arrive() {
        assert_eq!(diagnosis(b""), Some(Diagnosis::TooFew));
        assert_eq!(diagnosis(b"12\n"), Some(Diagnosis::TooFew));
        assert_eq!(diagnosis(&[b'5'; 100]), Some(Diagnosis::NoLines));
        assert_eq!(
            diagnosis(b"Hello world\nstarting up\nready\n"),
            Some(Diagnosis::OtherText)
        );
        assert_eq!(
            diagnosis(b"# pedalproof 9 bits=10\n1,2\n3,4\n"),
            Some(Diagnosis::OtherVersion)
        );
        let text = b"# pedalproof 1 bits=10 vref_mv=5000 cols=a,b\n1\n2\n3,2000\n";
        assert_eq!(
            diagnosis(text),
            Some(Diagnosis::UnfitLines(Cause::WrongFieldCount))
        );
    }

    #[test]
    fn published_rates_are_tried() {
        let text = include_str!("../../tests/reference/17-serial-stream.json");
        let file: serde_json::Value = serde_json::from_str(text).unwrap();
        for baud in file["expected"]["rates"].as_object().unwrap().keys() {
            assert!(COMMON_BAUDS.contains(&baud.parse().unwrap()), "{baud}");
        }
    }

    #[test]
    fn long_beginnings_are_cut() {
        let (first, _) = hear(&[b'x'; 5000]);
        assert!(first.shown().ends_with("x ..."));
        assert_eq!(first.kept.len(), KEPT);
    }
}
