//! Which byte of a block is where: one table, that the writer and the reader here, the C reader
//! (`src/firmware/core/layout.h`) and the document (`src/firmware/core/BLOCK.md`) follow; a test compares them.
//!
//! Belongs here: bytes, their order, the check sum. Does not belong here: what the numbers mean, files.

use super::block::{
    Block, BlockFields, Check, Factor, Input, InvalidBlock, Output, Point, Start, TargetBoard,
    Task, Window,
};
use crc::{CRC_16_IBM_3740, Crc};
use std::fmt::Write as _;

/// First bytes of every block: `PPBK`.
pub const MAGIC: u32 = u32::from_le_bytes(*b"PPBK");
/// The version that is written and read.
pub const VERSION: u8 = 1;
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
    /// The C name of the offset.
    pub c_name: &'static str,
    /// What it is.
    pub meaning: &'static str,
}

/// A part of a block.
#[derive(Debug, Clone, Copy)]
pub struct Part {
    /// What it is called.
    pub name: &'static str,
    /// How many there are, and where.
    pub place: &'static str,
    /// Size in bytes.
    pub bytes: usize,
    /// The C name of the size.
    pub c_name: &'static str,
    /// What lies in it.
    pub fields: &'static [Field],
}

const fn field(at: usize, bytes: usize, c_name: &'static str, meaning: &'static str) -> Field {
    Field {
        at,
        bytes,
        c_name,
        meaning,
    }
}

#[rustfmt::skip] // a table
mod table {
    use super::{Field, Part, field};

    pub const MAGIC: Field = field(0, 4, "PP_AT_MAGIC", "`PPBK`");
    pub const VERSION: Field = field(4, 1, "PP_AT_VERSION", "version of this description: 1");
    pub const INPUTS: Field = field(5, 1, "PP_AT_INPUTS", "number of inputs, at least 1");
    pub const LENGTH: Field = field(6, 2, "PP_AT_LENGTH", "bytes of the whole block, check sum included");
    pub const ADC_BITS: Field = field(8, 1, "PP_AT_ADC_BITS", "ADC bits, 8 to 15; must be the board's");
    pub const DAC_BITS: Field = field(9, 1, "PP_AT_DAC_BITS", "DAC bits, 8 to 16; must be the board's");
    pub const RATE_HZ: Field = field(10, 2, "PP_AT_RATE_HZ", "steps a second; must be the board's");
    pub const DAC_ZERO: Field = field(12, 2, "PP_AT_DAC_ZERO", "DAC code of command 0, below that of command 1");
    pub const DAC_FULL: Field = field(14, 2, "PP_AT_DAC_FULL", "DAC code of command 1");
    pub const RISE: Field = field(16, 2, "PP_AT_RISE", "most that the command rises in a step, Q15, 1 to 32768");
    pub const FALL: Field = field(18, 2, "PP_AT_FALL", "most that the command falls in a step, Q15, 1 to 32768");
    pub const START_SAMPLES: Field = field(20, 2, "PP_AT_START_SAMPLES", "samples in a row at zero command before it starts, at least 1");
    pub const PERSISTENCE: Field = field(22, 2, "PP_AT_PERSISTENCE", "bad samples until it stops, at least 1");
    pub const START_INPUT: Field = field(24, 1, "PP_AT_START_INPUT", "the input that must be at zero command, a factor");

    pub const WINDOW_LOW: Field = field(0, 2, "PP_IN_WINDOW_LOW", "lowest code that is believed");
    pub const WINDOW_HIGH: Field = field(2, 2, "PP_IN_WINDOW_HIGH", "highest code that is believed");
    pub const REST_EDGE: Field = field(4, 2, "PP_IN_REST_EDGE", "factor: code where its command leaves 0");
    pub const FULL_EDGE: Field = field(6, 2, "PP_IN_FULL_EDGE", "factor: code where its command reaches 1");
    pub const FILTER_SHIFT: Field = field(8, 1, "PP_IN_FILTER_SHIFT", "factor: k of the filter y += (x - y) / 2^k, 0 to 16 - ADC bits");
    pub const POINTS: Field = field(9, 1, "PP_IN_POINTS", "factor: curve points between its edges");
    pub const GAIN: Field = field(4, 2, "PP_IN_GAIN", "check track: expected code = gain x partner + offset; Q12, signed, not 0");
    pub const OFFSET: Field = field(6, 2, "PP_IN_OFFSET", "check track: offset in codes, signed");
    pub const BAND: Field = field(8, 2, "PP_IN_BAND", "check track: largest departure in codes that still agrees");
    pub const PARTNER: Field = field(10, 1, "PP_IN_PARTNER", "255: a factor; else a check track of that input");

