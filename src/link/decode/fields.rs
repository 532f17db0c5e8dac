//! One sample line as numbers: separators, decimals and the `*HH` sum.

use super::counts::Cause;
use measure::units::{MOST_DIGITS, leading_decimal};

/// Longest line in bytes, without its LF or CR LF.
pub const MAX_LINE: usize = 160;
/// Most fields that a line of [`MAX_LINE`] bytes can hold.
pub(super) const MAX_FIELDS: usize = MAX_LINE / 2;

/// XOR of all bytes: the sum of NMEA 0183.
pub(in crate::link) fn xor_sum(bytes: &[u8]) -> u8 {
    let (eights, rest) = bytes.as_chunks::<8>();
    let whole = |sum: u64, eight: &[u8; 8]| sum ^ u64::from_le_bytes(*eight);
    let mut sum = eights.iter().fold(0, whole);
    match bytes.last_chunk::<8>() {
        // The last eight bytes without those that are in already, which stand lowest.
        Some(last) if !rest.is_empty() => sum ^= u64::from_le_bytes(*last) >> (64 - 8 * rest.len()),
        Some(_) => {}
        None => return bytes.iter().fold(0, |sum, byte| sum ^ byte),
    }
    sum ^= sum >> 32;
    sum ^= sum >> 16;
    sum ^= sum >> 8;
    sum.to_le_bytes()[0]
}

/// Whether a byte is a blank of a line: space, tab, or a stray carriage return.
pub(super) fn is_blank(byte: u8) -> bool {
    matches!(byte, b' ' | b'\t' | b'\r')
}

/// The line without blanks at its end.
pub(super) fn trim_end(mut line: &[u8]) -> &[u8] {
    while let [rest @ .., last] = line
        && is_blank(*last)
    {
        line = rest;
    }
    line
}

/// Two hex digits as a byte.
pub(super) fn hex_pair(digits: &[u8]) -> Option<u8> {
    let [high, low] = digits else { return None };
    let digit = |byte: u8| char::from(byte).to_digit(16);
    u8::try_from(digit(*high)? * 16 + digit(*low)?).ok()
}

/// Reads the unsigned decimals of the line `text[..end]` into `fields` and checks the sum, if the line carries one. What stands
/// behind the line in `text`, if anything, begins with no digit; it only lets numbers be read faster.
///
/// Fields are separated by one comma or semicolon with any blanks around it, or by blanks alone. A number beyond
/// 64 bits reads as `u64::MAX`. Gives how many fields there were.
#[inline]
pub(super) fn parse(
    text: &[u8],
    end: usize,
    fields: &mut [u64; MAX_FIELDS],
) -> Result<usize, Cause> {
    let line = &text[..end];
    let (mut at, mut count) = (0, 0);
    loop {
        let (mut value, mut digits) = leading_decimal(&text[at..]);
        if digits == 0 {
            at = behind_blanks(line, at);
            (value, digits) = leading_decimal(&line[at..]);
        }
        let Some(field) = fields.get_mut(count).filter(|_| digits > 0) else {
            return Err(why_unreadable(line));
        };
        *field = if digits > MOST_DIGITS {
            u64::MAX
        } else {
            value
        };
        count += 1;
        at += digits;
        match line.get(at) {
            None => return Ok(count),
            Some(b',' | b';') => at += 1,
            Some(b'*') => return summed(line, at).map(|()| count),
            Some(_) => {
                let blanks = behind_blanks(line, at) - at;
                at += blanks;
                match line.get(at) {
                    None => return Ok(count),
                    Some(b',' | b';') => at += 1,
                    Some(b'*') => return summed(line, at).map(|()| count),
                    Some(b'0'..=b'9') if blanks > 0 => {}
                    Some(_) => return Err(why_unreadable(line)),
                }
            }
        }
    }
}

/// Whether the two hex digits behind the star are the XOR of all bytes before it.
#[inline]
fn summed(line: &[u8], star: usize) -> Result<(), Cause> {
    const DIGITS: &[u8; 16] = b"0123456789ABCDEF";
    let sum = xor_sum(&line[..star]);
    let stated = &line[star + 1..];
    // As boards write it; else small letters and blanks.
    let usual = [DIGITS[usize::from(sum >> 4)], DIGITS[usize::from(sum & 15)]];
    if stated == usual || hex_pair(trim_end(stated)) == Some(sum) {
        Ok(())
    } else {
        Err(Cause::BadSum)
    }
}

fn behind_blanks(line: &[u8], mut at: usize) -> usize {
    while line.get(at).is_some_and(|byte| is_blank(*byte)) {
        at += 1;
    }
    at
}

