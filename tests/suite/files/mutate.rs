//! Seeded changes of bytes: what a careless hand, a bad wire or somebody curious would do.

use rand::{Rng, RngExt};

/// Numbers that readers trip over.
const NUMBERS: [&str; 16] = [
    "0",
    "-1",
    "1e999",
    "-0.0",
    "255",
    "256",
    "65535",
    "65536",
    "32768",
    "4294967295",
    "4294967296",
    "18446744073709551615",
    "9223372036854775808",
    "1e-320",
    "0.1",
    "null",
];

/// Letters that formats are made of.
const LETTERS: &[u8] = b"\0\xff0129,;\n\r\"{}[]-.*#e ";

/// Most bytes of a copy.
const MOST: usize = 8192;

/// A copy of one of the seeds with one to six changes.
pub fn mutated(rng: &mut impl Rng, seeds: &[Vec<u8>]) -> Vec<u8> {
    let mut data = seeds[rng.random_range(0..seeds.len())].clone();
    for _ in 0..rng.random_range(1..=6) {
        change(rng, &mut data, seeds);
        data.truncate(MOST);
    }
    data
}

fn change(rng: &mut impl Rng, data: &mut Vec<u8>, seeds: &[Vec<u8>]) {
    if data.is_empty() {
        data.push(rng.random());
        return;
    }
    let at = rng.random_range(0..data.len());
    let end = (at + rng.random_range(1..24)).min(data.len());
    match rng.random_range(0..10) {
        0 => data[at] ^= 1 << rng.random_range(0..8),
        1 => data[at] = rng.random(),
        2 => data[at] = LETTERS[rng.random_range(0..LETTERS.len())],
        3 => drop(data.drain(at..end)),
        4 => {
            let piece = data[at..end].to_vec();
            let to = rng.random_range(0..=data.len());
            data.splice(to..to, piece);
        }
        5 => {
            let other = &seeds[rng.random_range(0..seeds.len())];
            let from = rng.random_range(0..=other.len());
            let piece = other[from..(from + 40).min(other.len())].to_vec();
            data.splice(at..end, piece);
        }
        6 | 7 => number(rng, data, at),
        8 => data.insert(at, rng.random()),
        _ => {
            if rng.random_ratio(1, 8) {
                data.truncate(at);
            }
        }
    }
}

/// The number at or behind a place becomes another.
fn number(rng: &mut impl Rng, data: &mut Vec<u8>, at: usize) {
    let Some(from) = data[at..]
        .iter()
        .position(u8::is_ascii_digit)
        .map(|n| at + n)
    else {
        return;
    };
    let digits = |byte: &u8| byte.is_ascii_digit() || *byte == b'.';
    let length = data[from..].iter().take_while(|byte| digits(byte)).count();
    let old = std::str::from_utf8(&data[from..from + length]).unwrap_or_default();
    let new = match (rng.random_range(0..3), old.parse::<u64>()) {
        (0, Ok(old)) => old
            .wrapping_add_signed(rng.random_range(-2..=2))
            .to_string(),
        (1, _) => NUMBERS[rng.random_range(0..NUMBERS.len())].to_owned(),
        _ => {
            let power = rng.random_range(0..18);
            rng.random_range(0..10_u64.pow(power)).to_string()
        }
    };
    data.splice(from..from + length, new.into_bytes());
}
