//! The simulated board's text stream: contract 4.1, with faults of the line if asked for.

use crate::link::{Header, LineSource, StreamText, Sums};
use simulator::Simulation;
use simulator::{Chance, Purpose};
use std::io::Write;

/// What stands between two fields.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Separator {
    /// `,`
    Comma,
    /// `;`
    Semicolon,
    /// A tab.
    Tab,
    /// A blank.
    Blank,
}

impl Separator {
    fn byte(self) -> u8 {
        match self {
            Self::Comma => b',',
            Self::Semicolon => b';',
            Self::Tab => b'\t',
            Self::Blank => b' ',
        }
    }
}

/// What ends a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LineEnd {
    /// LF alone.
    Lf,
    /// CR and LF.
    CrLf,
}

/// How lines are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LineStyle {
    /// What stands between two fields.
    pub separator: Separator,
    /// Whether sample lines end in `*HH`.
    pub sums: bool,
    /// Whether the `#` line is printed, once a second.
    pub headers: bool,
    /// Whether sample lines begin with `t_us`.
    pub times: bool,
    /// What ends a line.
    pub end: LineEnd,
}

impl Default for LineStyle {
    /// The streamer's own: header, time, commas, sums, LF.
    fn default() -> Self {
        Self {
            separator: Separator::Comma,
            sums: true,
            headers: true,
            times: true,
            end: LineEnd::Lf,
        }
    }
}

/// Faults of the line, as probabilities for each sample line, 0 ..= 1.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Corruption {
    /// The line's sum is wrong (only where there are sums).
    pub bad_sum: f64,
    /// A line of garbage is printed before it: ASCII that is no number, never a `#`.
    pub garbage: f64,
    /// The line is lost.
    pub lost: f64,
}

/// What was printed: the truth for stream counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct LineCounts {
    /// All lines printed.
    pub lines: u64,
    /// Header lines.
    pub headers: u64,
    /// Sample lines whose sum is right, or that have none.
    pub good_samples: u64,
    /// Sample lines with a wrong sum.
    pub bad_sums: u64,
    /// Lines of garbage.
    pub garbage: u64,
    /// Sample lines not printed.
    pub lost: u64,
    /// Samples lost or with a wrong sum between two good ones: what a listener can know to be missing.
    pub missing: u64,
    /// Times that the printed `t_us` passed 2^32.
    pub wraps: u64,
}

/// Prints a simulation.
#[derive(Debug, Clone)]
pub struct BoardLines {
    simulation: Simulation,
    style: LineStyle,
    corruption: Corruption,
    chance: Chance,
    text: StreamText,
    /// Samples lost or spoilt since the last good one.
    unseen: u64,
    waiting: Option<(u64, Vec<u8>)>,
    next_header_us: u64,
    last_us: u64,
    counts: LineCounts,
}

impl BoardLines {
    /// Prints this simulation as the streamer would.
    #[must_use]
    pub fn new(simulation: Simulation) -> Self {
        Self::styled(simulation, LineStyle::default(), Corruption::default(), 0)
    }

    /// Prints it in another style, with faults drawn from `seed`.
    #[must_use]
    pub fn styled(
        simulation: Simulation,
        style: LineStyle,
        corruption: Corruption,
        seed: u64,
    ) -> Self {
        let start_us = simulation.board().start_us;
        Self {
            text: StreamText::new(header(&simulation, style), Sums::Without),
            unseen: 0,
            simulation,
            style,
            corruption,
            chance: Chance::new(seed, Purpose::Lines),
            waiting: None,
            next_header_us: start_us,
            last_us: start_us,
            counts: LineCounts::default(),
        }
    }

    /// What was printed so far.
    #[must_use]
    pub fn counts(&self) -> LineCounts {
        self.counts
    }

    /// The simulation behind it, for its truth.
    #[must_use]
    pub fn simulation(&self) -> &Simulation {
        &self.simulation
    }

