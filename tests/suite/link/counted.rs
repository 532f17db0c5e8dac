//! A stream whose every code is known from its place, the real program under it, and what it took of memory.

use pedalproof::link::LineSource;
use std::fmt::Write as _;
use std::io::{BufRead, BufReader, Write as _};
use std::path::Path;
use std::process::{Child, ExitStatus};
use std::time::{Duration, Instant};

/// The board's clock at the first sample, microseconds: two seconds before its 32 bits are full.
const FIRST_US: u64 = (1 << 32) - 2_000_000;

/// A code of 12 bits from the sample's number and its channel: neighbours have nothing in common (multiplicative
/// hashing, Knuth, The Art of Computer Programming 3, section 6.4), so that a lost, doubled or swapped sample shows.
pub fn code(sample: u64, channel: usize) -> u64 {
    let mixed = (sample * 4 + channel as u64).wrapping_mul(2_654_435_761);
    (mixed & 0xffff_ffff) >> 20
}

/// The code of a sample and a channel.
pub type Codes = fn(u64, usize) -> u64;

/// A board that prints such samples.
pub struct Counted {
    codes: Codes,
    pub channels: usize,
    pub period_us: u64,
    pub samples: u64,
    next: u64,
    header_due: bool,
    line: Vec<u8>,
}

impl Counted {
    pub fn new(codes: Codes, channels: usize, period_us: u64, samples: u64) -> Self {
        Self {
            codes,
            channels,
            period_us,
            samples,
            next: 0,
            header_due: true,
            line: Vec::new(),
        }
    }

    fn names(&self) -> String {
        (0..self.channels).fold(String::new(), |names, at| format!("{names},c{at}"))
    }
}

impl LineSource for Counted {
    fn next_line(&mut self, out: &mut Vec<u8>) -> Option<u64> {
        let due = self.next * self.period_us;
        if std::mem::take(&mut self.header_due) {
            let (rate, names) = (1_000_000 / self.period_us, self.names());
            let header =
                format!("# pedalproof 1 bits=12 vref_mv=5000 rate_hz={rate} cols=t_us{names}\n");
            out.extend_from_slice(header.as_bytes());
            return Some(due);
        }
        if self.next == self.samples {
            return None;
        }
        self.line.clear();
        decimal((FIRST_US + due) % (1 << 32), &mut self.line);
        for channel in 0..self.channels {
            self.line.push(b',');
            decimal((self.codes)(self.next, channel), &mut self.line);
        }
        let sum = self.line.iter().fold(0, |sum, byte| sum ^ byte);
        out.extend_from_slice(&self.line);
        let hex = |digit: u8| b"0123456789ABCDEF"[usize::from(digit)];
        out.extend_from_slice(&[b'*', hex(sum >> 4), hex(sum & 15), b'\n']);
        self.next += 1;
        self.header_due = self.next.is_multiple_of(1000);
        Some(due)
    }
}

fn decimal(mut number: u64, out: &mut Vec<u8>) {
    let (mut digits, mut at) = ([0; 20], 20);
    loop {
        at -= 1;
        digits[at] = b'0' + u8::try_from(number % 10).unwrap();
        number /= 10;
        if number == 0 {
            break;
        }
    }
    out.extend_from_slice(&digits[at..]);
}

/// What a capture holds.
#[derive(Debug, PartialEq, Eq)]
pub struct Held {
    /// Its rows.
    pub rows: u64,
    /// The number of its last sample.
    pub last: u64,
    pub bytes: u64,
}

/// Goes through a capture row by row: each sample once, in order, with its own time and codes.
pub fn held_in(csv: &Path, codes: Codes, channels: usize, period_us: u64) -> Held {
    let mut reader = BufReader::with_capacity(1 << 16, std::fs::File::open(csv).unwrap());
    let (mut line, mut expected) = (String::new(), String::new());
    let bytes = reader.read_line(&mut line).unwrap() as u64;
    assert!(line.starts_with("t_us,step,c0"), "{line}");
    let mut held = Held {
        rows: 0,
        last: 0,
        bytes,
    };
    loop {
        line.clear();
        held.bytes += reader.read_line(&mut line).unwrap() as u64;
        if line.is_empty() {
            return held;
        }
        let (t_us, rest) = line.split_once(',').unwrap();
        let since_first = t_us.parse::<u64>().unwrap() - FIRST_US;
        assert!(since_first.is_multiple_of(period_us), "{line}");
        let sample = since_first / period_us;
        assert!(
            held.rows == 0 || sample > held.last,
            "twice or back: {line}"
        );
        expected.clear();
        for channel in 0..channels {
            write!(expected, ",{}", codes(sample, channel)).unwrap();
        }
        let step_ends = rest.find(',').unwrap();
        assert_eq!(&rest.trim_end()[step_ends..], expected, "{line}");
        (held.rows, held.last) = (held.rows + 1, sample);
    }
}

/// Waits for a program and tells the most memory it had resident, in MiB: `VmHWM` of /proc/PID/status (proc(5)), looked
/// at every 2 ms; what it takes in its last 2 ms is not seen. One that has not ended by then is killed.
pub fn until_it_ends(child: &mut Child, within: Duration) -> (Option<ExitStatus>, f64) {
    let (began, mut most) = (Instant::now(), 0.0);
    loop {
        most = resident_most_mib(child.id()).unwrap_or(most);
        if let Some(status) = child.try_wait().unwrap() {
            return (Some(status), most);
        }
        if began.elapsed() > within {
            child.kill().unwrap();
            return (None, most);
        }
        std::thread::sleep(Duration::from_millis(2));
    }
}

pub fn resident_most_mib(pid: u32) -> Option<f64> {
    let status = std::fs::read_to_string(format!("/proc/{pid}/status")).ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    let kib: f64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kib / 1024.0)
}

/// Says a measured figure, so that it is seen with `--nocapture`.
pub fn say(words: &str) {
    let _ = writeln!(std::io::stderr(), "{words}");
}
