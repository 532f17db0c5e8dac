//! Bytes arrive but nothing decodes: what they look like, and what to try next.
//!
//! Belongs here: the first bytes and a judgement on them. Does not belong here: changing the port's settings.

use super::decode::{HeaderError, MAX_LINE, is_header};
use super::ports::is_text;
use super::{Cause, Counts, Labelled, StreamOptions};

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
    /// What the user says of the stream.
    stated: StreamOptions,
    /// Why the last header was not taken.
    refused: Option<HeaderError>,
}

/// What the bytes look like.
#[derive(Debug, Clone, PartialEq)]
enum Diagnosis {
    TooFew,
    /// Bytes that no text has: another rate than the board's.
    WrongBaud,
    NoLines,
    /// Lines that are too long to be read, the header among them or not.
    TooLong,
    /// A header of ours that cannot be.
    BadHeader(HeaderError),
    /// A header of a version that this program does not read.
    OtherVersion,
    /// Lines of numbers, but nothing says what they mean.
    BareNumbers {
        /// What the columns could be called.
        columns: Vec<String>,
        /// Whether the lines say so themselves, or it is our guess.
        named: bool,
        /// Bits that hold the largest code, as boards have them.
        bits: u32,
    },
    /// Numbers with a decimal point: volts, most likely.
    Volts,
    /// A header came, but lines have another number of fields.
    UnfitCount {
        /// Fields of a line.
        fields: usize,
    },
    /// A header came, but the lines do not fit it; this is why most of them were rejected.
    UnfitLines(Cause),
    OtherText,
}

impl FirstBytes {
    /// Nothing yet of a stream of which the user says this.
    pub fn of(stated: StreamOptions) -> Self {
        Self {
            stated,
            ..Self::default()
        }
    }

    /// A line that was no sample: of a header it is kept why it was not taken.
    pub fn rejected(&mut self, cause: Cause, line: &[u8]) {
        if cause != Cause::TooLong && line.first() == Some(&b'#') && is_header(line) {
            self.refused = self.stated.header_from(line).err();
        }
    }

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
        if let Some(error) = self.refused.as_ref().filter(|_| counts.headers == 0)
            // Blanks in the list of names: the lines tell more.
            && *error != HeaderError::Missing("cols")
        {
            return Some(Diagnosis::BadHeader(error.clone()));
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
        let header = begins(b"# pedalproof ");
        // The first line may lack its beginning.
        let rest = &self.kept[first_end + 1..];
        let lines = rest.split_inclusive(|byte| *byte == b'\n');
        let whole: Vec<&[u8]> = lines.filter(|line| line.ends_with(b"\n")).collect();
        if counts.headers > 0 || counts.rejected(Cause::WrongFieldCount) > 0 {
            let worst = counts.rejected_by_cause().max_by_key(|(_, n)| *n);
            let fields = whole.iter().find_map(|line| numbers(line)).map(|n| n.len());
            let miscounted = counts.rejected(Cause::WrongFieldCount) > 0;
            return Some(match (worst, fields) {
                (None, _) => Diagnosis::TooFew,
                (Some((Cause::TooLong, _)), _) => Diagnosis::TooLong,
                (_, Some(fields)) if miscounted => Diagnosis::UnfitCount { fields },
                (Some((cause, _)), _) => Diagnosis::UnfitLines(cause),
            });
        }
        if header {
            return Some(Diagnosis::OtherVersion);
        }
        Some(what_lines_are(&whole))
    }

    /// The judgement and the next step in words; `None` when samples were decoded.
    ///
    /// `baud` is the rate that somebody stated.
    pub fn advice(&self, counts: &Counts, baud: Option<u32>) -> Option<String> {
        let next_step = match self.diagnosis(counts)? {
            Diagnosis::TooFew => {
                "Hardly anything arrives. Wait, or press the board's reset.".to_owned()
            }
            Diagnosis::WrongBaud => match baud {
                Some(baud) => format!(
                    "The board speaks at another speed than {baud} baud. Leave out --baud (and `baud` in the configuration file): the usual speeds are then tried."
                ),
                None => "What arrives is no text. Set the port to the board's speed where the stream comes from, e.g. stty -F /dev/ttyUSB0 115200 raw.".to_owned(),
            },
            Diagnosis::NoLines => {
                "The text has no line ends. Let the board end each sample with a new line.".to_owned()
            }
            Diagnosis::TooLong => format!(
                "Lines of more than {MAX_LINE} bytes, the header's too, are not read. Let the board send fewer channels, or shorter names."
            ),
            Diagnosis::BadHeader(error) => bad_header(&error),
            Diagnosis::OtherVersion => {
                "The board's header is of another version. Write `# pedalproof 1` in it, or flash the program that `pedalproof board` writes out.".to_owned()
            }
            Diagnosis::BareNumbers {
                columns,
                named,
                bits,
            } => bare_numbers(&columns, named, bits),
            Diagnosis::Volts => {
                "These numbers have a decimal point: volts? Print the raw reading instead (what analogRead gives), and the time as t_us. A file of volts goes through `pedalproof import`.".to_owned()
            }
            Diagnosis::UnfitCount { fields } => format!(
                "The board's header does not fit its lines, which have {fields} numbers. Write one name for each, with commas and no blanks: cols=t_us,pedal_a,pedal_b."
            ),
            Diagnosis::UnfitLines(cause) => format!(
                "The board's header came, but its lines do not fit it (most: {cause}). Compare both in the board's program."
            ),
            Diagnosis::OtherText => {
                "Text, but no lines of numbers. Is the right program on the board? `pedalproof board` writes one out.".to_owned()
            }
        };
        Some(format!("{next_step}\n  It sends: {}", self.shown()))
    }
}

