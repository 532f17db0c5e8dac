//! What the numbers of the stream mean: the `#` line of DESIGN 4.1, and what the user stated instead of it.

use super::counts::Cause;
use super::fields::{hex_pair, is_blank, trim_end, xor_sum};
use crate::outlet;
use measure::units::{OWN_COLUMNS, Scale};
use thiserror::Error;

/// The name of the column that carries the board's time.
pub const TIME_COLUMN: &str = "t_us";
/// The same in milliseconds.
const TIME_COLUMN_MS: &str = "t_ms";

/// What the user says of the stream. Whatever is stated here wins over what the board's header says.
///
/// A board that prints bare numbers needs `bits`, `vref_mv` and `columns`; without `rate_hz` no missing sample can be
/// counted.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct StreamOptions {
    /// Resolution in bits, 1 ..= 24.
    pub bits: Option<u32>,
    /// ADC reference in millivolts, positive.
    pub vref_mv: Option<f64>,
    /// Nominal samples a second, positive.
    pub rate_hz: Option<f64>,
    /// Names of the columns in the order of the line; [`TIME_COLUMN`] is the board's time in microseconds, `t_ms` in milliseconds.
    pub columns: Option<Vec<String>>,
    /// Integral non-linearity of the board in codes, not negative.
    pub inl_codes: Option<f64>,
    /// The listener may have joined in the middle of a line, so the first one is no evidence.
    pub joined_mid_line: bool,
}

#[derive(Debug, Clone, PartialEq, Error)]
pub enum HeaderError {
    #[error("{key}={value} cannot be: {expected}")]
    Value {
        key: &'static str,
        value: String,
        /// What it should look like.
        expected: &'static str,
    },
    /// A channel of this name would stand where a recording has something else.
    #[error(
        "`{0}` cannot be a channel's name, for a recording has a column `{0}` of its own: call it something else, e.g. `angle` (a sensor that says where the control stands is stated with --channel angle=reference)"
    )]
    Reserved(String),
    #[error("{0} is not known: the board's header does not say it, so state it")]
    Missing(&'static str),
    #[error("the header's check sum is wrong")]
    BadSum,
}

impl HeaderError {
    /// The option of `record` that states what is wrong with the header.
    pub(in crate::link) fn option(&self) -> Option<&'static str> {
        let key = match self {
            Self::Value { key, .. } | Self::Missing(key) => *key,
            Self::Reserved(_) => "cols",
            Self::BadSum => return None,
        };
        Some(match key {
            "bits" => "--bits",
            "vref_mv" => "--vref-mv",
            "rate_hz" => "--rate-hz",
            _ => "--columns",
        })
    }

    pub(super) fn cause(&self) -> Cause {
        match self {
            Self::Value { .. } | Self::Reserved(_) => Cause::NotANumber,
            Self::Missing(_) => Cause::WrongFieldCount,
            Self::BadSum => Cause::BadSum,
        }
    }
}

/// What the numbers of the stream mean.
#[derive(Debug, Clone, PartialEq)]
pub struct Header {
    pub scale: Scale,
    /// Nominal samples a second, if the board or the user said so.
    pub rate_hz: Option<f64>,
    /// Names of the channels in the order of the line, without the time.
    pub columns: Vec<String>,
    /// Which field of the line is the board's time; `None`: there is none, and the time is that of arrival at the
    /// host.
    pub time_field: Option<usize>,
    /// Microseconds in one count of the board's time: 1, or 1000 where it prints milliseconds.
    pub time_count_us: u32,
}

impl Header {
    pub fn bits(&self) -> u32 {
        u32::from(self.scale.bits())
    }

    pub fn vref_mv(&self) -> f64 {
        self.scale.vref_mv()
    }

    /// Whether samples carry the board's time; otherwise it is the time of arrival at the host.
    pub fn has_time(&self) -> bool {
        self.time_field.is_some()
    }

    /// Whether fields of these names, in this order, are those of a sample line; the time may have either name.
    pub(super) fn has_fields(&self, names: &[String]) -> bool {
        let mut columns = self.columns.iter();
        names.len() == self.fields()
            && names.iter().enumerate().all(|(at, name)| {
                if Some(at) == self.time_field {
                    name == TIME_COLUMN || name == TIME_COLUMN_MS
                } else {
                    columns.next() == Some(name)
                }
            })
    }

    /// Numbers on a sample line.
    pub fn fields(&self) -> usize {
        self.columns.len() + usize::from(self.has_time())
    }
}

