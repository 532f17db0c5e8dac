//! Which byte of a block is where: one table, that the writer and the reader here, the C reader
//! (`src/firmware/core/layout.h`) and the document (`src/firmware/core/BLOCK.md`) follow; a test compares them.

use super::block::OWN_REFERENCE_MV;
use super::block::{
    Block, BlockFields, Check, Factor, Input, InvalidBlock, Output, Point, Start, TargetBoard,
    Task, Watch, Window,
};
use crc::{CRC_16_IBM_3740, Crc};
use std::fmt::Write as _;

/// First bytes of every block: `PPBK`.
pub const MAGIC: u32 = u32::from_le_bytes(*b"PPBK");
/// The version that is written, and the only one that the core reads.
pub const VERSION: u8 = 2;
/// The version before it, which is read so that it can be made again: its header ends where the flags begin.
pub const OLD_VERSION: u8 = 1;
const OLD_HEADER: usize = table::FLAGS.at;
/// The supply of the boards that version 1 was for, which did not say it, millivolts.
pub const OLD_VREF_MV: f64 = 5000.0;
/// Flag: waiting puts out the code of command 0.
pub const WAITS_AT_ZERO: u8 = 1;
/// As partner: the input is a factor.
pub const MULTIPLIES: u8 = 0xFF;

const CRC: Crc<u16> = Crc::<u16>::new(&CRC_16_IBM_3740);

/// A number in a block: where it lies, from the first byte of its part, and what it is.
#[derive(Debug, Clone, Copy)]
pub struct Field {
    /// Offset in bytes.
    pub at: usize,
    /// Size in bytes, little-endian.
    pub bytes: usize,
}

macro_rules! parts {
    ($($part:ident $c_name:literal $bytes:literal { $($prefix:literal: $($field:ident $at:literal $size:literal,)+)? })+) => {
        $(
            pub const $part: usize = $bytes;
            $($(pub const $field: Field = Field { at: $at, bytes: $size };)+)?
        )+

        /// Every part with its C name and size, every field with its C name.
        #[cfg(feature = "inside")]
        pub const PARTS: &[(&str, usize, &[(&str, Field)])] =
            &[$(($c_name, $bytes, &[$($((concat!($prefix, stringify!($field)), $field),)+)?]),)+];
    };
}

/// Offset and size of each field in its part, in bytes; the parts in order.
mod table {
    use super::Field;

    parts! {
        HEADER "PP_HEADER_BYTES" 32 { "PP_AT_":
            MAGIC 0 4, VERSION 4 1, INPUTS 5 1, LENGTH 6 2, ADC_BITS 8 1, DAC_BITS 9 1, RATE_HZ 10 2, DAC_ZERO 12 2,
            DAC_FULL 14 2, RISE 16 2, FALL 18 2, START_SAMPLES 20 2, PERSISTENCE 22 2, START_INPUT 24 1,
            FLAGS 25 1, SUPPLY_LOW 26 2, SUPPLY_HIGH 28 2, READ_BACK 30 2,
        }
        RECORD "PP_INPUT_BYTES" 11 { "PP_IN_":
            WINDOW_LOW 0 2, WINDOW_HIGH 2 2, REST_EDGE 4 2, FULL_EDGE 6 2, FILTER_SHIFT 8 1, POINTS 9 1,
            GAIN 4 2, OFFSET 6 2, BAND 8 2, PARTNER 10 1,
        }
        POINT "PP_POINT_BYTES" 4 { "PP_POINT_": CODE 0 2, VALUE 2 2, }
        SUM "PP_CRC_BYTES" 2 {}
    }
}
#[cfg(feature = "inside")]
pub use table::PARTS;
use table::{HEADER, POINT, RECORD, SUM};

/// Why bytes are not a block.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum DecodeError {
    #[error("this is no constants file: it begins with {found}, and not with \"PPBK\"")]
    Magic { found: String },
    #[error(
        "the constants file is of version {found}, this program reads versions {OLD_VERSION} and {VERSION}: {}",
        if *found > VERSION { "use a newer pedalproof" } else { "make the constants file again" }
    )]
    Version { found: u8 },
    #[error(
        "the constants file is to have {said} bytes and has {there}: it was cut off, or something is joined to it"
    )]
    Length { said: usize, there: usize },
    #[error(
        "the constants file is damaged: its check sum is {said:04X}, its bytes give {computed:04X}"
    )]
    CheckSum { said: u16, computed: u16 },
    #[error("the constants file is impossible {0}")]
    InvalidBlock(#[from] InvalidBlock),
}

/// The check sum of a block's bytes as people see it: four hex digits.
pub fn sum_of(block: &Block) -> String {
    format!("{:04X}", crc_of(block))
}

/// The check sum of blocks: CRC-16/IBM-3740.
pub fn check_sum(bytes: &[u8]) -> u16 {
    CRC.checksum(bytes)
}

/// The check sum that a block ends with.
pub fn crc_of(block: &Block) -> u16 {
    let bytes = to_bytes(block);
    check_sum(&bytes[..bytes.len().saturating_sub(SUM)])
}