/// What lines are that no header explains.
fn what_lines_are(whole: &[&[u8]]) -> Diagnosis {
    let bits = |codes: &[u32]| match codes.iter().max() {
        Some(most) if *most < 1 << 10 => 10,
        Some(most) if *most < 1 << 12 => 12,
        Some(most) => (u32::BITS - most.leading_zeros()).clamp(13, 24),
        None => 10,
    };
    if let Some(found) = whole
        .iter()
        .find_map(|line| Labelled::read(line.trim_ascii_end()).ok())
    {
        let text = String::from_utf8_lossy(&found.numbers).into_owned();
        let codes = text.split(',').map(|number| number.parse().unwrap_or(0));
        let fields = found.names.iter().zip(codes);
        let is_code = fields.filter(|(name, _)| !name.starts_with("t_"));
        let codes: Vec<u32> = is_code.map(|(_, code)| code).collect();
        return Diagnosis::BareNumbers {
            bits: bits(&codes),
            columns: found.names,
            named: true,
        };
    }
    let lines: Vec<Vec<u32>> = whole.iter().filter_map(|line| numbers(line)).collect();
    let Some(first) = lines.first() else {
        return if whole.iter().any(|line| is_decimal(line)) {
            Diagnosis::Volts
        } else {
            Diagnosis::OtherText
        };
    };
    // What rises in every line is the time.
    let timed =
        first.len() > 1 && lines.len() > 1 && lines.windows(2).all(|pair| pair[0][0] < pair[1][0]);
    let skip = usize::from(timed);
    let codes: Vec<u32> = lines
        .iter()
        .flat_map(|line| line.iter().skip(skip))
        .copied()
        .collect();
    let names = (1..=first.len() - skip).map(|n| format!("channel{n}"));
    let time = timed.then(|| "t_us".to_owned());
    Diagnosis::BareNumbers {
        bits: bits(&codes),
        columns: time.into_iter().chain(names).collect(),
        named: false,
    }
}

fn bad_header(error: &HeaderError) -> String {
    let what = format!("The board's header is not taken: {error}.");
    match error.option() {
        Some(option) => format!(
            "{what} Set it right in the board's program, or state it to `pedalproof record` with {option}."
        ),
        None => format!("{what} Set it right in the board's program, or leave it out."),
    }
}

fn bare_numbers(columns: &[String], named: bool, bits: u32) -> String {
    let cols = columns.join(",");
    let what = if named {
        "The numbers have names, but nothing says the ADC's bits and its reference"
    } else {
        "Lines of numbers, but nothing says what they are"
    };
    format!(
        "{what}. Let the board print this line about once a second, with your own values:\n  # pedalproof 1 bits={bits} vref_mv=5000 rate_hz=100 cols={cols}\n  \
         or state it to `pedalproof record`: --bits {bits} --vref-mv 5000 --columns {cols} (t_us: the board's microseconds, t_ms: milliseconds)"
    )
}