impl StreamOptions {
    /// What the header line says of what is not `stated`.
    fn read(line: &[u8], stated: &Self) -> Result<Self, HeaderError> {
        let text = closed_up(&String::from_utf8_lossy(without_sum(line)?));
        let mut said = Self::default();
        for token in text.split_ascii_whitespace() {
            let Some((key, value)) = token.split_once('=') else {
                continue;
            };
            match key {
                "bits" if stated.bits.is_none() => said.bits = Some(read_bits(value)?),
                "vref_mv" if stated.vref_mv.is_none() => {
                    said.vref_mv = Some(read_positive("vref_mv", value)?);
                }
                "rate_hz" if stated.rate_hz.is_none() => {
                    said.rate_hz = Some(read_positive("rate_hz", value)?);
                }
                "cols" if stated.columns.is_none() => {
                    said.columns = Some(read_columns(value.split(','))?);
                }
                _ => {}
            }
        }
        Ok(said)
    }

    fn complete(self) -> Result<Header, HeaderError> {
        let bits = self.bits.ok_or(HeaderError::Missing("bits"))?;
        let vref_mv = self.vref_mv.ok_or(HeaderError::Missing("vref_mv"))?;
        let mut columns = self.columns.ok_or(HeaderError::Missing("cols"))?;
        let scale = Scale::new(bits, vref_mv).map_err(|_| HeaderError::Missing("bits"))?;
        let named = |time: &str| columns.iter().position(|name| name == time);
        let (time_field, time_count_us) = match (named(TIME_COLUMN), named(TIME_COLUMN_MS)) {
            (None, Some(at)) => (Some(at), 1000),
            (at, _) => (at, 1),
        };
        if let Some(at) = time_field {
            columns.remove(at);
        }
        if columns.is_empty() {
            return Err(HeaderError::Missing("cols"));
        }
        Ok(Header {
            scale,
            rate_hz: self.rate_hz,
            columns,
            time_field,
            time_count_us,
        })
    }

    /// What a stream without any header means, as far as the options say it.
    pub fn header(&self) -> Result<Header, HeaderError> {
        self.check()?;
        self.clone().complete()
    }

    /// What a header line means, completed and overruled by these options.
    pub fn header_from(&self, line: &[u8]) -> Result<Header, HeaderError> {
        self.check()?;
        let said = Self::read(line, self)?;
        Self {
            bits: self.bits.or(said.bits),
            vref_mv: self.vref_mv.or(said.vref_mv),
            rate_hz: self.rate_hz.or(said.rate_hz),
            columns: self.columns.clone().or(said.columns),
            ..said
        }
        .complete()
    }

    /// Refuses values that cannot be, so that the user hears of them before a port is opened.
    pub fn check(&self) -> Result<(), HeaderError> {
        if let Some(bits) = self.bits {
            read_bits(&bits.to_string())?;
        }
        for (key, value) in [("vref_mv", self.vref_mv), ("rate_hz", self.rate_hz)] {
            if let Some(value) = value {
                read_positive(key, &outlet::number(value))?;
            }
        }
        if let Some(codes) = self
            .inl_codes
            .filter(|codes| !(*codes >= 0.0 && codes.is_finite()))
        {
            return Err(refuse(
                "inl_codes",
                &outlet::number(codes),
                "codes, 0 or more",
            ));
        }
        if let Some(names) = &self.columns {
            read_columns(names.iter().map(String::as_str))?;
        }
        Ok(())
    }

    /// These options without the values that cannot be.
    pub(super) fn possible(mut self) -> Self {
        let bits = |bits: &u32| read_bits(&bits.to_string()).is_ok();
        let positive = |key, number: &f64| read_positive(key, &number.to_string()).is_ok();
        let named = |names: &Vec<String>| read_columns(names.iter().map(String::as_str)).is_ok();
        self.bits = self.bits.filter(bits);
        self.vref_mv = self.vref_mv.filter(|mv| positive("vref_mv", mv));
        self.rate_hz = self.rate_hz.filter(|hz| positive("rate_hz", hz));
        self.columns = self.columns.filter(named);
        self
    }
}

/// Whether a `#` line is a header of this stream, version 1; any other is a comment.
pub(in crate::link) fn is_header(line: &[u8]) -> bool {
    let mut words = line[1..]
        .split(|byte| is_blank(*byte))
        .filter(|word| !word.is_empty());
    words.next() == Some(b"pedalproof".as_slice()) && words.next() == Some(b"1".as_slice())
}

/// The header without its `*HH`, which must be right if it is there.
fn without_sum(line: &[u8]) -> Result<&[u8], HeaderError> {
    let line = trim_end(line);
    let Some(star) = memchr::memrchr(b'*', line) else {
        return Ok(line);
    };
    if hex_pair(&line[star + 1..]) == Some(xor_sum(&line[..star])) {
        Ok(&line[..star])
    } else {
        Err(HeaderError::BadSum)
    }
}