/// Writes the numbers of one part.
struct Writer {
    bytes: Vec<u8>,
    part: usize,
}

impl Writer {
    fn begin(&mut self, bytes: usize) {
        self.part = self.bytes.len();
        self.bytes.resize(self.part + bytes, 0);
    }

    /// The low bytes of `value`, as many as the field has.
    fn put(&mut self, field: Field, value: impl Into<i64>) {
        let value = value.into().to_le_bytes();
        let at = self.part + field.at;
        self.bytes[at..at + field.bytes].copy_from_slice(&value[..field.bytes]);
    }
}

pub fn to_bytes(block: &Block) -> Vec<u8> {
    let is = block.numbers();
    let mut to = Writer {
        bytes: Vec::new(),
        part: 0,
    };
    let points: usize = is.inputs.iter().map(|input| points_of(input).len()).sum();
    let length = HEADER + RECORD * is.inputs.len() + POINT * points + SUM;
    put_header(&mut to, is, length);
    for input in &is.inputs {
        put_record(&mut to, input);
    }
    for point in is.inputs.iter().flat_map(points_of) {
        to.begin(POINT);
        to.put(table::CODE, point.code);
        to.put(table::VALUE, point.q15);
    }
    let sum = check_sum(&to.bytes);
    to.bytes.extend(sum.to_le_bytes());
    to.bytes
}

fn points_of(input: &Input) -> &[Point] {
    input.factor().map_or(&[], |factor| &factor.points)
}

/// A count that a valid block keeps far below this.
fn count(of: usize) -> i64 {
    i64::try_from(of).unwrap_or(i64::MAX)
}

fn put_header(to: &mut Writer, is: &BlockFields, length: usize) {
    to.begin(HEADER);
    to.put(table::MAGIC, MAGIC);
    to.put(table::VERSION, VERSION);
    to.put(table::INPUTS, count(is.inputs.len()));
    to.put(table::LENGTH, count(length));
    to.put(table::ADC_BITS, is.board.adc_bits);
    to.put(table::DAC_BITS, is.board.dac_bits);
    to.put(table::RATE_HZ, is.board.rate_hz);
    to.put(table::DAC_ZERO, is.output.zero_dac);
    to.put(table::DAC_FULL, is.output.full_dac);
    to.put(table::RISE, is.output.rise_q15);
    to.put(table::FALL, is.output.fall_q15);
    to.put(table::START_SAMPLES, is.start.samples);
    to.put(table::PERSISTENCE, is.persistence);
    to.put(table::START_INPUT, is.start.input);
    to.put(
        table::FLAGS,
        if is.output.waits_at_zero {
            WAITS_AT_ZERO
        } else {
            0
        },
    );
    to.put(table::SUPPLY_LOW, is.watch.supply.low);
    to.put(table::SUPPLY_HIGH, is.watch.supply.high);
    to.put(table::READ_BACK, is.watch.read_back);
}

fn put_record(to: &mut Writer, input: &Input) {
    to.begin(RECORD);
    to.put(table::WINDOW_LOW, input.window.low);
    to.put(table::WINDOW_HIGH, input.window.high);
    match &input.task {
        Task::Factor(factor) => {
            to.put(table::REST_EDGE, factor.rest_edge);
            to.put(table::FULL_EDGE, factor.full_edge);
            to.put(table::FILTER_SHIFT, factor.filter_shift);
            to.put(table::POINTS, count(factor.points.len()));
            to.put(table::PARTNER, MULTIPLIES);
        }
        Task::Check(check) => {
            to.put(table::GAIN, check.gain_q12);
            to.put(table::OFFSET, check.offset);
            to.put(table::BAND, check.band);
            to.put(table::PARTNER, check.partner);
        }
    }
}

/// Reads the numbers of one part.
#[derive(Clone, Copy)]
struct Reader<'a> {
    bytes: &'a [u8],
}

impl Reader<'_> {
    fn u16(self, field: Field) -> u16 {
        let at = |n: usize| u16::from(self.bytes.get(field.at + n).copied().unwrap_or(0));
        (0..field.bytes.min(2)).fold(0, |value, n| value | at(n) << (8 * n))
    }

    fn i16(self, field: Field) -> i16 {
        self.u16(field).cast_signed()
    }

    /// The lowest byte.
    fn u8(self, field: Field) -> u8 {
        self.bytes.get(field.at).copied().unwrap_or(0)
    }
}

/// Cuts the next part off, of a block of `there` bytes.
fn next<'a>(rest: &mut &'a [u8], part: usize, there: usize) -> Result<Reader<'a>, DecodeError> {
    match rest.split_at_checked(part) {
        Some((bytes, behind)) => {
            *rest = behind;
            Ok(Reader { bytes })
        }
        None => Err(DecodeError::Length {
            said: there - rest.len() + part,
            there,
        }),
    }
}

