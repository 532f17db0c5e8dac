//! How far boards of a kind usually read off a straight line, for those who have no better number.
//!
//! Belongs here: parts that dev boards sample with, and what their makers or others state of them. Does not belong here: what
//! a board at hand was measured to be, which is stated with `--inl-codes`.

use measure::units::maths;

/// One sort of converter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KnownBoard {
    /// The part that samples, in lower case.
    pub name: &'static str,
    /// Bits that it is usually read with.
    pub bits: u32,
    /// Integral non-linearity in codes of these bits, either way. Common practice unless the source says more: values from
    /// memory of data sheets are marked so.
    pub inl_code: f64,
    /// Where the number comes from.
    pub source: &'static str,
}

/// The parts of common dev boards.
pub const KNOWN_BOARDS: &[KnownBoard] = &[
    KnownBoard {
        name: "atmega328p",
        bits: 10,
        inl_code: 2.0,
        source: "absolute accuracy of the data sheet, from memory",
    },
    KnownBoard {
        name: "attiny85",
        bits: 10,
        inl_code: 2.0,
        source: "absolute accuracy of the data sheet, from memory",
    },
    KnownBoard {
        name: "rp2040",
        bits: 12,
        inl_code: 15.0,
        source: "mean of five boards of one maker, published; four wide codes",
    },
    KnownBoard {
        name: "esp32",
        bits: 12,
        inl_code: 60.0,
        source: "common practice, no source: bowed, worst near its upper end",
    },
    KnownBoard {
        name: "stm32",
        bits: 12,
        inl_code: 4.0,
        source: "common practice, no source",
    },
];

impl KnownBoard {
    /// The one of a name, in any case.
    pub fn named(name: &str) -> Option<&'static Self> {
        KNOWN_BOARDS
            .iter()
            .find(|board| board.name.eq_ignore_ascii_case(name.trim()))
    }

    /// Its non-linearity in codes of so many bits.
    pub fn inl_code_at(&self, bits: u32) -> f64 {
        self.inl_code * maths::exp2(f64::from(bits) - f64::from(self.bits))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_gives_codes_of_the_bits_that_are_read() {
        let board = KnownBoard::named(" RP2040").unwrap();
        assert!((board.inl_code_at(12) - 15.0).abs() < 1e-12);
        // 15 of 4096 is 3.75 of 1024.
        assert!((board.inl_code_at(10) - 3.75).abs() < 1e-12);
        assert!(KnownBoard::named("none such").is_none());
    }
}
