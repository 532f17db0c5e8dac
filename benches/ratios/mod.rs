//! Several ways of one job, taken in turn in one run, so that a noisy machine is noisy to all of them alike.

use std::hint::black_box;
use std::time::Instant;

/// One way: its name, and what it does.
pub type Way<'a> = (&'a str, Box<dyn FnMut() -> u64 + 'a>);

/// Runs each way `rounds` times, one after the other and again, and prints the least and the median time, bytes a second at
/// the least, and the least time over that of the first way.
pub fn table(title: &str, bytes: usize, rounds: usize, ways: &mut [Way<'_>]) {
    let mut times = vec![Vec::with_capacity(rounds); ways.len()];
    for round in 0..=rounds {
        for ((_, way), times) in ways.iter_mut().zip(&mut times) {
            let begun = Instant::now();
            black_box(way());
            if round > 0 {
                times.push(begun.elapsed().as_secs_f64());
            }
        }
    }
    println!(
        "\n{title} ({:.1} MB, {rounds} rounds in turn)",
        bytes as f64 / 1e6
    );
    println!(
        "{:36} {:>10} {:>10} {:>9} {:>7}",
        "", "least ms", "median ms", "MB/s", "ratio"
    );
    let mut first = None;
    for ((name, _), times) in ways.iter().zip(&mut times) {
        times.sort_by(f64::total_cmp);
        let (least, median) = (times[0], times[times.len() / 2]);
        let first = *first.get_or_insert(least);
        println!(
            "{name:36} {:10.3} {:10.3} {:9.0} {:7.2}",
            least * 1e3,
            median * 1e3,
            bytes as f64 / 1e6 / least,
            least / first
        );
    }
}