/// Reads a block.
pub fn from_bytes(bytes: &[u8]) -> Result<Block, DecodeError> {
    let head = Reader { bytes };
    if bytes.get(..4) != Some(&MAGIC.to_le_bytes()) {
        let found = bytes.iter().take(4).fold(String::new(), |mut text, byte| {
            let _ = write!(text, "{byte:02X} ");
            text
        });
        let found = found.trim_end();
        return Err(DecodeError::Magic {
            found: if found.is_empty() { "nothing" } else { found }.to_owned(),
        });
    }
    let version = version_of(bytes).unwrap_or(VERSION);
    if ![OLD_VERSION, VERSION].contains(&version) {
        return Err(DecodeError::Version { found: version });
    }
    let header = if version == OLD_VERSION {
        OLD_HEADER
    } else {
        HEADER
    };
    let said = usize::from(head.u16(table::LENGTH));
    if said != bytes.len() || said < header + RECORD + SUM {
        return Err(DecodeError::Length {
            said: said.max(header + RECORD + SUM),
            there: bytes.len(),
        });
    }
    let (body, sum) = bytes.split_at(bytes.len() - SUM);
    let said = sum
        .iter()
        .rev()
        .fold(0, |sum, byte| sum << 8 | u16::from(*byte));
    let computed = check_sum(body);
    if said != computed {
        return Err(DecodeError::CheckSum { said, computed });
    }
    let fields = read_body(body, header, bytes.len())?;
    if version == VERSION && bytes[table::FLAGS.at] & !WAITS_AT_ZERO != 0 {
        return Err(InvalidBlock {
            place: "flags".to_owned(),
            what: format!(
                "{:02X} has a bit that means nothing",
                bytes[table::FLAGS.at]
            ),
        }
        .into());
    }
    Ok(Block::new(fields)?)
}

/// The version that bytes of a block say.
pub fn version_of(bytes: &[u8]) -> Option<u8> {
    bytes.get(table::VERSION.at).copied()
}

/// Reads a block from the start of a memory: behind it only erased bytes, 0xFF, may follow.
pub fn from_memory(bytes: &[u8]) -> Result<Block, DecodeError> {
    let said = usize::from(Reader { bytes }.u16(table::LENGTH));
    match bytes.split_at_checked(said) {
        Some((block, behind)) if !block.is_empty() && behind.iter().all(|byte| *byte == 0xFF) => {
            from_bytes(block)
        }
        _ => from_bytes(bytes),
    }
}

/// The numbers behind a header of so many bytes. What version 1 did not say is what is usual.
fn read_body(body: &[u8], bytes: usize, there: usize) -> Result<BlockFields, DecodeError> {
    let mut rest = body;
    let header = next(&mut rest, bytes, there)?;
    let adc_bits = header.u8(table::ADC_BITS);
    let watch = if bytes == HEADER {
        Watch {
            supply: Window {
                low: header.u16(table::SUPPLY_LOW),
                high: header.u16(table::SUPPLY_HIGH),
            },
            read_back: header.u16(table::READ_BACK),
        }
    } else {
        Watch::usual(
            (adc_bits, header.u8(table::DAC_BITS)),
            OLD_VREF_MV,
            OWN_REFERENCE_MV,
        )
    };
    let mut records = Vec::new();
    for _ in 0..header.u8(table::INPUTS) {
        records.push(next(&mut rest, RECORD, there)?);
    }
    let mut inputs = Vec::new();
    for record in records {
        inputs.push(read_input(record, &mut rest, there)?);
    }
    if !rest.is_empty() {
        return Err(DecodeError::Length {
            said: there - rest.len(),
            there,
        });
    }
    Ok(BlockFields {
        board: TargetBoard {
            adc_bits,
            dac_bits: header.u8(table::DAC_BITS),
            rate_hz: header.u16(table::RATE_HZ),
        },
        output: Output {
            zero_dac: header.u16(table::DAC_ZERO),
            full_dac: header.u16(table::DAC_FULL),
            rise_q15: header.u16(table::RISE),
            fall_q15: header.u16(table::FALL),
            waits_at_zero: header.u8(table::FLAGS) & WAITS_AT_ZERO != 0,
        },
        watch,
        start: Start {
            input: header.u8(table::START_INPUT),
            samples: header.u16(table::START_SAMPLES),
        },
        persistence: header.u16(table::PERSISTENCE),
        inputs,
    })
}

fn read_input(record: Reader<'_>, rest: &mut &[u8], there: usize) -> Result<Input, DecodeError> {
    let partner = record.u8(table::PARTNER);
    let task = if partner == MULTIPLIES {
        let mut points = Vec::new();
        for _ in 0..record.u8(table::POINTS) {
            let point = next(rest, POINT, there)?;
            points.push(Point {
                code: point.u16(table::CODE),
                q15: point.u16(table::VALUE),
            });
        }
        Task::Factor(Factor {
            rest_edge: record.u16(table::REST_EDGE),
            full_edge: record.u16(table::FULL_EDGE),
            points,
            filter_shift: record.u8(table::FILTER_SHIFT),
        })
    } else {
        Task::Check(Check {
            partner,
            gain_q12: record.i16(table::GAIN),
            offset: record.i16(table::OFFSET),
            band: record.u16(table::BAND),
        })
    };
    Ok(Input {
        window: Window {
            low: record.u16(table::WINDOW_LOW),
            high: record.u16(table::WINDOW_HIGH),
        },
        task,
    })
}