/// Numbers with a point or a sign, and nothing else.
fn is_decimal(line: &[u8]) -> bool {
    let Ok(text) = std::str::from_utf8(line) else {
        return false;
    };
    let separator = |c: char| matches!(c, ',' | ';' | ':' | '=') || c.is_ascii_whitespace();
    let mut fields = text.split(separator).filter(|field| !field.is_empty());
    let number = |field: &str| field.trim_end_matches(['V', 'v']).parse::<f64>().is_ok();
    text.contains('.') && fields.any(number)
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
    use crate::link::{Decoder, Event};

    fn hear(bytes: &[u8]) -> (FirstBytes, Counts) {
        let mut first = FirstBytes::default();
        let mut decoder = Decoder::new(StreamOptions::default());
        for piece in bytes.chunks(7) {
            first.add(piece);
            decoder.feed(piece, 0, &mut |event| {
                if let Event::Rejected { cause, line } = event {
                    first.rejected(cause, line);
                }
            });
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
        assert_eq!(first.advice(&counts, Some(115_200)), None);
    }

    #[test]
    fn bytes_of_another_rate() {
        let garbage: Vec<u8> = (0..100)
            .map(|i| if i % 3 == 0 { 0 } else { 0xf8 })
            .collect();
        assert_eq!(diagnosis(&garbage), Some(Diagnosis::WrongBaud));
        let (first, counts) = hear(&garbage);
        let advice = first.advice(&counts, Some(115_200)).unwrap();
        assert!(
            advice.contains("another speed than 115200 baud"),
            "{advice}"
        );
        assert!(advice.contains("\\x00\\xf8"), "{advice}");
    }

    #[test]
    fn numbers_without_meaning() {
        let bare = |columns: &[&str], named, bits| {
            Some(Diagnosis::BareNumbers {
                columns: columns.iter().map(|name| (*name).to_owned()).collect(),
                named,
                bits,
            })
        };
        let text = b"7,512\n100000,164,82\n101000,165,82*5F\n";
        assert_eq!(
            diagnosis(text),
            bare(&["t_us", "channel1", "channel2"], false, 10)
        );
        let (first, counts) = hear(text);
        let advice = first.advice(&counts, None).unwrap();
        for told in [
            "# pedalproof 1 bits=10 vref_mv=5000 rate_hz=100 cols=t_us,channel1,channel2",
            "--columns t_us,channel1,channel2",
        ] {
            assert!(advice.contains(told), "{advice}");
        }
        let text = b"2048\n2049\n2050\n2051\n2052\n";
        assert_eq!(diagnosis(text), bare(&["channel1"], false, 12));
        // Two channels, and no time: the first does not rise in every line.
        let text = b"x\n512,300\n511,300\n513,301\n";
        assert_eq!(diagnosis(text), bare(&["channel1", "channel2"], false, 10));
        let text = b"x\nt_ms:120000,pedal:512\nt_ms:120010,pedal:512\n";
        assert_eq!(diagnosis(text), bare(&["t_ms", "pedal"], true, 10));
    }

    #[test]
    fn volts_are_told_from_codes() {
        for text in [
            "0.80 4.21\n0.81 4.20\n0.80 4.20\n",
            "x\nU: 2.50V\nU: 2.51V\nU: 2.5V\n",
        ] {
            assert_eq!(diagnosis(text.as_bytes()), Some(Diagnosis::Volts), "{text}");
        }
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
        assert_eq!(diagnosis(text), Some(Diagnosis::UnfitCount { fields: 1 }));
        let blanks = b"# pedalproof 1 bits=10 vref_mv=5000 cols=t_us pedal dial\n1,2,3\n4,5,6\n";
        assert_eq!(diagnosis(blanks), Some(Diagnosis::UnfitCount { fields: 3 }));
    }

    #[test]
    fn a_header_that_cannot_be_is_told_from_one_of_another_version() {
        let told = |header: &str| {
            let (first, counts) = hear(format!("{header}\n1,2\n3,4\n").as_bytes());
            first.advice(&counts, None).unwrap()
        };
        for (value, expected, option) in [
            ("rate_hz=1e308", "from 0.001 to 10000000", "--rate-hz"),
            ("vref_mv=1e-320", "from 1 to 1000000", "--vref-mv"),
            ("bits=99", "1 to 24", "--bits"),
            ("cols=p", "only once", "--columns"),
        ] {
            let header = match value {
                "cols=p" => "cols=p,t_us,p".to_owned(),
                _ => format!("cols=p,t_us {value}"),
            };
            let header = format!("# pedalproof 1 bits=10 vref_mv=5000 rate_hz=1000 {header}");
            let told = told(&header);
            for part in [value, expected, option] {
                assert!(told.contains(part), "{part}: {told}");
            }
        }
        assert!(told("# pedalproof 1 bits=10 cols=t_us,p").contains("--vref-mv"));
        assert!(told("# pedalproof 1 bits=10 vref_mv=5000 cols=a*00").contains("check sum"));
        assert!(told("# pedalproof 2 bits=10").contains("another version"));
    }

    #[test]
    fn long_beginnings_are_cut() {
        let (first, _) = hear(&[b'x'; 5000]);
        assert!(first.shown().ends_with("x ..."));
        assert_eq!(first.kept.len(), KEPT);
    }
}