    pub const POINT_CODE: Field = field(0, 2, "PP_POINT_CODE", "the input's code; points go from the rest edge to the full edge");
    pub const POINT_VALUE: Field = field(2, 2, "PP_POINT_VALUE", "command there, Q15, 0 to 32768, never falling");

    pub const HEADER: Part = Part {
        name: "Header", place: "at the start", bytes: 25, c_name: "PP_HEADER_BYTES",
        fields: &[MAGIC, VERSION, INPUTS, LENGTH, ADC_BITS, DAC_BITS, RATE_HZ, DAC_ZERO, DAC_FULL, RISE, FALL,
            START_SAMPLES, PERSISTENCE, START_INPUT],
    };
    pub const RECORD: Part = Part {
        name: "Input record", place: "one for each input, after the header", bytes: 11, c_name: "PP_INPUT_BYTES",
        fields: &[WINDOW_LOW, WINDOW_HIGH, REST_EDGE, FULL_EDGE, FILTER_SHIFT, POINTS, GAIN, OFFSET, BAND, PARTNER],
    };
    pub const POINT: Part = Part {
        name: "Curve point", place: "for each input in turn, after the last record", bytes: 4, c_name: "PP_POINT_BYTES",
        fields: &[POINT_CODE, POINT_VALUE],
    };
    pub const SUM: Part = Part {
        name: "Check sum", place: "at the end", bytes: 2, c_name: "PP_CRC_BYTES", fields: &[],
    };
}
use table::{HEADER, POINT, RECORD, SUM};

/// The parts of a block, in order.
pub const PARTS: [Part; 4] = [HEADER, RECORD, POINT, SUM];

/// Why bytes are not a block.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum DecodeError {
    /// Something else.
    #[error("this is no constants block: it begins with {found}, a block with \"PPBK\"")]
    Magic {
        /// The first bytes.
        found: String,
    },
    /// Of another version.
    #[error(
        "the block is of version {found}, this program reads version {VERSION}: {}",
        if *found > VERSION { "use a newer pedalproof" } else { "make the block again" }
    )]
    Version {
        /// Its version.
        found: u8,
    },
    /// Cut off, or with something behind it.
    #[error(
        "the block is to have {said} bytes and has {there}: it was cut off, or something is joined to it"
    )]
    Length {
        /// What it says or what its contents need.
        said: usize,
        /// How many there are.
        there: usize,
    },
    /// A bit has flipped.
    #[error("the block is damaged: its check sum is {said:04X}, its bytes give {computed:04X}")]
    CheckSum {
        /// In the block.
        said: u16,
        /// Of its bytes.
        computed: u16,
    },
    /// A number that no block can have.
    #[error("the block is impossible {0}")]
    InvalidBlock(#[from] InvalidBlock),
}

/// The check sum of blocks: CRC-16/IBM-3740.
#[must_use]
pub fn check_sum(bytes: &[u8]) -> u16 {
    CRC.checksum(bytes)
}

/// Writes the numbers of one part.
struct Writer {
    bytes: Vec<u8>,
    part: usize,
}

impl Writer {
    fn begin(&mut self, part: &Part) {
        self.part = self.bytes.len();
        self.bytes.resize(self.part + part.bytes, 0);
    }

    /// The low bytes of `value`, as many as the field has.
    fn put(&mut self, field: Field, value: impl Into<i64>) {
        let value = value.into().to_le_bytes();
        let at = self.part + field.at;
        self.bytes[at..at + field.bytes].copy_from_slice(&value[..field.bytes]);
    }
}

/// The bytes of a block.
#[must_use]
pub fn to_bytes(block: &Block) -> Vec<u8> {
    let is = block.numbers();
    let mut to = Writer {
        bytes: Vec::new(),
        part: 0,
    };
    let points: usize = is.inputs.iter().map(|input| points_of(input).len()).sum();
    let length = HEADER.bytes + RECORD.bytes * is.inputs.len() + POINT.bytes * points + SUM.bytes;
    put_header(&mut to, is, length);
    for input in &is.inputs {
        put_record(&mut to, input);
    }
    for point in is.inputs.iter().flat_map(points_of) {
        to.begin(&POINT);
        to.put(table::POINT_CODE, point.code);
        to.put(table::POINT_VALUE, point.q15);
    }
    let sum = check_sum(&to.bytes);
    to.bytes.extend(sum.to_le_bytes());
    to.bytes
}

fn points_of(input: &Input) -> &[Point] {
    match &input.task {
        Task::Factor(factor) => &factor.points,
        Task::Check(_) => &[],
    }
}

/// A count that a valid block keeps far below this.
fn count(of: usize) -> i64 {
    i64::try_from(of).unwrap_or(i64::MAX)
}

fn put_header(to: &mut Writer, is: &BlockFields, length: usize) {
    to.begin(&HEADER);
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
}

