//! The unsigned decimal at the beginning of some bytes, eight digits at a time.
//!
//! Lines of samples are mostly digits, of a length that changes from one number to the next: reading them byte by byte costs a
//! wrong guess of the processor for most of them. Eight bytes in one register cost none.
//! Source: the tricks are common knowledge of arithmetic within a register (Lamport 1975; Warren, Hacker's Delight,
//! chapter 6 on finding a byte); the steps are explained where they stand.

use std::num::NonZero;

/// Most digits whose number surely fits into 64 bits: 19 nines do, 20 do not.
pub const MOST_DIGITS: usize = 19;

const EACH_BYTE: u64 = 0x0101_0101_0101_0101;
const TENS: [u64; 9] = [
    1,
    10,
    100,
    1_000,
    10_000,
    100_000,
    1_000_000,
    10_000_000,
    100_000_000,
];

/// The number that the digits at the beginning of `text` make, and how many digits there are; `(0, 0)` when there are none.
/// Beyond [`MOST_DIGITS`] digits the number means nothing.
#[inline]
#[must_use]
pub fn leading_decimal(text: &[u8]) -> (u64, usize) {
    let few = text.first_chunk().and_then(|eight| few_digits(*eight));
    few.unwrap_or_else(|| many_digits(text))
}

/// The same where eight digits or more may stand at the beginning, or fewer than eight bytes are left.
#[inline(never)] // most numbers are short: what they take stays small where it is put
fn many_digits(text: &[u8]) -> (u64, usize) {
    let (mut value, mut digits) = (0_u64, 0);
    while let Some(eight) = text.get(digits..).and_then(<[u8]>::first_chunk::<8>) {
        if let Some((more, count)) = few_digits(*eight) {
            return (
                value.wrapping_mul(TENS[count]).wrapping_add(more),
                digits + count,
            );
        }
        let eight = number(u64::from_le_bytes(*eight) ^ (EACH_BYTE * 0x30));
        value = value.wrapping_mul(TENS[8]).wrapping_add(eight);
        digits += 8;
    }
    for byte in &text[digits..] {
        let digit = byte.wrapping_sub(b'0');
        if digit > 9 {
            break;
        }
        value = value.wrapping_mul(10).wrapping_add(u64::from(digit));
        digits += 1;
    }
    (value, digits)
}

/// The same of eight bytes that are not all digits.
#[inline]
fn few_digits(text: [u8; 8]) -> Option<(u64, usize)> {
    // The first byte is the lowest. A digit becomes 0 ..= 9; 0x76 more set the top bit of anything above 9 (a carry goes
    // only into bytes behind the first that is no digit).
    let places = u64::from_le_bytes(text) ^ (EACH_BYTE * 0x30);
    let no_digit = (places.wrapping_add(EACH_BYTE * 0x76) | places) & (EACH_BYTE * 0x80);
    let count = NonZero::new(no_digit)?.trailing_zeros() / 8;
    // Digits to the top, noughts before them; in two steps, for one of 64 bits is none.
    let places = places << (56 - 8 * count) << 8;
    Some((number(places), count as usize))
}

/// The number of eight digits, the first in the lowest byte.
#[inline]
fn number(places: u64) -> u64 {
    // Neighbours to pairs, then the four pairs times their weights, added up in the upper half.
    let pairs = places.wrapping_mul(10).wrapping_add(places >> 8);
    let even = (pairs & 0x0000_00ff_0000_00ff).wrapping_mul(100 + (1_000_000 << 32));
    let odd = ((pairs >> 16) & 0x0000_00ff_0000_00ff).wrapping_mul(1 + (10_000 << 32));
    even.wrapping_add(odd) >> 32
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// The standard library's reading.
    fn plainly(text: &[u8]) -> (u64, usize) {
        let digits = text.iter().take_while(|b| b.is_ascii_digit()).count();
        let value = std::str::from_utf8(&text[..digits]).unwrap().parse();
        (value.unwrap_or(0), digits)
    }

    #[test]
    fn by_hand() {
        assert_eq!(leading_decimal(b""), (0, 0));
        assert_eq!(leading_decimal(b","), (0, 0));
        assert_eq!(leading_decimal(b"7"), (7, 1));
        assert_eq!(leading_decimal(b"0042,9"), (42, 4));
        assert_eq!(leading_decimal(b"12345678"), (12_345_678, 8));
        assert_eq!(leading_decimal(b"123456789,"), (123_456_789, 9));
        assert_eq!(
            leading_decimal(b"9999999999999999999\r\n"),
            (9_999_999_999_999_999_999, 19)
        );
        assert_eq!(leading_decimal(&[b'9'; 40]).1, 40);
        assert_eq!(leading_decimal(b"\xff\xff\xff\xff\xff\xff\xff\xff"), (0, 0));
    }

    #[test]
    fn every_byte_after_every_number_of_digits() {
        for digits in 0..=18 {
            for byte in 0..=u8::MAX {
                let mut text = vec![b'3'; digits];
                text.push(byte);
                for more in ["", "1", "\u{ff}999999999", "0000000000"] {
                    let text = [&text, more.as_bytes()].concat();
                    let want = plainly(&text);
                    let got = leading_decimal(&text);
                    assert_eq!(got.1, want.1, "{text:?}");
                    assert!(want.1 > MOST_DIGITS || got == want, "{text:?}");
                }
            }
        }
    }

    proptest! {
        #[test]
        fn as_the_standard_library_reads(number in any::<u64>(), behind in prop::collection::vec(any::<u8>(), 0..12)) {
            let mut text = (number >> (number % 61)).to_string().into_bytes();
            text.extend(behind);
            let want = plainly(&text);
            prop_assume!(want.1 <= MOST_DIGITS);
            prop_assert_eq!(leading_decimal(&text), want);
        }
    }
}
