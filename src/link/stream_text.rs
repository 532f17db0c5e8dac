//! Samples -> bytes: the text of DESIGN 4.1, as a board prints it.
//!
//! Shared by replay, the simulated board and tests, so that all of them speak as one.

use super::decode::fields::xor_sum;
use super::{Header, TIME_COLUMN};
use measure::units::Code;
use std::io::Write;

/// Whether lines end in `*HH`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sums {
    With,
    Without,
}

/// Writes the lines of one stream.
#[derive(Debug, Clone, PartialEq)]
pub struct StreamText {
    header: Header,
    sums: Sums,
}

impl StreamText {
    pub fn new(header: Header, sums: Sums) -> Self {
        Self { header, sums }
    }

    /// Appends the `#` line.
    pub fn write_header(&self, out: &mut Vec<u8>) {
        let start = out.len();
        let header = &self.header;
        let mut columns: Vec<&str> = header.columns.iter().map(String::as_str).collect();
        if let Some(at) = header.time_field {
            columns.insert(at.min(columns.len()), TIME_COLUMN);
        }
        put(
            out,
            format_args!(
                "# pedalproof 1 bits={} vref_mv={}",
                header.bits(),
                header.vref_mv()
            ),
        );
        if let Some(rate) = header.rate_hz {
            put(out, format_args!(" rate_hz={rate}"));
        }
        put(out, format_args!(" cols={}", columns.join(",")));
        self.finish(start, out);
    }

    /// Appends one sample, taken at `t_us` (only its low 32 bits are printed, as a board would).
    pub fn write_sample(&self, t_us: u64, codes: &[Code], out: &mut Vec<u8>) {
        let start = out.len();
        let mut codes = codes.iter();
        for field in 0..self.header.fields() {
            if field > 0 {
                out.push(b',');
            }
            if Some(field) == self.header.time_field {
                put(out, format_args!("{}", t_us & u64::from(u32::MAX)));
            } else if let Some(code) = codes.next() {
                put(out, format_args!("{}", code.0));
            }
        }
        self.finish(start, out);
    }

    fn finish(&self, start: usize, out: &mut Vec<u8>) {
        if self.sums == Sums::With {
            let sum = xor_sum(&out[start..]);
            put(out, format_args!("*{sum:02X}"));
        }
        out.push(b'\n');
    }
}

fn put(out: &mut Vec<u8>, text: std::fmt::Arguments<'_>) {
    // Writing into memory cannot fail.
    let _ = out.write_fmt(text);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::link::StreamOptions;

    #[test]
    fn the_text_of_the_contract() {
        // Lines as DESIGN 4.1 shows them; the sum of the sample was worked out with Python's functools.reduce(xor).
        let line =
            b"# pedalproof 1 bits=10 vref_mv=5000 rate_hz=1000 cols=t_us,pedal_a,pedal_b,dial";
        let header = StreamOptions::default().header_from(line).unwrap();
        let text = StreamText::new(header.clone(), Sums::Without);
        let mut out = Vec::new();
        text.write_header(&mut out);
        text.write_sample(
            (1 << 32) + 1_234_567,
            &[Code(164), Code(82), Code(512)],
            &mut out,
        );
        let expected = format!("{}\n1234567,164,82,512\n", String::from_utf8_lossy(line));
        assert_eq!(String::from_utf8(out).unwrap(), expected);

        let mut out = Vec::new();
        let text = StreamText::new(header, Sums::With);
        text.write_sample(1_234_567, &[Code(164), Code(82), Code(512)], &mut out);
        assert_eq!(String::from_utf8(out).unwrap(), "1234567,164,82,512*13\n");
    }

    #[test]
    fn time_may_stand_anywhere_or_nowhere() {
        for (cols, line) in [
            ("a,t_us,b", "7,99,8\n"),
            ("a,b,t_us", "7,8,99\n"),
            ("a,b", "7,8\n"),
        ] {
            let header = format!("# pedalproof 1 bits=10 vref_mv=3300.5 cols={cols}");
            let read = StreamOptions::default()
                .header_from(header.as_bytes())
                .unwrap();
            let text = StreamText::new(read, Sums::Without);
            let mut out = Vec::new();
            text.write_header(&mut out);
            text.write_sample(99, &[Code(7), Code(8)], &mut out);
            assert_eq!(String::from_utf8(out).unwrap(), format!("{header}\n{line}"));
        }
    }
}