fn put_record(to: &mut Writer, input: &Input) {
    to.begin(&RECORD);
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

/// Cuts the next part off.
fn next<'a>(rest: &mut &'a [u8], part: &Part, length: Lengths) -> Result<Reader<'a>, DecodeError> {
    match rest.split_at_checked(part.bytes) {
        Some((bytes, behind)) => {
            *rest = behind;
            Ok(Reader { bytes })
        }
        None => Err(DecodeError::Length {
            said: length.there - rest.len() + part.bytes,
            there: length.there,
        }),
    }
}

#[derive(Clone, Copy)]
struct Lengths {
    there: usize,
}

/// Reads a block.
///
/// # Errors
/// Why these bytes are not one: in the order of [`DecodeError`].
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
    if bytes.len() > table::VERSION.at && head.u8(table::VERSION) != VERSION {
        return Err(DecodeError::Version {
            found: head.u8(table::VERSION),
        });
    }
    let said = usize::from(head.u16(table::LENGTH));
    if said != bytes.len() || said < HEADER.bytes + RECORD.bytes + SUM.bytes {
        return Err(DecodeError::Length {
            said: said.max(HEADER.bytes + RECORD.bytes + SUM.bytes),
            there: bytes.len(),
        });
    }
    let (body, sum) = bytes.split_at(bytes.len() - SUM.bytes);
    let said = sum
        .iter()
        .rev()
        .fold(0, |sum, byte| sum << 8 | u16::from(*byte));
    let computed = check_sum(body);
    if said != computed {
        return Err(DecodeError::CheckSum { said, computed });
    }
    Ok(Block::new(read_body(body, bytes.len())?)?)
}

/// Reads a block from the start of a memory: behind it only erased bytes, 0xFF, may follow.
///
/// # Errors
/// As [`from_bytes`].
pub fn from_memory(bytes: &[u8]) -> Result<Block, DecodeError> {
    let said = usize::from(Reader { bytes }.u16(table::LENGTH));
    match bytes.split_at_checked(said) {
        Some((block, behind)) if !block.is_empty() && behind.iter().all(|byte| *byte == 0xFF) => {
            from_bytes(block)
        }
        _ => from_bytes(bytes),
    }
}

fn read_body(body: &[u8], there: usize) -> Result<BlockFields, DecodeError> {
    let length = Lengths { there };
    let mut rest = body;
    let header = next(&mut rest, &HEADER, length)?;
    let mut records = Vec::new();
    for _ in 0..header.u8(table::INPUTS) {
        records.push(next(&mut rest, &RECORD, length)?);
    }
    let mut inputs = Vec::new();
    for record in records {
        inputs.push(read_input(record, &mut rest, length)?);
    }
    if !rest.is_empty() {
        return Err(DecodeError::Length {
            said: there - rest.len(),
            there,
        });
    }
    Ok(BlockFields {
        board: TargetBoard {
            adc_bits: header.u8(table::ADC_BITS),
            dac_bits: header.u8(table::DAC_BITS),
            rate_hz: header.u16(table::RATE_HZ),
        },
        output: Output {
            zero_dac: header.u16(table::DAC_ZERO),
            full_dac: header.u16(table::DAC_FULL),
            rise_q15: header.u16(table::RISE),
            fall_q15: header.u16(table::FALL),
        },
        start: Start {
            input: header.u8(table::START_INPUT),
            samples: header.u16(table::START_SAMPLES),
        },
        persistence: header.u16(table::PERSISTENCE),
        inputs,
    })
}

fn read_input(record: Reader<'_>, rest: &mut &[u8], length: Lengths) -> Result<Input, DecodeError> {
    let partner = record.u8(table::PARTNER);
    let task = if partner == MULTIPLIES {
        let mut points = Vec::new();
        for _ in 0..record.u8(table::POINTS) {
            let point = next(rest, &POINT, length)?;
            points.push(Point {
                code: point.u16(table::POINT_CODE),
                q15: point.u16(table::POINT_VALUE),
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

/// The table in Markdown: the part of `BLOCK.md` between its marks.
#[must_use]
pub fn as_markdown() -> String {
    let mut text = String::new();
    for part in PARTS {
        let _ = write!(
            text,
            "### {} ({} bytes, {})\n\n",
            part.name, part.bytes, part.place
        );
        if part.fields.is_empty() {
            text.push_str("CRC-16/IBM-3740 of every byte before it, low byte first.\n\n");
            continue;
        }
        text.push_str("| at | bytes | C name | what |\n| --- | --- | --- | --- |\n");
        for field in part.fields {
            let _ = writeln!(
                text,
                "| {} | {} | `{}` | {} |",
                field.at, field.bytes, field.c_name, field.meaning
            );
        }
        text.push('\n');
    }
    text
}
