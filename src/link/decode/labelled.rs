//! Lines that name each number, `pedal_a:164,pedal_b:82`, as boards print them for a plotter: names and numbers apart.

use super::counts::Cause;
use super::fields::{hex_pair, is_blank, trim_end, xor_sum};

/// A line of named numbers, taken apart.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(in crate::link) struct Labelled {
    pub names: Vec<String>,
    /// The numbers as a line of their own, separated by commas.
    pub numbers: Vec<u8>,
}

impl Labelled {
    /// `NAME:NUMBER` or `NAME=NUMBER`, blanks around either, separated as other lines are; a `*HH` is of the whole line.
    pub fn read(line: &[u8]) -> Result<Self, Cause> {
        let line = trim_end(line);
        let body = match memchr::memrchr(b'*', line) {
            None => line,
            Some(star) if hex_pair(&line[star + 1..]) == Some(xor_sum(&line[..star])) => {
                &line[..star]
            }
            Some(_) => return Err(Cause::BadSum),
        };
        let mut found = Self::default();
        let mut rest = body;
        loop {
            rest = behind(rest, is_blank);
            let (name, after) = split(rest, is_name);
            let after = behind(after, is_blank);
            let Some((b':' | b'=', after)) = after.split_first() else {
                return Err(Cause::NotANumber);
            };
            let (number, after) = split(behind(after, is_blank), |byte| byte.is_ascii_digit());
            if name.is_empty() || name[0].is_ascii_digit() || number.is_empty() {
                return Err(Cause::NotANumber);
            }
            if !found.names.is_empty() {
                found.numbers.push(b',');
            }
            found.numbers.extend_from_slice(number);
            found.names.push(String::from_utf8_lossy(name).into_owned());
            rest = behind(after, is_blank);
            match rest.split_first() {
                None => return Ok(found),
                Some((b',' | b';', more)) => rest = more,
                Some(_) if rest.len() < after.len() => {}
                Some(_) => return Err(Cause::NotANumber),
            }
        }
    }
}

fn is_name(byte: u8) -> bool {
    byte.is_ascii_alphanumeric() || matches!(byte, b'_' | b'-' | b'.')
}

fn split(bytes: &[u8], belongs: impl Fn(u8) -> bool) -> (&[u8], &[u8]) {
    let end = bytes.iter().position(|byte| !belongs(*byte));
    bytes.split_at(end.unwrap_or(bytes.len()))
}

fn behind(bytes: &[u8], passed: impl Fn(u8) -> bool) -> &[u8] {
    split(bytes, passed).1
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_and_numbers_apart() {
        for line in [
            "pedal_a:164,dial:82",
            "pedal_a: 164, dial: 82",
            "pedal_a=164 dial=82",
            "pedal_a : 164\tdial:82 ",
            // Worked with Python: functools.reduce(operator.xor, b"pedal_a:164,dial:82") = 0x57.
            "pedal_a:164,dial:82*57",
        ] {
            let found = Labelled::read(line.as_bytes()).unwrap();
            assert_eq!(found.names, ["pedal_a", "dial"], "{line}");
            assert_eq!(found.numbers, b"164,82", "{line}");
        }
    }

    #[test]
    fn what_is_none() {
        for line in [
            "a:1,b", "a:1,2", "a:", ":1", "a:-1", "a:1.5", "1:2", "a:1b:2", "", "a:1,",
        ] {
            let read = Labelled::read(line.as_bytes());
            assert_eq!(read, Err(Cause::NotANumber), "{line:?}");
        }
        assert_eq!(Labelled::read(b"a:1*00"), Err(Cause::BadSum));
    }
}