    /// The next sample line that is not lost, without its line end.
    fn sample_line(&mut self) -> Option<(u64, Vec<u8>)> {
        loop {
            let sample = self.simulation.next_sample()?;
            let t_us = sample.t_us;
            let mut line = Vec::with_capacity(48);
            self.text.write_sample(t_us, sample.codes, &mut line);
            line.pop(); // its end: the sum comes first
            let separator = self.style.separator.byte();
            line.iter_mut()
                .filter(|byte| **byte == b',')
                .for_each(|byte| *byte = separator);
            self.counts.wraps += (t_us >> 32) - (self.last_us >> 32);
            self.last_us = t_us;
            if self.corruption.lost > 0.0 && self.chance.happens(self.corruption.lost) {
                self.counts.lost += 1;
                self.unseen += 1;
                continue;
            }
            return Some((t_us, line));
        }
    }

    /// Ends a sample line with its sum, right or wrong, and counts it.
    fn sum(&mut self, line: &mut Vec<u8>) {
        let bad = self.style.sums
            && self.corruption.bad_sum > 0.0
            && self.chance.happens(self.corruption.bad_sum);
        if self.style.sums {
            let right = line.iter().fold(0, |sum, byte| sum ^ byte);
            let wrong = if bad { 1u8 << self.chance.below(8) } else { 0 };
            // Writing to memory cannot fail.
            let _ = write!(line, "*{:02X}", right ^ wrong);
        }
        if bad {
            self.counts.bad_sums += 1;
            self.unseen += 1;
        } else {
            if self.counts.good_samples > 0 {
                self.counts.missing += self.unseen;
            }
            self.unseen = 0;
            self.counts.good_samples += 1;
        }
    }

    fn end_line(&mut self, out: &mut Vec<u8>) {
        out.extend_from_slice(match self.style.end {
            LineEnd::Lf => b"\n",
            LineEnd::CrLf => b"\r\n",
        });
        self.counts.lines += 1;
    }

    /// Writes what is to be printed before the sample line of this time, a header or garbage, if anything is.
    fn comes_first(&mut self, t_us: u64, out: &mut Vec<u8>) -> bool {
        if self.style.headers && t_us >= self.next_header_us {
            self.text.write_header(out);
            out.pop(); // its end: the style's own follows
            self.counts.headers += 1;
            while self.next_header_us <= t_us {
                self.next_header_us += 1_000_000;
            }
            return true;
        }
        let garbage = self.corruption.garbage > 0.0 && self.chance.happens(self.corruption.garbage);
        if garbage {
            self.garbage(out);
        }
        garbage
    }

    fn garbage(&mut self, out: &mut Vec<u8>) {
        const LETTERS: &[u8] = b"abcdefghijklmnopqrstuvwxyz?!%";
        let length = 3 + self.chance.below(20);
        out.extend((0..length).map(|_| LETTERS[self.chance.below(LETTERS.len())]));
        self.counts.garbage += 1;
    }
}

impl LineSource for BoardLines {
    fn next_line(&mut self, out: &mut Vec<u8>) -> Option<u64> {
        let (t_us, mut line) = if let Some(waiting) = self.waiting.take() {
            waiting
        } else {
            let (t_us, line) = self.sample_line()?;
            if self.comes_first(t_us, out) {
                self.end_line(out);
                self.waiting = Some((t_us, line));
                return Some(t_us);
            }
            (t_us, line)
        };
        self.sum(&mut line);
        out.extend_from_slice(&line);
        self.end_line(out);
        Some(t_us)
    }

    /// The board's power is cycled: its time begins at 0 with a header. A sample that was about to be printed is lost.
    fn power_cycle(&mut self) {
        self.simulation.power_cycle();
        self.counts.lost += u64::from(self.waiting.take().is_some());
        self.next_header_us = 0;
        self.last_us = 0;
    }
}

