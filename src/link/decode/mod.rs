//! Bytes -> samples: the stream of DESIGN 4.1, one text line a sample.
//!
//! Belongs here: lines, headers, sums, the board's clock, and the count of every line that was not a sample.
//! Does not belong here: where the bytes come from, and what the codes mean for a control.
//!
//! How a line is judged, in this order, the first that applies: over [`MAX_LINE`] bytes (not counting CR LF) ->
//! too long; the first line after joining late, unless it begins a header -> cut; nothing but blanks -> blank; `#` -> header or
//! comment; sum wrong -> bad sum; not unsigned decimals -> not a number; meaning not yet known -> before header; wrong
//! field count; code above full scale; time went back; otherwise a sample.

mod clock;
mod counts;
pub(super) mod fields;
mod gaps;
mod header;
mod labelled;

pub use counts::{Cause, Counts};
pub use fields::MAX_LINE;
pub use header::{Header, StreamOptions, TIME_COLUMN, check_channel_name};
pub(super) use header::{HeaderError, is_header};
pub(super) use labelled::Labelled;

use clock::BoardClock;
use fields::MAX_FIELDS;
use measure::units::Code;

/// What the decoder found. Borrowed from the line: copy what is to be kept.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Event<'a> {
    /// What the following samples mean: before the first sample, whenever it changes, and when it ends a doubt.
    Header(&'a Header),
    Sample {
        /// Microseconds, unwrapped, never decreasing: the board's, or the host's when the header has no time.
        t_us: u64,
        /// One code a column of the header.
        codes: &'a [Code],
        /// Samples missing just before this one.
        missing: u64,
        /// The board's clock began anew just before this one; `t_us` goes on by the host's time.
        restarted: bool,
        /// The board was away, began anew or was silent for more than a second, and has not said since what its numbers
        /// mean, although it has said so before: it may be another board. The next [`Event::Header`] ends the doubt.
        in_doubt: bool,
    },
    /// A `#` line that is no header, without the `#`.
    Comment(&'a [u8]),
    /// A line that was none of these.
    Rejected {
        cause: Cause,
        /// The line, at most [`MAX_LINE`] bytes of it.
        line: &'a [u8],
    },
}

/// Turns the bytes of one board into events, however they are cut into pieces.
#[derive(Debug)]
pub struct Decoder {
    held: Held,
    lines: Lines,
}

impl Decoder {
    /// A decoder at the start of a stream. Options that cannot be (see [`StreamOptions::check`]) are as good as not stated.
    pub fn new(options: StreamOptions) -> Self {
        let options = options.possible();
        let mut lines = Lines {
            header: options.header().ok(),
            cut_first: options.joined_mid_line,
            options,
            announced: false,
            in_doubt: false,
            header_line: Vec::with_capacity(MAX_LINE),
            clock: BoardClock::default(),
            fields: [0; MAX_FIELDS],
            codes: Vec::with_capacity(MAX_FIELDS),
            counts: Counts::default(),
        };
        let rate = lines.header.as_ref().and_then(|header| header.rate_hz);
        lines.clock.set_rate(rate);
        Self {
            held: Held::default(),
            lines,
        }
    }

    /// Takes the next bytes, which arrived at `host_us` microseconds of any clock that does not run backwards.
    pub fn feed(&mut self, bytes: &[u8], host_us: u64, sink: &mut impl FnMut(Event<'_>)) {
        self.lines.counts.bytes += bytes.len() as u64;
        let mut rest = bytes;
        if self.held.length > 0 {
            let Some(end) = memchr::memchr(b'\n', rest) else {
                self.held.add(rest);
                return;
            };
            self.held.add(&rest[..end]);
            let line = self.held.line();
            self.lines.take(line, line.len(), host_us, sink);
            self.held.length = 0;
            rest = &rest[end + 1..];
        }
        let mut start = 0;
        for end in memchr::memchr_iter(b'\n', rest) {
            self.lines.take(&rest[start..], end - start, host_us, sink);
            start = end + 1;
        }
        self.held.add(&rest[start..]);
    }

    /// No more bytes will come: a last line without an end is counted as cut, whatever it holds.
    pub fn end(&mut self, sink: &mut impl FnMut(Event<'_>)) {
        if self.held.length > 0 {
            self.lines.take_cut(self.held.line(), sink);
            self.held.length = 0;
        }
    }

    /// The board was away for `gap_us` of host time and the bytes that follow begin in the middle of a line.
    ///
    /// What was held of a line is counted as cut; the samples of the gap are counted as missing at the next sample,
    /// by the board's clock if it ran on, else by the host's.
    pub fn resume_after_gap(&mut self, gap_us: u64, sink: &mut impl FnMut(Event<'_>)) {
        self.end(sink);
        self.lines.cut_first = true;
        self.lines.doubt();
        self.lines.clock.gap_seen(gap_us);
    }

    pub fn counts(&self) -> &Counts {
        &self.lines.counts
    }

    /// What samples mean at the moment; `None` while neither the board nor the user has said it.
    #[cfg(feature = "inside")]
    pub fn header(&self) -> Option<&Header> {
        self.lines.header.as_ref()
    }
}

/// The beginning of a line whose end has not come yet.
#[derive(Debug)]
struct Held {
    /// Room for the longest line and its CR; one more tells that it was too long.
    bytes: [u8; MAX_LINE + 2],
    /// Bytes received of this line, also those for which there was no room.
    length: usize,
}

impl Default for Held {
    fn default() -> Self {
        Self {
            bytes: [0; MAX_LINE + 2],
            length: 0,
        }
    }
}

impl Held {
    fn add(&mut self, more: &[u8]) {
        if let Some(room) = self.bytes.get_mut(self.length..) {
            let fits = more.len().min(room.len());
            room[..fits].copy_from_slice(&more[..fits]);
        }
        self.length = self.length.saturating_add(more.len());
    }

    fn line(&self) -> &[u8] {
        &self.bytes[..self.length.min(self.bytes.len())]
    }
}

/// Whole lines -> events.
#[derive(Debug)]
struct Lines {
    options: StreamOptions,
    header: Option<Header>,
    /// Whether `header` was given to the sink.
    announced: bool,
    /// Whether the board may be another one since it last said what its numbers mean.
    in_doubt: bool,
    /// The header line that `header` came from: a repetition needs no reading.
    header_line: Vec<u8>,
    /// The next line may lack its beginning.
    cut_first: bool,
    clock: BoardClock,
    fields: [u64; MAX_FIELDS],
    codes: Vec<Code>,
    counts: Counts,
}

impl Lines {
    /// A board that has never said what its numbers mean cannot be asked to say it again.
    fn doubt(&mut self) {
        self.in_doubt = self.counts.headers > 0;
    }

    /// One line without its LF, `text[..end]`; of an overlong one at least `MAX_LINE + 2` bytes. Behind it `text` may go on
    /// with the line's LF.
    fn take(&mut self, text: &[u8], end: usize, host_us: u64, sink: &mut impl FnMut(Event<'_>)) {
        self.counts.lines += 1;
        let line = &text[..end];
        let line = line.strip_suffix(b"\r").unwrap_or(line);
        let joined_late = std::mem::take(&mut self.cut_first);
        let first = line.first().copied();
        let outcome = if line.len() > MAX_LINE {
            Err(Cause::TooLong)
        } else if joined_late && !(first == Some(b'#') && header::is_header(line)) {
            Err(Cause::Cut)
        } else if first == Some(b'#') {
            self.take_hash(line, sink)
        } else {
            self.take_sample(text, line.len(), host_us, sink)
        };
        if let Err(cause) = outcome {
            self.reject(cause, line, sink);
        }
    }

    fn take_cut(&mut self, line: &[u8], sink: &mut impl FnMut(Event<'_>)) {
        self.counts.lines += 1;
        let cause = if line.len() > MAX_LINE + 1 {
            Cause::TooLong
        } else {
            Cause::Cut
        };
        self.reject(cause, line, sink);
    }

    #[cold]
    fn reject(&mut self, cause: Cause, line: &[u8], sink: &mut impl FnMut(Event<'_>)) {
        self.counts.reject(cause);
        let line = &line[..line.len().min(MAX_LINE)];
        sink(Event::Rejected { cause, line });
    }

    fn take_sample(
        &mut self,
        text: &[u8],
        end: usize,
        host_us: u64,
        sink: &mut impl FnMut(Event<'_>),
    ) -> Result<(), Cause> {
        let count = match fields::parse(text, end, &mut self.fields) {
            Ok(count) => count,
            Err(_) if fields::trim_end(&text[..end]).is_empty() => {
                self.counts.blank += 1;
                return Ok(());
            }
            Err(cause) => self.take_labelled(&text[..end], cause)?,
        };
        let header = self.header.as_ref().ok_or(Cause::BeforeHeader)?;
        if count != header.fields() {
            return Err(Cause::WrongFieldCount);
        }
        let fields = &self.fields[..count];
        let raw = match header.time_field {
            // Modulo 2^32: milliseconds that wrap at 2^32 wrap as microseconds do.
            Some(at) => Some(
                u32::try_from(fields[at])
                    .map_err(|_| Cause::NotANumber)?
                    .wrapping_mul(header.time_count_us),
            ),
            None => None,
        };
        let full_scale = header.scale.max_code();
        self.codes.clear();
        for (at, field) in fields.iter().enumerate() {
            if Some(at) != header.time_field {
                let code = u32::try_from(*field).map_or(Code(u32::MAX), Code);
                if code > full_scale {
                    return Err(Cause::AboveFullScale);
                }
                self.codes.push(code);
            }
        }
        let placed = match raw {
            Some(raw) => self.clock.place(raw, host_us).ok_or(Cause::TimeWentBack)?,
            None => self.clock.place_by_arrival(host_us),
        };
        self.counts.samples += 1;
        self.counts.missing = self.counts.missing.saturating_add(placed.missing);
        let made_up = placed.made_up.min(self.counts.missing);
        self.counts.missing -= made_up;
        self.counts.made_up = self.counts.made_up.saturating_add(made_up);
        self.counts.restarts += u64::from(placed.restarted);
        self.counts.early_wraps += u64::from(placed.early_wrap);
        if placed.leap {
            self.in_doubt = self.counts.headers > 0;
        }
        if !self.announced {
            self.announced = true;
            sink(Event::Header(header));
        }
        sink(Event::Sample {
            t_us: placed.t_us,
            codes: &self.codes,
            missing: placed.missing,
            restarted: placed.restarted,
            in_doubt: self.in_doubt,
        });
        Ok(())
    }

    /// A line that names its numbers: gives how many there are. The names are the columns, where nothing else has said them.
    #[cold]
    fn take_labelled(&mut self, line: &[u8], unlabelled: Cause) -> Result<usize, Cause> {
        let Ok(found) = Labelled::read(line) else {
            return Err(unlabelled);
        };
        if self.header.is_none() {
            let options = StreamOptions {
                columns: Some(found.names.clone()),
                ..self.options.clone()
            };
            let header = options.header().map_err(|_| Cause::BeforeHeader)?;
            self.clock.set_rate(header.rate_hz);
            self.header = Some(header);
        }
        let header = self.header.as_ref().ok_or(Cause::BeforeHeader)?;
        if !header.has_fields(&found.names) {
            return Err(Cause::WrongFieldCount);
        }
        fields::parse(&found.numbers, found.numbers.len(), &mut self.fields)
    }

    #[cold]
    fn take_hash(&mut self, line: &[u8], sink: &mut impl FnMut(Event<'_>)) -> Result<(), Cause> {
        if !header::is_header(line) {
            self.counts.comments += 1;
            sink(Event::Comment(&line[1..]));
            return Ok(());
        }
        if line != self.header_line {
            let header = self.options.header_from(line).map_err(|e| e.cause())?;
            line.clone_into(&mut self.header_line);
            if self.header.as_ref() != Some(&header) {
                self.clock.set_rate(header.rate_hz);
                self.header = Some(header);
                self.announced = false;
            }
        }
        self.counts.headers += 1;
        self.clock.header_seen();
        let announced = self.announced && !std::mem::take(&mut self.in_doubt);
        if let (false, Some(header)) = (announced, &self.header) {
            self.announced = true;
            sink(Event::Header(header));
        }
        Ok(())
    }
}