/// A line that is not numbers was damaged when its own sum says so; otherwise it never was a sample.
#[cold]
fn why_unreadable(line: &[u8]) -> Cause {
    let sum_is_wrong = memchr::memrchr(b'*', line)
        .is_some_and(|star| hex_pair(trim_end(&line[star + 1..])) != Some(xor_sum(&line[..star])));
    if sum_is_wrong {
        Cause::BadSum
    } else {
        Cause::NotANumber
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(line: &str) -> Result<Vec<u64>, Cause> {
        let mut fields = [0; MAX_FIELDS];
        let count = parse(line.as_bytes(), line.len(), &mut fields)?;
        Ok(fields[..count].to_vec())
    }

    #[test]
    fn every_separator_alone_and_mixed() {
        for line in [
            "1,20,300",
            "1;20;300",
            "1\t20\t300",
            "1 20 300",
            "1  20 \t 300",
            " 1 , 20 ;300 ",
            "1 ,20\t;\t300",
            "001,020,0300",
            "\r1,20,300",
        ] {
            assert_eq!(read(line), Ok(vec![1, 20, 300]), "{line:?}");
        }
    }

    #[test]
    fn what_is_not_a_number() {
        for line in [
            "1,,3",
            "1,2,",
            ",1,2",
            "-1,2",
            "+1,2",
            "1.5",
            "0x10",
            "1,2,a",
            "a",
            "1'000",
            "1,\0",
            "1,2,\u{e9}",
            ";",
            "1;,2",
            "1_000",
            "1#",
        ] {
            assert_eq!(read(line), Err(Cause::NotANumber), "{line:?}");
        }
    }

    #[test]
    fn numbers_up_to_and_beyond_64_bits() {
        assert_eq!(
            read("9999999999999999999"),
            Ok(vec![9_999_999_999_999_999_999])
        );
        assert_eq!(read("18446744073709551616"), Ok(vec![u64::MAX]));
        assert_eq!(read(&"9".repeat(160)), Ok(vec![u64::MAX]));
    }

    #[test]
    fn as_many_fields_as_a_line_can_hold() {
        let line = ["1"; MAX_FIELDS].join(",");
        assert_eq!(line.len(), 159);
        assert_eq!(read(&line).unwrap().len(), MAX_FIELDS);
    }

    #[test]
    fn the_sum_is_the_xor_of_all_bytes_before_the_star() {
        // Worked by hand: '1' ^ ',' ^ '2' = 31 ^ 2C ^ 32 hex = 2F.
        assert_eq!(read("1,2*2F"), Ok(vec![1, 2]));
        assert_eq!(read("1,2*2f"), Ok(vec![1, 2]));
        assert_eq!(read("1,2*2F \r"), Ok(vec![1, 2]));
        // A blank counts: 2F ^ 20 = 0F.
        assert_eq!(read("1,2 *0F"), Ok(vec![1, 2]));
        for line in [
            "1,2*2E",
            "1,3*2F",
            "1,2*",
            "1,2*2",
            "1,2*02F",
            "1,2*GG",
            "1,2*2F*2F",
            "1,x*2F",
        ] {
            assert_eq!(read(line), Err(Cause::BadSum), "{line:?}");
        }
        // The sum is right, the content is not: 'a' ^ ',' ^ '2' = 61 ^ 2C ^ 32 hex = 7F.
        assert_eq!(read("a,2*7F"), Err(Cause::NotANumber));
        // An empty line sums to zero and is still no sample.
        assert_eq!(read("*00"), Err(Cause::NotANumber));
    }

    #[test]
    fn the_sum_of_any_length_is_the_sum_byte_by_byte() {
        let bytes: Vec<u8> = (0..40_u8).map(|i| i.wrapping_mul(97) ^ 0x5a).collect();
        for length in 0..=bytes.len() {
            let want = bytes[..length].iter().fold(0, |sum, byte| sum ^ byte);
            assert_eq!(xor_sum(&bytes[..length]), want, "{length}");
        }
    }

    #[test]
    fn what_stands_behind_the_line_is_not_read() {
        let mut fields = [0; MAX_FIELDS];
        for (text, end, last) in [
            ("12,34\n56,78", 5, 34),
            ("12,34 \n56", 6, 34),
            ("12,3\r\n99", 4, 3),
            ("12345678,9\n", 10, 9),
        ] {
            assert_eq!(parse(text.as_bytes(), end, &mut fields), Ok(2), "{text:?}");
            assert_eq!(fields[1], last, "{text:?}");
        }
        for (text, end) in [("1,\n2", 2), ("1, \n2", 3)] {
            let read = parse(text.as_bytes(), end, &mut fields);
            assert_eq!(read, Err(Cause::NotANumber), "{text:?}");
        }
    }

    #[test]
    fn published_xor_sums() {
        // tests/reference/09-checksums.json: sentences of NMEA 0183 with their sums, from outside this code.
        let text = include_str!("../../../tests/reference/09-checksums.json");
        let file: serde_json::Value = serde_json::from_str(text).unwrap();
        let sentences = file["expected"]["nmea_xor"].as_array().unwrap();
        assert_eq!(sentences.len(), 8);
        for entry in sentences {
            let sentence = entry["sentence"].as_str().unwrap();
            let (body, stated) = sentence[1..].split_once('*').unwrap();
            assert_eq!(
                format!("{:02X}", xor_sum(body.as_bytes())),
                stated,
                "{sentence}"
            );
            assert_eq!(hex_pair(stated.as_bytes()), Some(xor_sum(body.as_bytes())));
        }
    }
}
