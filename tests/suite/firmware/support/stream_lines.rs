//! The stream of the contract, read by a small parser of the tests' own: an outside check of the format, which shares
//! nothing with the program's decoder.

use std::collections::BTreeMap;
use std::io::Read;
use std::time::Duration;

/// One line of the stream, taken apart.
#[derive(Debug, Clone, PartialEq)]
pub enum Line {
    /// The key=value words of a `#` line.
    Header(BTreeMap<String, String>),
    /// A sample: the board's clock and the codes.
    Sample { t_us: u32, codes: Vec<u32> },
}

/// Takes a line apart without its LF; any departure from the contract is an error.
pub fn parse(line: &str) -> Result<Line, String> {
    let wrong = |why: &str| Err(format!("{why}: {line:?}"));
    if line.len() + 1 > 160 || !line.bytes().all(|b| (0x20..0x7f).contains(&b)) {
        return wrong("too long or not ASCII");
    }
    let Some((body, sum)) = line.split_once('*') else {
        return wrong("no sum");
    };
    if sum != format!("{:02X}", body.bytes().fold(0, |sum, b| sum ^ b)) {
        return wrong("bad sum");
    }
    if let Some(words) = body.strip_prefix("# pedalproof 1 ") {
        let pairs: Option<BTreeMap<_, _>> = words
            .split(' ')
            .map(|word| word.split_once('=').map(|(k, v)| (k.into(), v.into())))
            .collect();
        return pairs.map_or_else(|| wrong("header"), |pairs| Ok(Line::Header(pairs)));
    }
    let numbers: Result<Vec<u32>, _> = body.split(',').map(str::parse).collect();
    match numbers.as_deref() {
        Ok([t_us, codes @ ..]) => Ok(Line::Sample {
            t_us: *t_us,
            codes: codes.to_vec(),
        }),
        _ => wrong("not numbers"),
    }
}

/// Everything the board prints until it is unplugged.
pub fn read_until_unplugged(path: &str) -> Vec<u8> {
    let mut port = serialport::new(path, 1_000_000)
        .timeout(Duration::from_secs(30))
        .open()
        .expect("the port opens");
    let mut bytes = Vec::new();
    let mut chunk = [0; 4096];
    while let Ok(count) = port.read(&mut chunk) {
        if count == 0 {
            break;
        }
        bytes.extend_from_slice(&chunk[..count]);
    }
    bytes
}

/// The complete lines; the last one may have been cut by the unplugging and is left out if so.
pub fn complete_lines(bytes: &[u8]) -> Vec<Line> {
    let text = std::str::from_utf8(bytes).expect("ASCII");
    let end = text.rfind('\n').expect("at least one line") + 1;
    text[..end]
        .lines()
        .map(|line| parse(line).unwrap())
        .collect()
}

pub fn samples(lines: &[Line]) -> Vec<(u32, Vec<u32>)> {
    lines
        .iter()
        .filter_map(|line| match line {
            Line::Sample { t_us, codes } => Some((*t_us, codes.clone())),
            Line::Header(_) => None,
        })
        .collect()
}

/// Distances between neighbouring samples in microseconds, with how often each occurs.
pub fn spacings(samples: &[(u32, Vec<u32>)]) -> BTreeMap<u32, usize> {
    let mut counts = BTreeMap::new();
    for pair in samples.windows(2) {
        *counts.entry(pair[1].0.wrapping_sub(pair[0].0)).or_default() += 1;
    }
    counts
}