/// The header without blanks beside commas: somebody wrote `cols=t_us, pedal_a`.
fn closed_up(text: &str) -> String {
    let parts: Vec<&str> = text.split(',').map(str::trim).collect();
    parts.join(",")
}

fn refuse(key: &'static str, value: &str, expected: &'static str) -> HeaderError {
    HeaderError::Value {
        key,
        value: value.to_owned(),
        expected,
    }
}

fn read_bits(value: &str) -> Result<u32, HeaderError> {
    let bits = value.parse().ok().filter(|bits| (1..=24).contains(bits));
    bits.ok_or_else(|| refuse("bits", value, "a whole number of bits, 1 to 24"))
}

fn read_positive(key: &'static str, value: &str) -> Result<f64, HeaderError> {
    let number = value.parse::<f64>().ok();
    let (range, expected) = match key {
        "vref_mv" => (1.0..=1e6, "millivolts from 1 to 1000000"),
        _ => (1e-3..=1e7, "samples a second from 0.001 to 10000000"),
    };
    number
        .filter(|number| range.contains(number))
        .ok_or_else(|| refuse(key, value, expected))
}

/// Refuses the names that a recording's own columns have.
pub fn check_channel_name(name: &str) -> Result<(), HeaderError> {
    if OWN_COLUMNS.contains(&name) {
        return Err(HeaderError::Reserved(name.to_owned()));
    }
    Ok(())
}

fn read_columns<'a>(names: impl Iterator<Item = &'a str>) -> Result<Vec<String>, HeaderError> {
    const EXPECTED: &str = "names of letters, digits, `_`, `-` and `.`, separated by commas";
    let mut columns: Vec<String> = Vec::new();
    for name in names {
        let plain = |c: char| c.is_ascii_alphanumeric() || matches!(c, '_' | '-' | '.');
        if name.is_empty() || !name.chars().all(plain) {
            return Err(refuse("cols", name, EXPECTED));
        }
        if columns.iter().any(|known| known == name) {
            return Err(refuse("cols", name, "a name may stand only once"));
        }
        if name != TIME_COLUMN {
            check_channel_name(name)?;
        }
        columns.push(name.to_owned());
    }
    Ok(columns)
}

#[cfg(test)]
mod tests {
    use super::*;

    const CONTRACT: &[u8] =
        b"# pedalproof 1 bits=10 vref_mv=5000 rate_hz=1000 cols=t_us,pedal_a,pedal_b,dial";

    fn bare() -> StreamOptions {
        StreamOptions {
            bits: Some(12),
            vref_mv: Some(3300.0),
            columns: Some(vec!["lever".into()]),
            ..StreamOptions::default()
        }
    }

    #[test]
    fn the_header_of_the_contract() {
        let header = StreamOptions::default().header_from(CONTRACT).unwrap();
        assert_eq!(header.bits(), 10);
        assert!((header.vref_mv() - 5000.0).abs() < f64::EPSILON);
        assert_eq!(header.rate_hz, Some(1000.0));
        assert_eq!(header.columns, ["pedal_a", "pedal_b", "dial"]);
        assert_eq!(header.time_field, Some(0));
        assert_eq!(header.fields(), 4);
    }

    #[test]
    fn headers_and_comments_are_told_apart() {
        for header in ["# pedalproof 1", "#pedalproof 1 x", "#  pedalproof\t1\r"] {
            assert!(is_header(header.as_bytes()), "{header:?}");
        }
        for comment in [
            "#",
            "# pedalproof",
            "# pedalproof 2 bits=1",
            "# pedalproofs 1",
            "# a pedalproof 1",
        ] {
            assert!(!is_header(comment.as_bytes()), "{comment:?}");
        }
    }

    #[test]
    fn unknown_keys_are_ignored_and_order_is_free() {
        let line = b"# pedalproof 1 cols=a,t_us,b name=T3 vref_mv=4998.5 colour bits=16";
        let header = StreamOptions::default().header_from(line).unwrap();
        assert_eq!(header.columns, ["a", "b"]);
        assert_eq!(header.time_field, Some(1));
        assert_eq!(header.rate_hz, None);
    }

    #[test]
    fn blanks_beside_commas_are_no_part_of_a_name() {
        let line =
            b"# pedalproof 1 bits=10 vref_mv=5000 cols=t_us, pedal_a ,pedal_b,\tdial rate_hz=100";
        let header = StreamOptions::default().header_from(line).unwrap();
        assert_eq!(header.columns, ["pedal_a", "pedal_b", "dial"]);
        assert_eq!((header.rate_hz, header.time_field), (Some(100.0), Some(0)));
    }

