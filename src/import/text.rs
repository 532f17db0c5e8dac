//! Bytes -> text: marks of the order of bytes, UTF-16, and what is neither.

/// A file's text, and how its characters were written.
pub struct Decoded {
    pub text: String,
    /// In words for people; nothing where it is plain UTF-8.
    pub encoding: Option<&'static str>,
}

/// Text of any of the usual kinds.
pub fn decode(bytes: &[u8]) -> Decoded {
    let of = |text, encoding| Decoded { text, encoding };
    match bytes {
        [0xef, 0xbb, 0xbf, rest @ ..] => of(eight_bits(rest).text, Some("UTF-8 with a mark")),
        [0xff, 0xfe, rest @ ..] => of(utf16(rest, u16::from_le_bytes), Some("UTF-16")),
        [0xfe, 0xff, rest @ ..] => of(utf16(rest, u16::from_be_bytes), Some("UTF-16")),
        // Digits and separators in UTF-16 have every other byte zero, which no text of 8 bits has.
        [0, low, ..] if *low != 0 => of(utf16(bytes, u16::from_be_bytes), Some("UTF-16")),
        [high, 0, ..] if *high != 0 => of(utf16(bytes, u16::from_le_bytes), Some("UTF-16")),
        _ => eight_bits(bytes),
    }
}

/// UTF-8; what is none is taken for Latin-1, whose bytes are the characters' numbers: a micro or a degree sign in a heading.
fn eight_bits(bytes: &[u8]) -> Decoded {
    match std::str::from_utf8(bytes) {
        Ok(text) => Decoded {
            text: text.to_owned(),
            encoding: None,
        },
        Err(_) => Decoded {
            text: bytes.iter().map(|byte| char::from(*byte)).collect(),
            encoding: Some("Latin-1"),
        },
    }
}

fn utf16(bytes: &[u8], unit: impl Fn([u8; 2]) -> u16) -> String {
    let (pairs, _) = bytes.as_chunks::<2>();
    let units = pairs.iter().map(|pair| unit(*pair));
    let text = char::decode_utf16(units);
    text.map(|c| c.unwrap_or(char::REPLACEMENT_CHARACTER))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_text_in_every_dress() {
        let text = "t;\u{b5}V\n1,5;2\n";
        let wide = |of: fn(u16) -> [u8; 2]| text.encode_utf16().flat_map(of).collect::<Vec<u8>>();
        let marked = |mark: &[u8], rest: Vec<u8>| [mark, &rest].concat();
        let dresses = [
            text.as_bytes().to_vec(),
            marked(b"\xef\xbb\xbf", text.as_bytes().to_vec()),
            wide(u16::to_le_bytes),
            wide(u16::to_be_bytes),
            marked(b"\xff\xfe", wide(u16::to_le_bytes)),
            marked(b"\xfe\xff", wide(u16::to_be_bytes)),
            b"t;\xb5V\n1,5;2\n".to_vec(),
        ];
        for dress in dresses {
            assert_eq!(decode(&dress).text, text, "{dress:?}");
        }
        assert_eq!(decode(b"").text, "");
        assert_eq!(decode(b"\xff\xfe1").text, "");
    }
}