fn header(simulation: &Simulation, style: LineStyle) -> Header {
    Header {
        scale: simulation.scale(),
        rate_hz: Some(simulation.board().rate_hz),
        columns: simulation.names().map(str::to_owned).collect(),
        time_field: style.times.then_some(0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::link::{Cause, Counts, Decoder, Event, StreamOptions};
    use sha2::{Digest, Sha256};
    use simulator::{Board, SimUnit, scenario};

    fn simulation(change: impl FnOnce(&mut SimUnit)) -> Simulation {
        let mut unit = scenario("T1-pedal").unwrap();
        change(&mut unit);
        Simulation::new(&unit, 7).unwrap()
    }

    fn print(lines: &mut BoardLines, count: usize) -> String {
        let mut out = Vec::new();
        for _ in 0..count {
            lines.next_line(&mut out).unwrap();
        }
        String::from_utf8(out).unwrap()
    }

    fn decode(text: &str) -> (Vec<(u64, Vec<u32>)>, Counts) {
        let mut samples = Vec::new();
        let mut decoder = Decoder::new(StreamOptions::default());
        decoder.feed(text.as_bytes(), 0, &mut |event| {
            if let Event::Sample { t_us, codes, .. } = event {
                samples.push((t_us, codes.iter().map(|code| code.0).collect()));
            }
        });
        (samples, *decoder.counts())
    }

    #[test]
    fn the_header_comes_first_and_each_second() {
        let text = print(&mut BoardLines::new(simulation(|_| ())), 3003);
        let header = "# pedalproof 1 bits=10 vref_mv=5000 rate_hz=1000 cols=t_us,pedal_a,pedal_b";
        let places: Vec<usize> = text
            .lines()
            .enumerate()
            .filter(|(_, l)| *l == header)
            .map(|(n, _)| n)
            .collect();
        assert_eq!(places, [0, 1001, 2002]);
        assert!(text.lines().nth(1).unwrap().starts_with("0,"));
        assert!(text.lines().nth(2).unwrap().starts_with("1000,"));
    }

    #[test]
    fn every_style_carries_the_same_samples() {
        let plain = simulation(|_| ()).run(2.5);
        for separator in [
            Separator::Comma,
            Separator::Semicolon,
            Separator::Tab,
            Separator::Blank,
        ] {
            for (sums, end) in [(true, LineEnd::Lf), (false, LineEnd::CrLf)] {
                let style = LineStyle {
                    separator,
                    sums,
                    end,
                    ..LineStyle::default()
                };
                let mut lines =
                    BoardLines::styled(simulation(|_| ()), style, Corruption::default(), 0);
                let (samples, counts) = decode(&print(&mut lines, 2503));
                assert_eq!(
                    (counts.samples, counts.headers, counts.rejected_total()),
                    (2500, 3, 0)
                );
                for (n, (t_us, codes)) in samples.iter().enumerate() {
                    assert_eq!(*t_us, plain.t_us[n]);
                    assert_eq!(codes[..], [plain.codes[0][n].0, plain.codes[1][n].0]);
                }
            }
        }
    }

    #[test]
    fn every_fault_of_the_line_is_found_and_counted_by_the_decoder() {
        let corruption = Corruption {
            bad_sum: 0.01,
            garbage: 0.005,
            lost: 0.02,
        };
        let wrapping = simulation(|unit| unit.board = Board::default().wrapping_after(8.0));
        let mut lines = BoardLines::styled(wrapping, LineStyle::default(), corruption, 3);
        let (samples, seen) = decode(&print(&mut lines, 20_000));
        let truth = lines.counts();
        assert!(
            truth.bad_sums > 100 && truth.garbage > 50 && truth.lost > 200,
            "{truth:?}"
        );
        assert_eq!(truth.wraps, 1);
        assert_eq!(seen.lines, truth.lines);
        assert_eq!(seen.samples, truth.good_samples);
        assert_eq!(seen.headers, truth.headers);
        assert_eq!(seen.rejected(Cause::BadSum), truth.bad_sums);
        assert_eq!(seen.rejected(Cause::NotANumber), truth.garbage);
        assert_eq!(seen.rejected_total(), truth.bad_sums + truth.garbage);
        assert_eq!(seen.missing, truth.missing);
        assert!(
            samples.windows(2).all(|w| w[0].0 < w[1].0),
            "time goes on over the wrap"
        );
    }

    #[test]
    fn due_times_do_not_wrap_though_the_lines_do() {
        let wrapping = simulation(|unit| unit.board = Board::default().wrapping_after(0.5));
        let mut lines = BoardLines::new(wrapping);
        let mut out = Vec::new();
        let due: Vec<u64> = (0..1000)
            .map(|_| lines.next_line(&mut out).unwrap())
            .collect();
        assert!(due.windows(2).all(|w| w[1] >= w[0] && w[1] - w[0] <= 1000));
        assert!(due[999] > 1 << 32);
        let text = String::from_utf8(out).unwrap();
        assert!(
            text.contains("\n4294966296,") && text.contains("\n0,"),
            "wraps through 0"
        );
    }

    #[test]
    fn a_bare_board_prints_numbers_only() {
        let style = LineStyle {
            sums: false,
            headers: false,
            times: false,
            separator: Separator::Blank,
            ..LineStyle::default()
        };
        let mut lines = BoardLines::styled(simulation(|_| ()), style, Corruption::default(), 0);
        let text = print(&mut lines, 10);
        let bare = |line: &str| {
            line.split(' ')
                .filter(|field| field.parse::<u32>().is_ok())
                .count()
        };
        assert!(
            text.lines().all(|line| bare(line) == 2 && line.len() < 12),
            "{text}"
        );
    }

    #[test]
    fn a_power_cycle_begins_the_time_anew_with_a_header() {
        let mut lines = BoardLines::new(simulation(|_| ()));
        print(&mut lines, 500);
        lines.power_cycle();
        let text = print(&mut lines, 3);
        let begins: Vec<&str> = text.lines().map(|line| &line[..2]).collect();
        assert_eq!(begins, ["# ", "0,", "10"]);
    }

    #[test]
    fn a_script_that_ends_ends_the_lines() {
        let short = simulation(|unit| unit.script = simulator::Script::board_ends());
        let mut lines = BoardLines::new(short);
        let mut out = Vec::new();
        let mut count = 0;
        while lines.next_line(&mut out).is_some() {
            count += 1;
        }
        assert_eq!(count, 6500 + 7);
        assert_eq!(lines.counts().lines, 6507);
    }

    #[test]
    fn one_seed_gives_one_stream() {
        let t3 = scenario("T3-lever").unwrap();
        let lines = |seed: u64| {
            let mut lines = BoardLines::new(Simulation::new(&t3, seed).unwrap());
            let mut out = Vec::new();
            for _ in 0..20_000 {
                lines.next_line(&mut out).unwrap();
            }
            out
        };
        assert_eq!(lines(11), lines(11));
        assert_ne!(lines(11), lines(12));
    }

    #[test]
    fn the_bytes_of_a_seed_stay_what_they_were() {
        // No outside value: these sums pin the promise that a seed gives the same bytes on every platform and after every
        // change. A change that means to alter the stream replaces them and says so in its commit.
        for (name, sum) in [
            ("T1-pedal", "92f9e6dd90baba09"),
            ("T2-pedal", "71fe3081b2196f1f"),
            ("T1-dial", "f90ea6f49532f246"),
            ("T4-dial", "64ab947cb7aac748"),
            ("T1-lever", "835c31b2ee600547"),
            ("T2-lever", "77f16d5eec4309dd"),
            ("T3-lever", "b660bd49e1c803a2"),
        ] {
            let mut lines = BoardLines::new(Simulation::new(&scenario(name).unwrap(), 1).unwrap());
            let mut out = Vec::new();
            for _ in 0..47_000 {
                lines.next_line(&mut out).unwrap();
            }
            let digest = Sha256::digest(&out);
            let got = digest
                .iter()
                .take(8)
                .fold(String::new(), |hex, byte| hex + &format!("{byte:02x}"));
            assert_eq!(got, sum, "{name}");
        }
    }
}