    #[test]
    fn milliseconds_are_a_time_too() {
        let line = b"# pedalproof 1 bits=10 vref_mv=5000 cols=a,t_ms";
        let header = StreamOptions::default().header_from(line).unwrap();
        assert_eq!(header.columns, ["a"]);
        assert_eq!((header.time_field, header.time_count_us), (Some(1), 1000));
        let header = StreamOptions::default().header_from(CONTRACT).unwrap();
        assert_eq!(header.time_count_us, 1);
    }

    #[test]
    fn a_header_may_carry_a_sum() {
        let mut line = b"# pedalproof 1 bits=10 vref_mv=5000 cols=a".to_vec();
        // XOR computed with Python: functools.reduce(operator.xor, b"...").
        line.extend_from_slice(b"*2E");
        let good = StreamOptions::default().header_from(&line);
        assert_eq!(good.unwrap().columns, ["a"]);
        for sum in ["*53", "*5", "*", "*520", "*zz"] {
            let line = format!("# pedalproof 1 bits=10 vref_mv=5000 cols=a{sum}");
            let bad = StreamOptions::default().header_from(line.as_bytes());
            assert_eq!(bad, Err(HeaderError::BadSum), "{sum}");
        }
    }

    #[test]
    fn values_that_cannot_be() {
        for part in [
            "bits=0",
            "bits=25",
            "bits=ten",
            "vref_mv=0",
            "vref_mv=-5",
            "vref_mv=NaN",
            "vref_mv=1e-320",
            "rate_hz=1e308",
            "rate_hz=0",
            "rate_hz=inf",
            "cols=",
            "cols=a,,b",
            "cols=a,a",
            "cols=a;b",
            "cols=\u{e4}",
        ] {
            let line = format!("# pedalproof 1 bits=10 vref_mv=5000 cols=a {part}");
            let error = StreamOptions::default().header_from(line.as_bytes());
            let error = error.unwrap_err();
            assert_eq!(error.cause(), Cause::NotANumber, "{part}");
        }
    }

    /// DESIGN 4.2: `step` and `ref` are columns of the recording itself.
    #[test]
    fn a_channel_has_no_name_of_a_recordings_own_column() {
        for name in ["ref", "step"] {
            let line = format!("# pedalproof 1 bits=10 vref_mv=5000 cols=t_us,p,{name}");
            let said = StreamOptions::default().header_from(line.as_bytes());
            assert_eq!(said, Err(HeaderError::Reserved(name.to_owned())));
            let stated = StreamOptions {
                columns: Some(vec!["t_us".into(), name.into()]),
                ..bare()
            };
            let message = stated.check().unwrap_err().to_string();
            assert!(message.contains("call it something else"), "{message}");
        }
        assert!(check_channel_name("t_us").is_err() && check_channel_name("refs").is_ok());
    }

    #[test]
    fn too_little_to_read_a_sample_with() {
        for line in [
            "# pedalproof 1",
            "# pedalproof 1 bits=10 cols=a",
            "# pedalproof 1 vref_mv=5000 cols=a",
            "# pedalproof 1 bits=10 vref_mv=5000",
            "# pedalproof 1 bits=10 vref_mv=5000 cols=t_us",
        ] {
            let error = StreamOptions::default().header_from(line.as_bytes());
            assert_eq!(error.unwrap_err().cause(), Cause::WrongFieldCount, "{line}");
        }
    }

    #[test]
    fn the_user_completes_and_overrules() {
        let header = bare().header().unwrap();
        assert_eq!((header.bits(), header.time_field), (12, None));
        let measured = StreamOptions {
            vref_mv: Some(4873.0),
            ..StreamOptions::default()
        };
        let header = measured.header_from(CONTRACT).unwrap();
        assert!((header.vref_mv() - 4873.0).abs() < f64::EPSILON);
        assert_eq!(header.bits(), 10);
        let wrong = b"# pedalproof 1 bits=10 vref_mv=0 cols=a";
        assert!(measured.header_from(wrong).is_ok());
        assert_eq!(measured.header(), Err(HeaderError::Missing("bits")));
        assert!(measured.check().is_ok());
    }

    #[test]
    fn the_user_is_told_what_cannot_be() {
        let options = StreamOptions {
            bits: Some(40),
            ..bare()
        };
        let message = options.check().unwrap_err().to_string();
        assert!(
            message.contains("bits=40") && message.contains("1 to 24"),
            "{message}"
        );
    }
}
